//! The file and its schema: pages, marks, tables, indices and triggers against those that the migrations make.

use super::super::connection::APPLICATION_ID;
use super::super::error::StoreError;
use super::super::migrate::{MIGRATIONS, made_in_memory};
use super::super::progress::Progress;
use super::AuditFault;
use rusqlite::Connection;
use std::collections::BTreeMap;

/// Complaints of the database about its pages that are told one by one.
const MOST_COMPLAINTS: u32 = 100;

/// Returns an empty book made by the migrations, in memory.
pub(super) fn expected() -> Result<Connection, StoreError> {
    made_in_memory(MIGRATIONS)
}

/// Checks pages, constraints and marks of the file.
pub(super) fn file(connection: &Connection, progress: &Progress) -> Result<Vec<AuditFault>, StoreError> {
    let mut faults = Vec::new();
    for (pragma, expected, what) in [
        ("application_id", APPLICATION_ID, "the mark of a book"),
        ("user_version", i64::try_from(MIGRATIONS.len()).unwrap_or(i64::MAX), "the version of the book"),
    ] {
        let found: i64 = connection.pragma_query_value(None, pragma, |row| row.get(0))?;
        if found != expected {
            faults.push(AuditFault::of("file", what, format!("it is {found}, written was {expected}")));
        }
    }
    progress.step("pages of the file are checked", 0, None)?;
    let check = format!("PRAGMA main.integrity_check({MOST_COMPLAINTS})");
    for complaint in lines(connection, &check, |row| row.get(0)) {
        match complaint {
            Ok(complaint) if complaint == "ok" => {}
            Ok(complaint) => faults.push(AuditFault::of("file", "page check", complaint)),
            Err(error) => faults.push(AuditFault::of("file", "page check", error.to_string())),
        }
    }
    let named = |row: &rusqlite::Row<'_>| {
        let (table, number, other): (String, Option<i64>, String) = (row.get(0)?, row.get(1)?, row.get(2)?);
        let row = number.map_or_else(|| "a row".to_owned(), |number| format!("row number {number}"));
        Ok(format!("{table}\u{0}{row}\u{0}{other}"))
    };
    for complaint in lines(connection, "PRAGMA main.foreign_key_check", named) {
        match complaint {
            Ok(complaint) => {
                let parts: Vec<&str> = complaint.split('\u{0}').collect();
                let part = |at: usize| parts.get(at).copied().unwrap_or_default();
                let wrong = format!("it names a row of `{}` that is not there", part(2));
                faults.push(AuditFault::of(part(0), part(1), wrong));
            }
            Err(error) => faults.push(AuditFault::of("file", "check of references", error.to_string())),
        }
    }
    Ok(faults)
}

/// Returns the lines of an answer; an error ends them.
fn lines(
    connection: &Connection,
    sql: &str,
    read: impl Fn(&rusqlite::Row<'_>) -> rusqlite::Result<String>,
) -> Vec<rusqlite::Result<String>> {
    let mut answers = Vec::new();
    match connection.prepare(sql) {
        Err(error) => answers.push(Err(error)),
        Ok(mut statement) => match statement.query_map([], |row| read(row)) {
            Err(error) => answers.push(Err(error)),
            Ok(rows) => {
                for row in rows.take(MOST_COMPLAINTS as usize) {
                    let is_last = row.is_err();
                    answers.push(row);
                    if is_last {
                        break;
                    }
                }
            }
        },
    }
    answers
}

/// Compares every table, index, trigger and view with those that the migrations make, by their texts.
pub(super) fn compare(connection: &Connection, expected: &Connection) -> Result<Vec<AuditFault>, StoreError> {
    let (found, mut wanted) = (objects(connection)?, objects(expected)?);
    let mut faults = Vec::new();
    for ((kind, name), text) in found {
        let wrong = match wanted.remove(&(kind.clone(), name.clone())) {
            None => "it is not of this program",
            Some(written) if written != text => "its text is not the one that this program wrote",
            Some(_) => continue,
        };
        faults.push(AuditFault::of("schema", format!("{kind} `{name}`"), wrong));
    }
    faults.extend(
        wanted
            .into_keys()
            .map(|(kind, name)| AuditFault::of("schema", format!("{kind} `{name}`"), "it is missing")),
    );
    Ok(faults)
}

/// Table and text of everything in a schema, by kind and name.
type Objects = BTreeMap<(String, String), (String, Option<String>)>;

/// Returns the text and the table of everything in the schema, by kind and name; the database's own statistics are left out.
fn objects(connection: &Connection) -> Result<Objects, StoreError> {
    let mut statement = connection
        .prepare("SELECT type, name, tbl_name, sql FROM main.sqlite_schema WHERE name NOT LIKE 'sqlite\\_stat%' ESCAPE '\\'")?;
    let rows = statement.query_map([], |row| Ok(((row.get(0)?, row.get(1)?), (row.get(2)?, row.get(3)?))))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Compares the migrations that the book names with those of this program.
pub(super) fn migrations(connection: &Connection) -> Vec<AuditFault> {
    let mut applied = match applied(connection) {
        Ok(applied) => applied,
        Err(error) => {
            return vec![AuditFault::of("migration", "every row", format!("it cannot be read: {error}"))];
        }
    };
    let mut faults = Vec::new();
    for (at, migration) in MIGRATIONS.iter().enumerate() {
        let version = i64::try_from(at).unwrap_or(i64::MAX) + 1;
        let wrong = match applied.remove(&version) {
            None => "it is missing",
            Some((name, hash)) if name != migration.name || hash != migration.hash() => {
                "it is not the one that this program carries"
            }
            Some(_) => continue,
        };
        faults.push(AuditFault::of("migration", format!("version {version}"), wrong));
    }
    faults.extend(applied.into_keys().map(|version| {
        AuditFault::of("migration", format!("version {version}"), "this program knows none such")
    }));
    faults
}

/// Returns name and hash of each migration that the book names, by version.
fn applied(connection: &Connection) -> rusqlite::Result<BTreeMap<i64, (String, String)>> {
    let mut statement =
        connection.prepare("SELECT version, name, sha256 FROM main.migration ORDER BY version")?;
    let rows = statement.query_map([], |row| Ok((row.get(0)?, (row.get(1)?, row.get(2)?))))?;
    rows.collect()
}
