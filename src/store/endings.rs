//! Pieces that left the desk without becoming stock.

use super::connection::{Reader, Writer};
use super::error::StoreError;
use super::row::{Id, id, time, word};
use crate::intake::{DecisionId, PieceId, Whereabouts};
use chrono::{DateTime, Utc};

/// How a piece left the desk.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EndRow {
    /// Where it went: sent back or surrendered.
    pub whereabouts: Whereabouts,
    /// The decision.
    pub decision: DecisionId,
    /// When.
    pub at: DateTime<Utc>,
}

impl Writer<'_> {
    /// Writes the end of a piece.
    ///
    /// # Errors
    /// `Refused` for a piece that is in stock, voided or gone already, and without a decision.
    pub fn end_piece(&self, piece: PieceId, to: Whereabouts, decision: DecisionId) -> Result<(), StoreError> {
        self.connection
            .prepare_cached("INSERT INTO piece_end (piece, kind, decision, at_ms) VALUES (?1, ?2, ?3, ?4)")?
            .execute((piece.column(), to.word(), decision.column(), self.at_ms()))?;
        Ok(())
    }

    /// Takes back the end of a piece; the decision that does so stands already.
    ///
    /// # Errors
    /// `Refused` without that decision.
    pub fn take_back_end(&self, piece: PieceId) -> Result<(), StoreError> {
        self.connection
            .prepare_cached("DELETE FROM piece_end WHERE piece = ?1")?
            .execute([piece.column()])?;
        Ok(())
    }
}

impl Reader<'_> {
    /// Returns how a piece left the desk.
    ///
    /// # Errors
    /// What the database says.
    pub fn end_of_piece(&self, piece: PieceId) -> Result<Option<EndRow>, StoreError> {
        let mut statement =
            self.connection.prepare_cached("SELECT kind, decision, at_ms FROM piece_end WHERE piece = ?1")?;
        let found = statement.query_and_then([piece.column()], |row| {
            Ok(EndRow {
                whereabouts: word(row, "kind", Whereabouts::named)?,
                decision: id(row, "decision")?,
                at: time(row, "at_ms")?,
            })
        })?;
        found.into_iter().next().transpose()
    }
}
