//! Tests for values that do not belong to the rest of a normal sample: Grubbs and the generalized ESD of Rosner.
//!
//! Both assume that the rest is normal. On readings that are coarsely rounded they cry wolf; [`super::lot`] puts a floor
//! under them.

use super::evaluation::type_a;
use super::normal::student_t_quantile;

/// Whether an outlier is looked for on one known side or on either.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sides {
    /// Only the largest, or only the smallest value is suspected.
    One,
    /// Either end is suspected.
    Two,
}

/// Returns the critical value of Grubbs' statistic.
///
/// `count` of values, at least 3; `significance` between 0 and 1. `None` outside. The one-sided values for 0.05 are those
/// printed; the two-sided ones are the one-sided for half the significance.
///
/// # Source
/// NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1; ISO 5725-2:1994, table 5.
pub fn grubbs_critical(count: usize, significance: f64, sides: Sides) -> Option<f64> {
    if count < 3 || !(significance > 0.0 && significance < 1.0) {
        return None;
    }
    let n = count as f64;
    let tail = match sides {
        Sides::One => significance / n,
        Sides::Two => significance / (2.0 * n),
    };
    let t = -student_t_quantile(tail, n - 2.0)?;
    Some((n - 1.0) / n.sqrt() * (t * t / (n - 2.0 + t * t)).sqrt())
}

/// Returns Grubbs' statistic, the largest deviation from the mean in standard deviations, and where it is.
///
/// `values`: at least 3, any order. `None` for fewer, for values that are not finite, and when all are equal.
///
/// # Source
/// NIST/SEMATECH e-Handbook, 1.3.5.17.1.
pub fn grubbs_statistic(values: &[f64]) -> Option<(usize, f64)> {
    if values.len() < 3 {
        return None;
    }
    let sample = type_a(values)?;
    if sample.standard_deviation <= 0.0 {
        return None;
    }
    let deviation = |value: f64| (value - sample.mean).abs();
    let (index, value) =
        values.iter().enumerate().max_by(|(_, a), (_, b)| deviation(**a).total_cmp(&deviation(**b)))?;
    Some((index, deviation(*value) / sample.standard_deviation))
}

/// One step of the generalized ESD: the value that was farthest out when the earlier ones were taken away.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EsdStep {
    /// Index of the value in the slice that was given.
    pub index: usize,
    /// Its deviation from the mean of what was left, in standard deviations of what was left.
    pub statistic: f64,
    /// The critical value of this step.
    pub critical: f64,
}

/// The result of a generalized ESD test.
#[derive(Debug, Clone, PartialEq)]
pub struct Esd {
    /// All steps, the farthest value first.
    pub steps: Vec<EsdStep>,
    /// Number of outliers: the last step at which the statistic is above its critical value.
    pub outliers: usize,
}

impl Esd {
    /// Returns the indices of the outliers, the farthest first.
    pub fn outlier_indices(&self) -> impl Iterator<Item = usize> + '_ {
        self.steps[..self.outliers].iter().map(|step| step.index)
    }
}

/// Tests for up to `at_most` outliers on either side without one hiding another.
///
/// `values`: at least 3, any order; `at_most` is cut to n − 2; `significance` between 0 and 1. The steps end early where
/// all values left are equal. `None` for fewer values, values that are not finite or a significance out of range.
/// The critical values are approximate: very good from 25 values on, fair from 15 on.
///
/// # Source
/// B. Rosner, Technometrics 25 (1983), 165–172; NIST/SEMATECH e-Handbook, 1.3.5.17.3.
pub fn generalized_esd(values: &[f64], at_most: usize, significance: f64) -> Option<Esd> {
    if values.len() < 3
        || values.iter().any(|value| !value.is_finite())
        || !(significance > 0.0 && significance < 1.0)
    {
        return None;
    }
    let mut left: Vec<usize> = (0..values.len()).collect();
    let mut steps = Vec::new();
    let mut outliers = 0;
    while steps.len() < at_most.min(values.len() - 2) {
        let rest: Vec<f64> = left.iter().map(|index| values[*index]).collect();
        let Some((place, statistic)) = grubbs_statistic(&rest) else { break };
        let n = left.len() as f64;
        let t = -student_t_quantile(significance / (2.0 * n), n - 2.0)?;
        let critical = (n - 1.0) * t / ((n - 2.0 + t * t) * n).sqrt();
        steps.push(EsdStep { index: left.remove(place), statistic, critical });
        if statistic > critical {
            outliers = steps.len();
        }
    }
    Some(Esd { steps, outliers })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_values_have_no_outlier_and_no_statistic() {
        assert_eq!(grubbs_statistic(&[2.0; 5]), None);
        let esd = generalized_esd(&[2.0; 5], 2, 0.05).unwrap();
        assert!(esd.steps.is_empty() && esd.outliers == 0);
    }

    #[test]
    fn two_outliers_side_by_side_do_not_hide_each_other() {
        let mut values: Vec<f64> = (0..18).map(|i| f64::from(i) * 0.01).collect();
        values.extend([5.0, 5.1]);
        let esd = generalized_esd(&values, 8, 0.05).unwrap();
        let mut found: Vec<usize> = esd.outlier_indices().collect();
        found.sort_unstable();
        assert_eq!(found, [18, 19]);
    }

    #[test]
    fn too_few_values_and_senseless_levels_give_no_test() {
        assert_eq!(grubbs_critical(2, 0.05, Sides::One), None);
        assert_eq!(grubbs_critical(5, 0.0, Sides::Two), None);
        assert_eq!(generalized_esd(&[1.0, 2.0], 1, 0.05), None);
        assert_eq!(generalized_esd(&[1.0, 2.0, f64::NAN], 1, 0.05), None);
        // At most n − 2 values can be taken away.
        assert_eq!(generalized_esd(&[1.0, 2.0, 9.0], 7, 0.05).unwrap().steps.len(), 1);
    }
}
