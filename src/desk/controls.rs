//! Controls of instruments: recorded, withdrawn, and what they do to the pieces that were read before them.

use super::instruments::not_registered;
use super::review_views::Role;
use super::show::piece_of;
use super::{AppError, Desk, Setup, new_uuid, said};
use crate::evidence::control::{Circumstances, ControlPoint, ControlReason, unproved};
use crate::evidence::{Amount, Measurand, Probe, ReferencePiece, Registered};
use crate::intake::typed::{self, TypedField};
use crate::intake::{ControlId, PieceState, TypedReading, Whereabouts};
use crate::quantity::{Length, Mass, Quantity, Temperature};
use crate::scoring::{ControlReading, ControlVerdict, judge_control};
use crate::store::{Act, ControlRow, Deed, NewControl, Reader, ReadingRow, Writer};
use chrono::{DateTime, Local, Offset, Utc};
use serde_json::{Value, json};

/// A control as typed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ControlRequest {
    /// Name of the reference piece.
    pub reference: String,
    /// The value as shown.
    pub value: String,
    /// The instrument; may be left out while one instrument in use is checked on the piece.
    pub instrument: Option<String>,
    /// The probe; may be left out while the desk has one.
    pub probe: Option<String>,
    /// Temperature of the piece.
    pub temperature: Option<String>,
    /// Why it is taken; without one the state of the instrument says.
    pub reason: Option<ControlReason>,
}

/// What a control came to.
#[derive(Debug, Clone, PartialEq)]
pub struct ControlOutcome {
    /// The control as recorded.
    pub control: ControlRow,
    /// The verdict with its budget.
    pub verdict: ControlVerdict,
    /// Earlier controls in control that its limits rest on.
    pub earlier: usize,
    /// Numbers of the pieces at the desk that went back on hold.
    pub held: Vec<String>,
    /// Numbers of the pieces in stock that are on the recall list now.
    pub recalled: Vec<String>,
    /// Numbers of the pieces that had left the desk another way.
    pub gone: Vec<String>,
}

/// A control that is read and understood.
struct Typed<'a> {
    instrument: Registered,
    piece: &'a ReferencePiece,
    probe: Option<Probe>,
    value: TypedReading,
    temperature: Option<TypedReading>,
}

impl Desk {
    /// Records a control of an instrument on a reference piece.
    ///
    /// When it fails, every reading since the last control that passed counts for nothing: in the same transaction the pieces
    /// at the desk go back on hold and those in stock go on the recall list, each with a row of the journal.
    ///
    /// # Errors
    /// `Usage` for a name, a value or a probe that is not known, and for a value that the instrument cannot vouch for.
    pub fn record_control(&mut self, request: &ControlRequest) -> Result<ControlOutcome, AppError> {
        let act = self.act();
        self.record_control_at(&act, request)
    }

    /// Records a control at a time given; the invented day has weeks of them.
    pub(super) fn record_control_at(
        &mut self,
        act: &Act,
        request: &ControlRequest,
    ) -> Result<ControlOutcome, AppError> {
        let Desk { store, setup, .. } = self;
        let typed = setup.read_control(request)?;
        store.write(act, |writer| {
            setup.keep_rules(writer)?;
            let (row, verdict, earlier) = setup.control_row(writer, &typed, request.reason)?;
            writer.insert_control(&NewControl {
                row: &row,
                probe: typed.probe.as_ref(),
                shown: (typed.value.amount.base, typed.value.step),
                unit: typed.value.unit,
                temperature_text: typed.temperature.as_ref().map(|temperature| temperature.text.as_str()),
            })?;
            writer.journal(Deed::ControlRecorded, &control_json(&row), None)?;
            let mut outcome = ControlOutcome {
                control: row,
                verdict,
                earlier,
                held: Vec::new(),
                recalled: Vec::new(),
                gone: Vec::new(),
            };
            if !outcome.control.passed {
                setup.void_since_last_good(writer, &mut outcome)?;
            }
            Ok(outcome)
        })
    }

    /// Withdraws a failed control that was entered by mistake; the pieces that it put on hold are scored again.
    ///
    /// A control that passed is not withdrawn: another one settles more.
    ///
    /// # Errors
    /// `NotPermitted` without the role of a reviewer or the PIN, `Usage` without a reason, `Failed` for a control that passed or
    /// is withdrawn already.
    pub fn withdraw_control(
        &mut self,
        control: ControlId,
        reason: &str,
        pin: Option<&str>,
    ) -> Result<ControlRow, AppError> {
        let reason = said("the reason", reason)?;
        self.allow(pin, Role::Reviewer)?;
        let act = self.act();
        let Desk { store, setup, .. } = self;
        store.write(&act, |writer| {
            setup.keep_rules(writer)?;
            let found = writer.read().control(control)?;
            let row =
                found.ok_or_else(|| AppError::failed(format!("control `{control}` is not in the book")))?;
            if row.passed {
                return Err(AppError::failed("a control that passed is not withdrawn: take another one"));
            }
            if row.withdrawn.is_some() {
                return Err(AppError::failed("this control is withdrawn already"));
            }
            let reader = writer.read();
            let since = last_good(reader, &row)?;
            let pieces = reader.pieces_read_with(&row.instrument, row.probe.as_deref(), since, act.at)?;
            writer.withdraw_control(control, &reason)?;
            let mut told = Vec::new();
            let all = pieces.len();
            for (done, piece) in pieces.into_iter().enumerate() {
                writer.step_of("pieces scored again", done, all)?;
                if piece_of(writer.read(), piece)?.whereabouts == Whereabouts::Here {
                    let assessment = setup.settle(writer, piece)?;
                    told.push(json!({ "piece": piece.to_string(), "assessment": assessment }));
                }
            }
            let payload = json!({ "control": control.to_string(), "reason": reason, "pieces": told });
            writer.journal(Deed::ControlWithdrawn, &payload, None)?;
            Ok(ControlRow { withdrawn: Some(reason.clone()), ..row })
        })
    }
}

impl Setup {
    /// Reads a control and finds what it names.
    fn read_control(&self, request: &ControlRequest) -> Result<Typed<'_>, AppError> {
        let register = &self.instruments.register;
        let usage = |message: String| AppError::usage(message, Vec::new());
        let piece = register.reference(&request.reference).ok_or_else(|| {
            let names: Vec<String> =
                register.references.iter().map(|piece| format!("`{}`", piece.name)).collect();
            let name = crate::quantity::entry::clean(&request.reference);
            if names.is_empty() {
                return usage(format!("reference piece `{name}` is not known: the register holds none"))
                    .with_hint(
                        "register reference pieces in a file and set it with `scruple instrument set FILE`",
                    );
            }
            usage(format!("reference piece `{name}` is not one of {}", names.join(", ")))
        })?;
        let measurand = piece.assigned.measurand;
        let instrument = match &request.instrument {
            Some(name) => register.instrument(name).ok_or_else(|| not_registered(name, register))?,
            None => self.instrument_for(piece)?,
        };
        if !piece.is_for(instrument.kind, &instrument.name) {
            let message = format!("`{}` is not checked on `{}`", instrument.name, piece.name);
            return Err(usage(message));
        }
        let value = read(measurand, &request.value)?;
        if let Some(reason) = self.beyond(&instrument, value.amount) {
            return Err(usage(reason));
        }
        let temperature =
            request.temperature.as_deref().map(|text| read(Measurand::Temperature, text)).transpose()?;
        let probe = match (measurand, &request.probe, self.instruments.probes.as_slice()) {
            (Measurand::Conductivity, Some(name), _) => Some(self.probe(name)?),
            (Measurand::Conductivity, None, [only]) => Some(only.clone()),
            (Measurand::Conductivity, None, _) => {
                return Err(
                    usage("a control of a meter names its probe".to_owned()).with_hint("`--probe NAME`")
                );
            }
            (_, Some(_), _) => return Err(usage(format!("a {measurand} is read without a probe"))),
            (_, None, _) => None,
        };
        Ok(Typed { instrument, piece, probe, value, temperature })
    }

    /// Returns the instrument in use that is checked on a piece.
    fn instrument_for(&self, piece: &ReferencePiece) -> Result<Registered, AppError> {
        let in_use = |one: &Registered| {
            one.kind.measurands().iter().any(|of| self.instruments.name_for(*of) == Some(one.name.as_str()))
        };
        let all = self.instruments.register.instruments();
        let mut found: Vec<Registered> =
            all.into_iter().filter(|one| piece.is_for(one.kind, &one.name) && in_use(one)).collect();
        match found.len() {
            1 => Ok(found.remove(0)),
            0 => Err(AppError::usage(
                format!("no instrument in use is checked on `{}`", piece.name),
                vec!["name one with `--instrument`".to_owned()],
            )),
            _ => {
                let names: Vec<String> = found.iter().map(|one| format!("`{}`", one.name)).collect();
                Err(AppError::usage(
                    format!("`{}` checks {}", piece.name, names.join(" and ")),
                    vec!["name one with `--instrument`".to_owned()],
                ))
            }
        }
    }

    /// Says why an instrument cannot vouch for a value.
    fn beyond(&self, instrument: &Registered, value: Amount) -> Option<String> {
        let with = self.with_in_use(&instrument.name, instrument.kind.measurands());
        match value.measurand {
            Measurand::Mass => with.scale.cannot_vouch(Mass::from_base(value.base)),
            Measurand::Conductivity => None,
            _ => with.for_length(Measurand::Length).cannot_vouch(Length::from_base(value.base)),
        }
    }

    fn with_in_use(&self, name: &str, of: &[Measurand]) -> crate::evidence::Instruments {
        let choice: Vec<(Measurand, String)> = of.iter().map(|of| (*of, name.to_owned())).collect();
        self.instruments.using(&choice)
    }

    /// Judges a control; returns the verdict and how many earlier ones it rests on.
    fn judge_typed(
        &self,
        reader: Reader<'_>,
        typed: &Typed<'_>,
        act: &Act,
    ) -> Result<(ControlVerdict, usize), AppError> {
        let Typed { instrument, piece, probe, value, temperature } = typed;
        let with = self.with_in_use(&instrument.name, instrument.kind.measurands());
        let probe_name = probe.as_ref().map(|probe| probe.name.as_str());
        let controls = reader.controls(Some(&instrument.name))?;
        let same = |row: &&ControlRow| {
            row.passed
                && row.withdrawn.is_none()
                && row.reference == piece.name
                && row.probe.as_deref() == probe_name
                && row.at <= act.at
                && row.assigned == piece.assigned.base
        };
        let earlier: Vec<f64> = controls
            .iter()
            .filter(same)
            .map(|row| Amount { measurand: row.measurand, base: row.compared }.value())
            .collect();
        let material =
            piece.material.as_ref().and_then(|material| self.catalogue.material(material.as_str()));
        let reading = ControlReading {
            instruments: &with,
            probe: probe.as_ref(),
            piece,
            material,
            value: value.amount,
            step: value.step,
            temperature: temperature.as_ref().map(|reading| Temperature::from_base(reading.amount.base)),
            earlier: &earlier,
        };
        let verdict = judge_control(&reading).ok_or_else(|| {
            AppError::failed(format!("reference piece `{}` has no material in the register", piece.name))
                .with_hint("a conductivity is referred to 20 C by the coefficient of its material")
        })?;
        Ok((verdict, earlier.len()))
    }

    /// Judges a control and makes its row.
    fn control_row(
        &self,
        writer: &Writer<'_>,
        typed: &Typed<'_>,
        reason: Option<ControlReason>,
    ) -> Result<(ControlRow, ControlVerdict, usize), AppError> {
        let act = writer.act();
        let (verdict, earlier) = self.judge_typed(writer.read(), typed, act)?;
        let probe = typed.probe.as_ref().map(|probe| probe.name.clone());
        let temperature =
            typed.temperature.as_ref().map(|reading| Temperature::from_base(reading.amount.base));
        let reason = match reason {
            Some(reason) => reason,
            None => {
                self.reason_now(writer.read(), &typed.instrument.name, probe.as_deref(), act.at, temperature)?
            }
        };
        let row = ControlRow {
            id: ControlId::new(new_uuid(act.at)),
            instrument: typed.instrument.name.clone(),
            reference: typed.piece.name.clone(),
            measurand: typed.piece.assigned.measurand,
            probe,
            reason,
            text: typed.value.text.clone(),
            temperature,
            compared: verdict.compared.base,
            expanded: verdict.expanded.base,
            assigned: typed.piece.assigned.base,
            assigned_expanded: verdict.assigned_expanded.base,
            e_n: verdict.e_n,
            passed: verdict.passed,
            finding: verdict.finding.clone(),
            instruments: self.texts.instruments_version.clone(),
            offset_min: act.at.with_timezone(&Local).offset().fix().local_minus_utc() / 60,
            at: act.at,
            operator: act.operator.clone(),
            withdrawn: None,
        };
        Ok((row, verdict, earlier))
    }

    /// Returns why a control is taken now, by what happened since the last one.
    fn reason_now(
        &self,
        reader: Reader<'_>,
        instrument: &str,
        probe: Option<&str>,
        at: DateTime<Utc>,
        temperature: Option<Temperature>,
    ) -> Result<ControlReason, AppError> {
        let Some(last) = reader.control_before(instrument, probe, at)? else {
            return Ok(ControlReason::StartOfDay);
        };
        let point = point(&last);
        let day = point.day();
        let today = ControlPoint { at, ..point.clone() }.day();
        let apart = last.temperature.zip(temperature).is_some_and(|(then, now)| {
            (now.as_celsius() - then.as_celsius()).abs() > crate::evidence::control::MOST_APART_K
        });
        Ok(if day != today {
            ControlReason::StartOfDay
        } else if probe.is_some() && reader.other_probe_between(instrument, probe, last.at, at)? {
            ControlReason::ProbeChange
        } else if apart {
            ControlReason::TemperatureMoved
        } else {
            ControlReason::QuestionableReading
        })
    }

    /// Puts every piece read since the last control that passed on hold, or on the recall list.
    fn void_since_last_good(
        &self,
        writer: &Writer<'_>,
        outcome: &mut ControlOutcome,
    ) -> Result<(), AppError> {
        let control = outcome.control.clone();
        let reader = writer.read();
        let since = last_good(reader, &control)?;
        let probe = control.probe.as_deref();
        let pieces = reader.pieces_read_with(&control.instrument, probe, since, control.at)?;
        let all = pieces.len();
        for (done, piece) in pieces.into_iter().enumerate() {
            writer.step_of("pieces that lose their control", done, all)?;
            let row = piece_of(writer.read(), piece)?;
            if row.state == PieceState::Voided {
                continue;
            }
            let number = row.number.to_string();
            let told = |more: Value| {
                let mut payload = json!({ "piece": piece.to_string(), "number": number, "control": control.id.to_string() });
                if let (Value::Object(payload), Value::Object(more)) = (&mut payload, more) {
                    payload.extend(more);
                }
                payload
            };
            match row.whereabouts {
                Whereabouts::Here => {
                    let assessment = self.settle(writer, piece)?;
                    writer.journal(Deed::PieceUnproved, &told(json!({ "assessment": assessment })), None)?;
                    outcome.held.push(number.clone());
                }
                Whereabouts::Stock => {
                    let text = format!("`{}`: {}", control.instrument, control.finding);
                    writer.insert_recall(piece, control.id, &text)?;
                    writer.withdraw_taught(
                        piece,
                        "recalled: an instrument behind its readings failed a control",
                    )?;
                    writer.journal(Deed::PieceRecalled, &told(json!({ "why": text })), None)?;
                    outcome.recalled.push(number.clone());
                }
                _ => outcome.gone.push(number.clone()),
            }
        }
        Ok(())
    }

    /// Says why no control stands behind a reading; `None` when one does, or none is asked for.
    pub(super) fn without_control(
        &self,
        reader: Reader<'_>,
        reading: &ReadingRow,
        temperature: Option<Temperature>,
    ) -> Result<Option<String>, AppError> {
        let register = &self.instruments.register;
        let named = reading.instrument.as_deref().and_then(|name| register.instrument(name));
        let Some(instrument) = named else { return Ok(None) };
        if register.references_for(instrument.kind, &instrument.name).is_empty() {
            return Ok(None);
        }
        let probe = reading.probe.as_ref().map(|probe| probe.name.as_str());
        let before = reader.control_before(&instrument.name, probe, reading.at)?;
        let after = reader.control_after(&instrument.name, probe, reading.at)?;
        let keeps = register.keeps_standardisation(&instrument.name);
        let probe_changed = match &before {
            Some(before) if probe.is_some() && !keeps => {
                reader.other_probe_between(&instrument.name, probe, before.at, reading.at)?
            }
            _ => false,
        };
        let who = match probe {
            Some(probe) => format!("{}, {probe}", instrument.name),
            None => instrument.name.clone(),
        };
        let (before, after) = (before.as_ref().map(point), after.as_ref().map(point));
        let then = Circumstances { temperature, probe_changed };
        Ok(unproved(&who, before.as_ref(), after.as_ref(), reading.at, then))
    }
}

/// Returns when the last control in force passed before another one, with the same instrument and probe.
fn last_good(reader: Reader<'_>, control: &ControlRow) -> Result<Option<DateTime<Utc>>, AppError> {
    let controls = reader.controls(Some(&control.instrument))?;
    let before = controls.iter().filter(|row| {
        row.probe == control.probe
            && row.passed
            && row.withdrawn.is_none()
            && (row.at, row.id) < (control.at, control.id)
    });
    Ok(before.map(|row| row.at).max())
}

/// Returns a control as the state machine sees it.
pub(super) fn point(row: &ControlRow) -> ControlPoint {
    ControlPoint {
        at: row.at,
        offset_min: row.offset_min,
        passed: row.passed,
        temperature: row.temperature,
        reference: row.reference.clone(),
        finding: row.finding.clone(),
    }
}

/// Reads a value with its unit.
fn read(measurand: Measurand, text: &str) -> Result<TypedReading, AppError> {
    match typed::read(measurand, text, None) {
        Ok(TypedField::Value(reading)) => Ok(reading),
        Ok(_) => {
            Err(AppError::usage(format!("{measurand} is empty"), vec!["type the value shown".to_owned()]))
        }
        Err(error) => Err(AppError::usage(error.to_string(), Vec::new())),
    }
}

/// Returns a control as the journal tells it.
fn control_json(row: &ControlRow) -> Value {
    json!({
        "control": row.id.to_string(),
        "instrument": row.instrument,
        "reference": row.reference,
        "quantity": row.measurand.name(),
        "probe": row.probe,
        "reason": row.reason.words(),
        "text": row.text,
        "temperature": row.temperature.map(Quantity::base),
        "compared": row.compared,
        "e_n": row.e_n,
        "outcome": if row.passed { "passed" } else { "failed" },
        "finding": row.finding,
        "instruments": row.instruments,
    })
}
