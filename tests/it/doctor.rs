//! What `scruple doctor` makes of facts, and that the facts are those of a real book.

use super::bench::SILVER;
use super::cli::{Call, write};
use chrono::{DateTime, FixedOffset, NaiveDate, TimeZone};
use scruple::desk::PolicyOrigin;
use scruple::desk::backups::NewestBackup;
use scruple::desk::doctor::{
    BookFacts, BookState, ConfigFacts, DiskFacts, Facts, InstrumentFacts, TerminalFacts,
};
use scruple::present::doctor::{Finding, Health, judge, lines};
use serde_json::Value;
use std::path::PathBuf;
use tempfile::TempDir;

fn now() -> DateTime<FixedOffset> {
    FixedOffset::east_opt(3600).unwrap().with_ymd_and_hms(2031, 3, 14, 9, 26, 53).unwrap()
}

/// A machine on which nothing is to be said.
fn healthy() -> Facts {
    Facts {
        terminal: TerminalFacts {
            is_terminal: true,
            term: Some("xterm".to_owned()),
            size: Some((120, 40)),
            colored: true,
        },
        language: Some("en_GB.UTF-8".to_owned()),
        now: now(),
        disk: DiskFacts { folder: PathBuf::from("/desk"), free: Some(50_000_000_000), not_writable: None },
        book: BookFacts {
            path: PathBuf::from("/desk/a.book"),
            state: BookState::Ready {
                version: 9,
                damage: None,
                rows: 12,
                head: "ab".repeat(32),
                last_entry: Some(now().to_utc() - chrono::TimeDelta::hours(1)),
            },
            mode: Some(0o600),
            held: Some(false),
        },
        instruments: InstrumentFacts { origin: Some(PolicyOrigin::Book), ..InstrumentFacts::default() },
        config: ConfigFacts { folder: Some(PathBuf::from("/config")), ..ConfigFacts::default() },
        backup: Ok(Some(NewestBackup {
            file: PathBuf::from("/desk/backups/a.book"),
            made_at: NaiveDate::from_ymd_opt(2031, 3, 14).unwrap().and_hms_opt(8, 0, 0),
            head: "ab".repeat(32),
            is_there: true,
        })),
    }
}

/// Checks that a change of the healthy facts gives one finding of this kind, with these words, and no other.
#[track_caller]
fn check(change: impl FnOnce(&mut Facts), health: Health, what: &str, words: &str) {
    let mut facts = healthy();
    change(&mut facts);
    let found: Vec<Finding> = judge(&facts).into_iter().filter(|one| one.health != Health::Ok).collect();
    let [one] = found.as_slice() else { panic!("{found:#?}") };
    assert_eq!((one.health, one.what), (health, what), "{one:?}");
    assert!(one.found.contains(words), "{one:?}");
    assert!(!one.advice.is_empty(), "{one:?}");
}

fn ready(facts: &mut Facts) -> (&mut Option<String>, &mut Option<DateTime<chrono::Utc>>, &mut String) {
    match &mut facts.book.state {
        BookState::Ready { damage, last_entry, head, .. } => (damage, last_entry, head),
        other => panic!("{other:?}"),
    }
}

#[test]
fn nothing_is_said_of_a_healthy_desk() {
    let findings = judge(&healthy());
    assert!(findings.iter().all(|one| one.health == Health::Ok && one.advice.is_empty()), "{findings:#?}");
    let said = lines(&findings);
    assert_eq!(said[0], "+ ok       terminal       xterm, 120 × 40, colours");
    assert_eq!(said.last().unwrap(), "nothing is in trouble, 0 notes");
}

#[test]
fn a_terminal_that_is_too_small_is_trouble_and_one_that_cannot_draw_a_note() {
    // 40 columns by 10 rows is the least on which the screens log.
    check(|facts| facts.terminal.size = Some((39, 10)), Health::Trouble, "terminal", "39 × 10");
    check(|facts| facts.terminal.size = Some((40, 10)), Health::Note, "terminal", "40 × 10");
    check(|facts| facts.terminal.term = Some("dumb".to_owned()), Health::Note, "terminal", "dumb");
    check(|facts| facts.terminal.term = None, Health::Note, "terminal", "TERM is not set");
    check(|facts| facts.terminal.is_terminal = false, Health::Note, "terminal", "no terminal");
}

#[test]
fn another_character_set_is_said_with_what_plots_become() {
    check(
        |facts| facts.language = Some("de_AT.ISO-8859-1".to_owned()),
        Health::Note,
        "locale",
        "plots use ASCII",
    );
    check(|facts| facts.language = None, Health::Note, "locale", "no language is set, not UTF-8");
}

#[test]
fn a_clock_before_the_last_entry_is_trouble() {
    let later = now().to_utc() + chrono::TimeDelta::seconds(1);
    check(|facts| *ready(facts).1 = Some(later), Health::Trouble, "clock", "2031-03-14 09:26:54 UTC+01:00");
    let never = DateTime::UNIX_EPOCH.fixed_offset();
    let mut facts = healthy();
    facts.now = never;
    let clock = judge(&facts).into_iter().find(|one| one.what == "clock").unwrap();
    assert_eq!((clock.health, clock.found.contains("never set")), (Health::Trouble, true), "{clock:?}");
}

#[test]
fn a_disk_that_fills_is_said_before_it_is_full() {
    check(|facts| facts.disk.free = Some(99_999_999), Health::Trouble, "disk", "99 MB free");
    check(|facts| facts.disk.free = Some(999_999_999), Health::Note, "disk", "999 MB free");
    let refused = Some("Read-only file system".to_owned());
    check(|facts| facts.disk.not_writable = refused, Health::Trouble, "folder", "Read-only file system");
}

#[test]
fn a_book_that_others_may_read_or_that_is_damaged_is_trouble() {
    check(|facts| facts.book.mode = Some(0o640), Health::Trouble, "permissions", "0640");
    check(|facts| facts.book.held = Some(true), Health::Note, "in use", "another program");
    let wrong = Some("row 3 missing from index".to_owned());
    check(|facts| *ready(facts).0 = wrong, Health::Trouble, "pages", "row 3 missing");
}

#[test]
fn instruments_that_fail_are_trouble_and_those_assumed_or_due_are_notes() {
    let pair = || vec![("bench scale".to_owned(), "no control since yesterday".to_owned())];
    check(|facts| facts.instruments.failed = pair(), Health::Trouble, "control", "bench scale: no control");
    check(|facts| facts.instruments.due = pair(), Health::Note, "control", "bench scale: no control");
    check(|facts| facts.instruments.assumed = vec!["scale".to_owned()], Health::Note, "assumed", "scale");
    check(
        |facts| facts.instruments.past_due = vec!["gauge".to_owned()],
        Health::Note,
        "calibration",
        "gauge",
    );
    check(|facts| facts.instruments.origin = None, Health::Note, "instruments", "no register in the book");
}

#[test]
fn a_backup_counts_by_what_is_in_it_before_its_age() {
    let old = NaiveDate::from_ymd_opt(2031, 3, 7).unwrap().and_hms_opt(9, 0, 0);
    let aged = |facts: &mut Facts| {
        facts.backup.as_mut().unwrap().as_mut().unwrap().made_at = old;
    };
    let mut same = healthy();
    aged(&mut same);
    assert!(judge(&same).iter().all(|one| one.health == Health::Ok));
    let went_on = |facts: &mut Facts| *ready(facts).2 = "cd".repeat(32);
    let both = |facts: &mut Facts| {
        aged(facts);
        went_on(facts);
    };
    check(both, Health::Trouble, "backups", "7 days old and the book went on");
    check(|facts| facts.backup = Ok(None), Health::Note, "backups", "none beside the book");
    let mut fresh = healthy();
    went_on(&mut fresh);
    assert!(judge(&fresh).iter().all(|one| one.health == Health::Ok));
}

fn found<'v>(said: &'v Value, what: &str) -> Vec<&'v Value> {
    said["findings"].as_array().unwrap().iter().filter(|one| one["what"] == what).collect()
}

#[test]
fn without_a_book_nothing_is_made_and_nothing_is_in_trouble() {
    let folder = tempfile::tempdir().unwrap();
    let said = Call::new(&folder, &["doctor", "--json"]).json(0);
    assert_eq!(said["schema"], 1);
    assert_eq!(found(&said, "book")[0]["health"], "note");
    assert!(!folder.path().join("a.book").exists());
    assert!(!folder.path().join("config").exists());
}

/// Makes a folder with a book in which one shipment was received.
fn received() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    let list = format!("line,product,quantity\n1,{SILVER},2\n");
    Call::new(&folder, &["receive", "-", "--source", "Moonpond Bullion (invented)"]).input(&list).done();
    folder
}

#[test]
fn a_book_is_read_as_it_is_and_stays_so() {
    let folder = received();
    let before = std::fs::read(folder.path().join("a.book")).unwrap();
    let said = Call::new(&folder, &["doctor", "--json"]).json(0);
    assert_eq!(found(&said, "book")[0]["health"], "ok");
    assert_eq!(found(&said, "permissions")[0]["found"], "0600: its owner only");
    assert_eq!(found(&said, "in use")[0]["health"], "ok");
    // The head is the one that the audit ends with.
    let audit = Call::new(&folder, &["audit", "--json"]).json(0);
    let head = audit["head"].as_str().unwrap();
    assert!(found(&said, "journal")[0]["found"].as_str().unwrap().ends_with(head), "{said}");
    assert_eq!(found(&said, "backups")[0]["found"], "none beside the book");
    assert_eq!(std::fs::read(folder.path().join("a.book")).unwrap(), before);
    Call::new(&folder, &["backup"]).done();
    let said = Call::new(&folder, &["doctor", "--json"]).json(0);
    assert_eq!(found(&said, "backups")[0]["health"], "ok");
}

#[test]
fn a_book_that_another_program_has_open_is_told() {
    let folder = received();
    let other = rusqlite::Connection::open(folder.path().join("a.book")).unwrap();
    let _: i64 = other.query_row("SELECT count(*) FROM shipment", [], |row| row.get(0)).unwrap();
    let said = Call::new(&folder, &["doctor", "--json"]).json(0);
    assert_eq!(found(&said, "in use")[0]["found"], "another program has the book open");
    drop(other);
    let said = Call::new(&folder, &["doctor", "--json"]).json(0);
    assert_eq!(found(&said, "in use")[0]["health"], "ok");
}

#[test]
fn mistakes_of_every_file_are_told_and_the_exit_code_says_so() {
    let folder = received();
    std::fs::create_dir_all(folder.path().join("config/devices")).unwrap();
    write(&folder, "config/policy.toml", "currency = \"EURO\"\n");
    write(&folder, "config/instruments.toml", "nonsense\n");
    write(&folder, "config/devices/scale.toml", "nonsense\n");
    let said = Call::new(&folder, &["doctor", "--json"]).json(1);
    let files = found(&said, "configuration");
    assert_eq!(files.len(), 3);
    assert!(files.iter().all(|one| one["health"] == "trouble"), "{files:#?}");
    let text = String::from_utf8(Call::new(&folder, &["doctor"]).run().stdout).unwrap();
    assert!(text.contains("\n3 in trouble, "), "{text}");
    assert!(text.contains("policy.toml"), "{text}");
}

#[test]
fn what_is_no_book_is_trouble_and_stays_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let path = write(&folder, "a.book", "a letter, not a book\n");
    let said = Call::new(&folder, &["doctor", "--json"]).json(1);
    assert_eq!(found(&said, "book")[0]["health"], "trouble");
    assert_eq!(std::fs::read_to_string(path).unwrap(), "a letter, not a book\n");
}
