//! Gauss-Legendre quadrature.

use std::f64::consts::PI;

/// Returns the nodes and weights of the Gauss-Legendre rule with `points` points on [−1, 1].
///
/// Exact for polynomials up to degree 2·points − 1. Shape: one (node, weight) per point, falling nodes; empty
/// for none.
///
/// # Source
/// Newton's method on the Legendre polynomials, as in every textbook; checked against Abramowitz and Stegun,
/// table 25.4.
pub fn gauss_legendre(points: usize) -> Vec<(f64, f64)> {
    let n = points as f64;
    (0..points)
        .map(|index| {
            let mut x = (PI * (index as f64 + 0.75) / (n + 0.5)).cos();
            let mut slope = 0.0;
            for _ in 0..100 {
                let (mut before, mut here) = (1.0, x);
                for degree in 2..=points {
                    let d = degree as f64;
                    (before, here) = (here, ((2.0 * d - 1.0) * x * here - (d - 1.0) * before) / d);
                }
                slope = n * (x * here - before) / (x * x - 1.0);
                let step = here / slope;
                x -= step;
                if step.abs() < 1e-15 {
                    break;
                }
            }
            (x, 2.0 / ((1.0 - x * x) * slope * slope))
        })
        .collect()
}
