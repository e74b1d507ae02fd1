//! The help, made from the keymap.

use super::keymap::Place;
use super::keys::{Bound, Keymap};
use crate::present::text;
use crate::present::tone::{Row, Tone};

/// Columns of the keys.
const KEYS: usize = 18;

/// What cannot be seen from the keys alone.
const TYPING: &[&str] = &[
    "A plain key is data: everything typed goes into the field with the mark. Enter and Tab accept it and go on, so a \
     scale, a calliper or a scanner that ends its line with either can type for you.",
    "A value is a number with a point or a comma and, where you like, a unit: 31.105 g, 1 ozt, 480 gr, 38.6mm, \
     1.52 in, 61.2 MS/m, 105 %IACS, 23 C. Type the zeros that the instrument shows: they say how fine it reads.",
    "- means not measured. The serial, the temperature and the second and later spots may be left empty. = in the \
     serial field brings the letters of the last serial; a reading is never repeated.",
    "A serial that a scanner sends finds the serial field wherever you are, if it is on the packing list.",
    "The verdict appears with the piece: + clear, ? hold, x refuse. It rings once for hold and twice for refuse, and \
     once when an entry was not taken. It stays until you type the next piece.",
    "Everything accepted is on disk before the next key, and so is what is half typed.",
];

/// How a day is reviewed.
const REVIEWING: &[&str] = &[
    "Each row is a piece or a lot with an open doubt, the worst money first; pieces of a lot that look alike stand in one \
     row that Enter unfolds. The column `try first` names the method that settles most without damage: 1/2 means one \
     doubt of two, ~ that it only narrows what it could be, decide that no method helps.",
    "Test lists every method with the number why, before anybody spends time on it; what cannot tell stands last. Its \
     result scores the piece again and may close doubts by itself. What stays open is settled by a person, with a reason, \
     on a second test or without one; the record says which.",
    "Doubts that every piece of a lot shares are settled on a random sample: draw it, test its pieces, settle.",
    "A piece that is clear becomes stock only when somebody releases it. Space marks pieces; part with, release and their \
     reasons then concern all marked ones. Undo takes back the last act; a surrender is final.",
];

/// Returns the help for a place, `columns` wide.
pub fn rows(keymap: &Keymap, place: Place, columns: usize) -> Vec<Row> {
    let mut rows = Vec::new();
    let (acts, moves): (Vec<&Bound>, Vec<&Bound>) =
        keymap.valid_in(place).partition(|row| row.binding.footer > 0 || row.binding.palette);
    section(&mut rows, "Keys here", &acts, columns);
    let told = match place {
        Place::Bench | Place::Question => Some(("Typing", TYPING)),
        Place::Holds => Some(("Reviewing", REVIEWING)),
        _ => None,
    };
    if let Some((title, sentences)) = told {
        rows.push(Row::blank());
        rows.push(Row::of(Tone::Strong, title));
        for sentence in sentences {
            rows.extend(text::wrap(sentence, columns).into_iter().map(|line| Row::of(Tone::Plain, line)));
            rows.push(Row::blank());
        }
        rows.pop();
    }
    rows.push(Row::blank());
    section(&mut rows, "Moving about", &moves, columns);
    rows
}

/// Adds keys and sentences under a heading.
fn section(rows: &mut Vec<Row>, title: &str, bindings: &[&Bound], columns: usize) {
    rows.push(Row::of(Tone::Strong, title));
    let room = columns.saturating_sub(KEYS).max(1);
    for binding in bindings {
        for (index, line) in text::wrap(binding.binding.help, room).into_iter().enumerate() {
            let keys = if index == 0 { binding.keys_text() } else { String::new() };
            rows.push(Row::of(Tone::Accent, text::pad_end(&keys, KEYS.min(columns))).with(Tone::Plain, line));
        }
    }
}
