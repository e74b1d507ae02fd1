//! Centre and scale by Huber's proposal 2: nearly as sharp as mean and standard deviation, and no odd value can move them far.
//!
//! Median and median absolute deviation ([`super::robust`]) resist more, but of a normal sample they know the scale only as
//! well as the standard deviation of 37 % as many values would.

use super::robust::{median, scale_about};

/// Deviation from the centre, in scale units, beyond which a value counts as if it stood there.
pub const TUNING: f64 = 1.5;

/// Mean square of a standard normal variable pulled in to ±1.5: by it the scale estimates the standard deviation.
///
/// # Source
/// P. Huber, Annals of Mathematical Statistics 35 (1964), 73–101, proposal 2; its root is 1/1.134, the factor of
/// ISO 13528:2015, annex C.3 (algorithm A).
pub const CONSISTENCY: f64 = 0.778_465_2;

/// Efficiency of the centre at the normal distribution: it is as certain as the mean of 96 % as many values.
///
/// # Source
/// (E ψ′)²/E ψ² = 0.866386²/0.778465; Huber (1964).
pub const CENTRE_EFFICIENCY: f64 = 0.964_2;

/// Efficiency of the scale at the normal distribution: as certain as the standard deviation of 73 % as many values.
///
/// # Source
/// Half over Var(ψ²)/(2 E\[x²; |x| < 1.5\])², the variance of its influence function; Huber (1964), computed by a test.
pub const SCALE_EFFICIENCY: f64 = 0.725_2;

/// Most steps; each divides the distance to the solution by about five.
const MOST_STEPS: usize = 100;
/// Change, in scale units, at which the solution is reached.
const ENOUGH: f64 = 1e-12;

/// Centre and scale, with every value pulled in to what it counted for.
#[derive(Debug, Clone, PartialEq)]
pub struct Huber {
    /// Centre.
    pub centre: f64,
    /// Scale: estimates the standard deviation of a normal sample.
    pub scale: f64,
    /// The values in their order, pulled in to within 1.5 scale units of the centre.
    pub pulled_in: Vec<f64>,
}

/// Returns centre and scale of at least two values, in any order; the scale is never below `floor`.
///
/// `None` for fewer than two values, values that are not finite, or a negative floor. Ties: with more than half of the values
/// alike and no floor the scale may be 0.
///
/// # Source
/// P. Huber, Annals of Mathematical Statistics 35 (1964), 73–101, proposal 2.
pub fn proposal_two(values: &[f64], floor: f64) -> Option<Huber> {
    if values.len() < 2 || floor.is_nan() || floor < 0.0 {
        return None;
    }
    let mut centre = median(values)?;
    let mut scale = scale_about(values, centre)?.max(floor);
    let n = values.len() as f64;
    for _ in 0..MOST_STEPS {
        let (low, high) = (centre - TUNING * scale, centre + TUNING * scale);
        let mean = values.iter().map(|value| value.clamp(low, high)).sum::<f64>() / n;
        let squares: f64 = values.iter().map(|value| (value.clamp(low, high) - mean).powi(2)).sum();
        let next = (squares / ((n - 1.0) * CONSISTENCY)).sqrt().max(floor);
        let moved = (mean - centre).abs().max((next - scale).abs());
        (centre, scale) = (mean, next);
        if moved <= ENOUGH * scale {
            break;
        }
    }
    let (low, high) = (centre - TUNING * scale, centre + TUNING * scale);
    Some(Huber { centre, scale, pulled_in: values.iter().map(|value| value.clamp(low, high)).collect() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::metrology::normal::{cumulative, density};
    use crate::metrology::seeded::SplitMix64;

    /// Copper in wholemeal flour, µg/g, 24 laboratories: Analytical Methods Committee, Analyst 114 (1989), 1693–1702.
    const FLOUR: [f64; 24] = [
        2.90, 3.10, 3.40, 3.40, 3.70, 3.70, 2.80, 2.50, 2.40, 2.40, 2.70, 2.20, 5.28, 3.37, 3.03, 3.03,
        28.95, 3.77, 3.40, 2.20, 3.50, 3.60, 3.70, 3.70,
    ];

    #[test]
    fn the_flour_of_24_laboratories_has_its_published_centre_and_scale() {
        // Venables and Ripley, Modern Applied Statistics with S, 4th edition, 5.5 (from memory): mean 4.2804; proposal 2
        // with k = 1.5 gives 3.2055 and 0.67365.
        let mean = FLOUR.iter().sum::<f64>() / 24.0;
        assert!((mean - 4.2804).abs() <= 0.00005, "{mean}");
        let found = proposal_two(&FLOUR, 0.0).unwrap();
        assert!((found.centre - 3.2055).abs() <= 0.00005, "{}", found.centre);
        assert!((found.scale - 0.67365).abs() <= 0.000005, "{}", found.scale);
    }

    #[test]
    fn the_constants_follow_from_the_normal_distribution() {
        // Moments of a standard normal variable inside ±k, by parts.
        let k = TUNING;
        let inside = 2.0 * cumulative(k) - 1.0;
        let second = inside - 2.0 * k * density(k);
        let fourth = 3.0 * second - 2.0 * k.powi(3) * density(k);
        let consistency = second + k * k * (1.0 - inside);
        assert!((consistency - CONSISTENCY).abs() < 1e-7, "{consistency}");
        // ISO 13528:2015, C.3: 1.134.
        assert!((consistency.sqrt().recip() - 1.134).abs() <= 0.001);
        assert!((inside * inside / consistency - CENTRE_EFFICIENCY).abs() < 5e-5);
        let variance = fourth + k.powi(4) * (1.0 - inside) - consistency * consistency;
        let efficiency = 0.5 / (variance / (2.0 * second).powi(2));
        assert!((efficiency - SCALE_EFFICIENCY).abs() < 5e-5, "{efficiency}");
    }

    #[test]
    fn a_tenth_of_odd_values_moves_the_scale_by_less_than_half() {
        let mut random = SplitMix64::new(7);
        let clean: Vec<f64> = (0..200).map(|_| random.standard_normal()).collect();
        let mut spoilt = clean.clone();
        spoilt[..20].iter_mut().for_each(|value| *value = 50.0);
        let (clean, spoilt) = (proposal_two(&clean, 0.0).unwrap(), proposal_two(&spoilt, 0.0).unwrap());
        assert!(spoilt.scale < 1.5 * clean.scale && (spoilt.centre - clean.centre).abs() < 0.4);
    }

    #[test]
    fn ties_keep_the_floor_and_nothing_comes_from_nothing() {
        assert_eq!(proposal_two(&[1.0; 20], 0.004).map(|found| found.scale), Some(0.004));
        assert_eq!(proposal_two(&[1.0; 20], 0.0).map(|found| found.scale), Some(0.0));
        assert_eq!(proposal_two(&[1.0], 0.0), None);
        assert_eq!(proposal_two(&[1.0, f64::NAN], 0.0), None);
        assert_eq!(proposal_two(&[1.0, 2.0], -1.0), None);
    }
}
