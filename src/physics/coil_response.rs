//! What a coil reads on a skin of one metal over any core, prepared once and then only looked up.
//!
//! A lift-off-compensated reading is an inversion of some hundred complex sums ([`crate::physics::coil`]), too dear for
//! every core under every skin. The plane wave ([`crate::physics::layered`]) has the same shape and is exact in a blink;
//! what the coil adds is a smooth factor. It is computed on a grid of core and depth and interpolated in between. It must
//! never be used with another frequency, skin or coil than it was made for.
//!
//! The interpolation is right to 0.3 % where the reading is at least a third of the skin's conductivity, and to an eighth down
//! to a twentieth of it; below, where a thin skin lies on next to no metal, it is an order of magnitude.
//! `tests/it/coil_model.rs` holds it to that against the inversion itself.

use std::f64::consts::PI;

use crate::physics::coil::{Coil, Equivalent};
use crate::physics::layered::{Backing, Layer, skin_on_core};
use crate::physics::skin::skin_depth_mm;

/// Deepest skin of the grid, in skin depths; below it a core moves no reading.
const DEEPEST: f64 = 6.0;
/// Steps of the grid in depth, even in the root of the depth because most happens near the surface.
const STEPS: usize = 24;
/// Nodes of the grid in the reflection of the core, even in its angle because poor cores matter most.
const NODES: usize = 14;
/// Reflection of the best conductor under the poorest skin: a core of 50 times the conductivity.
const LEAST_REFLECTION: f64 = -0.76;

/// The factor between coil and plane wave for one skin, over core and depth.
#[derive(Debug, Clone)]
pub struct CoilResponse {
    skin_ms_m: f64,
    frequency_hz: f64,
    depth_mm: f64,
    /// ln(coil/plane) by node of the reflection, then by step of the depth.
    factors: Vec<[f64; STEPS + 1]>,
}

/// What a coil reads on one core under any skin.
#[derive(Debug, Clone)]
pub struct CoreResponse {
    skin_ms_m: f64,
    core_ms_m: f64,
    frequency_hz: f64,
    depth_mm: f64,
    factors: [f64; STEPS + 1],
}

impl CoilResponse {
    /// Prepares the responses of a coil on a skin.
    ///
    /// Conductivity in MS/m, lift-off in mm, frequency in Hz, all above zero. Some three hundred inversions.
    pub fn of(coil: &Coil, skin_ms_m: f64, lift_off_mm: f64, frequency_hz: f64) -> Self {
        let depth_mm = skin_depth_mm(skin_ms_m, frequency_hz, 1.0);
        let coil = coil.heard_at(lift_off_mm);
        let factors = (0..NODES)
            .map(|node| {
                let core_ms_m = conductivity_of(reflection_at(node), skin_ms_m);
                let mut column = [0.0; STEPS + 1];
                // From the deepest up: there the answer is the skin itself, and each one starts the next.
                let mut start = Equivalent { conductivity_ms_m: skin_ms_m, lift_off_mm };
                for step in (1..=STEPS).rev() {
                    let skin_mm = depth_at(step) * depth_mm;
                    let layers = [Layer { conductivity_ms_m: skin_ms_m, thickness_mm: skin_mm }];
                    let backing = Backing::Metal { conductivity_ms_m: core_ms_m };
                    let change = coil.impedance_change(&layers, backing, lift_off_mm, frequency_hz);
                    let plane = skin_on_core(skin_ms_m, skin_mm, core_ms_m, frequency_hz);
                    // Followed from below, the inversion settles; should it not, the factor stays what it was.
                    column[step] = match coil.equivalent_half_space(change, start, frequency_hz) {
                        Some(found) => {
                            start = found;
                            (found.conductivity_ms_m / plane).ln()
                        }
                        None => *column.get(step + 1).unwrap_or(&0.0),
                    };
                }
                // Over bare metal coil and plane wave agree; over bare air neither reads anything.
                column[0] = if node == 0 { column[1] } else { 0.0 };
                column
            })
            .collect();
        CoilResponse { skin_ms_m, frequency_hz, depth_mm, factors }
    }

    /// Returns the response of one core, of a conductivity in MS/m above zero.
    pub fn core(&self, core_ms_m: f64) -> CoreResponse {
        let root = (core_ms_m / self.skin_ms_m).sqrt();
        let reflection = ((1.0 - root) / (1.0 + root)).max(LEAST_REFLECTION);
        let place = place_of(reflection);
        let (first, weights) = cubic(place, NODES);
        let mut factors = [0.0; STEPS + 1];
        for (weight, column) in weights.iter().zip(&self.factors[first..]) {
            for (factor, value) in factors.iter_mut().zip(column) {
                *factor += weight * value;
            }
        }
        CoreResponse {
            skin_ms_m: self.skin_ms_m,
            core_ms_m,
            frequency_hz: self.frequency_hz,
            depth_mm: self.depth_mm,
            factors,
        }
    }
}

impl CoreResponse {
    /// Returns the apparent conductivity in MS/m under a skin in mm, zero or more.
    pub fn apparent(&self, skin_mm: f64) -> f64 {
        let plane = skin_on_core(self.skin_ms_m, skin_mm, self.core_ms_m, self.frequency_hz);
        plane * self.factor(skin_mm / self.depth_mm).exp()
    }

    /// Returns ln(coil/plane) at a depth in skin depths.
    fn factor(&self, depth: f64) -> f64 {
        if depth >= DEEPEST {
            return 0.0;
        }
        let place = (depth.max(0.0) / DEEPEST).sqrt() * STEPS as f64;
        let (first, weights) = cubic(place, STEPS + 1);
        weights.iter().zip(&self.factors[first..]).map(|(weight, factor)| weight * factor).sum()
    }
}

/// Returns the depth of a step, in skin depths.
fn depth_at(step: usize) -> f64 {
    let root = step as f64 / STEPS as f64;
    DEEPEST * root * root
}

/// Returns the reflection at a node, (√σ_skin − √σ_core)/(√σ_skin + √σ_core), falling from 1: air.
fn reflection_at(node: usize) -> f64 {
    let cosine = (node as f64 * PI / (NODES - 1) as f64).cos();
    LEAST_REFLECTION + 0.5 * (1.0 - LEAST_REFLECTION) * (1.0 + cosine)
}

/// Returns the place of a reflection among the nodes.
fn place_of(reflection: f64) -> f64 {
    let cosine = 2.0 * (reflection - LEAST_REFLECTION) / (1.0 - LEAST_REFLECTION) - 1.0;
    cosine.clamp(-1.0, 1.0).acos() / PI * (NODES - 1) as f64
}

/// Returns the conductivity of a core from its reflection.
fn conductivity_of(reflection: f64, skin_ms_m: f64) -> f64 {
    let root = (1.0 - reflection) / (1.0 + reflection);
    skin_ms_m * root * root
}

/// Returns the first of the four nodes around a place among `count` nodes, and the weights of the cubic through them.
fn cubic(place: f64, count: usize) -> (usize, [f64; 4]) {
    let first = (place.floor() as usize).clamp(1, count - 3) - 1;
    let t = place - first as f64;
    let (t1, t2, t3) = (t - 1.0, t - 2.0, t - 3.0);
    let weights = [-t1 * t2 * t3 / 6.0, t * t2 * t3 / 2.0, -t * t1 * t3 / 2.0, t * t1 * t2 / 6.0];
    (first, weights)
}
