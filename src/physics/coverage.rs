//! How much of a face a number of spots looks at, and how many spots a full cover needs.
//!
//! A spot sees about a circle of 1.1 times the coil's outer radius. Coverage never adds depth.

use std::f64::consts::PI;

/// Radius of the circle a spot looks at, in outer radii of the coil.
///
/// Common practice, no source.
pub const FOOTPRINT_IN_OUTER_RADII: f64 = 1.1;

/// Thinnest density with which equal circles cover the plane, 2π/(3√3) = 1.209: a circle's area over its
/// hexagon's.
///
/// # Source
/// Kershner, American Journal of Mathematics 61 (1939), p. 665 (from memory).
pub const COVERING_DENSITY: f64 = 1.209_199_576_156_145_2;

/// Returns the radius of the circle that one spot looks at, in millimetres.
///
/// `outer_radius_mm` is the coil's outer radius r2.
pub fn footprint_radius_mm(outer_radius_mm: f64) -> f64 {
    FOOTPRINT_IN_OUTER_RADII * outer_radius_mm
}

/// Returns how many spots cover a whole face when laid in a hexagonal pattern.
///
/// N = ⌈1.209·A/(π r²)⌉ with the face's area in mm² and the footprint radius in mm, both above zero. The
/// border of the face is not counted, so a small face may need more. At least 1.
pub fn spots_for_full_cover(area_mm2: f64, footprint_radius_mm: f64) -> u32 {
    at_least_one(COVERING_DENSITY * area_mm2 / (PI * footprint_radius_mm * footprint_radius_mm))
}

/// Returns the share of a face that a number of spots covers for certain when they are well spread, from 0 to
/// 1.
///
/// Each spot counts for the hexagon inscribed in its circle, so that the share is 1 exactly where
/// [`spots_for_full_cover`] says so. Area in mm², footprint radius in mm, both above zero.
pub fn share_covered(spots: u32, area_mm2: f64, footprint_radius_mm: f64) -> f64 {
    let hexagon = PI * footprint_radius_mm * footprint_radius_mm / COVERING_DENSITY;
    (f64::from(spots) * hexagon / area_mm2).min(1.0)
}

/// Returns how many random spots meet a defect with the wanted probability.
///
/// n = ⌈ln(1 − P)/ln(1 − q)⌉; `defect_share` q is the share of the face it takes and `probability` P the
/// chance of at least one hit, both strictly between 0 and 1. A defect of the whole face needs 1 spot.
pub fn random_spots(defect_share: f64, probability: f64) -> u32 {
    at_least_one((-probability).ln_1p() / (-defect_share).ln_1p())
}

/// Rounds a count of spots up; a whole number that arithmetic left a hair too high stays itself.
fn at_least_one(count: f64) -> u32 {
    (count * (1.0 - 1e-12)).ceil().max(1.0) as u32
}
