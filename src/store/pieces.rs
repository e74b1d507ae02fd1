//! Pieces: identity, serial in force, state, standing, and the assessment in force.

use super::connection::{Reader, Writer};
use super::error::StoreError;
use super::row::{Id, count, id, maybe_id, standing, time, word};
use crate::intake::{
    AssessmentId, LotId, LotNumber, PieceId, PieceNumber, PieceState, Serial, ShipmentNumber, Whereabouts,
};
use crate::quantity::{Mass, Quantity};
use crate::reference::ProductId;
use crate::scoring::Standing;
use chrono::{DateTime, Utc};
use rusqlite::{Params, Row};

/// A piece in the book.
#[derive(Debug, Clone, PartialEq)]
pub struct PieceRow {
    /// Identity.
    pub id: PieceId,
    /// The lot it belongs to.
    pub lot: LotId,
    /// Number people see.
    pub number: PieceNumber,
    /// The product declared.
    pub product: ProductId,
    /// Serial in force.
    pub serial: Option<String>,
    /// Where it stands in its life cycle.
    pub state: PieceState,
    /// Where it is.
    pub whereabouts: Whereabouts,
    /// Worst of its assessment and its open doubts.
    pub standing: Standing,
    /// The assessment in force.
    pub assessment: Option<AssessmentId>,
    /// Fine mass.
    pub fine: Mass,
    /// When it was logged.
    pub logged_at: DateTime<Utc>,
    /// Who logged it.
    pub operator: String,
}

/// A piece that is to be written; its readings and its assessment follow in the same transaction.
#[derive(Debug, Clone, PartialEq)]
pub struct NewPiece {
    /// Identity.
    pub id: PieceId,
    /// The lot it belongs to.
    pub lot: LotId,
    /// Its place in the lot, from 1.
    pub place: u32,
    /// Its serial.
    pub serial: Option<Serial>,
}

/// What an assessment changes in a piece.
#[derive(Debug, Clone, PartialEq)]
pub struct PieceUpdate {
    /// The next state.
    pub state: PieceState,
    /// The next standing.
    pub standing: Standing,
    /// The assessment in force.
    pub assessment: Option<AssessmentId>,
    /// Fine mass.
    pub fine: Mass,
}

pub(super) const PIECE: &str =
    "SELECT piece.id, piece.lot, shipment.number, lot.line, piece.place, lot.product, piece.serial,
    piece.state, piece.standing, piece.assessment, piece.fine_ng, piece.logged_ms, piece.operator,
    coalesce((SELECT 'stock' FROM stock WHERE stock.piece = piece.id),
        (SELECT kind FROM piece_end WHERE piece_end.piece = piece.id), 'here') AS whereabouts
    FROM piece JOIN lot ON lot.id = piece.lot JOIN shipment ON shipment.id = lot.shipment";

fn piece_row(row: &Row<'_>) -> Result<PieceRow, StoreError> {
    let shipment = ShipmentNumber(count(row, "number")?);
    let lot = LotNumber { shipment, line: count(row, "line")? };
    Ok(PieceRow {
        id: id(row, "id")?,
        lot: id(row, "lot")?,
        number: PieceNumber { lot, piece: count(row, "place")? },
        product: word(row, "product", |text| Some(ProductId::new(text)))?,
        serial: row.get("serial")?,
        state: word(row, "state", PieceState::named)?,
        whereabouts: word(row, "whereabouts", Whereabouts::named)?,
        standing: standing(row, "standing")?,
        assessment: maybe_id(row, "assessment")?,
        fine: Mass::from_base(row.get("fine_ng")?),
        logged_at: time(row, "logged_ms")?,
        operator: row.get("operator")?,
    })
}

impl Writer<'_> {
    /// Writes a piece, on hold until its assessment follows.
    ///
    /// # Errors
    /// What the database says.
    pub fn insert_piece(&self, piece: &NewPiece) -> Result<(), StoreError> {
        let serial = piece.serial.as_ref();
        self.connection
            .prepare_cached(
                "INSERT INTO piece (id, lot, place, serial, serial_key, state, standing, fine_ng, logged_ms, operator)
                 VALUES (?1, ?2, ?3, ?4, ?5, 'held', 'hold', 0, ?6, ?7)",
            )?
            .execute((
                piece.id.column(),
                piece.lot.column(),
                piece.place,
                serial.map(Serial::text),
                serial.map(Serial::key),
                self.at_ms(),
                &self.act.operator,
            ))?;
        Ok(())
    }

    /// Writes what an assessment changes.
    ///
    /// # Errors
    /// What the database says.
    pub fn update_piece(&self, piece: PieceId, update: &PieceUpdate) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "UPDATE piece SET state = ?2, standing = ?3, assessment = ?4, fine_ng = ?5 WHERE id = ?1",
            )?
            .execute((
                piece.column(),
                update.state.word(),
                update.standing.word(),
                update.assessment.as_ref().map(Id::column),
                update.fine.base(),
            ))?;
        Ok(())
    }

    /// Writes the serial in force; the correction itself is a reading row.
    ///
    /// # Errors
    /// What the database says.
    pub fn update_serial(&self, piece: PieceId, serial: Option<&Serial>) -> Result<(), StoreError> {
        self.connection
            .prepare_cached("UPDATE piece SET serial = ?2, serial_key = ?3 WHERE id = ?1")?
            .execute((piece.column(), serial.map(Serial::text), serial.map(Serial::key)))?;
        Ok(())
    }
}

impl Reader<'_> {
    /// Returns a piece.
    ///
    /// # Errors
    /// What the database says.
    pub fn piece(&self, piece: PieceId) -> Result<Option<PieceRow>, StoreError> {
        Ok(self.select_pieces("WHERE piece.id = ?1", [piece.column()])?.pop())
    }

    /// Returns the pieces of a lot in their order, voided ones left out.
    ///
    /// # Errors
    /// What the database says.
    pub fn pieces_of(&self, lot: LotId) -> Result<Vec<PieceRow>, StoreError> {
        self.select_pieces(
            "WHERE piece.lot = ?1 AND piece.state <> 'voided' ORDER BY piece.place",
            [lot.column()],
        )
    }

    /// Returns the piece with a number, voided or not.
    ///
    /// # Errors
    /// What the database says.
    pub fn piece_by_number(&self, number: PieceNumber) -> Result<Option<PieceRow>, StoreError> {
        let place = (number.lot.shipment.0, number.lot.line, number.piece);
        Ok(self
            .select_pieces("WHERE shipment.number = ?1 AND lot.line = ?2 AND piece.place = ?3", place)?
            .pop())
    }

    /// Returns every piece with a serial, in the order of logging, voided ones left out.
    ///
    /// # Errors
    /// What the database says.
    pub fn pieces_with_serial(&self, serial: &Serial) -> Result<Vec<PieceRow>, StoreError> {
        self.select_pieces(
            "WHERE piece.serial_key = ?1 AND piece.state <> 'voided' ORDER BY piece.logged_ms, piece.id",
            [serial.key()],
        )
    }

    pub(super) fn select_pieces(&self, rest: &str, params: impl Params) -> Result<Vec<PieceRow>, StoreError> {
        let mut statement = self.connection.prepare_cached(&format!("{PIECE} {rest}"))?;
        statement.query_and_then(params, piece_row)?.collect()
    }
}
