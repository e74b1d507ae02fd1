//! The half-filled piece and the desk's small preferences: the only rows that are overwritten.

use super::connection::{Reader, Store, Writer};
use super::error::StoreError;
use super::row_image::draft_digest;
use chrono::{DateTime, Utc};
use rusqlite::{Connection, OptionalExtension};

impl Store {
    /// Saves the half-filled piece in the place of the one before; it is on disk when this returns.
    ///
    /// # Errors
    /// What the database says.
    pub fn save_draft(&mut self, body: &str, at: DateTime<Utc>) -> Result<(), StoreError> {
        write_draft(&self.connection, at.timestamp_millis(), body)
    }
}

/// Overwrites the half-filled piece together with its digest; the row is always there.
fn write_draft(connection: &Connection, at_ms: i64, body: &str) -> Result<(), StoreError> {
    connection
        .prepare_cached(
            "INSERT INTO draft (slot, at_ms, body, digest) VALUES (1, ?1, ?2, ?3) ON CONFLICT (slot)
             DO UPDATE SET at_ms = excluded.at_ms, body = excluded.body, digest = excluded.digest",
        )?
        .execute((at_ms, body, draft_digest(at_ms, body)))?;
    Ok(())
}

impl Writer<'_> {
    /// Clears the half-filled piece, because it was logged.
    ///
    /// # Errors
    /// What the database says.
    pub fn clear_draft(&self) -> Result<(), StoreError> {
        write_draft(self.connection, self.at_ms(), "")
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
        let mut statement =
            self.connection.prepare_cached("SELECT body FROM draft WHERE slot = 1 AND body <> ''")?;
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
