//! The evidence that a piece was sold on, in one view.

use super::custody::named_piece;
use super::review_views::{DecisionView, Ending, PieceRecord};
use super::show::{Depth, lot_of, piece_of, prices};
use super::{AppError, Desk, Setup};
use crate::intake::Whereabouts;
use crate::store::{DecisionKind, DecisionRow, Reader};

impl Desk {
    /// Returns everything that is on record about a piece, by its number or its serial.
    ///
    /// # Errors
    /// `Failed` when no piece has it, or several bear the serial.
    pub fn piece_record(&self, piece: &str) -> Result<PieceRecord, AppError> {
        let reader = self.store.read();
        let row = named_piece(reader, piece)?;
        let lot = lot_of(reader, row.lot)?;
        let decisions = reader
            .decisions_about(row.lot, row.id)?
            .iter()
            .map(|decision| self.setup.show_decision(reader, decision))
            .collect::<Result<_, _>>()?;
        let samples = reader.samples_of(row.lot)?;
        let own: Vec<_> =
            samples.iter().filter(|sample| sample.pieces.contains(&row.id)).map(|sample| sample.id).collect();
        let mut shown = self.setup.samples_of(reader, row.lot)?;
        shown.retain(|sample| own.contains(&sample.id));
        let ending = match reader.end_of_piece(row.id)? {
            None => None,
            Some(end) => {
                let reason =
                    reader.decision(end.decision)?.map(|decision| decision.reason).unwrap_or_default();
                let how = match end.whereabouts {
                    Whereabouts::Surrendered => Ending::Surrendered,
                    _ => Ending::SentBack,
                };
                Some((how, reason, end.at))
            }
        };
        Ok(PieceRecord {
            source: lot.source,
            lot: row.lot,
            tests: self.setup.show_second_tests(reader, &row)?,
            decisions,
            samples: shown,
            stock: reader.stock_of(row.id)?.map(|stock| self.setup.show_stock(stock)),
            ending,
            journal_hash: reader.journal_hash_of(row.id)?.unwrap_or_default(),
            piece: self.setup.show_piece(reader, row, &prices(reader)?, Depth::Full)?,
        })
    }
}

impl Setup {
    /// Returns a decision in words.
    pub(super) fn show_decision(
        &self,
        reader: Reader<'_>,
        row: &DecisionRow,
    ) -> Result<DecisionView, AppError> {
        let about = match row.piece {
            Some(piece) => piece_of(reader, piece)?.number.to_string(),
            None => lot_of(reader, row.lot)?.number.to_string(),
        };
        let kind = match row.hold {
            Some(hold) => reader.hold(hold)?.map(|(hold, _)| hold.kind.label()),
            None => None,
        };
        let doubt = kind.unwrap_or("a doubt");
        let what = match row.kind {
            DecisionKind::Settled if row.sample.is_some() => format!("settled {doubt} on a sample"),
            DecisionKind::Settled => format!("settled {doubt}"),
            DecisionKind::Reopened => format!("opened {doubt} again"),
            DecisionKind::SentBack => "sent back".to_owned(),
            DecisionKind::SendBackUndone => "took back the send-back".to_owned(),
            DecisionKind::Surrendered => "surrendered".to_owned(),
            DecisionKind::Released => "released to stock".to_owned(),
            DecisionKind::ReleaseUndone => "took back the release".to_owned(),
        };
        Ok(DecisionView {
            about,
            what,
            reason: row.reason.clone(),
            evidence: row.evidence,
            hold: row.hold,
            operator: row.operator.clone(),
            at: row.at,
        })
    }
}
