//! A clock that is set back between acts: the journal keeps its order by number, nothing is lost, and people are told once.

use super::super::bench::noon;
use super::super::cli::Call;
use super::{Finding, SESSION, Tally, how_many, look, said};
use chrono::{DateTime, Duration, Utc};
use rusqlite::Connection;
use scruple::desk::{Desk, Settings};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

/// A desk whose clock the test sets.
fn open_at(book: &Path, clock: &Arc<AtomicI64>) -> Desk {
    let clock = Arc::clone(clock);
    let now = move || DateTime::<Utc>::from_timestamp_millis(clock.load(Ordering::Relaxed)).unwrap();
    Desk::open(book, Settings::built_in("MIRA").with_clock(now)).unwrap()
}

/// What the pieces of the session look like at the end.
fn account(desk: &Desk) -> Vec<String> {
    let lot = desk.find_lot("S-0001/1").unwrap();
    let mut account: Vec<String> = desk
        .pieces(lot.id)
        .unwrap()
        .iter()
        .map(|piece| {
            let readings: Vec<_> = piece.readings.iter().map(|reading| reading.text.clone()).collect();
            format!("{} {:?} {} {readings:?}", piece.number, piece.standing, piece.assessment.score_shown())
        })
        .collect();
    account.push(format!("{} logged, {} clear, {} refuse", lot.logged, lot.clear, lot.refuse));
    account.extend(
        desk.stock(&Default::default()).unwrap().iter().map(|piece| format!("{} in stock", piece.piece)),
    );
    account
}

/// Runs the session with a clock that goes on by a step after each act.
fn run(step: Duration, tally: Option<&mut Tally>) -> Vec<String> {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("a.book");
    let clock = Arc::new(AtomicI64::new(noon().timestamp_millis()));
    let mut desk = open_at(&book, &clock);
    for act in SESSION {
        (act.act)(&mut desk).unwrap_or_else(|error| panic!("{}: {error}", act.name));
        clock.fetch_add(step.num_milliseconds(), Ordering::Relaxed);
    }
    let account = account(&desk);
    let says = said(&desk);
    drop(desk);
    let client = Connection::open(&book).unwrap();
    let mut rows = client.prepare("SELECT at_ms FROM journal ORDER BY sequence").unwrap();
    let times: Vec<i64> = rows.query_map([], |row| row.get(0)).unwrap().map(|at| at.unwrap()).collect();
    assert_eq!(times.is_sorted(), step >= Duration::zero(), "{times:?}");
    if let Some(tally) = tally {
        tally.faults += SESSION.len();
        tally.acknowledged += SESSION.len();
        match look(&book, &says, None) {
            Finding::Intact => {}
            Finding::Lost(_) => tally.lost += 1,
            Finding::Damaged(_) => tally.damaged += 1,
        }
    }
    account
}

#[test]
fn a_clock_set_back_loses_nothing_and_changes_no_outcome() {
    let mut tally = Tally::new("clock set back between acts");
    let forward = run(Duration::seconds(1), None);
    for seconds in [1, 3600, 86_400 * 40].into_iter().take(how_many(2, 3)) {
        assert_eq!(run(Duration::seconds(-seconds), Some(&mut tally)), forward, "{seconds} s back");
    }
    tally.check();
}

#[test]
fn a_clock_set_back_is_said_until_the_next_entry_and_then_no_more() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("a.book");
    let clock = Arc::new(AtomicI64::new(noon().timestamp_millis()));
    let mut desk = open_at(&book, &clock);
    assert_eq!(desk.clock_notice().unwrap(), None);
    (SESSION[0].act)(&mut desk).unwrap();
    assert_eq!(desk.clock_notice().unwrap(), None);
    clock.fetch_sub(3_600_000, Ordering::Relaxed);
    assert_eq!(
        desk.clock_notice().unwrap().as_deref(),
        Some(
            "the clock stands at 2026-03-04 11:00:00 UTC, before the last entry of 2026-03-04 12:00:00 UTC; entries keep \
             their order by number and nothing is lost, but see to the clock of this machine"
        )
    );
    (SESSION[1].act)(&mut desk).unwrap();
    assert_eq!(desk.clock_notice().unwrap(), None);
    // A clock that is put right by less than it takes to look at it is nobody's concern.
    clock.fetch_sub(900, Ordering::Relaxed);
    assert_eq!(desk.clock_notice().unwrap(), None);
}

#[test]
fn the_command_line_says_on_standard_error_that_the_clock_was_set_back() {
    let folder = tempfile::tempdir().unwrap();
    // The last entry is of a year in which nobody runs this test.
    let clock = Arc::new(AtomicI64::new((noon() + Duration::days(365 * 900)).timestamp_millis()));
    (SESSION[0].act)(&mut open_at(&folder.path().join("a.book"), &clock)).unwrap();
    let notice = |args: &[&str]| String::from_utf8(Call::new(&folder, args).run().stderr).unwrap();
    for args in [&["shipments"][..], &["price", "silver", "31"]] {
        let said = notice(args);
        assert!(
            said.starts_with("note: the clock stands at ") && said.ends_with("clock of this machine\n"),
            "{said}"
        );
    }
    assert_eq!(notice(&["shipments"]), "");
}
