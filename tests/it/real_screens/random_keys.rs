//! Keys and pastes by chance at screens of chance sizes: nothing panics, and nothing that was shown as done is lost.

use super::{BY_HAND, Screens};
use crate::bench::{Bench, GOLD_BAR, SILVER, good};
use scruple::desk::audit::{AuditRequest, audit};
use scruple::desk::{Desk, Settings};
use scruple::metrology::seeded::SplitMix64;
use scruple::tui::dialog::{Dialog, Purpose};
use scruple::tui::keymap::{Key, Place, TABLE};
use scruple::tui::session::Wish;
use std::collections::BTreeSet;
use std::path::Path;

/// What is pasted: good values, values of other fields, and what harms.
const PASTES: [&str; 12] = [
    "31,12 g",
    "40.6",
    "us-5112-e",
    "S-0001/1-02",
    "MP000017",
    "\u{1b}[2J\u{1b}]0;title\u{7}",
    "31.12\r\n40.6\r\n2.98\r\n",
    "\u{202e}\u{200b}e\u{301}\u{1f980}",
    "=HYPERLINK(1)",
    "'; DROP TABLE piece; --",
    "9999999999999999999999999999999",
    "\t\t\t",
];

fn open(book: &Path) -> Desk {
    Desk::open(book, Settings::built_in("MIRA").with_clock(crate::bench::noon)).unwrap()
}

struct Chance(SplitMix64);

impl Chance {
    fn below(&mut self, end: usize) -> usize {
        (self.0.uniform() * end as f64) as usize % end.max(1)
    }

    fn of<T: Copy>(&mut self, all: &[T]) -> T {
        all[self.below(all.len())]
    }

    /// Returns a key: of the table, a digit or sign that readings are made of, or any character.
    fn key(&mut self) -> Key {
        match self.below(10) {
            0..4 => {
                let row = &TABLE[self.below(TABLE.len())];
                self.of(row.keys)
            }
            4 => Key::Enter,
            5..9 => Key::Char(self.of(&['0', '1', '2', '3', '4', '6', '.', ',', '-', '=', ' ', 'g'])),
            _ => char::from_u32(self.below(0x2fff) as u32).map_or(Key::Tab, Key::Char),
        }
    }
}

/// What a session has shown as done.
#[derive(Default)]
struct Acknowledged {
    pieces: BTreeSet<String>,
    /// The fields of the piece in hand that were accepted.
    accepted: Vec<String>,
}

impl Acknowledged {
    fn look(&mut self, screens: &Screens) {
        let Some(work) = &screens.session.state().bench.work else {
            self.accepted.clear();
            return;
        };
        self.pieces.extend(work.pieces.iter().map(|piece| piece.number.clone()));
        let accepted = work.draft.fields.iter().filter(|field| field.accepted);
        self.accepted = accepted.map(|field| format!("{:?}={}", field.field, field.text)).collect();
    }

    /// Opens the book again and compares; nothing was closed in order.
    fn check(&self, book: &Path, seed: u64) {
        let desk = open(book);
        for number in &self.pieces {
            assert!(desk.find_piece(number).is_ok(), "seed {seed}: {number} was shown and is lost");
        }
        let draft = desk.draft().unwrap();
        let kept: Vec<String> = draft
            .iter()
            .flat_map(|draft| draft.fields.iter().filter(|field| field.accepted))
            .map(|field| format!("{:?}={}", field.field, field.text))
            .collect();
        for field in &self.accepted {
            assert!(kept.contains(field), "seed {seed}: {field} was accepted, the book has {kept:?}");
        }
    }
}

/// Types good values in the place of what is there until the piece in hand is logged, unless something is in the way.
fn a_good_piece(screens: &mut Screens) -> Option<Wish> {
    let logged = |screens: &Screens| screens.session.state().bench.work.as_ref().map(|work| work.lot.logged);
    let before = logged(screens);
    for _ in 0..12 {
        let state = screens.session.state();
        let work =
            state.bench.work.as_ref().filter(|_| matches!(state.place(), Place::Bench | Place::Question))?;
        let text = work.focused().map_or("", |field| good(work.lot.product.as_str(), field));
        let asked = state.place() == Place::Question;
        let there = work.input.value().chars().count();
        let keys: Vec<Key> = match asked {
            true => vec![Key::Enter],
            false => [Key::End]
                .into_iter()
                .chain([Key::Backspace].repeat(there))
                .chain(text.chars().map(Key::Char))
                .chain([Key::Enter])
                .collect(),
        };
        for key in keys {
            if let Some(wish) = screens.press(key, BY_HAND) {
                return Some(wish);
            }
        }
        if logged(screens) != before {
            break;
        }
    }
    None
}

/// Presses so many keys by chance; now and then the program is killed, and opened again.
fn keys_by_chance(seed: u64, keys: usize) -> usize {
    let mut bench = Bench::new();
    bench.lot(SILVER, 60, "");
    let lot = bench.lot(GOLD_BAR, 20, "");
    bench.log(lot, &[]);
    let book = bench.close();
    let mut chance = Chance(SplitMix64::new(seed));
    let mut screens = Screens::at(open(&book));
    let mut known = Acknowledged::default();
    for turn in 0..keys {
        let wish = match chance.below(40) {
            0 => {
                let text = chance.of(&PASTES);
                screens.paste(text)
            }
            1 => {
                screens.size = (chance.below(210) as u16, chance.below(60) as u16);
                None
            }
            // Back to the lot that takes pieces.
            2 => [Key::Esc; 4]
                .into_iter()
                .chain([Key::F(9), Key::Char('1'), Key::Enter, Key::Enter])
                .find_map(|key| screens.press(key, BY_HAND)),
            // A good piece, as devices type it into the rest of the form.
            3..9 => a_good_piece(&mut screens),
            _ => {
                let key = chance.key();
                screens.press(key, chance.of(&[2, 40, BY_HAND, 900]))
            }
        };
        // Files outside of the book are no part of this.
        let form = match screens.session.state().dialogs.last() {
            Some(Dialog::Form(form)) => Some(&form.purpose),
            _ => None,
        };
        if matches!(form, Some(Purpose::WriteDay { .. })) {
            screens.press(Key::Esc, BY_HAND);
        }
        known.look(&screens);
        // The shell draws after every batch of keys, not after every key.
        if turn % 5 == 0 {
            screens.shown();
        }
        let killed = chance.below(600) == 0;
        if wish == Some(Wish::Quit) || killed {
            if killed {
                std::mem::forget(screens);
            } else {
                drop(screens);
            }
            known.check(&book, seed);
            screens = Screens::at(open(&book));
        }
    }
    drop(screens);
    known.check(&book, seed);
    let settings = Settings::built_in("MIRA").with_clock(crate::bench::noon);
    let found = audit(&book, &settings, &AuditRequest::default()).unwrap();
    assert_eq!(found.report.faults, [], "seed {seed}");
    std::fs::remove_dir_all(book.parent().unwrap()).unwrap();
    known.pieces.len()
}

#[test]
fn ten_thousand_keys_by_chance_lose_nothing_and_panic_nowhere() {
    let full = std::env::var("SCRUPLE_FAULTS").is_ok_and(|wanted| wanted == "full");
    let (seeds, keys) = if full { (20, 10_000) } else { (4, 2_500) };
    let logged: usize = (1..=seeds).map(|seed| keys_by_chance(seed, keys)).sum();
    println!("{} keys by chance, {logged} pieces logged, none lost", seeds as usize * keys);
    assert!(logged > 5 * seeds as usize, "{logged}");
}
