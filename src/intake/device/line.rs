//! What one line of a device says. Nothing is mended and nothing is guessed: a line is a value, a mark, or refused.

use super::bytes::{RawLine, escape};
use super::pattern::Matched;
use super::profile::{DeviceProfile, WithoutMark, WithoutUnit};
use crate::evidence::Measurand;
use crate::intake::typed::{self, TypedField, TypedReading};
use crate::quantity::entry::EntryError;
use thiserror::Error;

/// A value as a device sent it; its text is the digits as sent with their unit, as somebody would type them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DeviceValue(TypedReading);

impl DeviceValue {
    /// Returns the text for the field: digits as sent, trailing zeros among them, and the unit.
    pub fn text(&self) -> &str {
        &self.0.text
    }

    /// Returns the value in base integers of the quantity.
    pub(super) fn base(&self) -> i64 {
        self.0.amount.base
    }
}

/// Why a line is garbage.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum Garbage {
    /// It does not end.
    #[error("longer than any line of a device")]
    TooLong,
    /// A byte that no text has.
    #[error("byte {byte:02x} is not text")]
    NotText {
        /// The byte.
        byte: u8,
    },
    /// None of the patterns fits.
    #[error("no pattern of `{profile}` fits")]
    NoPattern {
        /// Name of the profile.
        profile: String,
    },
    /// A mark that calls for a number, and no number.
    #[error("mark `{mark}` without a number")]
    MarkAlone {
        /// The mark.
        mark: String,
    },
    /// The number is none of the quantity.
    #[error("{0}")]
    NoValue(EntryError),
}

/// What a line says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LineReading {
    /// A value that the device calls stable.
    Stable(DeviceValue),
    /// The device has not settled; the value it shows meanwhile, where it shows one.
    Unstable(Option<DeviceValue>),
    /// More than the device can show.
    Overload,
    /// Less than the device can show, or below zero.
    Under,
    /// A value in a unit that the profile does not allow.
    WrongUnit {
        /// The unit.
        found: String,
        /// The units that are allowed, with backticks.
        allowed: String,
    },
    /// Nothing that the profile knows.
    Garbage(Garbage),
}

impl DeviceProfile {
    /// Says what a line means. Bytes that are not UTF-8 are read as ISO 8859-1, in which `µ` and `°` are one byte.
    pub fn read_line(&self, line: &RawLine) -> LineReading {
        if line.too_long {
            return LineReading::Garbage(Garbage::TooLong);
        }
        // A flipped bit makes control characters of digits, so that none may be left out in silence.
        if let Some(byte) = line.bytes.iter().find(|byte| byte.is_ascii_control() && **byte != b'\t') {
            return LineReading::Garbage(Garbage::NotText { byte: *byte });
        }
        let text = match std::str::from_utf8(&line.bytes) {
            Ok(text) => text.to_owned(),
            Err(_) => line.bytes.iter().map(|byte| char::from(*byte)).collect(),
        };
        let marks = self.words.all();
        match self.patterns.iter().find_map(|pattern| pattern.matches(&text, &marks)) {
            Some(matched) => self.meaning(&matched),
            None => LineReading::Garbage(Garbage::NoPattern { profile: self.name.clone() }),
        }
    }

    fn meaning(&self, matched: &Matched<'_>) -> LineReading {
        let is = |words: &[String]| matched.mark.is_some_and(|mark| words.iter().any(|word| word == mark));
        if is(&self.words.overload) {
            return LineReading::Overload;
        }
        if is(&self.words.under) {
            return LineReading::Under;
        }
        let mut stable = match matched.mark {
            Some(_) => is(&self.words.stable),
            None => self.without_mark == WithoutMark::Stable,
        };
        let Some(number) = matched.number else {
            return match matched.mark {
                Some(mark) if stable => LineReading::Garbage(Garbage::MarkAlone { mark: mark.to_owned() }),
                _ => LineReading::Unstable(None),
            };
        };
        let unit = match matched.unit {
            Some(found) if !self.units.iter().any(|unit| unit.is_spelled(found)) => {
                return LineReading::WrongUnit {
                    found: escape(found.as_bytes()),
                    allowed: self.units_text(),
                };
            }
            Some(found) => found,
            None => {
                stable &= self.without_unit == WithoutUnit::Assumed;
                self.unit().symbol
            }
        };
        let text = format!("{}{number} {unit}", if matched.negative { "-" } else { "" });
        match typed::read(self.measurand(), &text, None) {
            Ok(TypedField::Value(reading)) if stable => LineReading::Stable(DeviceValue(reading)),
            Ok(TypedField::Value(reading)) => LineReading::Unstable(Some(DeviceValue(reading))),
            Err(EntryError::OutOfRange { .. })
                if matched.negative && self.measurand() != Measurand::Temperature =>
            {
                LineReading::Under
            }
            Err(error) => LineReading::Garbage(Garbage::NoValue(error)),
            // A text that begins with a digit is none of these.
            Ok(TypedField::Nothing | TypedField::NotMeasured | TypedField::Repeat) => {
                LineReading::Unstable(None)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const SCALE: &str = include_str!("../../../assets/desk/devices/scale.toml");
    const METER: &str = include_str!("../../../assets/desk/devices/meter.toml");
    const CALLIPER: &str = include_str!("../../../assets/desk/devices/calliper.toml");

    fn profile(text: &str) -> DeviceProfile {
        DeviceProfile::parse("scale", "scale.toml", text).unwrap()
    }

    #[track_caller]
    fn check(profile: &DeviceProfile, line: &[u8], expected: &str) {
        let line = RawLine { bytes: line.to_vec(), too_long: false };
        let said = match profile.read_line(&line) {
            LineReading::Stable(value) => format!("stable {}", value.text()),
            LineReading::Unstable(Some(value)) => format!("unstable {}", value.text()),
            LineReading::Unstable(None) => "unstable".to_owned(),
            LineReading::Overload => "overload".to_owned(),
            LineReading::Under => "under".to_owned(),
            LineReading::WrongUnit { found, allowed } => format!("{found}, allowed {allowed}"),
            LineReading::Garbage(garbage) => format!("garbage: {garbage}"),
        };
        assert_eq!(said, expected);
    }

    #[test]
    fn a_scale_says_stable_unstable_overload_and_under() {
        let scale = profile(SCALE);
        check(&scale, b"ok +   33.930 g", "stable 33.930 g");
        check(&scale, b"move +   12.4 g", "unstable 12.4 g");
        check(&scale, b"ok -   0.01 g", "under");
        check(&scale, b"high", "overload");
        check(&scale, b"low", "under");
        check(&scale, b"move", "unstable");
        check(&scale, b"ok", "garbage: mark `ok` without a number");
    }

    #[test]
    fn a_unit_that_the_profile_does_not_allow_is_named() {
        let scale = profile(SCALE);
        check(&scale, b"ok + 1.0910 ozt", "ozt, allowed `g`");
        check(&scale, b"ok + 33.93 oz", "oz, allowed `g`");
        check(&scale, b"move + 33.93 lb", "lb, allowed `g`");
        let other = SCALE.replace("unit = \"g\"", "unit = \"g\"\nother_units = [\"ozt\"]");
        check(&profile(&other), b"ok + 1.0910 ozt", "stable 1.0910 ozt");
    }

    #[test]
    fn what_is_garbled_is_never_mended() {
        let scale = profile(SCALE);
        check(&scale, b"ok + 3\x11.93 g", "garbage: byte 11 is not text");
        check(&scale, b"33.93 g", "garbage: no pattern of `scale` fits");
        check(&scale, b"ok + 33.9.3 g", "garbage: no pattern of `scale` fits");
        check(&scale, b"\xff\xfe\xb5", "garbage: no pattern of `scale` fits");
        check(
            &scale,
            b"ok + 1234567890123456789 g",
            "garbage: mass `1234567890123456789 g` has more than 18 digits",
        );
        assert_eq!(
            scale.read_line(&RawLine { bytes: Vec::new(), too_long: true }),
            LineReading::Garbage(Garbage::TooLong)
        );
    }

    #[test]
    fn one_byte_units_of_iso_8859_1_are_read() {
        // ISO 8859-1: B5 is the micro sign, B0 the degree sign.
        let micrometres = CALLIPER.replace("unit = \"mm\"", "unit = \"um\"");
        check(&profile(&micrometres), b"2870 \xb5m", "stable 2870 µm");
        check(&profile(&micrometres), "2870 µm".as_bytes(), "stable 2870 µm");
    }

    #[test]
    fn a_meter_may_send_the_unit_only_when_it_is_stable() {
        let meter = profile(METER);
        check(&meter, b"61.9 MS/m", "stable 61.9 MS/m");
        check(&meter, b"61.9", "unstable 61.9 MS/m");
        check(&meter, b"106.5 %IACS", "%IACS, allowed `MS/m`");
    }

    proptest! {
        #[test]
        fn no_bytes_make_it_panic(bytes in prop::collection::vec(any::<u8>(), 0..200), too_long: bool) {
            for text in [SCALE, METER, CALLIPER] {
                profile(text).read_line(&RawLine { bytes: bytes.clone(), too_long });
            }
        }

        #[test]
        fn one_wrong_byte_never_passes_for_another_unit_or_mark(at in 0usize..16, byte: u8) {
            let mut bytes = b"ok +   33.930 g".to_vec();
            let at = at % bytes.len();
            bytes[at] = byte;
            // What is taken for stable still is a mass in grams below a hundred, with its mark whole.
            if let LineReading::Stable(value) = profile(SCALE).read_line(&RawLine { bytes, too_long: false }) {
                prop_assert!(value.text().ends_with(" g"));
                prop_assert!(value.base() < 1_000_000_000_000);
            }
        }
    }
}
