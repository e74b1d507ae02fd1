//! How one standard uncertainty is evaluated: from repeated readings, or from what is known about the instrument.
//!
//! Units are the caller's; every result is a standard uncertainty, k = 1, in the unit of the argument.

/// What repeated readings of one quantity say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TypeA {
    /// Number of readings.
    pub count: usize,
    /// Arithmetic mean.
    pub mean: f64,
    /// Sample standard deviation of one reading, with n − 1.
    pub standard_deviation: f64,
    /// Standard uncertainty of the mean: standard deviation over √n.
    pub standard_uncertainty: f64,
}

/// Evaluates repeated readings statistically.
///
/// `readings`: at least two, any order, one unit. `None` for fewer than two or when one is not a finite number.
///
/// # Source
/// JCGM 100:2008, 4.2.
pub fn type_a(readings: &[f64]) -> Option<TypeA> {
    if readings.len() < 2 || readings.iter().any(|reading| !reading.is_finite()) {
        return None;
    }
    let n = readings.len() as f64;
    let mean = readings.iter().sum::<f64>() / n;
    let squares: f64 = readings.iter().map(|reading| (reading - mean).powi(2)).sum();
    let standard_deviation = (squares / (n - 1.0)).sqrt();
    Some(TypeA {
        count: readings.len(),
        mean,
        standard_deviation,
        standard_uncertainty: standard_deviation / n.sqrt(),
    })
}

/// Returns the standard uncertainty of a rectangular distribution of half-width a: a/√3.
///
/// For a limit of error ±a, such as a maximum permissible error, within which nothing more is known.
///
/// # Source
/// JCGM 100:2008, 4.3.7.
pub fn rectangular(half_width: f64) -> f64 {
    half_width / 3.0_f64.sqrt()
}

/// Returns the standard uncertainty that a digit step d leaves in one reading: d/√12.
///
/// # Source
/// JCGM 100:2008, F.2.2.1.
pub fn resolution(digit_step: f64) -> f64 {
    digit_step / 12.0_f64.sqrt()
}

/// Returns the standard uncertainty that a digit step d leaves in a tared reading, a difference of two: d/√6.
///
/// # Source
/// Two independent roundings, each d²/12 (JCGM 100:2008, F.2.2.1).
pub fn tared_resolution(digit_step: f64) -> f64 {
    digit_step / 6.0_f64.sqrt()
}

/// Returns the standard uncertainty behind a stated expanded uncertainty: U/k.
///
/// # Source
/// JCGM 100:2008, 4.3.3.
pub fn from_expanded(expanded: f64, coverage_factor: f64) -> f64 {
    expanded / coverage_factor
}

/// Returns the standard uncertainty of independent parts in one unit: the root of the sum of their squares.
///
/// # Source
/// JCGM 100:2008, equation 10.
pub fn combine(parts: &[f64]) -> f64 {
    parts.iter().map(|part| part * part).sum::<f64>().sqrt()
}

/// Returns the correlation coefficient of two series of simultaneous readings; that of their means is the same.
///
/// Both series of one length, at least two, in the same order. `None` otherwise, or when one of them is constant.
///
/// # Source
/// JCGM 100:2008, 5.2.3, equation 17, and C.3.6.
pub fn correlation(first: &[f64], second: &[f64]) -> Option<f64> {
    if first.len() != second.len() {
        return None;
    }
    let (a, b) = (type_a(first)?, type_a(second)?);
    let products: f64 = first.iter().zip(second).map(|(x, y)| (x - a.mean) * (y - b.mean)).sum();
    let spread = a.standard_deviation * b.standard_deviation * (a.count as f64 - 1.0);
    (spread > 0.0).then(|| (products / spread).clamp(-1.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn too_few_or_missing_readings_have_no_spread() {
        assert_eq!(type_a(&[1.0]), None);
        assert_eq!(type_a(&[1.0, f64::NAN]), None);
        assert_eq!(correlation(&[1.0, 2.0], &[1.0]), None);
        assert_eq!(correlation(&[1.0, 2.0], &[3.0, 3.0]), None);
    }
}
