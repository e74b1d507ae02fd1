//! A flat air-core coil over layered metal: its impedance and the conductivity a compensated meter shows.
//!
//! It replaces the plane-wave model of [`crate::physics::layered`] where the coil is small against the skin
//! depth. The metal is of infinite extent sideways; what a nearby rim does is in [`crate::physics::edge`].
//! Lengths in mm, conductivity in MS/m, frequency in Hz, impedance in ohms, inductance in henries.
//!
//! # Source
//! Dodd and Deeds, Journal of Applied Physics 39 (1968), p. 2829 (closed form from memory; checked against
//! the published figures of TEAM workshop problem 15).

use std::f64::consts::PI;

use num_complex::Complex64;
use thiserror::Error;

use crate::physics::bessel::integral_of_x_j1;
use crate::physics::layered::{Backing, Layer, apparent_conductivity};
use crate::physics::quadrature::gauss_legendre;
use crate::physics::skin::MU_0;

/// Panels of the integral over spatial frequency; each is π/r2 wide.
const PANELS: u32 = 40;
/// Gauss points in a panel.
const POINTS: usize = 8;

/// Why a coil cannot be made.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum CoilError {
    /// The radii do not bound a winding.
    #[error("coil radii `{inner_mm} mm` and `{outer_mm} mm` must be zero or more, the outer above the inner")]
    Radii {
        /// Inner radius as given, in mm.
        inner_mm: f64,
        /// Outer radius as given, in mm.
        outer_mm: f64,
    },
    /// The winding has no length.
    #[error("coil length `{length_mm} mm` must be above 0 mm")]
    Length {
        /// Length as given, in mm.
        length_mm: f64,
    },
}

/// A coil of rectangular section with its axis upright over the metal, with its field already analysed.
///
/// Making one costs a few hundred Bessel functions; every further call only sums.
#[derive(Clone, Debug)]
pub struct Coil {
    inner_mm: f64,
    outer_mm: f64,
    length_mm: f64,
    scale: f64,
    spectrum: Vec<Line>,
}

/// One line of the coil's spatial spectrum.
#[derive(Clone, Copy, Debug)]
struct Line {
    /// Spatial frequency α in 1/m.
    alpha: f64,
    /// Quadrature weight times P²/α⁶, in SI.
    weight: f64,
}

/// A half-space that looks to a coil like the metal under it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Equivalent {
    /// Apparent conductivity in MS/m.
    pub conductivity_ms_m: f64,
    /// Apparent lift-off in mm; it takes up what conductivity alone cannot explain.
    pub lift_off_mm: f64,
}

impl Coil {
    /// Makes a coil of the given inner and outer radius, axial length (mm) and number of turns.
    ///
    /// The number of turns scales impedances and leaves apparent conductivities alone; 1 serves when it is
    /// not known.
    ///
    /// # Errors
    /// [`CoilError`] names the measure that bounds no winding.
    pub fn new(inner_mm: f64, outer_mm: f64, length_mm: f64, turns: f64) -> Result<Coil, CoilError> {
        if !(inner_mm >= 0.0 && outer_mm > inner_mm && outer_mm.is_finite()) {
            return Err(CoilError::Radii { inner_mm, outer_mm });
        }
        if !(length_mm > 0.0 && length_mm.is_finite()) {
            return Err(CoilError::Length { length_mm });
        }
        let (inner, outer, length) = (inner_mm * 1e-3, outer_mm * 1e-3, length_mm * 1e-3);
        let area = length * (outer - inner);
        let scale = PI * MU_0 * turns * turns / (area * area);
        let rule = gauss_legendre(POINTS);
        let half_width = 0.5 * PI / outer;
        let spectrum = (0..PANELS)
            .flat_map(|panel| rule.iter().map(move |node| (panel, node)))
            .map(|(panel, &(x, w))| {
                let alpha = half_width * (2.0 * f64::from(panel) + 1.0 + x);
                let radial = integral_of_x_j1(alpha * outer) - integral_of_x_j1(alpha * inner);
                Line { alpha, weight: w * half_width * radial * radial / alpha.powi(6) }
            })
            .collect();
        Ok(Coil { inner_mm, outer_mm, length_mm, scale, spectrum })
    }

    /// Returns the mean of inner and outer radius, in mm; the plane-wave model wants it at six skin depths or
    /// more.
    pub fn mean_radius_mm(&self) -> f64 {
        0.5 * (self.inner_mm + self.outer_mm)
    }

    /// Returns the inner radius in mm.
    pub fn inner_radius_mm(&self) -> f64 {
        self.inner_mm
    }

    /// Returns the outer radius in mm.
    pub fn outer_radius_mm(&self) -> f64 {
        self.outer_mm
    }

    /// Returns the axial length in mm.
    pub fn length_mm(&self) -> f64 {
        self.length_mm
    }

    /// Returns the factor πμ0N²/(l(r2 − r1))² that turns spectral sums into henries.
    pub(crate) fn scale(&self) -> f64 {
        self.scale
    }

    /// Returns the inductance far from any metal, in henries.
    pub fn air_inductance_h(&self) -> f64 {
        let length = self.length_mm * 1e-3;
        let sum: f64 = self
            .spectrum
            .iter()
            .map(|line| 2.0 * line.weight * (line.alpha * length + (-line.alpha * length).exp_m1()))
            .sum();
        self.scale * sum
    }

    /// Returns the coil without the lines of its spectrum that cannot be heard at a lift-off in mm: a billionth of the strongest
    /// or less. Every sum gets shorter and keeps its eight digits.
    pub(crate) fn heard_at(&self, lift_off_mm: f64) -> Coil {
        let share = |line: &Line| self.share(line, lift_off_mm).abs();
        let strongest = self.spectrum.iter().map(share).fold(0.0, f64::max);
        let heard = self.spectrum.iter().filter(|line| share(line) > 1e-9 * strongest).copied().collect();
        Coil { spectrum: heard, ..self.clone() }
    }

    /// Returns what metal under the coil adds to its impedance, in ohms: real part resistance, imaginary part
    /// reactance.
    ///
    /// `layers`: from the surface down, may be empty over metal; `lift_off_mm` is the gap between metal and
    /// winding, zero or more; frequency in Hz, above zero. About five digits.
    pub fn impedance_change(
        &self,
        layers: &[Layer],
        backing: Backing,
        lift_off_mm: f64,
        frequency_hz: f64,
    ) -> Complex64 {
        let omega_mu = 2.0 * PI * frequency_hz * MU_0;
        let sum: Complex64 = self
            .spectrum
            .iter()
            .map(|line| self.share(line, lift_off_mm) * reflection(line.alpha, layers, backing, omega_mu))
            .sum();
        Complex64::new(0.0, 2.0 * PI * frequency_hz * self.scale) * sum
    }

    /// Returns the inductance over metal, in henries; arguments as for [`Coil::impedance_change`].
    pub fn inductance_h(
        &self,
        layers: &[Layer],
        backing: Backing,
        lift_off_mm: f64,
        frequency_hz: f64,
    ) -> f64 {
        let change = self.impedance_change(layers, backing, lift_off_mm, frequency_hz);
        self.air_inductance_h() + change.im / (2.0 * PI * frequency_hz)
    }

    /// Returns the share of the signal |ΔZ| that is left when the lift-off grows from one value to another.
    ///
    /// Over thick metal of the given conductivity (MS/m); lift-offs in mm, frequency in Hz. A sleeve or
    /// capsule wall of 1 mm takes a third of the signal of a coil of 8 mm mean radius.
    pub fn signal_left(&self, conductivity_ms_m: f64, from_mm: f64, to_mm: f64, frequency_hz: f64) -> f64 {
        let metal = Backing::Metal { conductivity_ms_m };
        self.impedance_change(&[], metal, to_mm, frequency_hz).norm()
            / self.impedance_change(&[], metal, from_mm, frequency_hz).norm()
    }

    /// Returns the half-space that a lift-off-compensated meter would show on a stack of layers.
    ///
    /// Arguments as for [`Coil::impedance_change`]. `None` when the search for it does not settle, as over a
    /// stack with hardly any metal: then this model cannot tell.
    pub fn apparent_half_space(
        &self,
        layers: &[Layer],
        backing: Backing,
        lift_off_mm: f64,
        frequency_hz: f64,
    ) -> Option<Equivalent> {
        let target = self.impedance_change(layers, backing, lift_off_mm, frequency_hz);
        let start = Equivalent {
            conductivity_ms_m: apparent_conductivity(layers, backing, frequency_hz),
            lift_off_mm,
        };
        self.equivalent_half_space(target, start, frequency_hz)
    }

    /// Returns the half-space whose impedance change is the given one, in both parts.
    ///
    /// `change` in ohms, `start` a guess, frequency in Hz. Newton's method in (ln σ, lift-off) with exact
    /// derivatives. `None` when it does not settle within 40 steps.
    pub fn equivalent_half_space(
        &self,
        change: Complex64,
        start: Equivalent,
        frequency_hz: f64,
    ) -> Option<Equivalent> {
        let omega_mu = 2.0 * PI * frequency_hz * MU_0;
        let factor = Complex64::new(0.0, 2.0 * PI * frequency_hz * self.scale);
        let (mut logarithm, mut lift_off_mm) = (start.conductivity_ms_m.ln(), start.lift_off_mm);
        for _ in 0..40 {
            let k_square = Complex64::new(0.0, omega_mu * logarithm.exp() * 1e6);
            let (mut value, mut by_log, mut by_lift) = (Complex64::ZERO, Complex64::ZERO, Complex64::ZERO);
            for line in &self.spectrum {
                let share = self.share(line, lift_off_mm);
                let inner = (k_square + line.alpha * line.alpha).sqrt();
                let sum = inner + line.alpha;
                let reflected = share * (line.alpha - inner) / sum;
                value += reflected;
                by_lift += reflected * (-2e-3 * line.alpha);
                by_log -= share * line.alpha * k_square / (inner * sum * sum);
            }
            let (value, by_log, by_lift) = (factor * value, factor * by_log, factor * by_lift);
            let miss = change - value;
            let determinant = by_log.re * by_lift.im - by_log.im * by_lift.re;
            let step_log = (miss.re * by_lift.im - miss.im * by_lift.re) / determinant;
            let step_lift = (by_log.re * miss.im - by_log.im * miss.re) / determinant;
            if !(step_log.is_finite() && step_lift.is_finite()) {
                return None;
            }
            logarithm += step_log.clamp(-1.0, 1.0);
            let reach = 0.5 * self.mean_radius_mm();
            lift_off_mm += step_lift.clamp(-reach, reach);
            if step_log.abs() < 1e-10 && step_lift.abs() < 1e-10 * self.mean_radius_mm() {
                return Some(Equivalent { conductivity_ms_m: logarithm.exp(), lift_off_mm });
            }
        }
        None
    }

    /// Returns a line's weight at a lift-off: the coil's section and its distance.
    fn share(&self, line: &Line, lift_off_mm: f64) -> f64 {
        let section = (-line.alpha * self.length_mm * 1e-3).exp_m1();
        line.weight * section * section * (-2e-3 * line.alpha * lift_off_mm).exp()
    }
}

/// Returns the reflection of a stack for one spatial frequency α in 1/m.
fn reflection(alpha: f64, layers: &[Layer], backing: Backing, omega_mu: f64) -> Complex64 {
    let inside =
        |conductivity_ms_m: f64| Complex64::new(alpha * alpha, omega_mu * conductivity_ms_m * 1e6).sqrt();
    let mut below = match backing {
        Backing::Metal { conductivity_ms_m } => inside(conductivity_ms_m),
        Backing::Air => Complex64::new(alpha, 0.0),
    };
    let mut from_below = Complex64::ZERO;
    for layer in layers.iter().rev() {
        let here = inside(layer.conductivity_ms_m);
        let edge = (here - below) / (here + below);
        from_below =
            (edge + from_below) / (1.0 + edge * from_below) * (-2e-3 * layer.thickness_mm * here).exp();
        below = here;
    }
    let surface = (alpha - below) / (alpha + below);
    (surface + from_below) / (1.0 + surface * from_below)
}
