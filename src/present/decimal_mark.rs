//! The decimal mark of a desk in text that is shown: `27.21 g` or `27,21 g`.
//!
//! Texts are made, stored and written to files with a point. Where they go onto a screen of a desk that reads a comma, the
//! point of every number becomes one, and nothing else: versions, file names, dates and what stands between backticks, which
//! is a name or was typed, stay as they are.

use crate::desk::screen::DecimalMark;
use std::borrow::Cow;

/// Returns a text with its numbers in the mark of the desk. Every character keeps its place and width.
pub fn marked(text: &str, mark: DecimalMark) -> Cow<'_, str> {
    if mark == DecimalMark::Point || !text.contains('.') {
        return Cow::Borrowed(text);
    }
    let mut shown = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let end = if c == '`' {
            quoted(rest)
        } else {
            match word(rest) {
                0 => c.len_utf8(),
                end => {
                    shown.push_str(&with_comma(&rest[..end]));
                    rest = &rest[end..];
                    // A stroke that ended a word divides it from the next and begins no path.
                    if let Some(behind) = rest.strip_prefix('/') {
                        shown.push('/');
                        rest = behind;
                    }
                    continue;
                }
            }
        };
        shown.push_str(&rest[..end]);
        rest = &rest[end..];
    }
    Cow::Owned(shown)
}

/// Returns the end of what stands between backticks; without a second one, the end of the first.
fn quoted(text: &str) -> usize {
    text[1..].find('`').map_or(1, |length| length + 2)
}

/// Returns the end of the word at the start of a text: letters and digits with what joins them in names and paths.
fn word(text: &str) -> usize {
    let mut before: Option<char> = None;
    let mut chars = text.char_indices().peekable();
    while let Some((at, c)) = chars.next() {
        let next = chars.peek().map(|(_, next)| *next);
        let digits = before.is_some_and(|before| before.is_ascii_digit())
            && next.is_some_and(|next| next.is_ascii_digit());
        let joins = match c {
            _ if c.is_alphanumeric() => true,
            '_' | '\\' | '@' | '~' => true,
            // A point at the end of a sentence belongs to no word.
            '.' => next.is_some_and(char::is_alphanumeric),
            // Between digits these stand for `to`, `of` and `at`; elsewhere they join names and paths.
            '/' => !digits,
            '-' => before.is_some_and(char::is_alphabetic),
            ':' => digits,
            _ => false,
        };
        if !joins {
            return at;
        }
        before = Some(c);
    }
    text.len()
}

/// Turns the point of a word into a comma when the word is a number, with a unit right behind it or without.
fn with_comma(word: &str) -> Cow<'_, str> {
    let whole = word.bytes().take_while(u8::is_ascii_digit).count();
    let behind = word.get(whole + 1..).unwrap_or_default();
    let tenths = behind.bytes().take_while(u8::is_ascii_digit).count();
    let is_number = whole > 0
        && word.as_bytes().get(whole) == Some(&b'.')
        && tenths > 0
        && !behind.contains(['.', '_', '\\', '@', ':', '~']);
    if !is_number {
        return Cow::Borrowed(word);
    }
    Cow::Owned(format!("{},{behind}", &word[..whole]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, expected: &str) {
        assert_eq!(marked(text, DecimalMark::Comma), expected);
        assert_eq!(marked(text, DecimalMark::Point), text);
    }

    #[test]
    fn every_number_of_a_text_takes_the_comma() {
        check("27.21 g", "27,21 g");
        check("mass 33.905 ± 0.012 g (k = 2.0)", "mass 33,905 ± 0,012 g (k = 2,0)");
        check("-0.05 +0.05 ±0.5%", "-0,05 +0,05 ±0,5%");
        check("31.1-31.2 mm, 1.5/2.5", "31,1-31,2 mm, 1,5/2,5");
        check("0.0", "0,0");
        check("5.9kHz and 10.49g/cm³", "5,9kHz and 10,49g/cm³");
        check("k=2.0; [1.25;1.75]; (1.5)", "k=2,0; [1,25;1,75]; (1,5)");
        check("at most 999.9. Then 2.5.", "at most 999,9. Then 2,5.");
        check("1.2e-5", "1,2e-5");
        check("gold 916.7", "gold 916,7");
    }

    #[test]
    fn what_is_no_number_stays_as_it_is() {
        for text in [
            "version 0.1.0",
            "SQLite 3.51.3",
            "report-0.5.csv",
            "report-0.5",
            "v0.5",
            "day-2031.03.14.html",
            "14.03.2031",
            "/home/mira/1.5/list.csv",
            "~/1.5",
            "08:30:15.25",
            "S-0012/3-07",
            "127.0.0.1",
            "K 17.",
            "a.5",
            ".5",
            "12.",
            "...",
            "31 U.S.C. 5112(a)(7)",
            "mira@2.5",
            "list_1.5",
            "",
        ] {
            check(text, text);
        }
    }

    #[test]
    fn what_was_typed_or_is_a_name_stands_between_backticks_and_stays() {
        check("mass `27.21` is 3.1 times off", "mass `27.21` is 3,1 times off");
        check("`1.5` and `2.5`, 3.5", "`1.5` and `2.5`, 3,5");
        check("a lone ` before 1.5", "a lone ` before 1,5");
    }

    #[test]
    fn every_character_keeps_its_place() {
        for text in ["│ 1.5 │ ± 2.25 µm", "⠶⠶ 0.5 ⠶", "a\u{301}1.5 2.5"] {
            let shown = marked(text, DecimalMark::Comma);
            assert_eq!(shown.len(), text.len());
            assert_eq!(shown.replace(',', "."), text);
        }
    }
}
