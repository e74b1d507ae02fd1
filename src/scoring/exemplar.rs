//! A piece exactly as its specification has it: what a probe is judged on before any piece was read.
//!
//! Bars have no measures in the reference, so their proportions are assumed unless somebody states them; every assumption is
//! said in words.

use super::assess::Rules;
use super::window;
use crate::evidence::{Observation, PieceEvidence, Presentation};
use crate::physics::density::{flat_equivalent_thickness_mm, flat_equivalent_thickness_of_box_mm};
use crate::quantity::{Conductivity, Length, Mass, Quantity, Temperature};
use crate::reference::{Basis, Material, Product, Shape};
use thiserror::Error;

/// Length : width : thickness of a bar that is poured or pressed: a kilobar of about 115 × 52 × 9 mm (common practice, no
/// source).
const POURED: [f64; 3] = [1.0, 0.45, 0.075];
/// Length : width : thickness of a plate that is cut and struck: an ounce of about 41 × 24 × 1.7 mm (common practice, no source).
const STRUCK: [f64; 3] = [1.0, 0.58, 0.04];
/// Mass from which a bar is taken as poured (assumed).
const POURED_FROM_G: f64 = 250.0;
/// Share of its envelope that a bar fills, and a coin whose thickness nobody states (assumed).
const BAR_FILLS: f64 = 0.97;
const COIN_FILLS: f64 = 0.80;

/// Measures of a piece as somebody states them; what is `None` follows from the specification or is assumed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct PieceSize {
    /// Diameter of a round piece.
    pub diameter: Option<Length>,
    /// Longer side.
    pub length: Option<Length>,
    /// Shorter side.
    pub width: Option<Length>,
    /// Thickness over the highest points.
    pub thickness: Option<Length>,
}

/// Why a product cannot be judged before a piece is there.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum ExemplarError {
    /// The product is weighed piece by piece.
    #[error("product `{product}` has no mass of its own, so no size follows")]
    NoMass {
        /// The product.
        product: String,
    },
    /// A round product of which no diameter is known.
    #[error("the diameter of `{product}` is not in the reference")]
    NoDiameter {
        /// The product.
        product: String,
    },
    /// A measure that was stated is not above zero.
    #[error("the {measure} of the piece must be above 0 mm")]
    NotPositive {
        /// Which one.
        measure: &'static str,
    },
}

/// A piece as specified, with what had to be assumed.
#[derive(Debug, Clone, PartialEq)]
pub struct Exemplar {
    /// Its readings; the conductivity, taken once, is what the reference expects of the alloy.
    pub evidence: PieceEvidence,
    /// What was assumed, in words.
    pub assumed: Vec<String>,
}

impl Exemplar {
    /// Makes the exemplar of a product.
    ///
    /// # Errors
    /// [`ExemplarError`] says what nobody knows.
    pub fn of(rules: &Rules<'_>, product: &Product, size: &PieceSize) -> Result<Self, ExemplarError> {
        for (measure, stated) in [
            ("diameter", size.diameter),
            ("length", size.length),
            ("width", size.width),
            ("thickness", size.thickness),
        ] {
            if stated.is_some_and(|length| length.base() <= 0) {
                return Err(ExemplarError::NotPositive { measure });
            }
        }
        let alloy = alloy_of(rules, product);
        let density = alloy.density.value.as_g_per_cm3();
        let mass = expected_mass(rules, product)
            .ok_or_else(|| ExemplarError::NoMass { product: product.id.to_string() })?;
        let mut assumed = Vec::new();
        let nominal = |specified: &Option<crate::reference::Specified<Length>>| {
            specified.as_ref().map(|specified| specified.nominal.value.as_millimetres())
        };
        let stated = |length: Option<Length>| length.map(Length::as_millimetres);
        // A legal maximum says little of how thick a coin is.
        let aimed_at = product.thickness.as_ref().filter(|thickness| thickness.basis == Basis::Nominal);
        let thickness =
            stated(size.thickness).or(aimed_at.map(|thickness| thickness.nominal.value.as_millimetres()));
        let mut evidence = PieceEvidence {
            mass: Some(mass_shown(mass)),
            temperature: Some(seen(Temperature::from_celsius(20.0), Temperature::from_base(100_000))),
            conductivity: vec![conductivity_shown(alloy.conductivity.value)],
            presentation: Presentation {
                circulated: product.is_circulated_by_default(),
                ..Presentation::default()
            },
            ..PieceEvidence::default()
        };
        let thickness = if product.shape == Shape::Round {
            let diameter = stated(size.diameter)
                .or(nominal(&product.diameter))
                .ok_or_else(|| ExemplarError::NoDiameter { product: product.id.to_string() })?;
            evidence.diameter = Some(length_shown(diameter));
            thickness.unwrap_or_else(|| {
                assumed.push(format!("fills {:.0} % of its envelope", 100.0 * COIN_FILLS));
                flat_equivalent_thickness_mm(mass, diameter, density) / COIN_FILLS
            })
        } else {
            let shape = if mass >= POURED_FROM_G { POURED } else { STRUCK };
            let volume = mass / density * 1000.0 / BAR_FILLS;
            let whole = (volume / (shape[0] * shape[1] * shape[2])).cbrt();
            let length = stated(size.length).or(nominal(&product.length));
            let width = stated(size.width).or(nominal(&product.width));
            let (length, width) = match (length, width) {
                (Some(length), Some(width)) => (length, width),
                (length, width) => {
                    assumed.push(format!("length to width as 1 to {}", shape[1]));
                    let of_width = |width: f64| width / shape[1];
                    let length = length.unwrap_or_else(|| width.map_or(whole, of_width));
                    (length, width.unwrap_or(shape[1] * length))
                }
            };
            evidence.length = Some(length_shown(length.max(width)));
            evidence.width = Some(length_shown(length.min(width)));
            thickness.unwrap_or_else(|| {
                assumed.push(format!("fills {:.0} % of its envelope", 100.0 * BAR_FILLS));
                flat_equivalent_thickness_of_box_mm(mass, length, width, density) / BAR_FILLS
            })
        };
        evidence.thickness = Some(length_shown(thickness));
        Ok(Exemplar { evidence, assumed })
    }

    /// Returns its measures in words, such as `115.4 × 51.9 × 8.9 mm`.
    pub fn size_in_words(&self) -> String {
        let mm = |observation: &Option<Observation<Length>>| {
            observation.map_or("-".to_owned(), |seen| format!("{:.1}", seen.value.as_millimetres()))
        };
        let evidence = &self.evidence;
        let thickness = evidence.thickness.map_or(0.0, |seen| seen.value.as_millimetres());
        match evidence.diameter {
            Some(_) => format!("{} mm across, {thickness:.2} mm thick", mm(&evidence.diameter)),
            None => {
                format!("{} × {} × {thickness:.2} mm", mm(&evidence.length), mm(&evidence.width))
            }
        }
    }
}

/// Last digit of the desk's scale, calliper and meter (assumed).
const MASS_STEP_G: f64 = 0.01;
const LENGTH_STEP_MM: f64 = 0.01;

/// Returns the alloy of a product.
pub(super) fn alloy_of<'a>(rules: &Rules<'a>, product: &Product) -> &'a Material {
    rules
        .catalogue
        .material(product.alloy.value.as_str())
        .expect("the catalogue holds the alloy of each of its products")
}

/// Returns the mass to expect, in grams: the nominal one, or the middle of the limits of a piece that is weighed.
fn expected_mass(rules: &Rules<'_>, product: &Product) -> Option<f64> {
    if let Some(mass) = &product.mass {
        return Some(mass.nominal.value.as_grams());
    }
    let window = window::mass(product, false, rules.policy)?;
    match (window.lower, window.upper) {
        (Some(lower), Some(upper)) => Some(f64::midpoint(lower, upper)),
        (one, other) => one.or(other),
    }
}

fn seen<Q: Quantity>(value: Q, step: Q) -> Observation<Q> {
    let base = step.base().max(1);
    let rounded = (value.base() as f64 / base as f64).round() as i64 * base;
    Observation { value: Q::from_base(rounded), step, stated: None }
}

/// Returns a mass in grams as the desk's scale shows it.
pub(super) fn mass_shown(grams: f64) -> Observation<Mass> {
    seen(Mass::from_grams(grams), Mass::from_grams(MASS_STEP_G))
}

/// Returns a length in mm as the desk's calliper shows it.
pub(super) fn length_shown(millimetres: f64) -> Observation<Length> {
    seen(Length::from_millimetres(millimetres), Length::from_millimetres(LENGTH_STEP_MM))
}

/// Returns a conductivity as the desk's meter shows it: tenths from 10 MS/m on, else hundredths.
pub(super) fn conductivity_shown(value: Conductivity) -> Observation<Conductivity> {
    let step = if value.as_ms_per_m() >= 10.0 { 0.1 } else { 0.01 };
    seen(value, Conductivity::from_ms_per_m(step))
}
