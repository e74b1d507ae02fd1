//! Bessel functions and the few integrals and zeros of them that coils and plates need.
//!
//! Plain values come from the `puruspe` crate; here stand only the forms it lacks.

use std::f64::consts::{FRAC_PI_4, PI};

use num_complex::Complex64;
use puruspe::bessel::{In, Jn};

/// Argument from which on the asymptotic series replaces the power series; both are right to 10⁻⁹ there.
const ASYMPTOTIC_FROM: f64 = 20.0;

/// Returns the Bessel function J of whole order.
///
/// `x` zero or more; about fourteen digits.
pub fn j(order: u32, x: f64) -> f64 {
    Jn(order, x)
}

/// Returns the derivative of the Bessel function J of whole order.
///
/// `x` zero or more.
pub fn j_slope(order: u32, x: f64) -> f64 {
    if order == 0 { -Jn(1, x) } else { 0.5 * (Jn(order - 1, x) - Jn(order + 1, x)) }
}

/// Returns the modified Bessel function I of whole order.
///
/// `x` zero or more, below about 700, where it overflows.
pub fn i(order: u32, x: f64) -> f64 {
    In(order, x)
}

/// Returns the derivative of the modified Bessel function I of whole order.
///
/// `x` zero or more, below about 700.
pub fn i_slope(order: u32, x: f64) -> f64 {
    if order == 0 { In(1, x) } else { 0.5 * (In(order - 1, x) + In(order + 1, x)) }
}

/// Returns Iₙ′(x)/Iₙ(x), which does not overflow for large arguments.
///
/// `x` above zero, up to about 60,000. Continued fraction of I(n+1)/I(n), evaluated backwards.
pub fn i_logarithmic_slope(order: u32, x: f64) -> f64 {
    let n = f64::from(order);
    let terms = (1.5 * x).min(1e5) as u32 + 40;
    let mut ratio = 0.0;
    for k in (1..=terms).rev() {
        ratio = 1.0 / (2.0 * (n + f64::from(k)) / x + ratio);
    }
    n / x + ratio
}

/// Returns the `index`-th positive zero of J1, counted from 1.
///
/// McMahon's expansion refined by Newton's method; twelve digits.
pub fn zero_of_j1(index: u32) -> f64 {
    let beta = (f64::from(index) + 0.25) * PI;
    let mut x = beta - 3.0 / (8.0 * beta);
    for _ in 0..4 {
        x -= j(1, x) / j_slope(1, x);
    }
    x
}

/// Returns ∫₀ˣ t·J1(t) dt, the radial integral of a coil.
///
/// `x` zero or more; right to 10⁻⁹. Equals π x/2·(J1 H0 − J0 H1) with Struve functions; here a power series
/// for small and an asymptotic series for large arguments.
pub fn integral_of_x_j1(x: f64) -> f64 {
    if x < ASYMPTOTIC_FROM { power_series(x) } else { 1.0 - tail_of_j0(x) - x * j(0, x) }
}

/// Sums Σ (−1)^m x^(2m+3)/((2m+3)·2^(2m+1)·m!·(m+1)!).
fn power_series(x: f64) -> f64 {
    let square = 0.25 * x * x;
    let mut term = 0.5 * x * x * x;
    let mut sum = 0.0;
    let mut m = 0.0;
    loop {
        let addend = term / (2.0 * m + 3.0);
        sum += addend;
        m += 1.0;
        term *= -square / (m * (m + 1.0));
        if term.abs() < 1e-17 * sum.abs() || m > 60.0 {
            return sum;
        }
    }
}

/// Returns ∫ₓ^∞ J0(t) dt by the asymptotic series of the Hankel function, integrated term by term.
fn tail_of_j0(x: f64) -> f64 {
    let imaginary = Complex64::new(0.0, 1.0);
    let mut hankel = Complex64::new(1.0, 0.0);
    let mut integrated = imaginary;
    let mut sum = integrated;
    let mut power = 1.0;
    for k in 1..=20 {
        let k = f64::from(k);
        let odd = 2.0 * k - 1.0;
        hankel *= imaginary * (-odd * odd / (8.0 * k));
        integrated = imaginary * hankel - imaginary * (k - 0.5) * integrated;
        power /= x;
        let addend = integrated * power;
        sum += addend;
        if addend.norm() < 1e-16 {
            break;
        }
    }
    let phase = Complex64::from_polar((2.0 / (PI * x)).sqrt(), x - FRAC_PI_4);
    (phase * sum).re
}
