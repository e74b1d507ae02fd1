//! Tries of a PIN: how many were wrong in a row, and when the last one was.

use super::connection::{Reader, Writer};
use super::error::StoreError;
use super::row::time;
use chrono::{DateTime, Utc};

/// How a try of a PIN ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PinOutcome {
    /// It was another PIN.
    Wrong,
    /// It was the PIN.
    Right,
    /// The PIN was set anew.
    Set,
}

impl PinOutcome {
    fn word(self) -> &'static str {
        match self {
            PinOutcome::Wrong => "wrong",
            PinOutcome::Right => "right",
            PinOutcome::Set => "set",
        }
    }
}

/// A run of wrong tries.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WrongTries {
    /// How many in a row.
    pub count: u32,
    /// When the last one was.
    pub last: DateTime<Utc>,
}

impl Writer<'_> {
    /// Writes how a try of an operator's PIN ended; never the PIN.
    ///
    /// # Errors
    /// What the database says.
    pub fn insert_pin_try(&self, name: &str, outcome: PinOutcome) -> Result<(), StoreError> {
        self.connection
            .prepare_cached("INSERT INTO pin_try (name, outcome, at_ms) VALUES (?1, ?2, ?3)")?
            .execute((name, outcome.word(), self.at_ms()))?;
        Ok(())
    }
}

impl Reader<'_> {
    /// Returns the wrong tries of an operator's PIN since the last right one; `None` when there is none.
    ///
    /// # Errors
    /// What the database says.
    pub fn wrong_pin_tries(&self, name: &str) -> Result<Option<WrongTries>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT id, at_ms FROM pin_try WHERE name = ?1 AND id > coalesce(
                 (SELECT max(id) FROM pin_try WHERE name = ?1 AND outcome <> 'wrong'), 0)
             ORDER BY id",
        )?;
        let mut rows = statement.query([name])?;
        let mut tries: Option<WrongTries> = None;
        while let Some(row) = rows.next()? {
            let count = tries.map_or(0, |tries| tries.count).saturating_add(1);
            tries = Some(WrongTries { count, last: time(row, "at_ms")? });
        }
        Ok(tries)
    }
}
