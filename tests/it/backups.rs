//! Backups: where they go, which stay, what is never deleted, and how a book comes back from one.

use super::bench::{Bench, SILVER, noon};
use super::cli::{Call, write};
use super::full_day::FullDay;
use chrono::{DateTime, Local, TimeDelta, Utc};
use rusqlite::Connection;
use scruple::desk::backups::restore;
use scruple::desk::{AppError, Desk, ErrorKind, Settings};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use tempfile::TempDir;

/// A desk whose clock the test turns, with one shipment in its book.
struct Week {
    folder: TempDir,
    clock: Arc<Mutex<DateTime<Utc>>>,
    desk: Desk,
}

impl Week {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let clock = Arc::new(Mutex::new(noon()));
        let own = Arc::clone(&clock);
        let settings = Settings::built_in("MIRA").with_clock(move || *own.lock().unwrap());
        let desk = Desk::open(&folder.path().join("a.book"), settings).unwrap();
        let mut week = Week { folder, clock, desk };
        week.work();
        week
    }

    /// Writes something.
    fn work(&mut self) {
        let list = format!("line,product,quantity\n1,{SILVER},5\n");
        self.desk.receive("Moonpond Bullion (invented)", "l.csv", &list, false).unwrap();
    }

    fn later(&mut self, hours: i64) {
        *self.clock.lock().unwrap() += TimeDelta::hours(hours);
    }

    /// Returns the names of the books in the folder of the backups.
    fn kept(&self) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(self.folder.path().join("backups"))
            .unwrap()
            .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
            .filter(|name| name.ends_with(".book"))
            .collect();
        names.sort();
        names
    }
}

fn name_at(at: DateTime<Utc>) -> String {
    format!("a-{}.book", at.with_timezone(&Local).format("%Y-%m-%d-%H%M%S"))
}

#[track_caller]
fn refused<T>(result: Result<T, AppError>, kind: ErrorKind, part: &str) -> AppError {
    let error = result.err().expect("an error was expected");
    assert_eq!(error.kind, kind, "{}", error.message);
    assert!(error.message.contains(part), "`{part}` is not in: {}", error.message);
    error
}

fn bring_back(backup: &Path, to: &Path, overwrite: Option<&str>) -> Result<Option<PathBuf>, AppError> {
    restore(backup, to, overwrite, &Settings::built_in("MIRA"), noon()).map(|view| view.kept)
}

#[test]
fn a_backup_has_a_dated_name_and_is_for_its_owner_only() {
    let mut week = Week::new();
    let made = week.desk.backup(None, None).unwrap();
    assert_eq!(made.file, week.folder.path().join("backups").join(name_at(noon())));
    assert_eq!((made.kept, made.deleted.len()), (Some(1), 0));
    assert_eq!(made.head, week.desk.verify_journal().unwrap().head);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
        assert_eq!(mode(&made.file), 0o600);
        assert_eq!(mode(&week.folder.path().join("backups/list.csv")), 0o600);
        assert_eq!(mode(&week.folder.path().join("backups")), 0o700);
    }
    // Two in the same second have two names.
    let again = week.desk.backup(None, None).unwrap();
    assert_ne!(again.file, made.file);
    assert_eq!(week.kept().len(), 2);
}

#[test]
fn the_newest_are_kept_and_no_file_of_anybody_else_is_deleted() {
    let mut week = Week::new();
    let first = week.desk.backup(None, None).unwrap().file;
    let foreign = week.folder.path().join("backups/a-2020-01-01-000000.book");
    fs::write(&foreign, "somebody's").unwrap();
    week.later(1);
    let second = week.desk.backup(None, None).unwrap().file;
    // Somebody put another file in the place of the first.
    fs::write(&first, "somebody's too").unwrap();
    week.later(1);
    let third = week.desk.backup(None, Some(1)).unwrap();
    assert_eq!(third.deleted, std::slice::from_ref(&second));
    assert!(!second.exists());
    assert_eq!(
        (fs::read_to_string(&foreign).unwrap(), fs::read_to_string(&first).unwrap().len()),
        ("somebody's".to_owned(), 14)
    );
    // How many are kept is remembered.
    week.later(1);
    let fourth = week.desk.backup(None, None).unwrap();
    assert_eq!((fourth.kept, fourth.deleted), (Some(1), vec![third.file]));
    refused(week.desk.backup(None, Some(0)), ErrorKind::Usage, "allowed is 1 or more");
}

#[test]
fn the_day_has_one_backup_and_a_day_without_work_none() {
    let mut week = Week::new();
    let morning = week.desk.backup_of_the_day().unwrap().unwrap();
    assert_eq!(week.desk.backup_of_the_day().unwrap(), None);
    week.later(2);
    week.work();
    let evening = week.desk.backup_of_the_day().unwrap().unwrap();
    assert_eq!(evening.deleted, [morning.file]);
    week.later(24);
    assert_eq!(week.desk.backup_of_the_day().unwrap(), None);
    week.work();
    assert_eq!(week.desk.backup_of_the_day().unwrap().unwrap().deleted, [] as [PathBuf; 0]);
    // One that was asked for is no backup of the day.
    week.desk.backup(None, None).unwrap();
    week.later(1);
    week.work();
    week.desk.backup_of_the_day().unwrap().unwrap();
    assert_eq!(week.kept().len(), 3);
    let empty = Bench::without_prices();
    assert_eq!(empty.other_desk("MIRA").backup_of_the_day().unwrap(), None);
}

#[test]
fn a_backup_that_cannot_be_made_says_so_and_leaves_nothing() {
    let mut week = Week::new();
    fs::write(week.folder.path().join("backups"), "in the way").unwrap();
    refused(week.desk.backup(None, None), ErrorKind::Io, "cannot be made");
    refused(week.desk.backup_of_the_day(), ErrorKind::Io, "cannot be made");
    let there = week.folder.path().join("there.book");
    fs::write(&there, "").unwrap();
    refused(week.desk.backup(Some(&there), None), ErrorKind::Io, "exists already");
    assert_eq!(fs::read(&there).unwrap(), b"");
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_told_as_one() {
    // Every write to it answers that the disk is full (Linux manual, full(4)).
    let error: AppError = scruple::store::StoreError::from(fs::write("/dev/full", "x").unwrap_err()).into();
    assert_eq!(error.kind, ErrorKind::Io);
    assert!(error.message.contains("the disk is full"), "{}", error.message);
}

#[test]
fn a_book_comes_back_as_it_was() {
    let mut week = Week::new();
    let backup = week.desk.backup(None, None).unwrap().file;
    let before = (week.desk.shipments().unwrap(), week.desk.verify_journal().unwrap());
    week.work();
    let to = week.folder.path().join("back.book");
    assert_eq!(bring_back(&backup, &to, None).unwrap(), None);
    let back = Desk::open(&to, Settings::built_in("MIRA")).unwrap();
    assert_eq!((back.shipments().unwrap(), back.verify_journal().unwrap()), before);
}

#[test]
fn a_book_is_replaced_only_when_its_name_is_typed_again_and_is_kept() {
    let day = FullDay::new();
    let backup = day.folder.path().join("b.book");
    day.desk().backup_to(&backup).unwrap();
    let mut other = Bench::new();
    other.lot(SILVER, 3, "");
    let book = other.close();
    let before = fs::read(&book).unwrap();
    refused(bring_back(&backup, &book, None), ErrorKind::Failed, "exists already");
    refused(bring_back(&backup, &book, Some("b.book")), ErrorKind::Failed, "is not the name");
    assert_eq!(fs::read(&book).unwrap(), before);

    // Not under the hands of a program that has it open.
    let open = Desk::open(&book, Settings::built_in("MIRA")).unwrap();
    refused(bring_back(&backup, &book, Some("a.book")), ErrorKind::Busy, "in use by another program");
    let held = open.shipments().unwrap();
    drop(open);

    let kept = bring_back(&backup, &book, Some("a.book")).unwrap().unwrap();
    assert!(kept.file_name().unwrap().to_string_lossy().starts_with("a-before-restore-2026-03-04-"));
    assert_eq!(Desk::open(&kept, Settings::built_in("MIRA")).unwrap().shipments().unwrap(), held);
    assert_eq!(
        Desk::open(&book, Settings::built_in("MIRA")).unwrap().shipments().unwrap(),
        day.desk().shipments().unwrap()
    );
}

#[test]
fn what_is_no_whole_book_is_not_restored() {
    let day = FullDay::new();
    let to = day.folder.path().join("back.book");
    let text = day.folder.path().join("notes.txt");
    fs::write(&text, "not a book").unwrap();
    refused(bring_back(&text, &to, None), ErrorKind::Damaged, "is not a book of this program");
    refused(bring_back(&day.folder.path().join("none.book"), &to, None), ErrorKind::Io, "there is no file");
    let newer = day.copy("newer.book");
    Connection::open(&newer)
        .unwrap()
        .execute_batch("INSERT INTO migration VALUES (900, 'x', 'x', 0); PRAGMA user_version = 900;")
        .unwrap();
    refused(bring_back(&newer, &to, None), ErrorKind::Damaged, "is of version 900");
    let altered = day.copy("altered.book");
    Connection::open(&altered).unwrap().execute("UPDATE preference SET value = 'x'", []).unwrap();
    let error = refused(bring_back(&altered, &to, None), ErrorKind::Damaged, "nothing was restored");
    assert!(error.hints[0].starts_with("preference: name"), "{:?}", error.hints);
    // Half of the pages are gone.
    let cut = day.copy("cut.book");
    let half = fs::metadata(&cut).unwrap().len() / 2;
    fs::OpenOptions::new().write(true).open(&cut).unwrap().set_len(half).unwrap();
    assert_eq!(bring_back(&cut, &to, None).unwrap_err().kind, ErrorKind::Damaged);
    assert!(!to.exists());
}

#[test]
fn the_subcommands_say_what_they_did() {
    let folder = tempfile::tempdir().unwrap();
    write(&folder, "l.csv", &format!("line,product,quantity\n1,{SILVER},2\n"));
    Call::new(&folder, &["receive", "l.csv", "--source", "Moonpond (invented)"]).done();
    let said = Call::new(&folder, &["backup", "--keep", "3"]).done();
    assert!(said.starts_with("backed up to ") && said.ends_with("; 1 backup kept\n"), "{said}");
    let json = Call::new(&folder, &["backup", "here.book", "--json"]).json(0);
    assert_eq!((json["file"].as_str(), json["kept"].as_u64()), (Some("here.book"), None));
    let said = Call::new(&folder, &["restore", "here.book", "--to", "back.book"]).done();
    assert_eq!(said, format!("restored back.book, head {}\n", json["head"].as_str().unwrap()));
    let output = Call::new(&folder, &["restore", "here.book", "--to", "back.book"]).run();
    assert_eq!(output.status.code(), Some(1));
    let error = String::from_utf8(output.stderr).unwrap();
    assert!(error.contains("hint: to replace it, type its name again: `--overwrite back.book`"), "{error}");
    let json = Call::new(
        &folder,
        &["restore", "here.book", "--to", "back.book", "--overwrite", "back.book", "--json"],
    )
    .json(0);
    assert!(json["kept"].as_str().unwrap().starts_with("back-before-restore-"), "{json}");
}
