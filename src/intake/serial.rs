//! Serial numbers: kept as typed, compared without regard to case.

use crate::quantity::entry::clean;
use std::fmt;
use thiserror::Error;

/// Most characters a serial may have.
const MOST_CHARACTERS: usize = 40;

/// A serial number of a piece: 1 to 40 printable characters without blanks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Serial {
    text: String,
    key: String,
}

/// A text that is not a serial number.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("serial `{found}` is not one of 1 to {MOST_CHARACTERS} characters without blanks")]
pub struct SerialError {
    /// What was found.
    pub found: String,
}

impl SerialError {
    /// Says what may be there.
    pub fn allowed(&self) -> String {
        format!("a serial of 1 to {MOST_CHARACTERS} characters without blanks")
    }
}

impl Serial {
    /// Reads a serial as typed or scanned; control characters and outer blanks are dropped.
    ///
    /// # Errors
    /// `SerialError` when nothing is left, when it is too long or has a blank inside.
    pub fn parse(text: &str) -> Result<Self, SerialError> {
        let text = clean(text);
        let length = text.chars().count();
        if length == 0 || length > MOST_CHARACTERS || text.chars().any(char::is_whitespace) {
            return Err(SerialError { found: text });
        }
        Ok(Serial { key: text.to_uppercase(), text })
    }

    /// Returns the serial as typed.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Returns the form by which serials are compared: upper case.
    pub fn key(&self) -> &str {
        &self.key
    }
}

impl fmt::Display for Serial {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

/// Reads serials separated by blanks; returns the good ones and the errors of the others.
pub fn read_serials(text: &str) -> (Vec<Serial>, Vec<SerialError>) {
    let mut good = Vec::new();
    let mut bad = Vec::new();
    for part in text.split_whitespace() {
        match Serial::parse(part) {
            Ok(serial) => good.push(serial),
            Err(error) => bad.push(error),
        }
    }
    (good, bad)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn serials_keep_their_text_and_compare_without_case() {
        let (good, bad) = read_serials(" ab-001  =SUM(A1)\tX");
        assert!(bad.is_empty());
        assert_eq!(good.iter().map(Serial::text).collect::<Vec<_>>(), ["ab-001", "=SUM(A1)", "X"]);
        assert_eq!(good[0].key(), "AB-001");
    }

    #[test]
    fn blanks_and_escape_sequences_do_not_get_in() {
        assert_eq!(Serial::parse("\u{1b}A1\r").unwrap().text(), "A1");
        assert!(Serial::parse("A 1").is_err());
        assert!(Serial::parse("\u{1b}").is_err());
        assert!(Serial::parse(&"9".repeat(41)).is_err());
    }
}
