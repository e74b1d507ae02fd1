//! A straight line through readings over time, and when it leaves a band.

use super::normal;

/// Two-sided level of confidence at which a slope counts as drift.
const CONFIDENCE: f64 = 0.95;

/// A straight line fitted by least squares, with its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Value at x = 0.
    pub intercept: f64,
    /// Change of the value per unit of x.
    pub slope: f64,
    /// Standard deviation of the intercept.
    pub u_intercept: f64,
    /// Standard deviation of the slope.
    pub u_slope: f64,
    /// Residual standard deviation, n − 2 degrees of freedom.
    pub residual: f64,
    mean_x: f64,
    spread_x: f64,
    points: usize,
}

/// Fits a straight line; `x` and `y` in the same order, at least three points, not all at one x.
///
/// `None` for fewer points, for lists of different length, and for values that are not finite.
///
/// # Source
/// NIST/SEMATECH e-Handbook, 4.1.4.1 (linear least squares); checked against NIST StRD, data set Norris.
pub fn line(x: &[f64], y: &[f64]) -> Option<Line> {
    if x.len() != y.len() || x.len() < 3 || x.iter().chain(y).any(|value| !value.is_finite()) {
        return None;
    }
    let n = x.len() as f64;
    let mean_x = x.iter().sum::<f64>() / n;
    let mean_y = y.iter().sum::<f64>() / n;
    let spread_x: f64 = x.iter().map(|x| (x - mean_x).powi(2)).sum();
    if spread_x <= 0.0 {
        return None;
    }
    let slope = x.iter().zip(y).map(|(x, y)| (x - mean_x) * (y - mean_y)).sum::<f64>() / spread_x;
    let intercept = mean_y - slope * mean_x;
    let squares: f64 = x.iter().zip(y).map(|(x, y)| (y - intercept - slope * x).powi(2)).sum();
    let residual = (squares / (n - 2.0)).sqrt();
    Some(Line {
        intercept,
        slope,
        u_intercept: residual * (1.0 / n + mean_x * mean_x / spread_x).sqrt(),
        u_slope: residual / spread_x.sqrt(),
        residual,
        mean_x,
        spread_x,
        points: x.len(),
    })
}

impl Line {
    /// Returns the value of the line.
    pub fn at(&self, x: f64) -> f64 {
        self.intercept + self.slope * x
    }

    /// Returns the standard deviation of the line itself at x; it grows away from the middle of the readings.
    ///
    /// # Source
    /// NIST/SEMATECH e-Handbook, 4.5.1.1 (uncertainty of a predicted mean; from memory).
    pub fn u_at(&self, x: f64) -> f64 {
        self.residual * (1.0 / self.points as f64 + (x - self.mean_x).powi(2) / self.spread_x).sqrt()
    }

    /// Tells whether the slope differs from none at the 95 % level.
    pub fn drifts(&self) -> bool {
        // The lower tail keeps its digits; t is symmetric.
        let t = normal::student_t_quantile((1.0 - CONFIDENCE) / 2.0, self.points as f64 - 2.0);
        t.is_some_and(|t| self.slope.abs() > -t * self.u_slope)
    }

    /// Returns the first x, not before `from`, at which the line leaves the band from `low` to `high`.
    ///
    /// `None` for a line that does not drift or never leaves; `from` itself when it is outside already.
    pub fn leaves(&self, from: f64, low: f64, high: f64) -> Option<f64> {
        if !self.drifts() {
            return None;
        }
        let now = self.at(from);
        if !(low..=high).contains(&now) {
            return Some(from);
        }
        let limit = if self.slope > 0.0 { high } else { low };
        Some((limit - self.intercept) / self.slope).filter(|x| x.is_finite() && *x >= from)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_needs_three_finite_points_apart() {
        assert_eq!(line(&[1.0, 2.0], &[1.0, 2.0]), None);
        assert_eq!(line(&[1.0, 1.0, 1.0], &[1.0, 2.0, 3.0]), None);
        assert_eq!(line(&[1.0, 2.0, f64::NAN], &[1.0, 2.0, 3.0]), None);
        assert_eq!(line(&[1.0, 2.0, 3.0], &[1.0, 2.0]), None);
    }

    #[test]
    fn a_drifting_line_leaves_its_band_where_arithmetic_says() {
        let x: Vec<f64> = (0..20).map(f64::from).collect();
        let y: Vec<f64> =
            x.iter().map(|x| 10.0 + 0.1 * x + if *x as i64 % 2 == 0 { 0.01 } else { -0.01 }).collect();
        let line = line(&x, &y).unwrap();
        assert!(line.drifts());
        let leaves = line.leaves(19.0, 8.0, 13.0).unwrap();
        assert!((leaves - (13.0 - line.intercept) / line.slope).abs() < 1e-9 && (leaves - 30.0).abs() < 0.3);
        assert_eq!(line.leaves(40.0, 8.0, 13.0), Some(40.0));
        assert!(line.u_at(30.0) > line.u_at(9.5));
    }

    #[test]
    fn scatter_without_slope_is_no_drift() {
        let x: Vec<f64> = (0..12).map(f64::from).collect();
        let y: Vec<f64> = x.iter().map(|x| 5.0 + [0.1, -0.1, 0.0][*x as usize % 3]).collect();
        let line = line(&x, &y).unwrap();
        assert!(!line.drifts());
        assert_eq!(line.leaves(11.0, 4.0, 6.0), None);
    }
}
