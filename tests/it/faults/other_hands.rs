//! Other hands on the book: a second bench, a program that holds it, a folder that nobody may write.

use super::super::bench::{Bench, SILVER, filled_form, noon};
use super::{Finding, Tally, how_many, look, open, said};
use rusqlite::Connection;
use scruple::desk::{Desk, ErrorKind, Settings};
use std::collections::BTreeSet;
use std::path::Path;
use std::process::{Command, Output};
use std::time::Duration;

/// A bench with a lot of so many pieces.
fn with_lot(pieces: usize) -> Bench {
    let mut bench = Bench::new();
    bench.receive(&format!("line,product,quantity\n1,{SILVER},{pieces}\n"));
    bench
}

fn log(desk: &mut Desk) -> Result<String, scruple::desk::AppError> {
    let lot = desk.find_lot("S-0001/1")?.id;
    let draft = filled_form(desk, lot, &[])?;
    desk.log_piece(&draft).map(|piece| piece.number)
}

#[test]
fn a_book_that_another_program_holds_is_busy_until_it_lets_go() {
    let bench = with_lot(2);
    let settings = || Settings::built_in("MIRA").with_clock(noon).with_patience(Duration::from_millis(5));
    let mut desk = Desk::open(&bench.book(), settings()).unwrap();
    let other = Connection::open(bench.book()).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let error = log(&mut desk).unwrap_err();
    assert_eq!((error.kind, error.kind.exit_code()), (ErrorKind::Busy, 5), "{}", error.message);
    assert!(error.message.contains("in use by another program") && !error.hints.is_empty());
    let lot = desk.find_lot("S-0001/1").unwrap();
    let draft = desk.new_draft(lot.id).unwrap();
    assert_eq!(desk.save_draft(&draft).unwrap_err().kind, ErrorKind::Busy);
    assert_eq!(lot.logged, 0);
    // A book can be opened and read meanwhile.
    assert_eq!(Desk::open(&bench.book(), settings()).unwrap().shipments().unwrap().len(), 1);
    other.execute_batch("ROLLBACK").unwrap();
    assert_eq!(log(&mut desk).unwrap(), "S-0001/1-01");
}

#[test]
fn two_benches_log_into_one_lot_at_once_and_no_number_comes_twice() {
    let mut tally = Tally::new("two benches at once");
    let each = how_many(4, 60);
    let bench = with_lot(2 * each);
    let book = bench.close();
    let mut hands = Vec::new();
    for operator in ["MIRA", "OSKAR"] {
        let book = book.clone();
        hands.push(std::thread::spawn(move || {
            let mut desk = Desk::open(&book, Settings::built_in(operator).with_clock(noon)).unwrap();
            (0..each).map(|_| log(&mut desk).unwrap()).collect::<Vec<String>>()
        }));
    }
    let numbers: Vec<String> = hands.into_iter().flat_map(|hand| hand.join().unwrap()).collect();
    let different: BTreeSet<&String> = numbers.iter().collect();
    let desk = open(&book).unwrap();
    let lot = desk.find_lot("S-0001/1").unwrap();
    let pieces = desk.pieces(lot.id).unwrap();
    tally.faults = numbers.len();
    tally.acknowledged = numbers.len();
    let there = |number: &&&String| pieces.iter().any(|piece| piece.number == ***number);
    tally.lost = 2 * each - different.iter().filter(there).count();
    let says = said(&desk);
    drop(desk);
    tally.damaged = usize::from(look(&book, &says, None) != Finding::Intact);
    tally.check();
}

#[test]
fn programs_that_make_the_same_new_book_at_once_all_get_it() {
    for _ in 0..how_many(3, 40) {
        let folder = tempfile::tempdir().unwrap();
        let book = folder.path().join("a.book");
        let hands: Vec<_> = (0..4)
            .map(|_| {
                let book = book.clone();
                // A busy disk is no fault of the book: each waits as long as it takes.
                let patient =
                    Settings::built_in("MIRA").with_clock(noon).with_patience(Duration::from_secs(60));
                std::thread::spawn(move || {
                    Desk::open(&book, patient).map(|desk| desk.verify_journal().unwrap().rows)
                })
            })
            .collect();
        for hand in hands {
            assert_eq!(hand.join().unwrap().unwrap(), 0);
        }
    }
}

/// Runs the program as somebody who owns nothing here; the superuser may write everywhere, so it steps down.
fn as_stranger(home: &Path, args: &[&str]) -> Output {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    use std::os::unix::process::CommandExt;
    let mut command = Command::new(env!("CARGO_BIN_EXE_scruple"));
    command.current_dir(home).env_clear().env("HOME", "/nonexistent").env("USER", "MIRA").args(args);
    if std::fs::metadata(home).unwrap().uid() == 0 {
        std::fs::set_permissions(home, std::fs::Permissions::from_mode(0o755)).unwrap();
        command.uid(65534);
    }
    command.output().unwrap()
}

#[test]
fn a_book_that_may_not_be_written_is_refused_with_the_reason_and_stays_as_it_is() {
    use std::os::unix::fs::PermissionsExt;
    let bench = with_lot(2);
    let book = bench.close();
    let home = book.parent().unwrap().to_owned();
    let mode = |path: &Path, mode| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    };
    let before = std::fs::read(&book).unwrap();
    let mut tally = Tally::new("no permission to write");
    // File readable and folder closed; file unreadable; folder closed for a new book.
    for (file, folder, name) in
        [(0o444, 0o555, "a.book"), (0o000, 0o755, "a.book"), (0o600, 0o555, "new.book")]
    {
        mode(&book, file);
        mode(&home, folder);
        let output = as_stranger(&home, &["--book", name, "price", "silver", "31"]);
        mode(&home, 0o755);
        mode(&book, 0o600);
        let says = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(7), "{file:o} {folder:o} {name}: {says}");
        assert!(says.contains("may not be written") && says.contains("hint: "), "{says}");
        tally.faults += 1;
        tally.acknowledged += 1;
        tally.damaged += usize::from(std::fs::read(&book).unwrap() != before);
    }
    std::fs::remove_dir_all(home).unwrap();
    tally.check();
}
