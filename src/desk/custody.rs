//! Where a piece is, from the book: the state machine's view of it, and its refusals as errors.

use super::show::lot_of;
use super::{AppError, ErrorKind};
use crate::intake::{
    Custody, CustodyRefusal, LotNumber, PieceNumber, PieceState, Serial, ShipmentNumber, Whereabouts,
};
use crate::store::{LotRow, PieceRow, Reader};
use chrono::DateTime;

/// Refuses a piece that is voided, in stock or gone.
pub(super) fn at_the_desk(row: &PieceRow) -> Result<(), AppError> {
    let custody = Custody {
        whereabouts: row.whereabouts,
        voided: row.state == PieceState::Voided,
        ..Custody::logged()
    };
    custody.here().map(|_| ()).map_err(|refusal| custody_error(&row.number.to_string(), refusal))
}

/// Returns everything that decides what may happen to a piece.
pub(super) fn custody_of(reader: Reader<'_>, row: &PieceRow) -> Result<Custody, AppError> {
    let count = |holds: usize| u32::try_from(holds).unwrap_or(u32::MAX);
    let lot = lot_of(reader, row.lot)?;
    Ok(Custody {
        whereabouts: row.whereabouts,
        voided: row.state == PieceState::Voided,
        open: count(reader.open_holds_of_piece(row.id)?.len()),
        lot_open: count(reader.open_holds_of_lot(row.lot)?.len()),
        held_until_ms: reader.holding(lot.shipment)?.map(|holding| holding.until.timestamp_millis()),
    })
}

/// Makes the error of what may not happen to a piece.
pub(super) fn custody_error(number: &str, refusal: CustodyRefusal) -> AppError {
    let message = match refusal {
        CustodyRefusal::HoldingPeriod { until_ms } => {
            let until = DateTime::from_timestamp_millis(until_ms).unwrap_or_default();
            format!("piece `{number}`: {refusal}; it ends on {}", until.format("%Y-%m-%d %H:%M UTC"))
        }
        refusal => format!("piece `{number}`: {refusal}"),
    };
    let kind = match refusal {
        CustodyRefusal::Voided | CustodyRefusal::NotInStock | CustodyRefusal::NotSentBack => {
            ErrorKind::Failed
        }
        CustodyRefusal::NothingOpen => ErrorKind::Failed,
        _ => ErrorKind::NotPermitted,
    };
    AppError::new(kind, message)
}

/// Returns the piece with a number such as `S-0012/3-07`, or the one piece that bears a serial.
pub(super) fn named_piece(reader: Reader<'_>, name: &str) -> Result<PieceRow, AppError> {
    let found = match name.trim().parse::<PieceNumber>() {
        Ok(number) => reader.piece_by_number(number)?,
        Err(_) => match Serial::parse(name) {
            Err(_) => None,
            Ok(serial) => {
                let mut bearers = reader.pieces_with_serial(&serial)?;
                if bearers.len() > 1 {
                    let numbers: Vec<String> =
                        bearers.iter().map(|piece| format!("`{}`", piece.number)).collect();
                    let message = format!("serial `{serial}` is on {} pieces", bearers.len());
                    return Err(
                        AppError::failed(message).with_hint(format!("they are {}", numbers.join(", ")))
                    );
                }
                bearers.pop()
            }
        },
    };
    found.ok_or_else(|| {
        let message = format!("no piece has the number or serial `{}`", crate::quantity::entry::clean(name));
        AppError::failed(message).with_hint("a piece has a number such as `S-0012/3-07`")
    })
}

/// Returns the lot with a number such as `S-0012/3`.
pub(super) fn named_lot(reader: Reader<'_>, name: &str) -> Result<LotRow, AppError> {
    let number: LotNumber = name
        .trim()
        .parse()
        .map_err(|error: crate::intake::NumberError| AppError::usage(error.to_string(), Vec::new()))?;
    lot_by_number(reader, number)?
        .ok_or_else(|| AppError::failed(format!("lot `{number}` is not in the book")))
}

fn lot_by_number(reader: Reader<'_>, number: LotNumber) -> Result<Option<LotRow>, AppError> {
    let ShipmentNumber(_) = number.shipment;
    let Some(shipment) = reader.shipment_by_number(number.shipment)? else { return Ok(None) };
    Ok(reader.lots_of(shipment.id)?.into_iter().find(|lot| lot.number == number))
}

/// Returns the pieces that are meant by numbers, serials and lot numbers, each once; of a lot those that `wanted` takes.
pub(super) fn meant(
    reader: Reader<'_>,
    names: &[String],
    wanted: impl Fn(&PieceRow) -> bool,
) -> Result<Vec<PieceRow>, AppError> {
    let mut pieces: Vec<PieceRow> = Vec::new();
    for name in names {
        let found = match name.trim().parse::<LotNumber>() {
            Ok(number) => {
                let lot = lot_by_number(reader, number)?
                    .ok_or_else(|| AppError::failed(format!("lot `{number}` is not in the book")))?;
                let mut found = reader.pieces_of(lot.id)?;
                found.retain(|piece| piece.whereabouts == Whereabouts::Here && wanted(piece));
                if found.is_empty() {
                    return Err(AppError::failed(format!("lot `{number}` has no such piece at the desk")));
                }
                found
            }
            Err(_) => vec![named_piece(reader, name)?],
        };
        for piece in found {
            if !pieces.iter().any(|known| known.id == piece.id) {
                pieces.push(piece);
            }
        }
    }
    if pieces.is_empty() {
        return Err(AppError::usage("no piece is named", vec!["name pieces or a lot by number".to_owned()]));
    }
    Ok(pieces)
}
