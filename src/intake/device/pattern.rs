//! The pattern of a line: text as it is sent, with named places for what changes.
//!
//! A place is `{number}`, `{sign}`, `{unit}`, `{mark}` or `{any}`; `{unit?}` and `{mark?}` may be missing. A blank stands for
//! any run of blanks, none among them; everything else stands for itself. Each piece takes as much as it can and never
//! gives anything back, so that matching takes one pass and a pattern has one meaning.

use thiserror::Error;

/// Most pieces of a pattern.
const MOST_PIECES: usize = 40;
/// The places, as messages name them.
const PLACES: &str = "`{number}`, `{sign}`, `{unit}`, `{unit?}`, `{mark}`, `{mark?}`, `{any}`";

/// A pattern that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum PatternError {
    /// A brace that begins no place.
    #[error("pattern `{pattern}`: `{found}` is not a place; allowed are {PLACES}")]
    NotAPlace {
        /// The pattern.
        pattern: String,
        /// What begins with the brace.
        found: String,
    },
    /// A place that is there twice.
    #[error("pattern `{pattern}`: `{place}` is there twice; allowed is once")]
    Twice {
        /// The pattern.
        pattern: String,
        /// The place.
        place: &'static str,
    },
    /// A sign without a number after it.
    #[error(
        "pattern `{pattern}`: `{{sign}}` must stand right before `{{number}}`, with at most blanks between"
    )]
    SignAlone {
        /// The pattern.
        pattern: String,
    },
    /// Neither number nor mark.
    #[error("pattern `{pattern}` has neither `{{number}}` nor `{{mark}}`, so it says nothing")]
    SaysNothing {
        /// The pattern.
        pattern: String,
    },
    /// A unit without a number.
    #[error("pattern `{pattern}` has `{{unit}}` and no `{{number}}`")]
    UnitAlone {
        /// The pattern.
        pattern: String,
    },
    /// Longer than any line needs.
    #[error("pattern `{pattern}` has {found} pieces; allowed are at most {MOST_PIECES}")]
    TooLong {
        /// The pattern.
        pattern: String,
        /// How many pieces it has.
        found: usize,
    },
}

/// A piece of a pattern.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Piece {
    Literal(char),
    Blanks,
    Mark { optional: bool },
    Sign,
    Number,
    Unit { optional: bool },
    Any,
}

impl Piece {
    fn of_place(name: &str) -> Option<Self> {
        Some(match name {
            "{number}" => Piece::Number,
            "{sign}" => Piece::Sign,
            "{unit}" => Piece::Unit { optional: false },
            "{unit?}" => Piece::Unit { optional: true },
            "{mark}" => Piece::Mark { optional: false },
            "{mark?}" => Piece::Mark { optional: true },
            "{any}" => Piece::Any,
            _ => return None,
        })
    }

    /// Returns the name of a place that may be there once; `None` for the rest.
    fn once(self) -> Option<&'static str> {
        match self {
            Piece::Number => Some("{number}"),
            Piece::Sign => Some("{sign}"),
            Piece::Unit { .. } => Some("{unit}"),
            Piece::Mark { .. } => Some("{mark}"),
            Piece::Literal(_) | Piece::Blanks | Piece::Any => None,
        }
    }
}

/// A pattern of a line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LinePattern {
    text: String,
    pieces: Vec<Piece>,
}

/// What stands in the places of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Matched<'t> {
    /// The mark.
    pub mark: Option<&'t str>,
    /// Whether the sign is a minus.
    pub negative: bool,
    /// The digits with their decimal mark, as sent.
    pub number: Option<&'t str>,
    /// The unit as sent.
    pub unit: Option<&'t str>,
}

impl LinePattern {
    /// Reads a pattern.
    ///
    /// # Errors
    /// `PatternError` for braces that are no place, and for places that cannot stand so.
    pub fn parse(text: &str) -> Result<Self, PatternError> {
        let pattern = text.trim().to_owned();
        let mut pieces = Vec::new();
        let mut rest = pattern.as_str();
        while let Some(c) = rest.chars().next() {
            let mut length = c.len_utf8();
            let piece = match c {
                '{' | '}' => {
                    length = rest.find('}').map_or(rest.len(), |end| end + 1);
                    let found = &rest[..length];
                    Piece::of_place(found).ok_or_else(|| PatternError::NotAPlace {
                        found: found.to_owned(),
                        pattern: pattern.clone(),
                    })?
                }
                ' ' | '\t' => Piece::Blanks,
                c => Piece::Literal(c),
            };
            rest = &rest[length..];
            if let Some(place) = piece.once()
                && pieces.iter().any(|other: &Piece| other.once() == Some(place))
            {
                return Err(PatternError::Twice { pattern, place });
            }
            if piece != Piece::Blanks || pieces.last() != Some(&Piece::Blanks) {
                pieces.push(piece);
            }
        }
        let has = |place: &str| pieces.iter().any(|piece| piece.once() == Some(place));
        if !has("{number}") && has("{unit}") {
            return Err(PatternError::UnitAlone { pattern });
        }
        if let Some(sign) = pieces.iter().position(|piece| *piece == Piece::Sign) {
            let next = pieces[sign + 1..].iter().find(|piece| **piece != Piece::Blanks);
            if next != Some(&Piece::Number) {
                return Err(PatternError::SignAlone { pattern });
            }
        }
        if !has("{number}") && !has("{mark}") {
            return Err(PatternError::SaysNothing { pattern });
        }
        if pieces.len() > MOST_PIECES {
            return Err(PatternError::TooLong { found: pieces.len(), pattern });
        }
        Ok(LinePattern { text: pattern, pieces })
    }

    /// Returns the pattern as written.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Tells whether a line of this pattern can bring a number without a mark.
    pub(super) fn number_without_mark(&self) -> bool {
        self.pieces.contains(&Piece::Number) && !self.pieces.contains(&Piece::Mark { optional: false })
    }

    /// Tells whether a line of this pattern can bring a number without a unit.
    pub(super) fn number_without_unit(&self) -> bool {
        self.pieces.contains(&Piece::Number) && !self.pieces.contains(&Piece::Unit { optional: false })
    }

    /// Tells whether the pattern has a place for a mark.
    pub(super) fn takes_mark(&self) -> bool {
        self.pieces.iter().any(|piece| matches!(piece, Piece::Mark { .. }))
    }

    /// Matches a whole line, outer blanks aside; `None` when it has another form. `marks` are the words of the profile.
    pub(super) fn matches<'t>(&self, line: &'t str, marks: &[&str]) -> Option<Matched<'t>> {
        let mut found = Matched::default();
        let signed_apart = self.pieces.contains(&Piece::Sign);
        let mut rest = line.trim_matches([' ', '\t']);
        for (at, piece) in self.pieces.iter().enumerate() {
            let next = self.pieces.get(at + 1);
            let taken = match piece {
                Piece::Literal(c) => rest.starts_with(*c).then(|| c.len_utf8())?,
                Piece::Blanks => rest.len() - rest.trim_start_matches([' ', '\t']).len(),
                Piece::Sign => {
                    found.negative = rest.starts_with('-');
                    usize::from(rest.starts_with(['-', '+']))
                }
                Piece::Number => {
                    let sign = usize::from(!signed_apart && rest.starts_with(['-', '+']));
                    found.negative |= sign == 1 && rest.starts_with('-');
                    let length = number_length(&rest[sign..])?;
                    found.number = Some(&rest[sign..sign + length]);
                    sign + length
                }
                Piece::Mark { optional } => {
                    let length =
                        marks.iter().filter(|mark| rest.starts_with(**mark)).map(|mark| mark.len()).max();
                    found.mark = length.map(|length| &rest[..length]);
                    match length {
                        None if !optional => return None,
                        length => length.unwrap_or(0),
                    }
                }
                Piece::Unit { optional } => {
                    let length = unit_length(rest, next, marks);
                    if length == 0 && !optional {
                        return None;
                    }
                    found.unit = (length > 0).then(|| &rest[..length]);
                    length
                }
                Piece::Any => run_length(rest, next),
            };
            rest = &rest[taken..];
        }
        rest.is_empty().then_some(found)
    }
}

/// Returns the length of digits with at most one decimal mark between digits; `None` when no digit comes first.
fn number_length(text: &str) -> Option<usize> {
    let digits = |text: &str| text.bytes().take_while(u8::is_ascii_digit).count();
    let whole = digits(text);
    if whole == 0 {
        return None;
    }
    let fraction = match text.as_bytes().get(whole) {
        Some(b'.' | b',') => digits(&text[whole + 1..]),
        _ => 0,
    };
    Some(if fraction > 0 { whole + 1 + fraction } else { whole })
}

/// Returns the length of what is neither a blank nor the next piece's own character.
fn run_length(text: &str, next: Option<&Piece>) -> usize {
    let stops = |c: char| matches!(c, ' ' | '\t') || next == Some(&Piece::Literal(c));
    text.find(stops).unwrap_or(text.len())
}

/// Returns the length of a unit: a run that begins with no digit, sign or decimal mark, without a mark stuck to its end.
fn unit_length(text: &str, next: Option<&Piece>, marks: &[&str]) -> usize {
    if text.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '+' | '-' | '.' | ',')) {
        return 0;
    }
    let length = run_length(text, next);
    let run = &text[..length];
    let stuck = match next {
        Some(Piece::Mark { .. }) => {
            marks.iter().filter(|mark| run.ends_with(**mark)).map(|mark| mark.len()).max()
        }
        _ => None,
    };
    length - stuck.unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const MARKS: [&str; 5] = ["ok", "move", "high", "?", "-----"];

    #[track_caller]
    fn check(pattern: &str, line: &str, expected: Option<(&str, &str, &str)>) {
        let pattern = LinePattern::parse(pattern).unwrap();
        let found = pattern.matches(line, &MARKS).map(|found| {
            let sign = if found.negative { "-" } else { "" };
            let number = found.number.map_or(String::new(), |number| format!("{sign}{number}"));
            (found.mark.unwrap_or("").to_owned(), number, found.unit.unwrap_or("").to_owned())
        });
        let expected =
            expected.map(|(mark, number, unit)| (mark.to_owned(), number.to_owned(), unit.to_owned()));
        assert_eq!(found, expected, "{line}");
    }

    #[test]
    fn blanks_are_flexible_and_the_rest_stands_for_itself() {
        let pattern = "{mark} {sign} {number} {unit}";
        check(pattern, "ok +   31.10 g", Some(("ok", "31.10", "g")));
        check(pattern, "  ok31,10g ", Some(("ok", "31,10", "g")));
        check(pattern, "move - 0.04 g", Some(("move", "-0.04", "g")));
        check(pattern, "ok 31.10", None);
        check(pattern, "well 31.10 g", None);
        check(pattern, "ok 31.10 g x", None);
        check("W1:{number}{unit};{mark}", "W1:31.10g;ok", Some(("ok", "31.10", "g")));
        check("W1:{number}{unit};{mark}", "W2:31.10g;ok", None);
        check("{any},{number} {unit?}", "A-7,61.9", Some(("", "61.9", "")));
    }

    #[test]
    fn a_number_is_taken_whole_or_not_at_all() {
        check("{number} {unit?}", "1,234.5 g", None);
        check("{number} {unit?}", "12. g", None);
        check("{number} {unit?}", ".5 g", None);
        check("{number} {unit?}", "1 000 g", None);
        check("{number} {unit?}", "--1 g", None);
        check("{number} {unit?}", "-1 g", Some(("", "-1", "g")));
        check("{number},{mark}", "31,ok", Some(("ok", "31", "")));
    }

    #[test]
    fn a_mark_may_be_missing_or_stick_to_the_unit() {
        check("{number} {unit}{mark?}", "31.10 g?", Some(("?", "31.10", "g")));
        check("{number} {unit}{mark?}", "31.10 g", Some(("", "31.10", "g")));
        check("{mark}", "-----", Some(("-----", "", "")));
    }

    #[test]
    fn a_pattern_that_cannot_be_meant_is_refused() {
        let refused = |text: &str| LinePattern::parse(text).unwrap_err().to_string();
        assert_eq!(
            refused("{numbr} g"),
            "pattern `{numbr} g`: `{numbr}` is not a place; allowed are `{number}`, `{sign}`, `{unit}`, `{unit?}`, \
             `{mark}`, `{mark?}`, `{any}`"
        );
        assert!(refused("{number").contains("`{number` is not a place"));
        assert!(refused("{mark} {mark?}").contains("twice"));
        assert!(refused("{sign} g {number}").contains("right before"));
        assert!(refused("{any}").contains("says nothing"));
        assert!(refused("").contains("says nothing"));
        assert!(refused("{mark} {unit}").contains("no `{number}`"));
    }

    proptest! {
        #[test]
        fn any_pattern_and_any_line_end_without_panic(pattern in "(\\{number\\}|\\{sign\\}|\\{unit\\??\\}|\\{mark\\??\\}|\\{any\\}| |,|µ|x){0,8}", line in "\\PC{0,60}") {
            if let Ok(pattern) = LinePattern::parse(&pattern) {
                let _ = pattern.matches(&line, &MARKS);
            }
            let _ = LinePattern::parse(&line);
        }
    }
}
