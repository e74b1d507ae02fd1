//! The uncertainty of a reading, line by line.
//!
//! u² = repeatability² + (digit step)²/12 + (certificate U/k)² or (limit of error)²/3 + the quantity's own terms, never
//! below step/√12. A stated uncertainty replaces all of it.
//!
//! # Source
//! JCGM 100:2008, 4.3.7 (rectangular distribution), F.2.2.1 (resolution), 5.1.2 (combination).

use super::assessment::BudgetLine;
use crate::evidence::{Amount, Calliper, Direct, Limit, Measurand, Observation, Scale};
use crate::metrology::evaluation::{rectangular, resolution};
use crate::quantity::{Length, Mass, Quantity};

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
pub(super) const LIMIT_SOURCE: &str = "limit of error / √3 (JCGM 100:2008, 4.3.7)";

/// Repeatability in digit steps where nothing better is known: a display that repeats to one digit scatters by about this
/// much (assumed).
pub(super) const REPEATS_IN_STEPS: f64 = 0.3;

/// Returns the budget of a weighing, in grams.
///
/// The certificate counts where there is one, else the limit of error at this load. A value typed with fewer digits than the
/// instrument shows cannot be better than that digit: the limit of error is at least one step, the repeatability at least
/// 0.3 of it (assumed).
pub(super) fn weighing(observation: &Observation<Mass>, scale: &Scale) -> Budget {
    let limit = scale.limit_at(observation.value).map(Mass::as_grams);
    of_instrument(Measurand::Mass, observation, scale, limit, Mass::as_grams)
}

/// Returns the budget of a length, in millimetres; rules as for [`weighing`].
pub(super) fn length(measurand: Measurand, observation: &Observation<Length>, calliper: &Calliper) -> Budget {
    let limit = calliper.limit_at(observation.value).map(Length::as_millimetres);
    of_instrument(measurand, observation, calliper, limit, Length::as_millimetres)
}

/// Returns the budget of a direct reading; `number` gives a quantity in the measurand's first unit.
fn of_instrument<Q: Quantity>(
    measurand: Measurand,
    observation: &Observation<Q>,
    instrument: &Direct<Q>,
    limit: Option<f64>,
    number: impl Fn(Q) -> f64,
) -> Budget {
    let step = number(instrument.step_of(observation.step));
    let mut budget = Budget::new(measurand);
    if let Some(stated) = observation.stated {
        let u = number(stated).max(resolution(step));
        budget.add("stated by the operator", u, "not below digit step / √12");
        return budget;
    }
    let who = instrument.name.as_ref().map_or_else(|| "instrument".to_owned(), |name| format!("`{name}`"));
    budget.add(
        "repeatability",
        number(instrument.repeatability).max(REPEATS_IN_STEPS * step),
        &format!("{who}, at least 0.3 digit"),
    );
    budget.add("digit step", resolution(step), RESOLUTION_SOURCE);
    let coarse = instrument.digit_step.is_some_and(|own| step > number(own));
    match &instrument.certificate {
        Some(certificate) => {
            let u = number(certificate.expanded) / certificate.k;
            let source = format!("U / k, k = {}, {}", certificate.k, certificate.named());
            budget.add("certificate", if coarse { u.max(rectangular(step)) } else { u }, &source);
        }
        None => {
            let limit = limit.unwrap_or(0.0).max(step);
            let source = match instrument.limit {
                Some(Limit::Standard(standard)) => format!("{LIMIT_SOURCE}, {}", standard.words()),
                _ => LIMIT_SOURCE.to_owned(),
            };
            budget.add("limit of error", rectangular(limit), &source);
        }
    }
    budget
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::{Certificate, Instruments};
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
    fn a_certificate_counts_instead_of_the_limit_of_error() {
        // JCGM 100:2008, 4.3.3: a certificate's U = 0.006 g with k = 2 is u = 0.003 g.
        let observation = Observation::of(&parse::<Mass>("31.10").unwrap());
        let certificate = Certificate {
            number: "12-3".to_owned(),
            date: "2026-02-01".to_owned(),
            expanded: Mass::from_grams(0.006),
            k: 2.0,
        };
        let scale = Scale {
            name: Some("bench".to_owned()),
            digit_step: Some(Mass::from_grams(0.01)),
            certificate: Some(certificate),
            ..Instruments::built_in().scale
        };
        let budget = weighing(&observation, &scale);
        let expected = (0.004f64.powi(2) + 1e-4 / 12.0 + 0.003f64.powi(2)).sqrt();
        assert!((budget.u() - expected).abs() < 1e-12);
        assert_eq!(budget.lines[2].source, "U / k, k = 2, certificate 12-3 of 2026-02-01");
        // Typed with a digit less than the scale shows, the certificate promises too much.
        let coarse = Observation::of(&parse::<Mass>("31.1").unwrap());
        assert!(weighing(&coarse, &scale).u() > 0.1 / 3f64.sqrt());
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
