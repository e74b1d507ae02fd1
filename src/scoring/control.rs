//! A control judged: the value with its uncertainty against the assigned one, and against the controls before it.

use super::assessment::BudgetLine;
use super::budget::{self, Budget, REPEATS_IN_STEPS};
use super::conductivity;
use crate::evidence::{Amount, Instruments, Measurand, Observation, PieceEvidence, Probe, ReferencePiece};
use crate::metrology::control::{
    ControlLimits, CusumPoint, cusum, individuals_chart, moving_average_limits, moving_averages,
    normalized_error,
};
use crate::metrology::drift::{Line, line};
use crate::metrology::evaluation::resolution;
use crate::quantity::{Conductivity, Length, Mass, Quantity, Temperature};
use crate::reference::Material;

/// Controls in control from which the limits of their chart are trusted (NIST/SEMATECH e-Handbook, 6.3.2: at least 20).
pub const TRUSTED_FROM: usize = 20;
/// Coverage factor with which controls are compared.
const COVERAGE: f64 = 2.0;
/// Weight of the newest control in the moving average, and the width of its limits in standard deviations (NIST/SEMATECH
/// e-Handbook, 6.3.2.4: 0.2 to 0.3, and 3).
const WEIGHT: f64 = 0.3;
const WIDTH: f64 = 3.0;
/// Allowance and decision value of the CUSUM in standard deviations (NIST/SEMATECH e-Handbook, 6.3.2.3: 0.5, and 4 to 5).
const ALLOWANCE: f64 = 0.5;
const DECISION: f64 = 5.0;
/// Expected range of two normal values in standard deviations (NIST/SEMATECH e-Handbook, 6.3.2.2).
const D2_OF_TWO: f64 = 1.128;

/// What a control is made of.
#[derive(Debug, Clone, Copy)]
pub struct ControlReading<'a> {
    /// The instruments, the one that is checked in use.
    pub instruments: &'a Instruments,
    /// The probe, for a conductivity.
    pub probe: Option<&'a Probe>,
    /// The reference piece.
    pub piece: &'a ReferencePiece,
    /// What the piece is made of; needed for a conductivity.
    pub material: Option<&'a Material>,
    /// The value as shown.
    pub value: Amount,
    /// One step of its last digit, in base integers.
    pub step: i64,
    /// Temperature of the piece.
    pub temperature: Option<Temperature>,
    /// Values compared of the earlier controls that passed on the same piece with the same instrument and probe, oldest
    /// first, in the first unit.
    pub earlier: &'a [f64],
}

/// What a control came to.
#[derive(Debug, Clone, PartialEq)]
pub struct ControlVerdict {
    /// The value compared: of a conductivity the one at 20 °C.
    pub compared: Amount,
    /// Its expanded uncertainty, k = 2.
    pub expanded: Amount,
    /// Expanded uncertainty of the assigned value, k = 2.
    pub assigned_expanded: Amount,
    /// Where the uncertainty of the value comes from.
    pub budget: Vec<BudgetLine>,
    /// E_n: difference from the assigned value, in expanded uncertainties of both.
    pub e_n: f64,
    /// Limits of the earlier controls, when there are enough of them.
    pub limits: Option<ControlLimits>,
    /// Whether it passed.
    pub passed: bool,
    /// In words, with the numbers.
    pub finding: String,
}

/// Judges a control: it passes while |E_n| ≤ 1 and the value lies within the limits of the earlier controls, once there are
/// twenty of them. `None` for a conductivity whose material is not known.
///
/// # Source
/// ISO 13528:2015, 9.7 (E_n, from memory); NIST/SEMATECH e-Handbook, 6.3.2.2 (individuals chart).
pub fn judge_control(reading: &ControlReading<'_>) -> Option<ControlVerdict> {
    let measurand = reading.piece.assigned.measurand;
    let (value, budget) = measured(reading, measurand)?;
    let expanded = COVERAGE * budget.u();
    let assigned_expanded = COVERAGE * reading.piece.expanded.value() / reading.piece.k;
    let e_n = normalized_error(value, expanded, reading.piece.assigned.value(), assigned_expanded);
    let step = Amount { measurand, base: reading.step }.value();
    let limits = limits(reading.earlier, step);
    let within = limits.is_none_or(|limits| limits.contains(value));
    let finding = finding(reading, value, e_n, limits);
    let amount = |value: f64| Amount::of(measurand, value);
    Some(ControlVerdict {
        compared: amount(value),
        expanded: amount(expanded),
        assigned_expanded: amount(assigned_expanded),
        budget: budget.lines,
        e_n,
        limits,
        // A comparison of nothing with nothing is no number, and passes nothing.
        passed: e_n.abs() <= 1.0 && within,
        finding,
    })
}

/// Returns the value to be compared with its budget.
fn measured(reading: &ControlReading<'_>, measurand: Measurand) -> Option<(f64, Budget)> {
    let (base, step) = (reading.value.base, reading.step);
    match measurand {
        Measurand::Mass => {
            let seen = Observation::<Mass>::from_base(base, step);
            Some((seen.value.as_grams(), budget::weighing(&seen, &reading.instruments.scale)))
        }
        Measurand::Conductivity => {
            let evidence = PieceEvidence {
                conductivity: vec![Observation::<Conductivity>::from_base(base, step)],
                temperature: reading.temperature.map(|value| Observation {
                    value,
                    step: Temperature::from_base(1),
                    stated: None,
                }),
                probe: reading.probe.cloned(),
                ..PieceEvidence::default()
            };
            // What the meter was never compared with is of no concern here: the piece is its own alloy.
            let mut instruments = reading.instruments.clone();
            instruments.meter.compared_with_same_alloy = true;
            let usable = conductivity::measure(&evidence, reading.material?, &instruments, Vec::new(), &[]);
            Some((usable.at_20, usable.budget))
        }
        _ => {
            let seen = Observation::<Length>::from_base(base, step);
            let instrument = reading.instruments.for_length(Measurand::Length);
            Some((seen.value.as_millimetres(), budget::length(measurand, &seen, instrument)))
        }
    }
}

/// Returns the limits of the earlier controls, never narrower than what the last digit alone makes of them.
fn limits(earlier: &[f64], step: f64) -> Option<ControlLimits> {
    if earlier.len() < TRUSTED_FROM {
        return None;
    }
    let found = individuals_chart(earlier)?.readings;
    let least = WIDTH * (REPEATS_IN_STEPS * step).hypot(resolution(step));
    let reach = (found.upper - found.centre).max(least);
    Some(ControlLimits { centre: found.centre, lower: found.centre - reach, upper: found.centre + reach })
}

fn finding(reading: &ControlReading<'_>, value: f64, e_n: f64, limits: Option<ControlLimits>) -> String {
    let decimals = crate::metrology::rounding::decimals_of(reading.piece.expanded.value().max(1e-9), 2);
    let show = |value: f64| Amount::of(reading.piece.assigned.measurand, value).show(decimals);
    let compared = format!("{} against {}", show(value), reading.piece.assigned.show(decimals));
    let error =
        if e_n.abs() <= 1.0 { format!("E_n {e_n:.2}") } else { format!("E_n {e_n:.2}, allowed is -1 to 1") };
    match limits {
        Some(limits) if !limits.contains(value) => format!(
            "{compared}, {error}; outside {} to {}, the limits of {} earlier controls",
            show(limits.lower),
            show(limits.upper),
            reading.earlier.len()
        ),
        _ => format!("{compared}, {error}"),
    }
}

/// The chart of the controls of one series, in the order of time.
#[derive(Debug, Clone, PartialEq)]
pub struct ControlChart {
    /// Limits of single controls; trusted from twenty controls that passed.
    pub limits: Option<ControlLimits>,
    /// Whether those limits are trusted.
    pub trusted: bool,
    /// Differences between neighbours, the first one not there.
    pub ranges: Vec<f64>,
    /// Upper limit of such a difference.
    pub range_upper: Option<f64>,
    /// Moving averages.
    pub averages: Vec<f64>,
    /// Limits of the moving average.
    pub average_limits: Option<ControlLimits>,
    /// CUSUM sums.
    pub sums: Vec<CusumPoint>,
    /// Value above which a sum signals.
    pub decision: f64,
    /// The drift line through the controls that passed, over the days given; `None` with fewer than three.
    pub drift: Option<Line>,
}

/// Makes the chart of a series: `values` compared in the first unit with whether each passed, `days` since the first control.
///
/// Centre and scatter come from the controls that passed; without two of them the assigned value is the centre.
///
/// # Source
/// NIST/SEMATECH e-Handbook, 6.3.2.2 to 6.3.2.4.
pub fn control_chart(values: &[(f64, bool)], days: &[f64], assigned: f64) -> ControlChart {
    let all: Vec<f64> = values.iter().map(|(value, _)| *value).collect();
    let good: Vec<f64> = values.iter().filter(|(_, passed)| *passed).map(|(value, _)| *value).collect();
    let chart = individuals_chart(&good);
    let centre = chart.map_or(assigned, |chart| chart.readings.centre);
    let deviation = chart.map_or(0.0, |chart| chart.mean_range / D2_OF_TWO);
    let decision = DECISION * deviation;
    // A control that failed tells of an accident, not of a slow drift.
    let steady: (Vec<f64>, Vec<f64>) = days
        .iter()
        .zip(values)
        .filter(|(_, (_, passed))| *passed)
        .map(|(day, (value, _))| (*day, *value))
        .unzip();
    ControlChart {
        limits: chart.map(|chart| chart.readings),
        trusted: good.len() >= TRUSTED_FROM,
        ranges: all.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect(),
        range_upper: chart.map(|chart| chart.range_upper),
        averages: moving_averages(&all, WEIGHT, centre),
        average_limits: chart.map(|_| moving_average_limits(centre, deviation, WEIGHT, WIDTH)),
        sums: cusum(&all, centre, ALLOWANCE * deviation, decision),
        decision,
        drift: line(&steady.0, &steady.1),
    }
}
