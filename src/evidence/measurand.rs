//! The kinds of readings a piece can have.

use crate::quantity::{Conductivity, Length, Mass, Quantity, Temperature, Unit};
use serde::{Deserialize, Serialize};
use std::fmt;

/// What a reading measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Measurand {
    /// Mass in air as the scale shows it.
    Mass,
    /// Diameter of a round piece.
    Diameter,
    /// Thickness over the highest points (the rim of a coin).
    Thickness,
    /// Longer side of a rectangular piece.
    Length,
    /// Shorter side of a rectangular piece.
    Width,
    /// Conductivity as the meter shows it.
    Conductivity,
    /// Temperature of the piece.
    Temperature,
}

impl Measurand {
    /// All kinds in the order in which a desk takes them.
    pub const ALL: [Measurand; 7] = [
        Measurand::Mass,
        Measurand::Diameter,
        Measurand::Length,
        Measurand::Width,
        Measurand::Thickness,
        Measurand::Conductivity,
        Measurand::Temperature,
    ];

    /// Returns the word used in the book, in column headers and on screens.
    pub fn name(self) -> &'static str {
        match self {
            Measurand::Mass => "mass",
            Measurand::Diameter => "diameter",
            Measurand::Thickness => "thickness",
            Measurand::Length => "length",
            Measurand::Width => "width",
            Measurand::Conductivity => "conductivity",
            Measurand::Temperature => "temperature",
        }
    }

    /// Returns the kind with the given word.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name() == name)
    }

    /// Returns the units that may be typed for it; the first is assumed when none is typed.
    pub fn units(self) -> &'static [Unit] {
        match self {
            Measurand::Mass => Mass::UNITS,
            Measurand::Conductivity => Conductivity::UNITS,
            Measurand::Temperature => Temperature::UNITS,
            Measurand::Diameter | Measurand::Thickness | Measurand::Length | Measurand::Width => {
                Length::UNITS
            }
        }
    }
}

impl fmt::Display for Measurand {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}
