//! Simulated pieces: what is true of a piece, how a desk would read it, and how good pieces of a product scatter.
//!
//! What it is for: asking how often the rules cry wolf, with the real [`super::assess()`]. Every draw comes from a seed. What it must
//! never do: stand in for a reading.

use super::assess::Rules;
use super::budget;
use super::conductivity::{self, Verdict};
use super::exemplar::{Exemplar, alloy_of, conductivity_shown, length_shown, mass_shown};
use super::geometry::Geometry;
use super::window::{self, Window};
use crate::evidence::{Measurand, Observation, PieceEvidence, Presentation, Probe};
use crate::metrology::evaluation::resolution;
use crate::metrology::seeded::SplitMix64;
use crate::physics::density::{flat_equivalent_thickness_mm, flat_equivalent_thickness_of_box_mm};
use crate::quantity::{Conductivity, Length, Mass};
use crate::reference::{Material, Product};

/// Standard deviation of what a maker controls, as a share of the width of its limits: an eighth, the capability index of 1.33
/// that is customarily asked of a process (ISO 22514, from memory).
const SHARE_OF_LIMITS: f64 = 1.0 / 8.0;
/// Standard deviation of the conductivity, as a share of the range in which the reference sees the alloy (assumed).
const SHARE_OF_RANGE: f64 = 1.0 / 6.0;
/// Standard deviation of a bar's length and width, as a share (assumed): no limits are known for them.
const OUTLINE_SHARE: f64 = 0.002;
/// Draws after which a value that keeps falling outside its limits is put on the nearest one.
const DRAWS: u32 = 100;

/// The outline of a face.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TrueFace {
    /// Round.
    Disc {
        /// Across.
        diameter: Length,
    },
    /// A plate.
    Plate {
        /// Longer side.
        length: Length,
        /// Shorter side.
        width: Length,
    },
}

/// What is true of a piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TruePiece {
    /// Mass in air.
    pub mass: Mass,
    /// Its face.
    pub face: TrueFace,
    /// Thickness over the highest points.
    pub thickness: Length,
    /// Conductivity at 20 °C that a meter without error shows on it.
    pub conductivity: Conductivity,
}

impl TruePiece {
    /// Returns readings of the piece as the desk would take them, of the conductivity as many spots as asked for (at least 1).
    ///
    /// Each reading is off by a normal error of exactly the uncertainty that scoring itself states for it, then rounded to the
    /// last digit. The error that all spots share (temperature, never compared) is drawn once.
    pub fn read(
        &self,
        rules: &Rules<'_>,
        product: &Product,
        probe: Option<&Probe>,
        spots: u32,
        noise: &mut SplitMix64,
    ) -> PieceEvidence {
        let instruments = rules.instruments;
        let alloy = alloy_of(rules, product);
        let mut mass = self.mass.as_grams();
        mass += budget::weighing(&mass_shown(mass), &instruments.scale).u() * noise.standard_normal();
        let read_length = |measurand, length: Length, noise: &mut SplitMix64| {
            let true_mm = length.as_millimetres();
            let u = budget::length(measurand, &length_shown(true_mm), &instruments.calliper).u();
            length_shown(true_mm + u * noise.standard_normal())
        };
        let mut evidence = PieceEvidence {
            mass: Some(mass_shown(mass)),
            temperature: Some(Observation::from_base(20_000_000, 100_000)),
            probe: probe.cloned(),
            presentation: Presentation::default(),
            ..PieceEvidence::default()
        };
        match self.face {
            TrueFace::Disc { diameter } => {
                evidence.diameter = Some(read_length(Measurand::Diameter, diameter, noise));
            }
            TrueFace::Plate { length, width } => {
                evidence.length = Some(read_length(Measurand::Length, length, noise));
                evidence.width = Some(read_length(Measurand::Width, width, noise));
            }
        }
        evidence.thickness = Some(read_length(Measurand::Thickness, self.thickness, noise));
        let spots = spots.max(1);
        let (shared, own) = self.conductivity_errors(rules, product, alloy, &evidence, spots);
        let offset = self.conductivity.as_ms_per_m() + shared * noise.standard_normal();
        for _ in 0..spots {
            let shown = if own > 0.0 { offset + own * noise.standard_normal() } else { offset };
            evidence.conductivity.push(conductivity_shown(Conductivity::from_ms_per_m(shown)));
        }
        evidence
    }

    /// Returns the standard deviations of the error that all spots share and of the one of each spot, in MS/m; with one spot, all
    /// of it is shared.
    fn conductivity_errors(
        &self,
        rules: &Rules<'_>,
        product: &Product,
        alloy: &Material,
        evidence: &PieceEvidence,
        spots: u32,
    ) -> (f64, f64) {
        let shown = Observation { value: self.conductivity, ..conductivity_shown(self.conductivity) };
        let ideal = PieceEvidence { conductivity: vec![shown; spots as usize], ..evidence.clone() };
        let density = alloy.density.value.as_g_per_cm3();
        let outline = Geometry::of(&ideal, product, density, rules.instruments).outline();
        let value = self.conductivity.as_ms_per_m();
        let repeats = value * f64::from(rules.instruments.meter.repeatability_ppm) * 1e-6;
        let step = resolution(shown.step.as_ms_per_m());
        let u = match conductivity::judge(&ideal, alloy, &outline, rules.instruments) {
            Verdict::Usable(usable) => usable.budget.u(),
            // A reading that cannot be used scatters as the meter repeats.
            _ => repeats.hypot(step),
        };
        if spots == 1 {
            return (u, 0.0);
        }
        let of_spots = repeats / f64::from(spots).sqrt();
        ((u * u - of_spots * of_spots - step * step).max(0.0).sqrt(), repeats)
    }
}

/// How good pieces of a product scatter: each conforms, and within its limits it is normal about what is aimed at.
///
/// Mass and outline: about the middle of the limits with an eighth of their width. Conductivity: about the value that the reference
/// expects of the alloy, with a sixth of its range. All of it cut at the limits (common practice, no source).
#[derive(Debug, Clone, PartialEq)]
pub struct GoodPieces {
    mass: Scatter,
    face: Outline,
    thickness: Option<Scatter>,
    /// Thickness of a flat plate of the same mass over the thickness, where no limits of the thickness are known.
    fill: f64,
    density: f64,
    conductivity: Scatter,
}

#[derive(Debug, Clone, PartialEq)]
enum Outline {
    Disc(Scatter),
    Plate(Scatter, Scatter),
}

/// A normal distribution cut at limits.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Scatter {
    aim: f64,
    deviation: f64,
    lower: f64,
    upper: f64,
}

impl Scatter {
    /// About the middle of a window, or about a value where it is open.
    fn within(window: Option<Window>, value: f64) -> Self {
        match window.and_then(|window| window.lower.zip(window.upper)) {
            Some((lower, upper)) => Scatter {
                aim: f64::midpoint(lower, upper),
                deviation: SHARE_OF_LIMITS * (upper - lower),
                lower,
                upper,
            },
            None => Scatter {
                aim: value,
                deviation: OUTLINE_SHARE * value,
                lower: f64::NEG_INFINITY,
                upper: f64::INFINITY,
            },
        }
    }

    fn draw(&self, noise: &mut SplitMix64) -> f64 {
        let mut value = self.aim;
        for _ in 0..DRAWS {
            value = self.aim + self.deviation * noise.standard_normal();
            if (self.lower..=self.upper).contains(&value) {
                break;
            }
        }
        value.clamp(self.lower, self.upper)
    }
}

impl GoodPieces {
    /// Prepares the scatter of a product about its exemplar.
    pub fn of(rules: &Rules<'_>, product: &Product, exemplar: &Exemplar) -> Self {
        let alloy = alloy_of(rules, product);
        let density = alloy.density.value.as_g_per_cm3();
        let seen = &exemplar.evidence;
        let mm = |length: &Option<Observation<Length>>| length.map_or(0.0, |l| l.value.as_millimetres());
        let dimension = |measurand| window::dimension(product, measurand, rules.policy);
        let mass = seen.mass.map_or(0.0, |mass| mass.value.as_grams());
        let (face, flat) = match seen.diameter {
            Some(_) => {
                let diameter = mm(&seen.diameter);
                let scatter = Scatter::within(dimension(Measurand::Diameter), diameter);
                (Outline::Disc(scatter), flat_equivalent_thickness_mm(mass, diameter, density))
            }
            None => {
                let (length, width) = (mm(&seen.length), mm(&seen.width));
                let sides = (
                    Scatter::within(dimension(Measurand::Length), length),
                    Scatter::within(dimension(Measurand::Width), width),
                );
                let flat = flat_equivalent_thickness_of_box_mm(mass, length, width, density);
                (Outline::Plate(sides.0, sides.1), flat)
            }
        };
        let thickness = mm(&seen.thickness);
        let range = &alloy.conductivity;
        let (low, high) = (range.low.as_ms_per_m(), range.high.as_ms_per_m());
        GoodPieces {
            mass: Scatter::within(window::mass(product, false, rules.policy), mass),
            face,
            thickness: dimension(Measurand::Thickness).map(|own| Scatter::within(Some(own), thickness)),
            fill: (flat / thickness).min(1.0),
            density,
            conductivity: Scatter {
                aim: range.value.as_ms_per_m(),
                deviation: SHARE_OF_RANGE * (high - low),
                lower: low,
                upper: high,
            },
        }
    }

    /// Draws a piece.
    pub fn draw(&self, noise: &mut SplitMix64) -> TruePiece {
        let mass = self.mass.draw(noise);
        let (face, flat) = match &self.face {
            Outline::Disc(diameter) => {
                let diameter = diameter.draw(noise);
                let face = TrueFace::Disc { diameter: Length::from_millimetres(diameter) };
                (face, flat_equivalent_thickness_mm(mass, diameter, self.density))
            }
            Outline::Plate(length, width) => {
                let (length, width) = (length.draw(noise), width.draw(noise));
                let face = TrueFace::Plate {
                    length: Length::from_millimetres(length),
                    width: Length::from_millimetres(width),
                };
                (face, flat_equivalent_thickness_of_box_mm(mass, length, width, self.density))
            }
        };
        let thickness = match &self.thickness {
            Some(thickness) => thickness.draw(noise),
            None => flat / self.fill,
        };
        TruePiece {
            mass: Mass::from_grams(mass),
            face,
            thickness: Length::from_millimetres(thickness),
            conductivity: Conductivity::from_ms_per_m(self.conductivity.draw(noise)),
        }
    }
}
