//! The spectrum of a ring in a few rows of text: braille for position, letters for the partials.

use super::text;
use super::tone::{Row, Tone};
use super::words::letter;
use crate::desk::screen::Plot;
use crate::physics::recording::{Partial, Rejected, Rejection, RingRecording, SpectrumPoint};

/// Level at the foot of the plot, in dB below the strongest partial.
const FOOT_DB: f64 = -60.0;
/// Room above the highest partial, as a share of its frequency.
const BEYOND: f64 = 1.25;

/// The dot of plots that are drawn with one mark a cell.
pub const DOT: char = '\u{2022}';

/// With which marks a plot is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Marks {
    /// Braille patterns: two by four dots a cell.
    #[default]
    Braille,
    /// One dot a cell, for terminals and eyes that braille patterns are too fine for.
    Dot,
    /// Letters and signs of ASCII only.
    Ascii,
}

/// Tells whether a language setting, such as `en_GB.UTF-8`, names UTF-8.
pub fn is_utf8(language: Option<&str>) -> bool {
    let language = language.unwrap_or_default().to_lowercase();
    language.contains("utf-8") || language.contains("utf8")
}

impl Marks {
    /// Returns the marks for a terminal: those that the desk chose, else those that language setting and `TERM` allow. Where
    /// the terminal shows ASCII only, nothing finer is chosen.
    pub fn chosen(plot: Option<Plot>, language: Option<&str>, term: Option<&str>) -> Self {
        match (Self::for_terminal(language, term), plot) {
            (Marks::Ascii, _) | (_, Some(Plot::Ascii)) => Marks::Ascii,
            (_, Some(Plot::Dot)) => Marks::Dot,
            (found, Some(Plot::Braille) | None) => found,
        }
    }

    /// Returns the marks that a terminal can show, as far as language setting and `TERM` tell.
    pub fn for_terminal(language: Option<&str>, term: Option<&str>) -> Self {
        // The fonts of the Linux console hold no braille patterns.
        let plain = matches!(term, Some("dumb" | "linux"));
        if is_utf8(language) && !plain { Marks::Braille } else { Marks::Ascii }
    }
}

/// Returns the dots of a braille cell whose two columns are filled from below by so many dots, 0 to 4 each.
///
/// # Source
/// Unicode, block Braille Patterns U+2800: dots 7, 3, 2, 1 from below on the left are bits 6, 2, 1, 0, on the right bits 7,
/// 5, 4, 3.
fn braille(left: usize, right: usize) -> char {
    const LEFT: [u32; 4] = [0x40, 0x04, 0x02, 0x01];
    const RIGHT: [u32; 4] = [0x80, 0x20, 0x10, 0x08];
    let bits: u32 = LEFT[..left.min(4)].iter().sum::<u32>() + RIGHT[..right.min(4)].iter().sum::<u32>();
    // The empty pattern is a blank, so that a line ends where its last dot is.
    if bits == 0 { ' ' } else { char::from_u32(0x2800 + bits).unwrap_or(' ') }
}

/// Returns the highest frequency of the plot, in Hz.
fn highest(recording: &RingRecording) -> f64 {
    let top = recording.partials.iter().map(|partial| partial.frequency_hz).fold(0.0, f64::max);
    let end = recording.spectrum.last().map_or(0.0, |point| point.frequency_hz);
    (top * BEYOND).clamp(1.0, end.max(1.0))
}

/// Returns for each of `count` columns the share of the height that its loudest point reaches.
fn heights(points: &[SpectrumPoint], highest_hz: f64, count: usize) -> Vec<f64> {
    let mut heights = vec![0.0f64; count];
    for (index, point) in points.iter().enumerate() {
        let level = ((point.level_db - FOOT_DB) / -FOOT_DB).clamp(0.0, 1.0);
        // A point stands for the stretch up to the next one.
        let next = points.get(index + 1).map_or(point.frequency_hz, |next| next.frequency_hz);
        let column = |hz: f64| (hz / highest_hz * count as f64) as usize;
        let (from, to) = (column(point.frequency_hz), column(next));
        let last = to.max(from + 1).min(count);
        for height in heights.iter_mut().take(last).skip(from) {
            *height = height.max(level);
        }
    }
    heights
}

/// Returns the spectrum up to a little above the highest partial, with the partials' letters below it.
///
/// `lines`: at least 3; the last two are the letters and the scale.
pub fn spectrum_rows(recording: &RingRecording, marks: Marks, columns: usize, lines: usize) -> Vec<Row> {
    let rows = lines.saturating_sub(2);
    if rows == 0 || columns < 16 {
        return Vec::new();
    }
    let highest = highest(recording);
    let per_cell = if marks == Marks::Braille { 2 } else { 1 };
    let heights = heights(&recording.spectrum, highest, columns * per_cell);
    let mut drawn = Vec::new();
    for row in (0..rows).rev() {
        let line: String = match marks {
            Marks::Braille => heights
                .chunks(2)
                .map(|pair| {
                    let dots =
                        |share: f64| ((share * (rows * 4) as f64).round() as usize).saturating_sub(row * 4);
                    braille(dots(pair[0]), dots(pair[1]))
                })
                .collect(),
            Marks::Dot | Marks::Ascii => {
                let mark = if marks == Marks::Dot { DOT } else { '|' };
                let reaches = |share: &f64| (share * rows as f64).round() as usize > row;
                heights.iter().map(|share| if reaches(share) { mark } else { ' ' }).collect()
            }
        };
        drawn.push(Row::of(Tone::Plain, line));
    }
    let mut letters = vec![' '; columns];
    for (index, partial) in recording.partials.iter().enumerate() {
        let column = ((partial.frequency_hz / highest * columns as f64) as usize).min(columns - 1);
        if letters[column] == ' ' {
            letters[column] = letter(index).chars().next().unwrap_or(' ');
        }
    }
    drawn.push(Row::of(Tone::Accent, letters.into_iter().collect::<String>()));
    drawn.push(Row::of(Tone::Quiet, "0").right(columns, Tone::Quiet, format!("{:.1} kHz", highest / 1000.0)));
    drawn
}

/// Returns a partial in words, `a  5102.3 Hz  ± 0.4 Hz (k = 2)   0 dB  fades in 0.21 s`.
pub fn partial_text(index: usize, partial: &Partial) -> String {
    let fades = partial.decay_s.map_or_else(|| "fades too fast".to_owned(), |s| format!("fades in {s:.2} s"));
    format!(
        "{:<3}{:>8.1} Hz ± {:.1} Hz (k = 2)  {:>4.0} dB  {fades}",
        letter(index),
        partial.frequency_hz,
        2.0 * partial.uncertainty_hz,
        partial.level_db
    )
}

/// Returns the tones that were set aside in one row each.
pub fn rejected_rows(rejected: &[Rejected], columns: usize) -> Vec<Row> {
    rejected
        .iter()
        .map(|tone| {
            let why = match tone.reason {
                Rejection::Mains(hz) => format!("hum of the {hz} Hz mains"),
                Rejection::Steady => "it does not fade".to_owned(),
            };
            let words = format!("set aside {:.1} Hz, {:.0} dB: {why}", tone.frequency_hz, tone.level_db);
            Row::of(Tone::Quiet, text::fit(&words, columns))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn recording(lines: &[(f64, f64)]) -> RingRecording {
        let partial = |&(frequency_hz, level_db): &(f64, f64)| Partial {
            frequency_hz,
            uncertainty_hz: 0.2,
            level_db,
            decay_s: Some(0.25),
        };
        let spectrum = (0..600)
            .map(|step| {
                let frequency_hz = f64::from(step) * 20.0;
                let near = lines.iter().find(|(hz, _)| (hz - frequency_hz).abs() < 10.0);
                SpectrumPoint { frequency_hz, level_db: near.map_or(-80.0, |(_, level)| *level) }
            })
            .collect();
        RingRecording {
            rate_hz: 48_000,
            channels: 1,
            bits: 16,
            duration_s: 1.0,
            strike_s: 0.1,
            decay_used_s: 0.8,
            partials: lines.iter().map(partial).collect(),
            rejected: Vec::new(),
            spectrum,
        }
    }

    #[test]
    fn braille_is_drawn_only_where_a_terminal_can_show_it() {
        let utf8 = Some("en_GB.UTF-8");
        assert_eq!(Marks::for_terminal(utf8, Some("xterm-256color")), Marks::Braille);
        assert_eq!(Marks::for_terminal(Some("C"), Some("xterm-256color")), Marks::Ascii);
        for term in ["dumb", "linux"] {
            assert_eq!(Marks::for_terminal(utf8, Some(term)), Marks::Ascii, "{term}");
        }
    }

    #[test]
    fn a_braille_cell_fills_from_below() {
        assert_eq!(braille(0, 0), ' ');
        assert_eq!(braille(1, 0), '\u{2840}');
        assert_eq!(braille(4, 4), '\u{28ff}');
    }

    #[test]
    fn each_partial_has_its_letter_below_its_line() {
        let recording = recording(&[(4000.0, 0.0), (8000.0, -30.0)]);
        for marks in [Marks::Braille, Marks::Dot, Marks::Ascii] {
            let rows = spectrum_rows(&recording, marks, 50, 6);
            assert_eq!(rows.len(), 6);
            // 8000 Hz times 1.25 is 10 kHz over 50 columns: a kilohertz is five columns.
            assert_eq!(rows[4].text().find('a'), Some(20), "{marks:?}");
            assert_eq!(rows[4].text().find('b'), Some(40), "{marks:?}");
            assert!(rows[5].text().ends_with("10.0 kHz"));
        }
        let ascii: Vec<String> =
            spectrum_rows(&recording, Marks::Ascii, 50, 6).iter().map(Row::text).collect();
        let column = |at: usize| ascii[..4].iter().filter(|line| line.chars().nth(at) == Some('|')).count();
        assert_eq!((column(20), column(40), column(30)), (4, 2, 0));
    }

    #[test]
    fn no_room_gives_no_rows() {
        assert!(spectrum_rows(&recording(&[(4000.0, 0.0)]), Marks::Braille, 10, 6).is_empty());
        assert!(spectrum_rows(&recording(&[(4000.0, 0.0)]), Marks::Braille, 60, 2).is_empty());
    }
}
