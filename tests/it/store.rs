//! The book against other hands: second clients, newer programs, crashes and forgers.

use super::bench::{Bench, SILVER};
use chrono::DateTime;
use rusqlite::Connection;
use scruple::desk::{AppError, Desk, ErrorKind, Settings};
use scruple::store::{Act, MIGRATIONS, Store, StoreError};
use std::path::Path;
use std::time::Duration;

/// Returns a bench with one clear and one refused piece in a book.
fn with_two_pieces() -> Bench {
    let mut bench = Bench::new();
    let shipment = bench.receive(&format!("line,product,quantity\n1,{SILVER},3\n"));
    let rows = "line,mass,diameter,thickness,conductivity,temperature,probe\n\
                1,31.10,40.60,2.98,61.9,21.3,flat\n1,29.00,40.60,2.98,49.2,21.3,flat\n";
    bench.desk().log_readings(&shipment, "r.csv", rows, false, false).unwrap();
    bench
}

#[track_caller]
fn check_refused(client: &Connection, sql: &str, expected: &str) {
    let error = client.execute(sql, []).unwrap_err().to_string();
    assert!(error.contains(expected), "{sql}: {error}");
}

fn count(client: &Connection, table: &str) -> i64 {
    client.query_row(&format!("SELECT count(*) FROM {table}"), [], |row| row.get(0)).unwrap()
}

#[test]
fn the_bundled_database_has_the_repair_of_the_write_ahead_log() {
    // sqlite.org, release history: the WAL-reset corruption race is repaired from 3.51.3 on.
    let parts: Vec<u32> = Store::sqlite_version().split('.').map(|part| part.parse().unwrap()).collect();
    assert!(parts >= vec![3, 51, 3], "{parts:?}");
}

#[test]
fn another_client_cannot_change_or_delete_what_is_insert_only() {
    let bench = with_two_pieces();
    let client = Connection::open(bench.book()).unwrap();
    check_refused(
        &client,
        "UPDATE reading SET base = 1 WHERE measurand = 'mass'",
        "readings are never changed",
    );
    check_refused(&client, "DELETE FROM reading", "readings are never deleted");
    check_refused(&client, "UPDATE journal SET operator = 'x'", "journal rows are never changed");
    check_refused(&client, "DELETE FROM journal WHERE sequence = 1", "journal rows are never deleted");
    check_refused(&client, "UPDATE assessment SET standing = 'clear'", "assessments are never changed");
    check_refused(&client, "DELETE FROM assessment", "assessments are never deleted");
    check_refused(&client, "UPDATE lot SET expected = 99", "never changed");
    check_refused(&client, "UPDATE shipment SET source = 'x'", "never changed");
    check_refused(&client, "DELETE FROM piece", "never deleted");
    check_refused(&client, "DELETE FROM hold", "never deleted");
    check_refused(&client, "UPDATE hold SET kind = 'identity'", "keeps its identity");
}

#[test]
fn replacing_a_row_by_its_key_is_refused_like_a_change() {
    let bench = with_two_pieces();
    let client = Connection::open(bench.book()).unwrap();
    check_refused(
        &client,
        "INSERT OR REPLACE INTO reading SELECT * FROM reading LIMIT 1",
        "in the book already",
    );
    check_refused(&client, "REPLACE INTO assessment SELECT * FROM assessment LIMIT 1", "in the book already");
    check_refused(&client, "REPLACE INTO journal SELECT * FROM journal LIMIT 1", "takes the next number");
    check_refused(&client, "REPLACE INTO piece SELECT * FROM piece LIMIT 1", "in the book already");
    check_refused(&client, "REPLACE INTO hold SELECT * FROM hold LIMIT 1", "in the book already");
    check_refused(&client, "REPLACE INTO lot SELECT * FROM lot LIMIT 1", "in the book already");
    check_refused(&client, "REPLACE INTO shipment SELECT * FROM shipment LIMIT 1", "in the book already");
    let second = "INSERT INTO reading (id, piece, measurand, spot, base, step, unit, text, at_ms, operator)
                  SELECT randomblob(16), piece, measurand, spot, 1, 1, 'g', '1', 0, 'x' FROM reading LIMIT 1";
    check_refused(&client, second, "names the one it replaces");
}

#[test]
fn a_piece_with_an_open_hold_cannot_become_stock_by_any_client() {
    let bench = with_two_pieces();
    let client = Connection::open(bench.book()).unwrap();
    let stock = |standing: &str| {
        format!(
            "INSERT INTO stock (piece, released_ms, released_by) SELECT id, 0, 'x' FROM piece WHERE standing = '{standing}'"
        )
    };
    check_refused(&client, &stock("refuse"), "a piece with an open hold cannot become stock");
    client
        .execute(
            "INSERT INTO hold (id, lot, kind, origin, text, offers, state, opened_ms, opened_by)
             SELECT randomblob(16), id, 'hidden_core', 'scoring', 'x', '[]', 'open', 0, 'x' FROM lot",
            [],
        )
        .unwrap();
    check_refused(&client, &stock("clear"), "a piece of a lot with an open hold cannot become stock");
    client
        .execute("UPDATE hold SET state = 'closed', closed_ms = 0, closed_by = 'x', closed_reason = 'y' WHERE piece IS NULL", [])
        .unwrap();
    assert_eq!(client.execute(&stock("clear"), []).unwrap(), 1);
    check_refused(&client, "UPDATE stock SET released_by = 'y'", "never changed");
}

#[test]
fn a_closed_hold_and_a_voided_piece_stay_as_they_are() {
    let mut bench = with_two_pieces();
    let piece = bench.desk().find_piece("S-0001/1-02").unwrap();
    bench.desk().void_piece(piece.id, "weighed with the capsule").unwrap();
    let client = Connection::open(bench.book()).unwrap();
    check_refused(
        &client,
        "UPDATE hold SET state = 'open' WHERE state = 'closed'",
        "closed hold is never changed",
    );
    check_refused(
        &client,
        "UPDATE piece SET standing = 'clear' WHERE state = 'voided'",
        "voided piece is never changed",
    );
    let late = "INSERT INTO reading (id, piece, measurand, spot, text, at_ms, operator)
                SELECT randomblob(16), id, 'width', 1, '-', 0, 'x' FROM piece WHERE state = 'voided'";
    check_refused(&client, late, "a voided piece takes no readings");
}

#[test]
fn an_empty_file_becomes_a_book_and_opening_it_again_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.book");
    std::fs::write(&path, "").unwrap();
    drop(Store::open(&path, DateTime::UNIX_EPOCH).unwrap());
    let client = Connection::open(&path).unwrap();
    assert_eq!(count(&client, "migration"), MIGRATIONS.len() as i64);
    drop(client);
    let before = std::fs::read(&path).unwrap();
    drop(Store::open(&path, DateTime::UNIX_EPOCH + chrono::Duration::days(1)).unwrap());
    assert!(before == std::fs::read(&path).unwrap(), "the second opening changed the file");
    let names: Vec<_> =
        std::fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert_eq!(names, ["a.book"]);
}

#[track_caller]
fn check_left_alone(path: &Path, expected: &str) {
    let before = std::fs::read(path).unwrap();
    let error = Desk::open(path, Settings::built_in("a")).err().unwrap();
    assert_eq!(error.kind, ErrorKind::Damaged);
    assert!(error.message.contains(expected), "{}", error.message);
    assert!(before == std::fs::read(path).unwrap(), "the refused file was changed");
}

#[test]
fn a_newer_book_and_a_file_that_is_no_book_are_refused_unchanged() {
    let bench = with_two_pieces();
    let path = bench.close();
    Connection::open(&path).unwrap().pragma_update(None, "user_version", 99).unwrap();
    check_left_alone(&path, "is of version 99, this program knows versions up to");
    let folder = tempfile::tempdir().unwrap();
    let letter = folder.path().join("letter.txt");
    std::fs::write(&letter, "Dear desk, please find enclosed three bars.").unwrap();
    check_left_alone(&letter, "is not a book");
    let other = folder.path().join("other.db");
    Connection::open(&other).unwrap().execute("CREATE TABLE guests (name TEXT)", []).unwrap();
    check_left_alone(&other, "is not a book");
}

#[test]
fn a_newer_version_that_stands_in_the_log_only_is_refused_too() {
    let bench = with_two_pieces();
    let path = bench.close();
    let client = Connection::open(&path).unwrap();
    client.pragma_update(None, "user_version", 99).unwrap();
    // The client is still open, so the new version is in the write-ahead log and not in the file.
    check_left_alone(&path, "is of version 99");
    drop(client);
}

#[test]
fn a_damaged_book_is_named_and_not_repaired_in_silence() {
    let path = with_two_pieces().close();
    let mut bytes = std::fs::read(&path).unwrap();
    let half = bytes.len() / 2;
    for byte in &mut bytes[4096..half] {
        *byte = 0xA5;
    }
    std::fs::write(&path, &bytes).unwrap();
    let error: AppError = match Desk::open(&path, Settings::built_in("a")) {
        Err(error) => error,
        Ok(desk) => desk.shipments().unwrap_err(),
    };
    assert_eq!(error.kind, ErrorKind::Damaged, "{}", error.message);
}

#[cfg(unix)]
#[test]
fn book_and_backup_are_for_their_owner_only() {
    use std::os::unix::fs::PermissionsExt;
    let mut bench = with_two_pieces();
    let backup = bench.folder().join("copy.book");
    bench.desk().backup_to(&backup).unwrap();
    for path in [bench.book(), backup] {
        assert_eq!(
            std::fs::metadata(&path).unwrap().permissions().mode() & 0o777,
            0o600,
            "{}",
            path.display()
        );
    }
}

#[test]
fn a_backup_is_a_whole_book_and_never_overwrites() {
    let mut bench = with_two_pieces();
    let copy = bench.folder().join("copy.book");
    bench.desk().backup_to(&copy).unwrap();
    let head = bench.desk().verify_journal().unwrap().head;
    let desk = Desk::open(&copy, Settings::built_in("a")).unwrap();
    assert_eq!(desk.verify_journal().unwrap().head, head);
    assert_eq!(desk.shipments().unwrap()[0].lots[0].logged, 2);
    drop(desk);
    let error = bench.desk().backup_to(&copy).unwrap_err();
    assert!(error.message.contains("exists already"), "{}", error.message);
    let left: Vec<_> = std::fs::read_dir(bench.folder())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.contains("part"))
        .collect();
    assert_eq!(left, Vec::<String>::new());
}

#[test]
fn a_second_program_that_writes_makes_the_first_wait_and_then_say_so() {
    let bench = with_two_pieces();
    let path = bench.close();
    let mut store = Store::open_waiting(&path, DateTime::UNIX_EPOCH, Duration::from_millis(20)).unwrap();
    let other = Connection::open(&path).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let act = Act { operator: "a".to_owned(), at: DateTime::UNIX_EPOCH };
    let done: Result<(), StoreError> = store.write(&act, |_| Ok(()));
    assert!(matches!(done, Err(StoreError::Busy)), "{done:?}");
    // Reading goes on meanwhile.
    assert_eq!(store.read().shipments().unwrap().len(), 1);
}

/// Lets a forger at the book: one who knows how to drop the guards.
#[track_caller]
fn check_forgery_is_found(forgery: &str, row: i64, finding: &str) {
    let bench = with_two_pieces();
    let path = bench.close();
    let client = Connection::open(&path).unwrap();
    client
        .execute_batch(
            "DROP TRIGGER journal_is_never_changed; DROP TRIGGER journal_is_never_deleted; DROP TRIGGER journal_goes_on;",
        )
        .unwrap();
    client.execute_batch(forgery).unwrap();
    drop(client);
    let desk = Desk::open(&path, Settings::built_in("a")).unwrap();
    let report = desk.verify_journal().unwrap();
    let found: Vec<(i64, &str)> =
        report.faults.iter().map(|fault| (fault.sequence, fault.finding.as_str())).collect();
    assert!(found.contains(&(row, finding)), "{found:?}");
}

#[test]
fn every_forgery_of_the_journal_is_found() {
    check_forgery_is_found(
        "UPDATE journal SET payload = replace(payload, '29.00', '31.10') WHERE sequence = 5",
        5,
        "the payload was changed",
    );
    check_forgery_is_found(
        "UPDATE journal SET operator = 'NOBODY' WHERE sequence = 2",
        2,
        "the row was changed",
    );
    check_forgery_is_found(
        "UPDATE journal SET at_ms = at_ms + 1 WHERE sequence = 2",
        2,
        "the row was changed",
    );
    check_forgery_is_found("UPDATE journal SET undoes = 1 WHERE sequence = 5", 5, "the row was changed");
    check_forgery_is_found("DELETE FROM journal WHERE sequence = 2", 3, "row 2 is missing");
    check_forgery_is_found(
        "INSERT INTO journal SELECT 6, at_ms, operator, what, undoes, payload, payload_hash, previous_hash, row_hash
         FROM journal WHERE sequence = 5",
        6,
        "it does not follow the row before",
    );
    // Who recomputes the hash of one row breaks the next.
    check_forgery_is_found(
        "UPDATE journal SET row_hash = zeroblob(32) WHERE sequence = 2",
        3,
        "it does not follow the row before",
    );
}

#[test]
fn an_untouched_journal_has_no_faults() {
    let mut bench = with_two_pieces();
    let report = bench.desk().verify_journal().unwrap();
    // Two prices, a shipment, two pieces.
    assert_eq!((report.rows, report.faults.len()), (5, 0));
    assert_eq!(report.head.len(), 64);
}

#[test]
fn what_was_accepted_survives_a_program_that_dies_without_closing() {
    let mut bench = with_two_pieces();
    let lot = bench.desk().shipment("S-0001").unwrap().lots[0].id;
    let mut draft = bench.desk().new_draft(lot).unwrap();
    draft.fields[0].text = "31.1".to_owned();
    bench.desk().save_draft(&draft).unwrap();
    let folder = bench.die();
    let desk = Desk::open(&folder.path().join("a.book"), Settings::built_in("a")).unwrap();
    assert_eq!(desk.draft().unwrap(), Some(draft));
    assert_eq!(desk.pieces(lot).unwrap().len(), 2);
    assert_eq!(desk.verify_journal().unwrap().faults.len(), 0);
}
