//! Guessed PINs and acts without right: refused by the desk, and by the book itself.

use super::super::bench::{Bench, SILVER, noon};
use super::super::cli::Call;
use super::hostile_names::logs;
use chrono::{DateTime, Duration, Utc};
use rusqlite::Connection;
use scruple::desk::{Desk, ErrorKind, Role, Settings};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

const PIN: &str = "73519482";

/// A clock that the test sets.
#[derive(Clone)]
struct Hand(Arc<AtomicI64>);

impl Hand {
    fn at_noon() -> Hand {
        Hand(Arc::new(AtomicI64::new(noon().timestamp_millis())))
    }

    fn go_on(&self, by: Duration) {
        self.0.fetch_add(by.num_milliseconds(), Ordering::Relaxed);
    }

    fn desk(&self, book: &Path, operator: &str) -> Desk {
        let clock = Arc::clone(&self.0);
        let now = move || DateTime::<Utc>::from_timestamp_millis(clock.load(Ordering::Relaxed)).unwrap();
        Desk::open(book, Settings::built_in(operator).with_clock(now)).unwrap()
    }
}

/// A book with an owner who has a PIN, a reviewer and a receiver who have none, and a lot with a clear piece.
fn shared(bench: &mut Bench) {
    bench.other_desk("OWNER").add_operator("OWNER", Role::Owner, Some(PIN)).unwrap();
    let mut owner = bench.other_desk("OWNER");
    owner.sign_in(PIN).unwrap();
    owner.add_operator("ROSA", Role::Reviewer, None).unwrap();
    owner.add_operator("MIRA", Role::Receiver, None).unwrap();
}

/// Types a PIN in a program that is started anew, as a guesser would.
#[track_caller]
fn check_try(hand: &Hand, book: &Path, pin: &str, expected: &str) {
    let tried = hand.desk(book, "OWNER").sign_in(pin);
    let said = match tried {
        Ok(_) => "ok".to_owned(),
        Err(error) => {
            assert_eq!(error.kind, ErrorKind::NotPermitted);
            std::iter::once(error.message).chain(error.hints).collect::<Vec<_>>().join("; ")
        }
    };
    assert_eq!(said, expected);
}

#[test]
fn wrong_pins_make_the_next_try_wait_longer_each_time_even_after_a_restart() {
    let mut bench = Bench::new();
    shared(&mut bench);
    let book = bench.close();
    let hand = Hand::at_noon();
    let wrong = "this is not the PIN of `OWNER`";
    check_try(&hand, &book, "1111", wrong);
    check_try(&hand, &book, "2222", wrong);
    check_try(
        &hand,
        &book,
        "3333",
        &format!("{wrong}; the next try is taken from 2026-03-04 12:00:30 UTC on"),
    );
    let waits = |count: u32, until: &str| {
        format!(
            "`OWNER` has typed {count} wrong PINs in a row; the next try is taken from 2026-03-04 {until} UTC on; \
             an owner can set a new PIN with `scruple operator add`"
        )
    };
    // Not even the right one is taken, and trying makes it no worse.
    check_try(&hand, &book, PIN, &waits(3, "12:00:30"));
    check_try(&hand, &book, "4444", &waits(3, "12:00:30"));
    hand.go_on(Duration::seconds(29));
    check_try(&hand, &book, PIN, &waits(3, "12:00:30"));
    hand.go_on(Duration::seconds(1));
    check_try(
        &hand,
        &book,
        "5555",
        &format!("{wrong}; the next try is taken from 2026-03-04 12:01:30 UTC on"),
    );
    check_try(&hand, &book, PIN, &waits(4, "12:01:30"));
    hand.go_on(Duration::seconds(60));
    check_try(&hand, &book, PIN, "ok");
    // A right one ends the row.
    check_try(&hand, &book, "1111", wrong);
    check_try(&hand, &book, "2222", wrong);
    check_try(&hand, &book, PIN, "ok");
}

#[test]
fn the_wait_of_one_operator_is_not_that_of_another_and_ends_at_an_hour() {
    let mut bench = Bench::new();
    shared(&mut bench);
    let hand = Hand::at_noon();
    let book = bench.book();
    let mut longest = Duration::zero();
    for _ in 0..15 {
        let error = hand.desk(&book, "OWNER").sign_in("1111").unwrap_err();
        let Some(hint) = error.hints.first() else { continue };
        let until = hint.split("from ").nth(1).unwrap().replace(" UTC on", "Z").replacen(' ', "T", 1);
        let until: DateTime<Utc> = until.parse().unwrap();
        let now = DateTime::<Utc>::from_timestamp_millis(hand.0.load(Ordering::Relaxed)).unwrap();
        longest = longest.max(until - now);
        hand.go_on(until - now);
    }
    assert_eq!(longest, Duration::hours(1));
    hand.desk(&book, "OWNER").sign_in(PIN).unwrap();
    // Somebody else acts meanwhile.
    let number = bench.receive(&format!("line,product,quantity\n1,{SILVER},1\n"));
    assert_eq!(number, "S-0001");
}

#[test]
fn a_pin_stands_in_no_file() {
    let folder = tempfile::tempdir().unwrap();
    let other = "40404040";
    let owner = ["operator", "add", "MIRA", "--role", "owner", "--pin-stdin"];
    Call::new(&folder, &owner).input(&format!("{PIN}\n")).done();
    let add = ["operator", "add", "OSKAR", "--role", "receiver", "--sign-stdin"];
    let wrong = Call::new(&folder, &add).input(&format!("{other}\n")).run();
    assert_eq!(wrong.status.code(), Some(8));
    assert!(!String::from_utf8_lossy(&wrong.stderr).contains(other));
    Call::new(&folder, &add).input(&format!("{PIN}\n")).done();
    let mut read = 0;
    let book = ["a.book", "a.book-wal"].map(|name| folder.path().join(name));
    for file in book.into_iter().chain(logs(folder.path())).filter(|file| file.exists()) {
        let bytes = std::fs::read(&file).unwrap();
        for pin in [PIN, other] {
            assert!(!bytes.windows(pin.len()).any(|part| part == pin.as_bytes()), "{}", file.display());
        }
        read += 1;
    }
    assert!(read >= 2);
    // That somebody guessed is in the journal.
    let client = Connection::open(folder.path().join("a.book")).unwrap();
    let told: Vec<String> = client
        .prepare("SELECT what || ' ' || payload FROM journal WHERE what LIKE 'PIN%' ORDER BY sequence")
        .unwrap()
        .query_map([], |row| row.get(0))
        .unwrap()
        .map(|row| row.unwrap())
        .collect();
    assert_eq!(told, ["PIN refused {\"name\":\"MIRA\",\"wrong\":1}", "PIN accepted {\"name\":\"MIRA\"}"]);
}

/// Writes a journal row past the desk, its chain as it must be.
fn journal_by(client: &Connection, operator: &str, what: &str) -> Result<usize, String> {
    client
        .execute(
            "INSERT INTO journal (sequence, at_ms, operator, what, payload, payload_hash, previous_hash, row_hash)
             SELECT max(sequence) + 1, 0, ?1, ?2, '{}', zeroblob(32), zeroblob(32), zeroblob(32) FROM journal",
            [operator, what],
        )
        .map_err(|error| error.to_string())
}

#[test]
fn the_book_refuses_acts_without_the_role_whoever_asks() {
    let mut bench = Bench::new();
    let client = Connection::open(bench.book()).unwrap();
    // A book without operators is open.
    for what in ["pieces released", "policy set"] {
        assert_eq!(journal_by(&client, "anybody", what), Ok(1), "{what}");
    }
    shared(&mut bench);
    let reviewer =
        ["hold settled", "lot settled", "pieces sent back", "pieces surrendered", "pieces released"];
    for what in reviewer.into_iter().chain(["control withdrawn", "recalled piece back"]) {
        for (operator, may) in [("OWNER", true), ("ROSA", true), ("MIRA", false), ("nobody", false)] {
            let done = journal_by(&client, operator, what);
            assert_eq!(done.is_ok(), may, "{what} by {operator}: {done:?}");
            assert!(may || done.unwrap_err().contains("needs a reviewer"));
        }
    }
    for what in ["policy set", "instruments set"] {
        for (operator, may) in [("OWNER", true), ("ROSA", false), ("MIRA", false), ("nobody", false)] {
            assert_eq!(journal_by(&client, operator, what).is_ok(), may, "{what} by {operator}");
        }
    }
    let enter = "INSERT INTO operator (name, role, at_ms, operator) VALUES ('EVE', 'owner', 0, ?1)";
    for (operator, may) in [("ROSA", false), ("MIRA", false), ("EVE", false), ("OWNER", true)] {
        assert_eq!(client.execute(enter, [operator]).is_ok(), may, "operator set by {operator}");
    }
    // What a receiver does is still done.
    assert_eq!(journal_by(&client, "MIRA", "piece logged"), Ok(1));
}

#[test]
fn an_owner_may_hand_on_the_ownership() {
    let mut bench = Bench::new();
    shared(&mut bench);
    let mut owner = bench.other_desk("OWNER");
    owner.sign_in(PIN).unwrap();
    owner.add_operator("ROSA", Role::Owner, None).unwrap();
    owner.add_operator("OWNER", Role::Receiver, Some(PIN)).unwrap();
    let error = owner.add_operator("EVE", Role::Owner, None).unwrap_err();
    assert_eq!(error.kind, ErrorKind::NotPermitted);
    bench.other_desk("ROSA").add_operator("EVE", Role::Receiver, None).unwrap();
}
