//! Whether values drift in time: the slope of a straight line against its own uncertainty.

use super::evaluation::{correlation, type_a};
use super::normal::student_t_quantile;

/// A straight line through values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trend {
    /// Change of the value for one unit of the first series.
    pub slope: f64,
    /// Slope over its standard uncertainty; infinite when the values lie on the line.
    pub t: f64,
    /// Degrees of freedom: number of values less two.
    pub freedom: f64,
    /// Change of the line from the first to the last place.
    pub change: f64,
}

impl Trend {
    /// Tells whether the slope differs from zero at a two-sided significance between 0 and 1.
    pub fn is_significant(&self, significance: f64) -> bool {
        student_t_quantile(1.0 - significance / 2.0, self.freedom).is_some_and(|t| self.t.abs() > t)
    }
}

/// Returns the straight line of least squares.
///
/// Both series of one length, in the same order, at least three values. `None` otherwise, or when either is constant.
///
/// # Source
/// NIST/SEMATECH e-Handbook, 4.4.3.1 (least squares); t = r √((n − 2)/(1 − r²)).
pub fn trend(places: &[f64], values: &[f64]) -> Option<Trend> {
    let r = correlation(places, values)?;
    let freedom = places.len() as f64 - 2.0;
    if freedom < 1.0 {
        return None;
    }
    let (x, y) = (type_a(places)?, type_a(values)?);
    let slope = r * y.standard_deviation / x.standard_deviation;
    let t = r * (freedom / (1.0 - r * r)).sqrt();
    let first = places.iter().copied().fold(f64::INFINITY, f64::min);
    let last = places.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(Trend { slope, t, freedom, change: slope * (last - first) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_of_the_four_sets_has_its_published_line() {
        // F. Anscombe, American Statistician 27 (1973), 17–21, set 1 (from memory): slope 0.500, its standard error 0.118,
        // r² 0.667, 9 degrees of freedom.
        let x = [10.0, 8.0, 13.0, 9.0, 11.0, 14.0, 6.0, 4.0, 12.0, 7.0, 5.0];
        let y = [8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68];
        let found = trend(&x, &y).unwrap();
        assert!((found.slope - 0.500).abs() <= 0.0005, "{}", found.slope);
        assert!((found.slope / found.t - 0.118).abs() <= 0.0005, "{}", found.t);
        assert_eq!(found.freedom, 9.0);
        assert!((found.change - 5.0).abs() <= 0.005);
        // p = 0.00217 two-sided.
        assert!(found.is_significant(0.01) && !found.is_significant(0.001));
    }

    #[test]
    fn two_values_or_one_place_have_no_line() {
        assert_eq!(trend(&[1.0, 2.0], &[1.0, 2.0]), None);
        assert_eq!(trend(&[1.0, 1.0, 1.0], &[1.0, 2.0, 3.0]), None);
        assert!(trend(&[1.0, 2.0, 3.0], &[1.0, 2.0, 3.0]).unwrap().is_significant(0.001));
    }
}
