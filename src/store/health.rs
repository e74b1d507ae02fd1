//! What can be said of a book without working in it: its pages, its version, who else has it open.

use super::connection::{Reader, Store};
use super::error::StoreError;
use super::migrate;
use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags};
use std::path::Path;
use std::time::Duration;

impl Store {
    /// Returns the version of the book.
    ///
    /// # Errors
    /// What the database says.
    pub fn version(&self) -> Result<i64, StoreError> {
        migrate::version(&self.connection)
    }
}

impl Reader<'_> {
    /// Checks the pages of the book without comparing its indexes; returns the first thing that is wrong.
    ///
    /// # Errors
    /// What the database says, damage that stops even the check among them.
    ///
    /// # Source
    /// sqlite.org, pragma `quick_check`: one row `ok` when nothing is wrong.
    pub fn quick_check(&self) -> Result<Option<String>, StoreError> {
        let said: String = self.connection.pragma_query_value(None, "quick_check", |row| row.get(0))?;
        Ok((said != "ok").then_some(said))
    }
}

/// Tells whether another program has a book open now; the book stays as it is.
///
/// # Errors
/// What the database says, as when the file may not be written.
///
/// # Source
/// sqlite.org, WAL, section 6: a connection in exclusive mode takes the file for itself on its first read, and every
/// connection in WAL mode holds a shared lock as long as it is open.
pub fn is_held(path: &Path) -> Result<bool, StoreError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags)?;
    connection.busy_timeout(Duration::ZERO)?;
    // Nothing of the log is moved into the file on the way out.
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)?;
    let _mode: String =
        connection.pragma_update_and_check(None, "locking_mode", "EXCLUSIVE", |row| row.get(0))?;
    let read = connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get::<_, i64>(0));
    match read.map_err(StoreError::from) {
        Ok(_) => Ok(false),
        Err(StoreError::Busy) => Ok(true),
        Err(error) => Err(error),
    }
}
