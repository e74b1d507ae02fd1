//! The grammar of a typed value: sign, digits, one `.` or `,`, digits, then an optional unit.
//!
//! No thousands marks, underscores or exponents: `1,234.5`, `1_000` and `1e3` are refused, never guessed. The text is
//! kept as typed, because its trailing zeros carry the resolution of the instrument.

use super::unit::{Quantity, Unit, divide_half_even};
use thiserror::Error;

/// Most digits a typed number may have.
const MOST_DIGITS: usize = 18;

/// A value as somebody or some instrument typed it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry<Q> {
    /// The value in its base integer, rounded once.
    pub value: Q,
    /// One unit of the last digit typed, in base integers; at least 1.
    pub step: i64,
    /// Symbol of the unit that was typed or assumed.
    pub unit: &'static str,
    /// The text as typed, without surrounding blanks and control characters.
    pub text: String,
}

impl<Q: Quantity> Entry<Q> {
    /// Returns the step of the last digit as a quantity.
    pub fn step(&self) -> Q {
        Q::from_base(self.step)
    }
}

/// What a field holds after somebody typed into it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Typed<Q> {
    /// Nothing at all.
    Nothing,
    /// `-`: deliberately not measured.
    NotMeasured,
    /// `=`: the last piece's value again.
    Repeat,
    /// A value.
    Value(Entry<Q>),
}

/// A typed value that does not follow the grammar, or is out of range.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum EntryError {
    /// Nothing was typed where a value is needed.
    #[error("{quantity} is empty; expected a number such as `{example}`")]
    Empty {
        /// What was expected.
        quantity: &'static str,
        /// A value that is accepted.
        example: String,
    },
    /// The text does not begin with a number of the grammar.
    #[error(
        "{quantity} `{found}` is not a number such as `{example}`: one decimal mark, no thousands marks, no exponents"
    )]
    NotANumber {
        /// What was expected.
        quantity: &'static str,
        /// What was typed.
        found: String,
        /// A value that is accepted.
        example: String,
    },
    /// The number has more digits than any instrument shows.
    #[error("{quantity} `{found}` has more than {most} digits")]
    TooManyDigits {
        /// What was expected.
        quantity: &'static str,
        /// What was typed.
        found: String,
        /// Most digits accepted.
        most: usize,
    },
    /// The unit is not one of the quantity's.
    #[error("{quantity} `{found}`: unit `{unit}` is not one of {allowed}")]
    UnknownUnit {
        /// What was expected.
        quantity: &'static str,
        /// What was typed.
        found: String,
        /// The unit that was typed.
        unit: String,
        /// The units that are accepted.
        allowed: String,
    },
    /// The unit has two meanings in the trade.
    #[error(
        "{quantity} `{found}`: `{unit}` has two meanings; write `ozt` for troy ounces of 31.1034768 g, or use grams"
    )]
    AmbiguousUnit {
        /// What was expected.
        quantity: &'static str,
        /// What was typed.
        found: String,
        /// The unit that was typed.
        unit: String,
    },
    /// The value is outside what the quantity can be on a receiving desk.
    #[error("{quantity} `{found}` is out of range; allowed is {least} to {greatest}")]
    OutOfRange {
        /// What was expected.
        quantity: &'static str,
        /// What was typed.
        found: String,
        /// Smallest value allowed, with unit.
        least: String,
        /// Largest value allowed, with unit.
        greatest: String,
    },
}

/// A number as typed: digits without the mark, and how many of them stand behind it.
pub(super) struct Number {
    pub mantissa: i128,
    pub decimals: u32,
}

/// Splits a text into the number of the grammar and the rest; `None` when it does not begin with one.
pub(super) fn split_number(text: &str) -> Option<(Number, usize, &str)> {
    let (negative, unsigned) = match text.as_bytes().first()? {
        b'-' => (true, &text[1..]),
        b'+' => (false, &text[1..]),
        _ => (false, text),
    };
    let whole = unsigned.bytes().take_while(u8::is_ascii_digit).count();
    let mut end = whole;
    let mut decimals = 0;
    if matches!(unsigned.as_bytes().get(whole), Some(b'.' | b',')) {
        decimals = unsigned[whole + 1..].bytes().take_while(u8::is_ascii_digit).count();
        end = whole + 1 + decimals;
    }
    let rest = &unsigned[end..];
    let exponent = matches!(rest.as_bytes(), [b'e' | b'E', b'+' | b'-' | b'0'..=b'9', ..]);
    let marks = matches!(rest.as_bytes().first(), Some(b'.' | b',' | b'_' | b'\'' | b'0'..=b'9'));
    // `12.` and `.5` show no digit where one belongs: a slipped key, not a number.
    let bare_mark = whole == 0 || (end > whole && decimals == 0);
    if bare_mark || exponent || marks {
        return None;
    }
    let digits = whole + decimals;
    if digits > MOST_DIGITS {
        return Some((Number { mantissa: 0, decimals: 0 }, digits, rest));
    }
    let mantissa = unsigned[..end]
        .bytes()
        .filter(u8::is_ascii_digit)
        .fold(0i128, |value, digit| value * 10 + i128::from(digit - b'0'));
    let mantissa = if negative { -mantissa } else { mantissa };
    Some((Number { mantissa, decimals: decimals as u32 }, digits, rest))
}

/// Removes control characters and outer blanks, as a pasted or scanned line may bring them.
pub fn clean(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).collect::<String>().trim().to_owned()
}

/// Tells whether a text is a number of the grammar without a unit, so that its meaning rests on the unit assumed.
pub fn is_bare(text: &str) -> bool {
    split_number(&clean(text)).is_some_and(|(_, _, rest)| rest.trim().is_empty())
}

/// Reads a value typed in the quantity's first unit or with a unit of its own.
///
/// # Errors
/// Every way in which a text can break the grammar or the quantity's range has its own variant of [`EntryError`].
pub fn parse<Q: Quantity>(text: &str) -> Result<Entry<Q>, EntryError> {
    parse_in(text, &Q::UNITS[0])
}

/// Reads a value typed in the given unit or with a unit of its own.
///
/// # Errors
/// As [`parse`].
pub fn parse_in<Q: Quantity>(text: &str, assumed: &'static Unit) -> Result<Entry<Q>, EntryError> {
    let text = clean(text);
    let example = || format!("{} {}", example_digits(Q::NAME), Q::UNITS[0].symbol);
    if text.is_empty() {
        return Err(EntryError::Empty { quantity: Q::NAME, example: example() });
    }
    let not_a_number =
        || EntryError::NotANumber { quantity: Q::NAME, found: text.clone(), example: example() };
    let (number, digits, rest) = split_number(&text).ok_or_else(not_a_number)?;
    if digits > MOST_DIGITS {
        return Err(EntryError::TooManyDigits { quantity: Q::NAME, found: text, most: MOST_DIGITS });
    }
    let spelling: String = rest.chars().filter(|c| !c.is_whitespace()).collect();
    let unit = if spelling.is_empty() {
        assumed
    } else if Q::NAME == "mass" && matches!(spelling.as_str(), "oz" | "OZ" | "Oz" | "ounce" | "ounces") {
        return Err(EntryError::AmbiguousUnit { quantity: Q::NAME, found: text, unit: spelling });
    } else {
        match Q::unit(&spelling) {
            Some(unit) => unit,
            None => {
                let allowed =
                    Q::UNITS.iter().map(|u| format!("`{}`", u.symbol)).collect::<Vec<_>>().join(", ");
                return Err(EntryError::UnknownUnit {
                    quantity: Q::NAME,
                    found: text.clone(),
                    unit: spelling,
                    allowed,
                });
            }
        }
    };
    let scale = 10i128.pow(number.decimals);
    let denominator = i128::from(unit.denominator) * scale;
    let numerator = number.mantissa * i128::from(unit.numerator) + i128::from(unit.offset) * scale;
    let base = divide_half_even(numerator, denominator);
    let in_range = i64::try_from(base).ok().filter(|base| (Q::LEAST..=Q::GREATEST).contains(base));
    let Some(base) = in_range else {
        return Err(EntryError::OutOfRange {
            quantity: Q::NAME,
            found: text,
            least: Q::from_base(Q::LEAST).show(0),
            greatest: Q::from_base(Q::GREATEST).show(0),
        });
    };
    let step = divide_half_even(i128::from(unit.numerator), denominator).max(1);
    Ok(Entry { value: Q::from_base(base), step: step as i64, unit: unit.symbol, text })
}

/// Reads a field of the bench or of an import: a value, nothing, `-` or `=`.
///
/// # Errors
/// As [`parse`].
pub fn parse_field<Q: Quantity>(text: &str, assumed: &'static Unit) -> Result<Typed<Q>, EntryError> {
    match clean(text).as_str() {
        "" => Ok(Typed::Nothing),
        "-" => Ok(Typed::NotMeasured),
        "=" => Ok(Typed::Repeat),
        text => parse_in(text, assumed).map(Typed::Value),
    }
}

/// Digits for an example of a quantity, so that an error shows the form that works.
fn example_digits(quantity: &str) -> &'static str {
    match quantity {
        "mass" => "31.10",
        "length" => "38.61",
        "conductivity" => "61.2",
        "temperature" => "21.5",
        "fineness" => "999.9",
        "frequency" => "60000",
        _ => "1.5",
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Conductivity, Frequency, Length, Mass, Temperature};
    use super::*;

    #[track_caller]
    fn mass(text: &str) -> i64 {
        parse::<Mass>(text).unwrap().value.base()
    }

    #[test]
    fn every_customary_mass_is_exact_in_nanograms() {
        // NIST SP 811 App. B.8: grain 64.79891 mg exactly; the others by their grains.
        assert_eq!(mass("1 gr"), 64_798_910);
        assert_eq!(mass("1 dwt"), 1_555_173_840);
        assert_eq!(mass("1 ozt"), 31_103_476_800);
        assert_eq!(mass("10 tola"), mass("3.75 ozt"));
        assert_eq!(mass("480 gr"), mass("1ozt"));
        assert_eq!(mass("31,105 g"), 31_105_000_000);
        assert_eq!(mass("1 kg"), 1_000_000_000_000);
    }

    #[test]
    fn conductivity_reads_both_scales() {
        // IEC 60028: 100 %IACS = 58 MS/m.
        assert_eq!(parse::<Conductivity>("100 %IACS").unwrap().value.base(), 58_000_000);
        assert_eq!(parse::<Conductivity>("105 % IACS").unwrap().value.base(), 60_900_000);
        assert_eq!(parse::<Conductivity>("61.2").unwrap().value.base(), 61_200_000);
        assert_eq!(parse::<Conductivity>("61,2ms/m").unwrap().value.base(), 61_200_000);
        assert!(matches!(parse::<Conductivity>("61.2 mS/m"), Err(EntryError::UnknownUnit { .. })));
        assert!(matches!(parse::<Conductivity>("61.2 S/mm"), Err(EntryError::UnknownUnit { .. })));
    }

    #[test]
    fn lengths_temperatures_and_frequencies_convert_exactly() {
        assert_eq!(parse::<Length>("1.52 in").unwrap().value.base(), 38_608_000);
        assert_eq!(parse::<Temperature>("68 F").unwrap().value.base(), 20_000_000);
        assert_eq!(parse::<Temperature>("293.15 K").unwrap().value.base(), 20_000_000);
        assert_eq!(parse::<Temperature>("-4,5 C").unwrap().value.base(), -4_500_000);
        assert_eq!(parse::<Frequency>("60kHz").unwrap().value.as_hertz(), 60_000.0);
    }

    #[test]
    fn the_last_digit_typed_is_the_step() {
        assert_eq!(parse::<Mass>("31.10").unwrap().step, 10_000_000);
        assert_eq!(parse::<Mass>("31.1").unwrap().step, 100_000_000);
        assert_eq!(parse::<Length>("1.520 in").unwrap().step, 25_400);
        assert_eq!(parse::<Conductivity>("105.5 %IACS").unwrap().step, 58_000);
    }

    #[test]
    fn what_looks_like_a_number_but_is_not_is_refused() {
        for text in [
            "1e3", "1_000", "1,234.5", "1.234,5", "1'000", "--1", "+", ".", "12.", ".5", "1 000", "g",
            "0x1f", "NaN", "∞",
        ] {
            assert!(parse::<Mass>(text).is_err(), "{text}");
        }
        assert!(matches!(parse::<Mass>("1 oz"), Err(EntryError::AmbiguousUnit { .. })));
        assert!(matches!(parse::<Mass>("-1 g"), Err(EntryError::OutOfRange { .. })));
        assert!(matches!(parse::<Mass>("1234567890123456789"), Err(EntryError::TooManyDigits { .. })));
        assert!(matches!(parse::<Mass>(""), Err(EntryError::Empty { .. })));
        assert!(matches!(parse::<Mass>("999999999 kg"), Err(EntryError::OutOfRange { .. })));
    }

    #[test]
    fn a_number_without_a_unit_is_bare() {
        for text in ["1", " 31,10 ", "+4.5", "1 "] {
            assert!(is_bare(text), "{text}");
        }
        for text in ["1 ozt", "31.10g", "-", "=", "", "abc", "1 2"] {
            assert!(!is_bare(text), "{text}");
        }
    }

    #[test]
    fn control_characters_never_reach_a_value() {
        assert_eq!(parse::<Mass>("\u{1b}31.10 g\r").unwrap().text, "31.10 g");
    }

    #[test]
    fn printing_rounds_the_stored_value_once() {
        // ISO 80000-1:2009 Annex B: 12.25 → 12.2 and 12.35 → 12.4 by rule A.
        assert_eq!(parse::<Mass>("12.25").unwrap().value.show(1), "12.2 g");
        assert_eq!(parse::<Mass>("12.35").unwrap().value.show(1), "12.4 g");
        assert_eq!(parse::<Mass>("1 ozt").unwrap().value.show(7), "31.1034768 g");
        assert_eq!(parse::<Temperature>("-0.04 C").unwrap().value.show(1), "0.0 C");
        let fahrenheit = Temperature::unit("F").unwrap();
        assert_eq!(parse::<Temperature>("20 C").unwrap().value.digits_in(fahrenheit, 1), "68.0");
    }
}
