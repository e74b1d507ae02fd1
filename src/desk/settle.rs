//! From the readings in force to an assessment, and from its doubts to holds, inside one transaction.

use super::custody::at_the_desk;
use super::lot_screen::is_of_the_lot;
use super::settled::{abouts, has_settlements, open_doubts, unsettled};
use super::show::{lot_of, piece_of};
use super::{AppError, Setup, new_uuid};
use crate::evidence::{Measurand, Observation, PieceEvidence};
use crate::intake::lifecycle::{HoldEvent, HoldState, PieceEvent};
use crate::intake::{AssessmentId, HoldId, HoldOrigin, LotId, PieceId, Whereabouts};
use crate::quantity::{Mass, Money, Quantity};
use crate::reference::{MaterialId, Product};
use crate::scoring::{Assessment, Cause, Declared, Doubt, DoubtKind, Method, Offer, Power, Scope, Standing};
use crate::store::{
    HoldRow, NewAssessment, NewHold, PieceRow, PieceUpdate, ReadingRow, SecondTestRow, Subject, Writer,
    digest,
};
use serde_json::{Value, json};
use std::collections::HashMap;

/// Reason of a hold that the program closes.
const NOT_RAISED: &str = "the doubt is not raised any more";

impl Setup {
    /// Keeps the texts that scoring rests on, the first time each version is used.
    pub(super) fn keep_rules(&self, writer: &Writer<'_>) -> Result<(), AppError> {
        writer.keep_rule_text("policy", self.policy.version(), &self.texts.policy)?;
        writer.keep_rule_text("instruments", &self.texts.instruments_version, &self.texts.instruments)?;
        if let Some(products) = &self.texts.products {
            writer.keep_rule_text("products", self.catalogue.version(), products)?;
        }
        Ok(())
    }

    /// Assesses a piece by its readings in force, brings its holds and those of its lot in line, and counts anew.
    ///
    /// Returns what the journal says about the assessment: identity, outcome, and the digest of its text.
    pub(super) fn settle(&self, writer: &Writer<'_>, piece: PieceId) -> Result<Value, AppError> {
        let reader = writer.read();
        let row = piece_of(reader, piece)?;
        at_the_desk(&row)?;
        let lot = lot_of(reader, row.lot)?;
        let product = self.product(&row.product)?;
        let readings = reader.readings_in_force(piece)?;
        let tests = reader.second_tests_of(piece)?;
        let evidence = self.evidence(reader, &readings, &tests)?;
        let price = reader.price(product.metal)?.map(|row| row.per_troy_ounce);
        let book = self.type_book_in_force(writer, &row.product)?;
        let (lot_size, source) = (lot.expected, Some(lot.source.as_str()));
        let declared = Declared { product, price, lot_size, source, type_book: book.as_ref() };
        let assessment = self.assess_taken(&declared, &readings, &evidence);
        let (id, summary) =
            self.keep_assessment(writer, &row, &assessment, (&readings, &tests), price, lot.expected)?;
        let (own, shared): (Vec<&Doubt>, Vec<&Doubt>) = open_doubts(reader, &row, &readings, &assessment)?
            .into_iter()
            .partition(|doubt| doubt.scope == Scope::Piece);
        let of_scoring = |hold: &HoldRow| hold.origin == HoldOrigin::Scoring;
        reconcile(writer, &row, of_scoring, HoldOrigin::Scoring, &own)?;
        raise_on_lot(writer, row.lot, piece, &merged(&shared))?;
        self.reconcile_identity(writer, &row)?;
        let fine = fine_mass(product, &evidence);
        count_anew(writer, &PieceRow { assessment: Some(id), fine, ..row }, assessment.standing)?;
        Ok(summary)
    }

    fn keep_assessment(
        &self,
        writer: &Writer<'_>,
        piece: &PieceRow,
        assessment: &Assessment,
        (readings, tests): (&[ReadingRow], &[SecondTestRow]),
        price: Option<Money>,
        lot_size: u32,
    ) -> Result<(AssessmentId, Value), AppError> {
        let id = AssessmentId::new(new_uuid(writer.act().at));
        let body = body(assessment);
        let measured = readings.iter().filter(|reading| reading.amount.is_some());
        let used = measured
            .map(|reading| reading.id.to_string())
            .chain(tests.iter().map(|test| test.id.to_string()));
        let summary = json!({
            "id": id.to_string(),
            "standing": assessment.standing.word(),
            "score": assessment.score_shown(),
            "text_sha256": digest(&body),
        });
        writer.insert_assessment(&NewAssessment {
            id,
            piece: piece.id,
            assessment,
            readings: used.collect(),
            instruments: &self.texts.instruments_version,
            price,
            lot_size,
            body,
        })?;
        Ok((id, summary))
    }

    /// Brings the identity doubts of a piece in line with the record, and counts anew; the assessment stays.
    pub(super) fn settle_identity(&self, writer: &Writer<'_>, piece: PieceId) -> Result<(), AppError> {
        let row = piece_of(writer.read(), piece)?;
        if row.whereabouts != Whereabouts::Here {
            // What left the desk keeps its record; the piece that is here gets the doubt.
            return Ok(());
        }
        self.reconcile_identity(writer, &row)?;
        recount(writer, piece)
    }

    fn reconcile_identity(&self, writer: &Writer<'_>, row: &PieceRow) -> Result<(), AppError> {
        let doubts = self.identity_doubts(writer.read(), row)?;
        let open = unsettled(writer.read(), row.id, &doubts)?;
        let of_the_record = |hold: &HoldRow| hold.origin == HoldOrigin::Record && !is_of_the_lot(hold);
        reconcile(writer, row, of_the_record, HoldOrigin::Record, &open)?;
        Ok(())
    }
}

/// Counts the open doubts of a piece and writes state and standing.
pub(super) fn recount(writer: &Writer<'_>, piece: PieceId) -> Result<(), AppError> {
    let row = piece_of(writer.read(), piece)?;
    let assessed = row.assessment.map(|id| writer.read().assessment_standing(id)).transpose()?.flatten();
    count_anew(writer, &row, assessed.unwrap_or(Standing::Hold))
}

fn count_anew(writer: &Writer<'_>, row: &PieceRow, assessed: Standing) -> Result<(), AppError> {
    let open = writer.read().open_holds_of_piece(row.id)?.len();
    let event = PieceEvent::Counted { open: u32::try_from(open).unwrap_or(u32::MAX) };
    let state = row
        .state
        .after(event)
        .map_err(|refusal| AppError::refused(&format!("piece `{}`", row.number), &refusal))?;
    let standing = match open {
        0 if assessed == Standing::Clear || has_settlements(writer.read(), row.id)? => Standing::Clear,
        0 => assessed,
        _ => assessed.max(Standing::Hold),
    };
    writer
        .update_piece(row.id, &PieceUpdate { state, standing, assessment: row.assessment, fine: row.fine })?;
    Ok(())
}

/// Closes a hold by an event of its life cycle.
pub(super) fn close(
    writer: &Writer<'_>,
    hold: &HoldRow,
    event: HoldEvent<'_>,
    whose: &str,
) -> Result<(), AppError> {
    let state =
        HoldState::Open.after(hold.origin, event).map_err(|refusal| AppError::refused(whose, &refusal))?;
    if state == HoldState::Closed {
        let reason = match event {
            HoldEvent::NotRaised => NOT_RAISED,
            HoldEvent::PieceVoided => "the piece was voided",
            HoldEvent::PieceLeft => "the piece left the desk",
            HoldEvent::TakenBack { reason } | HoldEvent::Settled { reason } => reason,
        };
        writer.close_hold(hold.id, reason)?;
    }
    Ok(())
}

/// Brings those open holds of a piece that belong together in line with the doubts that are raised now; tells whether any
/// was opened or closed.
///
/// A hold whose cause has the same key stays; of the rest, holds and doubts of one kind that are about the same materials are
/// paired and their numbers are brought up to date; what is left over is opened or closed.
pub(super) fn reconcile(
    writer: &Writer<'_>,
    row: &PieceRow,
    belongs: impl Fn(&HoldRow) -> bool,
    origin: HoldOrigin,
    doubts: &[&Doubt],
) -> Result<bool, AppError> {
    let mut open: Vec<HoldRow> = writer.read().open_holds_of_piece(row.id)?;
    open.retain(belongs);
    let mut changed = false;
    let mut raised: Vec<&Doubt> = Vec::new();
    for doubt in doubts {
        let key = doubt.cause.key();
        match open.iter().position(|hold| hold.kind == doubt.kind && hold.cause.key() == key) {
            Some(same) => {
                let hold = open.remove(same);
                if hold.cause != doubt.cause || hold.offers != doubt.offers {
                    writer.refresh_hold(hold.id, &doubt.cause, &doubt.offers)?;
                }
            }
            None => raised.push(doubt),
        }
    }
    let abouts = if raised.is_empty() { HashMap::new() } else { abouts(writer.read(), row, &open)? };
    for doubt in raised {
        match like(&open, doubt, &abouts) {
            Some(like) => writer.refresh_hold(open.remove(like).id, &doubt.cause, &doubt.offers)?,
            None => {
                open_hold(writer, row.lot, Some(row.id), origin, doubt)?;
                changed = true;
            }
        }
    }
    for hold in open {
        close(writer, &hold, HoldEvent::NotRaised, "hold")?;
        changed = true;
    }
    Ok(changed)
}

/// Opens a hold for a doubt of a piece, or of a whole lot when no piece is named.
pub(super) fn open_hold(
    writer: &Writer<'_>,
    lot: LotId,
    piece: Option<PieceId>,
    origin: HoldOrigin,
    doubt: &Doubt,
) -> Result<(), AppError> {
    let id = HoldId::new(new_uuid(writer.act().at));
    let (kind, cause, offers) = (doubt.kind, &doubt.cause, doubt.offers.as_slice());
    Ok(writer.open_hold(&NewHold { id, lot, piece, kind, origin, cause, offers })?)
}

/// Returns the place of the hold that a doubt goes on: of its kind, about the most of the same materials.
///
/// A hold that was about other materials only is another doubt: decisions and people know holds by their identity.
fn like(open: &[HoldRow], doubt: &Doubt, abouts: &HashMap<HoldId, Vec<MaterialId>>) -> Option<usize> {
    let alike = |hold: &HoldRow| {
        let about = abouts.get(&hold.id).map(Vec::as_slice).unwrap_or_default();
        let both = doubt.about.iter().filter(|material| about.contains(material)).count();
        (both > 0 || (doubt.about.is_empty() && about.is_empty())).then_some(both)
    };
    let places = open.iter().enumerate().filter(|(_, hold)| hold.kind == doubt.kind);
    let places = places.filter_map(|(place, hold)| Some((alike(hold)?, place)));
    places.max_by_key(|(both, place)| (*both, std::cmp::Reverse(*place))).map(|(_, place)| place)
}

/// Notes the doubts that a piece raises of its lot: one hold a kind, closed when no piece raises it any more.
pub(super) fn raise_on_lot(
    writer: &Writer<'_>,
    lot: LotId,
    piece: PieceId,
    doubts: &[Doubt],
) -> Result<(), AppError> {
    let kinds: Vec<DoubtKind> = doubts.iter().map(|doubt| doubt.kind).collect();
    let gone = writer.note_lot_doubts(lot, piece, &kinds)?;
    if doubts.is_empty() && gone.is_empty() {
        return Ok(());
    }
    let open = writer.read().open_holds_of_lot(lot)?;
    for doubt in doubts {
        match open.iter().find(|hold| hold.kind == doubt.kind) {
            Some(hold) if hold.cause == doubt.cause && hold.offers == doubt.offers => {}
            // The comparison of its pieces holds the lot already; a lot has one hold of a kind.
            Some(hold) if hold.origin != HoldOrigin::Scoring => {}
            Some(hold) => writer.refresh_hold(hold.id, &doubt.cause, &doubt.offers)?,
            None => open_hold(writer, lot, None, HoldOrigin::Scoring, doubt)?,
        }
    }
    for kind in gone {
        let hold = open.iter().find(|hold| hold.kind == kind);
        if let Some(hold) = hold.filter(|hold| hold.origin == HoldOrigin::Scoring)
            && !writer.read().lot_doubt_is_raised(lot, kind)?
        {
            close(writer, hold, HoldEvent::NotRaised, "hold")?;
        }
    }
    Ok(())
}

/// Brings several doubts of one kind together: their words side by side, and of each method the least it can do for any.
pub(super) fn merged(doubts: &[&Doubt]) -> Vec<Doubt> {
    let mut merged: Vec<Doubt> = Vec::new();
    for doubt in doubts {
        match merged.iter_mut().find(|other| other.kind == doubt.kind) {
            None => merged.push((*doubt).clone()),
            Some(other) => {
                other.cause = both(&other.cause, &doubt.cause);
                other.offers = least_of(&other.offers, &doubt.offers);
            }
        }
    }
    merged
}

/// Brings two causes together as one.
fn both(first: &Cause, second: &Cause) -> Cause {
    let mut causes = match first {
        Cause::Several { causes } => causes.clone(),
        one => vec![one.clone()],
    };
    causes.push(second.clone());
    Cause::Several { causes }
}

fn least_of(first: &[Offer], second: &[Offer]) -> Vec<Offer> {
    let mut methods: Vec<Method> = Vec::new();
    for offer in first.iter().chain(second) {
        if !methods.contains(&offer.method) {
            methods.push(offer.method);
        }
    }
    let find = |list: &[Offer], method| list.iter().find(|offer: &&Offer| offer.method == method).cloned();
    let mut offers: Vec<Offer> = methods
        .into_iter()
        .filter_map(|method| match (find(first, method), find(second, method)) {
            (Some(a), Some(b)) => Some(if rank(a.power) >= rank(b.power) { a } else { b }),
            // A method that one of the doubts did not consider settles only the other.
            (Some(one), None) | (None, Some(one)) => {
                let power = if one.power == Power::Settles { Power::Narrows } else { one.power };
                Some(Offer { power, ..one })
            }
            (None, None) => None,
        })
        .collect();
    offers.sort_by_key(|offer| rank(offer.power));
    offers
}

fn rank(power: Power) -> u8 {
    match power {
        Power::Settles => 0,
        Power::Narrows => 1,
        Power::Cannot => 2,
    }
}

/// Returns an assessment as the book keeps it: excluded candidates follow from the readings and are left out.
pub(super) fn body(assessment: &Assessment) -> String {
    let kept = Assessment { candidates: assessment.survivors().cloned().collect(), ..assessment.clone() };
    serde_json::to_string(&kept).expect("an assessment is made of words, texts and finite numbers")
}

/// Returns the readings and second tests in force as scoring wants them.
pub(super) fn evidence(readings: &[ReadingRow], tests: &[SecondTestRow]) -> PieceEvidence {
    let mut evidence = PieceEvidence {
        second_tests: tests.iter().map(|row| row.test.clone()).collect(),
        ..PieceEvidence::default()
    };
    for reading in readings {
        let (Subject::Measured(measurand), Some(amount)) = (reading.subject, reading.amount) else {
            continue;
        };
        let (base, step) = (amount.base, reading.step);
        match measurand {
            Measurand::Mass => evidence.mass = Some(Observation::from_base(base, step)),
            Measurand::Diameter => evidence.diameter = Some(Observation::from_base(base, step)),
            Measurand::Thickness => evidence.thickness = Some(Observation::from_base(base, step)),
            Measurand::Length => evidence.length = Some(Observation::from_base(base, step)),
            Measurand::Width => evidence.width = Some(Observation::from_base(base, step)),
            Measurand::Temperature => evidence.temperature = Some(Observation::from_base(base, step)),
            Measurand::Conductivity => {
                evidence.conductivity.push(Observation::from_base(base, step));
                evidence.probe = reading.probe.clone();
            }
        }
    }
    evidence
}

/// Returns the fine mass that a piece is declared to hold: the specification's, else its fineness in the mass measured.
fn fine_mass(product: &Product, evidence: &PieceEvidence) -> Mass {
    product.nominal_fine_mass().unwrap_or_else(|| {
        let measured =
            evidence.mass.as_ref().map(|mass| product.fineness.nominal.value.fine_mass(mass.value));
        measured.unwrap_or_else(|| Mass::from_base(0))
    })
}
