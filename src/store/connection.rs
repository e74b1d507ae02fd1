//! Opening the book, its settings, and the one way in which it is written.

use super::backup::{create_private, sync_folder};
use super::error::StoreError;
use super::journal::Deed;
use super::migrate::{self, MIGRATIONS};
use super::progress::Progress;
use super::seal::seal_touched;
use super::watch::Watch;
use crate::intake::AssessmentId;
use chrono::{DateTime, Utc};
use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags, TransactionBehavior};
use std::cell::Cell;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Marks a file as a book: the letters `scrp`.
pub(super) const APPLICATION_ID: i64 = 0x7363_7270;
/// How long a write waits for another program.
const PATIENCE: Duration = Duration::from_millis(5000);
/// Where the format keeps its marks (sqlite.org, file format, section 1.3: user version at 60, application id at 68).
const USER_VERSION_AT: usize = 60;
const APPLICATION_ID_AT: usize = 68;
/// First bytes of every database (section 1.3), where the forms of writing and reading stand, and the newest of them.
const MAGIC: &[u8] = b"SQLite format 3\0";
const FORMS_AT: std::ops::RangeInclusive<usize> = 18..=19;
const NEWEST_FORM: u8 = 2;

/// An open book: one connection that reads and writes.
#[derive(Debug)]
pub struct Store {
    pub(super) connection: Connection,
    pub(super) path: PathBuf,
    pub(super) watch: Watch,
    /// The undone act that the next act does again: what it is, and the number of the act that took it back.
    pub(super) redoes: Cell<Option<(Deed, i64)>>,
    pub(super) progress: Progress,
}

/// Who writes, and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Act {
    /// The operator.
    pub operator: String,
    /// The time that is written into the book.
    pub at: DateTime<Utc>,
}

/// Reads the book, inside or outside a transaction.
#[derive(Debug, Clone, Copy)]
pub struct Reader<'c> {
    pub(super) connection: &'c Connection,
    /// What of the controls counts; everything, when nothing is set.
    pub(super) known: Known,
}

/// Which controls count: those that were in the book at some moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Known {
    /// What was written after this identity was drawn does not count.
    pub(super) before: Option<[u8; 16]>,
    /// What was withdrawn later than this still counts.
    pub(super) withdrawn_up_to_ms: Option<i64>,
}

impl Reader<'_> {
    /// Returns a reader to which only those controls count that were in the book when an assessment was made. Withdrawals of
    /// the very millisecond count unless `strictly`: what came first in it the book does not say.
    pub fn as_known_to(self, assessment: AssessmentId, at: DateTime<Utc>, strictly: bool) -> Self {
        let up_to = at.timestamp_millis().saturating_sub(i64::from(strictly));
        let known = Known { before: Some(*assessment.bytes()), withdrawn_up_to_ms: Some(up_to) };
        Reader { known, ..self }
    }
}

/// Writes the book inside one transaction.
#[derive(Debug)]
pub struct Writer<'c> {
    pub(super) connection: &'c Connection,
    pub(super) act: &'c Act,
    pub(super) journaled: Cell<bool>,
    /// See [`Store::link`].
    pub(super) redoes: Cell<Option<(Deed, i64)>>,
    pub(super) progress: &'c Progress,
}

impl Writer<'_> {
    /// Reads what this transaction sees.
    pub fn read(&self) -> Reader<'_> {
        Reader { connection: self.connection, known: Known::default() }
    }

    /// Returns who writes, and when.
    pub fn act(&self) -> &Act {
        self.act
    }

    /// Tells how far the act is: so many of a list are done.
    ///
    /// # Errors
    /// `Stopped` when whoever watches says so; the act is then taken back.
    pub fn step_of(&self, what: &'static str, done: usize, of: usize) -> Result<(), StoreError> {
        self.progress.step_of(what, done, of)
    }

    pub(super) fn at_ms(&self) -> i64 {
        self.act.at.timestamp_millis()
    }
}

impl Store {
    /// Opens a book, creates it when there is none, and brings it to the newest version.
    ///
    /// `now` is written beside migrations.
    ///
    /// # Errors
    /// A file that is not a book and a book of a newer version are refused and stay as they are, byte for byte.
    pub fn open(path: &Path, now: DateTime<Utc>) -> Result<Store, StoreError> {
        Self::open_waiting(path, now, PATIENCE)
    }

    /// Opens a book with another patience towards programs that hold it.
    ///
    /// # Errors
    /// As [`Store::open`].
    pub fn open_waiting(path: &Path, now: DateTime<Utc>, patience: Duration) -> Result<Store, StoreError> {
        Self::open_watched(path, now, Some(patience), Progress::default())
    }

    /// Opens a book and tells how far it is: a book of an older version is brought to this one, and sealed row by row when it
    /// has no seals yet. The same progress is told of every later act.
    ///
    /// # Errors
    /// As [`Store::open`]; `Stopped` leaves the book as it was, of its older version.
    pub fn open_watched(
        path: &Path,
        now: DateTime<Utc>,
        patience: Option<Duration>,
        progress: Progress,
    ) -> Result<Store, StoreError> {
        let is_new = match Header::read(path)? {
            Header::Absent => {
                create(path)?;
                true
            }
            Header::Empty => true,
            Header::Marked { application, version } => {
                let known = i64::try_from(MIGRATIONS.len()).unwrap_or(i64::MAX);
                if application == APPLICATION_ID && version > known {
                    return Err(StoreError::Newer { path: path.to_owned(), found: version, known });
                }
                if application != 0 && application != APPLICATION_ID {
                    return Err(StoreError::NotABook { path: path.to_owned() });
                }
                // A book whose creation was cut short may have its marks in the log only.
                application == 0
            }
            Header::Foreign => return Err(StoreError::NotABook { path: path.to_owned() }),
        };
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let mut connection = Connection::open_with_flags(plain(path), flags)?;
        connection.busy_timeout(patience.unwrap_or(PATIENCE))?;
        progress.attach(&mut connection)?;
        if is_new {
            mark(&connection, path)?;
        }
        apply_settings(&connection)?;
        let newer = migrate::version(&connection)? > i64::try_from(MIGRATIONS.len()).unwrap_or(i64::MAX);
        if newer {
            // The log holds a newer version than the file: leave both as they are.
            connection.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)?;
        }
        migrate::run(&mut connection, path, MIGRATIONS, now, &progress)?;
        let watch = Watch::default();
        Ok(Store { connection, path: path.to_owned(), watch, redoes: Cell::new(None), progress })
    }

    /// Returns what tells how far an act is.
    pub fn progress(&self) -> &Progress {
        &self.progress
    }

    /// Returns the file of the book.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Reads the book.
    pub fn read(&self) -> Reader<'_> {
        Reader { connection: &self.connection, known: Known::default() }
    }

    /// Says that the acts that follow do an undone act again, until it is taken back with `None`: their journal row of that kind
    /// names the act that took it back.
    pub fn link(&self, redoes: Option<(Deed, i64)>) {
        self.redoes.set(redoes);
    }

    /// Does one act as one transaction; an error takes everything back.
    ///
    /// # Errors
    /// What the work says, what the database says, and `NotJournaled` when rows changed and no journal row was added.
    pub fn write<T, E: From<StoreError>>(
        &mut self,
        act: &Act,
        work: impl FnOnce(&Writer<'_>) -> Result<T, E>,
    ) -> Result<T, E> {
        self.transact(act, work, true)
    }

    /// Does one act and takes it back: what comes out is what would have been.
    ///
    /// # Errors
    /// As [`Store::write`].
    pub fn rehearse<T, E: From<StoreError>>(
        &mut self,
        act: &Act,
        work: impl FnOnce(&Writer<'_>) -> Result<T, E>,
    ) -> Result<T, E> {
        self.transact(act, work, false)
    }

    fn transact<T, E: From<StoreError>>(
        &mut self,
        act: &Act,
        work: impl FnOnce(&Writer<'_>) -> Result<T, E>,
        keep: bool,
    ) -> Result<T, E> {
        let store = |error: rusqlite::Error| E::from(StoreError::from(error));
        self.watch.start(&self.connection)?;
        let before = self.connection.total_changes();
        let transaction =
            self.connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(store)?;
        let writer = Writer {
            connection: &transaction,
            act,
            journaled: Cell::new(false),
            redoes: Cell::new(self.redoes.get()),
            progress: &self.progress,
        };
        let done = work(&writer)?;
        let changed = transaction.total_changes() != before;
        if changed && !writer.journaled.get() {
            return Err(StoreError::NotJournaled.into());
        }
        if keep {
            if changed {
                let touched = self.watch.take();
                let at_ms = act.at.timestamp_millis();
                seal_touched(&transaction, self.watch.tables(), &touched, at_ms, &self.progress)?;
            }
            transaction.commit().map_err(store)?;
        } else {
            transaction.rollback().map_err(store)?;
        }
        Ok(done)
    }

    /// Returns the version of the bundled SQLite.
    pub fn sqlite_version() -> &'static str {
        rusqlite::version()
    }
}

impl Drop for Store {
    fn drop(&mut self) {
        if self.connection.is_readonly("main").unwrap_or(true) {
            return;
        }
        // A statistic that could not be refreshed is refreshed the next time; closing never fails for it.
        let _ = self.connection.execute_batch("PRAGMA analysis_limit = 400; PRAGMA optimize;");
    }
}

/// Creates the file of a new book; that another program was faster is no mistake.
fn create(path: &Path) -> Result<(), StoreError> {
    match create_private(path) {
        Err(StoreError::Exists { .. }) => Ok(()),
        made => made.and_then(|()| sync_folder(path)),
    }
}

/// Returns the path in a form that SQLite cannot take for a URI, whatever the file is called.
fn plain(path: &Path) -> PathBuf {
    if path.is_absolute() { path.to_owned() } else { Path::new(".").join(path) }
}

/// What the first bytes of a file say.
pub(super) enum Header {
    Absent,
    Empty,
    Marked { application: i64, version: i64 },
    Foreign,
}

impl Header {
    /// Reads the first bytes without opening the file as a database.
    pub(super) fn read(path: &Path) -> Result<Header, StoreError> {
        let mut file = match File::open(path) {
            Ok(file) => file,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Header::Absent),
            Err(error) => return Err(error.into()),
        };
        if file.metadata()?.is_dir() {
            return Ok(Header::Foreign);
        }
        let mut bytes = [0u8; 100];
        let mut filled = 0;
        while filled < bytes.len() {
            match file.read(&mut bytes[filled..])? {
                0 => break,
                more => filled += more,
            }
        }
        Ok(match filled {
            0 => Header::Empty,
            // Section 1.3.3: a higher form may be read but not written; this program wrote none.
            100 if bytes.starts_with(MAGIC) && bytes[FORMS_AT].iter().any(|form| *form > NEWEST_FORM) => {
                let detail = "its header names a form that this program never wrote".to_owned();
                return Err(StoreError::Damaged { detail });
            }
            100 if bytes.starts_with(MAGIC) => {
                let number = |at: usize| {
                    i64::from(i32::from_be_bytes([bytes[at], bytes[at + 1], bytes[at + 2], bytes[at + 3]]))
                };
                Header::Marked { application: number(APPLICATION_ID_AT), version: number(USER_VERSION_AT) }
            }
            _ => Header::Foreign,
        })
    }
}

/// Marks a new file as a book; a database of somebody else without a mark is refused.
fn mark(connection: &Connection, path: &Path) -> Result<(), StoreError> {
    let marked: i64 = connection.pragma_query_value(None, "application_id", |row| row.get(0))?;
    let objects: i64 = connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    match (marked, objects) {
        (APPLICATION_ID, _) => Ok(()),
        (0, 0) => Ok(connection.pragma_update(None, "application_id", APPLICATION_ID)?),
        _ => Err(StoreError::NotABook { path: path.to_owned() }),
    }
}

/// Statements that stay prepared: all that the program has, so that none is prepared twice.
const STATEMENTS: usize = 400;

/// Applies the settings that keep every acknowledged entry through a crash or a power cut.
fn apply_settings(connection: &Connection) -> Result<(), StoreError> {
    connection.set_prepared_statement_cache_capacity(STATEMENTS);
    // A plan that depends on the values bound would be made anew for each of them.
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true)?;
    let mode: String = connection.pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get(0))?;
    if !mode.eq_ignore_ascii_case("wal") {
        return Err(StoreError::NoWriteAheadLog { found: mode });
    }
    connection.execute_batch(
        "PRAGMA synchronous = FULL;
         PRAGMA foreign_keys = ON;
         PRAGMA trusted_schema = OFF;
         PRAGMA cell_size_check = ON;
         PRAGMA mmap_size = 0;
         PRAGMA cache_size = -65536;",
    )?;
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_DQS_DML, false)?;
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_DQS_DDL, false)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(connection: &Connection, pragma: &str, expected: i64) {
        let found: i64 = connection.pragma_query_value(None, pragma, |row| row.get(0)).unwrap();
        assert_eq!(found, expected, "{pragma}");
    }

    #[test]
    fn the_settings_that_survive_a_power_cut_are_in_force() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("a.book"), DateTime::UNIX_EPOCH).unwrap();
        // sqlite.org, pragma: synchronous 2 is FULL.
        check(&store.connection, "synchronous", 2);
        check(&store.connection, "foreign_keys", 1);
        check(&store.connection, "trusted_schema", 0);
        check(&store.connection, "cell_size_check", 1);
        check(&store.connection, "mmap_size", 0);
        check(&store.connection, "cache_size", -65536);
        check(&store.connection, "busy_timeout", 5000);
        check(&store.connection, "application_id", APPLICATION_ID);
        check(&store.connection, "user_version", MIGRATIONS.len() as i64);
        assert!(store.connection.db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE).unwrap());
        let mode: String =
            store.connection.pragma_query_value(None, "journal_mode", |row| row.get(0)).unwrap();
        assert_eq!(mode, "wal");
    }

    #[test]
    fn a_write_without_a_journal_row_is_taken_back() {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::open(&folder.path().join("a.book"), DateTime::UNIX_EPOCH).unwrap();
        let act = Act { operator: "a".to_owned(), at: DateTime::UNIX_EPOCH };
        let done: Result<(), StoreError> = store.write(&act, |writer| {
            writer.connection.execute("INSERT INTO preference (name, value) VALUES ('a', 'b')", [])?;
            Ok(())
        });
        assert!(matches!(done, Err(StoreError::NotJournaled)));
        let rows: i64 =
            store.connection.query_row("SELECT count(*) FROM preference", [], |row| row.get(0)).unwrap();
        assert_eq!(rows, 0);
    }
}
