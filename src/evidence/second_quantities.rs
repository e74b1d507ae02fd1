//! Quantities that only second tests have: travel times of sound, shares by mass, elements, angles.

use crate::quantity::{Quantity, Unit};
use serde::{Deserialize, Serialize};
use std::fmt;
use thiserror::Error;

/// The time that sound takes there and back, in whole picoseconds. Typed in microseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct TravelTime(i64);

impl Quantity for TravelTime {
    const NAME: &'static str = "travel time";
    const UNITS: &'static [Unit] =
        &[Unit::new("us", &["µs", "μs"], 1_000_000, 1), Unit::new("ns", &[], 1_000, 1)];
    const LEAST: i64 = 0;
    const GREATEST: i64 = 1_000_000_000;

    fn from_base(base: i64) -> Self {
        TravelTime(base)
    }

    fn base(self) -> i64 {
        self.0
    }
}

impl TravelTime {
    /// Makes a time from a finite number of microseconds, rounded to a picosecond.
    pub fn from_microseconds(value: f64) -> Self {
        TravelTime((value * 1e6).round() as i64)
    }

    /// Returns the value in microseconds as a binary floating number, for formulas only.
    pub fn as_microseconds(self) -> f64 {
        self.0 as f64 / 1e6
    }
}

/// A share of the mass, in whole parts per billion. Typed in percent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct MassShare(i64);

impl Quantity for MassShare {
    const NAME: &'static str = "share by mass";
    const UNITS: &'static [Unit] = &[
        Unit::new("%", &["percent"], 10_000_000, 1),
        Unit::new("permille", &["‰"], 1_000_000, 1),
        Unit::new("ppm", &[], 1_000, 1),
    ];
    const LEAST: i64 = 0;
    const GREATEST: i64 = 1_000_000_000;

    fn from_base(base: i64) -> Self {
        MassShare(base)
    }

    fn base(self) -> i64 {
        self.0
    }
}

impl MassShare {
    /// Makes a share from a finite number of percent, rounded to a part per billion.
    pub fn from_percent(value: f64) -> Self {
        MassShare((value * 1e7).round() as i64)
    }

    /// Returns the value in percent as a binary floating number, for formulas only.
    pub fn as_percent(self) -> f64 {
        self.0 as f64 / 1e7
    }
}

/// A chemical element by its symbol, `Au`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Element(String);

/// A text that is not the symbol of an element.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("element `{found}` is not a symbol such as `Au`: a capital letter, then at most one small one")]
pub struct ElementError {
    /// What was found.
    pub found: String,
}

impl Element {
    /// Reads a symbol; the first letter may be typed small.
    ///
    /// # Errors
    /// The text is not one or two Latin letters.
    pub fn parse(text: &str) -> Result<Self, ElementError> {
        let typed = text.trim();
        let letters = typed.bytes().all(|byte| byte.is_ascii_alphabetic());
        let rest_is_small = typed.bytes().skip(1).all(|byte| byte.is_ascii_lowercase());
        if !(letters && rest_is_small && (1..=2).contains(&typed.len())) {
            return Err(ElementError { found: text.to_owned() });
        }
        let (first, rest) = typed.split_at(1);
        Ok(Element(format!("{}{rest}", first.to_ascii_uppercase())))
    }

    /// Returns the symbol.
    pub fn symbol(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Element {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl TryFrom<String> for Element {
    type Error = ElementError;

    fn try_from(text: String) -> Result<Self, ElementError> {
        Element::parse(&text)
    }
}

impl From<Element> for String {
    fn from(element: Element) -> String {
        element.0
    }
}

/// The angle between the surface and the rays that an X-ray instrument collects, in whole degrees from 1 to 90.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "u8", into = "u8")]
pub struct TakeOff(u8);

/// A number that is no take-off angle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error("take-off angle `{found}°` is not from 1° to 90°")]
pub struct TakeOffError {
    /// What was found.
    pub found: u8,
}

impl TakeOff {
    /// Makes an angle from whole degrees.
    ///
    /// # Errors
    /// The number is not from 1 to 90.
    pub fn from_degrees(degrees: u8) -> Result<Self, TakeOffError> {
        if (1..=90).contains(&degrees) { Ok(TakeOff(degrees)) } else { Err(TakeOffError { found: degrees }) }
    }

    /// Returns the angle in radians, for formulas.
    pub fn as_radians(self) -> f64 {
        f64::from(self.0).to_radians()
    }
}

impl TryFrom<u8> for TakeOff {
    type Error = TakeOffError;

    fn try_from(degrees: u8) -> Result<Self, TakeOffError> {
        TakeOff::from_degrees(degrees)
    }
}

impl From<TakeOff> for u8 {
    fn from(angle: TakeOff) -> u8 {
        angle.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::entry::parse;

    #[test]
    fn times_and_shares_are_typed_in_the_units_of_their_displays() {
        assert_eq!(parse::<TravelTime>("1.770 us").unwrap().value, TravelTime::from_microseconds(1.77));
        assert_eq!(parse::<TravelTime>("850 ns").unwrap().value, TravelTime::from_microseconds(0.85));
        assert_eq!(parse::<MassShare>("91.7").unwrap().value, MassShare::from_percent(91.7));
        assert_eq!(parse::<MassShare>("250 ppm").unwrap().value, MassShare::from_percent(0.025));
        assert!(parse::<MassShare>("101 %").is_err());
    }

    #[test]
    fn an_element_is_a_symbol_and_an_angle_is_acute() {
        assert_eq!(Element::parse("au").unwrap().symbol(), "Au");
        for wrong in ["", "Gold", "AU", "A1", "a u"] {
            assert!(Element::parse(wrong).is_err(), "{wrong}");
        }
        assert!(TakeOff::from_degrees(0).is_err() && TakeOff::from_degrees(91).is_err());
        assert!(serde_json::from_str::<Element>("\"gold\"").is_err());
        assert!(serde_json::from_str::<TakeOff>("0").is_err());
    }
}
