//! Simulated pieces: what is true of a piece, how a desk would read it, and how good pieces of a product scatter.
//!
//! What it is for: asking how often the rules cry wolf, with the real [`super::assess()`]. Every draw comes from a seed. What it must
//! never do: stand in for a reading.

use super::assess::Rules;
use super::budget;
use super::conductivity::{self, Verdict};
use super::exemplar::{Exemplar, alloy_of, conductivity_shown, length_shown, mass_shown};
use super::geometry::Geometry;
use super::window::{self, SHARE_OF_DEVIATION, Window};
use crate::evidence::{Measurand, Observation, PieceEvidence, Presentation, Probe};
use crate::metrology::evaluation::resolution;
use crate::metrology::seeded::SplitMix64;
use crate::physics::density::{flat_equivalent_thickness_mm, flat_equivalent_thickness_of_box_mm};
use crate::quantity::{Conductivity, Length, Mass};
use crate::reference::{Kind, Material, Product};

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
    /// Whether it passed from hand to hand.
    pub circulated: bool,
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
            presentation: Presentation { circulated: self.circulated, ..Presentation::default() },
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
/// Mass and outline: about the nominal with a quarter of the way to the nearer limit; a type of former circulation has lost half of
/// what wear may take, on average. Thickness: as mass, outline and the fill of the type have it, with the scatter of the policy. Conductivity: about the value that the reference
/// expects of the alloy, with a sixth of its range. All of it cut at the limits (common practice, no source).
#[derive(Debug, Clone, PartialEq)]
pub struct GoodPieces {
    mass: Scatter,
    face: Outline,
    /// Limits of the thickness.
    thickness: (f64, f64),
    /// Thickness of a flat plate of the same mass over the thickness.
    fill: f64,
    /// Standard deviation of that between pieces, as a share.
    fill_scatter: f64,
    density: f64,
    conductivity: Scatter,
    /// Whether the pieces passed from hand to hand.
    circulated: bool,
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
    /// About a value, with a quarter of the way to the nearer limit; about the middle where the value is no longer inside.
    fn within(window: Option<Window>, value: f64) -> Self {
        let (lower, upper) = window.map_or((None, None), |window| (window.lower, window.upper));
        let least = lower.unwrap_or(f64::NEG_INFINITY);
        let greatest = upper.unwrap_or(f64::INFINITY);
        let aim = match (lower, upper) {
            (Some(lower), Some(upper)) if !(lower..=upper).contains(&value) => f64::midpoint(lower, upper),
            _ => value,
        };
        let deviation = if lower.is_some() && upper.is_some() {
            SHARE_OF_DEVIATION * (greatest - aim).min(aim - least)
        } else {
            OUTLINE_SHARE * value
        };
        Scatter { aim, deviation, lower: least, upper: greatest }
    }

    /// Takes off what circulation took: half of the way down to the lower limit on average, a sixth of it between pieces.
    fn worn(self) -> Self {
        let way = self.aim - self.lower;
        if !way.is_finite() {
            return self;
        }
        let deviation = self.deviation.hypot(way / 6.0);
        Scatter { aim: self.aim - 0.5 * way, deviation, ..self }
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
        let circulated = product.is_circulated_by_default();
        let range = &alloy.conductivity;
        let (low, high) = (range.low.as_ms_per_m(), range.high.as_ms_per_m());
        GoodPieces {
            mass: if circulated {
                let new = Scatter::within(window::mass(product, false, rules.policy), mass);
                let worn = window::mass(product, true, rules.policy);
                let lower = worn.and_then(|worn| worn.lower).unwrap_or(new.lower);
                Scatter { lower, ..new }.worn()
            } else {
                Scatter::within(window::mass(product, false, rules.policy), mass)
            },
            circulated,
            face,
            thickness: dimension(Measurand::Thickness).map_or((0.0, f64::INFINITY), |own| {
                (own.lower.unwrap_or(0.0), own.upper.unwrap_or(f64::INFINITY))
            }),
            fill: (flat / thickness).min(1.0),
            fill_scatter: match (product.kind, circulated) {
                (Kind::Bar, _) => 0.0,
                (Kind::Coin, false) => rules.policy.watch.fill_scatter,
                (Kind::Coin, true) => rules.policy.watch.fill_scatter_worn,
            },
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
        let aim = flat / self.fill;
        let (lower, upper) = self.thickness;
        let thickness = Scatter { aim, deviation: self.fill_scatter * aim, lower, upper }.draw(noise);
        TruePiece {
            mass: Mass::from_grams(mass),
            face,
            thickness: Length::from_millimetres(thickness),
            conductivity: Conductivity::from_ms_per_m(self.conductivity.draw(noise)),
            circulated: self.circulated,
        }
    }
}
