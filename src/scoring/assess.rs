//! One piece assessed: readings, reference and policy in, assessment out; no clock, no files.

use super::assessment::{Assessment, Check, Doubt, ENGINE_VERSION, Outcome, Scope, Standing};
use super::check::{Compared, compare, missing, not_usable};
use super::conductivity::{self, Verdict};
use super::doubts;
use super::geometry::{Face, Geometry};
use super::policy::Policy;
use super::scans::Scans;
use super::suspects::{EXCLUDES_AT, Suspect, Trial};
use super::window;
use crate::evidence::{Amount, Instruments, MagnetResponse, Measurand, Observation, PieceEvidence};
use crate::physics::coverage;
use crate::physics::skin::PROVED_DEPTH_IN_SKIN_DEPTHS;
use crate::quantity::{Length, Money};
use crate::reference::{Catalogue, Kind, Mark, Material, Product, Shape};

/// What a desk scores with.
#[derive(Debug, Clone, Copy)]
pub struct Rules<'a> {
    /// Materials and products.
    pub catalogue: &'a Catalogue,
    /// The instruments behind the readings.
    pub instruments: &'a Instruments,
    /// What the desk holds and what it lets pass.
    pub policy: &'a Policy,
    /// Scans computed so far.
    pub scans: &'a Scans,
}

/// What a piece is declared to be.
#[derive(Debug, Clone, Copy)]
pub struct Declared<'a> {
    /// The product; it is of the catalogue in the rules.
    pub product: &'a Product,
    /// Price of one troy ounce of the fine metal, in the currency of the policy; `None` makes every survivor material.
    pub price: Option<Money>,
    /// Pieces of the lot it came in, at least 1.
    pub lot_size: u32,
}

/// Assesses a piece: checks, score, what it could still be, doubts, standing.
///
/// Pure: the same arguments give the same assessment to the last digit. Missing and unusable readings hold the piece; they
/// never clear and never refuse it.
///
/// # Source
/// JCGM 106:2012 (conformance probability); the layered model of [`crate::physics::layered`].
pub fn assess(rules: &Rules<'_>, declared: &Declared<'_>, evidence: &PieceEvidence) -> Assessment {
    let Rules { catalogue, instruments, policy, scans } = *rules;
    let product = declared.product;
    let alloy: &Material = catalogue
        .material(product.alloy.value.as_str())
        .expect("the catalogue holds the alloy of each of its products");
    let geometry = Geometry::of(evidence, product, alloy.density.value.as_g_per_cm3(), instruments);
    let reading = conductivity::judge(evidence, alloy, &geometry.outline(), instruments);
    let mut remarks = Vec::new();

    let mut checks: Vec<Check> = mass_check(product, evidence, instruments, policy).into_iter().collect();
    checks.extend(dimension_checks(product, evidence, instruments, policy, &geometry, alloy));
    checks.push(conductivity_check(product, alloy, catalogue, policy, &reading));

    let price = declared.price.filter(|price| price.currency == policy.currency);
    if price.is_none() {
        remarks.push("no price of the metal is known: everything that survives counts as a doubt".to_owned());
    }
    let trial = Trial {
        catalogue,
        product,
        alloy,
        policy,
        scans,
        evidence,
        geometry: &geometry,
        conductivity: comparable(&reading),
        u_when_compared: match &reading {
            Verdict::Usable(usable) => usable.u_when_compared,
            _ => None,
        },
        price,
        lot_size: declared.lot_size.max(1),
    };
    let suspects = trial.suspects();
    let mut open: Vec<Doubt> = checks.iter().filter_map(doubts::of_check).collect();
    if evidence.presentation.magnet == Some(MagnetResponse::Attracted) {
        open.push(doubts::attracted());
    }
    open.extend(doubts::thin_plate(&checks, &suspects));
    open.extend(doubts::of_suspects(&trial, &suspects));
    if let Verdict::Usable(usable) = &reading {
        open.extend(usable.uneven.map(|(spread, limit)| doubts::uneven(spread, limit)));
        remarks.extend(usable.notes.iter().cloned());
    }
    open.extend(fill_doubt(product, &geometry, policy));
    if policy.premium_products.contains(&product.id) {
        open.push(doubts::strike());
    }
    open.sort_by_key(|doubt| doubt.scope == Scope::Lot);
    remarks.extend(standing_remarks(&trial, evidence));

    let standing = standing(&checks, &open, evidence);
    let (score, score_rests_on) = score(&checks);
    let skin_depth = evidence.probe.as_ref().and_then(|probe| trial.skin_depth(probe));
    let candidates = suspects.into_iter().map(|suspect: Suspect<'_>| suspect.candidate).collect();
    Assessment {
        product: product.id.clone(),
        standing,
        score,
        score_rests_on,
        checks,
        candidates,
        doubts: open,
        remarks,
        skin_depth: skin_depth.map(Length::from_millimetres),
        proved_depth: skin_depth
            .filter(|_| trial.conductivity.is_some())
            .map(|depth| Length::from_millimetres(PROVED_DEPTH_IN_SKIN_DEPTHS * depth)),
        engine: ENGINE_VERSION,
        reference: catalogue.version().to_owned(),
        policy: policy.version().to_owned(),
    }
}

/// Checks the mass; a product without a mass of its own has no such check.
fn mass_check(
    product: &Product,
    evidence: &PieceEvidence,
    instruments: &Instruments,
    policy: &Policy,
) -> Option<Check> {
    let window = window::mass(product, evidence.presentation.circulated, policy)?;
    Some(match &evidence.mass {
        None => missing(Measurand::Mass, &window),
        Some(observation) => {
            let budget = super::budget::weighing(observation, &instruments.scale);
            compare(
                Compared { measurand: Measurand::Mass, value: observation.value.as_grams(), budget },
                &window,
                policy,
            )
        }
    })
}

/// Checks the dimensions that the specification names, and the thickness against what is possible at all.
fn dimension_checks(
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
                let budget = super::budget::length(measurand, observation, &instruments.calliper);
                let window = window.unwrap_or_else(|| window::Window {
                    lower: None,
                    upper: None,
                    mark: Mark::Calculated,
                    from: "mass, face and density of the declared alloy".to_owned(),
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
            (None, None) if needed_for_depth(product, measurand) => checks.push(missing(
                measurand,
                &window::Window {
                    lower: None,
                    upper: None,
                    mark: Mark::Calculated,
                    from: "decides what the readings prove".to_owned(),
                },
            )),
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
fn impossible_thickness(geometry: &Geometry, alloy: &Material) -> Option<(f64, String)> {
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
fn conductivity_check(
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

/// Returns the conductivity that candidates are compared with: the mean, widened when the spots disagree.
fn comparable(reading: &Verdict) -> Option<(f64, f64)> {
    match reading {
        Verdict::Usable(usable) => {
            let spread = usable.uneven.map_or(0.0, |(spread, _)| spread / 12f64.sqrt());
            Some((usable.at_20, usable.budget.u().hypot(spread)))
        }
        _ => None,
    }
}

/// Returns the doubt of a struck coin that fills its envelope as none does.
fn fill_doubt(product: &Product, geometry: &Geometry, policy: &Policy) -> Option<Doubt> {
    if product.kind != Kind::Coin || !geometry.thickness_measured {
        return None;
    }
    let (flat, thickness) = (geometry.flat_equivalent?, geometry.thickness?);
    let fill = crate::physics::density::fill_factor(flat.value, thickness.value);
    let u = fill * (flat.u / flat.value).hypot(thickness.u / thickness.value);
    let outside = fill + EXCLUDES_AT * u < policy.fill_least || fill - EXCLUDES_AT * u > policy.fill_greatest;
    outside.then(|| doubts::fill(fill, policy.fill_least, policy.fill_greatest))
}

/// Returns the cautions that hold nothing but belong beside the score.
fn standing_remarks(trial: &Trial<'_>, evidence: &PieceEvidence) -> Vec<String> {
    let mut remarks = Vec::new();
    remarks.extend(
        trial
            .outside_model()
            .filter(|_| trial.conductivity.is_some())
            .map(|reason| format!("outside model: {reason}; conductivity excluded no core")),
    );
    if trial.product.kind == Kind::Coin {
        remarks.push("a correct metal does not prove a correct strike".to_owned());
    }
    if let (Some(face @ Face::Rectangle { .. }), Some(coil)) =
        (trial.geometry.face, evidence.probe.as_ref().and_then(|probe| probe.coil))
        && !evidence.conductivity.is_empty()
    {
        let spots = u32::try_from(evidence.conductivity.len()).unwrap_or(u32::MAX);
        let footprint = coverage::footprint_radius_mm(coil.outer.as_millimetres());
        let full = coverage::spots_for_full_cover(face.area(), footprint);
        if full > spots {
            let share = coverage::share_covered(spots, face.area(), footprint);
            remarks.push(format!(
                "{spots} of {full} spots that would cover one face: {:.0} % seen; cover never adds depth",
                100.0 * share
            ));
        }
    }
    remarks
}

/// Proposes a standing.
fn standing(checks: &[Check], open: &[Doubt], evidence: &PieceEvidence) -> Standing {
    let refused = checks.iter().any(|check| check.outcome == Outcome::Outside)
        || evidence.presentation.magnet == Some(MagnetResponse::Attracted);
    let held = checks.iter().any(|check| check.outcome != Outcome::Inside)
        || open.iter().any(|doubt| doubt.scope == Scope::Piece);
    if refused {
        Standing::Refuse
    } else if held {
        Standing::Hold
    } else {
        Standing::Clear
    }
}

/// Returns the score and the number of checks it rests on; a check without a probability counts as 0.
fn score(checks: &[Check]) -> (f64, usize) {
    let short: f64 = checks.iter().map(|check| check.shortfall.unwrap_or(1.0)).sum();
    let rests_on = checks.iter().filter(|check| check.probability.is_some()).count();
    ((1.0 - short).max(0.0), rests_on)
}
