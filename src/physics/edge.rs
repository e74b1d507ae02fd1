//! What the rim of a round piece does to a conductivity reading taken at its centre.
//!
//! A coil over the axis of a conducting cylinder. The field is expanded in radial modes of a shielded box
//! around the piece; inside the metal the modes are coupled through the cylinder's radius. Two boxes of
//! different size are extrapolated to none. It is a check on, and an explanation of, the usability gate for
//! small pieces; the gate itself is a ratio of radii. One value costs some ten million complex
//! multiplications: cache it per product and probe.
//!
//! # Source
//! Truncated-region expansion after Theodoulidis and Kriezis (method from memory); checked against three
//! figures of an independent axisymmetric finite-element computation, whose coil sections and lift-off are
//! assumed.

use std::f64::consts::PI;

use num_complex::Complex64;

use crate::physics::bessel::{integral_of_x_j1, j, zero_of_j1};
use crate::physics::coil::{Coil, Equivalent};
use crate::physics::layered::Backing;
use crate::physics::skin::{MU_0, skin_depth_mm};

/// Radii of the two boxes in radii of the piece.
const BOXES: [f64; 2] = [2.0, 3.0];
/// Greatest number of modes, which bounds the cost for pieces that are very large against the skin depth.
const MOST_MODES: usize = 90;

/// Returns the reading at the centre of a round piece divided by the reading of an endless one, without unit.
///
/// `radius_mm` is the radius of the flat field and must be at least the coil's outer radius; the piece must
/// be thicker than 2.6 skin depths and of one metal (MS/m). Lift-off in mm, frequency in Hz. Right to about
/// 0.001 between 1.2 and 3 outer radii. `None` below the coil's outer radius, or where the apparent
/// conductivity cannot be found.
pub fn disc_reading_ratio(
    coil: &Coil,
    radius_mm: f64,
    conductivity_ms_m: f64,
    lift_off_mm: f64,
    frequency_hz: f64,
) -> Option<f64> {
    if radius_mm.is_nan() || radius_mm < coil.outer_radius_mm() {
        return None;
    }
    let metal = Backing::Metal { conductivity_ms_m };
    let endless = coil.impedance_change(&[], metal, lift_off_mm, frequency_hz);
    let skin = skin_depth_mm(conductivity_ms_m, frequency_hz, 1.0);
    let [near, far] = BOXES.map(|factor| {
        let modes = (factor * radius_mm / (PI * skin) + 10.0) as usize;
        let region = Region::new(factor * radius_mm * 1e-3, modes.min(MOST_MODES));
        region.change_by_rim(coil, radius_mm * 1e-3, conductivity_ms_m, lift_off_mm, frequency_hz)
    });
    // The wall's own influence falls with the cube of its distance.
    let cube = (BOXES[1] / BOXES[0]).powi(3);
    let rim = (cube * far - near) / (cube - 1.0);
    let start = Equivalent { conductivity_ms_m, lift_off_mm };
    let found = coil.equivalent_half_space(endless + rim, start, frequency_hz)?;
    Some(found.conductivity_ms_m / conductivity_ms_m)
}

/// A shielded cylinder of air and its radial modes J1(κρ), normalised.
struct Region {
    radius: f64,
    /// Wave numbers κ in 1/m.
    kappa: Vec<f64>,
    /// Squared norms of J1(κρ) over the region, b²·J0(κb)²/2.
    norm: Vec<f64>,
}

impl Region {
    fn new(radius: f64, modes: usize) -> Region {
        let zeros: Vec<f64> = (1..=modes as u32).map(zero_of_j1).collect();
        let norm = zeros.iter().map(|zero| 0.5 * (radius * j(0, *zero)).powi(2)).collect();
        Region { radius, kappa: zeros.iter().map(|zero| zero / radius).collect(), norm }
    }

    /// Returns ΔZ over a cylinder minus ΔZ over metal that fills the region, in ohms.
    fn change_by_rim(
        &self,
        coil: &Coil,
        cylinder: f64,
        conductivity_ms_m: f64,
        lift_off_mm: f64,
        frequency_hz: f64,
    ) -> Complex64 {
        let k_square = Complex64::new(0.0, 2.0 * PI * frequency_hz * MU_0 * conductivity_ms_m * 1e6);
        let source = self.source(coil, lift_off_mm);
        let count = self.kappa.len();
        let mut squared = Matrix::zero(count);
        for row in 0..count {
            for column in 0..count {
                let own = if row == column { self.kappa[row] * self.kappa[row] } else { 0.0 };
                squared.set(row, column, own + k_square * self.coupling(row, column, cylinder));
            }
        }
        let mut system = squared.square_root();
        for index in 0..count {
            system.add(index, index, self.kappa[index]);
        }
        let passed = system.solve(&source);
        let sum: Complex64 = (0..count)
            .map(|n| {
                let kappa = self.kappa[n];
                source[n] * (passed[n] - source[n] / (kappa + (k_square + kappa * kappa).sqrt()))
            })
            .sum();
        Complex64::new(0.0, 4.0 * PI * frequency_hz * coil.scale()) * sum
    }

    /// Returns the coil's amplitude in each mode.
    fn source(&self, coil: &Coil, lift_off_mm: f64) -> Vec<f64> {
        let (inner, outer) = (coil.inner_radius_mm() * 1e-3, coil.outer_radius_mm() * 1e-3);
        let amplitude = |kappa: f64| {
            let radial = integral_of_x_j1(kappa * outer) - integral_of_x_j1(kappa * inner);
            let section = -(-kappa * coil.length_mm() * 1e-3).exp_m1();
            radial * section * (-kappa * lift_off_mm * 1e-3).exp() / kappa.powi(3)
        };
        self.kappa.iter().zip(&self.norm).map(|(kappa, norm)| amplitude(*kappa) / norm.sqrt()).collect()
    }

    /// Returns ∫ J1(κᵢρ) J1(κⱼρ) ρ dρ over the cylinder, normalised over the region.
    fn coupling(&self, row: usize, column: usize, cylinder: f64) -> f64 {
        debug_assert!(cylinder <= self.radius, "the cylinder lies in its region");
        let (a, b) = (self.kappa[row], self.kappa[column]);
        let (a1, a0) = (j(1, a * cylinder), j(0, a * cylinder));
        let integral = if row == column {
            0.5 * cylinder * cylinder * (a1 * a1 - a0 * j(2, a * cylinder))
        } else {
            let (b1, b0) = (j(1, b * cylinder), j(0, b * cylinder));
            cylinder / (a * a - b * b) * (b * a1 * b0 - a * a0 * b1)
        };
        integral / (self.norm[row] * self.norm[column]).sqrt()
    }
}

/// A square matrix of complex numbers, by rows.
#[derive(Clone)]
struct Matrix {
    size: usize,
    cells: Vec<Complex64>,
}

impl Matrix {
    fn zero(size: usize) -> Matrix {
        Matrix { size, cells: vec![Complex64::ZERO; size * size] }
    }

    fn identity(size: usize) -> Matrix {
        let mut matrix = Matrix::zero(size);
        for index in 0..size {
            matrix.set(index, index, Complex64::ONE);
        }
        matrix
    }

    fn set(&mut self, row: usize, column: usize, value: Complex64) {
        self.cells[row * self.size + column] = value;
    }

    fn add(&mut self, row: usize, column: usize, value: f64) {
        self.cells[row * self.size + column] += value;
    }

    fn norm(&self) -> f64 {
        self.cells.iter().map(Complex64::norm_sqr).sum::<f64>().sqrt()
    }

    /// Returns factor·self + other/factor, halved: one step of the square-root iteration.
    fn mean(&self, other: &Matrix, factor: f64) -> Matrix {
        let cells =
            self.cells.iter().zip(&other.cells).map(|(a, b)| (a * factor + b / factor) * 0.5).collect();
        Matrix { size: self.size, cells }
    }

    /// Returns the principal square root by the scaled iteration of Denman and Beavers.
    fn square_root(&self) -> Matrix {
        let mut root = self.clone();
        let mut inverse_root = Matrix::identity(self.size);
        for _ in 0..30 {
            let (x, y) = (root.inverse(), inverse_root.inverse());
            let factor = (x.norm() * y.norm() / (root.norm() * inverse_root.norm())).powf(0.25);
            let next = root.mean(&y, factor);
            inverse_root = inverse_root.mean(&x, factor);
            let moved: f64 = next.cells.iter().zip(&root.cells).map(|(a, b)| (a - b).norm_sqr()).sum();
            let settled = moved.sqrt() < 1e-9 * next.norm();
            root = next;
            if settled {
                break;
            }
        }
        root
    }

    /// Returns the inverse by elimination in place, without row exchange.
    ///
    /// The matrices here have a positive definite real part, for which elimination without exchange is
    /// stable.
    fn inverse(&self) -> Matrix {
        let size = self.size;
        let mut cells = self.cells.clone();
        for pivot in 0..size {
            let scale = cells[pivot * size + pivot].inv();
            cells[pivot * size + pivot] = Complex64::ONE;
            for cell in &mut cells[pivot * size..(pivot + 1) * size] {
                *cell *= scale;
            }
            let pivot_row = cells[pivot * size..(pivot + 1) * size].to_vec();
            for (row, line) in cells.chunks_exact_mut(size).enumerate() {
                if row == pivot {
                    continue;
                }
                let factor = line[pivot];
                line[pivot] = Complex64::ZERO;
                for (cell, above) in line.iter_mut().zip(&pivot_row) {
                    *cell -= factor * above;
                }
            }
        }
        Matrix { size, cells }
    }

    /// Returns the solution of self·x = right.
    fn solve(&self, right: &[f64]) -> Vec<Complex64> {
        self.inverse()
            .cells
            .chunks_exact(self.size)
            .map(|row| row.iter().zip(right).map(|(cell, value)| cell * value).sum())
            .collect()
    }
}
