//! The ring of a coin: bending vibrations of a free round plate.
//!
//! f = λ²/(2π a²)·√(E h²/(12 ρ (1 − ν²))) with radius a, thickness h and a number λ² that depends on the
//! mode, on ν and, for thick plates, on h/a. The lowest mode, two nodal diameters, is the one that is heard.
//! Relief, rim and reeding are not in the model: compare coins with coins. Thin plates follow Kirchhoff's
//! theory, thick ones Mindlin's with the shear factor π²/12; no table is interpolated.
//!
//! # Source
//! Leissa, Vibration of Plates, NASA SP-160, chapter 2 (thin); Mindlin and Deresiewicz, Journal of Applied
//! Physics 25 (1954), p. 1329, and Irie, Yamada and Aomura, Journal of Applied Mechanics 47 (1980), p. 652
//! (thick); from memory.

use std::f64::consts::PI;

use crate::physics::bessel::{i_logarithmic_slope, j, j_slope};
use crate::physics::density::flat_equivalent_thickness_mm;
use crate::physics::elastic::Elastic;

/// Mindlin's shear factor.
const SHEAR_FACTOR: f64 = PI * PI / 12.0;
/// Thickness over radius below which the thin-plate value is returned: the difference is below 10⁻⁵.
const THIN: f64 = 0.003;
/// Thickness over radius above which the plate theory is not used.
const THICKEST: f64 = 0.5;
/// Greatest λ that is searched for a mode.
const GREATEST_LAMBDA: f64 = 25.0;

/// A bending mode of a round plate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mode {
    /// Number of nodal diameters, from 0.
    pub nodal_diameters: u32,
    /// Order among the modes with that many nodal diameters, from 0; rigid motions are not counted.
    pub order: u32,
}

impl Mode {
    /// The lowest mode of a coin: two nodal diameters, no nodal circle.
    pub const LOWEST: Mode = Mode { nodal_diameters: 2, order: 0 };
}

/// Returns λ² of a thin free round plate.
///
/// `poisson` from 0 to below 0.5. `None` outside, and for modes with λ above 25.
pub fn thin_plate_lambda_squared(mode: Mode, poisson: f64) -> Option<f64> {
    if !(0.0..0.5).contains(&poisson) {
        return None;
    }
    root(mode.order, |lambda| thin_determinant(mode.nodal_diameters, poisson, lambda))
}

/// Returns λ² of a free round plate of the given thickness over radius, shear and rotatory inertia included.
///
/// `poisson` from 0 to below 0.5; `thickness_over_radius` from 0 to 0.5, where it agrees with
/// three-dimensional computations to 0.2 % for the lowest mode. `None` outside, and for modes with λ above
/// 25.
pub fn plate_lambda_squared(mode: Mode, poisson: f64, thickness_over_radius: f64) -> Option<f64> {
    if !(0.0..0.5).contains(&poisson) || !(0.0..=THICKEST).contains(&thickness_over_radius) {
        return None;
    }
    if thickness_over_radius < THIN {
        return thin_plate_lambda_squared(mode, poisson);
    }
    root(mode.order, |lambda| thick_determinant(mode.nodal_diameters, poisson, thickness_over_radius, lambda))
}

/// Returns the frequency of a mode of a flat disc, in Hz.
///
/// Diameter and thickness in mm, above zero. `None` where [`plate_lambda_squared`] has no value.
pub fn disc_frequency_hz(mode: Mode, diameter_mm: f64, thickness_mm: f64, metal: &Elastic) -> Option<f64> {
    let radius = 0.5e-3 * diameter_mm;
    let lambda_squared = plate_lambda_squared(mode, metal.poisson, 2.0 * thickness_mm / diameter_mm)?;
    // GPa over g/cm³ is 1e6 m²/s².
    let stiffness =
        1e6 * metal.young_gpa / (12.0 * metal.density_g_cm3 * (1.0 - metal.poisson * metal.poisson));
    Some(lambda_squared / (2.0 * PI * radius * radius) * 1e-3 * thickness_mm * stiffness.sqrt())
}

/// Returns the frequency of the lowest mode of a flat disc known by its mass and diameter, in Hz.
///
/// Mass in grams, diameter in mm; the thickness is that of a flat disc of this metal. `None` where
/// [`plate_lambda_squared`] has no value.
pub fn disc_frequency_from_mass_hz(mass_g: f64, diameter_mm: f64, metal: &Elastic) -> Option<f64> {
    let thickness_mm = flat_equivalent_thickness_mm(mass_g, diameter_mm, metal.density_g_cm3);
    disc_frequency_hz(Mode::LOWEST, diameter_mm, thickness_mm, metal)
}

/// Returns the plate coefficient B of handbooks, for ω = B·√(E t²/(ρ D⁴ (1 − ν²))) with the diameter D.
pub fn diameter_coefficient(lambda_squared: f64) -> f64 {
    4.0 * lambda_squared / 12f64.sqrt()
}

/// Returns the square of the `order`-th root of a determinant in λ, from 0.
fn root(order: u32, determinant: impl Fn(f64) -> f64) -> Option<f64> {
    const STEP: f64 = 0.05;
    let mut found = 0;
    let mut low = 0.5;
    let mut value = determinant(low);
    while low < GREATEST_LAMBDA {
        let high = low + STEP;
        let next = determinant(high);
        if (value < 0.0) != (next < 0.0) {
            if found == order {
                let lambda = bisect(low, high, value < 0.0, determinant);
                return Some(lambda * lambda);
            }
            found += 1;
        }
        (low, value) = (high, next);
    }
    None
}

/// Returns the sign change of a function between two points; `rising` tells that it is below zero at `low`.
fn bisect(mut low: f64, mut high: f64, rising: bool, function: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..48 {
        let middle = 0.5 * (low + high);
        if (function(middle) < 0.0) == rising { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// Returns the determinant of the free-edge conditions of Kirchhoff's plate, divided by the modified Bessel
/// function.
fn thin_determinant(order: u32, poisson: f64, lambda: f64) -> f64 {
    let n2 = f64::from(order * order);
    let (square, cube, rest) = (lambda * lambda, lambda.powi(3), 1.0 - poisson);
    let (value, slope) = (j(order, lambda), lambda * j_slope(order, lambda));
    // The I-column is divided by I: its value is 1 and its slope λI′/I.
    let growth = lambda * i_logarithmic_slope(order, lambda);
    let moment_j = square * value + rest * (slope - n2 * value);
    let moment_i = square - rest * (growth - n2);
    let shear_j = cube * slope / lambda + rest * n2 * (slope - value);
    let shear_i = cube * growth / lambda - rest * n2 * (growth - 1.0);
    moment_j * shear_i - moment_i * shear_j
}

/// Returns the determinant of the free-edge conditions of Mindlin's plate, with exponentially growing columns
/// scaled.
fn thick_determinant(order: u32, poisson: f64, thickness: f64, lambda: f64) -> f64 {
    let n = f64::from(order);
    let k = lambda.powi(4);
    let inertia = thickness * thickness / 12.0;
    let shear = thickness * thickness / (6.0 * (1.0 - poisson) * SHEAR_FACTOR);
    let root = ((inertia - shear).powi(2) + 4.0 / k).sqrt();
    let first = 0.5 * k * (inertia + shear + root);
    let second = 0.5 * k * (inertia + shear - root);
    let stiffness = inertia * k - 1.0 / shear;
    let twist = 2.0 * stiffness / (1.0 - poisson);

    let (delta, value) = (first.sqrt(), j(order, first.sqrt()));
    let bending = [
        column(n, poisson, first, second / stiffness, value, delta * j_slope(order, delta)),
        column(n, poisson, second, first / stiffness, 1.0, growing_slope(order, second)),
    ];
    let slope = growing_slope(order, twist);
    let twisting = [n * (1.0 - poisson) * (slope - 1.0), 2.0 * slope - 2.0 * n * n + twist, n];
    determinant(bending[0], bending[1], twisting)
}

/// Returns moment, twisting moment and shear force at the edge for one bending potential.
///
/// `square` is its wave number squared, `sigma` Mindlin's shear ratio, `value` and `slope` the potential at
/// the edge.
fn column(n: f64, poisson: f64, square: f64, sigma: f64, value: f64, slope: f64) -> [f64; 3] {
    let curvature = -slope - (square - n * n) * value;
    [
        (sigma - 1.0) * (curvature + poisson * (slope - n * n * value)),
        -2.0 * n * (sigma - 1.0) * (slope - value),
        sigma * slope,
    ]
}

/// Returns the edge slope of the modified Bessel function scaled to 1 at the edge, for a negative squared
/// wave number.
fn growing_slope(order: u32, square: f64) -> f64 {
    let argument = (-square).sqrt();
    argument * i_logarithmic_slope(order, argument)
}

/// Returns the determinant of three columns.
fn determinant(a: [f64; 3], b: [f64; 3], c: [f64; 3]) -> f64 {
    a[0] * (b[1] * c[2] - b[2] * c[1]) - b[0] * (a[1] * c[2] - a[2] * c[1])
        + c[0] * (a[1] * b[2] - a[2] * b[1])
}
