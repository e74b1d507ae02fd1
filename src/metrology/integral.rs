//! Numerical integration of a smooth function over a finite interval.

/// Nodes and weights of the five-point Gauss–Legendre rule on [−1, 1].
///
/// # Source
/// Abramowitz and Stegun, Handbook of Mathematical Functions, table 25.4, n = 5.
const RULE: [(f64, f64); 5] = [
    (0.0, 0.568_888_888_888_888_9),
    (0.538_469_310_105_683, 0.478_628_670_499_366_47),
    (-0.538_469_310_105_683, 0.478_628_670_499_366_47),
    (0.906_179_845_938_664, 0.236_926_885_056_189_08),
    (-0.906_179_845_938_664, 0.236_926_885_056_189_08),
];

/// Returns the integral of a function by the five-point rule on equal panels.
///
/// Exact for polynomials up to degree 9 on each panel; 0 when `to` is not above `from`.
pub(super) fn integrate(function: impl Fn(f64) -> f64, from: f64, to: f64, panels: u32) -> f64 {
    if to <= from || panels == 0 {
        return 0.0;
    }
    let half = (to - from) / f64::from(panels) / 2.0;
    (0..panels)
        .map(|panel| {
            let middle = from + half * (2.0 * f64::from(panel) + 1.0);
            half * RULE.iter().map(|(node, weight)| weight * function(middle + half * node)).sum::<f64>()
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_polynomial_of_degree_nine_is_integrated_exactly() {
        // ∫ from 0 to 2 of 10 x⁹ is 2¹⁰.
        assert!((integrate(|x| 10.0 * x.powi(9), 0.0, 2.0, 1) - 1024.0).abs() < 1e-10);
    }

    #[test]
    fn an_empty_or_reversed_interval_gives_nothing() {
        assert_eq!(integrate(|_| 1.0, 1.0, 1.0, 4), 0.0);
        assert_eq!(integrate(|_| 1.0, 2.0, 1.0, 4), 0.0);
    }
}
