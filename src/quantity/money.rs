//! Amounts of money: a decimal and an ISO 4217 currency code, never mixed with another currency.

use super::entry::{clean, split_number};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use std::fmt;
use thiserror::Error;

/// Largest count of hundredths that a binary floating number holds exactly.
const EXACT_CENTS: f64 = 9e15;

/// A currency by its three-letter code.
///
/// # Source
/// ISO 4217: three upper-case Latin letters. Any such code is accepted; the list of codes in force is not kept here.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Currency([u8; 3]);

impl Currency {
    /// Reads a code of three letters, in either case.
    ///
    /// # Errors
    /// `NotACurrency` when the text is anything else.
    pub fn parse(text: &str) -> Result<Self, MoneyError> {
        let text = clean(text);
        match text.to_ascii_uppercase().as_bytes() {
            &[a, b, c] if [a, b, c].iter().all(u8::is_ascii_uppercase) => Ok(Currency([a, b, c])),
            _ => Err(MoneyError::NotACurrency { found: text }),
        }
    }

    /// Returns the code.
    pub fn code(&self) -> &str {
        std::str::from_utf8(&self.0).expect("a currency holds ASCII letters only")
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

impl Serialize for Currency {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.code())
    }
}

impl<'de> Deserialize<'de> for Currency {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Currency::parse(&text).map_err(serde::de::Error::custom)
    }
}

/// An amount of one currency, exact.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Money {
    /// The amount in the currency's main unit.
    pub amount: Decimal,
    /// The currency.
    pub currency: Currency,
}

/// A text that is not an amount of money.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum MoneyError {
    /// The currency is not three letters.
    #[error("currency `{found}` is not a three-letter code such as `EUR`")]
    NotACurrency {
        /// What was typed.
        found: String,
    },
    /// The amount does not follow the grammar of typed values.
    #[error(
        "amount `{found}` is not a number such as `29.50`: one decimal mark, no thousands marks, no exponents"
    )]
    NotAnAmount {
        /// What was typed.
        found: String,
    },
}

impl Money {
    /// Reads `29.50` or `29,50 EUR`; without a code the given currency is meant.
    ///
    /// # Errors
    /// `NotAnAmount` or `NotACurrency`, naming what was typed.
    pub fn parse(text: &str, assumed: Currency) -> Result<Self, MoneyError> {
        let text = clean(text);
        let not_an_amount = || MoneyError::NotAnAmount { found: text.clone() };
        let (number, digits, rest) = split_number(&text).ok_or_else(not_an_amount)?;
        if digits > 18 {
            return Err(not_an_amount());
        }
        let amount = Decimal::try_from_i128_with_scale(number.mantissa, number.decimals)
            .map_err(|_| not_an_amount())?;
        let currency = if rest.trim().is_empty() { assumed } else { Currency::parse(rest)? };
        Ok(Money { amount, currency })
    }

    /// Makes an amount from a binary floating number, rounded half to even to two decimals, for estimates only.
    ///
    /// A value that is not finite becomes the largest decimal.
    pub fn estimate(value: f64, currency: Currency) -> Self {
        let cents = (value * 100.0).round_ties_even();
        let amount = if cents.abs() <= EXACT_CENTS {
            // Whole numbers of a float are exact; one of the currency's unit is shown without decimals.
            let cents = cents as i64;
            if cents % 100 == 0 { Decimal::from(cents / 100) } else { Decimal::new(cents, 2) }
        } else {
            Decimal::from_f64_retain(value).unwrap_or(Decimal::MAX).round_dp(2)
        };
        Money { amount, currency }
    }

    /// Returns the amount as a binary floating number, for comparisons with estimates only.
    pub fn as_f64(self) -> f64 {
        use rust_decimal::prelude::ToPrimitive;
        self.amount.to_f64().unwrap_or(f64::INFINITY)
    }
}

impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.amount, self.currency)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_are_decimal_and_keep_their_zeros() {
        let eur = Currency::parse("eur").unwrap();
        assert_eq!(Money::parse("29,50", eur).unwrap().to_string(), "29.50 EUR");
        assert_eq!(Money::parse("1.005 USD", eur).unwrap().to_string(), "1.005 USD");
        assert!(Money::parse("1,000.00", eur).is_err());
        assert!(Money::parse("1e3", eur).is_err());
        assert!(Currency::parse("E").is_err());
    }
}
