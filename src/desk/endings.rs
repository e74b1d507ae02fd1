//! Pieces that leave the desk without becoming stock: sent back, or surrendered.

use super::custody::{custody_error, custody_of, meant};
use super::review_views::Role;
use super::settle::{close, raise_on_lot};
use super::show::{Depth, piece_of, prices};
use super::views::PieceView;
use super::{AppError, Desk, new_uuid, said};
use crate::intake::lifecycle::HoldEvent;
use crate::intake::{CustodyAct, DecisionId, HoldOrigin, Whereabouts};
use crate::store::{DecisionKind, Deed, NewDecision, PieceRow, Writer};
use serde_json::{Value, json};

/// What to mind with pieces that are surrendered, for every face to show.
pub const SURRENDER_CAUTIONS: [&str; 3] = [
    "suspected counterfeit of legal tender: do not return it to circulation and do not send it back; local law decides",
    "keep the piece apart, with this record; hand it over against a receipt",
    "say that it is suspected, not that it is counterfeit: the authorities or their expert find that out",
];

impl Desk {
    /// Sends pieces back to their source, with a reason; a lot number means all its pieces that are still here.
    ///
    /// # Errors
    /// `NotPermitted` without the role of a reviewer or the PIN, and for a piece in stock or gone; `Usage` without a reason.
    pub fn send_back(
        &mut self,
        pieces: &[String],
        reason: &str,
        pin: Option<&str>,
    ) -> Result<Vec<PieceView>, AppError> {
        self.end(pieces, reason, pin, CustodyAct::SentBack)
    }

    /// Hands pieces to the authorities, with a reason; this is final. [`SURRENDER_CAUTIONS`] belong beside it.
    ///
    /// # Errors
    /// As [`Desk::send_back`].
    pub fn surrender(
        &mut self,
        pieces: &[String],
        reason: &str,
        pin: Option<&str>,
    ) -> Result<Vec<PieceView>, AppError> {
        self.end(pieces, reason, pin, CustodyAct::Surrendered)
    }

    fn end(
        &mut self,
        pieces: &[String],
        reason: &str,
        pin: Option<&str>,
        how: CustodyAct,
    ) -> Result<Vec<PieceView>, AppError> {
        let reason = said("the reason", reason)?;
        self.allow(pin, Role::Reviewer)?;
        let act = self.act();
        let Desk { store, setup, .. } = self;
        store.write(&act, |writer| {
            let rows = meant(writer.read(), pieces, |_| true)?;
            let mut told = Vec::new();
            for (done, row) in rows.iter().enumerate() {
                writer.step_of("pieces that leave", done, rows.len())?;
                told.push(end_piece(writer, row, &reason, how)?);
            }
            let deed = match how {
                CustodyAct::Surrendered => Deed::PiecesSurrendered,
                _ => Deed::PiecesSentBack,
            };
            writer.journal(deed, &json!({ "pieces": told, "reason": reason }), None)?;
            let reader = writer.read();
            let prices = prices(reader)?;
            rows.iter()
                .map(|row| setup.show_piece(reader, piece_of(reader, row.id)?, &prices, Depth::Kept))
                .collect()
        })
    }
}

/// Writes the decision and the end of a piece; its holds close and its lot is doubted for it no more.
fn end_piece(writer: &Writer<'_>, row: &PieceRow, reason: &str, how: CustodyAct) -> Result<Value, AppError> {
    let number = row.number.to_string();
    let next =
        custody_of(writer.read(), row)?.after(how).map_err(|refusal| custody_error(&number, refusal))?;
    let kind = match next.whereabouts {
        Whereabouts::Surrendered => DecisionKind::Surrendered,
        _ => DecisionKind::SentBack,
    };
    let decision = DecisionId::new(new_uuid(writer.act().at));
    writer.insert_decision(&NewDecision {
        id: decision,
        kind,
        lot: row.lot,
        piece: Some(row.id),
        hold: None,
        evidence: None,
        sample: None,
        undoes: None,
        doubt: None,
        reason,
    })?;
    let holds = writer.read().open_holds_of_piece(row.id)?;
    let by_hand: Vec<String> = holds
        .iter()
        .filter(|hold| hold.origin == HoldOrigin::Person)
        .map(|hold| hold.id.to_string())
        .collect();
    for hold in &holds {
        close(writer, hold, HoldEvent::PieceLeft, &format!("piece `{number}`"))?;
    }
    raise_on_lot(writer, row.lot, row.id, &[])?;
    writer.end_piece(row.id, next.whereabouts, decision)?;
    Ok(json!({
        "piece": row.id.to_string(),
        "number": number,
        "decision": decision.to_string(),
        "holds_put_by_hand": by_hand,
    }))
}
