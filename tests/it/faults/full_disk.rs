//! A disk that is full or fails: the act is refused and says so, the book stays whole, and work goes on afterwards.

use super::disk::{Call, Disk, Failure, Watch};
use super::{Finding, SESSION, Tally, how_many, look, open, said};
use rusqlite::ffi;
use scruple::desk::{AppError, ErrorKind};
use std::ffi::c_int;
use std::path::Path;

/// Checks that an error names the disk and says what to do; sqlite.org, result codes, for what the disk answered.
#[track_caller]
fn check_says_so(error: &AppError, code: c_int) {
    assert_eq!((error.kind, error.kind.exit_code()), (ErrorKind::Io, 7), "{}", error.message);
    let wanted = if code == ffi::SQLITE_FULL { "the disk is full" } else { "cannot be read or written" };
    assert!(error.message.contains(wanted), "{}", error.message);
    assert!(!error.hints.is_empty(), "{}", error.message);
}

/// Runs the session from an act on, with a disk that fails once it has begun; returns whether it failed at all.
fn run(tally: &mut Tally, first: usize, acts: usize, failure: Failure, made: &[Vec<u8>]) -> bool {
    let folder = tempfile::tempdir().unwrap();
    let watch = Watch(Disk::watch(folder.path()));
    let disk = &watch.0;
    let book = folder.path().join("a.book");
    std::fs::write(&book, &made[first]).unwrap();
    let fails = |failure| disk.fail(Some(failure));
    let mut failed = false;
    let mut desk = if failure.call == Call::Open {
        // Opening is where files are opened.
        fails(failure);
        match open(&book) {
            Ok(desk) => desk,
            Err(error) => {
                check_says_so(&error, failure.code);
                failed = true;
                disk.fail(None);
                open(&book).unwrap()
            }
        }
    } else {
        let desk = open(&book).unwrap();
        fails(failure);
        desk
    };
    for step in &SESSION[first..first + acts] {
        let before = disk.at_peace(|| said(&desk));
        if let Err(error) = (step.act)(&mut desk) {
            check_says_so(&error, failure.code);
            failed = true;
            disk.fail(None);
            // The open desk still shows what was there, and nothing of what was refused.
            assert_eq!(said(&desk), before, "{}", step.name);
            (step.act)(&mut desk).unwrap_or_else(|error| panic!("{} again: {error}", step.name));
        }
        tally.acknowledged += 1;
    }
    let last = disk.at_peace(|| said(&desk));
    drop(desk);
    failed |= disk.fail(None) > 0;
    tally.faults += usize::from(failed);
    match look(&book, &last, None) {
        Finding::Intact => {}
        Finding::Lost(what) => {
            tally.lost += 1;
            println!("{failure:?}: {what}");
        }
        Finding::Damaged(what) => {
            tally.damaged += 1;
            println!("{failure:?}: {what}");
        }
    }
    failed
}

/// Returns the closed book as it is before each act of the session.
fn books() -> Vec<Vec<u8>> {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("a.book");
    let mut made = Vec::new();
    for step in SESSION {
        let mut desk = open(&book).unwrap();
        drop(desk);
        made.push(std::fs::read(&book).unwrap());
        desk = open(&book).unwrap();
        (step.act)(&mut desk).unwrap_or_else(|error| panic!("{}: {error}", step.name));
    }
    made
}

/// Lets the n-th call of a kind fail for every n until no such call is left, on short pieces of the session.
fn try_all(tally: &mut Tally, call: Call, code: c_int, lasting: bool, made: &[Vec<u8>]) {
    for first in (0..SESSION.len()).step_by(how_many(7, 1)) {
        let acts = 1;
        let mut after = 0;
        while run(tally, first, acts, Failure { call, after, code, lasting }, made) {
            after += how_many(after / 2 + 3, 1);
        }
    }
}

#[test]
fn a_full_disk_refuses_the_act_and_keeps_the_book() {
    let mut tally = Tally::new("disk full");
    let made = books();
    try_all(&mut tally, Call::Write, ffi::SQLITE_FULL, true, &made);
    tally.check();
}

#[test]
fn a_failing_disk_refuses_the_act_and_keeps_the_book() {
    let mut tally = Tally::new("disk failing");
    let made = books();
    for (call, code) in [
        (Call::Write, ffi::SQLITE_IOERR_WRITE),
        (Call::Sync, ffi::SQLITE_IOERR_FSYNC),
        (Call::Read, ffi::SQLITE_IOERR_READ),
        (Call::Truncate, ffi::SQLITE_IOERR_TRUNCATE),
        (Call::Open, ffi::SQLITE_CANTOPEN),
    ] {
        for lasting in [false, true] {
            try_all(&mut tally, call, code, lasting, &made);
        }
    }
    tally.check();
}

/// Runs the program under a limit of the size of files, in blocks of 512 bytes (POSIX, `ulimit -f`).
fn limited(home: &Path, blocks: usize, args: &[&str]) -> std::process::Output {
    // With the signal ignored a write beyond the limit fails as on a disk that takes no more.
    let script = format!("trap '' XFSZ; ulimit -f {blocks}; exec \"$0\" \"$@\"");
    let mut command = std::process::Command::new("sh");
    command.arg("-c").arg(script).arg(env!("CARGO_BIN_EXE_scruple")).args(args);
    command.current_dir(home).env_clear().env("HOME", home).env("USER", "MIRA");
    command.output().unwrap()
}

#[test]
fn a_limit_of_the_system_is_told_like_a_full_disk() {
    let home = tempfile::tempdir().unwrap();
    let book = home.path().join("a.book");
    let mut desk = open(&book).unwrap();
    for step in &SESSION[..2] {
        (step.act)(&mut desk).unwrap();
    }
    let before = said(&desk);
    drop(desk);
    let rows =
        "line,mass,diameter,thickness,conductivity,temperature,probe\n1,31.10,40.60,2.98,61.9,21.3,flat\n";
    std::fs::write(home.path().join("r.csv"), rows).unwrap();
    let args = ["--book", "a.book", "log", "r.csv", "--shipment", "S-0001"];
    let mut tally = Tally::new("file size limit of the system");
    for blocks in [0, 16, 32, 48, 64] {
        let output = limited(home.path(), blocks, &args);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(7), "{blocks} blocks: {said}");
        assert!(said.starts_with("error: the ") && said.contains("\nhint: "), "{blocks} blocks: {said}");
        tally.faults += 1;
        tally.acknowledged += before.rows as usize;
        match look(&book, &before, None) {
            Finding::Intact => {}
            Finding::Lost(what) => panic!("{blocks} blocks: {what}"),
            Finding::Damaged(what) => panic!("{blocks} blocks: {what}"),
        }
    }
    // With room again the same call succeeds.
    assert_eq!(limited(home.path(), 1 << 20, &args).status.code(), Some(0));
    tally.check();
}
