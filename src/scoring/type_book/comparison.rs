//! A piece beside what earlier pieces taught: it may gain a doubt and never loses one.

use super::entry::entries;
use super::learned::{Learned, TypeBook};
use crate::evidence::PieceEvidence;
use crate::metrology::robust::scale_floor;
use crate::reference::{Kind, Product};
use crate::scoring::assess::Rules;
use crate::scoring::assessment::{Assessment, Scope, Standing};
use crate::scoring::cause::{Cause, LearnedValue, Remark, Rule};
use crate::scoring::doubt::{Doubt, DoubtKind, Method, Offer, Power};
use crate::scoring::doubts::rank;
use crate::scoring::lots::screen::odd_offers;
use crate::scoring::lots::{LotQuantity, LotValue};
use serde::{Deserialize, Serialize};

/// One quantity of a piece beside the learned figures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Compared {
    /// The quantity.
    pub quantity: LotQuantity,
    /// The instrument.
    pub instrument: String,
    /// Value of the piece.
    pub value: LotValue,
    /// Pieces behind the figures.
    pub pieces: u32,
    /// Learned centre.
    pub centre: LotValue,
    /// Its standard uncertainty, k = 1.
    pub centre_u: LotValue,
    /// Learned standard deviation of a piece.
    pub scatter: LotValue,
    /// Lower end of what is expected.
    pub lower: LotValue,
    /// Upper end of what is expected.
    pub upper: LotValue,
    /// Whether the value lies outside.
    pub odd: bool,
}

/// Which learned figures an assessment used, and how: by them it can be computed again to the last digit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TypeBookUse {
    /// Version of the type book.
    pub version: String,
    /// Chance that a good piece lies outside in one of its quantities.
    pub significance: f64,
    /// The quantities that were compared.
    pub compared: Vec<Compared>,
}

impl TypeBookUse {
    /// Returns the quantities in which the piece differs.
    pub fn odd(&self) -> impl Iterator<Item = &Compared> {
        self.compared.iter().filter(|compared| compared.odd)
    }
}

/// Compares a piece with learned figures and notes what was used; only ever adds a doubt, and never lowers the standing.
pub(in crate::scoring) fn beside(
    assessment: &mut Assessment,
    rules: &Rules<'_>,
    product: &Product,
    evidence: &PieceEvidence,
    book: &TypeBook,
) {
    let policy = rules.policy.type_book;
    let found = entries(rules, product, evidence, assessment);
    let known: Vec<_> = found
        .iter()
        .filter_map(|entry| Some((entry, book.of(entry.quantity, &entry.instrument)?)))
        .filter(|(_, learned)| learned.pieces >= policy.least)
        .collect();
    // Each quantity gets its part of the chance of a false alarm (Bonferroni).
    let significance = policy.significance / known.len().max(1) as f64;
    let compared: Vec<(Compared, &Learned)> = known
        .into_iter()
        .filter_map(|(entry, learned)| {
            let floor = scale_floor(entry.repeatability.value(), entry.step.value());
            let (lower, upper) = learned.expected(significance, Some(entry.quantity.value(floor)))?;
            let figures = learned.figures?;
            let value = entry.value.value();
            let compared = Compared {
                quantity: entry.quantity,
                instrument: entry.instrument.clone(),
                value: entry.value,
                pieces: learned.pieces,
                centre: figures.centre,
                centre_u: figures.centre_u,
                scatter: figures.scatter,
                lower,
                upper,
                odd: value < lower.value() || value > upper.value(),
            };
            Some((compared, learned))
        })
        .collect();
    if compared.is_empty() {
        return;
    }
    let odd: Vec<&(Compared, &Learned)> = compared.iter().filter(|(compared, _)| compared.odd).collect();
    if !odd.is_empty() {
        let mut doubt = doubt(assessment, product, &odd, policy.significance, compared.len());
        rank(&mut doubt.offers, rules.policy);
        let place = assessment.doubts.iter().position(|doubt| doubt.scope == Scope::Lot);
        assessment.doubts.insert(place.unwrap_or(assessment.doubts.len()), doubt);
        assessment.standing = assessment.standing.max(Standing::Hold);
        assessment.remarks.insert(0, Remark::TypeBook { values: values(&odd) });
    }
    assessment.type_book = Some(TypeBookUse {
        version: book.version().to_owned(),
        significance: policy.significance,
        compared: compared.into_iter().map(|(compared, _)| compared).collect(),
    });
}

fn values(odd: &[&(Compared, &Learned)]) -> Vec<LearnedValue> {
    let value = |(compared, learned): &&(Compared, &Learned)| LearnedValue {
        quantity: compared.quantity,
        value: compared.value,
        pieces: compared.pieces,
        instrument: compared.instrument.clone(),
        centre: compared.centre,
        scatter: compared.scatter,
        lower: compared.lower,
        upper: compared.upper,
        decimals: learned.decimals(),
    };
    odd.iter().map(value).collect()
}

/// Returns the doubt of a piece that differs from what earlier pieces taught.
fn doubt(
    own: &Assessment,
    product: &Product,
    odd: &[&(Compared, &Learned)],
    significance: f64,
    compared: usize,
) -> Doubt {
    let mut offers = odd_offers(odd.iter().map(|(compared, _)| compared.quantity), &own.doubts);
    let mut add = |method: Method, rule: Rule| {
        if offers.iter().all(|offer| offer.method != method) {
            offers.push(Offer::always(method, Power::Narrows, rule));
        }
    };
    add(Method::Immersion, Rule::WholeDensity);
    if product.kind == Kind::Coin {
        add(Method::Expert, Rule::OnlyAnExpert);
    }
    let cause = Cause::OddForType { values: values(odd), significance, compared };
    Doubt::new(DoubtKind::OddOneOut, Scope::Piece, cause, offers)
}
