//! What an operator did last: what can be taken back, and what was taken back and can be done again.

use super::bench::reading_field;
use super::correct::{LOOKS_BACK, uuid_in};
use super::show::lot_of;
use super::views::{Draft, DraftField};
use super::{AppError, Desk};
use crate::evidence::{Measurand, SecondTest};
use crate::intake::{HoldId, LotId, PieceId};
use crate::scoring::{DoubtKind, Method};
use crate::store::{Deed, Done, HoldRow, OwnAct, Reader, Subject};
use chrono::{DateTime, Utc};
use serde_json::Value;

/// What can be done about an act.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ActState {
    /// It is the one that undo takes back.
    Next,
    /// It may be taken back once the later ones were.
    Waits,
    /// Something followed on it, so that it cannot be taken back any more.
    Followed,
    /// It was taken back.
    Undone,
    /// It was taken back and done again.
    Redone,
}

impl ActState {
    /// Returns the word of JSON.
    pub fn word(self) -> &'static str {
        match self {
            ActState::Next => "next",
            ActState::Waits => "waits",
            ActState::Followed => "followed",
            ActState::Undone => "undone",
            ActState::Redone => "redone",
        }
    }

    /// Returns what people read.
    pub fn label(self) -> &'static str {
        match self {
            ActState::Next => "can be undone",
            ActState::Waits => "undo the later ones first",
            ActState::Followed => "something followed on it",
            ActState::Undone => "undone",
            ActState::Redone => "undone, done again",
        }
    }
}

/// One of an operator's last acts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ActView {
    /// Its number in the journal.
    pub sequence: i64,
    /// When it was done.
    pub at: DateTime<Utc>,
    /// What was done, in words.
    pub what: String,
    /// The piece, pieces or lot.
    pub about: String,
    /// What can be done about it.
    pub state: ActState,
}

/// An act that was done again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Redone {
    /// What was done, as a sentence.
    pub words: String,
    /// The lot of the piece that is in hand again.
    pub in_hand: Option<LotId>,
}

impl Desk {
    /// Returns this operator's last acts, at most `most`, newest first.
    ///
    /// # Errors
    /// What the book says.
    pub fn own_acts(&mut self, most: u32) -> Result<Vec<ActView>, AppError> {
        let next = self.next_to_undo()?;
        let reader = self.store.read();
        let mut views = Vec::new();
        for own in reader.own_acts(&self.operator, most)? {
            let sequence = own.done.sequence;
            let state = match (&own.undone, next) {
                (Some(_), _) if own.redone => ActState::Redone,
                (Some(_), _) => ActState::Undone,
                (None, Some(next)) if sequence == next => ActState::Next,
                (None, Some(next)) if sequence < next => ActState::Waits,
                (None, _) => ActState::Followed,
            };
            let (what, about) = told(reader, &own.done)?;
            views.push(ActView { sequence, at: own.at, what, about, state });
        }
        Ok(views)
    }

    /// Returns the act that undo would take back: the newest that can be; nothing is written.
    fn next_to_undo(&mut self) -> Result<Option<i64>, AppError> {
        let act = self.act();
        let Desk { store, setup, .. } = self;
        let mut nothing = false;
        let next = store.rehearse(&act, |writer| {
            setup.keep_rules(writer)?;
            for done in writer.read().undoable(&act.operator, LOOKS_BACK)? {
                if setup.take_back_act(writer, &done)?.is_some() {
                    return Ok(Some(done.sequence));
                }
            }
            // Leaves the rehearsal: what was kept of the rules is no act.
            nothing = true;
            Err(AppError::failed("nothing can be taken back"))
        });
        if nothing { Ok(None) } else { next }
    }

    /// Takes back one act of this operator: the newest that can be taken back, by its number in the journal.
    ///
    /// # Errors
    /// `Failed` for any other: the later ones are to be undone first, it is undone already, or something followed on it.
    pub fn undo_act(&mut self, sequence: i64) -> Result<String, AppError> {
        let acts = self.own_acts(LOOKS_BACK)?;
        let Some(view) = acts.iter().find(|view| view.sequence == sequence) else {
            return Err(self.not_mine(sequence));
        };
        match view.state {
            ActState::Next => self.undo(),
            ActState::Waits => {
                let next = acts.iter().find(|view| view.state == ActState::Next);
                let first = next.map_or_else(String::new, |next| format!("{} {}", next.what, next.about));
                Err(AppError::failed(format!("`{} {}` is not the last act", view.what, view.about))
                    .with_hint(format!("undo the later ones first; the last one is `{first}`")))
            }
            state => Err(AppError::failed(format!(
                "`{} {}` cannot be undone: {}",
                view.what,
                view.about,
                state.label()
            ))),
        }
    }

    /// Does an act again that was taken back, as a new act of today with all its refusals, linked to the old one; without a number
    /// the one that was taken back last. Says in words what it did.
    ///
    /// A voided piece comes back as the half-filled piece in hand: it is logged anew.
    ///
    /// # Errors
    /// `Failed` when there is nothing to do again, or another piece is in hand; whatever the act itself refuses.
    pub fn redo(&mut self, sequence: Option<i64>, pin: Option<&str>) -> Result<Redone, AppError> {
        let own = self.to_redo(sequence)?;
        let Some((undo, _)) = own.undone else { return Err(self.not_mine(own.done.sequence)) };
        let (what, about) = told(self.store.read(), &own.done)?;
        if own.done.deed == Deed::PieceLogged {
            return self.take_in_hand(&own.done);
        }
        self.store.link(Some((own.done.deed, undo)));
        let again = self.again(&own.done, pin);
        self.store.link(None);
        again.map(|()| Redone { words: format!("Done again: {what} {about}."), in_hand: None })
    }

    /// Returns the act that is to be done again.
    fn to_redo(&self, sequence: Option<i64>) -> Result<OwnAct, AppError> {
        let acts = self.store.read().own_acts(&self.operator, LOOKS_BACK)?;
        let Some(sequence) = sequence else {
            let undone = acts.into_iter().filter(|own| !own.redone && own.undone.is_some());
            let last = undone.max_by_key(|own| own.undone.map(|(undo, _)| undo));
            return last.ok_or_else(|| AppError::failed(format!("`{}` has undone nothing", self.operator)));
        };
        let found = acts.into_iter().find(|own| own.done.sequence == sequence);
        let own = found.ok_or_else(|| self.not_mine(sequence))?;
        let (what, about) = told(self.store.read(), &own.done)?;
        match own.undone {
            _ if own.redone => Err(AppError::failed(format!("`{what} {about}` was done again already"))),
            None => Err(AppError::failed(format!("`{what} {about}` is not undone"))),
            Some(_) => Ok(own),
        }
    }

    fn not_mine(&self, sequence: i64) -> AppError {
        AppError::failed(format!("act {sequence} is not one of the last acts of `{}`", self.operator))
            .with_hint("`scruple undo --list` lists them")
    }

    /// Carries an act out again by its own use case.
    fn again(&mut self, done: &Done, pin: Option<&str>) -> Result<(), AppError> {
        let payload = &done.payload;
        let piece = uuid_in(&payload["piece"]).map(PieceId::new);
        let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
        let reason = text(&payload["reason"]);
        let lost = || AppError::failed(format!("act {} does not say enough to be done again", done.sequence));
        match done.deed {
            Deed::ReadingCorrected => {
                let reading = &payload["reading"];
                let spot = u8::try_from(reading["spot"].as_u64().unwrap_or(1)).unwrap_or(1);
                let field = reading_field(&text(&reading["measurand"]), spot).ok_or_else(lost)?;
                let piece = piece.ok_or_else(lost)?;
                self.correct(piece, field, &text(&reading["text"]), &text(&reading["reason"]))?;
            }
            Deed::HoldPut => {
                self.hold_piece(piece.ok_or_else(lost)?, &reason)?;
            }
            Deed::SecondTestRecorded => {
                let test: SecondTest = serde_json::from_value(payload["test"].clone()).map_err(|_| lost())?;
                self.record_second_test(&text(&payload["number"]), test)?;
            }
            Deed::HoldSettled => {
                let hold = self.open_like(payload)?.ok_or_else(|| {
                    AppError::failed(
                        "the doubt that was settled is not open any more: nothing is left to settle",
                    )
                })?;
                let evidence = uuid_in(&payload["evidence"]).map(crate::intake::SecondTestId::new);
                let said =
                    reason.split_once(": ").filter(|_| evidence.is_none()).map_or(&*reason, |(_, said)| said);
                self.settle(hold.id, said, evidence, pin)?;
            }
            Deed::LotSettled => {
                let kind = DoubtKind::named(&text(&payload["kind"])).ok_or_else(lost)?;
                let said = reason.split_once("; sample of ").map_or(&*reason, |(said, _)| said);
                self.settle_on_sample(&text(&payload["number"]), kind, said, pin)?;
            }
            Deed::PiecesSentBack => {
                self.send_back(&numbers(payload), &reason, pin)?;
            }
            Deed::PiecesReleased => {
                self.release(&numbers(payload), pin)?;
            }
            _ => return Err(lost()),
        }
        Ok(())
    }

    /// Returns the open hold that is like the one that was settled: undo opened it anew under another identity.
    fn open_like(&self, payload: &Value) -> Result<Option<HoldRow>, AppError> {
        let reader = self.store.read();
        let Some(hold) = uuid_in(&payload["hold"]).map(HoldId::new) else { return Ok(None) };
        let Some((old, _)) = reader.hold(hold)? else { return Ok(None) };
        let open = match old.piece {
            Some(piece) => reader.open_holds_of_piece(piece)?,
            None => reader.open_holds_of_lot(old.lot)?,
        };
        let like = |hold: &HoldRow| hold.kind == old.kind && hold.cause.key() == old.cause.key();
        Ok(open.into_iter().find(like))
    }

    /// Brings the readings of a voided piece back as the half-filled piece.
    fn take_in_hand(&mut self, done: &Done) -> Result<Redone, AppError> {
        let reader = self.store.read();
        let number = done.payload["number"].as_str().unwrap_or_default().to_owned();
        if let Some(draft) = self.draft()?
            && draft.fields.iter().any(|field| !field.text.is_empty())
        {
            let lot = lot_of(reader, draft.lot)?.number;
            return Err(AppError::failed(format!("a piece of `{lot}` is half filled; one piece at a time"))
                .with_hint("log it or clear it first; then do this again"));
        }
        let ids = uuid_in(&done.payload["lot"]).zip(uuid_in(&done.payload["piece"]));
        let Some((lot, piece)) = ids else {
            return Err(AppError::failed(format!("act {} does not say which piece it was", done.sequence)));
        };
        let draft = self.refilled(LotId::new(lot), PieceId::new(piece))?;
        self.save_draft(&draft)?;
        let lot = lot_of(self.store.read(), draft.lot)?.number;
        let words = format!(
            "The readings of {number} are in hand again, on the bench of {lot}: log them as a new piece."
        );
        Ok(Redone { words, in_hand: Some(draft.lot) })
    }

    /// Fills the form of a lot with the readings of a piece.
    fn refilled(&self, lot: LotId, piece: PieceId) -> Result<Draft, AppError> {
        let reader = self.store.read();
        let mut draft = self.new_draft(lot)?;
        for reading in reader.readings_in_force(piece)? {
            let field = match reading.subject {
                Subject::Serial => super::views::Field::Serial,
                Subject::Measured(measurand) => super::views::Field::Reading(measurand, reading.spot),
            };
            let filled = DraftField {
                text: reading.text.clone(),
                accepted: true,
                reason: reading.reason.clone(),
                device_line: reading.device_line.clone(),
                ..DraftField::empty(field)
            };
            match draft.fields.iter_mut().find(|known| known.field == field) {
                Some(known) => *known = filled,
                None => draft.fields.push(filled),
            }
            if let Some(probe) = &reading.probe {
                draft.probe = Some(probe.name.clone());
            }
        }
        draft.focus = draft.fields.len().saturating_sub(1);
        if let Some(last) = draft.fields.last_mut() {
            // The last field is where Enter logs it.
            last.accepted = false;
        }
        Ok(draft)
    }
}

/// Returns the numbers of the pieces of an act.
fn numbers(payload: &Value) -> Vec<String> {
    let pieces = payload["pieces"].as_array().into_iter().flatten();
    pieces.filter_map(|piece| piece["number"].as_str()).map(str::to_owned).collect()
}

/// Returns an act in words: what, and what it was about.
fn told(reader: Reader<'_>, done: &Done) -> Result<(String, String), AppError> {
    let payload = &done.payload;
    let word = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    let kind = || DoubtKind::named(&word(&payload["kind"])).map_or("a doubt", DoubtKind::label);
    let what = match done.deed {
        Deed::PieceLogged => "logged".to_owned(),
        Deed::ReadingCorrected => {
            let reading = &payload["reading"];
            let measurand = Measurand::named(&word(&reading["measurand"]));
            let field = measurand.map_or("serial", Measurand::name);
            format!("corrected {field} to `{}` of", word(&reading["text"]))
        }
        Deed::HoldPut => "put on hold".to_owned(),
        Deed::SecondTestRecorded => {
            let method = Method::named(&word(&payload["method"])).map_or("second test", Method::label);
            format!("recorded the {method} of")
        }
        Deed::HoldSettled => format!("settled {} of", kind()),
        Deed::LotSettled => format!("settled {} on the sample of", kind()),
        Deed::PiecesSentBack => "sent back".to_owned(),
        Deed::PiecesReleased => "released".to_owned(),
        other => other.words().to_owned(),
    };
    let pieces = numbers(payload);
    let about = match (payload["number"].as_str(), pieces.as_slice()) {
        (Some(number), _) => number.to_owned(),
        (None, [one]) => one.clone(),
        (None, [first, .., last]) => format!("{first} to {last}, {} pieces", pieces.len()),
        (None, []) => about_by_identity(reader, payload)?,
    };
    Ok((what, about))
}

/// Returns what an act was about that names it by its identity alone.
fn about_by_identity(reader: Reader<'_>, payload: &Value) -> Result<String, AppError> {
    if let Some(piece) = uuid_in(&payload["piece"]).map(PieceId::new)
        && let Some(row) = reader.piece(piece)?
    {
        return Ok(row.number.to_string());
    }
    let lot = uuid_in(&payload["lot"]).map(LotId::new);
    Ok(match lot {
        Some(lot) => lot_of(reader, lot)?.number.to_string(),
        None => String::new(),
    })
}
