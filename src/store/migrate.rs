//! Brings a book to the newest version, one embedded migration after the other.

use super::backup::copy_to;
use super::error::StoreError;
use super::progress::Progress;
use super::seal::Migrating;
use chrono::{DateTime, Utc};
use rusqlite::{Connection, TransactionBehavior};
use sha2::{Digest, Sha256};
use std::path::Path;

/// One step from a version of the book to the next; its version is its place in the list, from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Migration {
    /// Name of the file in `migrations/`.
    pub name: &'static str,
    /// Its text.
    pub text: &'static str,
}

impl Migration {
    /// Returns the SHA-256 of the text in hexadecimal digits.
    pub fn hash(&self) -> String {
        Sha256::digest(self.text.as_bytes()).iter().map(|byte| format!("{byte:02x}")).collect()
    }
}

macro_rules! embedded {
    ($($name:literal),+ $(,)?) => {
        &[$(Migration { name: $name, text: include_str!(concat!("../../migrations/", $name)) }),+]
    };
}

/// Every migration, oldest first. A released file never changes; a new one is added at the end.
pub const MIGRATIONS: &[Migration] = embedded![
    "0001_create_book.sql",
    "0002_review_and_release.sql",
    "0003_add_controls.sql",
    "0004_keep_device_lines.sql",
    "0005_learn_type_book.sql",
    "0006_describe_probes.sql",
    "0007_seal_rows.sql",
    "0008_slow_down_pins.sql",
    "0009_ask_for_roles.sql",
    "0010_find_serials.sql",
    "0011_keep_causes.sql",
];

/// Applies what is missing, after a backup when the book has a version already.
///
/// `now` is written beside each migration that is applied.
///
/// # Errors
/// `Newer` and `MigrationChanged` leave the book as it is; an error inside a migration takes all of them back.
pub(super) fn run(
    connection: &mut Connection,
    path: &Path,
    list: &[Migration],
    now: DateTime<Utc>,
    progress: &Progress,
) -> Result<(), StoreError> {
    let known = i64::try_from(list.len()).unwrap_or(i64::MAX);
    let found = version(connection)?;
    if found > known {
        return Err(StoreError::Newer { path: path.to_owned(), found, known });
    }
    check_applied(connection, list, found)?;
    let mut made = None;
    if found > 0 && found < known {
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let backup = path.with_file_name(format!("{name}.before-version-{known}"));
        // A backup left by a try that was cut short shows the same state.
        match copy_to(connection, &backup, progress) {
            Err(StoreError::Exists { .. }) if backup.exists() => {}
            copied => {
                copied?;
                made = Some(backup);
            }
        }
    }
    if found == known {
        return Ok(());
    }
    let brought = bring(connection, list, now, progress);
    if let (Err(StoreError::Stopped), Some(backup)) = (&brought, made) {
        // The book is as it was: its copy would only be in the way. That it may be gone already is no second error.
        let _ = std::fs::remove_file(backup);
    }
    brought
}

/// Applies every migration that is missing in one transaction.
fn bring(
    connection: &mut Connection,
    list: &[Migration],
    now: DateTime<Utc>,
    progress: &Progress,
) -> Result<(), StoreError> {
    // All steps are one transaction: another program sees the book before or after them, never between two.
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    for (index, migration) in list.iter().enumerate() {
        let number = i64::try_from(index).unwrap_or(i64::MAX) + 1;
        apply(&transaction, number, migration, now, progress)?;
    }
    Ok(transaction.commit()?)
}

/// Makes an empty book of a list of migrations in memory, to compare others with.
pub(super) fn made_in_memory(list: &[Migration]) -> Result<Connection, StoreError> {
    let connection = Connection::open_in_memory()?;
    for (index, migration) in list.iter().enumerate() {
        let number = i64::try_from(index).unwrap_or(i64::MAX) + 1;
        apply(&connection, number, migration, DateTime::UNIX_EPOCH, &Progress::default())?;
    }
    Ok(connection)
}

/// Returns the version of a book; 0 for an empty file.
pub(super) fn version(connection: &Connection) -> Result<i64, StoreError> {
    Ok(connection.pragma_query_value(None, "user_version", |row| row.get(0))?)
}

/// Applies one migration unless it is applied already; another program may have been faster.
fn apply(
    transaction: &Connection,
    number: i64,
    migration: &Migration,
    now: DateTime<Utc>,
    progress: &Progress,
) -> Result<(), StoreError> {
    if version(transaction)? >= number {
        return Ok(());
    }
    progress.step("the book is brought to the newest version", 0, None)?;
    let watched = Migrating::start(transaction)?;
    transaction.execute_batch(
        "CREATE TABLE IF NOT EXISTS migration (
            version INTEGER PRIMARY KEY, name TEXT NOT NULL, sha256 TEXT NOT NULL, applied_ms INTEGER NOT NULL
        ) STRICT;",
    )?;
    transaction.execute_batch(migration.text)?;
    transaction.execute(
        "INSERT INTO migration (version, name, sha256, applied_ms) VALUES (?1, ?2, ?3, ?4)",
        (number, migration.name, migration.hash(), now.timestamp_millis()),
    )?;
    watched.seal(transaction, now.timestamp_millis(), progress)?;
    transaction.pragma_update(None, "user_version", number)?;
    Ok(())
}

/// Compares the migrations that a book was built by with those of this program.
fn check_applied(connection: &Connection, list: &[Migration], found: i64) -> Result<(), StoreError> {
    if found == 0 {
        return Ok(());
    }
    let mut statement = connection.prepare("SELECT name, sha256 FROM migration ORDER BY version")?;
    let applied = statement
        .query_map([], |row| Ok((row.get::<_, String>(0)?, row.get::<_, String>(1)?)))?
        .collect::<Result<Vec<_>, _>>()?;
    for (migration, (name, hash)) in list.iter().zip(applied) {
        if migration.hash() != hash {
            return Err(StoreError::MigrationChanged { name });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const FIRST: Migration = Migration { name: "0001_a.sql", text: "CREATE TABLE a (x INTEGER) STRICT;" };
    const SECOND: Migration = Migration { name: "0002_b.sql", text: "ALTER TABLE a ADD COLUMN y INTEGER;" };

    fn run_list(path: &Path, list: &[Migration]) -> Result<Connection, StoreError> {
        let mut connection = Connection::open(path)?;
        run(&mut connection, path, list, DateTime::UNIX_EPOCH, &Progress::default())?;
        Ok(connection)
    }

    #[test]
    fn a_later_version_keeps_the_rows_and_leaves_a_backup() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.book");
        run_list(&path, &[FIRST]).unwrap().execute("INSERT INTO a VALUES (7)", []).unwrap();
        let connection = run_list(&path, &[FIRST, SECOND]).unwrap();
        assert_eq!(version(&connection).unwrap(), 2);
        assert_eq!(connection.query_row("SELECT x FROM a", [], |row| row.get::<_, i64>(0)).unwrap(), 7);
        let backup = Connection::open(folder.path().join("a.book.before-version-2")).unwrap();
        assert_eq!(version(&backup).unwrap(), 1);
        assert_eq!(backup.query_row("SELECT x FROM a", [], |row| row.get::<_, i64>(0)).unwrap(), 7);
    }

    #[test]
    fn a_migration_that_fails_is_taken_back_whole() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.book");
        let broken = Migration {
            name: "0002_c.sql",
            text: "CREATE TABLE c (x INTEGER) STRICT; SELECT nothing FROM nowhere;",
        };
        run_list(&path, &[FIRST]).unwrap();
        assert!(run_list(&path, &[FIRST, broken]).is_err());
        let connection = run_list(&path, &[FIRST]).unwrap();
        assert_eq!(version(&connection).unwrap(), 1);
        assert!(connection.prepare("SELECT x FROM c").is_err());
    }

    #[test]
    fn a_changed_text_of_an_applied_migration_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.book");
        run_list(&path, &[FIRST]).unwrap();
        let other = Migration { text: "CREATE TABLE a (x INTEGER, z INTEGER) STRICT;", ..FIRST };
        assert!(matches!(run_list(&path, &[other]), Err(StoreError::MigrationChanged { .. })));
    }
}
