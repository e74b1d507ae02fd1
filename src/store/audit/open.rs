//! Opening a book to look at it only.

use super::super::connection::{APPLICATION_ID, Header, Store};
use super::super::error::StoreError;
use super::super::migrate::{MIGRATIONS, version};
use super::super::progress::Progress;
use super::super::watch::Watch;
use rusqlite::{Connection, OpenFlags};
use std::cell::Cell;
use std::path::Path;
use std::time::Duration;

/// How long the audit waits for another program that just recovers the book.
const PATIENCE: Duration = Duration::from_millis(5000);
/// Pages kept in memory, in KiB.
const CACHE_KIB: i64 = 16_000;

impl Store {
    /// Opens a book to read it only: nothing is created, nothing is brought to another version, the file stays as it is.
    ///
    /// Marks and versions that do not fit are left to the audit, as long as the tables of a book are there.
    ///
    /// # Errors
    /// `Io` when there is no file, `NotABook` for anything else than a book, `Newer` and `Older` for another version.
    pub fn open_to_read(path: &Path) -> Result<Store, StoreError> {
        Self::open_to_read_watched(path, Progress::default())
    }

    /// Opens a book to read it only, and tells how far its long statements are.
    ///
    /// # Errors
    /// As [`Store::open_to_read`].
    pub fn open_to_read_watched(path: &Path, progress: Progress) -> Result<Store, StoreError> {
        let application = match Header::read(path)? {
            Header::Marked { application, .. } => application,
            Header::Absent => {
                return Err(StoreError::Io { detail: format!("there is no file `{}`", path.display()) });
            }
            Header::Empty | Header::Foreign => return Err(StoreError::NotABook { path: path.to_owned() }),
        };
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let mut connection = Connection::open_with_flags(path, flags)?;
        progress.attach(&mut connection)?;
        connection.busy_timeout(PATIENCE)?;
        connection.pragma_update(None, "trusted_schema", false)?;
        connection.pragma_update(None, "cell_size_check", true)?;
        connection.pragma_update(None, "cache_size", -CACHE_KIB)?;
        let found = applied(&connection)?;
        let known = i64::try_from(MIGRATIONS.len()).unwrap_or(i64::MAX);
        match found {
            None => Err(StoreError::NotABook { path: path.to_owned() }),
            Some(found) if found > known && version(&connection)? > known => {
                Err(StoreError::Newer { path: path.to_owned(), found, known })
            }
            Some(found) if found < known && application == APPLICATION_ID && !has_seals(&connection)? => {
                Err(StoreError::Older { path: path.to_owned(), found, needed: known })
            }
            Some(_) => {
                let watch = Watch::default();
                Ok(Store { connection, path: path.to_owned(), watch, redoes: Cell::default(), progress })
            }
        }
    }

    /// Holds one state of the book for everything that is read until the look ends.
    ///
    /// # Errors
    /// What the database says.
    pub fn look(&self) -> Result<Look<'_>, StoreError> {
        self.connection.execute_batch("BEGIN")?;
        Ok(Look { store: self })
    }
}

/// One state of the book, held while it is looked at.
#[derive(Debug)]
pub struct Look<'s> {
    store: &'s Store,
}

impl Drop for Look<'_> {
    fn drop(&mut self) {
        // It only read: there is nothing to lose.
        let _ = self.store.connection.execute_batch("ROLLBACK");
    }
}

/// Returns the last migration that the book names; `None` without the table of the migrations.
fn applied(connection: &Connection) -> Result<Option<i64>, StoreError> {
    let has_table = connection
        .prepare("SELECT 1 FROM main.sqlite_schema WHERE type = 'table' AND name = 'migration'")?
        .exists([])?;
    if !has_table {
        return Ok(None);
    }
    Ok(connection.query_row("SELECT max(version) FROM main.migration", [], |row| row.get(0))?)
}

fn has_seals(connection: &Connection) -> Result<bool, StoreError> {
    Ok(connection
        .prepare("SELECT 1 FROM main.sqlite_schema WHERE type = 'table' AND name = 'seal'")?
        .exists([])?)
}
