//! The uncertainty of a reading, line by line.
//!
//! u² = repeatability² + (digit step)²/12 + (limit of error)²/3 + the quantity's own terms, never below step/√12.
//! A stated uncertainty replaces all of it.
//!
//! # Source
//! JCGM 100:2008, 4.3.7 (rectangular distribution), F.2.2.1 (resolution), 5.1.2 (combination).

use super::assessment::BudgetLine;
use crate::evidence::{Amount, Calliper, Measurand, Observation, Scale};
use crate::metrology::evaluation::{rectangular, resolution};
use crate::quantity::{Length, Mass};

/// A standard uncertainty with the lines it was made of, in the first unit of its measurand.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Budget {
    measurand: Measurand,
    sum_of_squares: f64,
    pub(super) lines: Vec<BudgetLine>,
}

impl Budget {
    /// Starts an empty budget.
    pub(super) fn new(measurand: Measurand) -> Self {
        Budget { measurand, sum_of_squares: 0.0, lines: Vec::new() }
    }

    /// Adds a line with its standard uncertainty in the measurand's first unit; a line of zero is left out.
    pub(super) fn add(&mut self, name: &str, u: f64, source: &str) {
        if u > 0.0 {
            self.sum_of_squares += u * u;
            self.lines.push(BudgetLine {
                name: name.to_owned(),
                u: Amount::of(self.measurand, u),
                source: source.to_owned(),
            });
        }
    }

    /// Returns the combined standard uncertainty in the measurand's first unit.
    pub(super) fn u(&self) -> f64 {
        self.sum_of_squares.sqrt()
    }
}

/// Source of the resolution term.
pub(super) const RESOLUTION_SOURCE: &str = "digit step / √12 (JCGM 100:2008, F.2.2.1)";
/// Source of the limit-of-error term.
const LIMIT_SOURCE: &str = "limit of error / √3 (JCGM 100:2008, 4.3.7)";

/// Repeatability in digit steps where nothing better is known: a display that repeats to one digit scatters by about this
/// much (assumed).
pub(super) const REPEATS_IN_STEPS: f64 = 0.3;

/// Returns the budget of a weighing, in grams.
///
/// A scale whose last digit is coarser than its data sheet cannot be better than that digit: the limit of error is at
/// least one step, the repeatability at least 0.3 of it (assumed).
pub(super) fn weighing(observation: &Observation<Mass>, scale: &Scale) -> Budget {
    let step = observation.step.as_grams();
    of_instrument(
        Measurand::Mass,
        observation.stated.map(Mass::as_grams),
        step,
        scale.repeatability.as_grams(),
        scale.limit_of_error.as_grams(),
    )
}

/// Returns the budget of a calliper measurement, in millimetres; rules as for [`weighing`].
pub(super) fn length(measurand: Measurand, observation: &Observation<Length>, calliper: &Calliper) -> Budget {
    let step = observation.step.as_millimetres();
    of_instrument(
        measurand,
        observation.stated.map(Length::as_millimetres),
        step,
        calliper.repeatability.as_millimetres(),
        calliper.limit_of_error.as_millimetres(),
    )
}

/// Returns the budget of a direct reading.
fn of_instrument(
    measurand: Measurand,
    stated: Option<f64>,
    step: f64,
    repeatability: f64,
    limit_of_error: f64,
) -> Budget {
    let mut budget = Budget::new(measurand);
    match stated {
        Some(u) => {
            budget.add("stated by the operator", u.max(resolution(step)), "not below digit step / √12")
        }
        None => {
            budget.add(
                "repeatability",
                repeatability.max(REPEATS_IN_STEPS * step),
                "instrument, at least 0.3 digit",
            );
            budget.add("digit step", resolution(step), RESOLUTION_SOURCE);
            budget.add("limit of error", rectangular(limit_of_error.max(step)), LIMIT_SOURCE);
        }
    }
    budget
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Instruments;
    use crate::quantity::entry::parse;

    #[test]
    fn a_hundredth_gram_scale_has_the_uncertainty_of_its_three_terms() {
        // JCGM 100:2008: 0.004² + 0.01²/12 + 0.01²/3, in g.
        let observation = Observation::of(&parse::<Mass>("31.10").unwrap());
        let budget = weighing(&observation, &Instruments::built_in().scale);
        let expected = (0.004f64.powi(2) + 1e-4 / 12.0 + 1e-4 / 3.0).sqrt();
        assert!((budget.u() - expected).abs() < 1e-12);
        assert_eq!(budget.lines.len(), 3);
    }

    #[test]
    fn a_coarse_digit_decides_even_on_a_fine_scale() {
        let observation = Observation::of(&parse::<Mass>("31").unwrap());
        assert!(weighing(&observation, &Instruments::built_in().scale).u() > 0.6);
    }

    #[test]
    fn a_stated_uncertainty_is_never_below_the_digit() {
        let observation =
            Observation::of(&parse::<Mass>("31.1").unwrap()).with_stated(Some(Mass::from_grams(0.0001)));
        let u = weighing(&observation, &Instruments::built_in().scale).u();
        assert!((u - 0.1 / 12f64.sqrt()).abs() < 1e-9);
    }
}
