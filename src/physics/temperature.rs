//! Conductivity and temperature: the linear law about 20 °C and what the probe's standardising makes of it.
//!
//! The coefficient α belongs to the alloy and not to its chief metal: fine gold has about 0.0037/K, 22 ct
//! about 0.0009/K.

/// Reference temperature of every conductivity in this program, in °C.
///
/// # Source
/// ASTM E1004 (conductivity in %IACS is stated at 20 °C).
pub const REFERENCE_C: f64 = 20.0;

/// Returns the conductivity at 20 °C of a metal that has the given conductivity at temperature T.
///
/// σ20 = σT·(1 + α(T − 20)). Conductivity in MS/m (any unit serves), temperature in °C, α in 1/K at 20 °C.
/// Good for a few tens of kelvin about 20 °C.
pub fn conductivity_at_20(conductivity_at_t: f64, temperature_c: f64, alpha_per_k: f64) -> f64 {
    conductivity_at_t * resistivity_ratio(alpha_per_k, temperature_c)
}

/// Returns the conductivity at temperature T of a metal whose conductivity at 20 °C is given.
///
/// The inverse of [`conductivity_at_20`]; same units and range.
pub fn conductivity_at(conductivity_20: f64, temperature_c: f64, alpha_per_k: f64) -> f64 {
    conductivity_20 / resistivity_ratio(alpha_per_k, temperature_c)
}

/// Returns the piece's conductivity at 20 °C from a meter that was set on a standard block.
///
/// σ20 = y·(1 + αp(Tp − 20))/(1 + αs(Ts − 20)): y is the reading in MS/m, `alpha_piece` and `alpha_standard`
/// are in 1/K at 20 °C, the temperatures in °C. The block's value was dialled in as its value at 20 °C. For a
/// meter that already corrects to 20 °C with the right α, pass a standard temperature of 20 °C and a piece
/// temperature of 20 °C.
pub fn conductivity_at_20_from_reading(
    reading: f64,
    alpha_piece: f64,
    temperature_piece_c: f64,
    alpha_standard: f64,
    temperature_standard_c: f64,
) -> f64 {
    reading * resistivity_ratio(alpha_piece, temperature_piece_c)
        / resistivity_ratio(alpha_standard, temperature_standard_c)
}

/// Returns the relative error of a reading when piece and standard differ by ΔT, to first order.
///
/// `alpha_per_k` in 1/K, difference in K; 0.0114 means 1.14 %.
pub fn mismatch_error(alpha_per_k: f64, difference_k: f64) -> f64 {
    alpha_per_k * difference_k
}

/// Returns the temperature coefficient of an alloy from that of its chief metal, in 1/K.
///
/// α = α_pure·σ/σ_pure: impurities add resistance, but its slope dρ/dT stays. Conductivities in one unit,
/// above zero. An estimate for dilute alloys; ordered and magnetic alloys do not obey it.
///
/// # Source
/// Dellinger, Bulletin of the Bureau of Standards 7, p. 71 (Matthiessen's rule); numbers from memory.
pub fn alloy_alpha(alpha_pure_per_k: f64, conductivity: f64, conductivity_pure: f64) -> f64 {
    alpha_pure_per_k * conductivity / conductivity_pure
}

/// Returns the slope of resistivity with temperature, dρ/dT = α20·ρ20, in the unit of ρ per kelvin.
///
/// # Source
/// Dellinger, as for [`alloy_alpha`]: it is the property that alloying leaves alone.
pub fn resistivity_slope(alpha_per_k: f64, resistivity_20: f64) -> f64 {
    alpha_per_k * resistivity_20
}

/// Returns ρ(T)/ρ(20 °C).
fn resistivity_ratio(alpha_per_k: f64, temperature_c: f64) -> f64 {
    1.0 + alpha_per_k * (temperature_c - REFERENCE_C)
}
