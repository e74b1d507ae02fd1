//! What differs from group to group and what within a group: variance components of a one-way layout.

/// Mean squares of a one-way layout.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Components {
    /// Number of groups.
    pub groups: usize,
    /// Mean square within groups.
    pub within: f64,
    /// Degrees of freedom within groups; 0 when every group has one value.
    pub within_freedom: f64,
    /// Mean square between groups.
    pub between: f64,
    /// Degrees of freedom between groups.
    pub between_freedom: f64,
    /// Size that groups of unequal size count for.
    pub size: f64,
    /// Sum of the squares of the group sizes over the square of their sum.
    pub concentration: f64,
}

impl Components {
    /// Returns the variance from group to group, 0 when the groups differ less than their values do.
    pub fn between_variance(&self) -> f64 {
        ((self.between - self.within) / self.size).max(0.0)
    }

    /// Returns the variance of a value of a new group, with its effective degrees of freedom.
    ///
    /// `caution`: what the part from group to group is multiplied by, 1 for the plain estimate. The variance is not below the
    /// one within groups.
    ///
    /// # Source
    /// F. Satterthwaite, Biometrics Bulletin 2 (1946), 110–114; JCGM 100:2008, G.4.1.
    pub fn of_a_new_group(&self, caution: f64) -> (f64, f64) {
        let between = caution * self.between / self.size;
        let mut within = 0.0;
        let mut spread = between * between / self.between_freedom;
        if self.within_freedom > 0.0 {
            within = self.within * (1.0 - 1.0 / self.size);
            spread += within * within / self.within_freedom;
        }
        let sum = between + within;
        let most = self.within_freedom + self.between_freedom;
        let freedom = if spread > 0.0 { (sum * sum / spread).min(most) } else { most };
        (sum.max(self.within), freedom)
    }
}

/// Returns the mean squares of values in groups.
///
/// `values` and `groups` of one length; a group is named by any number. `None` for fewer than two groups, for lengths that
/// differ, and for values that are not finite.
///
/// # Source
/// G. Snedecor and W. Cochran, Statistical Methods, one-way classification with random effects.
pub fn components(values: &[f64], groups: &[usize]) -> Option<Components> {
    if values.len() != groups.len() || values.iter().any(|value| !value.is_finite()) {
        return None;
    }
    // Sorted: the sums come out the same whatever the order of the values.
    let mut sums: std::collections::BTreeMap<usize, (f64, f64)> = std::collections::BTreeMap::new();
    for (value, group) in values.iter().zip(groups) {
        let (count, sum) = sums.entry(*group).or_default();
        *count += 1.0;
        *sum += value;
    }
    let (n, k) = (values.len() as f64, sums.len() as f64);
    if sums.len() < 2 {
        return None;
    }
    let mean = values.iter().sum::<f64>() / n;
    let between: f64 = sums.values().map(|(count, sum)| count * (sum / count - mean).powi(2)).sum();
    let within: f64 = values
        .iter()
        .zip(groups)
        .map(|(value, group)| {
            let (count, sum) = sums[group];
            (value - sum / count).powi(2)
        })
        .sum();
    let squares: f64 = sums.values().map(|(count, _)| count * count).sum();
    let within_freedom = n - k;
    Some(Components {
        groups: sums.len(),
        within: if within_freedom > 0.0 { within / within_freedom } else { 0.0 },
        within_freedom,
        between: between / (k - 1.0),
        between_freedom: k - 1.0,
        size: (n - squares / n) / (k - 1.0),
        concentration: squares / (n * n),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Calcium in turnip leaves, per cent: G. Snedecor and W. Cochran, Statistical Methods, 7th edition, table 13.3.1 (from
    /// memory).
    const LEAVES: [[f64; 4]; 4] = [
        [3.28, 3.09, 3.03, 3.03],
        [3.52, 3.48, 3.38, 3.38],
        [2.88, 2.80, 2.81, 2.76],
        [3.34, 3.38, 3.23, 3.26],
    ];

    #[test]
    fn turnip_leaves_have_their_published_mean_squares() {
        let values = LEAVES.concat();
        let groups: Vec<usize> = (0..16).map(|index| index / 4).collect();
        let found = components(&values, &groups).unwrap();
        // Printed: 0.2961 with 3 degrees of freedom, 0.0066 with 12, component between leaves 0.0724.
        assert!((found.between - 0.2961).abs() <= 0.00005, "{}", found.between);
        assert!((found.within - 0.0066).abs() <= 0.00005, "{}", found.within);
        assert!((found.between_variance() - 0.0724).abs() <= 0.00005, "{}", found.between_variance());
        assert_eq!((found.between_freedom, found.within_freedom, found.size), (3.0, 12.0, 4.0));
        // Equal to the sum of the components, and known hardly better than by the three differences between leaves.
        let (variance, freedom) = found.of_a_new_group(1.0);
        assert!((variance - (found.between_variance() + found.within)).abs() < 1e-12);
        assert!(freedom > 3.0 && freedom < 3.5, "{freedom}");
    }

    #[test]
    fn single_values_are_groups_of_their_own() {
        let found = components(&[1.0, 2.0, 4.0], &[0, 1, 2]).unwrap();
        // Sample variance of 1, 2, 4: 7/3.
        assert!((found.of_a_new_group(1.0).0 - 7.0 / 3.0).abs() < 1e-12);
        assert_eq!(found.of_a_new_group(1.0).1, 2.0);
    }

    #[test]
    fn one_group_or_unequal_lengths_say_nothing() {
        assert_eq!(components(&[1.0, 2.0], &[5, 5]), None);
        assert_eq!(components(&[1.0, 2.0], &[5]), None);
        assert_eq!(components(&[1.0, f64::INFINITY], &[5, 6]), None);
    }
}
