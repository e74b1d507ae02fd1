//! The half-filled piece and the desk's small preferences: the only rows that are overwritten.

use super::connection::{Reader, Store, Writer};
use super::error::StoreError;
use chrono::{DateTime, Utc};
use rusqlite::OptionalExtension;

impl Store {
    /// Saves the half-filled piece in the place of the one before; it is on disk when this returns.
    ///
    /// # Errors
    /// What the database says.
    pub fn save_draft(&mut self, body: &str, at: DateTime<Utc>) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO draft (slot, at_ms, body) VALUES (1, ?1, ?2)
                 ON CONFLICT (slot) DO UPDATE SET at_ms = excluded.at_ms, body = excluded.body",
            )?
            .execute((at.timestamp_millis(), body))?;
        Ok(())
    }
}

impl Writer<'_> {
    /// Clears the half-filled piece, because it was logged.
    ///
    /// # Errors
    /// What the database says.
    pub fn clear_draft(&self) -> Result<(), StoreError> {
        self.connection.prepare_cached("DELETE FROM draft")?.execute([])?;
        Ok(())
    }

    /// Keeps a small preference.
    ///
    /// # Errors
    /// What the database says.
    pub fn prefer(&self, name: &str, value: &str) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO preference (name, value) VALUES (?1, ?2)
                 ON CONFLICT (name) DO UPDATE SET value = excluded.value WHERE value <> excluded.value",
            )?
            .execute((name, value))?;
        Ok(())
    }
}

impl Reader<'_> {
    /// Returns the half-filled piece as it was saved.
    ///
    /// # Errors
    /// What the database says.
    pub fn draft(&self) -> Result<Option<String>, StoreError> {
        let mut statement = self.connection.prepare_cached("SELECT body FROM draft WHERE slot = 1")?;
        Ok(statement.query_row([], |row| row.get(0)).optional()?)
    }

    /// Returns a small preference.
    ///
    /// # Errors
    /// What the database says.
    pub fn preference(&self, name: &str) -> Result<Option<String>, StoreError> {
        let mut statement = self.connection.prepare_cached("SELECT value FROM preference WHERE name = ?1")?;
        Ok(statement.query_row([name], |row| row.get(0)).optional()?)
    }
}
