//! The standard typefaces of a PDF: which characters they have and how wide each is.
//!
//! The typefaces are Helvetica and Helvetica Bold in the WinAnsi encoding, which every reader brings along; no
//! font goes into a file. A character that they lack is written by its nearest spelling or by its number, so that
//! nothing vanishes.
//!
//! # Source
//! Adobe Core 14 font metrics, files Helvetica.afm and Helvetica-Bold.afm; ISO 32000-1:2008, annex D.2 (WinAnsi
//! encoding); from memory, the widths checked against the metric-compatible Nimbus Sans.

use crate::report::binding::bound;

/// A typeface.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Face {
    /// Helvetica.
    Regular,
    /// Helvetica Bold.
    Bold,
}

/// Widths of the characters 0x20 to 0x7E, in thousandths of the size.
const REGULAR_LOW: [u16; 95] = [
    278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278, 556, 556, 556, 556, 556,
    556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556, 1015, 667, 667, 722, 722, 667, 611, 778, 722, 278,
    500, 667, 556, 833, 722, 778, 667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469,
    556, 333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556, 556, 556, 333, 500,
    278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584,
];
/// Widths of the characters 0x80 to 0xFF; the unused ones are bullets.
const REGULAR_HIGH: [u16; 128] = [
    556, 350, 222, 556, 333, 1000, 556, 556, 333, 1000, 667, 333, 1000, 350, 611, 350, 350, 222, 222, 333,
    333, 350, 556, 1000, 333, 1000, 500, 333, 944, 350, 500, 667, 278, 333, 556, 556, 556, 556, 260, 556,
    333, 737, 370, 556, 584, 333, 737, 333, 400, 584, 333, 333, 333, 556, 537, 278, 333, 333, 365, 556, 834,
    834, 834, 611, 667, 667, 667, 667, 667, 667, 1000, 722, 667, 667, 667, 667, 278, 278, 278, 278, 722, 722,
    778, 778, 778, 778, 778, 584, 778, 722, 722, 722, 722, 667, 667, 611, 556, 556, 556, 556, 556, 556, 889,
    500, 556, 556, 556, 556, 278, 278, 278, 278, 556, 556, 556, 556, 556, 556, 556, 584, 611, 556, 556, 556,
    556, 500, 556, 500,
];
/// Widths of the bold characters 0x20 to 0x7E.
const BOLD_LOW: [u16; 95] = [
    278, 333, 474, 556, 556, 889, 722, 238, 333, 333, 389, 584, 278, 333, 278, 278, 556, 556, 556, 556, 556,
    556, 556, 556, 556, 556, 333, 333, 584, 584, 584, 611, 975, 722, 722, 722, 722, 667, 611, 778, 722, 278,
    556, 722, 611, 833, 722, 778, 667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 333, 278, 333, 584,
    556, 333, 556, 611, 556, 611, 556, 333, 611, 611, 278, 278, 556, 278, 889, 611, 611, 611, 611, 389, 556,
    333, 611, 556, 778, 556, 556, 500, 389, 280, 389, 584,
];
/// Widths of the bold characters 0x80 to 0xFF.
const BOLD_HIGH: [u16; 128] = [
    556, 350, 278, 556, 500, 1000, 556, 556, 333, 1000, 667, 333, 1000, 350, 611, 350, 350, 278, 278, 500,
    500, 350, 556, 1000, 333, 1000, 556, 333, 944, 350, 500, 667, 278, 333, 556, 556, 556, 556, 280, 556,
    333, 737, 370, 556, 584, 333, 737, 333, 400, 584, 333, 333, 333, 611, 556, 278, 333, 333, 365, 556, 834,
    834, 834, 611, 722, 722, 722, 722, 722, 722, 1000, 722, 667, 667, 667, 667, 278, 278, 278, 278, 722, 722,
    778, 778, 778, 778, 778, 584, 778, 722, 722, 722, 722, 667, 667, 611, 556, 556, 556, 556, 556, 556, 889,
    556, 556, 556, 556, 556, 278, 278, 278, 278, 611, 611, 611, 611, 611, 611, 611, 584, 611, 611, 611, 611,
    611, 556, 611, 556,
];

/// The characters at 0x80 to 0x9F, a space where there is none.
const WINDOWS: [char; 32] = [
    '€', ' ', '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', ' ', 'Ž', ' ', ' ', '‘', '’', '“', '”',
    '•', '–', '—', '˜', '™', 'š', '›', 'œ', ' ', 'ž', 'Ÿ',
];

/// Returns a text in the WinAnsi encoding.
///
/// Signs that the typefaces lack become their nearest spelling (`≥` becomes `>=`), the minus sign becomes a
/// hyphen, spaces of any width become a space, and everything else is written by its number, such as `[U+4E2D]`.
/// Control characters become a space.
pub fn winansi(text: &str) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(text.len());
    for character in text.chars() {
        match character {
            ' '..='~' => bytes.push(character as u8),
            '\u{A0}' => bytes.push(b' '),
            '\u{AD}' | '\u{200B}'..='\u{200D}' | '\u{2060}' | '\u{FEFF}' => {}
            '\u{A1}'..='\u{FF}' => bytes.push(character as u32 as u8),
            _ => match WINDOWS.iter().position(|&known| known == character) {
                Some(index) => bytes.push(0x80 + index as u8),
                None => match spelling(character) {
                    Some(spelling) => bytes.extend(winansi(spelling)),
                    None if character.is_control() || character.is_whitespace() => bytes.push(b' '),
                    None => bytes.extend(format!("[U+{:04X}]", character as u32).bytes()),
                },
            },
        }
    }
    bytes
}

/// Returns how a sign that the typefaces lack is spelled.
fn spelling(character: char) -> Option<&'static str> {
    Some(match character {
        '−' | '‐' | '‑' | '‒' => "-",
        '≥' => ">=",
        '≤' => "<=",
        '≠' => "<>",
        '≈' | '∼' => "~",
        '→' => "->",
        '←' => "<-",
        '√' => "sqrt",
        '∞' => "infinite",
        '∅' | '⌀' => "ø",
        'Δ' => "Delta",
        'α' => "alpha",
        'β' => "beta",
        'δ' => "delta",
        'λ' => "lambda",
        '\u{3BC}' => "\u{B5}",
        'ν' => "nu",
        'π' => "pi",
        'ρ' => "rho",
        'σ' => "sigma",
        'τ' => "tau",
        'Φ' => "Phi",
        '\u{3A9}' | '\u{2126}' => "ohm",
        '′' => "'",
        '″' => "\"",
        '⁄' => "/",
        '⁴' => "^4",
        '⁻' => "^-",
        '₂' => "2",
        _ => return None,
    })
}

/// Returns the width of a WinAnsi text, in the unit of the size.
pub fn width_of_bytes(bytes: &[u8], face: Face, size: f64) -> f64 {
    let (low, high) = match face {
        Face::Regular => (&REGULAR_LOW, &REGULAR_HIGH),
        Face::Bold => (&BOLD_LOW, &BOLD_HIGH),
    };
    let width = |&byte: &u8| match byte {
        0x20..=0x7E => low[usize::from(byte - 0x20)],
        0x80..=0xFF => high[usize::from(byte - 0x80)],
        _ => 0,
    };
    bytes.iter().map(|byte| f64::from(width(byte))).sum::<f64>() * size / 1000.0
}

/// Returns the width of a text as it is written, in the unit of the size.
pub fn width(text: &str, face: Face, size: f64) -> f64 {
    width_of_bytes(&winansi(text), face, size)
}

/// Returns a text in lines that are no wider than `greatest`, in the unit of the size.
///
/// Lines break where the text has line breaks and at spaces, but not at no-break spaces nor between a number and its
/// unit; a word that is too wide breaks between characters.
/// There is at least one line, which may be empty.
pub fn wrap(text: &str, face: Face, size: f64, greatest: f64) -> Vec<String> {
    let mut lines = Vec::new();
    for paragraph in bound(text).lines() {
        let mut line = String::new();
        for word in paragraph.split(breakable).filter(|word| !word.is_empty()) {
            let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
            if width(&longer, face, size) <= greatest {
                line = longer;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            for character in word.chars() {
                line.push(character);
                if line.chars().nth(1).is_some() && width(&line, face, size) > greatest {
                    line.pop();
                    lines.push(std::mem::replace(&mut line, character.to_string()));
                }
            }
        }
        lines.push(line);
    }
    if lines.is_empty() {
        lines.push(String::new());
    }
    lines
}

/// Tells whether a line may break at a character: at white space, but not at a no-break space.
pub(crate) fn breakable(character: char) -> bool {
    character.is_whitespace() && !matches!(character, '\u{A0}' | '\u{202F}')
}

/// Returns a text that is no wider than `greatest`, with an ellipsis where its end is left out.
pub fn shortened(text: &str, face: Face, size: f64, greatest: f64) -> String {
    if width(text, face, size) <= greatest {
        return text.to_owned();
    }
    let mut kept = text.to_owned();
    while kept.pop().is_some() {
        let shorter = format!("{}…", kept.trim_end());
        if width(&shorter, face, size) <= greatest {
            return shorter;
        }
    }
    String::new()
}
