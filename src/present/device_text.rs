//! What the lines of a device mean, and what its profile says, in words and as JSON.

use crate::evidence::Measurand;
use crate::intake::device::{DeviceProfile, LineReading, RawLine, Settling};
use crate::present::text;
use serde_json::{Value, json};
use std::time::Duration;

/// Columns of a line as sent, before what it means.
const SENT: usize = 30;

/// A line with what a profile makes of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Made {
    /// When it came, since the listening began.
    pub at: Duration,
    /// The line.
    pub line: RawLine,
    /// What the profile makes of it; `None` without a profile.
    pub said: Option<LineReading>,
    /// Whether it makes a value of a piece.
    pub taken: bool,
}

/// Returns the word for what a line says, and the value in it.
fn word(said: &LineReading) -> (&'static str, Option<&str>) {
    match said {
        LineReading::Stable(value) => ("stable", Some(value.text())),
        LineReading::Unstable(value) => ("unstable", value.as_ref().map(|value| value.text())),
        LineReading::Overload => ("overload", None),
        LineReading::Under => ("under", None),
        LineReading::WrongUnit { .. } => ("wrong unit", None),
        LineReading::Garbage(_) => ("garbage", None),
    }
}

/// Returns why a line is refused; `None` when it is not.
fn why(said: &LineReading) -> Option<String> {
    match said {
        LineReading::WrongUnit { found, allowed } => Some(format!("found `{found}`, allowed is {allowed}")),
        LineReading::Garbage(why) => Some(why.to_string()),
        _ => None,
    }
}

impl Made {
    /// Returns it as a line of text: seconds, the line as sent, what it means.
    pub fn text(&self) -> String {
        let sent = format!("{:9.3}  {}", self.at.as_secs_f64(), self.line);
        let Some(said) = &self.said else { return sent };
        let (word, value) = word(said);
        let mut row = format!("{}  {word}", text::pad_end(&sent, 11 + SENT));
        for part in value.map(str::to_owned).into_iter().chain(why(said).map(|why| format!("- {why}"))) {
            row.push(' ');
            row.push_str(&part);
        }
        if self.taken {
            row.push_str("  = value");
        }
        row
    }

    /// Returns it as the fields of a JSON object.
    pub fn json(&self) -> Value {
        let said = self.said.as_ref();
        json!({
            "at_ms": u64::try_from(self.at.as_millis()).unwrap_or(u64::MAX),
            "line": self.line.to_string(),
            "says": said.map(|said| word(said).0),
            "value": said.and_then(|said| word(said).1),
            "why": said.and_then(why),
            "taken": self.taken,
        })
    }
}

/// Returns how a device is reached: its port, `keyboard`, or `-`.
pub fn reached(profile: &DeviceProfile) -> String {
    match (&profile.port, profile.keyboard) {
        (Some(port), _) => port.display().to_string(),
        (None, true) => "keyboard".to_owned(),
        (None, false) => "-".to_owned(),
    }
}

/// Returns what a device feeds.
pub fn feeds(profile: &DeviceProfile) -> String {
    profile.feeds.iter().copied().map(Measurand::name).collect::<Vec<_>>().join(", ")
}

/// Returns when a value counts.
pub fn settled(profile: &DeviceProfile) -> String {
    match &profile.settling {
        Settling::EveryLine => "each stable line".to_owned(),
        Settling::InARow { lines, .. } => format!("{lines} stable lines in a row"),
    }
}

/// Returns a profile as the fields of a JSON object.
pub fn profile_json(profile: &DeviceProfile) -> Value {
    json!({
        "name": profile.name,
        "feeds": profile.feeds.iter().map(|measurand| measurand.name()).collect::<Vec<_>>(),
        "units": profile.units().map(|unit| unit.symbol).collect::<Vec<_>>(),
        "lines": profile.patterns.iter().map(|pattern| pattern.text()).collect::<Vec<_>>(),
        "port": profile.port.as_ref().map(|port| port.display().to_string()),
        "keyboard": profile.keyboard,
        "speed": profile.line.speed,
        "value_of": settled(profile),
    })
}
