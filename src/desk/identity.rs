//! Identity doubts: serials repeated, missing, or not on the packing list.

use super::{AppError, Setup};
use crate::intake::{PieceId, Serial};
use crate::scoring::{Cause, Doubt, DoubtKind, Method, Offer, Power, Rule, Scope};
use crate::store::{PieceRow, Reader};

/// Most other pieces that a doubt names.
const NAMED: usize = 3;

impl Setup {
    /// Returns the identity doubts of a piece as the record stands.
    pub(super) fn identity_doubts(
        &self,
        reader: Reader<'_>,
        piece: &PieceRow,
    ) -> Result<Vec<Doubt>, AppError> {
        let serial = serial_of(piece);
        let mut doubts = Vec::new();
        if let Some(serial) = &serial {
            let others: Vec<PieceRow> = self
                .bearers(reader, piece, serial)?
                .into_iter()
                .filter(|other| other.id != piece.id)
                .collect();
            if !others.is_empty() {
                let on = others.iter().take(NAMED).map(|other| other.number.to_string()).collect();
                let more = others.len().saturating_sub(NAMED);
                doubts.push(doubt(Cause::SerialTwice { serial: serial.to_string(), on, more }));
            }
        }
        let (declared, listed) = reader.declared_serials(piece.lot, serial.as_ref())?;
        match &serial {
            None if declared > 0 => {
                doubts.push(doubt(Cause::SerialMissing { declared: declared as u64 }));
            }
            Some(serial) if declared > 0 && !listed => {
                doubts.push(doubt(Cause::SerialNotListed { serial: serial.to_string() }));
            }
            _ => {}
        }
        Ok(doubts)
    }

    /// Returns the other pieces whose identity depends on a serial.
    pub(super) fn affected(
        &self,
        reader: Reader<'_>,
        piece: &PieceRow,
        serial: Option<&Serial>,
    ) -> Result<Vec<PieceId>, AppError> {
        let Some(serial) = serial else { return Ok(Vec::new()) };
        let bearers = self.bearers(reader, piece, serial)?;
        Ok(bearers.into_iter().map(|other| other.id).filter(|other| *other != piece.id).collect())
    }

    /// Returns the pieces of the same metal that bear a serial. Makers of different metals count on their own, but one
    /// bar relabelled as another product of its metal is the very thing to notice.
    fn bearers(
        &self,
        reader: Reader<'_>,
        piece: &PieceRow,
        serial: &Serial,
    ) -> Result<Vec<PieceRow>, AppError> {
        let metal =
            |row: &PieceRow| self.catalogue.product(row.product.as_str()).map(|product| product.metal);
        let own = metal(piece);
        let mut bearers = reader.pieces_with_serial(serial)?;
        bearers.retain(|other| metal(other) == own);
        Ok(bearers)
    }
}

/// Returns the serial of a piece as it is compared.
pub(super) fn serial_of(piece: &PieceRow) -> Option<Serial> {
    piece.serial.as_deref().and_then(|text| Serial::parse(text).ok())
}

fn doubt(cause: Cause) -> Doubt {
    let offers = vec![Offer::always(Method::Correction, Power::Settles, Rule::ReadTheSerial)];
    Doubt::new(DoubtKind::Identity, Scope::Piece, cause, offers)
}
