//! A book in which every table has rows: the demo, and after it every act that a desk knows.

use super::review::{ounce_sounds_true, ultrasound};
use chrono::{DateTime, TimeDelta, Utc};
use rusqlite::Connection;
use scruple::desk::demo::{INSTRUMENTS, fill};
use scruple::desk::{ControlRequest, Desk, Field, Role, Settings};
use scruple::evidence::Measurand;
use scruple::store::MIGRATIONS;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, OnceLock};
use tempfile::TempDir;

/// A book that is closed, in a folder of its own.
pub struct FullDay {
    pub folder: TempDir,
}

impl FullDay {
    /// Returns the book, made once for all tests.
    pub fn new() -> Self {
        static BOOK: OnceLock<Vec<u8>> = OnceLock::new();
        let folder = tempfile::tempdir().unwrap();
        let book = folder.path().join("a.book");
        let bytes = BOOK.get_or_init(|| {
            work(&book);
            std::fs::read(&book).unwrap()
        });
        std::fs::write(&book, bytes).unwrap();
        FullDay { folder }
    }

    pub fn book(&self) -> PathBuf {
        self.folder.path().join("a.book")
    }

    /// Returns the book copied to another file; its log was written back when it was closed.
    pub fn copy(&self, name: &str) -> PathBuf {
        let copy = self.folder.path().join(name);
        std::fs::copy(self.book(), &copy).unwrap();
        copy
    }

    /// Returns the desk of the book with a clock that stands at the evening of the day.
    pub fn desk(&self) -> Desk {
        Desk::open(&self.book(), settings().with_clock(evening)).unwrap()
    }
}

fn morning() -> DateTime<Utc> {
    "2026-03-04T10:00:00Z".parse().unwrap()
}

fn evening() -> DateTime<Utc> {
    "2026-03-04T16:00:00Z".parse().unwrap()
}

/// Returns the settings of the invented desk.
pub fn settings() -> Settings {
    Settings::built_in("MIRA").with_instruments("assets/demo/instruments.toml", INSTRUMENTS).unwrap()
}

/// Does everything that leaves a row; the clock goes on by a second at every look.
fn work(book: &Path) {
    let looks = Arc::new(AtomicI64::new(0));
    let clock = move || morning() + TimeDelta::seconds(looks.fetch_add(1, Ordering::Relaxed));
    let mut desk = Desk::open(book, settings().with_clock(clock)).unwrap();
    fill(&mut desk).unwrap();

    let policy = include_str!("../../assets/desk/policy.toml");
    desk.set_policy("p.toml", &policy.replace("# private = \"14\"", "private = \"14\"")).unwrap();
    desk.use_instrument("bench meter", &[]).unwrap();
    desk.set_source_kind("S-0001", "private").unwrap();

    let list = "line,product,quantity\n1,us-5112-e,8\n2,us-5112-a11,3\n3,us-5112-e,200\n";
    let shipment = desk.receive("Moonpond Bullion (invented)", "l.csv", list, false).unwrap().number;
    let mut rows = "line,mass,diameter,thickness,conductivity,temperature,probe\n".to_owned();
    (0..6).for_each(|_| rows.push_str("1,31.10,40.60,2.98,61.9,21.3,flat\n"));
    (0..3).for_each(|_| rows.push_str("2,31.10,32.70,2.95,45.1,21.3,flat\n"));
    // In 200 coins more may be hidden than the limit for a lot: a doubt that two pieces share.
    (0..2).for_each(|_| rows.push_str("3,31.10,40.60,2.98,61.9,21.3,flat\n"));
    desk.log_readings(&shipment, "r.csv", &rows, false, false).unwrap();
    let piece = |line: u32, place: u32| format!("{shipment}/{line}-{place:02}");

    desk.release(&[piece(1, 1)], None).unwrap();
    desk.release(&[piece(1, 2)], None).unwrap();
    desk.undo().unwrap();
    desk.send_back(&[piece(1, 3)], "scratched", None).unwrap();
    desk.surrender(&[piece(1, 4)], "looks struck elsewhere", None).unwrap();
    let id = |desk: &Desk, number: &str| desk.find_piece(number).unwrap().id;
    let fifth = id(&desk, &piece(1, 5));
    desk.correct(fifth, Field::Reading(Measurand::Mass, 1), "31.11", "read again").unwrap();
    desk.hold_piece(fifth, "the rim looks soft").unwrap();
    let sixth = id(&desk, &piece(1, 6));
    desk.void_piece(sixth, "entered twice").unwrap();
    // The seventh is scored beside what the released one taught.
    desk.log_readings(
        &shipment,
        "r.csv",
        "line,mass,diameter,thickness,conductivity,temperature,probe\n1,31.12,40.61,2.99,62.0,21.3,flat\n",
        false,
        false,
    )
    .unwrap();

    desk.draw_sample(&format!("{shipment}/2"), Some(7)).unwrap();
    let rung = desk.record_second_test(&piece(2, 1), ounce_sounds_true()).unwrap();
    desk.withdraw_second_test(rung.test.id, "the wrong piece lay on the gauge").unwrap();
    desk.record_second_test(&piece(2, 1), ounce_sounds_true()).unwrap();
    let odd = desk.record_second_test(&piece(2, 2), ultrasound(4760.0, "2.95 mm")).unwrap();
    let hold = odd.piece.doubts.first().unwrap().id;
    desk.settle(hold, "measured again, it repeats", None, None).unwrap();
    desk.rescore(desk.find_lot(&format!("{shipment}/2")).unwrap().id).unwrap();

    let control = |value: &str| ControlRequest {
        reference: "100 g weight".to_owned(),
        value: value.to_owned(),
        instrument: Some("bench scale".to_owned()),
        probe: None,
        temperature: None,
        reason: None,
    };
    let mistaken = desk.record_control(&control("100.80")).unwrap();
    desk.withdraw_control(mistaken.control.id, "the pan was not empty", None).unwrap();
    let failed = desk.record_control(&control("100.90")).unwrap();
    assert!(!failed.control.passed);
    desk.add_operator("MIRA", Role::Owner, Some("48151")).unwrap();
}

/// Takes out of a book what the version with seals and all later ones brought; returns the version that is left.
pub fn take_out_seals(book: &Path) -> usize {
    let version = MIGRATIONS.iter().position(|migration| migration.name.contains("seal_rows")).unwrap();
    let client = Connection::open(book).unwrap();
    client
        .execute_batch(&format!(
            "DROP TABLE seal; DROP TRIGGER draft_is_never_deleted; ALTER TABLE draft DROP COLUMN digest;
             DROP TABLE pin_try; DROP TRIGGER journal_asks_for_a_reviewer; DROP TRIGGER journal_asks_for_an_owner;
             DROP TRIGGER operator_is_set_by_an_owner;
             DROP INDEX piece_serial_end; DROP INDEX expected_serial_start; DROP INDEX expected_serial_end;
             DROP INDEX shipment_source; DROP INDEX lot_product; ALTER TABLE hold DROP COLUMN cause;
             DELETE FROM migration WHERE version > {version}; PRAGMA user_version = {version};"
        ))
        .unwrap();
    version
}
