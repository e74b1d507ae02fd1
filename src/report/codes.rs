//! QR codes and Code 128 as dark and light modules.
//!
//! # Source
//! ISO/IEC 18004:2015 (QR, quiet zone 4 modules); ISO/IEC 15417:2007 (Code 128, quiet zone 10 modules); from
//! memory.

use qrcode::{EcLevel, QrCode};

/// Light modules around a QR code.
pub const QR_QUIET: usize = 4;
/// Light modules before and after a Code 128.
pub const BAR_QUIET: usize = 10;
/// Most characters of a Code 128 on a label.
pub const MOST_CHARACTERS: usize = 48;

/// Why a text cannot be coded.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CodeError {
    /// Nothing to code.
    #[error("code has 0 characters, allowed are 1 to {most}")]
    Empty {
        /// Most characters.
        most: usize,
    },
    /// A character that Code 128 has not.
    #[error(
        "`{text}` has the character `{found}`, allowed in a bar code are letters, digits and signs of ASCII"
    )]
    Character {
        /// The character.
        found: char,
        /// The whole text.
        text: String,
    },
    /// Too many characters.
    #[error("`{text}` has {found} characters, allowed are 1 to {most}")]
    TooLong {
        /// Number of characters, or of bytes in a QR code.
        found: usize,
        /// Most of them.
        most: usize,
        /// The whole text.
        text: String,
    },
}

/// A QR code without its quiet zone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct QrModules {
    /// Modules in a row.
    pub size: usize,
    /// Dark or not, row by row.
    pub dark: Vec<bool>,
}

/// Returns the modules of a QR code that can be read with about 15 % of it damaged (level M).
///
/// # Errors
/// [`CodeError::Empty`] and [`CodeError::TooLong`]; at most 2,331 bytes fit.
pub fn qr(text: &str) -> Result<QrModules, CodeError> {
    const MOST: usize = 2_331;
    if text.is_empty() {
        return Err(CodeError::Empty { most: MOST });
    }
    let too_long = |_| CodeError::TooLong { found: text.len(), most: MOST, text: text.to_owned() };
    let code = QrCode::with_error_correction_level(text, EcLevel::M).map_err(too_long)?;
    let dark = code.to_colors().into_iter().map(|color| color == qrcode::Color::Dark).collect();
    Ok(QrModules { size: code.width(), dark })
}

/// Returns the modules of a Code 128, dark or not, without quiet zones.
///
/// Printable ASCII only, at most 48 characters. Runs of digits are coded in pairs where that is shorter.
///
/// # Errors
/// One variant of [`CodeError`] for each reason.
pub fn code128(text: &str) -> Result<Vec<bool>, CodeError> {
    if text.is_empty() {
        return Err(CodeError::Empty { most: MOST_CHARACTERS });
    }
    if let Some(found) = text.chars().find(|character| !matches!(character, ' '..='~')) {
        return Err(CodeError::Character { found, text: text.to_owned() });
    }
    if text.len() > MOST_CHARACTERS {
        return Err(CodeError::TooLong { found: text.len(), most: MOST_CHARACTERS, text: text.to_owned() });
    }
    let code = barcoders::sym::code128::Code128::new(with_sets(text))
        .expect("printable ASCII with digits in pairs is always a Code 128");
    Ok(code.encode().into_iter().map(|module| module == 1).collect())
}

/// Returns a text with the signs by which the encoder is told the code set: `Ɓ` for set B, `Ć` for pairs of digits.
///
/// Pairs pay off from four digits on at either end, from six within.
fn with_sets(text: &str) -> String {
    let characters: Vec<char> = text.chars().collect();
    let (mut coded, mut in_pairs) = (String::new(), false);
    let mut index = 0;
    while index < characters.len() {
        let digits = characters[index..].iter().take_while(|character| character.is_ascii_digit()).count();
        let at_end = index == 0 || index + digits == characters.len();
        if digits >= if at_end { 4 } else { 6 } {
            let odd = digits % 2;
            // The odd digit stays outside the pairs: the last one at the start, else the first one.
            if odd == 1 && index > 0 {
                coded.push(characters[index]);
            }
            let from = index + if index > 0 { odd } else { 0 };
            coded.push('Ć');
            coded.extend(&characters[from..from + digits - odd]);
            in_pairs = true;
            if odd == 1 && index == 0 {
                coded.push('Ɓ');
                coded.push(characters[digits - 1]);
                in_pairs = false;
            }
            index += digits;
            continue;
        }
        if in_pairs || coded.is_empty() {
            coded.push('Ɓ');
            in_pairs = false;
        }
        let run = digits.max(1);
        coded.extend(&characters[index..index + run]);
        index += run;
    }
    coded
}
