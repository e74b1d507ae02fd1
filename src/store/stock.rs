//! Stock: what may be sold, with its value at release.

use super::connection::{Reader, Writer};
use super::controls::RECALL_IN_FORCE;
use super::error::StoreError;
use super::row::{Id, count, id, money, time, word};
use crate::intake::{AssessmentId, DecisionId, LotNumber, PieceId, PieceNumber, ShipmentNumber};
use crate::quantity::{Mass, Money, Quantity};
use crate::reference::ProductId;
use chrono::{DateTime, Utc};
use rusqlite::{Params, Row};

/// A piece in stock.
#[derive(Debug, Clone, PartialEq)]
pub struct StockRow {
    /// The piece.
    pub piece: PieceId,
    /// Number people see.
    pub number: PieceNumber,
    /// Source of the shipment.
    pub source: String,
    /// The product.
    pub product: ProductId,
    /// Serial in force.
    pub serial: Option<String>,
    /// Gross mass as weighed.
    pub gross: Option<Mass>,
    /// Fine mass.
    pub fine: Mass,
    /// Price of a troy ounce at release.
    pub price: Option<Money>,
    /// Value at release.
    pub value: Option<Money>,
    /// When it was released.
    pub released_at: DateTime<Utc>,
    /// Who released it.
    pub released_by: String,
    /// Why it has to come back, newest recall first; `None` for a piece that may be sold.
    pub recalled: Option<String>,
}

/// A piece that is to become stock.
#[derive(Debug, Clone, PartialEq)]
pub struct NewStock<'a> {
    /// The piece.
    pub piece: PieceId,
    /// The decision.
    pub decision: DecisionId,
    /// Fine mass.
    pub fine: Mass,
    /// Price of a troy ounce with the value that follows from it.
    pub worth: Option<(Money, Money)>,
    /// How fine mass and value were rounded.
    pub rounding_rule: &'a str,
    /// The assessment in force.
    pub assessment: AssessmentId,
}

const COLUMNS: &str = "SELECT stock.piece, shipment.number, shipment.source, lot.line, lot.product, piece.place, piece.serial,
    piece.fine_ng AS piece_fine_ng, stock_value.fine_ng, stock_value.price, stock_value.currency, stock_value.value,
    stock.released_ms, stock.released_by,
    (SELECT reading.base FROM reading WHERE reading.piece = stock.piece AND reading.measurand = 'mass'
        AND NOT EXISTS (SELECT 1 FROM reading AS later WHERE later.replaces = reading.id)) AS gross_ng";

/// Everything in stock in the order of the releases: the index is walked, so that the first rows are there at once.
const BY_RELEASE: &str = "stock INDEXED BY stock_day";

const LAST_FIRST: &str = "ORDER BY stock.released_ms DESC, shipment.number, lot.line, piece.place";

const BEHIND: &str = "CROSS JOIN piece ON piece.id = stock.piece CROSS JOIN lot ON lot.id = piece.lot
    CROSS JOIN shipment ON shipment.id = lot.shipment
    LEFT JOIN stock_value ON stock_value.decision = (
        SELECT id FROM decision WHERE decision.piece = stock.piece AND decision.kind = 'released'
        AND NOT EXISTS (SELECT 1 FROM decision AS later WHERE later.undoes = decision.id))";

fn stock_row(row: &Row<'_>) -> Result<StockRow, StoreError> {
    let shipment = ShipmentNumber(count(row, "number")?);
    let lot = LotNumber { shipment, line: count(row, "line")? };
    let fine: Option<i64> = row.get("fine_ng")?;
    Ok(StockRow {
        piece: id(row, "piece")?,
        number: PieceNumber { lot, piece: count(row, "place")? },
        source: row.get("source")?,
        product: word(row, "product", |text| Some(ProductId::new(text)))?,
        serial: row.get("serial")?,
        gross: row.get::<_, Option<i64>>("gross_ng")?.map(Mass::from_base),
        fine: Mass::from_base(fine.map_or_else(|| row.get("piece_fine_ng"), Ok)?),
        price: money(row, "price", "currency")?,
        value: money(row, "value", "currency")?,
        released_at: time(row, "released_ms")?,
        released_by: row.get("released_by")?,
        recalled: row.get("recalled")?,
    })
}

impl Writer<'_> {
    /// Writes a piece into stock, with its value.
    ///
    /// # Errors
    /// `Refused` past an open hold, before the holding period is over, and for a piece that left the desk.
    pub fn insert_stock(&self, new: &NewStock<'_>) -> Result<(), StoreError> {
        self.connection
            .prepare_cached("INSERT INTO stock (piece, released_ms, released_by) VALUES (?1, ?2, ?3)")?
            .execute((new.piece.column(), self.at_ms(), &self.act.operator))?;
        self.connection
            .prepare_cached(
                "INSERT INTO stock_value (decision, piece, fine_ng, price, currency, value, rounding_rule, assessment)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
            )?
            .execute((
                new.decision.column(),
                new.piece.column(),
                new.fine.base(),
                new.worth.map(|(price, _)| price.amount.to_string()),
                new.worth.map(|(price, _)| price.currency.to_string()),
                new.worth.map(|(_, value)| value.amount.to_string()),
                new.rounding_rule,
                new.assessment.column(),
            ))?;
        Ok(())
    }

    /// Takes a piece out of stock; the decision that does so stands already.
    ///
    /// # Errors
    /// `Refused` without that decision.
    pub fn take_back_stock(&self, piece: PieceId) -> Result<(), StoreError> {
        self.connection.prepare_cached("DELETE FROM stock WHERE piece = ?1")?.execute([piece.column()])?;
        Ok(())
    }
}

impl Reader<'_> {
    /// Returns everything in stock, released last first.
    ///
    /// # Errors
    /// What the database says.
    pub fn stock(&self) -> Result<Vec<StockRow>, StoreError> {
        self.select_stock(BY_RELEASE, LAST_FIRST, [])
    }

    /// Returns so many pieces in stock, released last first; the index of releases is walked, nothing else is read.
    ///
    /// # Errors
    /// What the database says.
    pub fn newest_stock(&self, most: u32) -> Result<Vec<StockRow>, StoreError> {
        self.select_stock(BY_RELEASE, &format!("{LAST_FIRST} LIMIT ?1"), [most])
    }

    /// Returns a piece in stock.
    ///
    /// # Errors
    /// What the database says.
    pub fn stock_of(&self, piece: PieceId) -> Result<Option<StockRow>, StoreError> {
        Ok(self.select_stock("stock", "WHERE stock.piece = ?1", [piece.column()])?.pop())
    }

    fn select_stock(&self, from: &str, rest: &str, params: impl Params) -> Result<Vec<StockRow>, StoreError> {
        let text = format!(
            "{COLUMNS}, (SELECT recall.text FROM recall WHERE recall.piece = stock.piece AND {RECALL_IN_FORCE}
                 ORDER BY recall.at_ms DESC LIMIT 1) AS recalled
             FROM {from} {BEHIND} {rest}"
        );
        let mut statement = self.connection.prepare_cached(&text)?;
        statement.query_and_then(params, stock_row)?.collect()
    }
}
