//! The readings of one quantity over a lot: odd pieces, where the lot lies, two populations.

use super::quantity::{LotQuantity, LotValue};
use super::values::{Values, collect};
use super::{LotPiece, PieceKey};
use crate::metrology::evaluation::type_a;
use crate::metrology::lot::{LotReadings, LotTest, screen};
use crate::metrology::normal::student_t_quantile;
use crate::metrology::outliers::generalized_esd;
use crate::metrology::robust::CUT;
use crate::metrology::rounding::decimals_of;
use crate::metrology::{Limits, Outcome as Judged, Thresholds};
use crate::reference::Product;
use crate::scoring::assess::Rules;
use crate::scoring::assessment::{Assessment, Outcome, Scope};
use crate::scoring::cause::{Cause, OddValue, Rule};
use crate::scoring::doubt::{Doubt, DoubtKind, Method, Offer, Power};
use serde::{Deserialize, Serialize};

/// A piece that differs from the rest of its lot in one quantity.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct OddOne {
    /// The piece.
    pub key: PieceKey,
    /// Its value.
    pub value: LotValue,
    /// Its distance from the median in scale units, with sign.
    pub score: f64,
    /// The statistic of the test in the step that took the piece away.
    pub statistic: f64,
    /// The critical value of that step.
    pub critical: f64,
}

/// A gap that suggests two populations.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LotGap {
    /// Largest value below it.
    pub below: LotValue,
    /// Smallest value above it.
    pub above: LotValue,
    /// Pieces below it.
    pub count_below: usize,
    /// Width in scale units of the two groups.
    pub units: f64,
}

/// What the readings of one quantity say about a lot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LotScreen {
    /// The quantity.
    pub quantity: LotQuantity,
    /// Pieces with a value.
    pub pieces: usize,
    /// Median.
    pub centre: LotValue,
    /// 1.4826 times the median absolute deviation.
    pub scale: LotValue,
    /// Least scale that the instrument allows.
    pub floor: LotValue,
    /// Distance from the median below which no piece is odd: 3.5 times the floor.
    pub limit: LotValue,
    /// Most odd pieces that the test looks for; 0 when the lot is too small for one.
    pub at_most: usize,
    /// The odd pieces.
    pub odd: Vec<OddOne>,
    /// Two populations, perhaps.
    pub gap: Option<LotGap>,
    /// Lower limit of one piece.
    pub lower: Option<LotValue>,
    /// Upper limit of one piece.
    pub upper: Option<LotValue>,
    /// The median against these limits.
    pub median: Outcome,
}

/// Screens every quantity of which at least two pieces have a value.
pub(super) fn screens(
    rules: &Rules<'_>,
    product: &Product,
    pieces: &[LotPiece<'_>],
    remarks: &mut Vec<String>,
) -> Vec<LotScreen> {
    let Some(alloy) = rules.catalogue.material(product.alloy.value.as_str()) else { return Vec::new() };
    let collected: Vec<Values> = LotQuantity::ALL
        .into_iter()
        .filter_map(|quantity| collect(rules, product, alloy, quantity, pieces))
        .filter(|values| values.values.len() >= 2)
        .collect();
    let thresholds = Thresholds::new(rules.policy.inside, rules.policy.outside)
        .expect("the policy reader keeps both numbers in range");
    // Each quantity gets its part of the chance of a false alarm (Bonferroni).
    let significance = rules.policy.sampling.odd_significance / collected.len().max(1) as f64;
    let screens: Vec<LotScreen> =
        collected.iter().filter_map(|values| screen_one(values, significance, &thresholds)).collect();
    for screen in screens.iter().filter(|screen| screen.median == Outcome::Marginal) {
        remarks.push(format!(
            "{}: the median {} of {} pieces is near a limit",
            screen.quantity.word(),
            screen.centre.show(decimals(screen)),
            screen.pieces
        ));
    }
    screens
}

/// Lots smaller than this get a stricter significance, because the critical values of the test are approximate there.
const FEW: usize = 30;
/// How much more often than stated the test speaks in clean lots of 5 to 29 pieces, at the most (simulated; the rate that
/// results is watched by a test).
const FALSE_ALARMS_OF_FEW: f64 = 2.1;

/// One step of the test for odd pieces, with the scale of the rest never below the floor.
struct Step {
    index: usize,
    statistic: f64,
    critical: f64,
}

/// Returns the steps of the generalized ESD test up to its last odd piece.
///
/// The statistic is the deviation from the mean of the rest, over the rest's standard deviation or the instrument's floor,
/// whichever is larger: a few readings that round to one digit are no proof of a small spread. Above the floor it is the
/// test's own statistic, written with Student's t.
///
/// # Source
/// B. Rosner, Technometrics 25 (1983), 165–172; F. Grubbs, Technometrics 11 (1969), 1–21 (as a t statistic; from memory).
fn tested_steps(values: &[f64], at_most: usize, significance: f64, floor: f64) -> Vec<Step> {
    let Some(esd) = generalized_esd(values, at_most, significance) else { return Vec::new() };
    let mut rest: Vec<usize> = (0..values.len()).collect();
    let mut steps = Vec::new();
    let mut odd = 0;
    for step in &esd.steps {
        let n = rest.len() as f64;
        rest.retain(|index| *index != step.index);
        let left: Vec<f64> = rest.iter().map(|index| values[*index]).collect();
        let (Some(spread), Some(t)) =
            (type_a(&left), student_t_quantile(significance / (2.0 * n), n - 2.0).map(|t| -t))
        else {
            break;
        };
        let scale = spread.standard_deviation.max(floor) * (1.0 + 1.0 / (n - 1.0)).sqrt();
        let statistic = (values[step.index] - spread.mean).abs() / scale;
        steps.push(Step { index: step.index, statistic, critical: t });
        if statistic > t {
            odd = steps.len();
        }
    }
    steps.truncate(odd);
    steps
}

/// Screens one quantity.
fn screen_one(values: &Values, significance: f64, thresholds: &Thresholds) -> Option<LotScreen> {
    let readings = LotReadings {
        values: &values.values,
        repeatability: values.repeatability,
        digit_step: values.step,
        shared_uncertainty: values.shared,
        limits: Limits::new(values.lower, values.upper).ok()?,
    };
    let few = values.values.len() < FEW;
    let significance = if few { significance / FALSE_ALARMS_OF_FEW } else { significance };
    let found = screen(&readings, significance, thresholds)?;
    let at_most = match found.test {
        LotTest::None => 0,
        LotTest::GeneralizedEsd { at_most } => at_most,
    };
    let steps = tested_steps(&values.values, at_most, significance, found.floor);
    let value = |number: f64| values.quantity.value(number);
    Some(LotScreen {
        quantity: values.quantity,
        pieces: values.values.len(),
        centre: value(found.centre),
        scale: value(found.scale),
        floor: value(found.floor),
        limit: value(CUT * found.floor),
        at_most,
        odd: found
            .odd
            .iter()
            .filter_map(|odd| {
                let step = steps.iter().find(|step| step.index == odd.index)?;
                Some(OddOne {
                    key: values.keys[odd.index],
                    value: value(values.values[odd.index]),
                    score: odd.score,
                    statistic: step.statistic,
                    critical: step.critical,
                })
            })
            .collect(),
        gap: found.gap.map(|gap| LotGap {
            below: value(gap.below),
            above: value(gap.above),
            count_below: gap.count_below,
            units: gap.units,
        }),
        lower: values.lower.map(value),
        upper: values.upper.map(value),
        median: match found.median.outcome {
            Judged::Inside => Outcome::Inside,
            Judged::Marginal => Outcome::Marginal,
            Judged::Outside => Outcome::Outside,
            Judged::NotCapable => Outcome::NotCapable,
        },
    })
}

/// Returns the doubt of an odd piece, with the numbers of every quantity in which it is odd.
pub(super) fn odd_one_out(found: &[(&LotScreen, &OddOne)], own: &Assessment) -> Doubt {
    let value = |(screen, odd): &(&LotScreen, &OddOne)| OddValue {
        quantity: screen.quantity,
        value: odd.value,
        centre: screen.centre,
        scale: screen.quantity.value(screen.scale.value().max(screen.floor.value())),
        score: odd.score,
        statistic: odd.statistic,
        critical: odd.critical,
        limit: screen.limit,
        decimals: decimals(screen),
    };
    let offers = odd_offers(found.iter().map(|(screen, _)| screen.quantity), &own.doubts);
    let cause = Cause::OddInLot { values: found.iter().map(value).collect() };
    Doubt::new(DoubtKind::OddOneOut, Scope::Piece, cause, offers)
}

/// Returns what may tell why a piece is odd: reading it again, what settles its own doubts about its metal, an assay.
pub(in crate::scoring) fn odd_offers(
    quantities: impl Iterator<Item = LotQuantity>,
    own: &[Doubt],
) -> Vec<Offer> {
    let mut offers: Vec<Offer> = Vec::new();
    for quantity in quantities {
        let again = Offer::always(repeat(quantity), Power::Narrows, Rule::RulesOutASlip);
        if offers.iter().all(|offer| offer.method != again.method) {
            offers.push(again);
        }
    }
    let about_metal = |doubt: &&Doubt| matches!(doubt.kind, DoubtKind::HiddenCore | DoubtKind::WrongAlloy);
    for offer in own.iter().filter(about_metal).flat_map(|doubt| &doubt.offers) {
        let known = offers.iter().any(|known| known.method == offer.method);
        if offer.power == Power::Settles && offer.method != Method::Assay && !known {
            offers.push(Offer::always(offer.method, Power::Narrows, Rule::TellsWhy));
        }
    }
    offers.push(Offer::always(Method::Assay, Power::Settles, Rule::Laboratory));
    offers
}

/// Returns the doubt of a lot whose median lies outside the limits of a piece.
pub(super) fn location(screen: &LotScreen) -> Option<Doubt> {
    if screen.median != Outcome::Outside {
        return None;
    }
    let centre = screen.centre.value();
    let (limit, below) = match (screen.lower, screen.upper) {
        (Some(lower), _) if centre < lower.value() => (lower, true),
        (_, Some(upper)) if centre > upper.value() => (upper, false),
        _ => return None,
    };
    let kind = match screen.quantity {
        LotQuantity::Conductivity => DoubtKind::WrongAlloy,
        _ => DoubtKind::WeightOrSize,
    };
    let mut offers = vec![Offer::always(repeat(screen.quantity), Power::Narrows, Rule::ControlFirst)];
    if kind == DoubtKind::WrongAlloy {
        offers.push(Offer::always(Method::XRay, Power::Narrows, Rule::NamesTheSurface));
    }
    offers.push(Offer::always(Method::Assay, Power::Settles, Rule::Laboratory));
    let cause = Cause::LotOff {
        quantity: screen.quantity,
        centre: screen.centre,
        pieces: screen.pieces,
        limit,
        below,
        decimals: decimals(screen),
    };
    Some(Doubt::new(kind, Scope::Lot, cause, offers))
}

/// Returns the doubt of a lot that looks like two.
pub(super) fn two_populations(screen: &LotScreen) -> Option<Doubt> {
    let gap = screen.gap?;
    let cause = Cause::TwoPopulations {
        quantity: screen.quantity,
        below: gap.below,
        above: gap.above,
        count_below: gap.count_below,
        pieces: screen.pieces,
        units: gap.units,
        decimals: decimals(screen),
    };
    let offers = vec![
        Offer::always(repeat(screen.quantity), Power::Narrows, Rule::RulesOutASlip),
        Offer::always(Method::Correction, Power::Settles, Rule::SplitTheLot),
    ];
    Some(Doubt::new(DoubtKind::OddOneOut, Scope::Lot, cause, offers))
}

/// Returns the method that reads a quantity again.
fn repeat(quantity: LotQuantity) -> Method {
    match quantity {
        LotQuantity::Mass => Method::Reweigh,
        LotQuantity::Conductivity => Method::Conductivity,
        _ => Method::Remeasure,
    }
}

/// Returns the decimals with which values of a screen are printed, so that the floor still shows.
fn decimals(screen: &LotScreen) -> u32 {
    decimals_of(screen.floor.value(), 1)
}
