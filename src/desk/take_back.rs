//! Acts of the review taken back: a decision that names the one it takes back, never a deletion of one.

use super::correct::uuid_in;
use super::show::piece_of;
use super::{AppError, Setup, new_uuid};
use crate::intake::{DecisionId, HoldId, HoldOrigin, PieceId, SecondTestId, Whereabouts};
use crate::store::{
    DecisionKind, DecisionRow, Deed, Done, HoldRow, NewDecision, NewHold, PieceRow, Reader, Writer,
};
use serde_json::{Value, json};

/// Reason of a decision that undo takes.
const UNDONE: &str = "the decision was undone";

impl Setup {
    /// Takes back an act of the review; `None` when it is none, or something followed on it.
    pub(super) fn take_back_review(
        &self,
        writer: &Writer<'_>,
        done: &Done,
    ) -> Result<Option<String>, AppError> {
        match done.deed {
            Deed::SecondTestRecorded => self.take_back_second_test(writer, done),
            Deed::HoldSettled | Deed::LotSettled => self.take_back_settlement(writer, done),
            Deed::PiecesSentBack => self.take_back_send_back(writer, done),
            Deed::PiecesReleased => self.take_back_release(writer, done),
            _ => Ok(None),
        }
    }

    fn take_back_second_test(&self, writer: &Writer<'_>, done: &Done) -> Result<Option<String>, AppError> {
        let Some(id) = uuid_in(&done.payload["second_test"]).map(SecondTestId::new) else { return Ok(None) };
        let Some(test) = writer.read().second_test(id)?.filter(|test| !test.withdrawn) else {
            return Ok(None);
        };
        if piece_of(writer.read(), test.piece)?.whereabouts != Whereabouts::Here {
            return Ok(None);
        }
        let row = self.withdraw(writer, id, "the entry was undone", Some(done.sequence))?;
        Ok(Some(format!("Withdrew the {} of piece {}.", test.method.label(), row.number)))
    }

    fn take_back_settlement(&self, writer: &Writer<'_>, done: &Done) -> Result<Option<String>, AppError> {
        let one = uuid_in(&done.payload["decision"]);
        let many = done.payload["decisions"].as_array().into_iter().flatten().filter_map(uuid_in);
        let ids: Vec<DecisionId> = one.into_iter().chain(many).map(DecisionId::new).collect();
        let Some(decisions) = in_force(writer.read(), &ids)? else { return Ok(None) };
        for decision in &decisions {
            if let Some(piece) = decision.piece
                && piece_of(writer.read(), piece)?.whereabouts != Whereabouts::Here
            {
                return Ok(None);
            }
        }
        let mut opened = Vec::new();
        for decision in &decisions {
            let Some(hold) = decision.hold else { continue };
            let Some((hold, _)) = writer.read().hold(hold)? else { continue };
            let again = self.open_again(writer, &hold)?;
            take_back(writer, decision, DecisionKind::Reopened, again)?;
            opened.push(json!({
                "decision": decision.id.to_string(),
                "piece": decision.piece.map(|piece| piece.to_string()),
                "hold": again.map(|hold| hold.to_string()),
            }));
        }
        for piece in decisions.iter().filter_map(|decision| decision.piece) {
            // What the readings and second tests of today do not raise any more closes again at once.
            self.settle(writer, piece)?;
        }
        writer.journal(
            Deed::HoldReopened,
            &json!({ "opened": opened, "reason": UNDONE }),
            Some(done.sequence),
        )?;
        let doubts = if decisions.len() == 1 {
            "a settlement".to_owned()
        } else {
            format!("{} settlements", decisions.len())
        };
        Ok(Some(format!("Took back {doubts}; what was settled is open again.")))
    }

    /// Opens a hold like a closed one; a lot has one hold of a kind, so `None` when it has one already.
    fn open_again(&self, writer: &Writer<'_>, hold: &HoldRow) -> Result<Option<HoldId>, AppError> {
        if hold.piece.is_none() {
            let open = writer.read().open_holds_of_lot(hold.lot)?;
            if let Some(same) = open.into_iter().find(|open| open.kind == hold.kind) {
                return Ok(Some(same.id));
            }
        }
        let id = HoldId::new(new_uuid(writer.act().at));
        writer.open_hold(&NewHold {
            id,
            lot: hold.lot,
            piece: hold.piece,
            kind: hold.kind,
            origin: hold.origin,
            cause: &hold.cause,
            offers: &hold.offers,
        })?;
        Ok(Some(id))
    }

    fn take_back_send_back(&self, writer: &Writer<'_>, done: &Done) -> Result<Option<String>, AppError> {
        let Some(pieces) = pieces_at(writer.read(), &done.payload, Whereabouts::SentBack)? else {
            return Ok(None);
        };
        self.keep_rules(writer)?;
        let mut told = Vec::new();
        for (row, decision, entry) in &pieces {
            take_back(writer, decision, DecisionKind::SendBackUndone, None)?;
            writer.take_back_end(row.id)?;
            let by_hand = entry["holds_put_by_hand"].as_array().into_iter().flatten().filter_map(uuid_in);
            for hold in by_hand.map(HoldId::new) {
                let found = writer.read().hold(hold)?.map(|(hold, _)| hold);
                if let Some(hold) = found.filter(|hold| hold.origin == HoldOrigin::Person) {
                    self.open_again(writer, &hold)?;
                }
            }
            let assessment = self.settle(writer, row.id)?;
            told.push(json!({ "piece": row.id.to_string(), "assessment": assessment }));
        }
        writer.journal(
            Deed::SendBackUndone,
            &json!({ "pieces": told, "reason": UNDONE }),
            Some(done.sequence),
        )?;
        Ok(Some(format!("Took back the send-back of {}.", names(&pieces))))
    }
}

impl Setup {
    fn take_back_release(&self, writer: &Writer<'_>, done: &Done) -> Result<Option<String>, AppError> {
        let Some(pieces) = pieces_at(writer.read(), &done.payload, Whereabouts::Stock)? else {
            return Ok(None);
        };
        let mut told = Vec::new();
        for (row, decision, _) in &pieces {
            let recalled = !writer.read().recalls_of(row.id)?.is_empty();
            take_back(writer, decision, DecisionKind::ReleaseUndone, None)?;
            writer.take_back_stock(row.id)?;
            if recalled {
                // A control failed since it was released: what it was released on counts for nothing.
                self.settle(writer, row.id)?;
            }
            told.push(json!({ "piece": row.id.to_string(), "decision": decision.id.to_string() }));
        }
        writer.journal(
            Deed::ReleaseUndone,
            &json!({ "pieces": told, "reason": UNDONE }),
            Some(done.sequence),
        )?;
        Ok(Some(format!("Took back the release of {}.", names(&pieces))))
    }
}

type Taken = (PieceRow, DecisionRow, Value);

/// Returns the pieces of an act with its decisions, when each is still where the act put it.
fn pieces_at(
    reader: Reader<'_>,
    payload: &Value,
    place: Whereabouts,
) -> Result<Option<Vec<Taken>>, AppError> {
    let mut taken = Vec::new();
    for entry in payload["pieces"].as_array().into_iter().flatten() {
        let ids = uuid_in(&entry["piece"]).zip(uuid_in(&entry["decision"]));
        let Some((piece, decision)) = ids else { return Ok(None) };
        let row = piece_of(reader, PieceId::new(piece))?;
        let Some(mut decisions) = in_force(reader, &[DecisionId::new(decision)])? else { return Ok(None) };
        let Some(decision) = decisions.pop().filter(|_| row.whereabouts == place) else { return Ok(None) };
        taken.push((row, decision, entry.clone()));
    }
    Ok(Some(taken).filter(|taken| !taken.is_empty()))
}

/// Returns decisions when all of them stand.
fn in_force(reader: Reader<'_>, ids: &[DecisionId]) -> Result<Option<Vec<DecisionRow>>, AppError> {
    let mut decisions = Vec::new();
    for id in ids {
        match reader.decision(*id)? {
            Some(decision) if reader.decision_is_in_force(*id)? => decisions.push(decision),
            _ => return Ok(None),
        }
    }
    Ok(Some(decisions).filter(|decisions| !decisions.is_empty()))
}

/// Writes the decision that takes another back.
fn take_back(
    writer: &Writer<'_>,
    old: &DecisionRow,
    kind: DecisionKind,
    hold: Option<HoldId>,
) -> Result<(), AppError> {
    writer.insert_decision(&NewDecision {
        id: DecisionId::new(new_uuid(writer.act().at)),
        kind,
        lot: old.lot,
        piece: old.piece,
        hold,
        evidence: None,
        sample: None,
        undoes: Some(old.id),
        doubt: None,
        reason: UNDONE,
    })?;
    Ok(())
}

fn names(pieces: &[Taken]) -> String {
    match pieces {
        [(row, ..)] => format!("piece {}", row.number),
        many => format!("{} pieces", many.len()),
    }
}
