//! The checks of a piece against its specification, in the order in which a desk takes them.

use super::assessment::{Check, Outcome};
use super::check::{Compared, compare, missing, not_usable};
use super::conductivity::Verdict;
use super::geometry::Geometry;
use super::policy::Policy;
use super::second::EXCLUDES_AT;
use super::window;
use crate::evidence::{Amount, Instruments, Measurand, Observation, PieceEvidence};
use crate::quantity::Length;
use crate::reference::{Catalogue, Mark, Material, Product, Shape};

/// Checks the mass; a product without a mass of its own has no such check.
pub(super) fn mass_check(
    product: &Product,
    evidence: &PieceEvidence,
    instruments: &Instruments,
    policy: &Policy,
) -> Option<Check> {
    let circulated = evidence.presentation.circulated;
    Some(match &evidence.mass {
        None => missing(Measurand::Mass, &window::mass(product, circulated, policy)?),
        Some(observation) => {
            let budget = super::budget::weighing(observation, &instruments.scale);
            let window = window::mass_on_scale(product, circulated, policy, budget.u())?;
            let compared =
                Compared { measurand: Measurand::Mass, value: observation.value.as_grams(), budget };
            let mut check = compare(compared, &window, policy);
            let undecided =
                matches!(check.outcome, Outcome::Marginal | Outcome::NotCapable | Outcome::Outside);
            check.negligible =
                undecided && most_off(&check).is_some_and(|share| share <= policy.watch.negligible);
            check
        }
    })
}

/// Standard uncertainties within which a mass surely lies: 1 in 20 falls short by more.
const SURELY: f64 = 1.645;

/// Returns the most that a reading may lie beyond its limits, as a share of the middle between them.
pub(super) fn most_off(check: &Check) -> Option<f64> {
    let value = |amount: Option<Amount>| amount.map(Amount::value);
    let (found, u) = (value(check.value)?, value(check.u)?);
    let short = value(check.lower).map_or(0.0, |lower| lower - (found - SURELY * u));
    let over = value(check.upper).map_or(0.0, |upper| found + SURELY * u - upper);
    Some(short.max(over).max(0.0) / found.abs().max(f64::MIN_POSITIVE))
}

/// Checks the dimensions that the specification names, and the thickness against what is possible at all.
pub(super) fn dimension_checks(
    product: &Product,
    evidence: &PieceEvidence,
    instruments: &Instruments,
    policy: &Policy,
    geometry: &Geometry,
    alloy: &Material,
) -> Vec<Check> {
    let observed: [(Measurand, &Option<Observation<Length>>); 4] = [
        (Measurand::Diameter, &evidence.diameter),
        (Measurand::Length, &evidence.length),
        (Measurand::Width, &evidence.width),
        (Measurand::Thickness, &evidence.thickness),
    ];
    let mut checks = Vec::new();
    for (measurand, observation) in observed {
        let window = window::dimension(product, measurand, policy);
        let impossible =
            (measurand == Measurand::Thickness).then(|| impossible_thickness(geometry, alloy)).flatten();
        match (window, observation) {
            (window, Some(observation)) if window.is_some() || impossible.is_some() => {
                let budget = super::budget::length(measurand, observation, instruments.for_length(measurand));
                let window = window.unwrap_or_else(|| {
                    let from = "mass, face and density of the declared alloy".to_owned();
                    window::Window::of(None, None, Mark::Calculated, from)
                });
                let compared = Compared { measurand, value: observation.value.as_millimetres(), budget };
                let mut check = compare(compared, &window, policy);
                if let Some((least, reason)) = impossible {
                    check.lower = Some(Amount::of(measurand, least));
                    check.outcome = Outcome::Outside;
                    check.probability = Some(0.0);
                    check.shortfall = Some(1.0);
                    check.reason = reason;
                }
                checks.push(check);
            }
            (Some(window), None) => checks.push(missing(measurand, &window)),
            (None, None) if needed_for_depth(product, measurand) => {
                let from = "decides what the readings prove".to_owned();
                checks.push(missing(measurand, &window::Window::of(None, None, Mark::Calculated, from)));
            }
            _ => {}
        }
    }
    checks
}

/// Tells whether a bar without dimensions of its own still needs this one measured: size and thickness decide what a
/// conductivity reading proves.
fn needed_for_depth(product: &Product, measurand: Measurand) -> bool {
    product.shape != Shape::Round
        && matches!(measurand, Measurand::Length | Measurand::Width | Measurand::Thickness)
}

/// Tells whether the piece is thinner than a flat plate of its mass could be; returns the least thickness with the reason.
pub(super) fn impossible_thickness(geometry: &Geometry, alloy: &Material) -> Option<(f64, String)> {
    let thickness = geometry.thickness.filter(|_| geometry.thickness_measured)?;
    let flat = geometry.flat_equivalent?;
    // The densest the declared alloy can be gives the thinnest plate.
    let least = flat.value * alloy.density.value.as_g_per_cm3() / alloy.density.high.as_g_per_cm3();
    let u = flat.u + thickness.u;
    (thickness.value + EXCLUDES_AT * u < least).then(|| {
        (
            least,
            format!(
                "{:.2} mm is thinner than {least:.2} mm, a flat plate of this mass in the declared alloy: something denser",
                thickness.value
            ),
        )
    })
}

/// Checks the conductivity at 20 °C.
pub(super) fn conductivity_check(
    product: &Product,
    alloy: &Material,
    catalogue: &Catalogue,
    policy: &Policy,
    reading: &Verdict,
) -> Check {
    let window = window::conductivity(product, alloy, catalogue);
    match reading {
        Verdict::Missing => missing(Measurand::Conductivity, &window),
        Verdict::NotUsable(reason) => not_usable(Measurand::Conductivity, &window, reason),
        Verdict::Usable(usable) => compare(
            Compared {
                measurand: Measurand::Conductivity,
                value: usable.at_20,
                budget: usable.budget.clone(),
            },
            &window,
            policy,
        ),
    }
}
