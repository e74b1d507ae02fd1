//! Recalls: pieces in stock whose readings a failed control voided, and how they come back to the desk.

use super::custody::named_piece;
use super::review_views::Role;
use super::show::{Depth, piece_of, prices};
use super::views::PieceView;
use super::{AppError, Desk, new_uuid, said};
use crate::intake::DecisionId;
use crate::store::{DecisionKind, DecisionRow, Deed, NewDecision, PieceRow, Reader, RecallRow};
use chrono::{DateTime, Utc};
use serde_json::json;
use std::collections::HashSet;

/// A piece that is to come back from stock.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecallView {
    /// Number people see.
    pub piece: String,
    /// Name of its product.
    pub product_name: String,
    /// Serial in force.
    pub serial: Option<String>,
    /// Why, in words.
    pub why: String,
    /// When it was recalled.
    pub at: DateTime<Utc>,
    /// When it had been released.
    pub released_at: DateTime<Utc>,
}

impl Desk {
    /// Returns the recall list, recalled last first.
    ///
    /// # Errors
    /// What the book says.
    pub fn recalls(&self) -> Result<Vec<RecallView>, AppError> {
        let mut rows = self.store.read().recalls()?;
        // Two controls that failed one after the other recall a piece once.
        let mut seen = HashSet::new();
        rows.retain(|row| seen.insert(row.piece));
        Ok(rows
            .into_iter()
            .map(|RecallRow { number, product, serial, text, at, released_at, .. }| RecallView {
                piece: number.to_string(),
                product_name: self.setup.product_name(&product),
                serial,
                why: text,
                at,
                released_at,
            })
            .collect())
    }

    /// Takes a recalled piece out of stock back to the desk, where it is scored anew: its release is taken back by a decision
    /// that names it, with a reason, and it goes on hold.
    ///
    /// # Errors
    /// `NotPermitted` without the role of a reviewer or the PIN, `Usage` without a reason, `Failed` for a piece that is not on
    /// the recall list.
    pub fn take_back_recalled(
        &mut self,
        piece: &str,
        reason: &str,
        pin: Option<&str>,
    ) -> Result<PieceView, AppError> {
        let reason = said("the reason", reason)?;
        self.allow(pin, Role::Reviewer)?;
        let act = self.act();
        let Desk { store, setup, .. } = self;
        store.write(&act, |writer| {
            setup.keep_rules(writer)?;
            let row = named_piece(writer.read(), piece)?;
            if writer.read().recalls_of(row.id)?.is_empty() {
                let message = format!("piece `{}` is not on the recall list", row.number);
                return Err(AppError::failed(message));
            }
            let released = release_in_force(writer.read(), &row)?;
            let decision = DecisionId::new(new_uuid(act.at));
            writer.insert_decision(&NewDecision {
                id: decision,
                kind: DecisionKind::ReleaseUndone,
                lot: row.lot,
                piece: Some(row.id),
                hold: None,
                evidence: None,
                sample: None,
                undoes: Some(released.id),
                doubt: None,
                reason: &format!("recalled: {reason}"),
            })?;
            writer.take_back_stock(row.id)?;
            let assessment = setup.settle(writer, row.id)?;
            let payload = json!({
                "piece": row.id.to_string(),
                "number": row.number.to_string(),
                "decision": decision.to_string(),
                "reason": reason,
                "assessment": assessment,
            });
            writer.journal(Deed::RecalledPieceBack, &payload, None)?;
            let reader = writer.read();
            setup.show_piece(reader, piece_of(reader, row.id)?, &prices(reader)?, Depth::Full)
        })
    }
}

/// Returns the decision by which a piece is in stock.
fn release_in_force(reader: Reader<'_>, row: &PieceRow) -> Result<DecisionRow, AppError> {
    for decision in reader.decisions_about(row.lot, row.id)?.into_iter().rev() {
        if decision.kind == DecisionKind::Released
            && decision.piece == Some(row.id)
            && reader.decision_is_in_force(decision.id)?
        {
            return Ok(decision);
        }
    }
    Err(AppError::failed(format!("piece `{}` has no release on record", row.number)))
}
