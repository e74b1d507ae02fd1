//! The quantities that are compared within a lot.

use crate::evidence::{Amount, Measurand};
use serde::{Deserialize, Serialize};

/// A quantity of which every piece of a lot has a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LotQuantity {
    /// Mass in air.
    Mass,
    /// Diameter of round pieces.
    Diameter,
    /// Longer side.
    Length,
    /// Shorter side.
    Width,
    /// Thickness over the highest points.
    Thickness,
    /// Conductivity at 20 °C.
    Conductivity,
    /// Share of its envelope that a piece fills.
    Fill,
}

impl LotQuantity {
    /// All quantities in the order in which a desk takes them.
    pub const ALL: [LotQuantity; 7] = [
        LotQuantity::Mass,
        LotQuantity::Diameter,
        LotQuantity::Length,
        LotQuantity::Width,
        LotQuantity::Thickness,
        LotQuantity::Conductivity,
        LotQuantity::Fill,
    ];

    /// Returns the word used on screens and in JSON.
    pub fn word(self) -> &'static str {
        self.measurand().map_or("fill", Measurand::name)
    }

    /// Returns the quantity with the given word.
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|quantity| quantity.word() == word)
    }

    /// Returns the kind of reading behind it; `None` for what follows from several.
    pub fn measurand(self) -> Option<Measurand> {
        match self {
            LotQuantity::Mass => Some(Measurand::Mass),
            LotQuantity::Diameter => Some(Measurand::Diameter),
            LotQuantity::Length => Some(Measurand::Length),
            LotQuantity::Width => Some(Measurand::Width),
            LotQuantity::Thickness => Some(Measurand::Thickness),
            LotQuantity::Conductivity => Some(Measurand::Conductivity),
            LotQuantity::Fill => None,
        }
    }

    /// Makes a value of this quantity from a number in its first unit.
    pub fn value(self, number: f64) -> LotValue {
        match self.measurand() {
            Some(measurand) => LotValue::Reading(Amount::of(measurand, number)),
            None => LotValue::Share(number),
        }
    }
}

/// A value of a quantity of a lot.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LotValue {
    /// A reading.
    Reading(Amount),
    /// A share without unit.
    Share(f64),
}

impl LotValue {
    /// Returns the number in the quantity's first unit, for plots and JSON.
    pub fn value(self) -> f64 {
        match self {
            LotValue::Reading(amount) => amount.value(),
            LotValue::Share(share) => share,
        }
    }

    /// Prints the value with a fixed number of decimals and its unit.
    pub fn show(self, decimals: u32) -> String {
        match self {
            LotValue::Reading(amount) => amount.show(decimals),
            LotValue::Share(share) => format!("{share:.*}", decimals as usize),
        }
    }
}
