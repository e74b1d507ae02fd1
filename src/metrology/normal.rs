//! The normal distribution and Student's t: probabilities, tails and quantiles.
//!
//! Small tails come from the complementary error function and keep their digits: an upper tail of 10⁻²⁴ is not
//! one minus something.

use statrs::distribution::{ContinuousCDF, StudentsT};
use statrs::function::erf;
use std::f64::consts::{PI, SQRT_2};

/// Returns the density of the standard normal distribution.
pub fn density(z: f64) -> f64 {
    (-z * z / 2.0).exp() / (2.0 * PI).sqrt()
}

/// Returns Φ(z), the probability that a standard normal variable is at most `z`.
///
/// Keeps its relative precision for very negative `z`.
pub fn cumulative(z: f64) -> f64 {
    upper_tail(-z)
}

/// Returns 1 − Φ(z), the probability that a standard normal variable exceeds `z`.
///
/// Keeps its relative precision down to about 10⁻³⁰⁰ (z = 37).
pub fn upper_tail(z: f64) -> f64 {
    0.5 * erf::erfc(z / SQRT_2)
}

/// Returns the quantile: the `z` for which Φ(z) is `probability`.
///
/// Minus or plus infinity for 0 and 1; not a number for anything outside.
pub fn quantile(probability: f64) -> f64 {
    if probability <= 0.5 { -upper_quantile(probability) } else { upper_quantile(1.0 - probability) }
}

/// Returns the `z` that is exceeded with the given probability; the inverse of [`upper_tail`].
///
/// For small tails, where `1 − tail` would lose digits. Infinite for 0 and 1; not a number outside.
pub fn upper_quantile(tail: f64) -> f64 {
    if tail.is_nan() || !(0.0..=1.0).contains(&tail) {
        return f64::NAN;
    }
    let start = SQRT_2 * erf::erfc_inv(2.0 * tail);
    if !start.is_finite() || start.abs() > 37.0 {
        return start;
    }
    // One step of Newton's method removes what the inverse left in its last digits.
    start + (upper_tail(start) - tail) / density(start)
}

/// Returns the quantile of Student's t distribution.
///
/// `probability` strictly between 0 and 1; `degrees_of_freedom` above 0, not necessarily whole, infinite for the normal
/// distribution. `None` outside these ranges.
///
/// # Source
/// JCGM 100:2008, annex G, table G.2.
pub fn student_t_quantile(probability: f64, degrees_of_freedom: f64) -> Option<f64> {
    if !(probability > 0.0 && probability < 1.0 && degrees_of_freedom > 0.0) {
        return None;
    }
    if degrees_of_freedom.is_infinite() {
        return Some(quantile(probability));
    }
    StudentsT::new(0.0, 1.0, degrees_of_freedom).ok().map(|t| t.inverse_cdf(probability))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantile_inverts_the_distribution_in_both_tails() {
        for tail in [1e-300, 1e-24, 1e-9, 0.001, 0.025, 0.31, 0.5, 0.7, 0.999] {
            let back = upper_tail(upper_quantile(tail));
            assert!((back / tail - 1.0).abs() < 1e-10, "{tail} came back as {back}");
        }
        assert_eq!(quantile(0.0), f64::NEG_INFINITY);
        assert_eq!(quantile(1.0), f64::INFINITY);
        assert!(quantile(-0.1).is_nan() && quantile(1.1).is_nan() && quantile(f64::NAN).is_nan());
    }

    #[test]
    fn student_quantiles_are_those_of_the_printed_table() {
        // JCGM 100:2008, table G.2, t for 95 % and 99.73 % (from memory), two decimals printed.
        for (p, dof, t) in [
            (0.95, 1.0, 12.71),
            (0.95, 5.0, 2.57),
            (0.95, 10.0, 2.23),
            (0.95, 50.0, 2.01),
            (0.9973, 10.0, 3.96),
            (0.95, f64::INFINITY, 1.960),
        ] {
            let found = student_t_quantile((1.0 + p) / 2.0, dof).unwrap();
            assert!((found - t).abs() <= 0.005, "{p} {dof}: {found} instead of {t}");
        }
        assert_eq!(student_t_quantile(0.975, 0.0), None);
        assert_eq!(student_t_quantile(1.0, 5.0), None);
        assert_eq!(student_t_quantile(f64::NAN, 5.0), None);
    }
}
