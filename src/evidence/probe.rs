//! The exchangeable head of a conductivity meter.

use crate::quantity::entry::{EntryError, parse};
use crate::quantity::{Frequency, Length};
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// The radii of a probe's flat coil.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Coil {
    /// Inner radius.
    pub inner: Length,
    /// Outer radius, above the inner.
    pub outer: Length,
}

/// A pair of coil radii that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum CoilError {
    /// One of the two radii breaks the grammar.
    #[error("coil radius: {0}")]
    Radius(#[from] EntryError),
    /// There are not two radii.
    #[error("coil `{found}` is not two radii such as `2mm,4mm` (inner, outer)")]
    NotTwoRadii {
        /// What was typed.
        found: String,
    },
    /// The radii are not in order.
    #[error("coil `{found}`: the inner radius must be above zero and below the outer radius")]
    NotInOrder {
        /// What was typed.
        found: String,
    },
}

impl Coil {
    /// Reads `2mm,4mm`: inner radius, comma, outer radius. Decimals are typed with a point here.
    ///
    /// # Errors
    /// `NotTwoRadii`, `NotInOrder`, or the grammar error of a radius.
    pub fn parse(text: &str) -> Result<Self, CoilError> {
        let (inner, outer) = text
            .split_once([',', ';'])
            .filter(|(_, outer)| !outer.contains([',', ';']))
            .ok_or_else(|| CoilError::NotTwoRadii { found: text.to_owned() })?;
        let coil = Coil { inner: parse::<Length>(inner)?.value, outer: parse::<Length>(outer)?.value };
        let in_order = coil.inner > Length::from_millimetres(0.0) && coil.inner < coil.outer;
        if in_order { Ok(coil) } else { Err(CoilError::NotInOrder { found: text.to_owned() }) }
    }

    /// Returns the mean radius.
    pub fn mean_radius(self) -> Length {
        Length::from_millimetres((self.inner.as_millimetres() + self.outer.as_millimetres()) / 2.0)
    }
}

/// To which temperature the meter's reading refers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Standardised {
    /// The meter was set on a block of copper at the temperature of the piece, with the block's value at 20 °C.
    AtTemperature,
    /// The meter corrects its reading to 20 °C itself.
    #[serde(rename = "to-20C")]
    To20C,
    /// Nobody knows: the reading is kept and its uncertainty widened.
    #[default]
    Unknown,
}

impl Standardised {
    /// Returns the word typed for it.
    pub fn name(self) -> &'static str {
        match self {
            Standardised::AtTemperature => "at-temperature",
            Standardised::To20C => "to-20C",
            Standardised::Unknown => "unknown",
        }
    }

    /// Returns the way with the given word.
    pub fn named(name: &str) -> Option<Self> {
        [Standardised::AtTemperature, Standardised::To20C, Standardised::Unknown]
            .into_iter()
            .find(|way| way.name().eq_ignore_ascii_case(name))
    }
}

/// A probe: what decides how deep and how wide a conductivity reading looks.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Probe {
    /// Name on the desk.
    pub name: String,
    /// Test frequency; `None` when nobody knows it, and then no depth can be stated.
    pub frequency: Option<Frequency>,
    /// Coil radii, when known.
    pub coil: Option<Coil>,
    /// Lift-off up to which the meter states that it compensates, when known.
    pub lift_off_range: Option<Length>,
    /// How the meter was standardised.
    pub standardised: Standardised,
}
