//! One device from its bytes to its values: cut, read, settle, and say what changed.

use super::bytes::{LineCutter, RawLine, escape};
use super::line::{DeviceValue, Garbage, LineReading};
use super::profile::{DeviceProfile, Settling};
use super::settle::StableFilter;
use std::fmt;
use std::sync::Arc;
use std::time::Duration;

/// A value with the line it came in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Captured {
    /// The value.
    pub value: DeviceValue,
    /// The line as sent, without its ending, every byte readable.
    pub line: String,
}

/// How a device stands, apart from its values.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum DeviceNote {
    /// Nothing to say.
    #[default]
    Nothing,
    /// It has not settled.
    Unstable,
    /// More than it can show.
    Overload,
    /// Less than it can show.
    Under,
    /// A value in a unit that its profile does not allow.
    WrongUnit {
        /// The unit.
        found: String,
        /// The units allowed, with backticks.
        allowed: String,
    },
    /// A line that its profile does not know.
    Garbage {
        /// The line, every byte readable.
        line: String,
        /// What is wrong with it.
        why: Garbage,
    },
}

impl DeviceNote {
    /// Returns what a line says, apart from its value.
    pub fn of(said: &LineReading, line: &RawLine) -> Self {
        match said {
            LineReading::Stable(_) => DeviceNote::Nothing,
            LineReading::Unstable(_) => DeviceNote::Unstable,
            LineReading::Overload => DeviceNote::Overload,
            LineReading::Under => DeviceNote::Under,
            LineReading::WrongUnit { found, allowed } => {
                DeviceNote::WrongUnit { found: found.clone(), allowed: allowed.clone() }
            }
            LineReading::Garbage(why) => DeviceNote::Garbage { line: escape(&line.bytes), why: why.clone() },
        }
    }

    /// Tells whether somebody has to do something about it.
    pub fn is_refusal(&self) -> bool {
        matches!(self, DeviceNote::Overload | DeviceNote::WrongUnit { .. } | DeviceNote::Garbage { .. })
    }
}

impl fmt::Display for DeviceNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            DeviceNote::Nothing => f.write_str("at rest"),
            DeviceNote::Unstable => f.write_str("unstable"),
            DeviceNote::Overload => f.write_str("overload"),
            DeviceNote::Under => f.write_str("below zero or below its range"),
            DeviceNote::WrongUnit { found, allowed } => {
                write!(f, "a value in `{found}` was not taken; allowed is {allowed}")
            }
            DeviceNote::Garbage { line, why } => write!(f, "line `{line}` was not taken: {why}"),
        }
    }
}

/// What is worth telling about a device.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DeviceNews {
    /// A value of a piece.
    Value(Captured),
    /// It stands in another way than before.
    Note(DeviceNote),
}

/// One device from its bytes to its values.
#[derive(Debug, Clone)]
pub struct DeviceFeed {
    profile: Arc<DeviceProfile>,
    cutter: LineCutter,
    filter: StableFilter,
    note: DeviceNote,
    /// Whether the next line may have lost its beginning.
    cut: bool,
}

impl DeviceFeed {
    /// Makes the feed of a device that is just heard for the first time.
    pub fn new(profile: Arc<DeviceProfile>) -> Self {
        let cutter = LineCutter::new(profile.line.ending);
        let mut feed = DeviceFeed {
            profile,
            cutter,
            filter: StableFilter::default(),
            note: DeviceNote::Nothing,
            cut: false,
        };
        feed.connected();
        feed
    }

    /// Takes note that the device is heard anew: what was begun before will not be finished.
    pub fn connected(&mut self) {
        self.cutter.drop_rest();
        self.filter.break_row();
        self.note = DeviceNote::Nothing;
        // One that talks all the time may be in the middle of a line.
        self.cut = self.profile.settling != Settling::EveryLine && self.profile.line.request.is_none();
    }

    /// Takes bytes, and when they came; returns what is worth telling, in its order.
    ///
    /// `at` is the time since any fixed moment and does not go back.
    pub fn take(&mut self, bytes: &[u8], at: Duration) -> Vec<DeviceNews> {
        let mut news = Vec::new();
        for line in self.cutter.take(bytes) {
            if std::mem::take(&mut self.cut) {
                continue;
            }
            let said = self.profile.read_line(&line);
            let note = DeviceNote::of(&said, &line);
            if note != self.note {
                self.note = note.clone();
                news.push(DeviceNews::Note(note));
            }
            if let Some(value) = self.filter.take(&self.profile.settling, said, at) {
                news.push(DeviceNews::Value(Captured { value, line: line.to_string() }));
            }
        }
        news
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn feed(profile: &str) -> DeviceFeed {
        DeviceFeed::new(Arc::new(DeviceProfile::parse("scale", "scale.toml", profile).unwrap()))
    }

    fn said(news: &[DeviceNews]) -> Vec<String> {
        let words = |news: &DeviceNews| match news {
            DeviceNews::Value(captured) => format!("{} from `{}`", captured.value.text(), captured.line),
            DeviceNews::Note(note) => note.to_string(),
        };
        news.iter().map(words).collect()
    }

    const SCALE: &str = include_str!("../../../assets/desk/devices/scale.toml");

    #[test]
    fn only_what_changes_is_told() {
        let mut scale = feed(SCALE);
        let lines = "1.0 g\r\nmove + 1.0 g\r\nmove + 2.0 g\r\nok +  2.50 g\r\nok +  2.50 g\r\nok +  2.50 g\r\nok +  2.50 g\r\n\
                     ok +  2.50 g\r\nhigh\r\nhigh\r\nok + 1 lb\r\nx\\µ\r\n";
        let told = said(&scale.take(lines.as_bytes(), Duration::ZERO));
        assert_eq!(
            told,
            [
                "unstable",
                "at rest",
                "2.50 g from `ok +  2.50 g`",
                "overload",
                "a value in `lb` was not taken; allowed is `g`",
                "line `x\\x5c\\xc2\\xb5` was not taken: no pattern of `scale` fits",
            ]
        );
    }

    #[test]
    fn a_device_pulled_out_in_the_middle_of_a_line_leaves_nothing_behind() {
        let mut scale = feed(SCALE);
        let first = scale
            .take(b".10 g\r\nok 31.10 g\r\nok 31.10 g\r\nok 31.10 g\r\nok 31.10 g\r\nok 3", Duration::ZERO);
        assert_eq!(said(&first), ["31.10 g from `ok 31.10 g`"]);
        scale.connected();
        // What comes first may have lost its beginning; the piece is still the same.
        let again =
            scale.take(b"1.10 g\r\nok 31.10 g\r\nok 31.10 g\r\nok 31.10 g\r\nok 31.10 g\r\n", Duration::ZERO);
        assert_eq!(said(&again), [""; 0]);
        let next = scale.take(b"low\r\nlow\r\n", Duration::ZERO);
        assert_eq!(said(&next), ["below zero or below its range"]);
        let other = scale.take(b"ok 31.10 g\r\nok 31.10 g\r\nok 31.10 g\r\nok 31.10 g\r\n", Duration::ZERO);
        assert_eq!(said(&other), ["at rest", "31.10 g from `ok 31.10 g`"]);
    }

    #[test]
    fn an_answer_to_a_request_is_whole_from_the_first_line_on() {
        let mut meter = feed(include_str!("../../../assets/desk/devices/meter.toml"));
        let news = meter.take(b"61.9 MS/m\r61.9 MS/m\r61.9 MS/m\r", Duration::ZERO);
        assert_eq!(said(&news), ["61.9 MS/m from `61.9 MS/m`"]);
    }
}
