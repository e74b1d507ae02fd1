//! Books with bytes flipped or the end missing: they work, or they are refused with what to do. Never a panic, never a hang.
//!
//! Newer books and files that are no book stand in `store.rs`: they are refused and stay as they are.

use super::super::bench::filled_form;
use super::{Dice, SESSION, Tally, how_many, open};
use scruple::desk::{AppError, ErrorKind};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::mpsc::channel;
use std::time::Duration;

/// Longest use of one damaged book; a debug build needs a second.
const PATIENCE: Duration = Duration::from_secs(120);

/// Does with a book what a day does.
fn use_it(book: &Path) -> Result<(), AppError> {
    let mut desk = open(book)?;
    for shipment in desk.shipments()? {
        for lot in &shipment.lots {
            for piece in desk.pieces(lot.id)? {
                desk.piece_record(&piece.number)?;
            }
        }
    }
    desk.holds()?;
    desk.stock(&Default::default())?;
    desk.day(None)?;
    desk.draft()?;
    desk.verify_journal()?;
    let Some(lot) = desk.shipments()?.into_iter().flat_map(|shipment| shipment.lots).next() else {
        return Ok(());
    };
    let draft = filled_form(&desk, lot.id, &[])?;
    desk.save_draft(&draft)?;
    desk.log_piece(&draft)?;
    Ok(())
}

/// What a damaged book did.
#[derive(Debug)]
enum Did {
    Worked,
    Refused,
    Wrong(String),
}

/// Uses a damaged book in a thread of its own, so that a hang is seen.
fn what_it_does(bytes: &[u8]) -> Did {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("a.book");
    std::fs::write(&book, bytes).unwrap();
    let (answer, answered) = channel();
    std::thread::spawn(move || {
        let used = catch_unwind(AssertUnwindSafe(|| use_it(&book)));
        // Nobody waits any longer once the patience is over.
        let _ = answer.send(used);
    });
    match answered.recv_timeout(PATIENCE) {
        Err(_) => Did::Wrong("it hangs".to_owned()),
        Ok(Err(_)) => Did::Wrong("it panics".to_owned()),
        Ok(Ok(Ok(()))) => Did::Worked,
        Ok(Ok(Err(error))) if error.kind == ErrorKind::Damaged && !error.hints.is_empty() => Did::Refused,
        Ok(Ok(Err(error))) => Did::Wrong(format!("{:?}: {} {:?}", error.kind, error.message, error.hints)),
    }
}

/// Returns a closed book after the whole session.
fn whole() -> Vec<u8> {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("a.book");
    let mut desk = open(&book).unwrap();
    for step in SESSION {
        (step.act)(&mut desk).unwrap();
    }
    drop(desk);
    std::fs::read(&book).unwrap()
}

/// Damages a book again and again, and counts what it does.
fn damage(kind: &'static str, few: usize, full: usize, harm: impl Fn(&mut Vec<u8>, &mut Dice)) {
    let whole = whole();
    let mut tally = Tally::new(kind);
    let mut dice = Dice::new(23);
    let mut wrong = Vec::new();
    let mut refused = 0;
    for number in 0..how_many(few, full) {
        let mut bytes = whole.clone();
        harm(&mut bytes, &mut dice);
        tally.faults += 1;
        // Nothing can be promised of what was damaged, but that it is never taken for whole in silence by a crash.
        tally.acknowledged += 1;
        match what_it_does(&bytes) {
            Did::Worked => {}
            Did::Refused => refused += 1,
            Did::Wrong(what) => wrong.push(format!("{number}: {what}")),
        }
    }
    tally.damaged = wrong.len();
    println!("{kind}: {refused} refused, {} worked", tally.faults - refused - wrong.len());
    assert_eq!(wrong, Vec::<String>::new());
    assert!(refused > 0, "no damage was noticed at all");
    tally.check();
}

#[test]
fn flipped_bytes_never_bring_the_program_down() {
    damage("bytes flipped in the book", 20, 500, |bytes, dice| {
        for _ in 0..=dice.below(8) {
            // Every other flip goes to the first page: the header and the tables' names.
            let within = if dice.coin() { 4096.min(bytes.len()) } else { bytes.len() };
            let at = dice.below(within);
            bytes[at] ^= 1 << dice.below(8);
        }
    });
}

#[test]
fn a_book_cut_short_never_brings_the_program_down() {
    damage("book cut short", 20, 500, |bytes, dice| {
        let length = dice.below(bytes.len());
        // Every other cut is at the end of a page.
        bytes.truncate(if dice.coin() { length } else { length / 4096 * 4096 });
    });
}
