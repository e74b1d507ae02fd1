//! The program killed at any moment of a session: what the screen showed is in the book.

use super::super::terminal::{Session, book, open_first_lot};
use super::{Dice, Tally, how_many, integrity, open};
use scruple::desk::{Desk, Draft};
use std::fmt::Write as _;
use std::path::Path;

/// Pieces of the session; the last one is left half typed.
const PIECES: usize = 8;

fn serial(number: usize) -> String {
    format!("XB-{number:04}")
}

/// Everything the session types: serial and mass of each piece, scored with Ctrl-K, and half a piece.
fn keys() -> String {
    let mut keys = String::new();
    for number in 1..PIECES {
        write!(keys, "{}\r33.93\r\u{b}", serial(number)).unwrap();
    }
    write!(keys, "{}\r33.93\r32.", serial(PIECES)).unwrap();
    keys
}

/// What a screen acknowledges: pieces logged, and what is typed of the next one.
#[derive(Debug, Default, PartialEq, Eq)]
struct Shown {
    logged: usize,
    typed: Vec<(&'static str, String)>,
}

impl Shown {
    fn on(screen: &str) -> Shown {
        let lot =
            screen.lines().find(|line| line.contains("S-0001/1 ") && line.contains(&format!(" of {PIECES}")));
        let logged = lot.and_then(|line| {
            line.split(&format!(" of {PIECES}")).next()?.split(' ').next_back()?.parse().ok()
        });
        let typed = |label: &'static str| {
            let line =
                screen.lines().find(|line| line.get(3..).is_some_and(|rest| rest.starts_with(label)))?;
            let text: String = line.chars().skip(18).take(11).collect();
            Some((label, text.trim().to_owned())).filter(|(_, text)| !text.is_empty())
        };
        let typed = ["serial", "mass", "diameter"].into_iter().filter_map(typed).collect();
        logged.map(|logged| Shown { logged, typed }).unwrap_or_default()
    }

    /// Counts what the screen showed and the book does not have.
    fn missing(&self, desk: &Desk) -> usize {
        let lot = desk.find_lot("S-0001/1").unwrap();
        let pieces = desk.pieces(lot.id).unwrap();
        let mut missing = self.logged.saturating_sub(pieces.len());
        for (at, piece) in pieces.iter().enumerate() {
            let mass = piece.readings.iter().any(|reading| reading.text == "33.93");
            missing += usize::from(piece.serial.as_deref() != Some(&serial(at + 1)) || !mass);
        }
        if pieces.len() > self.logged {
            // The piece in hand was logged before the next frame.
            return missing;
        }
        let draft = desk.draft().unwrap();
        let kept = |label: &str| draft.as_ref().and_then(|draft| text_of(draft, label)).unwrap_or_default();
        missing + self.typed.iter().filter(|(label, text)| !kept(label).starts_with(text.as_str())).count()
    }
}

fn text_of(draft: &Draft, label: &str) -> Option<String> {
    draft.fields.iter().find(|field| field.field.label() == label).map(|field| field.text.clone())
}

fn half_typed(screen: &str) -> bool {
    Shown::on(screen)
        == Shown {
            logged: PIECES - 1,
            typed: vec![
                ("serial", serial(PIECES)),
                ("mass", "33.93".to_owned()),
                ("diameter", "32.".to_owned()),
            ],
        }
}

/// Runs the session and kills it once it has written so many bytes, and a little later.
fn run(home: &Path, made: &Path, bytes: Option<usize>, dice: &mut Dice) -> (usize, Shown, Desk) {
    let book = home.join("killed.book");
    std::fs::copy(made, &book).unwrap();
    let mut session = Session::start(home, &book);
    open_first_lot(&mut session);
    let begun = session.shown().0;
    session.send(&keys());
    match bytes {
        Some(bytes) => session.wait_for_bytes(begun + bytes, half_typed),
        None => {
            session.wait("the half-typed piece", half_typed);
        }
    }
    let written = session.shown().0 - begun;
    for turn in 0..dice.below(4_000_000) {
        std::hint::black_box(turn);
    }
    session.signal("-9");
    session.ended();
    // What the terminal was given before the end was drawn.
    let shown = Shown::on(&session.shown().1);
    let desk = open(&book).unwrap();
    (written, shown, desk)
}

#[test]
fn what_was_shown_before_a_kill_is_in_the_book() {
    let home = tempfile::tempdir().unwrap();
    let made = book(home.path(), PIECES);
    let mut tally = Tally::new("kill -9 in a session");
    let mut dice = Dice::new(11);
    // The first kill comes when everything is typed: it tells how much the session writes.
    let mut whole = None;
    for _ in 0..how_many(5, 100) {
        let bytes = whole.map(|whole| dice.below(whole));
        let folder = tempfile::tempdir_in(home.path()).unwrap();
        let (written, shown, desk) = run(folder.path(), &made, bytes, &mut dice);
        if whole.is_none() {
            assert_eq!((shown.logged, shown.typed.len()), (PIECES - 1, 3), "{shown:?}");
            assert_eq!(text_of(&desk.draft().unwrap().unwrap(), "diameter").as_deref(), Some("32."));
        }
        whole.get_or_insert(written);
        tally.faults += 1;
        tally.acknowledged += shown.logged + shown.typed.len();
        tally.lost += shown.missing(&desk);
        let faults = desk.verify_journal().unwrap().faults;
        drop(desk);
        let sound = integrity(&folder.path().join("killed.book")).is_ok_and(|verdict| verdict == "ok");
        tally.damaged += usize::from(!faults.is_empty() || !sound);
    }
    tally.check();
}
