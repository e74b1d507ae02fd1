//! The exchangeable head of a conductivity meter.

use crate::quantity::entry::{EntryError, parse};
use crate::quantity::{Frequency, Length};
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// The winding of a probe.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Coil {
    /// Inner radius.
    pub inner: Length,
    /// Outer radius, above the inner.
    pub outer: Length,
    /// Axial length, above zero; `None` where nobody states it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length: Option<Length>,
}

/// A coil that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum CoilError {
    /// One of its measures breaks the grammar.
    #[error("coil: {0}")]
    Measure(#[from] EntryError),
    /// There are not two radii, with or without a length.
    #[error(
        "coil `{found}` is not two radii such as `2mm,4mm` (inner, outer), nor radii and length such as `2mm,4mm,1.5mm`"
    )]
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
    /// The length is not above zero.
    #[error("coil `{found}`: the length must be above zero")]
    NoLength {
        /// What was typed.
        found: String,
    },
}

impl Coil {
    /// Reads `2mm,4mm` or `2mm,4mm,1.5mm`: inner radius, outer radius, axial length. Decimals are typed with a point here.
    ///
    /// # Errors
    /// `NotTwoRadii`, `NotInOrder`, `NoLength`, or the grammar error of a measure.
    pub fn parse(text: &str) -> Result<Self, CoilError> {
        let parts: Vec<&str> = text.split([',', ';']).collect();
        let (inner, outer, length) = match parts[..] {
            [inner, outer] => (inner, outer, None),
            [inner, outer, length] => (inner, outer, Some(length)),
            _ => return Err(CoilError::NotTwoRadii { found: text.to_owned() }),
        };
        let measure = |text: &str| parse::<Length>(text).map(|entry| entry.value);
        let length = length.map(measure).transpose()?;
        let coil = Coil { inner: measure(inner)?, outer: measure(outer)?, length };
        let none = Length::from_millimetres(0.0);
        if coil.inner <= none || coil.inner >= coil.outer {
            return Err(CoilError::NotInOrder { found: text.to_owned() });
        }
        if coil.length.is_some_and(|length| length <= none) {
            return Err(CoilError::NoLength { found: text.to_owned() });
        }
        Ok(coil)
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
    /// Winding, when known.
    pub coil: Option<Coil>,
    /// Lift-off up to which the meter states that it compensates, when known.
    pub lift_off_range: Option<Length>,
    /// Distance of the coil's centre from the nearest edge from which its maker states undisturbed readings, when known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub edge_distance: Option<Length>,
    /// How the meter was standardised.
    pub standardised: Standardised,
}
