//! Holds: open and closed doubts of pieces and lots.

use super::connection::{Reader, Writer};
use super::error::StoreError;
use super::row::{Id, id, maybe_id, time, word};
use crate::intake::{HoldId, HoldOrigin, LotId, PieceId};
use crate::scoring::{Cause, DoubtKind, Offer};
use chrono::{DateTime, Utc};
use rusqlite::{Params, Row};

/// An open hold in the book.
#[derive(Debug, Clone, PartialEq)]
pub struct HoldRow {
    /// Identity.
    pub id: HoldId,
    /// The lot.
    pub lot: LotId,
    /// The piece; `None` when it belongs to the whole lot.
    pub piece: Option<PieceId>,
    /// Kind of doubt.
    pub kind: DoubtKind,
    /// Who opened it.
    pub origin: HoldOrigin,
    /// Why it is open.
    pub cause: Cause,
    /// Methods considered.
    pub offers: Vec<Offer>,
    /// Who opened it.
    pub opened_by: String,
    /// When it was opened.
    pub opened_at: DateTime<Utc>,
}

/// A hold that is to be opened.
#[derive(Debug, Clone, PartialEq)]
pub struct NewHold<'a> {
    /// Identity.
    pub id: HoldId,
    /// The lot.
    pub lot: LotId,
    /// The piece; `None` when it belongs to the whole lot.
    pub piece: Option<PieceId>,
    /// Kind of doubt.
    pub kind: DoubtKind,
    /// Who opens it.
    pub origin: HoldOrigin,
    /// Why it is open.
    pub cause: &'a Cause,
    /// Methods considered.
    pub offers: &'a [Offer],
}

const HOLD: &str = "SELECT id, lot, piece, kind, origin, text, cause, offers, opened_by, opened_ms FROM hold";

fn hold_row(row: &Row<'_>) -> Result<HoldRow, StoreError> {
    let offers: String = row.get("offers")?;
    Ok(HoldRow {
        id: id(row, "id")?,
        lot: id(row, "lot")?,
        piece: maybe_id(row, "piece")?,
        kind: word(row, "kind", DoubtKind::named)?,
        origin: word(row, "origin", HoldOrigin::named)?,
        cause: cause(row)?,
        offers: serde_json::from_str(&offers)
            .map_err(|_| StoreError::Strange { column: "hold.offers", found: offers })?,
        opened_by: row.get("opened_by")?,
        opened_at: time(row, "opened_ms")?,
    })
}

/// Reads why a hold is open; holds of before causes were kept have words only.
fn cause(row: &Row<'_>) -> Result<Cause, StoreError> {
    match row.get::<_, Option<String>>("cause")? {
        Some(kept) => {
            serde_json::from_str(&kept).map_err(|_| StoreError::Strange { column: "hold.cause", found: kept })
        }
        None => Ok(Cause::Said { text: row.get("text")? }),
    }
}

fn cause_text(cause: &Cause) -> String {
    serde_json::to_string(cause).expect("a cause is words, identities and finite numbers")
}

fn offers_text(offers: &[Offer]) -> String {
    serde_json::to_string(offers).expect("offers are words and texts, which JSON can always hold")
}

impl Writer<'_> {
    /// Opens a hold.
    ///
    /// # Errors
    /// `Refused` when the lot has an open hold of that kind already.
    pub fn open_hold(&self, hold: &NewHold<'_>) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO hold (id, lot, piece, kind, origin, text, offers, state, opened_ms, opened_by, cause)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, 'open', ?8, ?9, ?10)",
            )?
            .execute((
                hold.id.column(),
                hold.lot.column(),
                hold.piece.as_ref().map(Id::column),
                hold.kind.word(),
                hold.origin.word(),
                hold.cause.key(),
                offers_text(hold.offers),
                self.at_ms(),
                &self.act.operator,
                cause_text(hold.cause),
            ))?;
        Ok(())
    }

    /// Brings the numbers of an open hold up to date.
    ///
    /// # Errors
    /// `Refused` when it is closed.
    pub fn refresh_hold(&self, hold: HoldId, cause: &Cause, offers: &[Offer]) -> Result<(), StoreError> {
        self.connection
            .prepare_cached("UPDATE hold SET text = ?2, offers = ?3, cause = ?4 WHERE id = ?1")?
            .execute((hold.column(), cause.key(), offers_text(offers), cause_text(cause)))?;
        Ok(())
    }

    /// Closes a hold with a reason.
    ///
    /// # Errors
    /// `Refused` when it is closed already.
    pub fn close_hold(&self, hold: HoldId, reason: &str) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "UPDATE hold SET state = 'closed', closed_ms = ?2, closed_by = ?3, closed_reason = ?4 WHERE id = ?1",
            )?
            .execute((hold.column(), self.at_ms(), &self.act.operator, reason))?;
        Ok(())
    }

    /// Notes which doubts of its lot a piece raises now; returns the kinds that it raises no longer.
    ///
    /// # Errors
    /// What the database says.
    pub fn note_lot_doubts(
        &self,
        lot: LotId,
        piece: PieceId,
        kinds: &[DoubtKind],
    ) -> Result<Vec<DoubtKind>, StoreError> {
        let mut statement =
            self.connection.prepare_cached("SELECT kind FROM lot_doubt WHERE piece = ?1 ORDER BY kind")?;
        let before: Vec<DoubtKind> = statement
            .query_and_then([piece.column()], |row| word(row, "kind", DoubtKind::named))?
            .collect::<Result<_, _>>()?;
        let gone: Vec<DoubtKind> = before.iter().copied().filter(|kind| !kinds.contains(kind)).collect();
        for kind in &gone {
            self.connection
                .prepare_cached("DELETE FROM lot_doubt WHERE lot = ?1 AND kind = ?2 AND piece = ?3")?
                .execute((lot.column(), kind.word(), piece.column()))?;
        }
        for kind in kinds.iter().filter(|kind| !before.contains(kind)) {
            self.connection
                .prepare_cached("INSERT INTO lot_doubt (lot, kind, piece) VALUES (?1, ?2, ?3)")?
                .execute((lot.column(), kind.word(), piece.column()))?;
        }
        Ok(gone)
    }
}

impl Reader<'_> {
    /// Returns every open hold.
    ///
    /// # Errors
    /// What the database says.
    pub fn open_holds(&self) -> Result<Vec<HoldRow>, StoreError> {
        self.select_holds("WHERE state = 'open' ORDER BY opened_ms, id", [])
    }

    /// Returns the open holds of a piece, oldest first.
    ///
    /// # Errors
    /// What the database says.
    pub fn open_holds_of_piece(&self, piece: PieceId) -> Result<Vec<HoldRow>, StoreError> {
        self.select_holds("WHERE piece = ?1 AND state = 'open' ORDER BY opened_ms, id", [piece.column()])
    }

    /// Returns the open holds of a lot itself, oldest first.
    ///
    /// # Errors
    /// What the database says.
    pub fn open_holds_of_lot(&self, lot: LotId) -> Result<Vec<HoldRow>, StoreError> {
        self.select_holds(
            "WHERE lot = ?1 AND piece IS NULL AND state = 'open' ORDER BY opened_ms, id",
            [lot.column()],
        )
    }

    /// Returns a hold, open or closed, and whether it is open.
    ///
    /// # Errors
    /// What the database says.
    pub fn hold(&self, hold: HoldId) -> Result<Option<(HoldRow, bool)>, StoreError> {
        let Some(row) = self.select_holds("WHERE id = ?1", [hold.column()])?.pop() else { return Ok(None) };
        let mut open =
            self.connection.prepare_cached("SELECT 1 FROM hold WHERE id = ?1 AND state = 'open'")?;
        Ok(Some((row, open.exists([hold.column()])?)))
    }

    /// Returns the open holds of a lot and of its pieces, oldest first.
    ///
    /// # Errors
    /// What the database says.
    pub fn open_holds_in_lot(&self, lot: LotId) -> Result<Vec<HoldRow>, StoreError> {
        self.select_holds("WHERE lot = ?1 AND state = 'open' ORDER BY opened_ms, id", [lot.column()])
    }

    fn select_holds(&self, rest: &str, params: impl Params) -> Result<Vec<HoldRow>, StoreError> {
        let mut statement = self.connection.prepare_cached(&format!("{HOLD} {rest}"))?;
        statement.query_and_then(params, hold_row)?.collect()
    }

    /// Tells whether any piece of a lot raises a doubt of that kind.
    ///
    /// # Errors
    /// What the database says.
    pub fn lot_doubt_is_raised(&self, lot: LotId, kind: DoubtKind) -> Result<bool, StoreError> {
        Ok(self
            .connection
            .prepare_cached("SELECT 1 FROM lot_doubt WHERE lot = ?1 AND kind = ?2 LIMIT 1")?
            .exists((lot.column(), kind.word()))?)
    }
}
