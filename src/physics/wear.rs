//! What a coin loses by passing from hand to hand.

use super::density::disc_volume_mm3;
use std::f64::consts::PI;

/// Loss of a coin in circulation, in grams for a square millimetre of its surface and a year.
///
/// W. S. Jevons, On the Condition of the Metallic Currency of the United Kingdom (1868), from memory: 0.043 grain a year
/// from a coin of 22.05 mm (3.2 µg/mm²) and 0.069 grain from one of half its mass (6.9 µg/mm²), which passes hands more
/// often; 5 µg/mm² stands for both.
const LOSS_G_PER_MM2_YEAR: f64 = 5e-6;

/// Returns the surface of a disc, both faces and the rim, in mm².
///
/// Diameter and thickness in mm, above zero. The relief is left out.
pub fn surface_of_disc_mm2(diameter_mm: f64, thickness_mm: f64) -> f64 {
    2.0 * disc_volume_mm3(diameter_mm, thickness_mm) / thickness_mm + PI * diameter_mm * thickness_mm
}

/// Returns what a coin loses in so many years of circulation, in grams; an allowance, not a prediction of one coin.
///
/// Diameter and thickness in mm, above zero; years not negative. Single coins lose from a fifth to twice as much.
pub fn worn_off_g(diameter_mm: f64, thickness_mm: f64, years: f64) -> f64 {
    LOSS_G_PER_MM2_YEAR * surface_of_disc_mm2(diameter_mm, thickness_mm) * years
}
