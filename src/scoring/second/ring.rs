//! Ring test: the frequency of the lowest bending mode of the free piece.

use super::examine::{Examined, Judged};
use super::prediction::{Build, Plan, Predicts, Range};
use super::report::Figure;
use crate::evidence::{RingTest, RingingBody};
use crate::metrology::evaluation::resolution;
use crate::metrology::{Uncertain, UncertainError};
use crate::physics::density::{density_of_clad, flat_equivalent_thickness_mm};
use crate::physics::ring::{Mode, plate_lambda_squared};
use crate::quantity::{Density, Modulus, Quantity};
use crate::reference::{Kind, Ranged, Shape};
use crate::scoring::doubt::Method;
use crate::scoring::geometry::{Face, Measured};
use crate::scoring::trial::Trial;
use std::f64::consts::PI;
use std::sync::LazyLock;

/// Error of a calculated frequency of a coin, as a share: relief, rim, reeding and cold work are not in the model.
const ABSOLUTE: f64 = 0.07;
/// The same against an exemplar of the same product.
const AGAINST_EXEMPLAR: f64 = 0.02;

/// λ² of the lowest mode of a free plate, tabulated; the frequency is needed thousands of times for one piece.
///
/// Linear between nodes: within 0.1 % of [`plate_lambda_squared`] (a test below).
struct LambdaSquared {
    values: Vec<f64>,
}

const POISSON_FROM: f64 = 0.20;
const POISSON_STEP: f64 = 0.04;
const POISSON_NODES: usize = 8;
const THICKNESS_STEP: f64 = 0.05;
const THICKNESS_NODES: usize = 11;

static LAMBDA_SQUARED: LazyLock<LambdaSquared> = LazyLock::new(|| LambdaSquared {
    values: (0..POISSON_NODES * THICKNESS_NODES)
        .map(|node| {
            let poisson = POISSON_FROM + POISSON_STEP * (node / THICKNESS_NODES) as f64;
            let thickness = THICKNESS_STEP * (node % THICKNESS_NODES) as f64;
            plate_lambda_squared(Mode::LOWEST, poisson, thickness)
                .expect("the nodes lie where the plate theory has a lowest mode")
        })
        .collect(),
});

impl LambdaSquared {
    /// Returns λ² for Poisson's ratio and thickness over radius; `None` for plates thicker than the theory serves.
    fn at(&self, poisson: f64, thickness_over_radius: f64) -> Option<f64> {
        let last = (THICKNESS_NODES - 1) as f64;
        let place = thickness_over_radius / THICKNESS_STEP;
        if !(0.0..=last).contains(&place) {
            return None;
        }
        let row = ((poisson - POISSON_FROM) / POISSON_STEP).clamp(0.0, (POISSON_NODES - 1) as f64);
        let (i, j) = ((row as usize).min(POISSON_NODES - 2), (place as usize).min(THICKNESS_NODES - 2));
        let (x, y) = (row - i as f64, place - j as f64);
        let node = |i: usize, j: usize| self.values[i * THICKNESS_NODES + j];
        let along = |i: usize| node(i, j) * (1.0 - y) + node(i, j + 1) * y;
        Some(along(i) * (1.0 - x) + along(i + 1) * x)
    }
}

/// Frequency of the lowest ring of any build of one round piece, in Hz.
struct Ringing {
    young: Ranged<Modulus>,
    poisson: f64,
    density: Ranged<Density>,
    /// Diameter in mm.
    diameter: f64,
    /// Mass in g of a struck coin, whose bending thickness is that of flat metal of this mass.
    struck: Option<f64>,
    /// Thickness over all in mm.
    thickness: f64,
    /// An exemplar of the same product, to compare with instead of the calculation alone.
    exemplar: Option<Exemplar>,
}

/// An exemplar of the same product.
#[derive(Clone, Copy)]
struct Exemplar {
    /// What it rings at, in Hz.
    hertz: f64,
    /// What would be calculated for it, at the low end, the published value and the high end.
    calculated: [f64; 3],
}

/// Which end of the published ranges a frequency is computed for.
#[derive(Clone, Copy)]
enum End {
    Low,
    Centre,
    High,
}

impl End {
    const ALL: [End; 3] = [End::Low, End::Centre, End::High];

    /// Returns the end of a range.
    fn of<T: Copy>(self, range: &Ranged<T>) -> T {
        match self {
            End::Low => range.low,
            End::Centre => range.value,
            End::High => range.high,
        }
    }

    /// Returns the other end: what is denser rings lower.
    fn opposite(self) -> Self {
        match self {
            End::Low => End::High,
            End::Centre => End::Centre,
            End::High => End::Low,
        }
    }
}

impl Ringing {
    /// Returns the ringing of a piece; the reason when it does not ring as a free disc.
    fn of(trial: &Trial<'_>, body: RingingBody) -> Result<Self, String> {
        if trial.product.shape != Shape::Round {
            return Err("the ring test needs a round, free piece".to_owned());
        }
        if trial.evidence.presentation.sleeve.is_some() {
            return Err("a piece in a sleeve does not ring".to_owned());
        }
        let thickness = trial.geometry.whole_thickness().ok_or("the thickness is not known")?;
        let Some(Face::Disc { diameter }) = trial.geometry.face else {
            return Err("the diameter is not known".to_owned());
        };
        let alloy = trial.alloy;
        let ringing = Ringing {
            young: alloy.youngs_modulus.clone(),
            poisson: alloy.poisson_ratio.value,
            density: alloy.density.clone(),
            diameter,
            struck: trial.piece_mass().filter(|_| body == RingingBody::Struck),
            thickness,
            exemplar: None,
        };
        match ringing.calculated(&trial.declared()) {
            Some(_) => Ok(ringing),
            None => Err("too thick for its diameter: it does not ring as a disc".to_owned()),
        }
    }

    /// Returns the frequency of a build with skin and core at one end of their published ranges each; a solid is core.
    ///
    /// f = λ²/(2π a²)·h·√(P/12ρ) with the plate modulus P = E/(1 − ν²); layers share P as their bending inertia, volumes
    /// share the density.
    fn frequency(&self, build: &Build<'_>, skin: End, core: End) -> Option<f64> {
        let material = build.material;
        let plate = |young: f64, poisson: f64| young / (1.0 - poisson * poisson);
        let inner = plate(core.of(&material.youngs_modulus).as_gigapascals(), material.poisson_ratio.value);
        let heart = core.opposite().of(&material.density).as_g_per_cm3();
        let (stiffness, poisson, density) = match build.core {
            None => (inner, material.poisson_ratio.value, heart),
            Some(shape) => {
                let inner = inner * shape.linear.powi(3);
                let outer =
                    plate(skin.of(&self.young).as_gigapascals(), self.poisson) * (1.0 - shape.linear.powi(3));
                let mixed = (inner * material.poisson_ratio.value + outer * self.poisson) / (inner + outer);
                let around = skin.opposite().of(&self.density).as_g_per_cm3();
                (inner + outer, mixed, density_of_clad(around, heart, shape.share))
            }
        };
        let thickness = self.struck.map_or(self.thickness, |mass| {
            flat_equivalent_thickness_mm(mass, self.diameter, density).min(self.thickness)
        });
        let radius = 0.5e-3 * self.diameter;
        let lambda_squared = LAMBDA_SQUARED.at(poisson, 2.0 * thickness / self.diameter)?;
        // GPa over g/cm³ is 1e6 m²/s².
        let speed = (1e6 * stiffness / (12.0 * density)).sqrt();
        Some(lambda_squared / (2.0 * PI * radius * radius) * 1e-3 * thickness * speed)
    }

    /// Returns what would be calculated for a build, published ranges included.
    fn calculated(&self, build: &Build<'_>) -> Option<Range> {
        let end = |end: End| self.frequency(build, end, end);
        Some(Range::between(end(End::Low)?, end(End::High)?))
    }

    /// Compares with an exemplar instead of with a calculated frequency alone.
    fn with_exemplar(self, hertz: f64, declared: &Build<'_>) -> Self {
        let [low, centre, high] = End::ALL.map(|end| self.frequency(declared, end, end));
        let exemplar = match (low, centre, high) {
            (Some(low), Some(centre), Some(high)) => {
                Some(Exemplar { hertz, calculated: [low, centre, high] })
            }
            _ => None,
        };
        Ringing { exemplar, ..self }
    }

    /// Returns what a build would ring at beside an exemplar: its skin is the exemplar's own alloy, at the same place of the
    /// published range.
    fn beside(&self, exemplar: Exemplar, build: &Build<'_>) -> Option<Range> {
        let mut range = Range { low: f64::INFINITY, high: 0.0 };
        for (skin, calculated) in End::ALL.into_iter().zip(exemplar.calculated) {
            for core in End::ALL {
                let hertz = exemplar.hertz * self.frequency(build, skin, core)? / calculated;
                range = Range { low: range.low.min(hertz), high: range.high.max(hertz) };
            }
        }
        Some(range)
    }

    /// Returns the relative standard uncertainty that the readings of size and mass leave in a calculated frequency.
    fn share_of_size(&self, trial: &Trial<'_>) -> Vec<(&'static str, f64)> {
        let share = |measured: Option<Measured>| measured.map_or(0.0, |m| m.u / m.value);
        let diameter = trial.geometry.diameter_share;
        match self.struck {
            // h = 4m/(π d² ρ), so f goes as m/d⁴; a flat disc's as h/d².
            Some(_) => vec![(DIAMETER, 4.0 * diameter), (MASS, share(trial.geometry.mass))],
            None => vec![(DIAMETER, 2.0 * diameter), (THICKNESS, share(trial.geometry.thickness))],
        }
    }
}

impl Predicts for Ringing {
    fn range(&self, build: &Build<'_>) -> Option<Range> {
        match self.exemplar {
            None => self.calculated(build),
            Some(exemplar) => self.beside(exemplar, build),
        }
    }

    fn declared(&self, declared: &Build<'_>) -> Option<Range> {
        match self.exemplar {
            Some(exemplar) => Some(Range { low: exemplar.hertz, high: exemplar.hertz }),
            None => self.range(declared),
        }
    }

    fn centre(&self, build: &Build<'_>) -> Option<f64> {
        let calculated = self.frequency(build, End::Centre, End::Centre)?;
        Some(self.exemplar.map_or(calculated, |e| e.hertz * calculated / e.calculated[1]))
    }

    fn tolerance(&self, _build: &Build<'_>) -> f64 {
        if self.exemplar.is_some() { AGAINST_EXEMPLAR } else { ABSOLUTE }
    }
}

const DIAMETER: &str = "diameter";
const MASS: &str = "mass";
const THICKNESS: &str = "thickness";
const FREQUENCY: &str = "frequency";
const EXEMPLAR: &str = "frequency of the exemplar";

/// Plans a ring against the calculated frequency: a coin as struck, a bar as flat.
pub(crate) fn plan(trial: &Trial<'_>) -> Result<Plan, String> {
    let body = if trial.product.kind == Kind::Coin { RingingBody::Struck } else { RingingBody::Flat };
    let ringing = Ringing::of(trial, body)?;
    let declared = ringing.calculated(&trial.declared()).ok_or("it does not ring as a disc")?;
    let share = ringing.share_of_size(trial).iter().fold(0.0, |sum: f64, (_, share)| sum.hypot(*share));
    let good = ringing.centre(&trial.declared()).unwrap_or(f64::midpoint(declared.low, declared.high));
    Ok(Plan { u: share * declared.high, predicts: Box::new(ringing), declared, good })
}

/// Judges a ring that was made.
pub(crate) fn examine(trial: &Trial<'_>, test: &RingTest) -> Examined {
    let body = match test.body {
        RingingBody::Struck => "a struck coin",
        RingingBody::Flat => "a flat disc",
    };
    let exemplar = test
        .exemplar
        .as_ref()
        .map_or(String::new(), |exemplar| format!(", an exemplar at {}", exemplar.value.show(0)));
    let how = format!("lowest ring of {body} at {}{exemplar}", test.frequency.value.show(0));
    let unusable = |reason: String| Examined::unusable(Method::Ring, how.clone(), reason);
    let ringing = match Ringing::of(trial, test.body) {
        Ok(ringing) => ringing,
        Err(reason) => return unusable(reason),
    };
    let ringing = match &test.exemplar {
        Some(exemplar) => ringing.with_exemplar(exemplar.value.as_hertz(), &trial.declared()),
        None => ringing,
    };
    match frequency(trial, test, &ringing) {
        Ok(value) => Judged {
            method: Method::Ring,
            how,
            predicts: Box::new(ringing),
            value,
            figure: Figure::frequency,
            sources: &[
                (FREQUENCY, "digit step / √12 (JCGM 100:2008, F.2.2.1), or as stated"),
                (EXEMPLAR, "digit step / √12 (JCGM 100:2008, F.2.2.1), or as stated"),
                (
                    DIAMETER,
                    "calliper; the frequency goes as 1/d² of a flat disc, 1/d⁴ of a coin of known mass",
                ),
                (MASS, "scale; the frequency of a coin goes as its mass"),
                (THICKNESS, "calliper; the frequency of a flat disc goes as its thickness"),
            ],
        }
        .examined(trial),
        Err(error) => unusable(error.to_string()),
    }
}

/// Returns the frequency in Hz, with what size and mass leave open of the prediction counted to its uncertainty.
fn frequency(trial: &Trial<'_>, test: &RingTest, ringing: &Ringing) -> Result<Uncertain, UncertainError> {
    let own = |observation: &crate::evidence::Observation<crate::quantity::Frequency>| {
        let step = resolution(observation.step.as_hertz());
        observation.stated.map_or(step, |u| u.as_hertz().max(step))
    };
    let hertz = test.frequency.value.as_hertz();
    let mut value = Uncertain::new(hertz, own(&test.frequency), FREQUENCY)?;
    let shares = match &test.exemplar {
        Some(exemplar) => vec![(EXEMPLAR, own(exemplar) / exemplar.value.as_hertz())],
        None => ringing.share_of_size(trial),
    };
    for (name, share) in shares.into_iter().filter(|(_, share)| *share > 0.0) {
        value = &value + &Uncertain::new(0.0, share * hertz, name)?;
    }
    Ok(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_of_lambda_squared_is_within_a_thousandth_of_the_plate_theory() {
        for poisson in [0.21, 0.29, 0.37, 0.42, 0.45] {
            for thickness in [0.01, 0.08, 0.13, 0.22, 0.37, 0.48] {
                let exact = plate_lambda_squared(Mode::LOWEST, poisson, thickness).unwrap();
                let table = LAMBDA_SQUARED.at(poisson, thickness).unwrap();
                assert!((table / exact - 1.0).abs() < 1e-3, "{poisson} {thickness}: {table} {exact}");
            }
        }
        assert_eq!(LAMBDA_SQUARED.at(0.3, 0.6), None);
    }
}
