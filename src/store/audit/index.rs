//! What the seals say last about each row, laid out in a temporary file, so that memory does not grow with the book.

use super::super::error::StoreError;
use super::super::row_image::Hash;
use rusqlite::{Connection, OptionalExtension};

/// What the seals say last about a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct LastSeal {
    /// Hash of the row; `None` for one that is gone.
    pub(super) hash: Option<Hash>,
    /// The last row of the journal when it was sealed.
    pub(super) journal: i64,
}

/// The last seal of each row.
pub(super) struct SealIndex {
    connection: Connection,
}

impl SealIndex {
    /// Makes an empty index: a private file that the database deletes by itself.
    pub(super) fn new() -> Result<Self, StoreError> {
        let connection = Connection::open("")?;
        connection.execute_batch(
            "PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF; PRAGMA cache_size = -32000; BEGIN;
             CREATE TABLE sealed (place INTEGER, key BLOB, hash BLOB, journal INTEGER NOT NULL,
                PRIMARY KEY (place, key)) STRICT, WITHOUT ROWID;",
        )?;
        Ok(SealIndex { connection })
    }

    /// Notes what a seal says about a row of the table at a place; what later seals say counts.
    pub(super) fn note(&mut self, place: usize, key: &[u8], said: LastSeal) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO sealed (place, key, hash, journal) VALUES (?1, ?2, ?3, ?4)
                 ON CONFLICT DO UPDATE SET hash = excluded.hash, journal = excluded.journal",
            )?
            .execute((column(place), key, said.hash, said.journal))?;
        Ok(())
    }

    /// Returns what the seals say last about a row.
    pub(super) fn last(&self, place: usize, key: &[u8]) -> Result<Option<LastSeal>, StoreError> {
        let mut statement = self
            .connection
            .prepare_cached("SELECT hash, journal FROM sealed WHERE place = ?1 AND key = ?2")?;
        Ok(statement
            .query_row((column(place), key), |row| Ok(LastSeal { hash: row.get(0)?, journal: row.get(1)? }))
            .optional()?)
    }

    /// Returns how many rows of a table are to be there.
    pub(super) fn count(&self, place: usize) -> Result<u64, StoreError> {
        let mut statement = self
            .connection
            .prepare_cached("SELECT count(*) FROM sealed WHERE place = ?1 AND hash IS NOT NULL")?;
        let count: i64 = statement.query_row([column(place)], |row| row.get(0))?;
        Ok(u64::try_from(count).unwrap_or(0))
    }

    /// Calls with the key of every row of a table that is to be there.
    pub(super) fn each(
        &self,
        place: usize,
        mut call: impl FnMut(&[u8], i64) -> Result<(), StoreError>,
    ) -> Result<(), StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT key, journal FROM sealed WHERE place = ?1 AND hash IS NOT NULL ORDER BY key",
        )?;
        let mut rows = statement.query([column(place)])?;
        while let Some(row) = rows.next()? {
            let key: Vec<u8> = row.get(0)?;
            call(&key, row.get(1)?)?;
        }
        Ok(())
    }
}

fn column(place: usize) -> i64 {
    i64::try_from(place).unwrap_or(i64::MAX)
}
