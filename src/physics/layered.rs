//! Plane-wave eddy currents in a stack of flat layers: the apparent conductivity of a clad or plated piece.
//!
//! The model is the surface impedance of a layered half-space or plate. It is right for a flat coil whose
//! mean radius is at least six skin depths; below that [`crate::physics::coil`] takes over. It must never be
//! written with tanh, which overflows in thick layers, nor with |Z|² in place of (Re Z)², which puts the
//! hiding depth wrong: a meter that cancels lift-off follows the resistive part. It is called millions of
//! times by the scan for hidden cores; [`skin_on_core`] is the fast form.
//!
//! # Source
//! Recursion for layered media: Wait, Electromagnetic Waves in Stratified Media (from memory); the two-layer
//! closed form is Cagniard's, Geophysics 18 (1953), p. 605 (from memory).

use std::f64::consts::PI;

use num_complex::Complex64;

use crate::physics::skin::{MU_0, skin_depth_mm};

/// One flat layer of a stack, non-ferromagnetic.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Layer {
    /// Conductivity in MS/m, above zero.
    pub conductivity_ms_m: f64,
    /// Thickness in millimetres, zero or more.
    pub thickness_mm: f64,
}

/// What lies behind the last layer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Backing {
    /// Metal without end.
    Metal {
        /// Conductivity in MS/m, above zero.
        conductivity_ms_m: f64,
    },
    /// Air: no current flows behind the last layer.
    Air,
}

/// Skin thicknesses, in skin depths of the skin, between which a core comes to hide behind it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HidingDepths {
    /// Thinnest skin whose reading lies inside the window ("blind").
    pub first_hidden: f64,
    /// Thickness beyond which the reading never leaves the window again ("stay").
    pub always_hidden: f64,
}

/// Returns the surface impedance of a stack seen from above, in ohms.
///
/// `layers`: from the surface down, may be empty over metal; frequency in Hz, above zero. A stack of no metal
/// at all (air only, or layers of zero thickness over air) has an infinite impedance, returned as an infinite
/// real part.
pub fn surface_impedance(layers: &[Layer], backing: Backing, frequency_hz: f64) -> Complex64 {
    let admittance = surface_admittance(layers, backing, frequency_hz);
    if admittance.norm_sqr() == 0.0 { Complex64::new(f64::INFINITY, 0.0) } else { admittance.inv() }
}

/// Returns the conductivity, in MS/m, that a lift-off-compensated meter shows on a stack of layers.
///
/// σ_a = ωμ0/(2 (Re Z)²). `layers`: from the surface down, may be empty over metal; frequency in Hz, above
/// zero. Exact for a plane wave; within 2.5 % of the coil model for a mean coil radius of at least six skin
/// depths. The response is not monotonic in a skin's thickness and overshoots the skin's own conductivity by
/// up to a tenth.
pub fn apparent_conductivity(layers: &[Layer], backing: Backing, frequency_hz: f64) -> f64 {
    let resistance = surface_impedance(layers, backing, frequency_hz).re;
    // (ωμ0/2)/(Re Z)² is in S/m; the last factor makes it MS/m.
    PI * frequency_hz * MU_0 / (resistance * resistance) * 1e-6
}

/// Returns the conductivity, in MS/m, by the magnetotelluric definition ωμ0/|Z|².
///
/// Only for checks against the literature of that field; conductivity meters do not follow it.
pub fn apparent_conductivity_of_modulus(layers: &[Layer], backing: Backing, frequency_hz: f64) -> f64 {
    2.0 * PI * frequency_hz * MU_0 * 1e-6 * surface_admittance(layers, backing, frequency_hz).norm_sqr()
}

/// Returns the apparent conductivity, in MS/m, of one skin on a core without end.
///
/// The closed two-layer form of [`apparent_conductivity`]: the same value with one exponential and no
/// allocation. Conductivities in MS/m, thickness in mm (zero or more), frequency in Hz. A core conductivity
/// of zero is air.
pub fn skin_on_core(skin_ms_m: f64, skin_mm: f64, core_ms_m: f64, frequency_hz: f64) -> f64 {
    if skin_mm == 0.0 {
        return core_ms_m;
    }
    skin_ms_m
        * skin_ratio((core_ms_m / skin_ms_m).sqrt(), skin_mm / skin_depth_mm(skin_ms_m, frequency_hz, 1.0))
}

/// Returns the apparent conductivity, in MS/m, of a plate clad alike on both faces, seen from one face, in
/// air.
///
/// Conductivities in MS/m, thicknesses in mm, frequency in Hz. A skin of half the total thickness or more is
/// solid.
pub fn clad_plate(skin_ms_m: f64, skin_mm: f64, core_ms_m: f64, total_mm: f64, frequency_hz: f64) -> f64 {
    let core_mm = total_mm - 2.0 * skin_mm;
    if core_mm <= 0.0 {
        return skin_on_core(skin_ms_m, total_mm, 0.0, frequency_hz);
    }
    let skin = Layer { conductivity_ms_m: skin_ms_m, thickness_mm: skin_mm };
    let core = Layer { conductivity_ms_m: core_ms_m, thickness_mm: core_mm };
    apparent_conductivity(&[skin, core, skin], Backing::Air, frequency_hz)
}

/// Returns the skin thicknesses at which a core first hides, and stays hidden, in a window of ±`window`.
///
/// `window` is relative (0.03 for ±3 %), between 0 and 1; conductivities in MS/m, above zero. The result is
/// in skin depths of the skin, so it holds at every frequency. A core that lies in the window by itself is
/// hidden from 0.
pub fn hiding_depths(skin_ms_m: f64, core_ms_m: f64, window: f64) -> HidingDepths {
    let root_ratio = (core_ms_m / skin_ms_m).sqrt();
    let response =
        |depth: f64| if depth == 0.0 { root_ratio * root_ratio } else { skin_ratio(root_ratio, depth) };
    // Beyond this depth the deviation, at most 2√2·2 e^(−2t/δ), can no longer fill the window.
    let end = 0.5 * (8.0 / window.max(1e-9)).ln() + 0.5;
    let hidden = intervals_inside(response, 0.0, end, 0.005, 1.0 - window, 1.0 + window);
    HidingDepths {
        first_hidden: hidden.first().map_or(end, |interval| interval.0),
        always_hidden: hidden.last().map_or(end, |interval| interval.0),
    }
}

/// Returns where a response lies inside a window, as closed intervals of its argument in rising order.
///
/// Scans from `from` to `to` in steps of at most `step` and refines each crossing by bisection; excursions
/// narrower than a step are missed. `from` and `to` are finite. `lower` and `upper` bound the window, both
/// counted as inside. Empty when nothing is inside.
pub fn intervals_inside(
    response: impl Fn(f64) -> f64,
    from: f64,
    to: f64,
    step: f64,
    lower: f64,
    upper: f64,
) -> Vec<(f64, f64)> {
    let inside = |x: f64| (lower..=upper).contains(&response(x));
    let steps = ((to - from) / step).ceil().max(1.0) as usize;
    let mut intervals = Vec::new();
    let mut at = from;
    let mut opened = inside(from).then_some(from);
    for index in 1..=steps {
        let next = if index == steps { to } else { from + (to - from) * index as f64 / steps as f64 };
        match (opened, inside(next)) {
            (None, true) => opened = Some(crossing(&inside, next, at)),
            (Some(start), false) => {
                intervals.push((start, crossing(&inside, at, next)));
                opened = None;
            }
            _ => {}
        }
        at = next;
    }
    intervals.extend(opened.map(|start| (start, to)));
    intervals
}

/// Returns the last point on the way from an inside point to an outside point that is still inside.
fn crossing(inside: &impl Fn(f64) -> bool, mut within: f64, mut beyond: f64) -> f64 {
    for _ in 0..60 {
        let middle = 0.5 * (within + beyond);
        if middle == within || middle == beyond {
            break;
        }
        if inside(middle) { within = middle } else { beyond = middle }
    }
    within
}

/// Returns σ_a/σ_skin for √(σ_core/σ_skin) and a skin thickness in skin depths, above zero.
fn skin_ratio(root_ratio: f64, depth: f64) -> f64 {
    let x = 2.0 * depth;
    let r = (1.0 - root_ratio) / (1.0 + root_ratio);
    let decay = (-x).exp_m1();
    let (sine, cosine) = x.sin_cos();
    let e = 1.0 + decay;
    // u = r e^(−x(1+j)); 1 − |u|² and 1 − Re u are written so that they keep their digits for thin skins.
    let u_im = -r * e * sine;
    let half = (0.5 * x).sin();
    let one_minus_u = (1.0 - r) - r * (decay * cosine - 2.0 * half * half);
    let one_minus_square = (1.0 - r * r) - r * r * (-2.0 * x).exp_m1();
    let resistance = (one_minus_square - 2.0 * u_im) / (one_minus_u * one_minus_u + u_im * u_im);
    1.0 / (resistance * resistance)
}

/// Returns the surface admittance 1/Z of a stack, in siemens; zero for a stack without metal.
fn surface_admittance(layers: &[Layer], backing: Backing, frequency_hz: f64) -> Complex64 {
    let omega_mu = 2.0 * PI * frequency_hz * MU_0;
    let mut admittance = match backing {
        Backing::Metal { conductivity_ms_m } => intrinsic_impedance(conductivity_ms_m, omega_mu).inv(),
        Backing::Air => Complex64::new(0.0, 0.0),
    };
    for layer in layers.iter().rev() {
        let z = intrinsic_impedance(layer.conductivity_ms_m, omega_mu);
        let x = 2.0 * layer.thickness_mm / skin_depth_mm(layer.conductivity_ms_m, frequency_hz, 1.0);
        // r = (Z − z)/(Z + z) in terms of the admittance Y, which stays finite over air.
        let yz = admittance * z;
        let r = (1.0 - yz) / (1.0 + yz);
        let fading = exp_m1_diagonal(x);
        admittance = (2.0 * yz / (1.0 + yz) - r * fading) / (z * (2.0 / (1.0 + yz) + r * fading));
    }
    admittance
}

/// Returns √(jωμ0/σ) in ohms for a conductivity in MS/m.
fn intrinsic_impedance(conductivity_ms_m: f64, omega_mu: f64) -> Complex64 {
    let part = (omega_mu / (2.0e6 * conductivity_ms_m)).sqrt();
    Complex64::new(part, part)
}

/// Returns e^(−x(1+j)) − 1 with all its digits, also for small x.
fn exp_m1_diagonal(x: f64) -> Complex64 {
    let decay = (-x).exp_m1();
    let half = (0.5 * x).sin();
    Complex64::new(decay * x.cos() - 2.0 * half * half, -(1.0 + decay) * x.sin())
}
