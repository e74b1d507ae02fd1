//! Small conversions between columns and types.

use super::error::StoreError;
use crate::intake::{
    AssessmentId, ControlId, DecisionId, HoldId, LotId, PieceId, ReadingId, SampleId, SecondTestId,
    ShipmentId,
};
use crate::quantity::{Currency, Money};
use crate::scoring::Standing;
use chrono::{DateTime, Utc};
use rusqlite::Row;

/// An identity that the book keeps as 16 bytes.
pub(super) trait Id: Sized {
    fn from_row(bytes: [u8; 16]) -> Self;
    fn column(&self) -> &[u8];
}

macro_rules! ids {
    ($($name:ident),+) => {
        $(impl Id for $name {
            fn from_row(bytes: [u8; 16]) -> Self {
                $name::from_bytes(bytes)
            }
            fn column(&self) -> &[u8] {
                self.bytes()
            }
        })+
    };
}
ids!(
    ControlId,
    ShipmentId,
    LotId,
    PieceId,
    ReadingId,
    HoldId,
    AssessmentId,
    SecondTestId,
    DecisionId,
    SampleId
);

/// Reads an identity.
pub(super) fn id<T: Id>(row: &Row<'_>, column: &str) -> rusqlite::Result<T> {
    row.get::<_, [u8; 16]>(column).map(T::from_row)
}

/// Reads an identity that may be absent.
pub(super) fn maybe_id<T: Id>(row: &Row<'_>, column: &str) -> rusqlite::Result<Option<T>> {
    row.get::<_, Option<[u8; 16]>>(column).map(|bytes| bytes.map(T::from_row))
}

/// Reads a time kept in milliseconds.
pub(super) fn time(row: &Row<'_>, column: &'static str) -> Result<DateTime<Utc>, StoreError> {
    let ms: i64 = row.get(column)?;
    DateTime::from_timestamp_millis(ms).ok_or(StoreError::Strange { column, found: ms.to_string() })
}

/// Reads an amount of money; `None` when there is none.
pub(super) fn money(
    row: &Row<'_>,
    amount: &'static str,
    currency: &'static str,
) -> Result<Option<Money>, StoreError> {
    let (Some(text), Some(code)) =
        (row.get::<_, Option<String>>(amount)?, row.get::<_, Option<String>>(currency)?)
    else {
        return Ok(None);
    };
    let currency =
        Currency::parse(&code).map_err(|_| StoreError::Strange { column: currency, found: code })?;
    Money::parse(&text, currency).map(Some).map_err(|_| StoreError::Strange { column: amount, found: text })
}

/// Reads a standing.
pub(super) fn standing(row: &Row<'_>, column: &'static str) -> Result<Standing, StoreError> {
    word(row, column, Standing::named)
}

/// Reads a word by the function that knows its words.
pub(super) fn word<T>(
    row: &Row<'_>,
    column: &'static str,
    named: impl FnOnce(&str) -> Option<T>,
) -> Result<T, StoreError> {
    let found: String = row.get(column)?;
    named(&found).ok_or(StoreError::Strange { column, found })
}

/// Reads a count.
pub(super) fn count(row: &Row<'_>, column: &'static str) -> Result<u32, StoreError> {
    let found: i64 = row.get(column)?;
    u32::try_from(found).map_err(|_| StoreError::Strange { column, found: found.to_string() })
}
