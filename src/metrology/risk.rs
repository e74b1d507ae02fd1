//! Global risks: how often a production line or a supplier, measured with this uncertainty, leads to a wrong decision.

use super::conformity::Limits;
use super::integral::integrate;
use super::normal::{self, upper_tail};
use statrs::function::gamma::ln_gamma;
use thiserror::Error;

/// A process or an uncertainty from which no risk can be computed.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum RiskError {
    /// A parameter of the process, or the uncertainty, is outside its range.
    #[error("{name} `{found}` is not allowed; it must be finite and {allowed}")]
    BadParameter {
        /// The parameter.
        name: &'static str,
        /// The number given.
        found: f64,
        /// What is allowed.
        allowed: &'static str,
    },
}

/// The distribution of the true values of what is being inspected, before any reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Process {
    /// Normal distribution.
    Normal {
        /// Mean.
        mean: f64,
        /// Standard deviation, above zero.
        standard_deviation: f64,
    },
    /// Gamma distribution, for what cannot be negative.
    Gamma {
        /// Shape, at least 1.
        shape: f64,
        /// Rate, above zero, in one over the unit of the value.
        rate: f64,
    },
}

impl Process {
    /// Checks the parameters.
    fn check(&self) -> Result<(), RiskError> {
        match *self {
            Process::Normal { mean, standard_deviation } => {
                require("process mean", mean, mean.is_finite(), "any number")?;
                require(
                    "process standard deviation",
                    standard_deviation,
                    standard_deviation > 0.0,
                    "above zero",
                )
            }
            Process::Gamma { shape, rate } => {
                require("process shape", shape, shape >= 1.0, "at least 1")?;
                require("process rate", rate, rate > 0.0, "above zero")
            }
        }
    }

    /// Returns the density at a value.
    fn density(&self, value: f64) -> f64 {
        match *self {
            Process::Normal { mean, standard_deviation } => {
                normal::density((value - mean) / standard_deviation) / standard_deviation
            }
            Process::Gamma { shape, rate } if value >= 0.0 => {
                let log_power = if shape == 1.0 { 0.0 } else { (shape - 1.0) * (rate * value).ln() };
                rate * (log_power - rate * value - ln_gamma(shape)).exp()
            }
            Process::Gamma { .. } => 0.0,
        }
    }

    /// Returns an interval outside which less than 10⁻²⁰ of the process lies.
    fn range(&self) -> (f64, f64) {
        match *self {
            Process::Normal { mean, standard_deviation } => {
                (mean - 10.0 * standard_deviation, mean + 10.0 * standard_deviation)
            }
            Process::Gamma { shape, rate } => {
                let reach = 12.0 * shape.sqrt();
                ((shape - reach).max(0.0) / rate, (shape + reach + 60.0) / rate)
            }
        }
    }
}

/// The global risks of one way of inspecting, as shares of all pieces inspected.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GlobalRisk {
    /// Consumer's risk: not conforming and accepted.
    pub consumer: f64,
    /// Producer's risk: conforming and rejected.
    pub producer: f64,
    /// Conforming, whatever is decided.
    pub conforming: f64,
    /// Accepted, whatever the truth.
    pub accepted: f64,
}

impl GlobalRisk {
    /// Returns the share of the accepted pieces that does not conform; `None` when nothing is accepted.
    pub fn consumer_given_accepted(&self) -> Option<f64> {
        (self.accepted > 0.0).then(|| self.consumer / self.accepted)
    }
}

/// Panels for each stretch between two places where the integrand changes its character.
const PANELS: u32 = 64;

/// Returns the global risks of accepting the readings inside `acceptance` when the truth must lie inside `limits`.
///
/// `standard_uncertainty` above zero; it, the process and all limits in one unit. Absolute error below 10⁻⁷.
///
/// # Errors
/// `BadParameter` for a process or an uncertainty out of range.
///
/// # Source
/// JCGM 106:2012, 9.5.
pub fn global_risk(
    process: &Process,
    standard_uncertainty: f64,
    limits: &Limits,
    acceptance: &Limits,
) -> Result<GlobalRisk, RiskError> {
    process.check()?;
    let u = standard_uncertainty;
    require("standard uncertainty", u, u > 0.0, "above zero")?;
    let (from, to) = process.range();
    let accept = |truth: f64| {
        let below = acceptance.lower().map_or(0.0, |lower| upper_tail((truth - lower) / u));
        let above = acceptance.upper().map_or(0.0, |upper| upper_tail((upper - truth) / u));
        (below, above)
    };
    // Steps in the integrand at the limits, and its bends about the acceptance limits, begin new stretches.
    let edges = [acceptance.lower(), acceptance.upper()]
        .into_iter()
        .flatten()
        .flat_map(|a| [a - 8.0 * u, a, a + 8.0 * u]);
    let mut breaks: Vec<f64> = [limits.lower(), limits.upper()].into_iter().flatten().chain(edges).collect();
    if matches!(process, Process::Gamma { .. }) && from == 0.0 {
        // A gamma density of small shape rises from zero with an infinite slope: ever shorter stretches catch it.
        breaks.extend((1..=12).map(|step| to * 0.25_f64.powi(step)));
    }
    breaks.retain(|place| *place > from && *place < to);
    breaks.extend([from, to]);
    breaks.sort_by(f64::total_cmp);
    let mut risk = GlobalRisk { consumer: 0.0, producer: 0.0, conforming: 0.0, accepted: 0.0 };
    for stretch in breaks.windows(2) {
        let (start, end) = (stretch[0], stretch[1]);
        let all = integrate(|truth| process.density(truth), start, end, PANELS);
        let rejected = integrate(
            |truth| {
                let (below, above) = accept(truth);
                process.density(truth) * (below + above).min(1.0)
            },
            start,
            end,
            PANELS,
        );
        let accepted = integrate(
            |truth| {
                let (below, above) = accept(truth);
                process.density(truth) * (1.0 - below - above).max(0.0)
            },
            start,
            end,
            PANELS,
        );
        risk.accepted += accepted;
        if limits.contains(start + (end - start) / 2.0) {
            risk.conforming += all;
            risk.producer += rejected;
        } else {
            risk.consumer += accepted;
        }
    }
    Ok(risk)
}

/// Returns the upper acceptance limit at which the consumer's risk beyond one upper limit takes a wanted value.
///
/// Units as for [`global_risk`]; found by bisection between ten uncertainties and the width of the process below the
/// limit, and as far above it. `None` when no acceptance limit in that stretch gives the wanted risk.
///
/// # Errors
/// As [`global_risk`].
///
/// # Source
/// JCGM 106:2012, 9.5.4.
pub fn acceptance_limit_for_consumer_risk(
    process: &Process,
    standard_uncertainty: f64,
    upper_limit: f64,
    wanted: f64,
) -> Result<Option<f64>, RiskError> {
    process.check()?;
    require("upper limit", upper_limit, upper_limit.is_finite(), "any number")?;
    let limits = Limits::new(None, Some(upper_limit)).expect("one finite limit cannot contradict itself");
    let risk_at = |limit: f64| {
        let acceptance = Limits::new(None, Some(limit)).expect("one finite limit cannot contradict itself");
        global_risk(process, standard_uncertainty, &limits, &acceptance).map(|risk| risk.consumer)
    };
    let (from, to) = process.range();
    let reach = 10.0 * standard_uncertainty + (to - from);
    let (mut strict, mut lax) = (upper_limit - reach, upper_limit + reach);
    if !(risk_at(strict)? <= wanted && wanted <= risk_at(lax)?) {
        return Ok(None);
    }
    for _ in 0..60 {
        let middle = strict + (lax - strict) / 2.0;
        if risk_at(middle)? <= wanted {
            strict = middle;
        } else {
            lax = middle;
        }
    }
    Ok(Some(strict))
}

/// Refuses a parameter that is not finite or outside its range.
fn require(name: &'static str, found: f64, in_range: bool, allowed: &'static str) -> Result<(), RiskError> {
    if found.is_finite() && in_range { Ok(()) } else { Err(RiskError::BadParameter { name, found, allowed }) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_perfect_instrument_makes_no_wrong_decision_and_shares_add_up() {
        let process = Process::Normal { mean: 0.0, standard_deviation: 1.0 };
        let limits = Limits::new(Some(-1.0), Some(2.0)).unwrap();
        let fine = global_risk(&process, 1e-6, &limits, &limits).unwrap();
        assert!(fine.consumer < 1e-6 && fine.producer < 1e-6);
        // Φ(2) − Φ(−1) = 0.8185946 (any normal table).
        assert!((fine.conforming - 0.818_594_6).abs() < 1e-7);
        let coarse = global_risk(&process, 0.5, &limits, &limits).unwrap();
        assert!((coarse.accepted - (coarse.conforming - coarse.producer + coarse.consumer)).abs() < 1e-9);
    }

    #[test]
    fn the_gamma_process_is_a_whole_distribution() {
        for shape in [1.0, 1.5, 4.0, 50.0, 1e6] {
            let process = Process::Gamma { shape, rate: 4.0 };
            let all = global_risk(&process, 0.25, &Limits::NONE, &Limits::NONE).unwrap();
            assert!(
                (all.conforming - 1.0).abs() < 1e-7 && (all.accepted - 1.0).abs() < 1e-7,
                "{shape}: {all:?}"
            );
        }
    }

    #[test]
    fn parameters_out_of_range_are_named() {
        let bad = Process::Gamma { shape: 0.5, rate: 1.0 };
        assert!(matches!(
            global_risk(&bad, 1.0, &Limits::NONE, &Limits::NONE),
            Err(RiskError::BadParameter { name: "process shape", .. })
        ));
        let good = Process::Normal { mean: 0.0, standard_deviation: 1.0 };
        assert!(global_risk(&good, 0.0, &Limits::NONE, &Limits::NONE).is_err());
        assert_eq!(acceptance_limit_for_consumer_risk(&good, 0.1, 1.0, 0.9), Ok(None));
    }
}
