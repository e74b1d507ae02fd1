//! Controls: what keeps an instrument usable, and when one is asked for.
//!
//! A pure state machine over the controls of one instrument (of a conductivity meter: with one probe), oldest first. A
//! reading is proved by the control before it, and undone by the next one after it when that fails.

use crate::quantity::Temperature;
use chrono::{DateTime, FixedOffset, NaiveDate, Utc};
use std::fmt;

/// Temperatures further apart than this ask for a new control, in kelvin (MIL-STD-1537C practice for probe, block and piece,
/// from memory).
pub const MOST_APART_K: f64 = 3.0;

/// Why a control was taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ControlReason {
    /// The first of the day.
    StartOfDay,
    /// The probe was changed.
    ProbeChange,
    /// The zero was set anew.
    ZeroChange,
    /// The temperature moved by more than 3 K.
    TemperatureMoved,
    /// A reading looked odd.
    QuestionableReading,
}

impl ControlReason {
    /// All reasons.
    pub const ALL: [ControlReason; 5] = [
        ControlReason::StartOfDay,
        ControlReason::ProbeChange,
        ControlReason::ZeroChange,
        ControlReason::TemperatureMoved,
        ControlReason::QuestionableReading,
    ];

    /// Returns the words kept in the book.
    pub fn words(self) -> &'static str {
        match self {
            ControlReason::StartOfDay => "start of day",
            ControlReason::ProbeChange => "probe change",
            ControlReason::ZeroChange => "zero change",
            ControlReason::TemperatureMoved => "temperature moved",
            ControlReason::QuestionableReading => "questionable reading",
        }
    }

    /// Returns the reason with the given words; hyphens may stand for blanks.
    pub fn named(words: &str) -> Option<Self> {
        let words = words.trim().replace('-', " ");
        Self::ALL.into_iter().find(|reason| reason.words() == words)
    }
}

impl fmt::Display for ControlReason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.words())
    }
}

/// One control as the state machine sees it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ControlPoint {
    /// When it was taken.
    pub at: DateTime<Utc>,
    /// The desk's distance from UTC at the time, in minutes: it decides which day it was.
    pub offset_min: i32,
    /// Whether it passed.
    pub passed: bool,
    /// Temperature of the reference piece, where it was recorded.
    pub temperature: Option<Temperature>,
    /// The reference piece.
    pub reference: String,
    /// What it came to, in words.
    pub finding: String,
}

impl ControlPoint {
    /// Returns a moment in the time of the desk where this control was taken.
    fn desk_time(&self, at: DateTime<Utc>) -> DateTime<FixedOffset> {
        let offset = FixedOffset::east_opt(self.offset_min * 60);
        at.with_timezone(&offset.unwrap_or_else(|| FixedOffset::east_opt(0).expect("zero is an offset")))
    }

    /// Returns the day of the control.
    pub fn day(&self) -> NaiveDate {
        self.desk_time(self.at).date_naive()
    }

    /// Prints day and minute of the control in the time of its desk.
    pub fn minute(&self) -> String {
        self.desk_time(self.at).format("%Y-%m-%d %H:%M").to_string()
    }
}

/// Where an instrument stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ControlState {
    /// No reference piece is registered for it, so that no control is asked for.
    NotAsked,
    /// In control, unbroken since this moment.
    InControl {
        /// The first control that passed since the last one that failed.
        since: DateTime<Utc>,
    },
    /// The last control failed.
    Failed {
        /// When.
        at: DateTime<Utc>,
        /// In words.
        why: String,
    },
    /// No control is on record.
    Missing,
    /// A control was there, but another one is due.
    Due {
        /// Why, in words.
        why: String,
    },
}

impl ControlState {
    /// Tells whether readings may be taken.
    pub fn is_in_order(&self) -> bool {
        matches!(self, ControlState::NotAsked | ControlState::InControl { .. })
    }

    /// Returns the word for it.
    pub fn word(&self) -> &'static str {
        match self {
            ControlState::NotAsked => "no control asked",
            ControlState::InControl { .. } => "in control",
            ControlState::Failed { .. } => "failed",
            ControlState::Missing => "missing",
            ControlState::Due { .. } => "due",
        }
    }
}

/// What happens to an instrument beside its controls.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Circumstances {
    /// Temperature at the moment asked about, where it is known.
    pub temperature: Option<Temperature>,
    /// Whether another probe was on the meter since the last control.
    pub probe_changed: bool,
}

/// Returns where an instrument stands at a moment, by its controls up to then, oldest first.
pub fn state(controls: &[ControlPoint], at: DateTime<Utc>, now: Circumstances) -> ControlState {
    let Some(last) = controls.iter().rev().find(|control| control.at <= at) else {
        return ControlState::Missing;
    };
    if !last.passed {
        let why =
            format!("the control on `{}` of {} failed: {}", last.reference, last.minute(), last.finding);
        return ControlState::Failed { at: last.at, why };
    }
    if last.desk_time(at).date_naive() != last.day() {
        let why = format!("the last control was on {}; each day begins with one", last.day());
        return ControlState::Due { why };
    }
    if now.probe_changed {
        let why = format!("the probe was changed since the control of {}", last.minute());
        return ControlState::Due { why };
    }
    if let (Some(then), Some(temperature)) = (last.temperature, now.temperature) {
        let (then, now) = (then.as_celsius(), temperature.as_celsius());
        if (now - then).abs() > MOST_APART_K {
            let why = format!("{now:.1} C, and {then:.1} C at the control: more than {MOST_APART_K} K apart");
            return ControlState::Due { why };
        }
    }
    let earlier = controls.iter().rev().skip_while(|control| control.at > at);
    let since = earlier.take_while(|control| control.passed).last().map_or(last.at, |first| first.at);
    ControlState::InControl { since }
}

/// Says why no control stands behind a reading; `None` when one does.
///
/// `before`: the last control not after the reading; `after`: the first one after it.
pub fn unproved(
    instrument: &str,
    before: Option<&ControlPoint>,
    after: Option<&ControlPoint>,
    at: DateTime<Utc>,
    then: Circumstances,
) -> Option<String> {
    let why = match state(before.map(std::slice::from_ref).unwrap_or_default(), at, then) {
        ControlState::NotAsked | ControlState::InControl { .. } => {
            let failed = after.filter(|after| !after.passed)?;
            format!(
                "the control on `{}` of {} failed and voids what was read before it: {}",
                failed.reference,
                failed.minute(),
                failed.finding
            )
        }
        ControlState::Failed { why, .. } | ControlState::Due { why } => why,
        ControlState::Missing => "no control is on record".to_owned(),
    };
    Some(format!("`{instrument}`: {why}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> DateTime<Utc> {
        format!("2026-03-{text}:00Z").parse().unwrap()
    }

    fn control(time: &str, passed: bool) -> ControlPoint {
        ControlPoint {
            at: at(time),
            offset_min: 0,
            passed,
            temperature: Some(Temperature::from_celsius(21.0)),
            reference: "block".to_owned(),
            finding: "E_n 0.2".to_owned(),
        }
    }

    fn plain() -> Circumstances {
        Circumstances::default()
    }

    #[test]
    fn an_instrument_walks_through_its_states() {
        let day = [control("03T08:00", true), control("04T08:00", true), control("04T12:00", false)];
        assert_eq!(state(&day, at("03T07:59"), plain()), ControlState::Missing);
        assert_eq!(state(&day, at("03T08:00"), plain()), ControlState::InControl { since: at("03T08:00") });
        assert!(matches!(state(&day, at("04T07:59"), plain()), ControlState::Due { .. }));
        assert_eq!(state(&day, at("04T08:30"), plain()), ControlState::InControl { since: at("03T08:00") });
        assert!(matches!(state(&day, at("04T12:30"), plain()), ControlState::Failed { .. }));
        let again = [day[2].clone(), control("04T12:40", true)];
        assert_eq!(state(&again, at("04T13:00"), plain()), ControlState::InControl { since: at("04T12:40") });
    }

    #[test]
    fn a_probe_change_and_more_than_three_kelvin_ask_for_a_control() {
        let day = [control("04T08:00", true)];
        let changed = Circumstances { probe_changed: true, ..plain() };
        assert!(matches!(state(&day, at("04T09:00"), changed), ControlState::Due { .. }));
        let at_c =
            |celsius| Circumstances { temperature: Some(Temperature::from_celsius(celsius)), ..plain() };
        assert!(state(&day, at("04T09:00"), at_c(24.0)).is_in_order());
        assert!(!state(&day, at("04T09:00"), at_c(24.1)).is_in_order());
        assert!(!state(&day, at("04T09:00"), at_c(17.9)).is_in_order());
    }

    #[test]
    fn the_day_is_that_of_the_desk() {
        let mut late = control("04T23:00", true);
        late.offset_min = 120;
        // 23:00 UTC is 01:00 of the fifth at that desk: readings up to 22:00 UTC of the fifth belong to its day.
        let day = [late];
        assert!(state(&day, at("05T21:59"), plain()).is_in_order());
        assert!(!state(&day, at("05T22:00"), plain()).is_in_order());
    }

    #[test]
    fn a_control_that_fails_later_takes_back_what_was_proved() {
        let (good, bad) = (control("04T08:00", true), control("04T12:00", false));
        let read = |before, after| unproved("meter", before, after, at("04T10:00"), plain());
        assert_eq!(read(Some(&good), None), None);
        assert_eq!(read(Some(&good), Some(&good)), None);
        let why = read(Some(&good), Some(&bad)).unwrap();
        assert_eq!(
            why,
            "`meter`: the control on `block` of 2026-03-04 12:00 failed and voids what was read before it: E_n 0.2"
        );
        assert_eq!(read(None, None).unwrap(), "`meter`: no control is on record");
    }
}
