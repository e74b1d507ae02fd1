//! Density by weighing a piece in air and under water, with the uncertainty of the result.
//!
//! Masses in g, densities in g/cm³. The readings are those of a balance that shows conventional mass; the ratio of two
//! readings is free of that convention. A bubble of 1 mm³ on the piece is 1 mg: no formula sees it.

use crate::metrology::{Budget, BudgetLine, Uncertain, UncertainError, evaluation, normal};
use thiserror::Error;

/// Readings or a set-up from which no density follows.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum ImmersionError {
    /// A mass or a density is zero, negative or not a number.
    #[error("{quantity} `{found}` is not allowed; it must be above zero")]
    NotPositive {
        /// What was given.
        quantity: &'static str,
        /// The number given.
        found: f64,
    },
    /// The piece does not push the liquid away, or is not heavier than the air.
    #[error("density `{density} g/cm³` of the piece must be above `{liquid} g/cm³` of the liquid")]
    Floats {
        /// Density of the piece.
        density: f64,
        /// Density of the liquid.
        liquid: f64,
    },
    /// An uncertainty of the set-up is not allowed.
    #[error(transparent)]
    Uncertain(#[from] UncertainError),
}

/// Returns the density of a piece hung into the liquid from the balance.
///
/// ρ = (W_a·ρ_l − W_l·ρ_a)/(W_a − W_l): `in_air` W_a and `immersed` W_l are readings in g, the suspension tared away;
/// `liquid` ρ_l and `air` ρ_a in g/cm³. Inputs that readings share are taken into account.
///
/// # Errors
/// `NotPositive` names the first reading or density that is not above zero; the difference of the readings counts too.
pub fn suspended(
    in_air: &Uncertain,
    immersed: &Uncertain,
    liquid: &Uncertain,
    air: &Uncertain,
) -> Result<Uncertain, ImmersionError> {
    positive("reading in air", in_air.value())?;
    positive("density of the liquid", liquid.value())?;
    let displaced = in_air - immersed;
    positive("loss of weight", displaced.value())?;
    let product = &(in_air * liquid) - &(immersed * air);
    Ok(product.div(&displaced)?)
}

/// Returns the density of a piece held into a beaker that stands on the balance.
///
/// ρ = ρ_a + (ρ_l − ρ_a)·W_a/B: `in_air` W_a is the reading in g, `gain` B what the tared beaker shows in g while the
/// piece hangs in it free of the wall. Otherwise as [`suspended`].
///
/// # Errors
/// `NotPositive` names the first reading or density that is not above zero.
pub fn beaker_on_pan(
    in_air: &Uncertain,
    gain: &Uncertain,
    liquid: &Uncertain,
    air: &Uncertain,
) -> Result<Uncertain, ImmersionError> {
    positive("reading in air", in_air.value())?;
    positive("density of the liquid", liquid.value())?;
    positive("gain of weight", gain.value())?;
    Ok(air + &(&(liquid - air) * in_air).div(gain)?)
}

/// How the piece is weighed under water.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// Hung from the balance into a vessel beside it.
    Suspended,
    /// Held into a beaker that stands on the pan.
    BeakerOnPan,
}

/// What limits a density by immersion on one bench.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setup {
    /// Digit step of the balance in g; both readings are tared.
    pub digit_step_g: f64,
    /// Standard uncertainty of the reading under water from thread, surface and drops, in g.
    pub suspension_u_g: f64,
    /// Density of the liquid in g/cm³.
    pub liquid_g_cm3: f64,
    /// Its standard uncertainty in g/cm³.
    pub liquid_u_g_cm3: f64,
    /// Density of the air in g/cm³.
    pub air_g_cm3: f64,
    /// Its standard uncertainty in g/cm³.
    pub air_u_g_cm3: f64,
}

impl Setup {
    /// Water of about 22 °C known to 0.8 K and ordinary air, with a suspension good to 2 mg.
    ///
    /// # Source
    /// Water: Tanaka 2001 at 22 °C, 0.997 77 g/cm³, and 0.2 mg/(cm³·K); air: 1.2 mg/cm³; the suspension is assumed.
    pub fn water_at_room_temperature(digit_step_g: f64) -> Self {
        Setup {
            digit_step_g,
            suspension_u_g: 0.002,
            liquid_g_cm3: 0.997_77,
            liquid_u_g_cm3: 0.000_16,
            air_g_cm3: 0.0012,
            air_u_g_cm3: 0.000_02,
        }
    }
}

/// Predicts the uncertainty budget of a density by immersion, before anything gets wet.
///
/// `density_g_cm3` and `mass_g` are those of the piece expected. The combined uncertainty is k = 1, in g/cm³.
///
/// # Errors
/// `NotPositive` for a mass or density that is not above zero, `Floats` for a piece lighter than the liquid, `Uncertain` for
/// an uncertainty of the set-up that is negative or not finite.
///
/// # Source
/// First-order propagation, JCGM 100:2008, equation 10; the balance's digit counts twice for a tared reading.
pub fn predicted_budget(
    method: Method,
    density_g_cm3: f64,
    mass_g: f64,
    setup: &Setup,
) -> Result<Budget, ImmersionError> {
    positive("mass", mass_g)?;
    positive("density of the liquid", setup.liquid_g_cm3)?;
    positive("density of the air", setup.air_g_cm3)?;
    let (density, liquid, air) = (density_g_cm3, setup.liquid_g_cm3, setup.air_g_cm3);
    if density.is_nan() || density <= liquid || liquid <= air {
        return Err(ImmersionError::Floats { density, liquid });
    }
    // What the liquid carries, as the balance shows it.
    let displaced = mass_g * (liquid - air) / (density - air);
    let digit = evaluation::tared_resolution(setup.digit_step_g);
    let wet = evaluation::combine(&[digit, setup.suspension_u_g]);
    let (of_dry, of_wet) = match method {
        Method::Suspended => ((liquid - density) / displaced, (density - air) / displaced),
        Method::BeakerOnPan => ((liquid - air) / displaced, (air - density) / displaced),
    };
    let digit_source = "digit step d/√6, tared";
    Ok(Budget::new(vec![
        BudgetLine::new("reading in air, g", digit, of_dry, digit_source)?,
        BudgetLine::new("reading under water, g", wet, of_wet, format!("{digit_source}, and suspension"))?,
        BudgetLine::new(
            "density of the liquid, g/cm³",
            setup.liquid_u_g_cm3,
            mass_g / displaced,
            "temperature of the liquid",
        )?,
        BudgetLine::new("density of the air, g/cm³", setup.air_u_g_cm3, 1.0 - mass_g / displaced, "weather")?,
    ]))
}

/// Returns the true mass of a piece, in g, from the reading of a balance adjusted with weights of a given density.
///
/// W·(1 − ρ_a/ρ_c)/(1 − ρ_a/ρ): all densities in g/cm³; `weights_g_cm3` is 8.0 by convention. The densities of the piece
/// and of the weights must be above that of the air.
///
/// # Source
/// OIML D 28:2004 (conventional value of the result of weighing in air; from memory).
pub fn true_mass_g(reading_g: f64, density_g_cm3: f64, air_g_cm3: f64, weights_g_cm3: f64) -> f64 {
    reading_g * (1.0 + buoyancy_correction(density_g_cm3, air_g_cm3, weights_g_cm3))
}

/// Returns the relative correction for the buoyancy of air: what [`true_mass_g`] adds, as a share of the reading.
///
/// Below zero for metals denser than the weights: −88·10⁻⁶ for gold.
pub fn buoyancy_correction(density_g_cm3: f64, air_g_cm3: f64, weights_g_cm3: f64) -> f64 {
    (1.0 - air_g_cm3 / weights_g_cm3) / (1.0 - air_g_cm3 / density_g_cm3) - 1.0
}

/// Returns the standard uncertainty with which two densities can be told apart, in their unit.
///
/// The threshold lies midway; `error_probability` is the share of either that falls on the wrong side, between 0 and 0.5.
/// u = gap/(2 z).
pub fn uncertainty_to_tell_apart(density_a: f64, density_b: f64, error_probability: f64) -> f64 {
    (density_a - density_b).abs() / (2.0 * normal::upper_quantile(error_probability))
}

/// Refuses what is not a number above zero.
fn positive(quantity: &'static str, found: f64) -> Result<(), ImmersionError> {
    if found.is_finite() && found > 0.0 {
        Ok(())
    } else {
        Err(ImmersionError::NotPositive { quantity, found })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn uncertain(value: f64, u: f64, input: &str) -> Uncertain {
        Uncertain::new(value, u, input).unwrap()
    }

    #[test]
    fn the_predicted_budget_is_the_one_the_readings_give() {
        let setup = Setup::water_at_room_temperature(0.001);
        for (density, mass) in [(10.49, 31.1035), (19.3, 1000.0), (21.45, 5.0)] {
            let liquid = uncertain(setup.liquid_g_cm3, setup.liquid_u_g_cm3, "liquid");
            let air = uncertain(setup.air_g_cm3, setup.air_u_g_cm3, "air");
            let digit = evaluation::tared_resolution(setup.digit_step_g);
            let displaced = mass * (liquid.value() - air.value()) / (density - air.value());
            let dry = uncertain(mass, digit, "dry");
            let wet_u = digit.hypot(setup.suspension_u_g);
            for method in [Method::Suspended, Method::BeakerOnPan] {
                let result = match method {
                    Method::Suspended => {
                        suspended(&dry, &uncertain(mass - displaced, wet_u, "wet"), &liquid, &air)
                    }
                    Method::BeakerOnPan => {
                        beaker_on_pan(&dry, &uncertain(displaced, wet_u, "wet"), &liquid, &air)
                    }
                }
                .unwrap();
                let budget = predicted_budget(method, density, mass, &setup).unwrap();
                assert!((result.value() - density).abs() < 1e-9 * density, "{method:?} {density}");
                assert!(
                    (budget.combined() / result.standard_uncertainty() - 1.0).abs() < 1e-9,
                    "{method:?} {density}"
                );
            }
        }
    }

    #[test]
    fn what_has_no_density_is_refused_by_name() {
        let (liquid, air) = (uncertain(1.0, 0.001, "liquid"), uncertain(0.0012, 0.0001, "air"));
        let (light, heavy) = (uncertain(1.0, 0.01, "a"), uncertain(2.0, 0.01, "b"));
        assert!(matches!(
            suspended(&light, &heavy, &liquid, &air),
            Err(ImmersionError::NotPositive { quantity: "loss of weight", .. })
        ));
        let setup = Setup::water_at_room_temperature(0.01);
        assert!(matches!(
            predicted_budget(Method::BeakerOnPan, 0.9, 10.0, &setup),
            Err(ImmersionError::Floats { .. })
        ));
        let bad = Setup { liquid_u_g_cm3: f64::NAN, ..setup };
        assert!(matches!(
            predicted_budget(Method::Suspended, 19.3, 10.0, &bad),
            Err(ImmersionError::Uncertain(UncertainError::BadUncertainty { .. }))
        ));
    }

    #[test]
    fn a_gold_ounce_on_a_milligram_balance_cannot_be_told_from_tungsten() {
        // The gap is 0.05 g/cm³; 0.1 % error on either side asks for U (k = 2) of 0.016 g/cm³.
        let needed = 2.0 * uncertainty_to_tell_apart(19.30, 19.25, 0.001);
        let setup = Setup::water_at_room_temperature(0.001);
        let ounce = predicted_budget(Method::BeakerOnPan, 19.3, 31.1035, &setup).unwrap();
        let kilogram = predicted_budget(Method::BeakerOnPan, 19.3, 1000.0, &setup).unwrap();
        assert!(ounce.expanded(2.0) > needed && kilogram.expanded(2.0) < needed);
    }
}
