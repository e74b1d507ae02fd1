//! A conductivity reading made ready for comparison: gates, temperature, mean over spots, uncertainty.

use super::budget::{Budget, LIMIT_SOURCE, RESOLUTION_SOURCE};
use crate::evidence::{Form, Instruments, MagnetResponse, Measurand, Meter, PieceEvidence, Standardised};
use crate::metrology::evaluation::{rectangular, resolution};
use crate::physics::layered::{Backing, Layer, apparent_conductivity};
use crate::physics::skin::skin_depth_mm;
use crate::physics::temperature::{REFERENCE_C, conductivity_at_20_from_reading};
use crate::quantity::Conductivity;
use crate::reference::Material;

/// Thickness in skin depths from which a reading is usable, and from which it needs no caution (MIL-STD-1537C: 2.6 δ).
const THICKNESS_LEAST: f64 = 2.2;
pub(super) const THICKNESS_FREE: f64 = 2.6;
/// Inscribed radius in coil outer radii, likewise (common practice; finite-element figures in the tests of physics).
pub(super) const RADIUS_LEAST: f64 = 1.6;
pub(super) const RADIUS_FREE: f64 = 1.85;
/// Largest error that the caution zone of the radius brings, at its lower end.
const RADIUS_ERROR: f64 = 0.04;
/// Error taken into account where the edge is nearer than the probe's maker states (assumed: the middle of that caution zone).
const STATED_EDGE_ERROR: f64 = RADIUS_ERROR / 2.0;
/// Least uncertainty of a meter that was never compared with a piece of the same alloy.
const UNCOMPARED_SHARE: f64 = 0.01;
/// Standard uncertainty of a temperature that nobody recorded, about 20 °C (assumed).
const UNRECORDED_TEMPERATURE_K: f64 = 2.0;
/// Temperature coefficient of the copper block that meters are set on (IEC 60028).
const BLOCK_COEFFICIENT: f64 = 0.003_93;
/// Upper 1 % points of the range of 2, 3, … 8 normal values, in standard deviations.
/// Source: Harter, Annals of Mathematical Statistics 31 (1960), table of percentage points of the range (from memory).
const RANGE_POINTS: [f64; 7] = [3.643, 4.120, 4.403, 4.603, 4.757, 4.882, 4.987];

/// The outline of the piece as far as it is known, in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Outline {
    /// Radius of the largest circle that fits on a face.
    pub(super) inscribed_radius: Option<f64>,
    /// Thickness of solid metal under the probe: flat-equivalent where it follows from the mass, else as measured.
    pub(super) metal_thickness: Option<f64>,
}

/// A conductivity at 20 °C that may be compared with limits and candidates, in MS/m.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Usable {
    pub(super) at_20: f64,
    pub(super) budget: Budget,
    /// Cautions that did not make it unusable.
    pub(super) notes: Vec<String>,
    /// Spread of the spots and the limit it passes, when it is uneven.
    pub(super) uneven: Option<(f64, f64)>,
}

impl Usable {
    /// Returns the standard uncertainty, widened when the spots disagree.
    pub(super) fn u_with_spread(&self) -> f64 {
        let spread = self.uneven.map_or(0.0, |(spread, _)| resolution(spread));
        self.budget.u().hypot(spread)
    }
}

/// What became of the conductivity readings.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Verdict {
    Missing,
    /// Reason and remedy.
    NotUsable(String),
    Usable(Usable),
}

/// Passes the readings through the gates and returns their mean at 20 °C with its uncertainty.
pub(super) fn judge(
    evidence: &PieceEvidence,
    alloy: &Material,
    outline: &Outline,
    instruments: &Instruments,
) -> Verdict {
    if evidence.conductivity.is_empty() {
        return Verdict::Missing;
    }
    let mut notes = Vec::new();
    let mut widening = Vec::new();
    if let Err(reason) = gate(evidence, alloy, outline, &mut notes, &mut widening) {
        return Verdict::NotUsable(reason);
    }
    Verdict::Usable(measure(evidence, alloy, instruments, notes, &widening))
}

/// Returns the mean of the readings at 20 °C with its uncertainty, whether they may be used or not; there is at least one.
pub(super) fn measure(
    evidence: &PieceEvidence,
    alloy: &Material,
    instruments: &Instruments,
    mut notes: Vec<String>,
    widening: &[(&'static str, f64)],
) -> Usable {
    let values: Vec<f64> = evidence.conductivity.iter().map(|spot| spot.value.as_ms_per_m()).collect();
    let count = values.len() as f64;
    let shown = values.iter().sum::<f64>() / count;
    let coefficient =
        alloy.temperature_coefficient.as_ref().map_or(BLOCK_COEFFICIENT, |c| c.value.as_per_kelvin());
    let (at_20, temperature_u) = to_20(evidence, shown, coefficient, instruments, &mut notes);

    let repeatability = shown * f64::from(instruments.meter.repeatability_ppm) * 1e-6;
    let meter = &instruments.meter;
    let own_step = meter.digit_step.map_or(0.0, Conductivity::as_ms_per_m);
    let step = evidence.conductivity.iter().map(|spot| spot.step.as_ms_per_m()).fold(own_step, f64::max);
    let mut budget = Budget::new(Measurand::Conductivity);
    let stated = evidence.conductivity.iter().filter_map(|spot| spot.stated).max();
    match stated {
        Some(u) => budget.add(
            "stated by the operator",
            u.as_ms_per_m().max(resolution(step)),
            "not below digit step / √12",
        ),
        None => {
            let who = meter.name.as_ref().map_or_else(|| "instrument".to_owned(), |name| format!("`{name}`"));
            let source = format!("{who}, divided by √spots");
            budget.add("repeatability", repeatability / count.sqrt(), &source);
            budget.add("digit step", resolution(step), RESOLUTION_SOURCE);
            add_calibration(&mut budget, meter, shown);
            budget.add("temperature", temperature_u, "value × coefficient × u(temperature)");
            for (name, share) in widening {
                budget.add(name, rectangular(at_20 * share), "error of the caution zone / √3");
            }
            let floor = at_20 * UNCOMPARED_SHARE;
            if !meter.compared_with_same_alloy && budget.u() < floor {
                let rest = (floor * floor - budget.u() * budget.u()).sqrt();
                notes.push(format!(
                    "the meter was never compared with a piece of this alloy, so u counts 1 %; compared, it is {:.2} MS/m",
                    budget.u()
                ));
                budget.add("never compared with this alloy", rest, "fills the budget to 1 % of the value");
            }
        }
    }
    let uneven = spread(&values, repeatability.hypot(resolution(step)));
    Usable { at_20, budget, notes, uneven }
}

/// Adds what certificate or data sheet say that a meter may be off; the certificate counts where there is one.
pub(super) fn add_calibration(budget: &mut Budget, meter: &Meter, shown: f64) {
    match (&meter.certificate, meter.limit) {
        (Some(certificate), _) => {
            let u = shown * certificate.expanded.as_share() / certificate.k;
            let source = format!("U / k, k = {}, {}", certificate.k, certificate.named());
            budget.add("certificate", u, &source);
        }
        (None, Some(limit)) => {
            budget.add("limit of error", rectangular(shown * limit.as_share()), LIMIT_SOURCE)
        }
        (None, None) => {}
    }
}

/// Refuses a reading that cannot be used, with reason and remedy; collects cautions.
fn gate(
    evidence: &PieceEvidence,
    alloy: &Material,
    outline: &Outline,
    notes: &mut Vec<String>,
    widening: &mut Vec<(&'static str, f64)>,
) -> Result<(), String> {
    let presentation = &evidence.presentation;
    if presentation.form == Form::Irregular {
        return Err("no flat field under the probe: jewellery, hollow ware and grain are not for this method; assay a sample"
            .to_owned());
    }
    if presentation.magnet == Some(MagnetResponse::Attracted) {
        return Err(
            "the piece is attracted by a magnet: no eddy-current reading of it means anything".to_owned()
        );
    }
    let Some(probe) = &evidence.probe else {
        notes.push("probe not recorded: neither its depth nor its size could be judged".to_owned());
        return Ok(());
    };
    let lift_off =
        presentation.sleeve.into_iter().chain(presentation.lift_off).map(|l| l.as_millimetres()).sum::<f64>();
    if lift_off > 0.0 {
        match probe.lift_off_range.map(|range| range.as_millimetres()) {
            Some(range) if lift_off <= range => {
                notes.push(format!("read through {lift_off:.2} mm, within the probe's {range:.2} mm"))
            }
            Some(range) => {
                return Err(format!(
                    "read through {lift_off:.2} mm, above the probe's lift-off range of {range:.2} mm; read the bare piece"
                ));
            }
            None => {
                return Err(format!(
                    "read through {lift_off:.2} mm with a probe whose lift-off range is not known; read the bare piece"
                ));
            }
        }
    }
    if let (Some(frequency), Some(thickness)) = (probe.frequency, outline.metal_thickness) {
        let sigma = alloy.conductivity.value.as_ms_per_m();
        let hertz = frequency.as_hertz();
        let ratio = thickness / skin_depth_mm(sigma, hertz, 1.0);
        if ratio < THICKNESS_LEAST {
            let needed = hertz * (THICKNESS_FREE / ratio).powi(2);
            return Err(format!(
                "{thickness:.2} mm of metal is {ratio:.1} skin depths at {}, least usable is {THICKNESS_LEAST}; use a probe \
                 of {} or higher",
                frequency_words(hertz),
                frequency_words(needed)
            ));
        }
        if ratio < THICKNESS_FREE {
            let plate = Layer { conductivity_ms_m: sigma, thickness_mm: thickness };
            let error = (apparent_conductivity(&[plate], Backing::Air, hertz) / sigma - 1.0).abs();
            widening.push(("thin for this frequency", error));
            notes.push(format!(
                "{ratio:.1} skin depths thick (free of caution from {THICKNESS_FREE}): may read {:.0} % high",
                100.0 * error
            ));
        }
    }
    if let (None, Some(distance), Some(radius)) = (probe.coil, probe.edge_distance, outline.inscribed_radius)
    {
        let least = distance.as_millimetres();
        if radius < least {
            return Err(format!(
                "a circle of {radius:.1} mm radius fits on it, and the probe's maker asks for {least:.1} mm from its centre to \
                 the nearest edge; use a smaller probe"
            ));
        }
    }
    if let (Some(coil), Some(radius)) = (probe.coil, outline.inscribed_radius) {
        let outer = coil.outer.as_millimetres();
        let ratio = radius / outer;
        if ratio < RADIUS_LEAST {
            return Err(format!(
                "a circle of {radius:.1} mm radius fits on it, {ratio:.2} times the coil's {outer:.1} mm, least usable is \
                 {RADIUS_LEAST}; use a probe of at most {:.1} mm outer radius",
                radius / RADIUS_FREE
            ));
        }
        if ratio < RADIUS_FREE {
            let share = RADIUS_ERROR * (RADIUS_FREE - ratio) / (RADIUS_FREE - RADIUS_LEAST);
            widening.push(("small for this probe", share));
            notes.push(format!(
                "small for this probe: radius {ratio:.2} times the coil's (free of caution from {RADIUS_FREE}), may read \
                 {:.1} % low",
                100.0 * share
            ));
        }
        let stated = probe.edge_distance.map(|distance| distance.as_millimetres());
        if let Some(stated) = stated.filter(|stated| radius < *stated && ratio >= RADIUS_FREE) {
            widening.push(("nearer to the edge than stated", STATED_EDGE_ERROR));
            notes.push(format!(
                "its centre is {radius:.1} mm from the edge, the probe's maker states {stated:.1} mm: may read {:.1} % low",
                100.0 * STATED_EDGE_ERROR
            ));
        }
    }
    Ok(())
}

/// Refers a shown value to 20 °C; returns it with the standard uncertainty that the temperature brings.
fn to_20(
    evidence: &PieceEvidence,
    shown: f64,
    coefficient: f64,
    instruments: &Instruments,
    notes: &mut Vec<String>,
) -> (f64, f64) {
    let standardised = evidence.probe.as_ref().map_or(Standardised::Unknown, |probe| probe.standardised);
    let Some(temperature) = evidence.temperature else {
        notes.push("temperature not recorded: 20 °C taken, ± 2 K".to_owned());
        return (shown, shown * coefficient * UNRECORDED_TEMPERATURE_K);
    };
    let celsius = temperature.value.as_celsius();
    let u = shown * coefficient * instruments.thermometer.standard_uncertainty.as_kelvin();
    let block_at =
        |block: f64| conductivity_at_20_from_reading(shown, coefficient, celsius, BLOCK_COEFFICIENT, block);
    match standardised {
        Standardised::AtTemperature => (block_at(celsius), u),
        Standardised::To20C => (shown, u),
        Standardised::Unknown => {
            let corrected = block_at(celsius);
            let raw = block_at(REFERENCE_C);
            let half_width =
                (corrected - raw).abs().max((shown - raw).abs()).max((shown - corrected).abs()) / 2.0;
            ((corrected + raw) / 2.0, u.hypot(rectangular(half_width)))
        }
    }
}

/// Returns spread and limit when spots differ more than the meter repeats, at the 1 % level.
///
/// The limit is never below 2·√2·repeatability; the points of the range keep the rate of false alarms at 1 % however many
/// spots are read.
fn spread(values: &[f64], repeatability: f64) -> Option<(f64, f64)> {
    if values.len() < 2 {
        return None;
    }
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let point = RANGE_POINTS[(values.len() - 2).min(RANGE_POINTS.len() - 1)];
    let limit = repeatability * point.max(2.0 * 2f64.sqrt());
    (high - low > limit).then_some((high - low, limit))
}

/// Prints a frequency as people say it.
pub(super) fn frequency_words(hertz: f64) -> String {
    if hertz >= 10_000.0 {
        format!("{:.0} kHz", hertz / 1000.0)
    } else if hertz >= 1000.0 {
        format!("{:.1} kHz", hertz / 1000.0)
    } else {
        format!("{hertz:.0} Hz")
    }
}
