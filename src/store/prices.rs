//! Prices of the metals; a new price is a new row.

use super::connection::{Reader, Writer};
use super::error::StoreError;
use super::row::{money, time, word};
use crate::quantity::Money;
use crate::reference::Metal;
use chrono::{DateTime, Utc};
use rusqlite::Row;

/// A price in the book.
#[derive(Debug, Clone, PartialEq)]
pub struct PriceRow {
    /// The metal.
    pub metal: Metal,
    /// Price of one troy ounce of the fine metal.
    pub per_troy_ounce: Money,
    /// When it was entered.
    pub at: DateTime<Utc>,
}

fn price_row(row: &Row<'_>) -> Result<PriceRow, StoreError> {
    Ok(PriceRow {
        metal: word(row, "metal", Metal::from_word)?,
        per_troy_ounce: money(row, "per_troy_ounce", "currency")?
            .ok_or_else(|| StoreError::Strange { column: "price.per_troy_ounce", found: String::new() })?,
        at: time(row, "at_ms")?,
    })
}

impl Writer<'_> {
    /// Writes a price.
    ///
    /// # Errors
    /// What the database says.
    pub fn insert_price(&self, metal: Metal, per_troy_ounce: Money) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO price (metal, per_troy_ounce, currency, at_ms, operator) VALUES (?1, ?2, ?3, ?4, ?5)",
            )?
            .execute((
                metal.as_str(),
                per_troy_ounce.amount.to_string(),
                per_troy_ounce.currency.code(),
                self.at_ms(),
                &self.act.operator,
            ))?;
        Ok(())
    }
}

impl Reader<'_> {
    /// Returns the last price of each metal, in the order of their names.
    ///
    /// # Errors
    /// What the database says.
    pub fn prices(&self) -> Result<Vec<PriceRow>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT metal, per_troy_ounce, currency, at_ms FROM price
             WHERE id IN (SELECT max(id) FROM price GROUP BY metal) ORDER BY metal",
        )?;
        statement.query_and_then([], price_row)?.collect()
    }

    /// Returns the price of a metal that was the last one at a moment, with who entered it.
    ///
    /// # Errors
    /// What the database says.
    pub fn price_at(
        &self,
        metal: Metal,
        at: DateTime<Utc>,
    ) -> Result<Option<(PriceRow, String)>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT metal, per_troy_ounce, currency, at_ms, operator FROM price
             WHERE metal = ?1 AND at_ms <= ?2 ORDER BY id DESC LIMIT 1",
        )?;
        let mut rows = statement.query((metal.as_str(), at.timestamp_millis()))?;
        rows.next()?.map(|row| Ok((price_row(row)?, row.get("operator")?))).transpose()
    }

    /// Returns the last price of a metal.
    ///
    /// # Errors
    /// What the database says.
    pub fn price(&self, metal: Metal) -> Result<Option<PriceRow>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT metal, per_troy_ounce, currency, at_ms FROM price WHERE metal = ?1 ORDER BY id DESC LIMIT 1",
        )?;
        statement.query_and_then([metal.as_str()], price_row)?.next().transpose()
    }
}
