//! Density of whole pieces from outside, of mixtures, and of skin-on-core constructions.
//!
//! Grams, millimetres and g/cm³ throughout; fractions run from 0 to 1. It never judges: an envelope density
//! is a lower bound of the true one, and what that excludes is for the floors above to say.

use std::f64::consts::PI;

/// Cubic millimetres in a cubic centimetre.
const MM3_PER_CM3: f64 = 1000.0;

/// Returns the volume of the smallest flat-ended disc around a round piece, in mm³.
///
/// `thickness_mm` is the greatest thickness, over the rim.
pub fn disc_volume_mm3(diameter_mm: f64, thickness_mm: f64) -> f64 {
    PI / 4.0 * diameter_mm * diameter_mm * thickness_mm
}

/// Returns the volume of the smallest box around a bar, in mm³.
pub fn box_volume_mm3(length_mm: f64, width_mm: f64, thickness_mm: f64) -> f64 {
    length_mm * width_mm * thickness_mm
}

/// Returns mass over envelope volume, in g/cm³: a lower bound of the piece's true density.
///
/// Mass in grams, volume in mm³ (from [`disc_volume_mm3`] or [`box_volume_mm3`]), both above zero.
pub fn envelope_density_g_cm3(mass_g: f64, envelope_mm3: f64) -> f64 {
    mass_g / envelope_mm3 * MM3_PER_CM3
}

/// Returns the thickness a round piece would have if it were a flat disc of its mass, in millimetres.
///
/// t_eq = 4m/(π d² ρ); mass in grams, diameter in mm, density of the declared alloy in g/cm³, all above zero.
/// A measured thickness below it is impossible for that alloy.
pub fn flat_equivalent_thickness_mm(mass_g: f64, diameter_mm: f64, density_g_cm3: f64) -> f64 {
    mass_g * MM3_PER_CM3 / (density_g_cm3 * PI / 4.0 * diameter_mm * diameter_mm)
}

/// Returns the thickness a rectangular piece would have if it were a flat box of its mass, in millimetres.
///
/// Mass in grams, length and width in mm, density of the declared alloy in g/cm³, all above zero.
pub fn flat_equivalent_thickness_of_box_mm(
    mass_g: f64,
    length_mm: f64,
    width_mm: f64,
    density_g_cm3: f64,
) -> f64 {
    mass_g * MM3_PER_CM3 / (density_g_cm3 * length_mm * width_mm)
}

/// Returns the fill factor t_eq/t: the share of the envelope that is metal, if the metal is the declared one.
///
/// Both in one unit, above zero. Struck coins lie between 0.60 and 0.92 (common practice, no source); above 1
/// is impossible.
pub fn fill_factor(flat_equivalent_thickness: f64, measured_thickness: f64) -> f64 {
    flat_equivalent_thickness / measured_thickness
}

/// Returns the density of a mixture given by mass fractions, in g/cm³, by ideal mixing of specific volumes.
///
/// `parts`: (mass fraction, density in g/cm³), any order, at least one; fractions are normalised by their
/// sum. Real alloys differ by up to about 1 %. Returns `None` when the fractions do not add up to more than
/// zero.
pub fn density_of_mass_fractions(parts: &[(f64, f64)]) -> Option<f64> {
    let mass: f64 = parts.iter().map(|(fraction, _)| fraction).sum();
    let volume: f64 = parts.iter().map(|(fraction, density)| fraction / density).sum();
    (mass > 0.0 && volume > 0.0).then(|| mass / volume)
}

/// Returns the density of a body given by volume shares, in g/cm³; exact for parts that lie side by side.
///
/// `parts`: (volume share, density in g/cm³), any order, at least one; shares are normalised by their sum.
/// Returns `None` when the shares do not add up to more than zero.
pub fn density_of_volume_shares(parts: &[(f64, f64)]) -> Option<f64> {
    let volume: f64 = parts.iter().map(|(share, _)| share).sum();
    let mass: f64 = parts.iter().map(|(share, density)| share * density).sum();
    (volume > 0.0).then(|| mass / volume)
}

/// Returns the mass fraction of part `a` in a mix of `a` and `b` that has the target density, by ideal
/// mixing.
///
/// Densities in g/cm³, above zero. `None` when no mix of the two reaches the target.
pub fn mass_fraction_for_density(density_a: f64, density_b: f64, target: f64) -> Option<f64> {
    let fraction = (1.0 / target - 1.0 / density_b) / (1.0 / density_a - 1.0 / density_b);
    (0.0..=1.0).contains(&fraction).then_some(fraction)
}

/// Returns the density of a core under a skin as a whole, in g/cm³.
///
/// `core_share` is the core's share of the volume, from 0 to 1.
pub fn density_of_clad(skin_g_cm3: f64, core_g_cm3: f64, core_share: f64) -> f64 {
    skin_g_cm3 + core_share * (core_g_cm3 - skin_g_cm3)
}

/// Returns the core's share of the volume of a disc with a skin of one thickness on both faces and the rim.
///
/// All in mm; 0 where the skin leaves no room for a core.
pub fn core_share_of_disc(diameter_mm: f64, thickness_mm: f64, skin_mm: f64) -> f64 {
    let across = inner_share(diameter_mm, skin_mm);
    across * across * inner_share(thickness_mm, skin_mm)
}

/// Returns the core's share of the volume of a box with a skin of one thickness on all six faces.
///
/// All in mm; 0 where the skin leaves no room for a core.
pub fn core_share_of_box(length_mm: f64, width_mm: f64, thickness_mm: f64, skin_mm: f64) -> f64 {
    inner_share(length_mm, skin_mm) * inner_share(width_mm, skin_mm) * inner_share(thickness_mm, skin_mm)
}

/// Returns the core's share of the volume that moves the density of the whole by a relative amount.
///
/// φ = x·ρs/|ρs − ρc|, x as 0.01 for 1 %. Above 1 means that no core of that material is seen; infinite for
/// equal densities.
pub fn core_share_for_density_shift(skin_g_cm3: f64, core_g_cm3: f64, relative_shift: f64) -> f64 {
    relative_shift * skin_g_cm3 / (skin_g_cm3 - core_g_cm3).abs()
}

/// Returns the share of one dimension that a skin on both its ends leaves inside.
fn inner_share(dimension: f64, skin: f64) -> f64 {
    (1.0 - 2.0 * skin / dimension).clamp(0.0, 1.0)
}
