//! What one second test came to: its number, how good it is, what it excluded and what it could not tell apart.

use crate::evidence::MassShare;
use crate::metrology::rounding::decimals_of;
use crate::quantity::{Conductivity, Density, Fineness, Frequency, Quantity, Unit, Velocity};
use crate::reference::MaterialId;
use crate::scoring::assessment::{Construction, Outcome};
use crate::scoring::doubt::Method;
use serde::{Deserialize, Serialize};

/// A value of whatever a second test measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "quantity", content = "base", rename_all = "snake_case")]
pub enum Figure {
    /// A density, by immersion.
    Density(Density),
    /// A velocity of sound.
    Velocity(Velocity),
    /// A frequency of ringing.
    Frequency(Frequency),
    /// A share by mass, by X-ray fluorescence.
    MassShare(MassShare),
    /// A fineness, by assay.
    Fineness(Fineness),
    /// A conductivity at 20 °C.
    Conductivity(Conductivity),
}

impl Figure {
    /// Returns the value in its first unit (g/cm³, m/s, Hz, %, ‰, MS/m), for plots and JSON.
    pub fn value(self) -> f64 {
        match self {
            Figure::Density(density) => density.as_g_per_cm3(),
            Figure::Velocity(velocity) => velocity.as_m_per_s(),
            Figure::Frequency(frequency) => frequency.as_hertz(),
            Figure::MassShare(share) => share.as_percent(),
            Figure::Fineness(fineness) => fineness.as_per_mille(),
            Figure::Conductivity(conductivity) => conductivity.as_ms_per_m(),
        }
    }

    /// Returns the unit that [`Figure::value`] is in.
    pub fn unit(self) -> &'static Unit {
        match self {
            Figure::Density(_) => &Density::UNITS[0],
            Figure::Velocity(_) => &Velocity::UNITS[0],
            Figure::Frequency(_) => &Frequency::UNITS[0],
            Figure::MassShare(_) => &MassShare::UNITS[0],
            Figure::Fineness(_) => &Fineness::UNITS[0],
            Figure::Conductivity(_) => &Conductivity::UNITS[0],
        }
    }

    /// Returns the symbol of that unit as it is printed.
    pub fn symbol(self) -> &'static str {
        match self {
            Figure::Density(_) => "g/cm³",
            Figure::Fineness(_) => "‰",
            _ => self.unit().symbol,
        }
    }

    /// Prints the value in its first unit with a fixed number of decimals, `19.30 g/cm³`.
    pub fn show(self, decimals: u32) -> String {
        let unit = self.unit();
        let digits = match self {
            Figure::Density(density) => density.digits_in(unit, decimals),
            Figure::Velocity(velocity) => velocity.digits_in(unit, decimals),
            Figure::Frequency(frequency) => frequency.digits_in(unit, decimals),
            Figure::MassShare(share) => share.digits_in(unit, decimals),
            Figure::Fineness(fineness) => fineness.digits_in(unit, decimals),
            Figure::Conductivity(conductivity) => conductivity.digits_in(unit, decimals),
        };
        format!("{digits} {}", self.symbol())
    }

    /// Makes a density from g/cm³.
    pub(crate) fn density(value: f64) -> Self {
        Figure::Density(Density::from_g_per_cm3(value))
    }

    /// Makes a velocity from m/s.
    pub(crate) fn velocity(value: f64) -> Self {
        Figure::Velocity(Velocity::from_m_per_s(value))
    }

    /// Makes a frequency from Hz.
    pub(crate) fn frequency(value: f64) -> Self {
        Figure::Frequency(Frequency::from_hertz(value))
    }

    /// Makes a share by mass from percent.
    pub(crate) fn mass_share(value: f64) -> Self {
        Figure::MassShare(MassShare::from_percent(value))
    }

    /// Makes a fineness from parts per thousand.
    pub(crate) fn fineness(value: f64) -> Self {
        Figure::Fineness(Fineness::from_per_mille(value))
    }

    /// Makes a conductivity from MS/m.
    pub(crate) fn conductivity(value: f64) -> Self {
        Figure::Conductivity(Conductivity::from_ms_per_m(value))
    }
}

/// One line of the uncertainty of a second test.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FigureLine {
    /// Where the contribution comes from.
    pub name: String,
    /// Standard uncertainty that it contributes, in the unit of the result.
    pub u: Figure,
    /// Source of the figure.
    pub source: String,
}

/// Something that a second test excluded, in whole or under some skins.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Excluded {
    /// The material.
    pub material: MaterialId,
    /// Its name in words.
    pub name: String,
    /// How it is built.
    pub construction: Construction,
    /// Skins under which it was possible before and is not any more; empty for a solid.
    pub skins: Vec<(crate::quantity::Length, crate::quantity::Length)>,
    /// Whether nothing is left of it.
    pub whole: bool,
    /// Why, with the numbers.
    pub why: String,
}

/// Something that was possible before a second test and still is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NotToldApart {
    /// The material.
    pub material: MaterialId,
    /// Its name in words.
    pub name: String,
    /// How it is built.
    pub construction: Construction,
    /// Skins under which it stays possible as far as this test goes; empty for a solid.
    pub skins: Vec<(crate::quantity::Length, crate::quantity::Length)>,
    /// Why, with the numbers.
    pub why: String,
}

/// What one second test came to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SecondTestReport {
    /// The method.
    pub method: Method,
    /// How it was done, in words.
    pub how: String,
    /// The result, where it is a number.
    pub value: Option<Figure>,
    /// Its standard uncertainty, k = 1.
    pub u: Option<Figure>,
    /// What the declared alloy can show, from and to, the tolerance of the method included.
    pub declared: Option<(Figure, Figure)>,
    /// The uncertainty, line by line.
    pub budget: Vec<FigureLine>,
    /// Whether it agrees with the declared alloy: inside, marginal or outside; `NotUsable` when nothing follows from it,
    /// `NotCapable` when it says nothing either way.
    pub outcome: Outcome,
    /// Why, with the numbers.
    pub reason: String,
    /// What it excluded that was possible before it, most material first.
    pub excluded: Vec<Excluded>,
    /// What was possible before it and stays so.
    pub not_told_apart: Vec<NotToldApart>,
    /// What to mind with this method.
    pub cautions: Vec<String>,
}

impl SecondTestReport {
    /// Prints the result as `(19.31 ± 0.11) g/cm³, k = 2`; `None` for a test without a number.
    pub fn result(&self) -> Option<String> {
        let (value, u) = (self.value?, self.u?);
        let expanded = 2.0 * u.value();
        let decimals = decimals_of(expanded, 2) as usize;
        Some(format!(
            "({:.*} ± {:.*}) {}, k = 2",
            decimals,
            value.value(),
            decimals,
            expanded,
            value.symbol()
        ))
    }

    /// Tells whether something follows from it.
    pub fn is_usable(&self) -> bool {
        self.outcome != Outcome::NotUsable
    }
}
