//! Density of water and of moist air, for immersion weighing and for the buoyancy of air.
//!
//! Densities here are in kg/m³ as in the published formulas; 1 g/cm³ is 1000 kg/m³.

use crate::metrology::Uncertain;

/// Pressure of the standard atmosphere in pascal.
pub const STANDARD_PRESSURE_PA: f64 = 101_325.0;

/// Molar fraction of carbon dioxide in laboratory air that the equations for air take by default.
///
/// # Source
/// A. Picard et al., Metrologia 45 (2008), 149–155.
pub const CARBON_DIOXIDE: f64 = 0.0004;

/// Returns the density of air-free water (Standard Mean Ocean Water) at 101 325 Pa, in kg/m³.
///
/// Temperature in °C from 0 to 40, ITS-90. Standard uncertainty below 0.001 kg/m³ for water of known isotopic make-up; tap
/// water differs by its salts.
///
/// # Source
/// M. Tanaka et al., Metrologia 38 (2001), 301–309.
pub fn water_density_kg_m3(temperature_c: f64) -> f64 {
    let t = temperature_c;
    999.974_950 * (1.0 - (t - 3.983_035).powi(2) * (t + 301.797) / (522_528.9 * (t + 69.348_81)))
}

/// Returns the factor by which water is denser at a pressure than at 101 325 Pa.
///
/// Temperature in °C from 0 to 40, pressure in Pa near that of the atmosphere.
///
/// # Source
/// M. Tanaka et al., Metrologia 38 (2001), 301–309.
pub fn water_compression_factor(temperature_c: f64, pressure_pa: f64) -> f64 {
    let t = temperature_c;
    1.0 + (50.74e-11 - 0.326e-11 * t + 0.004_16e-11 * t * t) * (pressure_pa - STANDARD_PRESSURE_PA)
}

/// Returns what dissolved air takes off the density of water when saturated, in kg/m³; below zero.
///
/// Temperature in °C from 0 to 25.
///
/// # Source
/// M. Tanaka et al., Metrologia 38 (2001), 301–309 (from memory).
pub fn dissolved_air_correction_kg_m3(temperature_c: f64) -> f64 {
    -4.612e-3 + 0.106e-3 * temperature_c
}

/// Returns the change of water density per kelvin, in kg/(m³·K); the derivative of [`water_density_kg_m3`].
pub fn water_density_slope_kg_m3_per_k(temperature_c: f64) -> f64 {
    let step = 1e-3;
    (water_density_kg_m3(temperature_c + step) - water_density_kg_m3(temperature_c - step)) / (2.0 * step)
}

/// Returns the density of water in g/cm³ with the uncertainty that its temperature leaves, at 101 325 Pa.
///
/// Temperature in °C from 0 to 40; the result shares its input. Add the uncertainty of the water itself if it matters.
pub fn water_density_g_cm3(temperature_c: &Uncertain) -> Uncertain {
    let t = temperature_c.value();
    Uncertain::linear(
        water_density_kg_m3(t) / 1000.0,
        &[(water_density_slope_kg_m3_per_k(t) / 1000.0, temperature_c)],
    )
}

/// The published equations for the density of moist air.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AirEquation {
    /// The equation of 1981 with the constants of 1991 (gas constant and molar mass from memory).
    Cipm1991,
    /// The equation of 2007, with the argon content of air determined anew.
    Cipm2007,
}

/// Returns the density of moist air, in kg/m³.
///
/// Temperature in °C from 15 to 27, pressure in hPa from 600 to 1100, relative humidity in % from 0 to 100, carbon dioxide
/// as a molar fraction ([`CARBON_DIOXIDE`]). The equation itself has a relative standard uncertainty of 2.2·10⁻⁵.
///
/// # Source
/// A. Picard, R. Davis, M. Gläser and K. Fujii, Metrologia 45 (2008), 149–155; R. Davis, Metrologia 29 (1992), 67–70.
pub fn moist_air_density_kg_m3(
    equation: AirEquation,
    temperature_c: f64,
    pressure_hpa: f64,
    humidity_percent: f64,
    carbon_dioxide: f64,
) -> f64 {
    let (gas_constant, molar_mass_g) = match equation {
        AirEquation::Cipm1991 => (8.314_510, 28.963_5),
        AirEquation::Cipm2007 => (8.314_472, 28.965_46),
    };
    let molar_mass_kg = (molar_mass_g + 12.011 * (carbon_dioxide - 0.0004)) * 1e-3;
    let (t, kelvin, p) = (temperature_c, temperature_c + 273.15, pressure_hpa * 100.0);
    let saturation = (1.237_884_7e-5 * kelvin * kelvin - 1.912_131_6e-2 * kelvin + 33.937_110_47
        - 6.343_164_5e3 / kelvin)
        .exp();
    let enhancement = 1.000_62 + 3.14e-8 * p + 5.6e-7 * t * t;
    let vapour = humidity_percent / 100.0 * enhancement * saturation / p;
    let compressibility = 1.0
        - p / kelvin
            * (1.581_23e-6 - 2.933_1e-8 * t
                + 1.104_3e-10 * t * t
                + (5.707e-6 - 2.051e-8 * t) * vapour
                + (1.989_8e-4 - 2.376e-6 * t) * vapour * vapour)
        + (p / kelvin).powi(2) * (1.83e-11 - 0.765e-8 * vapour * vapour);
    let water_g = 18.015_28;
    p * molar_mass_kg / (compressibility * gas_constant * kelvin)
        * (1.0 - vapour * (1.0 - water_g * 1e-3 / molar_mass_kg))
}

/// Returns the density of moist air by the approximate formula, in kg/m³.
///
/// Units as for [`moist_air_density_kg_m3`]; within 3·10⁻⁴ of it from 10 to 30 °C, 900 to 1100 hPa and 0 to 80 %.
///
/// # Source
/// OIML R 111-1:2004, E.3, equation E.3-1 (from memory).
pub fn moist_air_density_approximate_kg_m3(
    temperature_c: f64,
    pressure_hpa: f64,
    humidity_percent: f64,
) -> f64 {
    (0.348_48 * pressure_hpa - 0.009 * humidity_percent * (0.061 * temperature_c).exp())
        / (273.15 + temperature_c)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn warm_water_is_lighter_and_its_temperature_makes_it_uncertain() {
        // Thermal expansion of water at 20 °C: 207·10⁻⁶ per kelvin (from memory), three digits.
        let expansion = -water_density_slope_kg_m3_per_k(20.0) / water_density_kg_m3(20.0);
        assert!((expansion - 207e-6).abs() <= 0.5e-6, "{expansion}");
        let water = water_density_g_cm3(&Uncertain::new(20.0, 0.5, "water temperature").unwrap());
        assert!((water.value() - 0.998_206_7).abs() < 1e-7);
        assert!((water.standard_uncertainty() - 0.000_103_3).abs() <= 0.000_000_3);
    }

    #[test]
    fn the_argon_of_2007_makes_air_denser() {
        // Relative difference of the molar masses of dry air, 6.8·10⁻⁵, and of the gas constants, 0.5·10⁻⁵.
        let air = |equation| moist_air_density_kg_m3(equation, 20.0, 1013.25, 50.0, CARBON_DIOXIDE);
        let relative = air(AirEquation::Cipm2007) / air(AirEquation::Cipm1991) - 1.0;
        assert!((relative - 7.2e-5).abs() < 0.1e-5, "{relative}");
    }

    #[test]
    fn dissolved_air_takes_off_a_few_parts_in_a_million() {
        assert!((dissolved_air_correction_kg_m3(20.0) + 0.002_49).abs() < 1e-5);
    }
}
