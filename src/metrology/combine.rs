//! Ways to combine several readings into one number: **diagnostics only**.
//!
//! They explain, rank and may add a doubt. Nothing is ever cleared with them: Fisher's method and the sum of squares let
//! one gross failure drown among good readings, and a posterior is no better than its list of candidates.

use statrs::function::gamma::checked_gamma_ur;

/// Returns the two-sided probability of a standard normal deviation at least as large as `z`.
///
/// Keeps its digits however small it is.
pub fn two_sided_probability(z: f64) -> f64 {
    2.0 * super::normal::upper_tail(z.abs())
}

/// Returns the probability that a chi-square variable exceeds `value`.
///
/// `degrees_of_freedom` above zero; 1 for a value of zero or less; not a number for what is not a number.
pub fn chi_square_upper_tail(value: f64, degrees_of_freedom: f64) -> f64 {
    match value {
        v if v.is_nan() => f64::NAN,
        v if v <= 0.0 => 1.0,
        f64::INFINITY => 0.0,
        v => checked_gamma_ur(degrees_of_freedom / 2.0, v / 2.0).unwrap_or(f64::NAN),
    }
}

/// Returns Bonferroni's combined probability: the smallest times their number, at most 1.
///
/// `probabilities`: any order; `None` when empty. It holds however they are correlated.
pub fn bonferroni(probabilities: &[f64]) -> Option<f64> {
    let smallest = probabilities.iter().copied().reduce(f64::min)?;
    Some((smallest * probabilities.len() as f64).min(1.0))
}

/// Returns Fisher's combined probability: the upper tail of −2 Σ ln p with 2n degrees of freedom.
///
/// `probabilities`: independent, any order; `None` when empty. It dilutes one gross failure among good values.
///
/// # Source
/// R. Fisher, Statistical Methods for Research Workers, 1932 (from memory).
pub fn fisher(probabilities: &[f64]) -> Option<f64> {
    if probabilities.is_empty() {
        return None;
    }
    let statistic = -2.0 * probabilities.iter().map(|p| p.ln()).sum::<f64>();
    Some(chi_square_upper_tail(statistic, 2.0 * probabilities.len() as f64))
}

/// Returns the probability that the sum of squares of as many standard normal deviations exceeds that of these.
///
/// `deviations`: independent, any order; `None` when empty.
pub fn chi_square(deviations: &[f64]) -> Option<f64> {
    if deviations.is_empty() {
        return None;
    }
    Some(chi_square_upper_tail(deviations.iter().map(|z| z * z).sum(), deviations.len() as f64))
}

/// Returns the deviation of a reading from the middle of its limits in combined standard deviations.
///
/// The limits count as a rectangular distribution of their width, the reading with its standard uncertainty; one unit.
pub fn deviation_from_centre(value: f64, standard_uncertainty: f64, lower: f64, upper: f64) -> f64 {
    (value - f64::midpoint(lower, upper)) / ((upper - lower) / 12.0_f64.sqrt()).hypot(standard_uncertainty)
}

/// Returns the squared Mahalanobis distance dᵀ S⁻¹ d of deviations with a covariance matrix.
///
/// `deviations` of length n, `covariance` n rows of n, symmetric. `None` when the shapes differ or the matrix is not
/// positive definite.
///
/// # Source
/// P. Mahalanobis, Proceedings of the National Institute of Sciences of India 2 (1936), 49–55; by Cholesky's decomposition.
pub fn mahalanobis_squared(deviations: &[f64], covariance: &[Vec<f64>]) -> Option<f64> {
    let n = deviations.len();
    if covariance.len() != n || covariance.iter().any(|row| row.len() != n) {
        return None;
    }
    let mut lower = vec![vec![0.0; n]; n];
    let mut solved = vec![0.0; n];
    for row in 0..n {
        for column in 0..row {
            let known: f64 = (0..column).map(|k| lower[row][k] * lower[column][k]).sum();
            lower[row][column] = (covariance[row][column] - known) / lower[column][column];
        }
        let square = covariance[row][row] - lower[row][..row].iter().map(|x| x * x).sum::<f64>();
        if square.is_nan() || square <= 0.0 {
            return None;
        }
        lower[row][row] = square.sqrt();
        let known: f64 = (0..row).map(|k| lower[row][k] * solved[k]).sum();
        solved[row] = (deviations[row] - known) / lower[row][row];
    }
    Some(solved.iter().map(|x| x * x).sum())
}

/// Returns the logarithm of the normal density at `value`.
///
/// `standard_deviation` above zero, in the unit of `value` and `mean`.
pub fn log_normal_density(value: f64, mean: f64, standard_deviation: f64) -> f64 {
    let z = (value - mean) / standard_deviation;
    -0.5 * z * z - standard_deviation.ln() - 0.5 * (2.0 * std::f64::consts::PI).ln()
}

/// Returns the posterior probabilities of candidates that exclude each other, in the order given.
///
/// `candidates`: (prior probability, logarithm of the likelihood). The priors need not add up to 1. `None` when no
/// candidate has a prior above zero and a likelihood, or a number is missing. Only as good as the list: always give a
/// candidate for "something else".
///
/// # Source
/// Bayes' theorem, with the largest logarithm taken out first.
pub fn posterior(candidates: &[(f64, f64)]) -> Option<Vec<f64>> {
    if candidates.iter().any(|(prior, log)| prior.is_nan() || *prior < 0.0 || log.is_nan()) {
        return None;
    }
    let logs: Vec<f64> = candidates.iter().map(|(prior, log)| prior.ln() + log).collect();
    let largest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if !largest.is_finite() {
        return None;
    }
    let shares: Vec<f64> = logs.iter().map(|log| (log - largest).exp()).collect();
    let total: f64 = shares.iter().sum();
    Some(shares.into_iter().map(|share| share / total).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chi_square_tails_are_those_of_the_printed_table() {
        // NIST/SEMATECH e-Handbook, 1.3.6.7.4 (from memory): upper critical values for 0.05.
        for (value, dof) in [(3.841, 1.0), (11.070, 5.0), (18.307, 10.0)] {
            assert!((chi_square_upper_tail(value, dof) - 0.05).abs() < 2e-5, "{value} {dof}");
        }
        assert_eq!(chi_square_upper_tail(-1.0, 3.0), 1.0);
        assert_eq!(chi_square_upper_tail(f64::INFINITY, 3.0), 0.0);
        assert!(chi_square_upper_tail(f64::NAN, 3.0).is_nan());
    }

    #[test]
    fn nothing_combines_to_nothing() {
        assert_eq!(bonferroni(&[]), None);
        assert_eq!(fisher(&[]), None);
        assert_eq!(chi_square(&[]), None);
        assert_eq!(posterior(&[]), None);
        assert_eq!(posterior(&[(0.0, 1.0)]), None);
        assert_eq!(posterior(&[(1.0, f64::NAN)]), None);
    }

    #[test]
    fn a_matrix_that_is_no_covariance_is_refused() {
        assert_eq!(mahalanobis_squared(&[1.0, 1.0], &[vec![1.0, 2.0], vec![2.0, 1.0]]), None);
        assert_eq!(mahalanobis_squared(&[1.0], &[vec![1.0, 0.0]]), None);
        let three = vec![vec![4.0, 2.0, 0.0], vec![2.0, 5.0, 1.0], vec![0.0, 1.0, 3.0]];
        // Inverse by hand: determinant 44; for (1, 0, 0) the distance is 14/44.
        assert!((mahalanobis_squared(&[1.0, 0.0, 0.0], &three).unwrap() - 14.0 / 44.0).abs() < 1e-15);
    }

    #[test]
    fn likelihoods_far_below_the_smallest_number_still_compare() {
        let shares = posterior(&[(0.5, -5000.0), (0.5, -5000.0 + 3.0_f64.ln())]).unwrap();
        assert!((shares[1] - 0.75).abs() < 1e-12);
    }
}
