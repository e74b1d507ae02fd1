//! Shipments and their lots, with the running totals of each lot.

use super::connection::{Reader, Writer};
use super::error::StoreError;
use super::row::{Id, count, id, money, time, word};
use crate::intake::{LotId, LotNumber, PackingLine, PieceId, Serial, ShipmentId, ShipmentNumber};
use crate::quantity::{Entry, Fineness, Mass, Money, Quantity};
use crate::reference::ProductId;
use crate::scoring::SourcePast;
use chrono::{DateTime, Utc};
use rusqlite::{OptionalExtension, Params, Row};

/// A shipment in the book.
#[derive(Debug, Clone, PartialEq)]
pub struct ShipmentRow {
    /// Identity.
    pub id: ShipmentId,
    /// Number people see.
    pub number: ShipmentNumber,
    /// Who sent it.
    pub source: String,
    /// When it was taken in.
    pub received_at: DateTime<Utc>,
}

/// A lot in the book.
#[derive(Debug, Clone, PartialEq)]
pub struct LotRow {
    /// Identity.
    pub id: LotId,
    /// The shipment it belongs to.
    pub shipment: ShipmentId,
    /// Number people see.
    pub number: LotNumber,
    /// Source of the shipment.
    pub source: String,
    /// The product declared.
    pub product: ProductId,
    /// Pieces on the packing list.
    pub expected: u32,
    /// Places given out so far, voided pieces included.
    pub places: u32,
    /// Pieces logged, voided ones not counted.
    pub logged: u32,
    /// Of these, clear; those released among them.
    pub clear: u32,
    /// Of these, on hold and still here.
    pub hold: u32,
    /// Of these, refused and still here.
    pub refuse: u32,
    /// Of these, released to stock.
    pub released: u32,
    /// Of these, sent back.
    pub sent_back: u32,
    /// Of these, surrendered.
    pub surrendered: u32,
    /// Open doubts of the lot itself.
    pub lot_doubts: u32,
    /// Fine mass of the pieces logged.
    pub fine: Mass,
    /// Fine mass of the pieces still at the desk.
    pub fine_here: Mass,
    /// Price paid for one piece.
    pub unit_cost: Option<Money>,
}

/// A lot that is to be written.
#[derive(Debug, Clone, PartialEq)]
pub struct NewLot {
    /// Identity.
    pub id: LotId,
    /// Line of the packing list.
    pub line: u32,
    /// The product declared.
    pub product: ProductId,
    /// Pieces on the packing list.
    pub expected: u32,
    /// Mass of one piece as declared.
    pub declared_mass: Option<Entry<Mass>>,
    /// Fineness as declared.
    pub declared_fineness: Option<Entry<Fineness>>,
    /// Price paid for one piece.
    pub unit_cost: Option<Money>,
    /// Serials declared.
    pub serials: Vec<Serial>,
}

impl NewLot {
    /// Makes a lot of a line of a packing list.
    pub fn of_line(id: LotId, line: PackingLine) -> Self {
        NewLot {
            id,
            line: line.line,
            product: line.product,
            expected: line.quantity,
            declared_mass: line.declared_mass,
            declared_fineness: line.declared_fineness,
            unit_cost: line.unit_cost,
            serials: line.serials,
        }
    }
}

pub(super) const LOT: &str =
    "SELECT lot.id, lot.shipment, shipment.number, shipment.source, lot.line, lot.product, lot.expected,
    lot.places, lot.logged, lot_total.clear + lot_total.released AS clear, lot_total.hold, lot_total.refuse,
    lot.lot_doubts, lot.fine_ng, lot.unit_cost, lot.unit_cost_currency,
    lot_total.released, lot_total.sent_back, lot_total.surrendered,
    lot_total.clear_ng + lot_total.hold_ng + lot_total.refuse_ng AS here_ng
    FROM lot JOIN shipment ON shipment.id = lot.shipment JOIN lot_total ON lot_total.lot = lot.id";

pub(super) fn shipment_row(row: &Row<'_>) -> Result<ShipmentRow, StoreError> {
    Ok(ShipmentRow {
        id: id(row, "id")?,
        number: ShipmentNumber(count(row, "number")?),
        source: row.get("source")?,
        received_at: time(row, "received_ms")?,
    })
}

fn lot_row(row: &Row<'_>) -> Result<LotRow, StoreError> {
    let shipment = ShipmentNumber(count(row, "number")?);
    Ok(LotRow {
        id: id(row, "id")?,
        shipment: id(row, "shipment")?,
        number: LotNumber { shipment, line: count(row, "line")? },
        source: row.get("source")?,
        product: word(row, "product", |text| Some(ProductId::new(text)))?,
        expected: count(row, "expected")?,
        places: count(row, "places")?,
        logged: count(row, "logged")?,
        clear: count(row, "clear")?,
        hold: count(row, "hold")?,
        refuse: count(row, "refuse")?,
        released: count(row, "released")?,
        sent_back: count(row, "sent_back")?,
        surrendered: count(row, "surrendered")?,
        lot_doubts: count(row, "lot_doubts")?,
        fine: Mass::from_base(row.get("fine_ng")?),
        fine_here: Mass::from_base(row.get("here_ng")?),
        unit_cost: money(row, "unit_cost", "unit_cost_currency")?,
    })
}

impl Writer<'_> {
    /// Returns the number that the next shipment gets.
    ///
    /// # Errors
    /// What the database says.
    pub fn next_shipment_number(&self) -> Result<ShipmentNumber, StoreError> {
        let last: i64 = self
            .connection
            .prepare_cached("SELECT coalesce(max(number), 0) FROM shipment")?
            .query_row([], |row| row.get(0))?;
        let next = u32::try_from(last + 1);
        next.map(ShipmentNumber)
            .map_err(|_| StoreError::Strange { column: "number", found: last.to_string() })
    }

    /// Writes a shipment without lots.
    ///
    /// # Errors
    /// What the database says.
    pub fn insert_shipment(
        &self,
        id: ShipmentId,
        number: ShipmentNumber,
        source: &str,
    ) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO shipment (id, number, source, received_ms, operator) VALUES (?1, ?2, ?3, ?4, ?5)",
            )?
            .execute((id.column(), number.0, source, self.at_ms(), &self.act.operator))?;
        Ok(())
    }

    /// Writes a lot with the serials its line declares.
    ///
    /// # Errors
    /// What the database says.
    pub fn insert_lot(&self, shipment: ShipmentId, lot: &NewLot) -> Result<(), StoreError> {
        let mass = lot.declared_mass.as_ref();
        let fineness = lot.declared_fineness.as_ref();
        let cost = lot.unit_cost;
        self.connection
            .prepare_cached(
                "INSERT INTO lot (id, shipment, line, product, expected,
                 declared_mass_ng, declared_mass_step_ng, declared_mass_unit, declared_mass_text,
                 declared_fineness_ppb, declared_fineness_step_ppb, declared_fineness_unit, declared_fineness_text,
                 unit_cost, unit_cost_currency)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)",
            )?
            .execute((
                lot.id.column(),
                shipment.column(),
                lot.line,
                lot.product.as_str(),
                lot.expected,
                mass.map(|entry| entry.value.base()),
                mass.map(|entry| entry.step),
                mass.map(|entry| entry.unit),
                mass.map(|entry| entry.text.as_str()),
                fineness.map(|entry| entry.value.base()),
                fineness.map(|entry| entry.step),
                fineness.map(|entry| entry.unit),
                fineness.map(|entry| entry.text.as_str()),
                cost.map(|cost| cost.amount.to_string()),
                cost.map(|cost| cost.currency.to_string()),
            ))?;
        let mut serials = self.connection.prepare_cached(
            "INSERT INTO expected_serial (lot, serial_key, serial, position) VALUES (?1, ?2, ?3, ?4)",
        )?;
        for (position, serial) in (1i64..).zip(&lot.serials) {
            serials.execute((lot.id.column(), serial.key(), serial.text(), position))?;
        }
        Ok(())
    }

    /// Ties a piece to the serial of the packing list that it carries, and unties the one it had before; a serial that
    /// another piece of the lot bears too goes over to that piece.
    ///
    /// # Errors
    /// What the database says.
    pub fn tie_serial(&self, lot: LotId, piece: PieceId, serial: Option<&Serial>) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "UPDATE expected_serial SET piece = (
                     SELECT other.id FROM piece AS other
                     WHERE other.lot = expected_serial.lot AND other.serial_key = expected_serial.serial_key
                       AND other.state <> 'voided' AND other.id <> ?1
                     ORDER BY other.place LIMIT 1)
                 WHERE piece = ?1",
            )?
            .execute([piece.column()])?;
        if let Some(serial) = serial {
            self.connection
                .prepare_cached(
                    "UPDATE expected_serial SET piece = ?1 WHERE lot = ?2 AND serial_key = ?3 AND piece IS NULL",
                )?
                .execute((piece.column(), lot.column(), serial.key()))?;
        }
        Ok(())
    }
}

impl Reader<'_> {
    /// Counts what became of the pieces of a source in shipments before a number.
    ///
    /// # Errors
    /// What the database says.
    pub fn source_past(&self, source: &str, before: u32) -> Result<SourcePast, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT total(lot_total.released) AS released, total(lot_total.refuse + lot_total.surrendered) AS refused,
             total(lot_total.sent_back) AS sent_back
             FROM shipment JOIN lot ON lot.shipment = shipment.id JOIN lot_total ON lot_total.lot = lot.id
             WHERE shipment.source = ?1 AND shipment.number < ?2",
        )?;
        let count = |row: &Row<'_>, column: &str| row.get::<_, f64>(column).map(|count| count as u32);
        Ok(statement.query_row((source, before), |row| {
            Ok(SourcePast {
                released: count(row, "released")?,
                refused: count(row, "refused")?,
                sent_back: count(row, "sent_back")?,
            })
        })?)
    }

    /// Returns every shipment, newest first.
    ///
    /// # Errors
    /// What the database says.
    pub fn shipments(&self) -> Result<Vec<ShipmentRow>, StoreError> {
        let mut statement = self
            .connection
            .prepare_cached("SELECT id, number, source, received_ms FROM shipment ORDER BY number DESC")?;
        statement.query_and_then([], shipment_row)?.collect()
    }

    /// Returns the shipment with a number.
    ///
    /// # Errors
    /// What the database says.
    pub fn shipment_by_number(&self, number: ShipmentNumber) -> Result<Option<ShipmentRow>, StoreError> {
        let mut statement = self
            .connection
            .prepare_cached("SELECT id, number, source, received_ms FROM shipment WHERE number = ?1")?;
        statement.query_and_then([number.0], shipment_row)?.next().transpose()
    }

    /// Returns a shipment.
    ///
    /// # Errors
    /// What the database says.
    pub fn shipment(&self, shipment: ShipmentId) -> Result<Option<ShipmentRow>, StoreError> {
        let mut statement = self
            .connection
            .prepare_cached("SELECT id, number, source, received_ms FROM shipment WHERE id = ?1")?;
        statement.query_and_then([shipment.column()], shipment_row)?.next().transpose()
    }

    /// Returns the lots of every shipment, in the order of shipments and lines.
    ///
    /// # Errors
    /// What the database says.
    pub fn lots(&self) -> Result<Vec<LotRow>, StoreError> {
        self.select_lots("ORDER BY shipment.number, lot.line", [])
    }

    /// Returns the lots of a shipment in the order of its lines.
    ///
    /// # Errors
    /// What the database says.
    pub fn lots_of(&self, shipment: ShipmentId) -> Result<Vec<LotRow>, StoreError> {
        self.select_lots("WHERE lot.shipment = ?1 ORDER BY lot.line", [shipment.column()])
    }

    /// Returns a lot.
    ///
    /// # Errors
    /// What the database says.
    pub fn lot(&self, lot: LotId) -> Result<Option<LotRow>, StoreError> {
        Ok(self.select_lots("WHERE lot.id = ?1", [lot.column()])?.pop())
    }

    pub(super) fn select_lots(&self, rest: &str, params: impl Params) -> Result<Vec<LotRow>, StoreError> {
        let mut statement = self.connection.prepare_cached(&format!("{LOT} {rest}"))?;
        statement.query_and_then(params, lot_row)?.collect()
    }

    /// Returns the serials that lines declare and no piece carries yet, in the order of the list; of one lot, or of all.
    ///
    /// # Errors
    /// What the database says.
    pub fn open_serials(&self, lot: Option<LotId>) -> Result<Vec<(LotId, String)>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT lot, serial FROM expected_serial WHERE piece IS NULL AND (?1 IS NULL OR lot = ?1)
             ORDER BY lot, position",
        )?;
        let rows = statement
            .query_map([lot.map(|lot| *lot.bytes())], |row| Ok((id(row, "lot")?, row.get("serial")?)))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Returns how many serials a line declares, and whether one of them is the given.
    ///
    /// # Errors
    /// What the database says.
    pub fn declared_serials(&self, lot: LotId, serial: Option<&Serial>) -> Result<(u32, bool), StoreError> {
        let declared: u32 = self
            .connection
            .prepare_cached("SELECT count(*) FROM expected_serial WHERE lot = ?1")?
            .query_row([lot.column()], |row| row.get(0))?;
        let listed = self
            .connection
            .prepare_cached("SELECT 1 FROM expected_serial WHERE lot = ?1 AND serial_key = ?2")?
            .query_row((lot.column(), serial.map(Serial::key)), |_| Ok(()))
            .optional()?;
        Ok((declared, listed.is_some()))
    }
}
