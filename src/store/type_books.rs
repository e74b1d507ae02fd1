//! The type book: what released pieces measured, and the figures that assessments used.

use super::connection::{Reader, Writer};
use super::error::StoreError;
use super::row::{Id, count, id, word};
use crate::intake::{DecisionId, LotId, PieceId};
use crate::reference::ProductId;
use crate::scoring::{LotQuantity, Taught, TypeBookEntry};
use rusqlite::{OptionalExtension, Row};

/// What a released piece teaches.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NewTaught<'a> {
    /// The product of its lot.
    pub product: &'a ProductId,
    /// The piece.
    pub piece: PieceId,
    /// The decision that released it.
    pub decision: DecisionId,
    /// Its lot.
    pub lot: LotId,
    /// One of its values.
    pub entry: &'a TypeBookEntry,
}

/// How many released pieces taught a quantity with an instrument.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TaughtCount {
    /// The quantity.
    pub quantity: LotQuantity,
    /// The instrument.
    pub instrument: String,
    /// The pieces.
    pub pieces: u32,
}

/// The last rows that figures are learned from: the same rows give the same figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TypeBookStamp {
    value: i64,
    withdrawn: i64,
}

impl TypeBookStamp {
    /// Tells whether no piece of the product ever taught anything.
    pub fn is_empty(self) -> bool {
        self.value == 0
    }
}

impl Writer<'_> {
    /// Writes what a released piece teaches about a quantity.
    ///
    /// # Errors
    /// `Refused` for a piece that is not in stock by that decision.
    pub fn insert_taught(&self, new: &NewTaught<'_>) -> Result<(), StoreError> {
        let entry = new.entry;
        self.connection
            .prepare_cached(
                "INSERT INTO type_book_value (product, quantity, instrument, piece, decision, lot, value, repeatability,
                 step, shared, released_ms) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
            )?
            .execute((
                new.product.as_str(),
                entry.quantity.word(),
                &entry.instrument,
                new.piece.column(),
                new.decision.column(),
                new.lot.column(),
                entry.value.value(),
                entry.repeatability.value(),
                entry.step.value(),
                entry.shared.value(),
                self.at_ms(),
            ))?;
        Ok(())
    }

    /// Withdraws from the type book what a piece in stock taught, because it was found wrong after its release.
    ///
    /// Nothing happens for a piece that taught nothing or is withdrawn already. A release that is taken back is withdrawn by
    /// the book itself.
    ///
    /// # Errors
    /// What the database says.
    pub fn withdraw_taught(&self, piece: PieceId, reason: &str) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO type_book_withdrawn (decision, product, reason, at_ms, operator)
                 SELECT DISTINCT decision, product, ?2, ?3, ?4 FROM type_book_value WHERE decision = (
                     SELECT id FROM decision WHERE piece = ?1 AND kind = 'released' ORDER BY rowid DESC LIMIT 1)
                 AND NOT EXISTS (
                     SELECT 1 FROM type_book_withdrawn AS known WHERE known.decision = type_book_value.decision)",
            )?
            .execute((piece.column(), reason, self.at_ms(), &self.act.operator))?;
        Ok(())
    }

    /// Keeps figures that an assessment uses, with the last rows they were learned from.
    ///
    /// # Errors
    /// `Refused` for another text of a known version.
    pub fn keep_type_book(
        &self,
        product: &ProductId,
        version: &str,
        stamp: TypeBookStamp,
        text: &str,
    ) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO type_book_version (product, version, last_value, last_withdrawn, text, at_ms)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            )?
            .execute((product.as_str(), version, stamp.value, stamp.withdrawn, text, self.at_ms()))?;
        Ok(())
    }
}

/// Reads a value; the number of its lot is given by whoever knows the others.
fn taught(row: &Row<'_>) -> Result<(LotId, Taught), StoreError> {
    let quantity = word(row, "quantity", LotQuantity::named)?;
    let value = |column: &str| -> Result<_, StoreError> { Ok(quantity.value(row.get::<_, f64>(column)?)) };
    let entry = TypeBookEntry {
        quantity,
        instrument: row.get("instrument")?,
        value: value("value")?,
        repeatability: value("repeatability")?,
        step: value("step")?,
        shared: value("shared")?,
    };
    let taught = Taught { entry, lot: 0, source: row.get("source")?, released_ms: row.get("released_ms")? };
    Ok((id(row, "lot")?, taught))
}

impl Reader<'_> {
    /// Returns the last rows that the figures of a product are learned from.
    ///
    /// # Errors
    /// What the database says.
    pub fn type_book_stamp(&self, product: &ProductId) -> Result<TypeBookStamp, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT (SELECT coalesce(max(id), 0) FROM type_book_value WHERE product = ?1),
             (SELECT coalesce(max(id), 0) FROM type_book_withdrawn WHERE product = ?1)",
        )?;
        let stamp = statement.query_row([product.as_str()], |row| {
            Ok(TypeBookStamp { value: row.get(0)?, withdrawn: row.get(1)? })
        })?;
        Ok(stamp)
    }

    /// Returns the products about which some released piece taught something.
    ///
    /// # Errors
    /// What the database says.
    pub fn taught_products(&self) -> Result<Vec<ProductId>, StoreError> {
        let mut statement = self
            .connection
            .prepare_cached("SELECT DISTINCT product FROM type_book_total ORDER BY product")?;
        let rows =
            statement.query_and_then([], |row| word(row, "product", |text| Some(ProductId::new(text))))?;
        rows.collect()
    }

    /// Returns how many released pieces taught each quantity of a product with each instrument.
    ///
    /// # Errors
    /// What the database says.
    pub fn taught_counts(&self, product: &ProductId) -> Result<Vec<TaughtCount>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT quantity, instrument, pieces FROM type_book_total WHERE product = ?1 ORDER BY quantity, instrument",
        )?;
        let rows = statement.query_and_then([product.as_str()], |row| {
            Ok(TaughtCount {
                quantity: word(row, "quantity", LotQuantity::named)?,
                instrument: row.get("instrument")?,
                pieces: count(row, "pieces")?,
            })
        })?;
        rows.collect()
    }

    /// Returns what the last `most` released pieces taught about a quantity with an instrument, in the order of their release;
    /// lots are numbered in that order.
    ///
    /// # Errors
    /// What the database says.
    pub fn taught(
        &self,
        product: &ProductId,
        of: &TaughtCount,
        most: u32,
    ) -> Result<Vec<Taught>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT value.quantity, value.instrument, value.value, value.repeatability, value.step, value.shared,
                 value.lot, value.released_ms, shipment.source
             FROM type_book_value AS value JOIN lot ON lot.id = value.lot JOIN shipment ON shipment.id = lot.shipment
             WHERE value.product = ?1 AND value.quantity = ?2 AND value.instrument = ?3
             AND NOT EXISTS (SELECT 1 FROM type_book_withdrawn AS gone WHERE gone.decision = value.decision)
             ORDER BY value.id DESC LIMIT ?4",
        )?;
        let rows = statement
            .query_and_then((product.as_str(), of.quantity.word(), &of.instrument, most), taught)?
            .collect::<Result<Vec<_>, _>>()?;
        let mut lots: std::collections::HashMap<LotId, usize> = std::collections::HashMap::new();
        Ok(rows
            .into_iter()
            .rev()
            .map(|(lot, taught)| {
                let next = lots.len();
                Taught { lot: *lots.entry(lot).or_insert(next), ..taught }
            })
            .collect())
    }

    /// Returns the text of the figures that were kept last, when they were learned from the rows of the stamp.
    ///
    /// # Errors
    /// What the database says.
    pub fn type_book_in_force(
        &self,
        product: &ProductId,
        stamp: TypeBookStamp,
    ) -> Result<Option<String>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT text FROM type_book_version WHERE id = (SELECT max(id) FROM type_book_version WHERE product = ?1)
             AND last_value = ?2 AND last_withdrawn = ?3",
        )?;
        let row = (product.as_str(), stamp.value, stamp.withdrawn);
        Ok(statement.query_row(row, |row| row.get(0)).optional()?)
    }

    /// Returns the text of a version of the figures of a product.
    ///
    /// # Errors
    /// What the database says.
    pub fn type_book_version(
        &self,
        product: &ProductId,
        version: &str,
    ) -> Result<Option<String>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT text FROM type_book_version WHERE product = ?1 AND version = ?2 LIMIT 1",
        )?;
        Ok(statement.query_row((product.as_str(), version), |row| row.get(0)).optional()?)
    }
}
