//! The profile of a device: how its lines look, what they feed, and how it is reached. One TOML file each.

use super::bytes::Ending;
use super::pattern::LinePattern;
use crate::evidence::Measurand;
use crate::quantity::Unit;
use std::path::PathBuf;
use std::time::Duration;

/// Speed of a line when a profile names none, in bits per second; common practice, no source.
const USUAL_SPEED: u32 = 9600;

/// The words by which a device says how it stands.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct MarkWords {
    /// It has settled.
    pub stable: Vec<String>,
    /// It has not.
    pub unstable: Vec<String>,
    /// More than it can show.
    pub overload: Vec<String>,
    /// Less than it can show.
    pub under: Vec<String>,
}

impl MarkWords {
    /// Returns all words.
    pub(super) fn all(&self) -> Vec<&str> {
        [&self.stable, &self.unstable, &self.overload, &self.under]
            .into_iter()
            .flatten()
            .map(String::as_str)
            .collect()
    }
}

/// What a number without a mark is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WithoutMark {
    /// As good as marked stable.
    Stable,
    /// Not settled.
    Unstable,
}

/// What a number without a unit is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WithoutUnit {
    /// In the unit of the profile.
    Assumed,
    /// Not settled.
    Unstable,
}

/// When a device has said a value for good.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Settling {
    /// Somebody presses a key at the device for each value: every stable line is one.
    EveryLine,
    /// The device talks all the time. Sizes are base integers of the quantity.
    InARow {
        /// Stable lines in a row that make a value, from 2 on.
        lines: usize,
        /// Largest difference among them.
        spread: i64,
        /// The longest pause within such a row.
        longest_pause: Duration,
        /// The next value may come when the device has been this near to zero; such values themselves are never taken.
        rearm_below: Option<i64>,
        /// The next value may come when the device has settled further than this from the last one.
        rearm_change: Option<i64>,
    },
}

/// Parity of a serial line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Parity {
    /// No bit.
    None,
    /// An even number of ones.
    Even,
    /// An odd number of ones.
    Odd,
}

/// A command that asks a device for a line, and how often.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Request {
    /// The bytes.
    pub command: Vec<u8>,
    /// Time from one to the next.
    pub every: Duration,
}

/// How a serial line is set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LineSettings {
    /// Bits per second.
    pub speed: u32,
    /// Bits of a character, 7 or 8.
    pub data_bits: u8,
    /// Parity.
    pub parity: Parity,
    /// Stop bits, 1 or 2.
    pub stop_bits: u8,
    /// What ends a line.
    pub ending: Ending,
    /// The command that asks for a line, for a device that does not talk by itself.
    pub request: Option<Request>,
}

impl LineSettings {
    /// Returns the usual settings (8 data bits, no parity, 1 stop bit, any ending) at a speed.
    pub fn at(speed: u32) -> Self {
        LineSettings {
            speed,
            data_bits: 8,
            parity: Parity::None,
            stop_bits: 1,
            ending: Ending::Any,
            request: None,
        }
    }
}

impl Default for LineSettings {
    fn default() -> Self {
        LineSettings::at(USUAL_SPEED)
    }
}

/// The profile of a device.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DeviceProfile {
    /// Name, as the screens show it: that of its file.
    pub name: String,
    /// What it feeds; all of one quantity, at least one.
    pub feeds: Vec<Measurand>,
    /// How its lines look; the first that fits counts.
    pub patterns: Vec<LinePattern>,
    /// Its marks.
    pub words: MarkWords,
    /// The units it may send, the assumed one first; at least one.
    pub(super) units: Vec<&'static Unit>,
    /// What a number without a unit is.
    pub without_unit: WithoutUnit,
    /// What a number without a mark is.
    pub without_mark: WithoutMark,
    /// When a value is said for good.
    pub settling: Settling,
    /// Where it is plugged in; `None` for a device that types, or that only `scruple listen` hears.
    pub port: Option<PathBuf>,
    /// Whether it types like a keyboard.
    pub keyboard: bool,
    /// How its serial line is set.
    pub line: LineSettings,
}

impl DeviceProfile {
    /// Returns the first measurand it feeds; all have the same units.
    pub(super) fn measurand(&self) -> Measurand {
        *self.feeds.first().expect("a profile feeds at least one measurand")
    }

    /// Returns the unit of a number that comes without one.
    pub(super) fn unit(&self) -> &'static Unit {
        self.units.first().expect("a profile has at least one unit")
    }

    /// Returns the units it may send, the assumed one first.
    pub fn units(&self) -> impl Iterator<Item = &'static Unit> {
        self.units.iter().copied()
    }

    /// Returns the units it may send, with backticks.
    pub fn units_text(&self) -> String {
        ticked(self.units.iter().map(|unit| unit.symbol))
    }
}

/// Returns words with backticks, with commas between.
pub(super) fn ticked<'t>(words: impl Iterator<Item = &'t str>) -> String {
    words.map(|word| format!("`{word}`")).collect::<Vec<_>>().join(", ")
}
