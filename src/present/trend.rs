//! The readings of a lot in the order of logging: one strip a quantity, lower limit at the foot, upper limit at the top.
//!
//! ```text
//! mass         33.930, 33.750 to 34.250 g     newest value, limits
//! |..':.a'.:..                          |     a mark for each piece; a letter for one outside
//! ```

use super::scatter::limit_decimals;
use super::spectrum::Marks;
use super::text;
use super::tone::{Row, Tone};

/// Columns of the name.
const NAME: usize = 13;

/// A piece on a strip.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// Its value; `None` where there is none that could be used.
    pub value: Option<f64>,
    /// Its letter among the logged pieces; empty for a clear one.
    pub letter: String,
}

/// The readings of one quantity.
#[derive(Debug, Clone, PartialEq)]
pub struct Strip {
    /// The quantity.
    pub quantity: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// Lower limit.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
    /// The pieces in the order of logging.
    pub points: Vec<Point>,
}

impl Strip {
    /// Returns name, newest value and limits, then the strip itself: `high` rows of it, 1 or 2; none below 20 columns.
    pub fn rows(&self, marks: Marks, columns: usize, high: usize) -> Vec<Row> {
        if columns < 20 || high == 0 {
            return Vec::new();
        }
        let high = high.min(2);
        let room = columns - 2;
        let shown = &self.points[first_shown(self.points.len(), room)..];
        let mut lines = vec![Vec::with_capacity(room); high];
        for point in shown {
            let mark = self.mark(point, marks, high);
            for (line, cells) in lines.iter_mut().enumerate() {
                cells.push(if line == mark.0 { mark.1 } else { (' ', Tone::Plain) });
            }
        }
        let mut rows = vec![self.header(columns)];
        for mut cells in lines {
            cells.resize(room, (' ', Tone::Plain));
            let mut row = Row::of(Tone::Quiet, "|");
            for run in cells.chunk_by(|one, other| one.1 == other.1) {
                row = row.with(run[0].1, run.iter().map(|cell| cell.0).collect::<String>());
            }
            rows.push(row.with(Tone::Quiet, "|"));
        }
        rows
    }

    fn is_outside(&self, value: f64) -> bool {
        self.lower.is_some_and(|lower| value < lower) || self.upper.is_some_and(|upper| value > upper)
    }

    fn header(&self, columns: usize) -> Row {
        let places = limit_decimals(self.lower, self.upper);
        let number = |value: f64| format!("{value:.places$}");
        let limits = match (self.lower, self.upper) {
            (Some(lower), Some(upper)) => format!(", {} to {}", number(lower), number(upper)),
            (Some(lower), None) => format!(", at least {}", number(lower)),
            (None, Some(upper)) => format!(", at most {}", number(upper)),
            (None, None) => String::new(),
        };
        let limits = format!("{limits} {}", self.unit);
        let newest = self.points.iter().rev().find_map(|point| point.value);
        let (value, tone) = match newest {
            Some(value) if self.is_outside(value) => (number(value), Tone::Hold),
            Some(value) => (number(value), Tone::Plain),
            None => ("none".to_owned(), Tone::Quiet),
        };
        let left = columns.saturating_sub(NAME + text::width(&value));
        Row::of(Tone::Quiet, text::pad_end(self.quantity, NAME))
            .with(tone, text::fit(&value, columns - NAME))
            .with(Tone::Quiet, text::fit(&limits, left))
    }

    /// Returns the row of a point, from above, and what stands there.
    fn mark(&self, point: &Point, marks: Marks, high: usize) -> (usize, (char, Tone)) {
        let Some(value) = point.value else { return (high - 1, (' ', Tone::Plain)) };
        let share = self.share(value);
        if self.is_outside(value) {
            let mark = match point.letter.as_str() {
                one if one.len() == 1 => one.chars().next().unwrap_or('x'),
                // Clear although outside, or a name too long for a cell.
                "" => 'x',
                _ => '*',
            };
            let above = self.upper.is_some_and(|upper| value > upper);
            return (if above { 0 } else { high - 1 }, (mark, Tone::Hold));
        }
        let steps: &[char] = match marks {
            // Dots 7, 3, 2 and 1 of both columns, from below.
            Marks::Braille => &['\u{28c0}', '\u{2824}', '\u{2812}', '\u{2809}'],
            Marks::Dot | Marks::Ascii => &['_', '-', '\''],
        };
        let levels = steps.len() * high;
        let level = ((share * levels as f64) as usize).min(levels - 1);
        (high - 1 - level / steps.len(), (steps[level % steps.len()], Tone::Plain))
    }

    /// Returns where a value lies between the limits, 0 at the lower and 1 at the upper one; with one limit, within a tenth
    /// of it.
    fn share(&self, value: f64) -> f64 {
        let (lower, upper) = match (self.lower, self.upper) {
            (Some(lower), Some(upper)) if lower < upper => (lower, upper),
            (Some(limit), _) => (limit, 1.1 * limit),
            (None, Some(limit)) => (0.9 * limit, limit),
            (None, None) => return 0.5,
        };
        ((value - lower) / (upper - lower)).clamp(0.0, 1.0)
    }
}

/// Returns the first piece that a strip shows: it fills from the left and starts anew half a strip further on, so that
/// nothing moves with every piece.
fn first_shown(pieces: usize, room: usize) -> usize {
    let half = (room / 2).max(1);
    pieces.saturating_sub(room).div_ceil(half) * half
}

/// What the marks mean, for a page.
pub const KEY: &str = "Each strip is one reading in the order of logging, the lower limit at its foot, the upper one at its top. A letter is \
                       a piece outside of the limits, as in the list of logged pieces; x is one that was found clear since. A gap is a \
                       piece without a value that could be used.";

#[cfg(test)]
mod tests {
    use super::*;

    fn strip(values: &[(f64, &str)]) -> Strip {
        let point = |&(value, letter): &(f64, &str)| Point {
            value: value.is_finite().then_some(value),
            letter: letter.to_owned(),
        };
        Strip {
            quantity: "mass",
            unit: "g",
            lower: Some(10.0),
            upper: Some(14.0),
            points: values.iter().map(point).collect(),
        }
    }

    fn drawn(strip: &Strip, marks: Marks, columns: usize, high: usize) -> Vec<String> {
        strip.rows(marks, columns, high).iter().map(Row::text).collect()
    }

    #[test]
    fn a_mark_stands_at_its_share_of_the_limits() {
        // Four steps of 1 g from below; the limits belong to the inside.
        let strip = strip(&[(10.0, ""), (11.5, ""), (12.5, ""), (14.0, "")]);
        let rows = drawn(&strip, Marks::Braille, 40, 1);
        assert_eq!(rows[1].trim_end_matches('|').trim_end(), "|\u{28c0}\u{2824}\u{2812}\u{2809}");
        assert_eq!(rows[0], "mass         14.0, 10.0 to 14.0 g");
        // Three steps a row in two rows: 11.5 is 0.375 of the way, the third of six steps.
        let rows = drawn(&strip, Marks::Ascii, 40, 2);
        assert_eq!(rows[1].trim_end_matches('|').trim_end(), "|  _'");
        assert_eq!(rows[2].trim_end_matches('|').trim_end(), "|_'");
    }

    #[test]
    fn a_piece_outside_is_its_letter_at_the_end_it_passed_and_a_missing_one_is_a_gap() {
        let strip = strip(&[(9.9, "a"), (f64::NAN, "b"), (14.1, "c"), (15.0, ""), (12.0, "d"), (16.0, "aa")]);
        let rows = drawn(&strip, Marks::Ascii, 40, 2);
        assert_eq!(rows[1].trim_end_matches('|').trim_end(), "|  cx_*");
        assert_eq!(rows[2].trim_end_matches('|').trim_end(), "|a");
    }

    #[test]
    fn a_strip_fills_from_the_left_and_moves_by_half_of_itself() {
        assert_eq!(first_shown(0, 20), 0);
        assert_eq!(first_shown(20, 20), 0);
        assert_eq!(first_shown(21, 20), 10);
        assert_eq!(first_shown(30, 20), 10);
        assert_eq!(first_shown(31, 20), 20);
        let mut long = strip(&[(12.0, ""); 60]);
        long.points[59].letter = "z".to_owned();
        long.points[59].value = Some(20.0);
        for columns in 20..70 {
            assert!(drawn(&long, Marks::Ascii, columns, 1)[1].contains('z'), "{columns}");
        }
    }

    #[test]
    fn one_limit_or_none_can_be_drawn() {
        let mut one = strip(&[(13.3, ""), (14.5, "a")]);
        one.lower = None;
        assert!(drawn(&one, Marks::Ascii, 40, 1)[0].ends_with(", at most 14.00 g"));
        assert!(drawn(&one, Marks::Ascii, 40, 1)[1].starts_with("|-a"));
        one.upper = None;
        assert!(drawn(&one, Marks::Ascii, 40, 1)[1].starts_with("|--"));
        assert!(drawn(&strip(&[]), Marks::Braille, 40, 1)[0].contains("none, 10.0 to 14.0 g"));
    }

    #[test]
    fn every_size_keeps_within_its_columns() {
        let strip = strip(&[(9.0, "a"), (12.0, ""), (99.0, "zz")]);
        for columns in 0..80 {
            for high in 0..4 {
                let rows = strip.rows(Marks::Braille, columns, high);
                assert!(rows.is_empty() || rows.len() == 1 + high.min(2));
                assert!(rows.iter().all(|row| row.width() <= columns), "{columns} {high}");
            }
        }
    }
}
