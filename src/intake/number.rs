//! The short numbers people see: shipment `S-0012`, lot `S-0012/3`, piece `S-0012/3-07`.

use std::fmt;
use std::str::FromStr;
use thiserror::Error;

/// Number of a shipment, from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ShipmentNumber(pub u32);

/// Number of a lot: its shipment and its line on the packing list, from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LotNumber {
    /// The shipment.
    pub shipment: ShipmentNumber,
    /// The line.
    pub line: u32,
}

/// Number of a piece: its lot and its place in it, from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PieceNumber {
    /// The lot.
    pub lot: LotNumber,
    /// The place.
    pub piece: u32,
}

/// A text that is not one of the numbers.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("`{found}` is not a {kind} number such as `{example}`")]
pub struct NumberError {
    /// What was found.
    pub found: String,
    /// What was expected.
    pub kind: &'static str,
    /// A number that is accepted.
    pub example: &'static str,
}

impl fmt::Display for ShipmentNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "S-{:04}", self.0)
    }
}

impl fmt::Display for LotNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.shipment, self.line)
    }
}

impl fmt::Display for PieceNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}-{:02}", self.lot, self.piece)
    }
}

impl FromStr for ShipmentNumber {
    type Err = NumberError;
    fn from_str(text: &str) -> Result<Self, NumberError> {
        shipment(text.trim()).ok_or_else(|| NumberError {
            found: text.to_owned(),
            kind: "shipment",
            example: "S-0012",
        })
    }
}

impl FromStr for LotNumber {
    type Err = NumberError;
    fn from_str(text: &str) -> Result<Self, NumberError> {
        lot(text.trim()).ok_or_else(|| NumberError {
            found: text.to_owned(),
            kind: "lot",
            example: "S-0012/3",
        })
    }
}

impl FromStr for PieceNumber {
    type Err = NumberError;
    fn from_str(text: &str) -> Result<Self, NumberError> {
        piece(text.trim()).ok_or_else(|| NumberError {
            found: text.to_owned(),
            kind: "piece",
            example: "S-0012/3-07",
        })
    }
}

fn shipment(text: &str) -> Option<ShipmentNumber> {
    digits(text.strip_prefix("S-")?, 4).map(ShipmentNumber)
}

fn lot(text: &str) -> Option<LotNumber> {
    let (head, line) = text.split_once('/')?;
    Some(LotNumber { shipment: shipment(head)?, line: digits(line, 1)? })
}

fn piece(text: &str) -> Option<PieceNumber> {
    let (head, place) = text.rsplit_once('-')?;
    Some(PieceNumber { lot: lot(head)?, piece: digits(place, 2)? })
}

/// Reads a number above zero that is padded with zeros to `width` and no further.
fn digits(text: &str, width: usize) -> Option<u32> {
    let canonical = text.len() == width || (text.len() > width && !text.starts_with('0'));
    if !canonical || !text.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    text.parse().ok().filter(|number| *number > 0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn numbers_print_as_people_see_them() {
        let lot = LotNumber { shipment: ShipmentNumber(12), line: 3 };
        assert_eq!(PieceNumber { lot, piece: 7 }.to_string(), "S-0012/3-07");
        assert_eq!(PieceNumber { lot, piece: 107 }.to_string(), "S-0012/3-107");
        assert_eq!(ShipmentNumber(12345).to_string(), "S-12345");
    }

    #[test]
    fn anything_but_the_printed_form_is_refused() {
        for text in [
            "",
            "S-",
            "S-12",
            "s-0012",
            "S-00012",
            "S-0000",
            "S-0012/",
            "S-001２",
            "S-0012x",
            "0012",
            "S-99999999999",
        ] {
            assert!(text.parse::<ShipmentNumber>().is_err(), "{text}");
        }
        for text in ["S-0012", "S-0012/0", "S-0012/03", "S-0012/3/1", "S-0012/-3"] {
            assert!(text.parse::<LotNumber>().is_err(), "{text}");
        }
        for text in ["S-0012/3", "S-0012/3-7", "S-0012/3-00", "S-0012/3-007", "S-0012-07", "S-0012/3--7"] {
            assert!(text.parse::<PieceNumber>().is_err(), "{text}");
        }
        let error = "S-12".parse::<ShipmentNumber>().unwrap_err();
        assert_eq!(error.to_string(), "`S-12` is not a shipment number such as `S-0012`");
    }

    proptest! {
        #[test]
        fn what_is_printed_is_read_back(shipment in 1u32.., line in 1u32.., piece in 1u32..) {
            let number = PieceNumber { lot: LotNumber { shipment: ShipmentNumber(shipment), line }, piece };
            prop_assert_eq!(number.to_string().parse::<PieceNumber>(), Ok(number));
            prop_assert_eq!(number.lot.to_string().parse::<LotNumber>(), Ok(number.lot));
        }
    }
}
