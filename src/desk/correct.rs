//! Corrections, voids and undo: always a new row that names the old one, never a change or a deletion.

use super::bench::{LAST_PROBE, read_reading, read_serial, reading_json};
use super::custody::at_the_desk;
use super::holds::take_back;
use super::identity::serial_of;
use super::settle::{close, raise_on_lot};
use super::show::{Depth, piece_of, prices};
use super::views::{Field, PieceView};
use super::{AppError, Desk, Setup, new_uuid, said};
use crate::evidence::{Measurand, Probe};
use crate::intake::lifecycle::{HoldEvent, PieceEvent};
use crate::intake::{LotId, PieceId, PieceState, ReadingId, Serial, Whereabouts};
use crate::store::{Deed, Done, NewReading, PieceRow, PieceUpdate, ReadingRow, Subject, Writer};
use serde_json::{Value, json};
use uuid::Uuid;

/// Acts that undo looks at before it gives up.
pub(super) const LOOKS_BACK: u32 = 50;

impl Desk {
    /// Corrects a reading or the serial of a piece: a new row names the old one, and the piece is scored again.
    ///
    /// `-` withdraws the reading or the serial.
    ///
    /// # Errors
    /// `Usage` without a reason, for a text that the field does not take, or when nothing would change.
    pub fn correct(
        &mut self,
        piece: PieceId,
        field: Field,
        text: &str,
        reason: &str,
    ) -> Result<PieceView, AppError> {
        let reason = said("the reason", reason)?;
        let act = self.act();
        let Desk { store, setup, .. } = self;
        store.write(&act, |writer| {
            setup.keep_rules(writer)?;
            let row = piece_of(writer.read(), piece)?;
            let whose = format!("piece `{}`", row.number);
            row.state.after(PieceEvent::Corrected).map_err(|refusal| AppError::refused(&whose, &refusal))?;
            at_the_desk(&row)?;
            let in_force = writer.read().readings_in_force(piece)?;
            let id = ReadingId::new(new_uuid(act.at));
            let mut new = match field {
                Field::Serial => match read_serial(text)? {
                    Some(serial) => NewReading::of_serial(id, &serial),
                    None => NewReading::nothing(id, Subject::Serial, 1),
                },
                Field::Reading(measurand, spot) => match read_reading(field, measurand, text)? {
                    Some(reading) => NewReading {
                        probe: setup.probe_for(writer, measurand, &in_force)?,
                        instrument: setup.instruments.name_for(measurand).map(str::to_owned),
                        ..NewReading::of_typed(id, spot, &reading)
                    },
                    None => NewReading::nothing(id, Subject::Measured(measurand), spot),
                },
            };
            let old = in_force.iter().find(|old| old.subject == new.subject && old.spot == new.spot);
            let same = match old {
                Some(old) => old.text == new.text,
                None => new.value.is_none() && new.text == "-",
            };
            if same {
                let message = format!("{whose}: {} is `{}` already", field.label(), new.text);
                return Err(AppError::usage(message, Vec::new()));
            }
            new.replaces = old.map(|old| old.id);
            new.reason = Some(reason.clone());
            setup.replace(writer, &row, &new, None)?;
            let reader = writer.read();
            setup.show_piece(reader, piece_of(reader, piece)?, &prices(reader)?, Depth::Full)
        })
    }

    /// Takes a piece out of the account with a reason; its readings stay in the book.
    ///
    /// # Errors
    /// `Usage` without a reason, `Failed` when it is voided already.
    pub fn void_piece(&mut self, piece: PieceId, reason: &str) -> Result<(), AppError> {
        let reason = said("the reason", reason)?;
        let act = self.act();
        let Desk { store, setup, .. } = self;
        store.write(&act, |writer| {
            let row = piece_of(writer.read(), piece)?;
            setup.void(writer, &row, &reason, None)
        })
    }

    /// Takes back the operator's last act, as a linked correction, and says in words what it did.
    ///
    /// Acts that can be taken back: a piece logged, a correction, a hold put by hand, a second test, a settlement, a send-back,
    /// a release; each while the piece is where the act left it.
    ///
    /// # Errors
    /// `Failed` when there is nothing to take back.
    pub fn undo(&mut self) -> Result<String, AppError> {
        let act = self.act();
        let Desk { store, setup, .. } = self;
        store.write(&act, |writer| {
            setup.keep_rules(writer)?;
            for done in writer.read().undoable(&act.operator, LOOKS_BACK)? {
                if let Some(words) = setup.take_back_act(writer, &done)? {
                    return Ok(words);
                }
            }
            Err(AppError::failed(format!("`{}` has nothing to undo", act.operator)))
        })
    }

    /// Scores every piece of a lot again by the rules and prices of today.
    ///
    /// # Errors
    /// What the book says.
    pub fn rescore(&mut self, lot: LotId) -> Result<Vec<PieceView>, AppError> {
        let act = self.act();
        let Desk { store, setup, .. } = self;
        store.write(&act, |writer| {
            setup.keep_rules(writer)?;
            let mut summaries = Vec::new();
            let mut pieces = writer.read().pieces_of(lot)?;
            pieces.retain(|piece| piece.whereabouts == Whereabouts::Here);
            let all = pieces.len();
            for (done, piece) in pieces.into_iter().enumerate() {
                writer.step_of("pieces scored again", done, all)?;
                let assessment = setup.settle(writer, piece.id)?;
                summaries.push(json!({ "piece": piece.id.to_string(), "assessment": assessment }));
            }
            let mut payload = json!({ "lot": lot.to_string(), "pieces": summaries });
            setup.screen_when_complete(writer, lot, &mut payload)?;
            writer.journal(Deed::LotRescored, &payload, None)?;
            let reader = writer.read();
            let prices = prices(reader)?;
            let pieces = reader.pieces_of(lot)?.into_iter();
            pieces.map(|piece| setup.show_piece(reader, piece, &prices, Depth::Kept)).collect()
        })
    }
}

impl Setup {
    /// Returns the probe of a corrected reading: the one of the piece's other readings, else the one used last.
    fn probe_for(
        &self,
        writer: &Writer<'_>,
        measurand: Measurand,
        in_force: &[ReadingRow],
    ) -> Result<Option<Probe>, AppError> {
        if measurand != Measurand::Conductivity {
            return Ok(None);
        }
        if let Some(probe) = in_force.iter().find_map(|reading| reading.probe.clone()) {
            return Ok(Some(probe));
        }
        let last = writer.read().preference(LAST_PROBE)?;
        Ok(last.and_then(|name| self.instruments.probe(&name).cloned()))
    }

    /// Writes a reading in the place of another, settles the piece and those that share its old or new serial.
    fn replace(
        &self,
        writer: &Writer<'_>,
        row: &PieceRow,
        new: &NewReading,
        undoes: Option<i64>,
    ) -> Result<(), AppError> {
        writer.insert_reading(row.id, new)?;
        let mut others = Vec::new();
        if new.subject == Subject::Serial {
            let old = serial_of(row);
            let serial = if new.text == "-" { None } else { Serial::parse(&new.text).ok() };
            writer.update_serial(row.id, serial.as_ref())?;
            writer.tie_serial(row.lot, row.id, serial.as_ref())?;
            others = self.affected(writer.read(), row, old.as_ref())?;
            others.extend(self.affected(writer.read(), row, serial.as_ref())?);
        }
        let assessment = self.settle(writer, row.id)?;
        for other in others {
            self.settle_identity(writer, other)?;
        }
        let mut payload = json!({
            "piece": row.id.to_string(),
            "number": row.number.to_string(),
            "reading": reading_json(new),
            "assessment": assessment,
        });
        self.screen_when_complete(writer, row.lot, &mut payload)?;
        writer.journal(Deed::ReadingCorrected, &payload, undoes)?;
        Ok(())
    }

    /// Takes a piece out of the account: its holds close, its serial is free again, those that shared it are settled.
    fn void(
        &self,
        writer: &Writer<'_>,
        row: &PieceRow,
        reason: &str,
        undoes: Option<i64>,
    ) -> Result<(), AppError> {
        let whose = format!("piece `{}`", row.number);
        let state =
            row.state.after(PieceEvent::Voided).map_err(|refusal| AppError::refused(&whose, &refusal))?;
        at_the_desk(row)?;
        for hold in writer.read().open_holds_of_piece(row.id)? {
            close(writer, &hold, HoldEvent::PieceVoided, &whose)?;
        }
        raise_on_lot(writer, row.lot, row.id, &[])?;
        writer.tie_serial(row.lot, row.id, None)?;
        let update =
            PieceUpdate { state, standing: row.standing, assessment: row.assessment, fine: row.fine };
        writer.update_piece(row.id, &update)?;
        for other in self.affected(writer.read(), row, serial_of(row).as_ref())? {
            self.settle_identity(writer, other)?;
        }
        let mut payload =
            json!({ "piece": row.id.to_string(), "number": row.number.to_string(), "reason": reason });
        self.screen_when_complete(writer, row.lot, &mut payload)?;
        writer.journal(Deed::PieceVoided, &payload, undoes)?;
        Ok(())
    }

    /// Takes one act back; `None` when it cannot be taken back any more because something followed on it.
    pub(super) fn take_back_act(&self, writer: &Writer<'_>, done: &Done) -> Result<Option<String>, AppError> {
        if let Some(words) = self.take_back_review(writer, done)? {
            return Ok(Some(words));
        }
        let Some(piece) = uuid_in(&done.payload["piece"]).map(PieceId::new) else { return Ok(None) };
        let here = |row: &PieceRow| row.state != PieceState::Voided && row.whereabouts == Whereabouts::Here;
        let Some(row) = writer.read().piece(piece)?.filter(here) else {
            return Ok(None);
        };
        let number = row.number;
        match done.deed {
            Deed::PieceLogged => {
                self.void(writer, &row, "the entry was undone", Some(done.sequence))?;
                Ok(Some(format!(
                    "Voided piece {number}, which was logged last; its readings stay in the book."
                )))
            }
            Deed::ReadingCorrected => self.take_back_correction(writer, &row, done),
            Deed::HoldPut => {
                let open = writer.read().open_holds_of_piece(piece)?;
                let hold = uuid_in(&done.payload["hold"]);
                let same: Vec<_> = open
                    .into_iter()
                    .filter(|open| hold.is_some_and(|id| *open.id.bytes() == *id.as_bytes()))
                    .collect();
                if same.is_empty() {
                    return Ok(None);
                }
                take_back(writer, &row, &same, "the hold was undone", Some(done.sequence))?;
                Ok(Some(format!("Took back the hold that was put on piece {number}.")))
            }
            _ => Ok(None),
        }
    }

    fn take_back_correction(
        &self,
        writer: &Writer<'_>,
        row: &PieceRow,
        done: &Done,
    ) -> Result<Option<String>, AppError> {
        let reading = &done.payload["reading"];
        let Some(corrected) = uuid_in(&reading["id"]).map(ReadingId::new) else { return Ok(None) };
        let in_force = writer.read().readings_in_force(row.id)?;
        let Some(wrong) = in_force.iter().find(|reading| reading.id == corrected) else { return Ok(None) };
        let id = ReadingId::new(new_uuid(writer.act().at));
        let earlier = wrong.replaces.map(|earlier| writer.read().reading(earlier)).transpose()?.flatten();
        let mut new = match &earlier {
            Some(earlier) => NewReading::like(id, earlier),
            None => NewReading::nothing(id, wrong.subject, wrong.spot),
        };
        new.replaces = Some(wrong.id);
        new.reason = Some("the correction was undone".to_owned());
        self.replace(writer, row, &new, Some(done.sequence))?;
        let what = match wrong.subject {
            Subject::Serial => Field::Serial.label(),
            Subject::Measured(measurand) => Field::Reading(measurand, wrong.spot).label(),
        };
        let before =
            earlier.map_or_else(|| "not measured".to_owned(), |earlier| format!("`{}`", earlier.text));
        Ok(Some(format!("Set {what} of piece {} back from `{}` to {before}.", row.number, wrong.text)))
    }
}

/// Reads an identity that the journal names.
pub(super) fn uuid_in(value: &Value) -> Option<Uuid> {
    value.as_str().and_then(|text| Uuid::parse_str(text).ok())
}
