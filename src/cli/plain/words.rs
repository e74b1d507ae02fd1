//! The words of `scruple plain`: what a line means when it is not a value.

/// What a line asks for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Word {
    Help,
    Lots,
    Open(String),
    Fields,
    Back,
    Clear,
    Score,
    Keep(String),
    Probe(Option<String>),
    Holds,
    Piece(String),
    Correct {
        piece: String,
        field: String,
        value: String,
        reason: String,
    },
    Hold {
        piece: String,
        reason: String,
    },
    TakeBack {
        piece: String,
        reason: String,
    },
    Void {
        piece: String,
        reason: String,
    },
    Undo,
    Quit,
    /// A word that was begun and not ended: how it is written.
    Unfinished(&'static str),
}

/// Each word with how it is written and what it does, in the order of the help.
pub(super) const WORDS: [(&str, &str, &str); 17] = [
    ("lots", "lots", "every lot, with what is logged"),
    ("open", "open S-0001/1", "begins to log into a lot"),
    ("fields", "fields", "what is typed so far for the piece in hand"),
    ("back", "back", "asks for the field before again"),
    ("keep", "keep the coin is bent", "keeps a value that is far off, with the reason"),
    ("score", "score", "scores and saves the piece with what was measured so far"),
    ("clear", "clear all", "empties the half-filled piece"),
    ("probe", "probe flat", "takes another probe; alone it lists them"),
    ("holds", "holds", "everything that is on hold"),
    ("piece", "piece S-0001/1-02", "everything about a piece"),
    (
        "correct",
        "correct S-0001/1-02 mass 33.95 because it was mistyped",
        "corrects a reading or the serial of a piece, with the reason",
    ),
    ("hold", "hold S-0001/1-02 because the rim looks filed", "puts a piece on hold"),
    ("unhold", "unhold S-0001/1-02 because it is a hair", "takes back a hold that a person set"),
    ("void", "void S-0001/1-02 because it was logged twice", "voids a piece that was logged by mistake"),
    ("undo", "undo", "takes back your own last act"),
    ("help", "help", "these words"),
    ("quit", "quit", "ends; what is half filled is kept"),
];

/// Returns the word that a line is; `None` when it is a value.
///
/// Where a serial is asked for, only a line with a leading `/` is a word: a serial may look like anything.
pub(super) fn word(line: &str, serial_asked: bool) -> Option<Word> {
    let line = match line.strip_prefix('/') {
        Some(rest) => rest.trim_start(),
        None if serial_asked => return None,
        None => line,
    };
    let (first, rest) = line.split_once(char::is_whitespace).unwrap_or((line, ""));
    let rest = rest.trim();
    let lower = first.to_ascii_lowercase();
    let written = WORDS.iter().find(|(word, ..)| *word == lower).map(|(_, written, _)| *written)?;
    let unfinished = Word::Unfinished(written);
    let alone = |word: Word| if rest.is_empty() { word } else { Word::Unfinished(written) };
    let with = |make: fn(String) -> Word| match rest {
        "" => Word::Unfinished(written),
        rest => make(rest.to_owned()),
    };
    Some(match lower.as_str() {
        "help" => alone(Word::Help),
        "lots" => alone(Word::Lots),
        "open" => with(Word::Open),
        "fields" => alone(Word::Fields),
        "back" => alone(Word::Back),
        "clear" if rest == "all" => Word::Clear,
        "score" => alone(Word::Score),
        "keep" => with(Word::Keep),
        "probe" => Word::Probe(Some(rest.to_owned()).filter(|name| !name.is_empty())),
        "holds" => alone(Word::Holds),
        "piece" => with(Word::Piece),
        "undo" => alone(Word::Undo),
        "quit" => alone(Word::Quit),
        "correct" => correction(rest).unwrap_or(unfinished),
        "hold" => because(rest).map_or(unfinished, |(piece, reason)| Word::Hold { piece, reason }),
        "unhold" => because(rest).map_or(unfinished, |(piece, reason)| Word::TakeBack { piece, reason }),
        "void" => because(rest).map_or(unfinished, |(piece, reason)| Word::Void { piece, reason }),
        _ => unfinished,
    })
}

/// Reads `PIECE because REASON`.
fn because(text: &str) -> Option<(String, String)> {
    let (what, reason) = text.split_once(" because ")?;
    let (what, reason) = (what.trim(), reason.trim());
    (!what.is_empty() && !reason.is_empty()).then(|| (what.to_owned(), reason.to_owned()))
}

/// Reads `PIECE FIELD VALUE because REASON`; a spot is part of the field, as in `conductivity 2`.
fn correction(text: &str) -> Option<Word> {
    let (what, reason) = because(text)?;
    let (piece, rest) = what.split_once(char::is_whitespace)?;
    let (first, rest) = rest.trim().split_once(char::is_whitespace)?;
    let rest = rest.trim();
    let (field, value) = match (first.to_ascii_lowercase().as_str(), rest.split_once(char::is_whitespace)) {
        // Without a spot, the first one.
        ("conductivity", Some((spot, value)))
            if spot.parse::<u8>().is_ok_and(|spot| spot < 10) && !is_unit(value) =>
        {
            (format!("conductivity {spot}"), value.trim())
        }
        ("conductivity", _) => ("conductivity 1".to_owned(), rest),
        (field, _) => (field.to_owned(), rest),
    };
    let piece = piece.to_owned();
    (!value.is_empty()).then(|| Word::Correct { piece, field, value: value.to_owned(), reason })
}

/// Tells whether a text begins as a unit does: then the number before it is the value and no spot.
fn is_unit(text: &str) -> bool {
    text.trim_start().starts_with(|c: char| c.is_alphabetic() || c == '%')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(line: &str, expected: Option<Word>) {
        assert_eq!(word(line, false), expected, "{line}");
    }

    fn corrected(field: &str, value: &str) -> Option<Word> {
        Some(Word::Correct {
            piece: "S-0001/1-02".to_owned(),
            field: field.to_owned(),
            value: value.to_owned(),
            reason: "it was mistyped".to_owned(),
        })
    }

    #[test]
    fn a_value_is_no_word_and_a_word_is_no_value() {
        check("33.95 g", None);
        check("-", None);
        check("lots", Some(Word::Lots));
        check("LOTS", Some(Word::Lots));
        check("open S-0001/1", Some(Word::Open("S-0001/1".to_owned())));
        check("open", Some(Word::Unfinished("open S-0001/1")));
        check("clear", Some(Word::Unfinished("clear all")));
        check("quit now", Some(Word::Unfinished("quit")));
        check("opening", None);
    }

    #[test]
    fn where_a_serial_is_asked_for_a_word_needs_a_slash() {
        assert_eq!(word("undo", true), None);
        assert_eq!(word("/undo", true), Some(Word::Undo));
    }

    #[test]
    fn a_correction_names_piece_field_value_and_reason() {
        check("correct S-0001/1-02 mass 33.95 g because it was mistyped", corrected("mass", "33.95 g"));
        check(
            "correct S-0001/1-02 conductivity 2 11.2 because it was mistyped",
            corrected("conductivity 2", "11.2"),
        );
        check(
            "correct S-0001/1-02 conductivity 11.2 MS/m because it was mistyped",
            corrected("conductivity 1", "11.2 MS/m"),
        );
        check(
            "correct S-0001/1-02 conductivity 9 MS/m because it was mistyped",
            corrected("conductivity 1", "9 MS/m"),
        );
        check("correct S-0001/1-02 mass 33.95", Some(Word::Unfinished(WORDS[10].1)));
    }

    #[test]
    fn every_word_of_the_help_is_understood_as_it_is_written() {
        for (name, written, _) in WORDS {
            let found = word(written, false).unwrap_or_else(|| panic!("{name}"));
            assert!(!matches!(found, Word::Unfinished(_)), "{name}: {found:?}");
        }
    }
}
