//! Every long act can be stopped at any step: the book is as before, nothing half-made stays behind, and the act done again
//! succeeds.

use super::bench::{SILVER, noon};
use super::full_day::take_out_seals;
use chrono::TimeDelta;
use rusqlite::Connection;
use scruple::desk::audit::{AuditRequest, audit};
use scruple::desk::backups::restore;
use scruple::desk::demo;
use scruple::desk::open_files::import;
use scruple::desk::{AppError, ControlRequest, Desk, ErrorKind, Go, Progress, Settings, Step};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, OnceLock};
use tempfile::TempDir;

/// The book of an invented day, as a file.
fn day() -> &'static [u8] {
    static DAY: OnceLock<Vec<u8>> = OnceLock::new();
    DAY.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.book");
        let mut desk = Desk::open(&path, Settings::built_in("MIRA").with_clock(noon)).unwrap();
        demo::fill(&mut desk).unwrap();
        drop(desk);
        fs::read(&path).unwrap()
    })
}

/// A folder with the book of the invented day, two hours later.
struct Later {
    folder: TempDir,
}

impl Later {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("a.book"), day()).unwrap();
        Later { folder }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn settings(progress: &Progress) -> Settings {
        let clock = || noon() + TimeDelta::hours(2);
        Settings::built_in("MIRA").with_clock(clock).with_progress(progress.clone())
    }

    fn desk(&self, progress: &Progress) -> Desk {
        Desk::open(&self.path("a.book"), Self::settings(progress)).unwrap()
    }

    /// Returns what is in the folder, apart from the log of a book that is open.
    fn files(&self) -> Vec<String> {
        fn walk(folder: &Path, under: &Path, names: &mut Vec<String>) {
            for entry in fs::read_dir(folder).unwrap() {
                let path = entry.unwrap().path();
                if path.is_dir() {
                    walk(&path, under, names);
                }
                names.push(path.strip_prefix(under).unwrap().display().to_string());
            }
        }
        let mut names = Vec::new();
        walk(self.folder.path(), self.folder.path(), &mut names);
        names.retain(|name| !name.ends_with("-wal") && !name.ends_with("-shm"));
        names.sort();
        names
    }

    /// Returns head and rows of the book, as another program reads them.
    fn book(&self) -> (String, BTreeMap<String, i64>) {
        let client = Connection::open(self.path("a.book")).unwrap();
        let mut tables = client.prepare("SELECT name FROM sqlite_schema WHERE type = 'table'").unwrap();
        let names: Vec<String> =
            tables.query_map([], |row| row.get(0)).unwrap().collect::<Result<_, _>>().unwrap();
        let count = |name: &String| {
            client.query_row(&format!("SELECT count(*) FROM \"{name}\""), [], |row| row.get(0)).unwrap()
        };
        let rows = names.iter().map(|name| (name.clone(), count(name))).collect();
        let head = "SELECT hex(hash) FROM seal ORDER BY number DESC LIMIT 1";
        (client.query_row(head, [], |row| row.get(0)).unwrap_or_default(), rows)
    }
}

/// Stops at a step, counted from 1, and counts the steps; 0 never stops.
fn stopping_at(step: u64) -> (Progress, Arc<Mutex<Vec<Step>>>) {
    let seen: Arc<Mutex<Vec<Step>>> = Arc::default();
    let told = Arc::clone(&seen);
    let watcher = move |now: Step| {
        let mut told = told.lock().unwrap();
        told.push(now);
        if told.len() as u64 == step { Go::Stop } else { Go::On }
    };
    (Progress::told_to(Box::new(watcher)), seen)
}

/// Stops an act at its first step, in the middle, and at its last; `what` is told among its steps.
#[track_caller]
fn check(what: &str, prepare: impl Fn(&Later), act: impl Fn(&Later, &Progress) -> Result<(), AppError>) {
    let whole = Later::new();
    prepare(&whole);
    let (progress, seen) = stopping_at(0);
    act(&whole, &progress).unwrap();
    let steps = seen.lock().unwrap().clone();
    assert!(steps.iter().any(|step| step.what == what), "`{what}` is not told: {steps:?}");
    let first = steps.iter().position(|step| step.what == what).unwrap() as u64 + 1;
    let all = steps.len() as u64;
    for at in [first, first + (all - first) / 2, all] {
        let later = Later::new();
        prepare(&later);
        let before = (later.book(), later.files());
        let (progress, seen) = stopping_at(at);
        let error = act(&later, &progress).unwrap_err();
        assert_eq!((error.kind, error.kind.exit_code()), (ErrorKind::Stopped, 130), "{}", error.message);
        assert_eq!(error.message, "stopped: nothing was written");
        assert_eq!(seen.lock().unwrap().len() as u64, at, "nobody is asked again after a stop");
        assert_eq!((later.book(), later.files()), before, "stopped at step {at} of {all}");
        act(&later, &Progress::default()).unwrap();
    }
}

fn nothing(_: &Later) {}

/// Opens the desk in peace, and lets only the act be watched.
fn with_desk(
    later: &Later,
    progress: &Progress,
    act: impl FnOnce(&mut Desk) -> Result<(), AppError>,
) -> Result<(), AppError> {
    let mut desk = later.desk(&Progress::default());
    let told = progress.clone();
    desk.progress().watch(Some(Box::new(move |step| match told.step(step.what, step.done, step.of) {
        Ok(()) => Go::On,
        Err(_) => Go::Stop,
    })));
    act(&mut desk)
}

#[test]
fn taking_in_a_packing_list_can_be_stopped() {
    let lines: String = (1..=40).map(|line| format!("{line},{SILVER},2\n")).collect();
    let list = format!("line,product,quantity\n{lines}");
    check("lines of the packing list", nothing, |later, progress| {
        with_desk(later, progress, |desk| {
            desk.receive("Moonpond Bullion (invented)", "l.csv", &list, false).map(drop)
        })
    });
}

#[test]
fn logging_a_list_of_readings_can_be_stopped() {
    let prepare = |later: &Later| {
        let list = format!("line,product,quantity\n1,{SILVER},6\n");
        later
            .desk(&Progress::default())
            .receive("Moonpond Bullion (invented)", "l.csv", &list, false)
            .unwrap();
    };
    let row = "1,31.10,40.60,2.98,61.9,21.3,flat\n";
    let list = format!("line,mass,diameter,thickness,conductivity,temperature,probe\n{}", row.repeat(6));
    check("pieces logged", prepare, |later, progress| {
        with_desk(later, progress, |desk| {
            let number = desk.shipments()?[0].number.clone();
            desk.log_readings(&number, "r.csv", &list, false, false).map(drop)
        })
    });
}

#[test]
fn a_control_that_fails_can_be_stopped() {
    let request = ControlRequest {
        reference: "100 g weight".to_owned(),
        value: "101.00".to_owned(),
        instrument: Some("bench scale".to_owned()),
        probe: None,
        temperature: None,
        reason: None,
    };
    check("pieces that lose their control", nothing, |later, progress| {
        with_desk(later, progress, |desk| {
            let outcome = desk.record_control(&request)?;
            assert!(!outcome.control.passed && outcome.held.len() > 10);
            Ok(())
        })
    });
}

#[test]
fn scoring_a_lot_again_can_be_stopped() {
    check("pieces scored again", nothing, |later, progress| {
        with_desk(later, progress, |desk| {
            let lots = desk.shipments()?.into_iter().flat_map(|shipment| shipment.lots);
            let lot = lots.max_by_key(|lot| lot.logged).unwrap();
            desk.rescore(lot.id).map(drop)
        })
    });
}

#[test]
fn a_backup_can_be_stopped() {
    check("pages copied", nothing, |later, progress| {
        with_desk(later, progress, |desk| desk.backup(Some(&later.path("b.book")), None).map(drop))
    });
}

#[test]
fn bringing_a_backup_back_can_be_stopped() {
    let prepare = |later: &Later| {
        later.desk(&Progress::default()).backup(Some(&later.path("b.book")), None).unwrap();
    };
    check("pages copied", prepare, |later, progress| {
        let settings = Later::settings(progress);
        restore(&later.path("b.book"), &later.path("c.book"), None, &settings, noon()).map(drop)
    });
}

#[test]
fn writing_open_files_can_be_stopped() {
    check("rows written", nothing, |later, progress| {
        with_desk(later, progress, |desk| desk.export(&later.path("files")).map(drop))
    });
}

#[test]
fn making_a_book_of_open_files_can_be_stopped() {
    let prepare = |later: &Later| {
        later.desk(&Progress::default()).export(&later.path("files")).unwrap();
    };
    check("rows read", prepare, |later, progress| {
        import(&later.path("files"), Some(&later.path("c.book")), progress).map(drop)
    });
}

#[test]
fn an_audit_can_be_stopped() {
    for (what, rows_only) in [("rows compared", true), ("assessments computed again", false)] {
        check(what, nothing, |later, progress| {
            let request = AuditRequest { rows_only, ..AuditRequest::default() };
            let view = audit(&later.path("a.book"), &Later::settings(progress), &request)?;
            // What was stopped is no fault of the book.
            assert_eq!(view.report.fault_count(), 0, "{:?}", view.report.faults);
            Ok(())
        });
    }
}

#[test]
fn releasing_many_pieces_can_be_stopped() {
    check("pieces released", nothing, |later, progress| {
        with_desk(later, progress, |desk| {
            let lots = desk.shipments()?.into_iter().flat_map(|shipment| shipment.lots);
            let lot = lots.max_by_key(|lot| if lot.lot_doubts == 0 { lot.clear } else { 0 }).unwrap();
            desk.release(&[lot.number], None).map(drop)
        })
    });
}

fn make_old(later: &Later) {
    take_out_seals(&later.path("a.book"));
}

#[test]
fn the_sealing_of_an_old_book_can_be_stopped_and_is_begun_anew_at_the_next_open() {
    check("rows sealed", make_old, |later, progress| {
        let desk = Desk::open(&later.path("a.book"), Later::settings(progress))?;
        assert_eq!(later.book().0.to_lowercase(), desk.verify_journal()?.head);
        drop(desk);
        let view =
            audit(&later.path("a.book"), &Later::settings(&Progress::default()), &AuditRequest::default())?;
        assert_eq!(view.report.fault_count(), 0, "{:?}", view.report.faults);
        Ok(())
    });
}

#[test]
fn a_stop_counts_for_its_act_only() {
    let later = Later::new();
    let mut desk = later.desk(&Progress::default());
    desk.progress().watch(Some(Box::new(|_| Go::Stop)));
    assert_eq!(desk.backup(Some(&later.path("b.book")), None).unwrap_err().kind, ErrorKind::Stopped);
    desk.progress().watch(None);
    desk.backup(Some(&later.path("b.book")), None).unwrap();
}
