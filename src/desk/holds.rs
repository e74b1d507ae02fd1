//! Holds: what is open, and the holds that people put and take back.

use super::custody::at_the_desk;
use super::settle::{close, recount};
use super::show::{Depth, lot_of, piece_of, prices};
use super::views::{HoldView, PieceView};
use super::{AppError, Desk, new_uuid, said};
use crate::intake::lifecycle::{HoldEvent, PieceEvent};
use crate::intake::{HoldId, HoldOrigin, LotId, PieceId, Refusal};
use crate::scoring::{Cause, DoubtKind, Method, Offer, Power, Rule};
use crate::store::{Deed, HoldRow, LotRow, NewHold, PieceRow, Writer};
use rust_decimal::Decimal;
use serde_json::json;
use std::cmp::Reverse;
use std::collections::HashMap;

/// Money at risk, for sorting: what nobody can price stands before any amount.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Risk {
    Known(Decimal),
    Unknown,
}

impl Desk {
    /// Returns every open doubt, grouped by lot: the lot with the most money at risk first, and within it likewise.
    ///
    /// What has no price stands first.
    ///
    /// # Errors
    /// What the book says.
    pub fn holds(&self) -> Result<Vec<HoldView>, AppError> {
        let reader = self.store.read();
        let prices = prices(reader)?;
        let mut lots: HashMap<LotId, LotRow> = HashMap::new();
        let mut views: Vec<(Option<u32>, HoldView)> = Vec::new();
        for hold in reader.open_holds()? {
            let lot = match lots.entry(hold.lot) {
                std::collections::hash_map::Entry::Occupied(known) => known.into_mut(),
                std::collections::hash_map::Entry::Vacant(new) => new.insert(lot_of(reader, hold.lot)?),
            };
            let piece: Option<PieceRow> = hold.piece.map(|piece| piece_of(reader, piece)).transpose()?;
            let place = piece.as_ref().map(|piece| piece.number.piece);
            views.push((place, self.setup.show_hold(hold, lot, piece.as_ref(), &prices)));
        }
        let mut worst: HashMap<String, Risk> = HashMap::new();
        for (_, view) in &views {
            let risk = worst.entry(view.lot.clone()).or_insert(Risk::Known(Decimal::MIN));
            *risk = (*risk).max(risk_of(view));
        }
        views.sort_by_key(|(place, view)| {
            (
                Reverse(worst[&view.lot]),
                view.lot.clone(),
                Reverse(risk_of(view)),
                *place,
                Reverse(view.standing),
                view.kind,
            )
        });
        Ok(views.into_iter().map(|(_, view)| view).collect())
    }

    /// Puts a piece on hold by hand.
    ///
    /// # Errors
    /// `Usage` without a reason, `Failed` for a voided piece.
    pub fn hold_piece(&mut self, piece: PieceId, reason: &str) -> Result<PieceView, AppError> {
        let reason = said("the reason", reason)?;
        let act = self.act();
        let Desk { store, setup, .. } = self;
        store.write(&act, |writer| {
            let row = piece_of(writer.read(), piece)?;
            let whose = format!("piece `{}`", row.number);
            row.state.after(PieceEvent::HeldByHand).map_err(|refusal| AppError::refused(&whose, &refusal))?;
            at_the_desk(&row)?;
            let id = HoldId::new(new_uuid(act.at));
            let offers = [
                Offer::always(Method::Expert, Power::Settles, Rule::SomebodyLooks),
                Offer::always(Method::Correction, Power::Settles, Rule::SomebodyLooks),
            ];
            let cause = Cause::Said { text: format!("put by hand: {reason}") };
            writer.open_hold(&NewHold {
                id,
                lot: row.lot,
                piece: Some(piece),
                // What a person noticed: this piece is not like the others.
                kind: DoubtKind::OddOneOut,
                origin: HoldOrigin::Person,
                cause: &cause,
                offers: &offers,
            })?;
            recount(writer, piece)?;
            let payload = json!({
                "piece": piece.to_string(),
                "number": row.number.to_string(),
                "hold": id.to_string(),
                "reason": reason,
            });
            writer.journal(Deed::HoldPut, &payload, None)?;
            let reader = writer.read();
            setup.show_piece(reader, piece_of(reader, piece)?, &prices(reader)?, Depth::Full)
        })
    }

    /// Takes back the holds that people put on a piece; those of the program close when their doubts are settled.
    ///
    /// # Errors
    /// `NotPermitted` when the piece has only holds of the program, `Failed` when it has none, `Usage` without a reason.
    pub fn take_back_hold(&mut self, piece: PieceId, reason: &str) -> Result<PieceView, AppError> {
        let reason = said("the reason", reason)?;
        let act = self.act();
        let Desk { store, setup, .. } = self;
        store.write(&act, |writer| {
            let row = piece_of(writer.read(), piece)?;
            let whose = format!("piece `{}`", row.number);
            let open = writer.read().open_holds_of_piece(piece)?;
            if open.is_empty() {
                return Err(AppError::failed(format!("{whose} has no open hold")));
            }
            let by_hand: Vec<HoldRow> =
                open.into_iter().filter(|hold| hold.origin == HoldOrigin::Person).collect();
            if by_hand.is_empty() {
                return Err(AppError::refused(&whose, &Refusal::NotPutByHand)
                    .with_hint("correct the reading or the serial behind it, or record a second test"));
            }
            take_back(writer, &row, &by_hand, &reason, None)?;
            let reader = writer.read();
            setup.show_piece(reader, piece_of(reader, piece)?, &prices(reader)?, Depth::Full)
        })
    }
}

/// Closes holds that people put, counts anew, and adds the journal row.
pub(super) fn take_back(
    writer: &Writer<'_>,
    row: &PieceRow,
    holds: &[HoldRow],
    reason: &str,
    undoes: Option<i64>,
) -> Result<(), AppError> {
    let whose = format!("piece `{}`", row.number);
    for hold in holds {
        close(writer, hold, HoldEvent::TakenBack { reason }, &whose)?;
    }
    recount(writer, row.id)?;
    let payload = json!({
        "piece": row.id.to_string(),
        "number": row.number.to_string(),
        "holds": holds.iter().map(|hold| hold.id.to_string()).collect::<Vec<_>>(),
        "reason": reason,
    });
    writer.journal(Deed::HoldTakenBack, &payload, undoes)?;
    Ok(())
}

fn risk_of(view: &HoldView) -> Risk {
    view.at_risk.map_or(Risk::Unknown, |money| Risk::Known(money.amount))
}
