//! Books and files that speeds are measured on. Everything is invented.

use rusqlite::{Connection, Transaction, TransactionBehavior};
use scruple::desk::Desk;
use scruple::desk::views::{Draft, Field};
use scruple::evidence::Measurand;
use scruple::intake::LotId;
use scruple::metrology::seeded::SplitMix64;
use scruple::store::MIGRATIONS;
use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// A folder that is gone afterwards.
pub struct Scratch(TempDir);

/// Says on standard error how far it is.
pub fn note(text: &str) {
    eprintln!("{text}");
}

/// Takes in a line of silver coins and returns its lot.
pub fn lot_of_coins(desk: &mut Desk, pieces: u32) -> LotId {
    let list = format!("line,product,quantity\n1,us-5112-e,{pieces}\n");
    let shipment =
        desk.receive("Moonpond Bullion (invented)", "list.csv", &list, false).expect("a good list");
    shipment.lots[0].id
}

/// Types the readings of a good coin into a draft: 31 U.S.C. 5112(e), 40.6 mm and 31.103 g of fine silver.
pub fn fill(draft: &mut Draft, noise: &mut SplitMix64) {
    for row in &mut draft.fields {
        let off = noise.standard_normal();
        row.text = match row.field {
            Field::Reading(Measurand::Mass, _) => format!("{:.2} g", 31.12 + 0.01 * off),
            Field::Reading(Measurand::Diameter, _) => format!("{:.2} mm", 40.60 + 0.02 * off),
            Field::Reading(Measurand::Thickness, _) => format!("{:.2} mm", 2.98 + 0.01 * off),
            Field::Reading(Measurand::Conductivity, 1) => format!("{:.1} MS/m", 61.8 + 0.2 * off),
            Field::Reading(Measurand::Temperature, _) => "21.0 C".to_owned(),
            _ => String::new(),
        };
        row.accepted = true;
    }
}

/// Returns a packing list of so many serials, in ten lines.
pub fn packing_list(serials: usize) -> String {
    let mut text = String::from("line,product,quantity,serials\n");
    let each = serials / 10;
    for line in 0..10 {
        let _ = write!(text, "{},bar-gold-9999-1kg,{each},", line + 1);
        for at in 0..each {
            let _ = write!(text, "{}MP{line}{at:07}", if at == 0 { "" } else { " " });
        }
        text.push('\n');
    }
    text
}

/// Returns line and serial of every row of such a list.
fn rows(list: &str) -> impl Iterator<Item = (i64, &str)> {
    list.lines().skip(1).flat_map(|line| {
        let mut cells = line.split(',');
        let number = cells.next().and_then(|cell| cell.parse().ok()).unwrap_or(0);
        cells.nth(2).unwrap_or_default().split(' ').map(move |serial| (number, serial))
    })
}

/// The settings of a book.
fn settings(connection: &Connection) {
    let _: String =
        connection.pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get(0)).expect("a mode");
    connection.pragma_update(None, "synchronous", "FULL").expect("a setting");
    connection.pragma_update(None, "foreign_keys", "ON").expect("a setting");
    connection.pragma_update(None, "cache_size", -65536).expect("a setting");
}

/// The table of serials as the book has it, with its key and its indexes.
const SERIALS: &str = "CREATE TABLE expected_serial (
    lot BLOB NOT NULL, serial_key TEXT NOT NULL, serial TEXT NOT NULL, position INTEGER NOT NULL, piece BLOB,
    PRIMARY KEY (lot, serial_key)) STRICT, WITHOUT ROWID;
    CREATE INDEX expected_serial_of_piece ON expected_serial (piece) WHERE piece IS NOT NULL;
    CREATE INDEX expected_serial_start ON expected_serial (serial_key) WHERE piece IS NULL;
    CREATE INDEX expected_serial_end ON expected_serial (substr(serial_key, -4)) WHERE piece IS NULL;";

impl Scratch {
    pub fn new() -> Self {
        Scratch(tempfile::tempdir().expect("a folder"))
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    /// Commits for each piece as many rows and bytes as the book holds for one, in tables without triggers.
    pub fn bare_commits(&self, book: &Path, pieces: usize) -> Vec<Duration> {
        let own = Connection::open(book).expect("the book");
        let count = |sql: &str| own.query_row(sql, [], |row| row.get::<_, f64>(0)).expect("a count");
        let readings =
            count("SELECT 1.0 * count(*) / (SELECT count(*) FROM piece) FROM reading").round() as usize;
        let body = count("SELECT avg(length(body) + length(readings)) FROM assessment") as usize;
        let journal = count("SELECT avg(length(payload)) FROM journal") as usize;
        let seal = count("SELECT avg(length(entries)) FROM seal") as usize;
        let connection = Connection::open(self.path("bare.db")).expect("a file");
        settings(&connection);
        connection
            .execute_batch(
                "CREATE TABLE piece (id BLOB PRIMARY KEY, lot BLOB, place INTEGER, text TEXT) STRICT, WITHOUT ROWID;
                 CREATE TABLE reading (id BLOB PRIMARY KEY, piece BLOB, base INTEGER, text TEXT) STRICT, WITHOUT ROWID;
                 CREATE INDEX reading_piece ON reading (piece);
                 CREATE TABLE long (id BLOB PRIMARY KEY, piece BLOB, text TEXT) STRICT;
                 CREATE INDEX long_piece ON long (piece);",
            )
            .expect("tables");
        let texts = [body, journal, seal].map(|length| "x".repeat(length));
        let mut connection = connection;
        (0..pieces as u128)
            .map(|at| {
                let key = |kind: u128| ((at << 16) + kind).to_be_bytes();
                let began = Instant::now();
                let transaction = begin(&mut connection);
                let put = "INSERT INTO piece VALUES (?1, ?2, ?3, 'logged')";
                transaction
                    .prepare_cached(put)
                    .expect("good SQL")
                    .execute((key(0), key(0), at as i64))
                    .expect("room");
                for reading in 0..readings as u128 {
                    let put = "INSERT INTO reading VALUES (?1, ?2, ?3, '31.12 g')";
                    let row = (key(1 + reading), key(0), 31_120_000_000i64);
                    transaction.prepare_cached(put).expect("good SQL").execute(row).expect("room");
                }
                for (kind, text) in texts.iter().enumerate() {
                    let put = "INSERT INTO long VALUES (?1, ?2, ?3)";
                    let row = (key(100 + kind as u128), key(0), text);
                    transaction.prepare_cached(put).expect("good SQL").execute(row).expect("room");
                }
                transaction.commit().expect("room");
                began.elapsed()
            })
            .collect()
    }

    /// Inserts the rows of a packing list in one transaction, with no check and no seal.
    pub fn bare_inserts(&self, list: &str) -> Duration {
        let mut connection = Connection::open(self.path("serials.db")).expect("a file");
        settings(&connection);
        connection.execute_batch(SERIALS).expect("a table");
        let began = Instant::now();
        let transaction = begin(&mut connection);
        {
            let put =
                "INSERT INTO expected_serial (lot, serial_key, serial, position) VALUES (?1, ?2, ?3, ?4)";
            let mut put = transaction.prepare(put).expect("good SQL");
            for (at, (line, serial)) in rows(list).enumerate() {
                let lot = i128::from(line).to_be_bytes();
                put.execute((lot, serial.to_uppercase(), serial, at as i64)).expect("room");
            }
        }
        transaction.commit().expect("room");
        began.elapsed()
    }

    /// Imports the same rows with the command of SQLite; `None` where there is none.
    pub fn sqlite_import(&self, list: &str) -> Option<Duration> {
        let file = self.path("serials.csv");
        let mut text = String::new();
        for (at, (line, serial)) in rows(list).enumerate() {
            let _ = writeln!(text, "{line},{serial},{serial},{at},");
        }
        fs::write(&file, text).expect("room");
        let table = SERIALS.replace("BLOB", "TEXT").replace("STRICT, ", "");
        let script = format!(
            "PRAGMA journal_mode=WAL;\n{table}\n.mode csv\n.import {} expected_serial\n",
            file.display()
        );
        let began = Instant::now();
        let mut child = Command::new("sqlite3")
            .arg(self.path("imported.db"))
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .ok()?;
        std::io::Write::write_all(child.stdin.as_mut()?, script.as_bytes()).ok()?;
        child.wait().ok().filter(|status| status.success()).map(|_| began.elapsed())
    }
}

fn begin(connection: &mut Connection) -> Transaction<'_> {
    connection.transaction_with_behavior(TransactionBehavior::Immediate).expect("the only writer")
}

/// Pieces of a lot, and lots of a shipment, in the large book.
const IN_LOT: u64 = 1000;
const IN_SHIPMENT: u64 = 10;
/// Pieces on hold in the large book: what a desk can have in its safe.
const HELD: u64 = 500;
/// Version of the book before rows were sealed.
const UNSEALED: usize = 6;

/// Makes a book of the version before seals with so many pieces, all but 500 in stock, each with its mass where readings are asked
/// for; the program seals it when it opens it.
pub fn large(path: &Path, pieces: u64, readings: bool) {
    let mut connection = Connection::open(path).expect("a file");
    settings(&connection);
    connection.pragma_update(None, "application_id", application_id(path)).expect("a setting");
    connection
        .execute_batch(
            "CREATE TABLE migration (version INTEGER PRIMARY KEY, name TEXT NOT NULL, sha256 TEXT NOT NULL,
             applied_ms INTEGER NOT NULL) STRICT;",
        )
        .expect("a table");
    for (at, migration) in MIGRATIONS.iter().take(UNSEALED).enumerate() {
        connection.execute_batch(migration.text).expect("good SQL");
        let row = (at as i64 + 1, migration.name, migration.hash());
        connection.execute("INSERT INTO migration VALUES (?1, ?2, ?3, 0)", row).expect("room");
    }
    connection.pragma_update(None, "user_version", UNSEALED as i64).expect("a setting");
    // It is thrown away, so nothing of it needs to survive a power cut.
    let _: String =
        connection.pragma_update_and_check(None, "journal_mode", "OFF", |row| row.get(0)).expect("a mode");
    connection.pragma_update(None, "synchronous", "OFF").expect("a setting");
    connection.pragma_update(None, "cache_size", -1_000_000).expect("a setting");
    let key = |kind: u128, number: u64| (kind << 96 | u128::from(number)).to_be_bytes();
    let transaction = begin(&mut connection);
    {
        let prepared = |sql: &str| transaction.prepare(sql).expect("good SQL");
        let mut shipment =
            prepared("INSERT INTO shipment VALUES (?1, ?2, 'Moonpond Bullion (invented)', ?3, 'MIRA')");
        let mut lot = prepared(
            "INSERT INTO lot (id, shipment, line, product, expected) VALUES (?1, ?2, ?3, 'us-5112-e', 1000)",
        );
        let mut piece = prepared(
            "INSERT INTO piece (id, lot, place, serial, serial_key, state, standing, fine_ng, logged_ms, operator)
             VALUES (?1, ?2, ?3, ?4, ?4, ?5, ?6, 31071897000, ?7, 'MIRA')",
        );
        let mut reading = prepared(
            "INSERT INTO reading (id, piece, measurand, spot, base, step, unit, text, at_ms, operator)
             VALUES (?1, ?2, 'mass', 1, 31120000000, 10000000, 'g', '31.12 g', ?3, 'MIRA')",
        );
        let mut stock = prepared("INSERT INTO stock VALUES (?1, ?2, 'MIRA')");
        let mut hold = prepared(
            "INSERT INTO hold (id, lot, piece, kind, origin, text, offers, state, opened_ms, opened_by)
             VALUES (?1, ?2, ?3, 'hidden_core', 'person', 'looks odd', '[]', 'open', ?4, 'MIRA')",
        );
        // A piece every five minutes of a working year or two.
        let at_ms = |number: u64| 1_600_000_000_000 + number as i64 * 300_000;
        for number in 0..pieces {
            let (of_lot, place) = (number / IN_LOT, number % IN_LOT + 1);
            let of_shipment = of_lot / IN_SHIPMENT;
            if place == 1 {
                if of_lot % IN_SHIPMENT == 0 {
                    let row = (key(1, of_shipment), of_shipment as i64 + 1, at_ms(number));
                    shipment.execute(row).expect("room");
                }
                let row = (key(2, of_lot), key(1, of_shipment), (of_lot % IN_SHIPMENT) as i64 + 1);
                lot.execute(row).expect("room");
            }
            let held = number % (pieces / HELD) == 0;
            let (state, standing) = if held { ("held", "hold") } else { ("logged", "clear") };
            let serial = format!("MP{number:09}");
            piece
                .execute((
                    key(3, number),
                    key(2, of_lot),
                    place as i64,
                    serial,
                    state,
                    standing,
                    at_ms(number),
                ))
                .expect("room");
            if readings {
                reading.execute((key(4, number), key(3, number), at_ms(number))).expect("room");
            }
            if held {
                hold.execute((key(5, number), key(2, of_lot), key(3, number), at_ms(number))).expect("room");
            } else {
                stock.execute((key(3, number), at_ms(number))).expect("room");
            }
        }
    }
    transaction.commit().expect("room");
}

/// Returns the mark of a book: that of an empty one made by the program.
fn application_id(near: &Path) -> i64 {
    let empty = near.with_file_name("empty.book");
    drop(Desk::open(&empty, scruple::desk::Settings::built_in("MIRA")).expect("a book"));
    let connection = Connection::open(&empty).expect("the book");
    connection.pragma_query_value(None, "application_id", |row| row.get(0)).expect("a mark")
}
