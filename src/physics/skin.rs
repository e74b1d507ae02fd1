//! Skin depth: how far below a surface an alternating field reaches into a metal.

use std::f64::consts::PI;

/// Magnetic constant μ0 in H/m, as 4π·10⁻⁷.
///
/// The measured CODATA 2018 value, 1.256 637 062 12(19)·10⁻⁶ H/m, lies 5.5·10⁻¹⁰ of itself above it, which no
/// reading of this trade can see.
///
/// # Source
/// SI before 2019 (exact); CODATA 2018 (from memory).
pub const MU_0: f64 = 4.0e-7 * PI;

/// Conductivity that is called 100 %IACS, in MS/m at 20 °C; exact by definition.
///
/// # Source
/// ASTM E1004, scope: 0.58·10⁸ S/m at 20 °C.
pub const IACS_100_MS_M: f64 = 58.0;

/// Skin-depth constant K as printed, in mm·√(Hz·%IACS): δ = K/√(f·μr·σ).
///
/// It is 0.7 % below the SI value, [`si_constant_mm`]; it is kept for comparison and never used in a formula
/// here.
///
/// # Source
/// MIL-STD-1537C, 3.7.2, metric form.
pub const MIL_STD_1537C_CONSTANT_MM: f64 = 656.5;

/// Thickness of a sheet, in skin depths, from which on its rear face no longer disturbs a conductivity
/// reading.
///
/// # Source
/// MIL-STD-1537C, minimum thickness 2.6 δ.
pub const MINIMUM_THICKNESS_IN_SKIN_DEPTHS: f64 = 2.6;

/// Share of the minimum thickness that the standard calls the effective depth of penetration.
///
/// # Source
/// MIL-STD-1537C, example 1.
pub const EFFECTIVE_SHARE_OF_MINIMUM_THICKNESS: f64 = 0.6;

/// Depth, in skin depths, for which an in-window reading vouches.
///
/// It is where a poorly conducting core under silver first hides in a window of ±3 %; see
/// [`crate::physics::layered::hiding_depths`] for a particular pair.
pub const PROVED_DEPTH_IN_SKIN_DEPTHS: f64 = 1.1;

/// Converts a conductivity in %IACS to MS/m.
pub fn iacs_to_ms_m(percent_iacs: f64) -> f64 {
    percent_iacs * (IACS_100_MS_M / 100.0)
}

/// Converts a conductivity in MS/m to %IACS.
pub fn ms_m_to_iacs(conductivity_ms_m: f64) -> f64 {
    conductivity_ms_m * (100.0 / IACS_100_MS_M)
}

/// Returns the standard depth of penetration δ = 1/√(π f μ0 μr σ) in millimetres.
///
/// Conductivity in MS/m, frequency in Hz, relative permeability without unit (1 for every non-ferromagnetic
/// metal); all above zero. At a conductivity or frequency of zero the depth is infinite.
///
/// # Source
/// Classical; as in MIL-STD-1537C, 3.7.
pub fn skin_depth_mm(conductivity_ms_m: f64, frequency_hz: f64, relative_permeability: f64) -> f64 {
    // 1e3 mm/m over √(1e6 (S/m)/(MS/m)) is 1.
    1.0 / (PI * frequency_hz * MU_0 * relative_permeability * conductivity_ms_m).sqrt()
}

/// Returns the exact SI value of the constant that MIL-STD-1537C prints as 656.5, in mm·√(Hz·%IACS).
pub fn si_constant_mm() -> f64 {
    skin_depth_mm(iacs_to_ms_m(1.0), 1.0, 1.0)
}

/// Returns the least thickness for an undisturbed reading, 2.6 δ, in millimetres.
///
/// Conductivity in MS/m, frequency in Hz; non-ferromagnetic.
///
/// # Source
/// MIL-STD-1537C, see [`MINIMUM_THICKNESS_IN_SKIN_DEPTHS`].
pub fn minimum_thickness_mm(conductivity_ms_m: f64, frequency_hz: f64) -> f64 {
    MINIMUM_THICKNESS_IN_SKIN_DEPTHS * skin_depth_mm(conductivity_ms_m, frequency_hz, 1.0)
}

/// Returns the effective depth of penetration, 0.6 times the minimum thickness, in millimetres.
///
/// Conductivity in MS/m, frequency in Hz; non-ferromagnetic.
///
/// # Source
/// MIL-STD-1537C, example 1 (32 %IACS at 60 kHz: 0.76 mm).
pub fn effective_depth_mm(conductivity_ms_m: f64, frequency_hz: f64) -> f64 {
    EFFECTIVE_SHARE_OF_MINIMUM_THICKNESS * minimum_thickness_mm(conductivity_ms_m, frequency_hz)
}

/// Returns the depth for which an in-window reading vouches, 1.1 δ, in millimetres.
///
/// Conductivity in MS/m, frequency in Hz; non-ferromagnetic. What lies deeper is not seen by this reading.
pub fn proved_depth_mm(conductivity_ms_m: f64, frequency_hz: f64) -> f64 {
    PROVED_DEPTH_IN_SKIN_DEPTHS * skin_depth_mm(conductivity_ms_m, frequency_hz, 1.0)
}

/// Returns the frequency at which δ equals the given depth, in Hz.
///
/// Conductivity in MS/m, depth in mm, both above zero; non-ferromagnetic. It answers which probe would reach
/// deeper.
pub fn frequency_for_depth_hz(conductivity_ms_m: f64, depth_mm: f64) -> f64 {
    1.0 / (PI * MU_0 * conductivity_ms_m * depth_mm * depth_mm)
}
