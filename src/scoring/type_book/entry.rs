//! What a piece puts into the type book when it is released, and what it is compared by when it comes in.

use crate::evidence::PieceEvidence;
use crate::reference::{Product, Shape};
use crate::scoring::assess::Rules;
use crate::scoring::assessment::{Assessment, Outcome, Standing};
use crate::scoring::lots::values::collect;
use crate::scoring::lots::{LotQuantity, LotValue, PieceKey};
use serde::{Deserialize, Serialize};

/// One value of a piece, with what the instrument behind it can tell apart.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TypeBookEntry {
    /// The quantity.
    pub quantity: LotQuantity,
    /// Name of the instrument behind the value: figures are learned instrument by instrument.
    pub instrument: String,
    /// The value; conductivity at 20 °C.
    pub value: LotValue,
    /// Standard deviation of repeated readings of one piece.
    pub repeatability: LotValue,
    /// Digit step of the instrument; 0 for a quantity that follows from several readings.
    pub step: LotValue,
    /// Standard uncertainty of the errors that all readings of a lot share.
    pub shared: LotValue,
}

/// Names the instrument behind a quantity: the probe of a conductivity, else the kind of instrument.
///
/// A desk has one scale and one calliper in use at a time; where readings name theirs, that name belongs here.
pub(super) fn instrument(quantity: LotQuantity, evidence: &PieceEvidence) -> String {
    match quantity {
        LotQuantity::Mass => "scale".to_owned(),
        LotQuantity::Conductivity => evidence
            .probe
            .as_ref()
            .map_or_else(|| "probe not recorded".to_owned(), |probe| probe.name.clone()),
        LotQuantity::Fill => "scale and calliper".to_owned(),
        _ => "calliper".to_owned(),
    }
}

/// Returns the values of a piece, in the order in which a desk takes them.
///
/// Quantities in which pieces of the product need not be alike, and readings that could not be used, are left out.
pub fn entries(
    rules: &Rules<'_>,
    product: &Product,
    evidence: &PieceEvidence,
    assessment: &Assessment,
) -> Vec<TypeBookEntry> {
    let Some(alloy) = rules.catalogue.material(product.alloy.value.as_str()) else { return Vec::new() };
    LotQuantity::ALL
        .into_iter()
        .filter_map(|quantity| {
            let piece = [(PieceKey(1), evidence, assessment)];
            let found = collect(rules, product, alloy, quantity, &piece)?;
            let value = *found.values.first()?;
            Some(TypeBookEntry {
                quantity,
                instrument: instrument(quantity, evidence),
                value: quantity.value(value),
                repeatability: quantity.value(found.repeatability),
                step: quantity.value(found.step),
                shared: quantity.value(found.shared),
            })
        })
        .collect()
}

/// Tells whether a piece teaches anything once it is released: not one that scoring refuses, nor one whose second test
/// disagrees, whoever settled that.
pub fn teaches(assessment: &Assessment) -> bool {
    let disagrees = |outcome| matches!(outcome, Outcome::Outside | Outcome::Marginal);
    assessment.standing != Standing::Refuse
        && !assessment.second_tests.iter().any(|test| disagrees(test.outcome))
}

/// Limits of one piece; `None` on a side that has none.
pub type PublishedLimits = (Option<LotValue>, Option<LotValue>);

/// Returns the quantities in which pieces of a product are alike, each with the limits that law, rule or policy sets.
pub fn published(rules: &Rules<'_>, product: &Product) -> Vec<(LotQuantity, PublishedLimits)> {
    let Some(alloy) = rules.catalogue.material(product.alloy.value.as_str()) else { return Vec::new() };
    LotQuantity::ALL
        .into_iter()
        .filter_map(|quantity| {
            let found = collect(rules, product, alloy, quantity, &[])?;
            // A round piece has sides only when somebody measured them.
            let side = matches!(quantity, LotQuantity::Length | LotQuantity::Width);
            if side && product.shape == Shape::Round {
                return None;
            }
            let value = |limit: Option<f64>| limit.map(|limit| quantity.value(limit));
            Some((quantity, (value(found.lower), value(found.upper))))
        })
        .collect()
}
