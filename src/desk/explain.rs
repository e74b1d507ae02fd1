//! Where each number and word about a piece comes from, as it was when the piece was scored.

use super::custody::named_piece;
use super::recompute::Recomputer;
use super::settle::body;
use super::show::{kept_assessment, lot_of};
use super::type_book::type_book_of;
use super::{AppError, Desk, Setup};
use crate::intake::HoldOrigin;
use crate::scoring::{
    Assessment, Declared, DoubtKind, Explanation, Known, Offer, Rules, Source, Step, Thing, explain,
};
use crate::store::{FiledAssessment, HoldRow, PieceRow, Reader, ReadingRow, SecondTestRow, StoreError};
use chrono::{DateTime, Utc};

/// Everything about a piece that can be explained.
#[derive(Debug, Clone, PartialEq)]
pub struct Explained {
    /// Number of the piece.
    pub number: String,
    /// The explanations, open doubts first.
    pub things: Vec<Explanation>,
}

impl Explained {
    /// Returns the explanation of a thing.
    pub fn of(&self, thing: &Thing) -> Option<&Explanation> {
        self.things.iter().find(|explanation| explanation.thing == *thing)
    }

    /// Returns what a number of the list, counted from 1, or a word names.
    ///
    /// # Errors
    /// `Usage` with what is allowed.
    pub fn named(&self, what: &str) -> Result<&Explanation, AppError> {
        let what = crate::quantity::entry::clean(what);
        let found = match what.parse::<usize>() {
            Ok(number) => number.checked_sub(1).and_then(|place| self.things.get(place)),
            Err(_) => self.things.iter().find(|one| one.thing.word().eq_ignore_ascii_case(&what)),
        };
        found.ok_or_else(|| {
            let message = format!(
                "nothing about piece `{}` has the number or word `{what}`; allowed is a number from 1 to {}, or a word of the list",
                self.number,
                self.things.len()
            );
            AppError::usage(message, vec![format!("`scruple explain {}` lists them", self.number)])
        })
    }
}

impl Desk {
    /// Explains everything about a piece, by its number or serial, with the rules, the reference and the price that it was scored
    /// with.
    ///
    /// # Errors
    /// `Failed` when no piece has it, or when what it was scored with cannot be had any more.
    pub fn explain(&self, piece: &str) -> Result<Explained, AppError> {
        let reader = self.store.read();
        let row = named_piece(reader, piece)?;
        let filed = filed(reader, &row)?;
        let (mut things, assessment) = match self.setup.explain_now(reader, &row, &filed)? {
            Some(found) => found,
            None => self.explain_as_kept(reader, &row, &filed)?,
        };
        let mut all = Vec::new();
        for (place, hold) in reader.open_holds_of_piece(row.id)?.iter().enumerate() {
            all.push(of_hold(place, hold, &assessment, &things, filed.at));
        }
        // A doubt that stands open in the record is explained there.
        let open = |one: &Explanation| {
            all.iter().any(|hold: &Explanation| hold.result == one.result && hold.cause == one.cause)
        };
        things.retain(|one| !matches!(one.thing, Thing::Doubt(_)) || !open(one));
        if let Some(price) = things.iter_mut().find(|one| one.thing == Thing::Price) {
            self.date_price(reader, &row, filed.at, price)?;
        }
        all.extend(things);
        Ok(Explained { number: row.number.to_string(), things: all })
    }

    /// Explains by what the book keeps of the rules of that time.
    fn explain_as_kept(
        &self,
        reader: Reader<'_>,
        row: &PieceRow,
        filed: &FiledAssessment,
    ) -> Result<(Vec<Explanation>, Assessment), AppError> {
        let mut recomputer = Recomputer::new(reader, &self.setup.catalogue)?;
        let behind = recomputer.made_from(filed)?.map_err(|why| {
            AppError::failed(format!(
                "the assessment of piece `{}` cannot be worked out again: {why}",
                row.number
            ))
            .with_hint("score its lot again with `scruple rescore`, then ask again")
        })?;
        let known = reader.as_known_to(filed.id, filed.at, behind.strictly);
        behind.setup.explained(known, &behind.declared()?, &behind.readings, &behind.tests)
    }

    /// Says when the price was entered, and by whom.
    fn date_price(
        &self,
        reader: Reader<'_>,
        row: &PieceRow,
        at: DateTime<Utc>,
        price: &mut Explanation,
    ) -> Result<(), AppError> {
        let Some(product) = self.setup.catalogue.product(row.product.as_str()) else { return Ok(()) };
        if let Some((kept, by)) = reader.price_at(product.metal, at)? {
            price.result.push_str(&format!(", entered {}", minute(kept.at)));
            price.sources = vec![Source::new(
                format!("{} entered by {by} on {}", kept.per_troy_ounce, minute(kept.at)),
                Known::Person,
            )];
        }
        Ok(())
    }
}

impl Setup {
    /// Explains by the rules of today, where they give what was kept.
    fn explain_now(
        &self,
        reader: Reader<'_>,
        row: &PieceRow,
        filed: &FiledAssessment,
    ) -> Result<Option<(Vec<Explanation>, Assessment)>, AppError> {
        let kept = &filed.kept;
        let same_rules = kept.instruments == self.texts.instruments_version
            && kept.assessment.policy == self.policy.version()
            && kept.assessment.reference == self.catalogue.version();
        let Some(product) = self.catalogue.product(row.product.as_str()).filter(|_| same_rules) else {
            return Ok(None);
        };
        let source = lot_of(reader, row.lot)?.source;
        let used = kept.assessment.type_book.as_ref().map(|used| used.version.as_str());
        let book = type_book_of(reader, &row.product, used)?;
        let (price, lot_size) = (kept.price, kept.lot_size);
        let declared = Declared { product, price, lot_size, source: Some(&source), type_book: book.as_ref() };
        let readings = reader.readings_in_force(row.id)?;
        let tests = reader.second_tests_of(row.id)?;
        let found = self.explained(reader, &declared, &readings, &tests)?;
        Ok(Some(found).filter(|(_, again)| body(again) == kept.body))
    }

    /// Assesses once more and explains what comes out.
    fn explained(
        &self,
        reader: Reader<'_>,
        declared: &Declared<'_>,
        readings: &[ReadingRow],
        tests: &[SecondTestRow],
    ) -> Result<(Vec<Explanation>, Assessment), AppError> {
        let evidence = self.evidence(reader, readings, tests)?;
        let assessment = self.assess_taken(declared, readings, &evidence);
        let instruments = self.as_taken(readings);
        let rules = Rules { instruments: &instruments, ..self.rules() };
        Ok((explain(&rules, declared, &evidence, &assessment), assessment))
    }
}

/// Returns the assessment in force of a piece as it was filed.
fn filed(reader: Reader<'_>, row: &PieceRow) -> Result<FiledAssessment, AppError> {
    let filed = row.assessment.map(|id| reader.filed_assessment(id)).transpose()?.flatten();
    match filed {
        Some(filed) => Ok(filed),
        // Says what is missing.
        None => Err(kept_assessment(reader, row).err().unwrap_or_else(|| {
            StoreError::Strange { column: "piece.assessment", found: format!("nothing, for {}", row.number) }
                .into()
        })),
    }
}

/// Explains an open doubt of the record: who opened it and when, then what scoring says about it.
fn of_hold(
    place: usize,
    hold: &HoldRow,
    assessment: &Assessment,
    things: &[Explanation],
    scored_at: DateTime<Utc>,
) -> Explanation {
    let raised = assessment
        .doubts
        .iter()
        .position(|doubt| doubt.kind == hold.kind && doubt.cause.key() == hold.cause.key());
    let explained = raised.and_then(|place| things.iter().find(|one| one.thing == Thing::Doubt(place)));
    let mut made = match explained {
        Some(explained) => explained.clone(),
        None => Explanation {
            thing: Thing::Hold(place),
            title: hold.kind.label().to_owned(),
            steps: vec![Step::said(why(hold))],
            result: String::new(),
            cause: Some((hold.cause.clone(), methods(hold))),
            sources: Vec::new(),
            changes: by_hand(hold),
        },
    };
    made.thing = Thing::Hold(place);
    let (opened, by) = (minute(hold.opened_at), &hold.opened_by);
    let source = match hold.origin {
        HoldOrigin::Person => Source::new(format!("put on hold by {by} on {opened}"), Known::Person),
        HoldOrigin::Record => {
            Source::new(format!("opened from the record on {opened}, at an act of {by}"), Known::Book)
        }
        HoldOrigin::Scoring => Source::new(
            format!("opened by scoring on {opened}, at an act of {by}; scored last on {}", minute(scored_at)),
            Known::Book,
        ),
    };
    made.sources.insert(0, source);
    made
}

/// Says by which rule a doubt stands that scoring does not raise.
fn why(hold: &HoldRow) -> String {
    let words = match (hold.origin, hold.kind) {
        (HoldOrigin::Person, _) => {
            "a person put it there with this reason; only a person takes it back, with a reason"
        }
        (_, DoubtKind::Identity) => {
            "the serial is borne twice, is missing, or is not on the packing list; it closes when the record is mended"
        }
        (_, DoubtKind::LegalHold) => "the holding period set for the source is not over",
        (_, DoubtKind::OddOneOut) => {
            "compared with the other pieces of its lot, it differs by more than chance does"
        }
        _ => "the record raised it; it closes when the record is mended",
    };
    words.to_owned()
}

/// Returns what was considered against a hold; one that a person put goes by hand.
fn methods(hold: &HoldRow) -> Vec<Offer> {
    if hold.origin == HoldOrigin::Person { Vec::new() } else { hold.offers.clone() }
}

/// Says how a hold goes that a person put.
fn by_hand(hold: &HoldRow) -> Vec<String> {
    let words = "taking it back by hand, with a reason (F6, `scruple hold --take-back`)";
    (hold.origin == HoldOrigin::Person).then(|| words.to_owned()).into_iter().collect()
}

/// Returns a moment to the minute, `2026-03-14 17:05 UTC`.
fn minute(at: DateTime<Utc>) -> String {
    at.format("%Y-%m-%d %H:%M UTC").to_string()
}
