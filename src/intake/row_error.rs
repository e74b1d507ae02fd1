//! A row of an imported list that cannot be taken, with everything needed to mend it.

use crate::quantity::{EntryError, MoneyError};
use std::fmt;

/// One cell that cannot be taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RowError {
    /// Line of the file on which the row begins, from 1; the header is a line too.
    pub row: usize,
    /// Name of the column, as the file has it.
    pub column: String,
    /// What is there; empty when nothing is.
    pub found: String,
    /// What may be there.
    pub allowed: String,
    /// What helps to mend it.
    pub hint: Option<String>,
}

impl fmt::Display for RowError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "row {}, column `{}`: ", self.row, self.column)?;
        match self.found.as_str() {
            "" => write!(f, "found nothing")?,
            found => write!(f, "found `{found}`")?,
        }
        write!(f, ", allowed is {}", self.allowed)
    }
}

impl RowError {
    /// Makes the error of a cell without a hint.
    pub fn new(row: usize, column: &str, found: &str, allowed: impl Into<String>) -> Self {
        RowError {
            row,
            column: column.to_owned(),
            found: found.to_owned(),
            allowed: allowed.into(),
            hint: None,
        }
    }

    /// Adds a hint.
    pub fn with_hint(self, hint: impl Into<String>) -> Self {
        RowError { hint: Some(hint.into()), ..self }
    }

    /// Makes the error of a cell whose quantity breaks the grammar or its range.
    pub fn of_entry(row: usize, column: &str, found: &str, error: &EntryError) -> Self {
        let (allowed, hint) = match error {
            EntryError::Empty { quantity, example } => (format!("a {quantity} such as `{example}`"), None),
            EntryError::NotANumber { quantity, example, .. } => (
                format!("a {quantity} such as `{example}`"),
                Some("one decimal mark, no thousands marks, no exponents".to_owned()),
            ),
            EntryError::TooManyDigits { most, .. } => (format!("a number of at most {most} digits"), None),
            EntryError::UnknownUnit { allowed, .. } => {
                (format!("a value in one of the units {allowed}"), None)
            }
            EntryError::AmbiguousUnit { unit, .. } => (
                "a mass in `ozt` or `g`".to_owned(),
                Some(format!("`{unit}` has two meanings; a troy ounce is `ozt`, 31.1034768 g")),
            ),
            EntryError::OutOfRange { least, greatest, .. } => (format!("{least} to {greatest}"), None),
        };
        RowError { hint, ..RowError::new(row, column, found, allowed) }
    }

    /// Makes the error of a cell that is not an amount of money.
    pub fn of_money(row: usize, column: &str, found: &str, error: &MoneyError) -> Self {
        let allowed = match error {
            MoneyError::NotACurrency { .. } => "a currency of three letters such as `EUR`",
            MoneyError::NotAnAmount { .. } => "an amount such as `29.50` or `29.50 EUR`",
        };
        RowError::new(row, column, found, allowed)
    }
}
