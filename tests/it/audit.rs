//! The audit against another client of the same file that gets around every guard and puts the guards back.
//!
//! `SCRUPLE_FAULTS=full cargo test --test it audit -- --nocapture` makes 500 faults and prints how many of each were found.

use super::bench::{Bench, SILVER, reading};
use super::cli::Call;
use super::full_day::{FullDay, settings, take_out_seals};
use rusqlite::types::Value;
use rusqlite::{Connection, params_from_iter};
use scruple::desk::audit::{AuditRequest, AuditView, audit};
use scruple::desk::{Desk, Settings};
use scruple::evidence::Measurand;
use scruple::metrology::seeded::SplitMix64;
use std::collections::BTreeMap;
use std::path::Path;
use uuid::Uuid;

fn audited(book: &Path, rows_only: bool) -> AuditView {
    let request = AuditRequest { against: None, rows_only };
    audit(book, &settings(), &request).unwrap()
}

#[track_caller]
fn check_clean(view: &AuditView) {
    assert_eq!(view.report.faults, []);
    assert_eq!(view.report.more, 0);
}

#[test]
fn a_piece_that_was_sent_back_with_its_doubts_open_is_no_fault() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 1, "");
    // Fine silver conducts some 62 MS/m at 20 °C (from memory).
    let piece = bench.log(lot, &[(reading(Measurand::Conductivity), "45.0")]).number;
    let (book, piece) = (bench.book(), std::slice::from_ref(&piece));
    bench.desk().send_back(piece, "conducts like no silver", None).unwrap();
    check_clean(&audited(&book, false));
    bench.desk().undo().unwrap();
    check_clean(&audited(&book, false));
}

/// Another client: no check, no reference and no trigger holds it, and afterwards every trigger is there again.
struct Client {
    connection: Connection,
}

/// A table as another client sees it.
#[derive(Debug, Clone)]
struct Seen {
    name: String,
    /// Name and declared type of each column.
    columns: Vec<(String, String)>,
    key: Vec<usize>,
}

impl Client {
    fn open(book: &Path) -> Self {
        let connection = Connection::open(book).unwrap();
        connection
            .execute_batch(
                "PRAGMA foreign_keys = OFF; PRAGMA ignore_check_constraints = ON; PRAGMA synchronous = OFF;",
            )
            .unwrap();
        Client { connection }
    }

    /// Runs a statement with every trigger taken out; `false` when it does not fit a unique key.
    fn run(&self, sql: &str, values: &[Value]) -> bool {
        let mut statement = self
            .connection
            .prepare("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger' ORDER BY rowid")
            .unwrap();
        let triggers: Vec<(String, String)> = statement
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        self.connection.execute_batch("BEGIN").unwrap();
        for (name, _) in &triggers {
            self.connection.execute_batch(&format!("DROP TRIGGER \"{name}\"")).unwrap();
        }
        let done = self.connection.execute(sql, params_from_iter(values));
        for (_, text) in &triggers {
            self.connection.execute_batch(text).unwrap();
        }
        self.connection.execute_batch(if done.is_ok() { "COMMIT" } else { "ROLLBACK" }).unwrap();
        matches!(done, Ok(1))
    }

    fn tables(&self) -> Vec<Seen> {
        let mut statement = self
            .connection
            .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%' ORDER BY name")
            .unwrap();
        let names: Vec<String> =
            statement.query_map([], |row| row.get(0)).unwrap().collect::<Result<_, _>>().unwrap();
        names
            .into_iter()
            .map(|name| {
                let mut info = self.connection.prepare(&format!("PRAGMA table_info(\"{name}\")")).unwrap();
                let rows: Vec<(String, String, i64)> = info
                    .query_map([], |row| Ok((row.get(1)?, row.get(2)?, row.get(5)?)))
                    .unwrap()
                    .collect::<Result<_, _>>()
                    .unwrap();
                let mut key: Vec<usize> = (0..rows.len()).filter(|at| rows[*at].2 > 0).collect();
                key.sort_by_key(|at| rows[*at].2);
                let columns = rows.into_iter().map(|(name, kind, _)| (name, kind)).collect();
                Seen { name, columns, key }
            })
            .collect()
    }

    fn rows(&self, table: &Seen) -> Vec<Vec<Value>> {
        let mut statement = self.connection.prepare(&format!("SELECT * FROM \"{}\"", table.name)).unwrap();
        let width = table.columns.len();
        statement
            .query_map([], |row| (0..width).map(|at| row.get(at)).collect())
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap()
    }

    /// Sets one column of one row.
    fn set(&self, table: &Seen, row: &[Value], column: usize, value: &Value) -> bool {
        let wanted: Vec<String> = table
            .key
            .iter()
            .enumerate()
            .map(|(at, key)| format!("\"{}\" IS ?{}", table.columns[*key].0, at + 2))
            .collect();
        let sql = format!(
            "UPDATE \"{}\" SET \"{}\" = ?1 WHERE {}",
            table.name,
            table.columns[column].0,
            wanted.join(" AND ")
        );
        let mut values = vec![value.clone()];
        values.extend(table.key.iter().map(|at| row[*at].clone()));
        self.run(&sql, &values)
    }
}

/// Draws what to do, the same in every run.
struct Dice(SplitMix64);

impl Dice {
    fn below(&mut self, limit: usize) -> usize {
        usize::try_from(self.0.below(u64::try_from(limit).unwrap())).unwrap()
    }

    fn one<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[self.below(of.len())]
    }

    /// Draws another value of the same kind.
    fn other(&mut self, value: &Value, kind: &str) -> Value {
        match value {
            Value::Integer(number) => Value::Integer(match self.below(3) {
                0 => number + 1,
                1 => number - 1,
                _ => -number - 1,
            }),
            Value::Real(number) => {
                Value::Real(if self.below(2) == 0 { number + 1e-9 } else { -number - 1.0 })
            }
            Value::Text(text) => Value::Text(match self.below(3) {
                0 => format!("{text} "),
                1 if !text.is_empty() => text.chars().skip(1).collect(),
                _ => format!("x{text}"),
            }),
            Value::Blob(blob) if !blob.is_empty() => {
                let mut blob = blob.clone();
                let at = self.below(blob.len());
                blob[at] ^= 1 << self.below(8);
                Value::Blob(blob)
            }
            Value::Blob(_) => Value::Blob(vec![0]),
            Value::Null => match kind {
                "TEXT" => Value::Text("x".to_owned()),
                "BLOB" => Value::Blob(vec![7; 16]),
                "REAL" => Value::Real(0.5),
                _ => Value::Integer(0),
            },
        }
    }
}

/// What was done to the book.
#[derive(Debug)]
struct Fault {
    kind: &'static str,
    /// The table that the audit must name.
    table: String,
    /// The key that it must name, as it is shown; empty where rows have no key of the desk.
    key: String,
    /// What was done, for whoever reads that it was missed.
    told: String,
}

const KINDS: [&str; 5] = ["altered", "removed", "inserted", "swapped", "schema"];

/// Does one thing to the book; `None` when what was drawn is not possible there.
fn damage(client: &Client, dice: &mut Dice, kind: &'static str, table: &Seen) -> Option<Fault> {
    if kind == "schema" {
        return damage_schema(client, dice);
    }
    let rows = client.rows(table);
    if rows.is_empty() {
        return None;
    }
    let row = dice.one(&rows).clone();
    let at = dice.below(table.columns.len());
    let (name, declared) = &table.columns[at];
    let fault = |key: &[Value], told: String| {
        Some(Fault { kind, table: table.name.clone(), key: shown(table, key), told })
    };
    match kind {
        "altered" => {
            let value = dice.other(&row[at], declared);
            (value != row[at] && client.set(table, &row, at, &value))
                .then(|| fault(&row, format!("{}.{name}: {:?} to {value:?}", table.name, row[at])))?
        }
        "removed" => {
            let wanted: Vec<String> = table
                .key
                .iter()
                .enumerate()
                .map(|(at, key)| format!("\"{}\" IS ?{}", table.columns[*key].0, at + 1))
                .collect();
            let key: Vec<Value> = table.key.iter().map(|at| row[*at].clone()).collect();
            client
                .run(&format!("DELETE FROM \"{}\" WHERE {}", table.name, wanted.join(" AND ")), &key)
                .then(|| fault(&row, format!("{}: {key:?}", table.name)))?
        }
        "inserted" => {
            let mut copy = row.clone();
            for key in &table.key {
                copy[*key] = match &row[*key] {
                    Value::Integer(_) => {
                        let numbers = rows.iter().filter_map(|row| match row[*key] {
                            Value::Integer(number) => Some(number),
                            _ => None,
                        });
                        Value::Integer(numbers.max()? + 1)
                    }
                    other => dice.other(other, &table.columns[*key].1),
                };
            }
            // Other unique columns must not stand in the way either.
            for (at, (name, _)) in table.columns.iter().enumerate() {
                if matches!(name.as_str(), "number" | "place" | "line") && !table.key.contains(&at) {
                    copy[at] = Value::Integer(90_000);
                }
                if name == "decision" && !table.key.contains(&at) {
                    copy[at] = dice.other(&row[at], "BLOB");
                }
            }
            let marks: Vec<String> = (1..=copy.len()).map(|at| format!("?{at}")).collect();
            client
                .run(&format!("INSERT INTO \"{}\" VALUES ({})", table.name, marks.join(", ")), &copy)
                .then(|| fault(&copy, format!("{}: {copy:?}", table.name)))?
        }
        _ => {
            let other = dice.one(&rows).clone();
            if table.key.contains(&at) || row[at] == other[at] {
                return None;
            }
            (client.set(table, &row, at, &other[at]) && client.set(table, &other, at, &row[at]))
                .then(|| fault(&row, format!("{}.{name}: {:?} and {:?}", table.name, row[at], other[at])))?
        }
    }
}

/// Returns a key as the audit shows it; journal, seals and the half-filled piece have names of their own.
fn shown(table: &Seen, row: &[Value]) -> String {
    if ["journal", "seal", "draft"].contains(&table.name.as_str()) {
        return String::new();
    }
    let shown: Vec<String> = table
        .key
        .iter()
        .map(|at| {
            let value = match &row[*at] {
                Value::Null => "nothing".to_owned(),
                Value::Integer(number) => number.to_string(),
                Value::Real(number) => number.to_string(),
                Value::Text(text) => format!("`{text}`"),
                Value::Blob(blob) => Uuid::from_slice(blob).unwrap().to_string(),
            };
            format!("{} {value}", table.columns[*at].0)
        })
        .collect();
    shown.join(", ")
}

fn damage_schema(client: &Client, dice: &mut Dice) -> Option<Fault> {
    let one = |client: &Client, dice: &mut Dice, kind: &str| {
        let sql = format!(
            "SELECT name FROM sqlite_schema WHERE type = '{kind}' AND sql IS NOT NULL AND name NOT LIKE 'sqlite%' ORDER BY name"
        );
        let mut statement = client.connection.prepare(&sql).unwrap();
        let names: Vec<String> =
            statement.query_map([], |row| row.get(0)).unwrap().collect::<Result<_, _>>().unwrap();
        dice.one(&names).clone()
    };
    let (table, sql) = match dice.below(9) {
        0 => ("schema", format!("DROP TRIGGER \"{}\"", one(client, dice, "trigger"))),
        1 => ("schema", format!("DROP INDEX \"{}\"", one(client, dice, "index"))),
        2 => ("schema", "CREATE TABLE aside (x)".to_owned()),
        3 => ("schema", "CREATE INDEX aside ON piece (state)".to_owned()),
        4 => ("schema", "CREATE TRIGGER aside AFTER INSERT ON piece BEGIN SELECT 1; END".to_owned()),
        5 => ("schema", "CREATE VIEW aside AS SELECT 1".to_owned()),
        6 => ("schema", format!("ALTER TABLE \"{}\" ADD COLUMN aside", {
            let names = client.tables();
            dice.one(&names).name.clone()
        })),
        7 => ("file", format!("PRAGMA user_version = {}", dice.below(6))),
        _ => (
            "schema",
            format!(
                "PRAGMA writable_schema = ON; UPDATE sqlite_schema SET sql = replace(sql, ' BEGIN', ' BEGIN SELECT 1;')
                 WHERE name = '{}'; PRAGMA writable_schema = OFF",
                one(client, dice, "trigger")
            ),
        ),
    };
    client.connection.execute_batch(&sql).ok()?;
    Some(Fault { kind: "schema", table: table.to_owned(), key: String::new(), told: sql })
}

#[test]
fn a_book_with_rows_in_every_table_is_clean_and_every_assessment_comes_out_the_same() {
    let day = FullDay::new();
    let view = audited(&day.book(), false);
    check_clean(&view);
    let empty: Vec<&str> =
        view.report.tables.iter().filter(|(_, rows)| *rows == 0).map(|(name, _)| name.as_str()).collect();
    assert_eq!(empty, [""; 0], "the book must have rows in every table, or it tests less than it says");
    let again = view.recomputed.unwrap();
    let assessments = view.report.tables.iter().find(|(name, _)| name == "assessment").unwrap().1;
    assert_eq!((again.same, again.older_engine, again.not_possible), (assessments, 0, Vec::new()));
    assert_eq!(view.report.head, day.desk().verify_journal().unwrap().head);
}

#[test]
fn every_fault_by_another_client_is_found_and_named() {
    let full = std::env::var("SCRUPLE_FAULTS").is_ok_and(|value| value == "full");
    let wanted = if full { 500 } else { 60 };
    let day = FullDay::new();
    let mut dice = Dice(SplitMix64::new(20260304));
    let mut made: BTreeMap<(&str, String), (u32, u32)> = BTreeMap::new();
    let mut missed = Vec::new();
    let tables = Client::open(&day.copy("look.book")).tables();
    let (mut count, mut turn) = (0, 0);
    while count < wanted {
        // Every kind and every table has its turn.
        let kind = KINDS[turn % KINDS.len()];
        let table = &tables[turn % tables.len()];
        turn += 1;
        assert!(turn < wanted * 20, "faults cannot be made: {count} of {turn}");
        let copy = day.copy("altered.book");
        let client = Client::open(&copy);
        let Some(fault) = damage(&client, &mut dice, kind, table) else { continue };
        drop(client);
        count += 1;
        let view = audited(&copy, true);
        let named = view
            .report
            .faults
            .iter()
            .any(|found| found.table == fault.table && found.row.contains(&fault.key));
        let of = made.entry((fault.kind, fault.table.clone())).or_default();
        of.0 += 1;
        if named {
            of.1 += 1;
        } else {
            missed.push((fault.kind, fault.table, fault.key, fault.told, view.report.faults));
        }
        std::fs::remove_file(&copy).unwrap();
    }
    if full {
        for ((kind, table), (made, found)) in &made {
            println!("{kind:9} {table:24} made {made:3} found {found:3}");
        }
        let by_kind =
            |kind: &str| made.iter().filter(|(of, _)| of.0 == kind).map(|(_, count)| count.0).sum::<u32>();
        for kind in KINDS {
            println!("{kind}: {}", by_kind(kind));
        }
        println!("{count} faults made, {} missed", missed.len());
    }
    assert!(missed.is_empty(), "{} of {count} missed: {missed:#?}", missed.len());
}

#[test]
fn a_fault_that_was_put_right_again_is_no_fault() {
    let day = FullDay::new();
    let copy = day.copy("altered.book");
    let mut dice = Dice(SplitMix64::new(7));
    let client = Client::open(&copy);
    for table in client.tables() {
        for _ in 0..3 {
            let rows = client.rows(&table);
            let row = dice.one(&rows).clone();
            // A column of the key would not be found again under the same key.
            let at = dice.below(table.columns.len());
            let value = dice.other(&row[at], &table.columns[at].1);
            if table.key.contains(&at) || !client.set(&table, &row, at, &value) {
                continue;
            }
            assert!(client.set(&table, &row, at, &row[at]));
        }
    }
    drop(client);
    check_clean(&audited(&copy, false));
}

#[test]
fn rows_of_a_whole_act_that_were_taken_out_with_its_seal_are_missed_by_nobody() {
    let day = FullDay::new();
    let copy = day.copy("altered.book");
    let client = Client::open(&copy);
    assert!(client.run("DELETE FROM seal WHERE number = (SELECT max(number) FROM seal)", &[]));
    assert!(client.run("DELETE FROM journal WHERE sequence = (SELECT max(sequence) FROM journal)", &[]));
    drop(client);
    let view = audited(&copy, true);
    let fault = view.report.faults.iter().find(|fault| fault.table == "operator").unwrap();
    assert!(fault.wrong.starts_with("it was put in"), "{fault:?}");
}

#[test]
fn a_fault_that_the_program_wrote_over_is_still_found() {
    let day = FullDay::new();
    let client = Client::open(&day.book());
    // A piece gets another serial, the last probe is forgotten, and a price of another client stands in the list.
    for sql in [
        "UPDATE piece SET serial = 'TK-1' WHERE id = (SELECT piece.id FROM piece JOIN lot ON lot.id = piece.lot
             JOIN shipment ON shipment.id = lot.shipment WHERE number = 4 AND line = 2 AND place = 3)",
        "DELETE FROM preference WHERE name = 'last_probe'",
        "INSERT INTO doubt_total VALUES ('hand', 0, 0) ON CONFLICT DO UPDATE SET lots = lots + 1",
    ] {
        assert!(client.run(sql, &[]), "{sql}");
    }
    drop(client);
    let mut desk = day.desk();
    desk.sign_in("48151").unwrap();
    let piece = desk.find_piece("S-0004/2-03").unwrap();
    desk.hold_piece(piece.id, "the rim looks soft").unwrap();
    let rows =
        "line,mass,diameter,thickness,conductivity,temperature,probe\n3,31.10,40.60,2.98,61.9,21.3,flat\n";
    desk.log_readings("S-0004", "r.csv", rows, false, false).unwrap();
    drop(desk);
    let view = audited(&day.book(), true);
    let found = |table: &str, wrong: &str| {
        view.report.faults.iter().any(|fault| fault.table == table && fault.wrong.starts_with(wrong))
    };
    assert!(found("piece", "it was altered, and this program wrote it again"), "{:#?}", view.report.faults);
    assert!(
        found("preference", "it was removed, and this program wrote it again"),
        "{:#?}",
        view.report.faults
    );
    assert!(found("doubt_total", "it was "), "{:#?}", view.report.faults);
}

#[test]
fn an_older_book_is_sealed_when_it_is_brought_to_this_version() {
    let day = FullDay::new();
    // The book as the version before left it.
    let older = day.copy("older.book");
    let seals = take_out_seals(&older);
    let refused = audit(&older, &settings(), &AuditRequest::default()).unwrap_err();
    assert!(refused.message.contains(&format!("is of version {seals}")), "{}", refused.message);
    let desk = Desk::open(&older, Settings::built_in("MIRA")).unwrap();
    assert!(desk.draft().unwrap().is_some());
    drop(desk);
    let view = audited(&older, false);
    check_clean(&view);
    assert!(view.report.seals >= 1);
    let client = Client::open(&older);
    let tables = client.tables();
    let reading = tables.iter().find(|table| table.name == "reading").unwrap();
    let row = client.rows(reading).remove(3);
    let text = reading.columns.iter().position(|(name, _)| name == "text").unwrap();
    assert!(client.set(reading, &row, text, &Value::Text("31.2".to_owned())));
    drop(client);
    let view = audited(&older, true);
    assert_eq!(view.report.faults.len(), 1, "{:?}", view.report.faults);
    assert_eq!(view.report.faults[0].wrong, "it was altered");
}

#[test]
fn the_subcommand_names_table_and_row_and_ends_with_the_code_of_damage() {
    let day = FullDay::new();
    let book = day.book();
    let book = book.to_str().unwrap();
    let clean = Call::new(&day.folder, &["--book", book, "audit"]).done();
    assert!(clean.contains("computed again, the same to the last digit"), "{clean}");
    let head = clean.trim_end().rsplit(' ').next().unwrap().to_owned();
    assert!(clean.ends_with(&format!("no fault, head {head}\n")), "{clean}");
    let json = Call::new(&day.folder, &["--book", book, "audit", "--against", &head, "--json"]).json(0);
    assert_eq!((json["clean"].as_bool(), json["head"].as_str()), (Some(true), Some(head.as_str())));
    assert_eq!(json["passed"]["journal"], json["journal_rows"]);
    let day_sheet =
        Call::new(&day.folder, &["--book", book, "day", "--date", "2026-03-04", "--json"]).json(0);
    assert_eq!(day_sheet["journal_head"], json["head"]);

    let foreign = "ab".repeat(32);
    let output =
        Call::new(&day.folder, &["--book", book, "audit", "--rows-only", "--against", &foreign]).run();
    assert_eq!(output.status.code(), Some(6));
    assert!(String::from_utf8(output.stdout).unwrap().contains("the chain never passed through it"));
    let output = Call::new(&day.folder, &["--book", book, "audit", "--against", "12"]).run();
    assert_eq!(output.status.code(), Some(2));

    let client = Client::open(&day.book());
    assert!(client.run(
        "UPDATE reading SET base = base + 10000000, text = '31.11' WHERE id = (
             SELECT reading.id FROM reading JOIN piece ON piece.id = reading.piece JOIN lot ON lot.id = piece.lot
             JOIN shipment ON shipment.id = lot.shipment
             WHERE shipment.number = 4 AND lot.line = 1 AND piece.place = 1 AND measurand = 'mass')",
        &[]
    ));
    drop(client);
    let output = Call::new(&day.folder, &["--book", book, "audit"]).run();
    assert_eq!(output.status.code(), Some(6));
    let text = String::from_utf8(output.stdout).unwrap();
    let first = text.lines().next().unwrap();
    assert!(first.starts_with("reading: mass, spot 1, `31.11`, of piece S-0004/1-01 (id "), "{first}");
    assert!(first.contains("it was altered; written last by row "), "{first}");
    assert!(text.contains("assessment of piece S-0004/1-01"), "{text}");
    assert!(text.contains("its readings give another assessment"), "{text}");
}
