//! Keeping an instrument honest: scores against a reference piece, and control charts over time.
//!
//! Series are in order of time, oldest first, in one unit.

/// Expected range of two normal values, in standard deviations: d₂ for n = 2, as printed.
///
/// # Source
/// NIST/SEMATECH e-Handbook, 6.3.2.2.
const D2_OF_TWO: f64 = 1.128;

/// Factor from the mean moving range to the upper limit of the range: D₄ for n = 2, as printed.
///
/// # Source
/// NIST/SEMATECH e-Handbook, 6.3.2.1 (from memory).
const D4_OF_TWO: f64 = 3.267;

/// Returns the score E_n = (x − x_ref)/√(U² + U_ref²); in order while |E_n| ≤ 1.
///
/// Both expanded uncertainties with one coverage factor, not both zero.
///
/// # Source
/// ISO 13528:2015, 9.7 (from memory).
pub fn normalized_error(value: f64, expanded: f64, reference: f64, expanded_reference: f64) -> f64 {
    (value - reference) / expanded.hypot(expanded_reference)
}

/// Lower and upper limit of a control chart about its centre line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ControlLimits {
    /// Centre line.
    pub centre: f64,
    /// Lower control limit.
    pub lower: f64,
    /// Upper control limit.
    pub upper: f64,
}

impl ControlLimits {
    /// Tells whether a point lies within the limits, the limits themselves included.
    pub fn contains(&self, point: f64) -> bool {
        (self.lower..=self.upper).contains(&point)
    }
}

/// The chart of individual readings and their moving range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IndividualsChart {
    /// Limits of the readings: mean ± 3 mean ranges/1.128.
    pub readings: ControlLimits,
    /// Mean of the differences between neighbours.
    pub mean_range: f64,
    /// Upper limit of such a difference: 3.267 mean ranges.
    pub range_upper: f64,
}

/// Makes the chart of individual readings from a series that was in control.
///
/// `readings`: at least two, in order of time. `None` for fewer or when one is not finite.
///
/// # Source
/// NIST/SEMATECH e-Handbook, 6.3.2.2.
pub fn individuals_chart(readings: &[f64]) -> Option<IndividualsChart> {
    if readings.len() < 2 || readings.iter().any(|reading| !reading.is_finite()) {
        return None;
    }
    let centre = readings.iter().sum::<f64>() / readings.len() as f64;
    let ranges = readings.windows(2).map(|pair| (pair[1] - pair[0]).abs());
    let mean_range = ranges.sum::<f64>() / (readings.len() - 1) as f64;
    let reach = 3.0 * mean_range / D2_OF_TWO;
    Some(IndividualsChart {
        readings: ControlLimits { centre, lower: centre - reach, upper: centre + reach },
        mean_range,
        range_upper: D4_OF_TWO * mean_range,
    })
}

/// Returns the exponentially weighted moving averages z = λ·x + (1 − λ)·z, one for every reading.
///
/// `weight` λ above 0 and up to 1; `start` is the target or the mean of earlier readings.
///
/// # Source
/// NIST/SEMATECH e-Handbook, 6.3.2.4.
pub fn moving_averages(readings: &[f64], weight: f64, start: f64) -> Vec<f64> {
    readings
        .iter()
        .scan(start, |average, reading| {
            *average = weight * reading + (1.0 - weight) * *average;
            Some(*average)
        })
        .collect()
}

/// Returns the control limits of the moving average once it has settled: target ± k·s·√(λ/(2 − λ)).
///
/// `standard_deviation` of one reading; `factor` k is usually 3.
///
/// # Source
/// NIST/SEMATECH e-Handbook, 6.3.2.4.
pub fn moving_average_limits(
    target: f64,
    standard_deviation: f64,
    weight: f64,
    factor: f64,
) -> ControlLimits {
    let reach = factor * standard_deviation * (weight / (2.0 - weight)).sqrt();
    ControlLimits { centre: target, lower: target - reach, upper: target + reach }
}

/// The two sums of a CUSUM chart after one reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CusumPoint {
    /// Sum of the excesses above target plus allowance, never below zero.
    pub high: f64,
    /// Sum of the shortfalls below target minus allowance, never below zero.
    pub low: f64,
    /// Whether one of the two is above the decision value.
    pub signal: bool,
}

/// Returns the tabular CUSUM of a series: it sees a small lasting drift earlier than single readings do.
///
/// `allowance` k is half the drift worth seeing, `decision` h the sum that signals, both in the unit of the readings.
///
/// # Source
/// E. Page, Biometrika 41 (1954), 100–115; NIST/SEMATECH e-Handbook, 6.3.2.3.
pub fn cusum(readings: &[f64], target: f64, allowance: f64, decision: f64) -> Vec<CusumPoint> {
    let (mut high, mut low) = (0.0_f64, 0.0_f64);
    readings
        .iter()
        .map(|reading| {
            high = (high + reading - target - allowance).max(0.0);
            low = (low + target - allowance - reading).max(0.0);
            CusumPoint { high, low, signal: high > decision || low > decision }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_cusum_signals_where_the_handbook_does() {
        // NIST/SEMATECH e-Handbook 6.3.2.3, target 325, h = 4.1959, k = 0.3175: first signal at the 14th mean, sum 4.94
        // (from memory).
        let means = [
            324.93, 324.68, 324.73, 324.35, 325.35, 325.23, 324.13, 324.53, 325.23, 324.60, 324.63, 325.15,
            328.33, 327.25, 327.83, 328.50, 326.68, 327.78, 326.88, 328.35,
        ];
        let points = cusum(&means, 325.0, 0.3175, 4.1959);
        assert_eq!(points.iter().position(|point| point.signal), Some(13));
        assert!((points[13].high - 4.94).abs() <= 0.0051, "{:?}", points[13]);
    }

    #[test]
    fn a_chart_needs_two_finite_readings() {
        assert_eq!(individuals_chart(&[1.0]), None);
        assert_eq!(individuals_chart(&[1.0, f64::NAN]), None);
        let chart = individuals_chart(&[1.0, 2.0, 1.0]).unwrap();
        assert!(chart.readings.contains(1.0) && !chart.readings.contains(5.0));
        assert!((chart.range_upper - 3.267).abs() < 1e-12);
    }
}
