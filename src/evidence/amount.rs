//! An amount of whatever a reading measures, where the kind is only known at run time.

use super::Measurand;
use crate::quantity::{Conductivity, Length, Mass, Quantity, Temperature, Unit};
use serde::{Deserialize, Serialize};

/// A value of a measurand as its exact base integer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Amount {
    /// What is measured.
    pub measurand: Measurand,
    /// Base integer of the measurand's quantity: ng, nm, S/m or microdegrees.
    pub base: i64,
}

impl Amount {
    /// Makes an amount from a finite number in the measurand's first unit (g, mm, MS/m, °C).
    pub fn of(measurand: Measurand, value: f64) -> Self {
        let base = match measurand {
            Measurand::Mass => Mass::from_grams(value).base(),
            Measurand::Conductivity => Conductivity::from_ms_per_m(value).base(),
            Measurand::Temperature => Temperature::from_celsius(value).base(),
            _ => Length::from_millimetres(value).base(),
        };
        Amount { measurand, base }
    }

    /// Returns the value in the measurand's first unit, for formulas and JSON.
    pub fn value(self) -> f64 {
        match self.measurand {
            Measurand::Mass => Mass::from_base(self.base).as_grams(),
            Measurand::Conductivity => Conductivity::from_base(self.base).as_ms_per_m(),
            Measurand::Temperature => Temperature::from_base(self.base).as_celsius(),
            _ => Length::from_base(self.base).as_millimetres(),
        }
    }

    /// Returns the unit that [`Amount::value`] is in.
    pub fn unit(self) -> &'static Unit {
        &self.measurand.units()[0]
    }

    /// Prints the value in its first unit with a fixed number of decimals and without the symbol.
    pub fn digits(self, decimals: u32) -> String {
        self.digits_in(self.unit(), decimals)
    }

    /// Prints the value in a unit of its measurand with a fixed number of decimals and without the symbol.
    pub fn digits_in(self, unit: &Unit, decimals: u32) -> String {
        match self.measurand {
            Measurand::Mass => Mass::from_base(self.base).digits_in(unit, decimals),
            Measurand::Conductivity => Conductivity::from_base(self.base).digits_in(unit, decimals),
            Measurand::Temperature => Temperature::from_base(self.base).digits_in(unit, decimals),
            _ => Length::from_base(self.base).digits_in(unit, decimals),
        }
    }

    /// Prints the value in its first unit with a fixed number of decimals.
    pub fn show(self, decimals: u32) -> String {
        format!("{} {}", self.digits(decimals), self.unit().symbol)
    }
}
