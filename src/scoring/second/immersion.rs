//! Immersion weighing: the density of the whole piece.

use super::examine::{Examined, Judged};
use super::prediction::{Build, Plan, Predicts, Range};
use super::report::Figure;
use crate::evidence::{ImmersionTest, Observation, UnderWater};
use crate::metrology::evaluation::{resolution, tared_resolution};
use crate::metrology::{Uncertain, UncertainError};
use crate::physics::density::density_of_clad;
use crate::physics::immersion::ImmersionError;
use crate::physics::immersion::{self, Setup, beaker_on_pan, predicted_budget, suspended};
use crate::physics::water::{moist_air_density_approximate_kg_m3, water_density_g_cm3};
use crate::quantity::{Mass, Quantity, Temperature};
use crate::reference::{Material, Ranged};
use crate::scoring::doubt::Method;
use crate::scoring::trial::Trial;

/// Digit of the scale that a weighing is planned with while none was used yet, in grams.
const PLANNED_DIGIT_G: f64 = 0.01;
/// Standard uncertainty of the water itself (salts, dissolved air) beside its temperature, in g/cm³ (assumed).
const WATER_U_G_CM3: f64 = 0.000_1;
/// Standard uncertainty of the air's density from an unrecorded pressure and humidity, in g/cm³ (assumed).
const AIR_U_G_CM3: f64 = 0.000_02;

/// Density of any build, in g/cm³.
struct Density {
    own: Ranged<crate::quantity::Density>,
}

impl Density {
    fn of(alloy: &Material) -> Self {
        Density { own: alloy.density.clone() }
    }
}

impl Predicts for Density {
    fn range(&self, build: &Build<'_>) -> Option<Range> {
        Some(range(&self.own, build))
    }

    fn centre(&self, build: &Build<'_>) -> Option<f64> {
        Some(centre(&self.own, build))
    }

    fn sees_inserts(&self) -> bool {
        true
    }
}

/// Returns least and greatest density of a build under a skin of published density.
pub(crate) fn range(skin: &Ranged<crate::quantity::Density>, build: &Build<'_>) -> Range {
    let own = &build.material.density;
    let (low, high) = (own.low.as_g_per_cm3(), own.high.as_g_per_cm3());
    match build.core {
        None => Range { low, high },
        Some(core) => Range {
            low: density_of_clad(skin.low.as_g_per_cm3(), low, core.share),
            high: density_of_clad(skin.high.as_g_per_cm3(), high, core.share),
        },
    }
}

/// Returns the density of a build from the published values.
pub(crate) fn centre(skin: &Ranged<crate::quantity::Density>, build: &Build<'_>) -> f64 {
    let material = build.material.density.value.as_g_per_cm3();
    build.core.map_or(material, |core| density_of_clad(skin.value.as_g_per_cm3(), material, core.share))
}

/// Plans a weighing in a beaker on the scale that weighed the piece.
pub(crate) fn plan(trial: &Trial<'_>) -> Result<Plan, String> {
    let mass = trial.piece_mass().ok_or("the mass is not known")?;
    let predicts = Density::of(trial.alloy);
    let density = predicts.own.value.as_g_per_cm3();
    let setup = Setup::water_at_room_temperature(planned_digit(trial));
    let budget = predicted_budget(immersion::Method::BeakerOnPan, density, mass, &setup)
        .map_err(|_| "a piece of this mass cannot be weighed in water")?;
    let declared = range(&predicts.own, &trial.declared());
    Ok(Plan { predicts: Box::new(predicts), u: budget.combined(), declared, good: density })
}

/// Returns the digit step of the scale that would be used, in grams.
fn planned_digit(trial: &Trial<'_>) -> f64 {
    trial.evidence.mass.as_ref().map_or(PLANNED_DIGIT_G, |mass| mass.step.as_grams())
}

/// Judges a weighing that was made.
pub(crate) fn examine(trial: &Trial<'_>, test: &ImmersionTest) -> Examined {
    let water = test.water.value.as_celsius();
    let (word, reading) = match &test.under_water {
        UnderWater::Suspended(reading) => ("hung from the balance", reading),
        UnderWater::Beaker(gain) => ("held into a beaker on the pan", gain),
    };
    let how = format!(
        "{} in air, {} {word}, water at {}",
        test.in_air.value.show(3),
        reading.value.show(3),
        test.water.value.show(1)
    );
    let unusable = |reason: String| Examined::unusable(Method::Immersion, how.clone(), reason);
    if !(0.0..=40.0).contains(&water) {
        return unusable(format!("water of {water:.1} °C is not from 0 to 40 °C"));
    }
    match density(trial, test) {
        Ok(density) => Judged {
            method: Method::Immersion,
            how,
            predicts: Box::new(Density::of(trial.alloy)),
            value: density,
            figure: Figure::density,
            sources: &[
                (IN_AIR, "digit step d/√6, tared, or as stated"),
                (WET, "digit step d/√6, tared, or as stated; thread, surface and drops 2 mg"),
                (WATER, "thermometer and digit step × slope of the water's density (Tanaka 2001)"),
                (WATER_ITSELF, "salts and dissolved air, assumed"),
                (AIR, "pressure and humidity not recorded, assumed"),
            ],
        }
        .examined(trial),
        Err(error) => unusable(error.to_string()),
    }
}

const IN_AIR: &str = "reading in air";
const WET: &str = "reading under water";
const WATER: &str = "water temperature";
const WATER_ITSELF: &str = "water itself";
const AIR: &str = "density of the air";

/// Returns the density in g/cm³ with what each reading contributes.
fn density(trial: &Trial<'_>, test: &ImmersionTest) -> Result<Uncertain, ImmersionError> {
    let temperature = temperature(trial, &test.water)?;
    let water = &water_density_g_cm3(&temperature) + &Uncertain::new(0.0, WATER_U_G_CM3, WATER_ITSELF)?;
    let air = moist_air_density_approximate_kg_m3(test.water.value.as_celsius(), 1013.25, 50.0) / 1000.0;
    let air = Uncertain::new(air, AIR_U_G_CM3, AIR)?;
    let dry = weighed(&test.in_air, 0.0, IN_AIR)?;
    let suspension = Setup::water_at_room_temperature(0.0).suspension_u_g;
    match &test.under_water {
        UnderWater::Suspended(reading) => suspended(&dry, &weighed(reading, suspension, WET)?, &water, &air),
        UnderWater::Beaker(gain) => beaker_on_pan(&dry, &weighed(gain, suspension, WET)?, &water, &air),
    }
}

/// Returns a tared reading in grams; a stated uncertainty stands for all of it, but never below the digit.
fn weighed(observation: &Observation<Mass>, more: f64, name: &str) -> Result<Uncertain, UncertainError> {
    let digit = tared_resolution(observation.step.as_grams());
    let u = match observation.stated {
        Some(stated) => stated.as_grams().max(digit),
        None => digit.hypot(more),
    };
    Uncertain::new(observation.value.as_grams(), u, name)
}

/// Returns the temperature of the water in °C.
fn temperature(trial: &Trial<'_>, water: &Observation<Temperature>) -> Result<Uncertain, UncertainError> {
    // A digit step of a temperature is a difference: its base integer counts microkelvin.
    let digit = resolution(water.step.base() as f64 * 1e-6);
    let stated = water.stated.map(|stated| stated.base() as f64 * 1e-6);
    let own = trial.instruments.thermometer.standard_uncertainty.as_kelvin();
    Uncertain::new(water.value.as_celsius(), stated.unwrap_or(own).hypot(digit), WATER)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::density::core_share_of_disc;
    use crate::reference::Catalogue;
    use crate::scoring::second::CoreShape;

    #[test]
    fn under_thicker_skins_no_core_is_told_that_was_not_told_under_thinner_ones() {
        // A disc of 30 mm by 3 mm, every material under gold and silver, from the best to the worst weighing.
        let catalogue = Catalogue::embedded();
        for (alloy, u) in [("Au9999", 0.005), ("Au9999", 0.3), ("Ag", 0.005), ("Ag", 0.3)] {
            let alloy = catalogue.material(alloy).unwrap();
            let own = alloy.density.clone();
            let declared = Range { low: own.low.as_g_per_cm3(), high: own.high.as_g_per_cm3() };
            let good = own.value.as_g_per_cm3();
            let plan = Plan { predicts: Box::new(Density { own }), u, declared, good };
            let mut fell = 0;
            for (index, material) in catalogue.materials().enumerate() {
                let told = |step: u32| {
                    let skin = 0.015 * f64::from(step);
                    let core = CoreShape {
                        skin,
                        share: core_share_of_disc(30.0, 3.0, skin),
                        linear: 1.0 - skin / 1.5,
                    };
                    plan.tells_apart(&Build { material, index, core: Some(core) })
                };
                let told: Vec<bool> = (0..100).map(told).collect();
                assert!(told.is_sorted_by(|before, after| before >= after), "{}", material.id);
                fell += usize::from(told[0] && !told[99]);
            }
            assert!(fell > 10, "{fell}");
        }
    }
}
