//! Whether a reading lies inside its limits, as a probability and as one of four outcomes.
//!
//! The true value is taken as normally distributed about the reading with the reading's standard uncertainty. Readings,
//! limits and uncertainties share the caller's unit.

use super::normal::{quantile, upper_tail};
use thiserror::Error;

/// Limits or thresholds that contradict themselves.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum ConformityError {
    /// A limit is infinite or not a number.
    #[error("limit `{found}` is not a finite number; leave a missing limit out")]
    LimitNotFinite {
        /// The limit given.
        found: f64,
    },
    /// The lower limit lies above the upper limit.
    #[error("lower limit `{lower}` lies above upper limit `{upper}`")]
    LimitsReversed {
        /// Lower limit given.
        lower: f64,
        /// Upper limit given.
        upper: f64,
    },
    /// The thresholds would let one probability be both inside and outside, or pass what is more likely out than in.
    #[error(
        "thresholds inside `{inside}` and outside `{outside}` are not allowed; inside must be above 0.5 and below 1, outside above 0 and below 0.5"
    )]
    BadThresholds {
        /// Least conformance probability that counts as inside.
        inside: f64,
        /// Greatest conformance probability that counts as outside.
        outside: f64,
    },
}

/// The limits of a specification; either may be missing.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Limits {
    lower: Option<f64>,
    upper: Option<f64>,
}

impl Limits {
    /// No limits at all: everything conforms.
    pub const NONE: Limits = Limits { lower: None, upper: None };

    /// Makes limits; the lower one must not lie above the upper one.
    ///
    /// # Errors
    /// `LimitNotFinite` and `LimitsReversed` repeat what was given.
    pub fn new(lower: Option<f64>, upper: Option<f64>) -> Result<Self, ConformityError> {
        if let Some(found) = [lower, upper].into_iter().flatten().find(|limit| !limit.is_finite()) {
            return Err(ConformityError::LimitNotFinite { found });
        }
        match (lower, upper) {
            (Some(lower), Some(upper)) if lower > upper => {
                Err(ConformityError::LimitsReversed { lower, upper })
            }
            _ => Ok(Limits { lower, upper }),
        }
    }

    /// Returns the lower limit, if there is one.
    pub fn lower(&self) -> Option<f64> {
        self.lower
    }

    /// Returns the upper limit, if there is one.
    pub fn upper(&self) -> Option<f64> {
        self.upper
    }

    /// Tells whether a value lies within the limits, the limits themselves included.
    pub fn contains(&self, value: f64) -> bool {
        self.lower.is_none_or(|lower| value >= lower) && self.upper.is_none_or(|upper| value <= upper)
    }

    /// Returns the middle of the window; `None` unless both limits are given.
    pub fn centre(&self) -> Option<f64> {
        Some(self.lower? + (self.upper? - self.lower?) / 2.0)
    }

    /// Returns the width of the window; `None` unless both limits are given.
    pub fn width(&self) -> Option<f64> {
        Some(self.upper? - self.lower?)
    }
}

/// The probability that the true value lies inside the limits, and its complement, each with its own digits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conformance {
    /// Probability of lying inside.
    pub inside: f64,
    /// Probability of lying outside, computed from the tails: it keeps its digits when it is very small.
    pub outside: f64,
}

/// Returns the conformance probability of a reading.
///
/// `value` and its standard uncertainty in the unit of the limits. An uncertainty of zero means that the value is known.
/// A value or an uncertainty that is no number of a measurement (not finite, negative) conforms to nothing.
///
/// # Source
/// JCGM 106:2012, 7.4.
pub fn conformance(value: f64, standard_uncertainty: f64, limits: &Limits) -> Conformance {
    let u = standard_uncertainty;
    if !is_measurement(value, u) {
        return Conformance { inside: 0.0, outside: 1.0 };
    }
    if u == 0.0 {
        let inside = if limits.contains(value) { 1.0 } else { 0.0 };
        return Conformance { inside, outside: 1.0 - inside };
    }
    // Distance of the reading inside each limit, in uncertainties; negative when it is beyond the limit.
    let above_lower = limits.lower.map_or(f64::INFINITY, |lower| (value - lower) / u);
    let below_upper = limits.upper.map_or(f64::INFINITY, |upper| (upper - value) / u);
    let (near, far) = (above_lower.min(below_upper), above_lower.max(below_upper));
    if near < 0.0 {
        // Beyond a limit: the chance of being inside is the small one and is taken between two tails.
        let inside = (upper_tail(-near) - upper_tail(far)).max(0.0);
        Conformance { inside, outside: 1.0 - inside }
    } else {
        let outside = (upper_tail(near) + upper_tail(far)).min(1.0);
        Conformance { inside: 1.0 - outside, outside }
    }
}

/// What a reading says about its limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Outcome {
    /// Inside with at least the required probability.
    Inside,
    /// Neither certainly inside nor certainly outside.
    Marginal,
    /// Certainly outside.
    Outside,
    /// The uncertainty is too large for this window: even a reading at its centre would not be inside.
    NotCapable,
}

/// The conformance probabilities at which a reading counts as inside or outside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thresholds {
    inside: f64,
    outside: f64,
}

impl Thresholds {
    /// Makes thresholds: inside from 0.5 to 1, outside from 0 to 0.5, all exclusive.
    ///
    /// # Errors
    /// `BadThresholds` repeats both numbers.
    pub fn new(inside: f64, outside: f64) -> Result<Self, ConformityError> {
        if inside > 0.5 && inside < 1.0 && outside > 0.0 && outside < 0.5 {
            Ok(Thresholds { inside, outside })
        } else {
            Err(ConformityError::BadThresholds { inside, outside })
        }
    }

    /// Returns the least conformance probability that counts as inside.
    pub fn inside(&self) -> f64 {
        self.inside
    }

    /// Returns the greatest conformance probability that counts as outside.
    pub fn outside(&self) -> f64 {
        self.outside
    }
}

impl Default for Thresholds {
    /// Inside from 0.95, outside up to 0.025.
    fn default() -> Self {
        Thresholds { inside: 0.95, outside: 0.025 }
    }
}

/// A conformance probability and the outcome it leads to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judgement {
    /// Probability and complement.
    pub conformance: Conformance,
    /// Outcome at the thresholds.
    pub outcome: Outcome,
}

/// Judges a reading against its limits.
///
/// Units as for [`conformance`]. A reading that lies beyond one limit with certainty is outside even where the window is
/// too narrow for the instrument; everything else in such a window is not capable. A larger uncertainty never turns
/// another outcome into inside.
///
/// # Source
/// JCGM 106:2012, 7.4 (conformance probability), 8.3 (guarded acceptance and rejection).
pub fn judge(value: f64, standard_uncertainty: f64, limits: &Limits, thresholds: &Thresholds) -> Judgement {
    let conformance = conformance(value, standard_uncertainty, limits);
    let outcome = if !is_measurement(value, standard_uncertainty) {
        Outcome::NotCapable
    } else if beyond_one_limit(value, standard_uncertainty, limits, thresholds) {
        Outcome::Outside
    } else if !is_capable(standard_uncertainty, limits, thresholds) {
        Outcome::NotCapable
    } else if conformance.inside >= thresholds.inside {
        Outcome::Inside
    } else if conformance.inside <= thresholds.outside {
        Outcome::Outside
    } else {
        Outcome::Marginal
    };
    Judgement { conformance, outcome }
}

/// Tells whether a reading at the centre of the window would count as inside; always so with one limit or none.
///
/// `standard_uncertainty` in the unit of the limits.
pub fn is_capable(standard_uncertainty: f64, limits: &Limits, thresholds: &Thresholds) -> bool {
    is_measurement(0.0, standard_uncertainty)
        && limits.centre().is_none_or(|centre| {
            conformance(centre, standard_uncertainty, limits).inside >= thresholds.inside
        })
}

/// Tells whether the chance of lying on the right side of either limit alone is no more than the threshold.
fn beyond_one_limit(value: f64, u: f64, limits: &Limits, thresholds: &Thresholds) -> bool {
    let sides = [Limits { upper: None, ..*limits }, Limits { lower: None, ..*limits }];
    sides.iter().any(|side| conformance(value, u, side).inside <= thresholds.outside)
}

/// Tells whether a value and its uncertainty are numbers that a measurement can have.
fn is_measurement(value: f64, u: f64) -> bool {
    value.is_finite() && u.is_finite() && u >= 0.0
}

/// Returns the acceptance zone: the readings whose conformance probability is at least `least`.
///
/// `standard_uncertainty` in the unit of the limits, zero or more; `least` above 0.5 and below 1. `None` outside these
/// ranges, and when no reading reaches `least`. A missing limit stays missing.
///
/// # Source
/// JCGM 106:2012, 7.5 and 8.3.2; the limits of a two-sided zone are found by bisection of the probability itself.
pub fn acceptance_zone(standard_uncertainty: f64, limits: &Limits, least: f64) -> Option<Limits> {
    let u = standard_uncertainty;
    if !(is_measurement(0.0, u) && least > 0.5 && least < 1.0) {
        return None;
    }
    let Some((centre, lower, upper)) =
        limits.centre().zip(limits.lower).zip(limits.upper).map(|((c, l), u)| (c, l, u))
    else {
        let guard = guard_band(u, least);
        return Some(Limits {
            lower: limits.lower.map(|l| l + guard),
            upper: limits.upper.map(|l| l - guard),
        });
    };
    if conformance(centre, u, limits).inside < least {
        return None;
    }
    let (mut inside, mut beyond) = (0.0, (upper - lower) / 2.0);
    if conformance(upper, u, limits).inside >= least {
        inside = beyond;
    }
    // Offset from the centre; the probability falls with it on both sides alike.
    while beyond > inside {
        let middle = inside + (beyond - inside) / 2.0;
        if middle <= inside || middle >= beyond {
            break;
        }
        if conformance(centre + middle, u, limits).inside >= least {
            inside = middle;
        } else {
            beyond = middle;
        }
    }
    Some(Limits { lower: Some(centre - inside), upper: Some(centre + inside) })
}

/// Returns the guard band of a single limit: how far inside it a reading must lie for a conformance probability.
///
/// In the unit of `standard_uncertainty`; `least` between 0 and 1. Negative for less than 0.5.
///
/// # Source
/// JCGM 106:2012, 7.3, table 1, and 8.3.2; ISO 14253-1:2017 uses 0.95.
pub fn guard_band(standard_uncertainty: f64, least: f64) -> f64 {
    quantile(least) * standard_uncertainty
}

/// Returns the probability that a reading exactly on a guarded acceptance limit belongs to a piece beyond the limit.
///
/// `guard_share` is the guard band as a share of the expanded uncertainty U = k·u.
///
/// # Source
/// ILAC-G8:09/2019, table 1.
pub fn false_acceptance_at_limit(guard_share: f64, coverage_factor: f64) -> f64 {
    upper_tail(guard_share * coverage_factor)
}

/// Returns the measurement capability index C_m = (U − L)/(4 u); `None` unless both limits are given and u is above zero.
///
/// # Source
/// JCGM 106:2012, 7.6.3.
pub fn capability_index(standard_uncertainty: f64, limits: &Limits) -> Option<f64> {
    limits.width().filter(|_| standard_uncertainty > 0.0).map(|width| width / (4.0 * standard_uncertainty))
}

/// Returns the conformance probability from which releasing costs less than holding.
///
/// `cost_of_false_release` and `cost_of_false_hold` in one currency, zero or more and not both zero; else not a number.
///
/// # Source
/// Equal expected costs: (1 − p)·a = p·b (the idea of JCGM 106:2012, 9.5).
pub fn break_even_probability(cost_of_false_release: f64, cost_of_false_hold: f64) -> f64 {
    cost_of_false_release / (cost_of_false_release + cost_of_false_hold)
}

/// Returns a lower bound of the probability that all of several quantities conform: max(0, 1 − Σ(1 − p)).
///
/// `outside`: the complements of the conformance probabilities, any order; 1 for none. It holds however the readings are
/// correlated.
///
/// # Source
/// Bonferroni's inequality.
pub fn joint_conformance(outside: &[f64]) -> f64 {
    (1.0 - outside.iter().sum::<f64>()).max(0.0)
}

/// Returns what each of several checks must reach so that all of them together reach a wanted probability.
///
/// 1 − (1 − wanted)/checks; `checks` at least 1, `None` for none.
///
/// # Source
/// Bonferroni's inequality, solved for equal shares.
pub fn required_of_each(wanted: f64, checks: u32) -> Option<f64> {
    (checks > 0).then(|| 1.0 - (1.0 - wanted) / f64::from(checks))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn window(lower: f64, upper: f64) -> Limits {
        Limits::new(Some(lower), Some(upper)).unwrap()
    }

    fn outcome(value: f64, u: f64, limits: &Limits) -> Outcome {
        judge(value, u, limits, &Thresholds::default()).outcome
    }

    #[test]
    fn limits_that_contradict_themselves_are_refused() {
        assert!(matches!(Limits::new(Some(2.0), Some(1.0)), Err(ConformityError::LimitsReversed { .. })));
        assert!(matches!(Limits::new(Some(f64::NAN), None), Err(ConformityError::LimitNotFinite { .. })));
        assert!(Limits::new(Some(1.0), Some(1.0)).is_ok());
        for (inside, outside) in [(0.5, 0.025), (1.0, 0.025), (0.95, 0.0), (0.95, 0.5), (f64::NAN, 0.1)] {
            assert!(Thresholds::new(inside, outside).is_err());
        }
    }

    #[test]
    fn outcomes_change_at_the_thresholds() {
        let limits = window(0.0, 100.0);
        // One-sided z of 0.95 is 1.645, of 0.975 is 1.960 (JCGM 106:2012, table 1, and every normal table).
        assert_eq!(outcome(1.66, 1.0, &limits), Outcome::Inside);
        assert_eq!(outcome(1.63, 1.0, &limits), Outcome::Marginal);
        assert_eq!(outcome(-1.95, 1.0, &limits), Outcome::Marginal);
        assert_eq!(outcome(-1.97, 1.0, &limits), Outcome::Outside);
        assert_eq!(outcome(101.97, 1.0, &limits), Outcome::Outside);
    }

    #[test]
    fn a_window_too_narrow_for_the_instrument_is_not_capable_but_a_reading_far_beyond_it_is_outside() {
        let limits = window(0.0, 1.0);
        assert_eq!(outcome(0.5, 10.0, &limits), Outcome::NotCapable);
        assert_eq!(outcome(0.5, 0.256, &limits), Outcome::NotCapable);
        assert_eq!(outcome(0.5, 0.255, &limits), Outcome::Inside);
        assert_eq!(outcome(40.0, 10.0, &limits), Outcome::Outside);
        assert_eq!(outcome(10.0, 10.0, &limits), Outcome::NotCapable);
    }

    #[test]
    fn what_is_no_measurement_is_never_inside_and_never_outside() {
        for limits in [Limits::NONE, window(0.0, 1.0), Limits::new(Some(0.0), None).unwrap()] {
            for (value, u) in [(f64::NAN, 0.1), (0.5, f64::NAN), (0.5, -0.1), (0.5, f64::INFINITY)] {
                assert_eq!(outcome(value, u, &limits), Outcome::NotCapable);
            }
        }
    }

    #[test]
    fn a_known_value_is_inside_or_outside() {
        let limits = window(0.0, 1.0);
        assert_eq!(outcome(1.0, 0.0, &limits), Outcome::Inside);
        assert_eq!(outcome(1.1, 0.0, &limits), Outcome::Outside);
        assert_eq!(acceptance_zone(0.0, &limits, 0.95), Some(limits));
    }

    proptest! {
        #[test]
        fn probability_and_complement_add_up_to_one(
            y in -20.0..30.0f64, u in 1e-3..100.0f64, lower in -5.0..5.0f64, width in 0.0..10.0f64, sides in 0..4,
        ) {
            let limits = Limits::new((sides & 1 == 1).then_some(lower), (sides & 2 == 2).then_some(lower + width)).unwrap();
            let p = conformance(y, u, &limits);
            prop_assert!((p.inside + p.outside - 1.0).abs() < 1e-15);
            prop_assert!((0.0..=1.0).contains(&p.inside) && (0.0..=1.0).contains(&p.outside));
        }

        #[test]
        fn a_larger_uncertainty_never_upgrades_an_outcome(
            y in -20.0..30.0f64, u in 1e-3..10.0f64, more in 1.0..50.0f64, lower in -5.0..5.0f64, width in 0.0..10.0f64,
            sides in 0..4,
        ) {
            let limits = Limits::new((sides & 1 == 1).then_some(lower), (sides & 2 == 2).then_some(lower + width)).unwrap();
            let (before, after) = (outcome(y, u, &limits), outcome(y, u * more, &limits));
            prop_assert!(after != Outcome::Inside || before == Outcome::Inside, "{before:?} became {after:?}");
            if before == Outcome::NotCapable {
                prop_assert_eq!(after, Outcome::NotCapable);
            }
            if limits.contains(y) {
                let p = |u| conformance(y, u, &limits).inside;
                prop_assert!(p(u * more) <= p(u) + 1e-15);
                prop_assert!(after != Outcome::Outside);
            }
        }

        #[test]
        fn every_reading_of_the_acceptance_zone_is_inside_and_none_beyond_it(
            u in 1e-3..2.0f64, lower in -5.0..5.0f64, width in 0.1..10.0f64, share in 0.0..1.0f64,
        ) {
            let limits = window(lower, lower + width);
            match acceptance_zone(u, &limits, 0.95) {
                None => prop_assert_eq!(outcome(lower + width / 2.0, u, &limits), Outcome::NotCapable),
                Some(zone) => {
                    let (low, high) = (zone.lower().unwrap(), zone.upper().unwrap());
                    let p = |y| conformance(y, u, &limits).inside;
                    prop_assert!(p(low + share * (high - low)) >= 0.95 - 1e-12);
                    prop_assert!(p(high + 1e-6 * width) < 0.95 && p(low - 1e-6 * width) < 0.95);
                }
            }
        }
    }
}
