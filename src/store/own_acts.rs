//! What one operator did last and may take back, with what was taken back and done again since.

use super::connection::Reader;
use super::error::StoreError;
use super::journal::{Deed, Done};
use super::row::{time, word};
use chrono::{DateTime, Utc};
use serde_json::Value;

/// An act of an operator that can be taken back in principle.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnAct {
    /// The act.
    pub done: Done,
    /// When it was done.
    pub at: DateTime<Utc>,
    /// The act that took it back, with its time.
    pub undone: Option<(i64, DateTime<Utc>)>,
    /// Whether it was done again after that.
    pub redone: bool,
}

impl Reader<'_> {
    /// Returns the last acts of an operator that can be taken back, newest first, those that were among them.
    ///
    /// # Errors
    /// What the database says, and `Strange` for a row that cannot be read back.
    pub fn own_acts(&self, operator: &str, most: u32) -> Result<Vec<OwnAct>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT act.sequence, act.at_ms, act.what, act.payload, undo.sequence AS undo, undo.at_ms AS undone_ms,
                EXISTS (SELECT 1 FROM journal AS again WHERE again.undoes = undo.sequence) AS redone
             FROM journal AS act LEFT JOIN journal AS undo ON undo.undoes = act.sequence
             WHERE act.operator = ?1 AND act.what IN (SELECT value FROM json_each(?2))
               AND (act.undoes IS NULL OR json_extract(act.payload, '$.redoes') IS NOT NULL)
             ORDER BY act.sequence DESC LIMIT ?3",
        )?;
        let words = Value::from(Deed::UNDOABLE.map(Deed::words).to_vec()).to_string();
        let mut rows = statement.query((operator, words, most))?;
        let mut acts = Vec::new();
        while let Some(row) = rows.next()? {
            let payload: String = row.get("payload")?;
            let undo: Option<i64> = row.get("undo")?;
            acts.push(OwnAct {
                done: Done {
                    sequence: row.get("sequence")?,
                    deed: word(row, "what", Deed::named)?,
                    payload: serde_json::from_str(&payload)
                        .map_err(|_| StoreError::Strange { column: "journal.payload", found: payload })?,
                },
                at: time(row, "at_ms")?,
                undone: match undo {
                    Some(undo) => Some((undo, time(row, "undone_ms")?)),
                    None => None,
                },
                redone: row.get("redone")?,
            });
        }
        Ok(acts)
    }
}
