//! The values of one quantity over the pieces of a lot, with what the instrument behind them can tell apart.

use super::quantity::LotQuantity;
use super::{LotPiece, PieceKey};
use crate::evidence::{Direct, Measurand, Observation, PieceEvidence};
use crate::metrology::evaluation::rectangular;
use crate::quantity::{Length, Quantity};
use crate::reference::{Material, Product, Shape};
use crate::scoring::assess::Rules;
use crate::scoring::budget::{self, REPEATS_IN_STEPS};
use crate::scoring::geometry::Geometry;
use crate::scoring::window::{self, Window};

/// The values of one quantity with what the instrument can tell apart.
pub(in crate::scoring) struct Values {
    pub(in crate::scoring) quantity: LotQuantity,
    pub(in crate::scoring) keys: Vec<PieceKey>,
    pub(in crate::scoring) values: Vec<f64>,
    pub(in crate::scoring) repeatability: f64,
    pub(in crate::scoring) step: f64,
    pub(in crate::scoring) shared: f64,
    pub(in crate::scoring) lower: Option<f64>,
    pub(in crate::scoring) upper: Option<f64>,
}

/// Collects the values of one quantity; `None` where pieces of this product need not be alike in it.
pub(in crate::scoring) fn collect(
    rules: &Rules<'_>,
    product: &Product,
    alloy: &Material,
    quantity: LotQuantity,
    pieces: &[LotPiece<'_>],
) -> Option<Values> {
    let scale = &rules.instruments.scale;
    match quantity {
        LotQuantity::Mass => {
            let nominal = product.mass.as_ref()?.nominal.value;
            let circulated = pieces.iter().any(|(_, evidence, _)| evidence.presentation.circulated);
            let limits = window::mass(product, circulated, rules.policy);
            let masses = pieces.iter().filter_map(|(key, evidence, _)| Some((*key, evidence.mass?)));
            let limit = half_width(scale, scale.limit_at(nominal));
            Some(of_readings(quantity, masses, scale.repeatability.as_grams(), limit, limits))
        }
        LotQuantity::Fill => fills(rules, product, alloy, pieces),
        LotQuantity::Conductivity => {
            Some(conductivities(rules, window::conductivity(product, alloy, rules.catalogue), pieces))
        }
        _ => {
            let measurand = quantity.measurand()?;
            let limits = window::dimension(product, measurand, rules.policy);
            // Without a specification only struck round pieces of one product are alike.
            if limits.is_none() && product.shape != Shape::Round {
                return None;
            }
            let lengths =
                pieces.iter().filter_map(|(key, evidence, _)| Some((*key, length(evidence, measurand)?)));
            let calliper = rules.instruments.for_length(measurand);
            let nominal = pieces.iter().find_map(|(_, evidence, _)| length(evidence, measurand));
            let at = nominal.and_then(|observation| calliper.limit_at(observation.value));
            let limit = half_width(calliper, at);
            Some(of_readings(quantity, lengths, calliper.repeatability.as_millimetres(), limit, limits))
        }
    }
}

/// Returns half the width of the rectangle that stands for what an instrument may be off, in the first unit; a certificate's
/// U/k counts as the rectangle of the same standard deviation.
fn half_width<Q: Quantity>(instrument: &Direct<Q>, limit: Option<Q>) -> f64 {
    let number = |quantity: Q| quantity.value_in(&Q::UNITS[0]);
    match &instrument.certificate {
        Some(certificate) => 3f64.sqrt() * number(certificate.expanded) / certificate.k,
        None => limit.map_or(0.0, number),
    }
}

/// Returns the reading of a dimension.
fn length(evidence: &PieceEvidence, measurand: Measurand) -> Option<Observation<Length>> {
    match measurand {
        Measurand::Diameter => evidence.diameter,
        Measurand::Length => evidence.length,
        Measurand::Width => evidence.width,
        Measurand::Thickness => evidence.thickness,
        _ => None,
    }
}

/// Collects direct readings of one instrument; repeatability and limit of error in the first unit.
fn of_readings<Q: Quantity>(
    quantity: LotQuantity,
    readings: impl Iterator<Item = (PieceKey, Observation<Q>)>,
    repeatability: f64,
    limit_of_error: f64,
    limits: Option<Window>,
) -> Values {
    let unit = &Q::UNITS[0];
    let mut values = Values {
        quantity,
        keys: Vec::new(),
        values: Vec::new(),
        repeatability,
        step: 0.0,
        shared: 0.0,
        lower: limits.as_ref().and_then(|window| window.lower),
        upper: limits.as_ref().and_then(|window| window.upper),
    };
    for (key, reading) in readings {
        let step = reading.step.value_in(unit);
        let own = reading.stated.map_or(REPEATS_IN_STEPS * step, |u| u.value_in(unit));
        values.keys.push(key);
        values.values.push(reading.value.value_in(unit));
        values.step = values.step.max(step);
        values.repeatability = values.repeatability.max(own);
    }
    values.shared = rectangular(limit_of_error.max(values.step));
    values
}

/// Collects the conductivities that could be used.
fn conductivities(rules: &Rules<'_>, limits: Window, pieces: &[LotPiece<'_>]) -> Values {
    let mut values = Values {
        quantity: LotQuantity::Conductivity,
        keys: Vec::new(),
        values: Vec::new(),
        repeatability: 0.0,
        step: 0.0,
        shared: 0.0,
        lower: limits.lower,
        upper: limits.upper,
    };
    let share = f64::from(rules.instruments.meter.repeatability_ppm) * 1e-6;
    for (key, evidence, assessment) in pieces {
        let check = assessment.checks.iter().find(|check| check.measurand == Measurand::Conductivity);
        let Some((value, u)) = check.and_then(|check| check.value.zip(check.u)) else { continue };
        let spots = evidence.conductivity.len().max(1) as f64;
        let steps = evidence.conductivity.iter().map(|spot| spot.step.as_ms_per_m());
        values.keys.push(*key);
        values.values.push(value.value());
        values.repeatability = values.repeatability.max(share * value.value() / spots.sqrt());
        values.step = values.step.max(steps.fold(0.0, f64::max));
        // Temperature, calibration and what the meter was never compared with are common to the lot.
        values.shared = values.shared.max(u.value());
    }
    values
}

/// Collects the shares of the envelope that pieces with mass and all dimensions fill.
fn fills(rules: &Rules<'_>, product: &Product, alloy: &Material, pieces: &[LotPiece<'_>]) -> Option<Values> {
    if product.shape != Shape::Round {
        return None;
    }
    let density = alloy.density.value.as_g_per_cm3();
    let mut values = Values {
        quantity: LotQuantity::Fill,
        keys: Vec::new(),
        values: Vec::new(),
        repeatability: 0.0,
        step: 0.0,
        shared: 0.0,
        lower: Some(rules.policy.fill_least),
        upper: Some(rules.policy.fill_greatest),
    };
    for (key, evidence, _) in pieces {
        let (Some(mass), Some(diameter), Some(thickness)) =
            (&evidence.mass, &evidence.diameter, &evidence.thickness)
        else {
            continue;
        };
        let geometry = Geometry::of(evidence, product, density, rules.instruments);
        let Some((flat, over_all)) = geometry.flat_equivalent.zip(geometry.thickness) else { continue };
        let fill = crate::physics::density::fill_factor(flat.value, over_all.value);
        // The budgets hold repeatability and limit of error alike: a wide floor, never one that cries wolf.
        let instruments = rules.instruments;
        let u = budget::weighing(mass, &rules.instruments.scale).u() / mass.value.as_grams();
        let u = u.hypot(
            2.0 * budget::length(Measurand::Diameter, diameter, instruments.for_length(Measurand::Diameter))
                .u()
                / diameter.value.as_millimetres(),
        );
        let u = u.hypot(
            budget::length(Measurand::Thickness, thickness, instruments.for_length(Measurand::Thickness)).u()
                / thickness.value.as_millimetres(),
        );
        values.keys.push(*key);
        values.values.push(fill);
        values.repeatability = values.repeatability.max(fill * u);
        values.shared = values.shared.max(fill * u);
    }
    Some(values)
}
