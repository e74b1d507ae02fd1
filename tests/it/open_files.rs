//! A whole book as open files: it comes back without a loss, and not at all when a file was altered.

use super::cli::Call;
use super::full_day::{FullDay, settings};
use chrono::NaiveDate;
use scruple::desk::Progress;
use scruple::desk::audit::{AuditRequest, audit};
use scruple::desk::open_files::import;
use scruple::desk::{AppError, Desk, ErrorKind};
use std::fs;
use std::path::{Path, PathBuf};

fn exported(day: &FullDay) -> PathBuf {
    let folder = day.folder.path().join("whole");
    day.desk().export(&folder).unwrap();
    folder
}

#[track_caller]
fn refused(result: Result<impl std::fmt::Debug, AppError>, kind: ErrorKind, parts: &[&str]) {
    let error = result.unwrap_err();
    let told = format!("{}\n{}", error.message, error.hints.join("\n"));
    assert_eq!(error.kind, kind, "{told}");
    for part in parts {
        assert!(told.contains(part), "`{part}` is not in: {told}");
    }
}

/// Replaces the first place of a text in a file.
#[track_caller]
fn alter(file: &Path, from: &str, to: &str) {
    let text = fs::read_to_string(file).unwrap();
    assert!(text.contains(from), "{from}");
    fs::write(file, text.replacen(from, to, 1)).unwrap();
}

#[test]
fn a_book_comes_back_with_the_same_head_and_without_a_fault() {
    let day = FullDay::new();
    let folder = exported(&day);
    let again = day.folder.path().join("again.book");
    let imported = import(&folder, Some(&again), &Progress::default()).unwrap();
    let view = audit(&again, &settings(), &AuditRequest::default()).unwrap();
    assert_eq!((view.report.faults.as_slice(), &view.report.head), ([].as_slice(), &imported.head));
    let assessments = view.recomputed.unwrap();
    assert_eq!((assessments.same > 0, assessments.not_possible.len()), (true, 0));
    let first = audit(&day.book(), &settings(), &AuditRequest::default()).unwrap();
    assert_eq!(first.report, view.report);
    // The same files come out of the book that was made of them.
    let desk = Desk::open(&again, settings()).unwrap();
    let second = day.folder.path().join("second");
    desk.export(&second).unwrap();
    for entry in fs::read_dir(&folder).unwrap() {
        let name = entry.unwrap().file_name();
        assert!(fs::read(folder.join(&name)).unwrap() == fs::read(second.join(&name)).unwrap(), "{name:?}");
    }
    // The half-typed piece is still on the bench, and work goes on.
    assert_eq!(desk.draft().unwrap(), day.desk().draft().unwrap());
    let date = NaiveDate::from_ymd_opt(2026, 3, 4);
    let (mut one, mut other) = (day.desk().day(date).unwrap(), desk.day(date).unwrap());
    (one.made_at, other.made_at) = (noon(), noon());
    assert_eq!(one, other);
}

fn noon() -> chrono::DateTime<chrono::Utc> {
    super::bench::noon()
}

#[test]
fn an_altered_file_is_refused_with_its_row() {
    let day = FullDay::new();
    let folder = exported(&day);
    let to = day.folder.path().join("again.book");
    let keep = |name: &str| fs::read(folder.join(name)).unwrap();
    let check = |name: &str, from: &str, with: &str, parts: &[&str]| {
        let before = keep(name);
        alter(&folder.join(name), from, with);
        refused(import(&folder, Some(&to), &Progress::default()), ErrorKind::BadRows, parts);
        refused(import(&folder, None, &Progress::default()), ErrorKind::BadRows, parts);
        fs::write(folder.join(name), before).unwrap();
        assert!(!to.exists());
    };
    let row = |name: &str, part: &str| {
        let text = String::from_utf8(keep(name)).unwrap();
        text.lines().position(|line| line.contains(part)).unwrap() + 1
    };
    let line = row("reading.csv", ",31.11,");
    check(
        "reading.csv",
        ",31.11,",
        ",31.21,",
        &[&format!("file `reading.csv`, row {line}: it was altered"), "by its SHA-256"],
    );
    check("price.csv", "gold,", "silver,", &["file `price.csv`, row 2: it was altered"]);
    check(
        "journal.csv",
        "shipment received",
        "shipment returned",
        &["file `journal.csv`: row ", "the row was changed"],
    );
    check(
        "preference.csv",
        "last_probe",
        "lost_probe",
        &["file `preference.csv`: name `last_probe`: it was removed"],
    );
    check("operator.csv", "MIRA,owner", "MIRA,king", &["file `operator.csv`", "CHECK constraint failed"]);
    check(
        "price.csv",
        "\r\n1,",
        "\r\none,",
        &["file `price.csv`, row 2, column `id`: found `one`, allowed is a whole number"],
    );
    check("price.csv", "id,metal", "id,metall", &["file `price.csv`, row 1", "the line of names"]);
    check("book.json", "\"head\": \"", "\"head\": \"0", &["the head it names is not the last seal"]);
    check("book.json", "scruple book", "another book", &["does not say what belongs together"]);
    // The same rows in other quotes are another file.
    check("price.csv", "gold,", "\"gold\",", &["file `price.csv`: it is not the one that `book.json` names"]);
    let lines: Vec<String> =
        String::from_utf8(keep("reading.csv")).unwrap().lines().map(str::to_owned).collect();
    let fifth = format!("{}\r\n", lines[4]);
    check("reading.csv", &fifth, "", &["file `reading.csv`", "it was removed"]);
    fs::remove_file(folder.join("stock.csv")).unwrap();
    refused(
        import(&folder, None, &Progress::default()),
        ErrorKind::BadRows,
        &["file `stock.csv` is missing"],
    );
}

#[test]
fn files_of_a_newer_program_are_refused() {
    let day = FullDay::new();
    let folder = exported(&day);
    alter(&folder.join("book.json"), "\"format\": 1", "\"format\": 2");
    refused(
        import(&folder, None, &Progress::default()),
        ErrorKind::Damaged,
        &["of form 2, this program knows forms up to 1"],
    );
    alter(&folder.join("book.json"), "\"format\": 2", "\"format\": 1");
    alter(&folder.join("book.json"), "\"schema_version\": ", "\"schema_version\": 9");
    refused(import(&folder, None, &Progress::default()), ErrorKind::Damaged, &["written by a newer release"]);
}

#[test]
fn nothing_is_ever_overwritten() {
    let day = FullDay::new();
    let folder = exported(&day);
    refused(day.desk().export(&folder), ErrorKind::Io, &["is not empty"]);
    let book = fs::read(day.book()).unwrap();
    refused(import(&folder, Some(&day.book()), &Progress::default()), ErrorKind::Io, &["exists already"]);
    assert!(fs::read(day.book()).unwrap() == book);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
        assert_eq!(
            (mode(&folder), mode(&folder.join("reading.csv")), mode(&folder.join("book.json"))),
            (0o700, 0o600, 0o600)
        );
    }
}

#[test]
fn the_subcommands_carry_a_book_over() {
    let day = FullDay::new();
    let book = day.book();
    let call = |args: &[&str]| {
        let args: Vec<&str> =
            ["--book", book.to_str().unwrap()].into_iter().chain(args.iter().copied()).collect();
        Call::new(&day.folder, &args).done()
    };
    let said = call(&["export", "whole"]);
    assert!(said.starts_with("exported ") && said.contains(" tables to whole, head "), "{said}");
    let head = said.trim_end().rsplit(' ').next().unwrap();
    let checked = Call::new(&day.folder, &["import", "whole", "--dry-run"]).done();
    assert!(
        checked.ends_with(&format!("are as they were exported, head {head}; no book was made\n")),
        "{checked}"
    );
    let json = Call::new(&day.folder, &["import", "whole", "--to", "again.book", "--json"]).json(0);
    assert_eq!((json["head"].as_str(), json["book"].as_str()), (Some(head), Some("again.book")));
    let again = ["--book", "again.book", "day", "--date", "2026-03-04", "--json"];
    let without_time = |text: &str| {
        let mut day: serde_json::Value = serde_json::from_str(text).unwrap();
        assert!(day.as_object_mut().unwrap().remove("made_at").is_some(), "{text}");
        day
    };
    assert_eq!(
        without_time(&Call::new(&day.folder, &again).done()),
        without_time(&call(&["day", "--date", "2026-03-04", "--json"]))
    );
    assert!(
        Call::new(&day.folder, &["--book", "again.book", "audit"])
            .done()
            .ends_with(&format!("no fault, head {head}\n"))
    );
}
