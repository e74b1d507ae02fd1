//! The stable-value filter: out of everything a device says while a piece lies on it, at most one value.
//!
//! Rules. A value is taken when the last so many lines were stable, in a row, within the spread and without a long pause;
//! anything else between them starts the row anew. Then no other is taken until the piece was changed: the device was near
//! zero for two lines, or it has settled somewhere else for two lines. A single line never tells that a piece was changed,
//! because a garbled one may look like any number.

use super::line::{DeviceValue, LineReading};
use super::profile::Settling;
use std::collections::VecDeque;
use std::time::Duration;

/// Lines in a row that tell that the piece was changed.
const LINES_OF_A_CHANGE: u32 = 2;

/// Whether a value may be taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Armed {
    /// The next settled value is one.
    #[default]
    Ready,
    /// This value was taken, and the piece is still there; the lines in a row that say otherwise.
    Taken { base: i64, near_zero: u32, elsewhere: u32 },
}

/// The filter of one device.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct StableFilter {
    armed: Armed,
    /// The last stable values in a row, in base integers.
    row: VecDeque<i64>,
    last: Duration,
}

impl StableFilter {
    /// Takes what a line says, and when it came; returns the value of the piece when this line makes it one.
    ///
    /// `at` is the time since any fixed moment and does not go back.
    pub fn take(&mut self, settling: &Settling, said: LineReading, at: Duration) -> Option<DeviceValue> {
        let Settling::InARow { lines, spread, longest_pause, rearm_below, rearm_change } = settling else {
            return match said {
                LineReading::Stable(value) => Some(value),
                _ => None,
            };
        };
        if at.saturating_sub(self.last) > *longest_pause {
            self.break_row();
        }
        self.last = at;
        let near_zero = match &said {
            LineReading::Stable(value) | LineReading::Unstable(Some(value)) => {
                rearm_below.is_some_and(|below| value.base().abs() <= below)
            }
            LineReading::Under => rearm_below.is_some(),
            _ => false,
        };
        let stable = match said {
            LineReading::Stable(value) => Some(value),
            _ => None,
        };
        self.arm(near_zero, stable.as_ref().map(DeviceValue::base), *rearm_change);
        let Some(value) = stable.filter(|_| !near_zero) else {
            self.row.clear();
            return None;
        };
        self.row.push_back(value.base());
        if self.row.len() > *lines {
            self.row.pop_front();
        }
        let within = match (self.row.iter().min(), self.row.iter().max()) {
            (Some(least), Some(greatest)) => greatest.saturating_sub(*least) <= *spread,
            _ => false,
        };
        if self.armed != Armed::Ready || self.row.len() < *lines || !within {
            return None;
        }
        self.armed = Armed::Taken { base: value.base(), near_zero: 0, elsewhere: 0 };
        Some(value)
    }

    /// Starts the row anew, after a silence or a new connection. A value that was taken stays taken: the same piece may
    /// still lie there.
    pub fn break_row(&mut self) {
        self.row.clear();
        if let Armed::Taken { near_zero, elsewhere, .. } = &mut self.armed {
            (*near_zero, *elsewhere) = (0, 0);
        }
    }

    /// Counts the lines that say that the piece was changed.
    fn arm(&mut self, at_zero: bool, stable: Option<i64>, rearm_change: Option<i64>) {
        let Armed::Taken { base, near_zero, elsewhere } = &mut self.armed else { return };
        let moved = stable
            .zip(rearm_change)
            .is_some_and(|(value, change)| value.saturating_sub(*base).abs() > change);
        *near_zero = if at_zero { *near_zero + 1 } else { 0 };
        *elsewhere = if moved { *elsewhere + 1 } else { 0 };
        if *near_zero >= LINES_OF_A_CHANGE || *elsewhere >= LINES_OF_A_CHANGE {
            self.armed = Armed::Ready;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{DeviceProfile, Garbage, RawLine};
    use super::*;
    use proptest::prelude::*;

    const SCALE: &str = include_str!("../../../assets/desk/devices/scale.toml");

    fn scale() -> DeviceProfile {
        DeviceProfile::parse("scale", "scale.toml", SCALE).unwrap()
    }

    /// Plays lines 100 ms apart and returns the values with the number of the line that made them, from 1.
    fn play(lines: &[String]) -> Vec<(usize, String)> {
        let profile = scale();
        let mut filter = StableFilter::default();
        let mut taken = Vec::new();
        for (index, line) in lines.iter().enumerate() {
            let said = profile.read_line(&RawLine::of(line));
            let at = Duration::from_millis(100 * index as u64);
            if let Some(value) = filter.take(&profile.settling, said, at) {
                taken.push((index + 1, value.text().to_owned()));
            }
        }
        taken
    }

    #[track_caller]
    fn check(script: &str, expected: &[(usize, &str)]) {
        let lines: Vec<String> = script.split(';').map(|line| line.trim().to_owned()).collect();
        let expected: Vec<(usize, String)> =
            expected.iter().map(|(at, text)| (*at, (*text).to_owned())).collect();
        assert_eq!(play(&lines), expected);
    }

    #[test]
    fn four_equal_stable_lines_make_one_value_and_no_more() {
        check("ok 0.00 g; move 12.3 g; ok 33.93 g; ok 33.93 g; ok 33.93 g", &[]);
        check(
            "ok 33.93 g; ok 33.93 g; ok 33.93 g; ok 33.93 g; ok 33.93 g; ok 33.93 g; ok 33.93 g",
            &[(4, "33.93 g")],
        );
        check("ok 33.93 g; ok 33.93 g; ok 33.94 g; ok 33.93 g; ok 33.93 g; ok 33.93 g", &[]);
        check("ok 33.93 g; ok 33.93 g; move 33.93 g; ok 33.93 g; ok 33.93 g; nonsense; ok 33.93 g", &[]);
    }

    #[test]
    fn an_empty_pan_is_no_piece() {
        check("ok 0.00 g; ok 0.00 g; ok 0.00 g; ok 0.00 g; ok 0.00 g", &[]);
        check("ok -0.01 g; ok -0.01 g; ok -0.01 g; ok -0.01 g; low; low", &[]);
    }

    #[test]
    fn the_next_piece_counts_after_an_empty_pan_or_a_change_at_rest() {
        let piece = |mass: &str| vec![format!("ok {mass} g"); 4].join(";");
        let pair = |between: &str, second: &str| format!("{}{between};{}", piece("31.10"), piece(second));
        check(&pair(";ok 0.00 g;ok 0.00 g", "31.10"), &[(4, "31.10 g"), (10, "31.10 g")]);
        check(&pair(";low;move -0.20 g", "31.10"), &[(4, "31.10 g"), (10, "31.10 g")]);
        check(&pair("", "33.93"), &[(4, "31.10 g"), (8, "33.93 g")]);
        // A tap on the pan is no change, nor is a single line, whatever it says.
        check(&pair(";move 40.2 g;move 45.0 g;move 38.1 g", "31.10"), &[(4, "31.10 g")]);
        check(&pair(";ok 0.00 g", "31.10"), &[(4, "31.10 g")]);
        check(&pair(";ok 3.10 g", "31.10"), &[(4, "31.10 g")]);
        check(&pair(";high;high;high", "31.10"), &[(4, "31.10 g")]);
        // A drift below the change stays the same piece.
        check(&pair("", "31.30"), &[(4, "31.10 g")]);
    }

    #[test]
    fn a_long_pause_starts_the_row_anew_and_gives_nothing_twice() {
        let profile = scale();
        let mut filter = StableFilter::default();
        let mut take = |milliseconds: u64| {
            let said = profile.read_line(&RawLine::of("ok 33.93 g"));
            filter.take(&profile.settling, said, Duration::from_millis(milliseconds)).is_some()
        };
        assert!(![0, 100, 200, 2301, 2400, 2500].into_iter().any(&mut take));
        assert!(take(2600));
        assert!(![9000, 9100, 9200, 9300, 9400].into_iter().any(&mut take));
    }

    #[test]
    fn a_device_with_a_button_gives_a_value_for_each_press() {
        let text = include_str!("../../../assets/desk/devices/calliper.toml");
        let calliper = DeviceProfile::parse("calliper", "calliper.toml", text).unwrap();
        let mut filter = StableFilter::default();
        let said = || calliper.read_line(&RawLine::of("32.70 mm"));
        for _ in 0..3 {
            assert!(filter.take(&calliper.settling, said(), Duration::ZERO).is_some());
        }
        let garbled = LineReading::Garbage(Garbage::TooLong);
        assert!(filter.take(&calliper.settling, garbled, Duration::ZERO).is_none());
    }

    fn any_line() -> impl Strategy<Value = String> {
        prop_oneof![
            4 => (0u32..6, 0u32..3).prop_map(|(piece, digit)| format!("ok {}.{digit:02} g", piece * 7)),
            2 => (0u32..6).prop_map(|piece| format!("move {}.4 g", piece * 7)),
            1 => Just("low".to_owned()),
            1 => Just("high".to_owned()),
            1 => Just("ok 1.0 ozt".to_owned()),
            1 => "\\PC{0,12}".prop_map(|text| text.replace(';', "")),
        ]
    }

    /// What a person would read in a line: stable or not, and the value in hundredths of a gram.
    fn by_eye(line: &str) -> (bool, Option<i64>) {
        let value = line.split(' ').nth(1).filter(|_| line.ends_with(" g"));
        let value =
            value.and_then(|text| text.parse::<f64>().ok()).map(|grams| (grams * 100.0).round() as i64);
        (
            line.starts_with("ok ") && value.is_some(),
            value.filter(|_| line.starts_with("ok ") || line.starts_with("move ")),
        )
    }

    proptest! {
        #[test]
        fn every_value_rests_on_four_equal_stable_lines_and_between_two_the_piece_was_changed(
            lines in prop::collection::vec((any_line(), 1usize..7), 0..60)
        ) {
            let lines: Vec<String> =
                lines.into_iter().flat_map(|(line, times)| vec![line; times]).collect();
            let taken = play(&lines);
            for (at, text) in &taken {
                for line in &lines[at - 4..*at] {
                    prop_assert_eq!(line, &format!("ok {text}"));
                }
            }
            for pair in taken.windows(2) {
                let before = by_eye(&lines[pair[0].0 - 1]).1.expect("a value was taken");
                let between = &lines[pair[0].0..pair[1].0];
                let changed = between.windows(2).any(|two| {
                    let zero = |line: &String| line == "low" || by_eye(line).1.is_some_and(|value| value.abs() <= 50);
                    let moved = |line: &String| {
                        let (stable, value) = by_eye(line);
                        stable && value.is_some_and(|value| (value - before).abs() > 50)
                    };
                    two.iter().all(zero) || two.iter().all(moved)
                });
                prop_assert!(changed, "{between:?}");
            }
        }

        #[test]
        fn every_piece_that_is_placed_gives_exactly_its_own_value(
            pieces in prop::collection::vec((60u32..900_000, 0usize..12, 4usize..20, 2usize..15), 1..20),
            noise in prop::collection::vec(0u32..100, 64),
        ) {
            let mut noise = noise.iter().cycle().copied();
            let mut lines = Vec::new();
            for (mass, rising, resting, empty) in &pieces {
                for step in 0..*rising {
                    let share = f64::from(*mass) * (step as f64 + 0.5) / *rising as f64;
                    lines.push(match noise.next() {
                        Some(0..10) => "high".to_owned(),
                        Some(10..15) => "ok 3".to_owned(),
                        _ => format!("move {:.2} g", share / 100.0),
                    });
                }
                lines.extend(vec![format!("ok {:.2} g", f64::from(*mass) / 100.0); *resting]);
                lines.push("move 0.9 g".to_owned());
                lines.extend(vec![format!("ok 0.0{} g", noise.next().unwrap_or(0) % 10); *empty]);
            }
            let taken: Vec<String> = play(&lines).into_iter().map(|(_, text)| text).collect();
            let placed: Vec<String> =
                pieces.iter().map(|(mass, ..)| format!("{:.2} g", f64::from(*mass) / 100.0)).collect();
            prop_assert_eq!(taken, placed);
        }
    }
}
