//! Controls of instruments, those withdrawn among them, and recalls. Insert-only.

use super::connection::{Reader, Writer};
use super::error::StoreError;
use super::row::{Id, count, id, time, word};
use crate::evidence::control::ControlReason;
use crate::evidence::{Measurand, Probe};
use crate::intake::{ControlId, LotNumber, PieceId, PieceNumber, ShipmentNumber};
use crate::quantity::{Quantity, Temperature};
use crate::reference::ProductId;
use chrono::{DateTime, Utc};
use rusqlite::{OptionalExtension, Params, Row};

/// A control in the book.
#[derive(Debug, Clone, PartialEq)]
pub struct ControlRow {
    /// Identity.
    pub id: ControlId,
    /// The instrument.
    pub instrument: String,
    /// The reference piece.
    pub reference: String,
    /// What was read: mass, length or conductivity.
    pub measurand: Measurand,
    /// Name of the probe, for a conductivity.
    pub probe: Option<String>,
    /// Why it was taken.
    pub reason: ControlReason,
    /// The text as typed.
    pub text: String,
    /// Temperature of the piece.
    pub temperature: Option<Temperature>,
    /// The value compared, in base integers.
    pub compared: i64,
    /// Its expanded uncertainty, k = 2.
    pub expanded: i64,
    /// The assigned value.
    pub assigned: i64,
    /// Its expanded uncertainty, k = 2.
    pub assigned_expanded: i64,
    /// E_n.
    pub e_n: f64,
    /// Whether it passed.
    pub passed: bool,
    /// What it came to, in words.
    pub finding: String,
    /// Version of the register.
    pub instruments: String,
    /// The desk's distance from UTC at the time, in minutes.
    pub offset_min: i32,
    /// When it was taken.
    pub at: DateTime<Utc>,
    /// Who took it.
    pub operator: String,
    /// Why it was withdrawn, if it was.
    pub withdrawn: Option<String>,
}

/// A control that is to be written.
#[derive(Debug, Clone, PartialEq)]
pub struct NewControl<'a> {
    /// The row; instrument, reference and everything else but the fields below.
    pub row: &'a ControlRow,
    /// The probe as it is now.
    pub probe: Option<&'a Probe>,
    /// The value as shown with one step of its last digit, in base integers.
    pub shown: (i64, i64),
    /// Unit as typed.
    pub unit: &'a str,
    /// Temperature as typed.
    pub temperature_text: Option<&'a str>,
}

/// A piece in stock whose readings a failed control voided.
#[derive(Debug, Clone, PartialEq)]
pub struct RecallRow {
    /// The piece.
    pub piece: PieceId,
    /// Number people see.
    pub number: PieceNumber,
    /// The product.
    pub product: ProductId,
    /// Serial in force.
    pub serial: Option<String>,
    /// The control.
    pub control: ControlId,
    /// Why, in words.
    pub text: String,
    /// When it was recalled.
    pub at: DateTime<Utc>,
    /// When it had been released.
    pub released_at: DateTime<Utc>,
}

/// What tells a recall in force, where `stock` and `recall` are of one piece: it was not released again since, and the control
/// that voided its readings was not withdrawn.
pub(super) const RECALL_IN_FORCE: &str = "stock.released_ms <= recall.at_ms
    AND NOT EXISTS (SELECT 1 FROM control_withdrawn WHERE control_withdrawn.control = recall.control)";

const CONTROL: &str =
    "SELECT control.id, control.instrument, control.reference, control.measurand, probe.name AS probe,
    control.reason, control.text, control.temperature, control.compared, control.expanded, control.assigned,
    control.assigned_expanded, control.e_n, control.outcome, control.finding, control.instruments,
    control.offset_min, control.at_ms, control.operator, control_withdrawn.reason AS withdrawn
    FROM control LEFT JOIN probe ON probe.id = control.probe
    LEFT JOIN control_withdrawn ON control_withdrawn.control = control.id";

/// What of the controls counts: all that are not withdrawn, or those that were known at a moment.
const COUNTS: &str = "(?4 IS NULL OR control.id < ?4)
    AND (control_withdrawn.control IS NULL OR (?5 IS NOT NULL AND control_withdrawn.at_ms > ?5))";

fn control_row(row: &Row<'_>) -> Result<ControlRow, StoreError> {
    let passed = |word: &str| match word {
        "passed" => Some(true),
        "failed" => Some(false),
        _ => None,
    };
    Ok(ControlRow {
        id: id(row, "id")?,
        instrument: row.get("instrument")?,
        reference: row.get("reference")?,
        measurand: word(row, "measurand", Measurand::named)?,
        probe: row.get("probe")?,
        reason: word(row, "reason", ControlReason::named)?,
        text: row.get("text")?,
        temperature: row.get::<_, Option<i64>>("temperature")?.map(Temperature::from_base),
        compared: row.get("compared")?,
        expanded: row.get("expanded")?,
        assigned: row.get("assigned")?,
        assigned_expanded: row.get("assigned_expanded")?,
        e_n: row.get("e_n")?,
        passed: word(row, "outcome", passed)?,
        finding: row.get("finding")?,
        instruments: row.get("instruments")?,
        offset_min: row.get("offset_min")?,
        at: time(row, "at_ms")?,
        operator: row.get("operator")?,
        withdrawn: row.get("withdrawn")?,
    })
}

impl Writer<'_> {
    /// Writes a control.
    ///
    /// # Errors
    /// What the database says.
    pub fn insert_control(&self, new: &NewControl<'_>) -> Result<(), StoreError> {
        let row = new.row;
        let probe = new.probe.map(|probe| self.probe_number(probe)).transpose()?;
        self.connection
            .prepare_cached(
                "INSERT INTO control (id, instrument, reference, measurand, probe, reason, base, step, unit, text,
                 temperature, temperature_text, compared, expanded, assigned, assigned_expanded, e_n, outcome, finding,
                 instruments, offset_min, at_ms, operator)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20,
                 ?21, ?22, ?23)",
            )?
            .execute(rusqlite::params![
                row.id.column(),
                row.instrument,
                row.reference,
                row.measurand.name(),
                probe,
                row.reason.words(),
                new.shown.0,
                new.shown.1,
                new.unit,
                row.text,
                row.temperature.map(Quantity::base),
                new.temperature_text,
                row.compared,
                row.expanded,
                row.assigned,
                row.assigned_expanded,
                row.e_n,
                if row.passed { "passed" } else { "failed" },
                row.finding,
                row.instruments,
                row.offset_min,
                self.at_ms(),
                self.act.operator,
            ])?;
        Ok(())
    }

    /// Withdraws a control that was entered by mistake.
    ///
    /// # Errors
    /// `Refused` when it is withdrawn already.
    pub fn withdraw_control(&self, control: ControlId, reason: &str) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO control_withdrawn (control, reason, at_ms, operator) VALUES (?1, ?2, ?3, ?4)",
            )?
            .execute((control.column(), reason, self.at_ms(), &self.act.operator))?;
        Ok(())
    }

    /// Puts a piece in stock on the recall list.
    ///
    /// # Errors
    /// `Refused` for a control that passed, and for a piece that is not in stock.
    pub fn insert_recall(&self, piece: PieceId, control: ControlId, text: &str) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO recall (piece, control, text, at_ms, operator) VALUES (?1, ?2, ?3, ?4, ?5)",
            )?
            .execute((piece.column(), control.column(), text, self.at_ms(), &self.act.operator))?;
        Ok(())
    }
}

impl Reader<'_> {
    /// Returns every control of an instrument, or of all, oldest first, withdrawn ones among them.
    ///
    /// # Errors
    /// What the database says.
    pub fn controls(&self, instrument: Option<&str>) -> Result<Vec<ControlRow>, StoreError> {
        match instrument {
            Some(name) => self
                .select_controls("WHERE control.instrument = ?1 ORDER BY control.at_ms, control.id", [name]),
            None => self.select_controls("ORDER BY control.at_ms, control.id", []),
        }
    }

    /// Returns a control.
    ///
    /// # Errors
    /// What the database says.
    pub fn control(&self, control: ControlId) -> Result<Option<ControlRow>, StoreError> {
        Ok(self.select_controls("WHERE control.id = ?1", [control.column()])?.pop())
    }

    /// Returns the last control in force not after a moment.
    ///
    /// # Errors
    /// What the database says.
    pub fn control_before(
        &self,
        instrument: &str,
        probe: Option<&str>,
        at: DateTime<Utc>,
    ) -> Result<Option<ControlRow>, StoreError> {
        Ok(self
            .select_controls(
                &format!(
                    "WHERE control.instrument = ?1 AND probe.name IS ?2 AND control.at_ms <= ?3 AND {COUNTS}
                     ORDER BY control.at_ms DESC, control.id DESC LIMIT 1"
                ),
                (instrument, probe, at.timestamp_millis(), self.known.before, self.known.withdrawn_up_to_ms),
            )?
            .pop())
    }

    /// Returns the first control in force after a moment.
    ///
    /// # Errors
    /// What the database says.
    pub fn control_after(
        &self,
        instrument: &str,
        probe: Option<&str>,
        at: DateTime<Utc>,
    ) -> Result<Option<ControlRow>, StoreError> {
        Ok(self
            .select_controls(
                &format!(
                    "WHERE control.instrument = ?1 AND probe.name IS ?2 AND control.at_ms > ?3 AND {COUNTS}
                     ORDER BY control.at_ms, control.id LIMIT 1"
                ),
                (instrument, probe, at.timestamp_millis(), self.known.before, self.known.withdrawn_up_to_ms),
            )?
            .pop())
    }

    /// Tells whether a meter was used with another probe between two moments, both left out.
    ///
    /// # Errors
    /// What the database says.
    pub fn other_probe_between(
        &self,
        instrument: &str,
        probe: Option<&str>,
        from: DateTime<Utc>,
        to: DateTime<Utc>,
    ) -> Result<bool, StoreError> {
        Ok(self
            .connection
            .prepare_cached(
                "SELECT 1 FROM reading JOIN probe ON probe.id = reading.probe
                 WHERE reading.instrument = ?1 AND reading.at_ms > ?3 AND reading.at_ms < ?4 AND probe.name IS NOT ?2
                 AND (?5 IS NULL OR reading.id < ?5)
                 UNION ALL
                 SELECT 1 FROM control JOIN probe ON probe.id = control.probe
                 WHERE control.instrument = ?1 AND control.at_ms > ?3 AND control.at_ms < ?4 AND probe.name IS NOT ?2
                 AND (?5 IS NULL OR control.id < ?5) LIMIT 1",
            )?
            .exists((
                instrument,
                probe,
                from.timestamp_millis(),
                to.timestamp_millis(),
                self.known.before,
            ))?)
    }

    /// Returns the pieces, voided ones left out, with a reading in force by an instrument (and a probe) from a moment on and up
    /// to another, in the order of the readings.
    ///
    /// # Errors
    /// What the database says.
    pub fn pieces_read_with(
        &self,
        instrument: &str,
        probe: Option<&str>,
        from: Option<DateTime<Utc>>,
        up_to: DateTime<Utc>,
    ) -> Result<Vec<PieceId>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT reading.piece FROM reading JOIN piece ON piece.id = reading.piece
             LEFT JOIN probe ON probe.id = reading.probe
             WHERE reading.instrument = ?1 AND (?2 IS NULL OR probe.name IS ?2)
             AND reading.at_ms >= ?3 AND reading.at_ms <= ?4 AND piece.state <> 'voided'
             AND NOT EXISTS (SELECT 1 FROM reading AS later WHERE later.replaces = reading.id)
             GROUP BY reading.piece ORDER BY min(reading.at_ms), reading.piece",
        )?;
        let from = from.map_or(i64::MIN, |from| from.timestamp_millis());
        let rows = statement
            .query_map((instrument, probe, from, up_to.timestamp_millis()), |row| id(row, "piece"))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Returns the last temperature of a piece that was read on the day up to a moment, for what an instrument stands in now.
    ///
    /// # Errors
    /// What the database says.
    pub fn last_temperature(
        &self,
        from: DateTime<Utc>,
        to: DateTime<Utc>,
    ) -> Result<Option<Temperature>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT base FROM reading WHERE measurand = 'temperature' AND instrument IS NOT NULL
             AND base IS NOT NULL AND at_ms > ?1 AND at_ms <= ?2 ORDER BY at_ms DESC LIMIT 1",
        )?;
        let base: Option<i64> = statement
            .query_row((from.timestamp_millis(), to.timestamp_millis()), |row| row.get(0))
            .optional()?;
        Ok(base.map(Temperature::from_base))
    }

    /// Returns the pieces that are to come back from stock, recalled last first; a piece back at the desk is not among them.
    ///
    /// # Errors
    /// What the database says.
    pub fn recalls(&self) -> Result<Vec<RecallRow>, StoreError> {
        self.select_recalls("ORDER BY recall.at_ms DESC, shipment.number, lot.line, piece.place", [])
    }

    /// Returns the recalls of one piece that are in force.
    ///
    /// # Errors
    /// What the database says.
    pub fn recalls_of(&self, piece: PieceId) -> Result<Vec<RecallRow>, StoreError> {
        self.select_recalls("AND recall.piece = ?1 ORDER BY recall.at_ms", [piece.column()])
    }

    fn select_controls(&self, rest: &str, params: impl Params) -> Result<Vec<ControlRow>, StoreError> {
        let mut statement = self.connection.prepare_cached(&format!("{CONTROL} {rest}"))?;
        statement.query_and_then(params, control_row)?.collect()
    }

    fn select_recalls(&self, rest: &str, params: impl Params) -> Result<Vec<RecallRow>, StoreError> {
        let mut statement = self.connection.prepare_cached(&format!(
            "SELECT recall.piece, shipment.number, lot.line, lot.product, piece.place, piece.serial, recall.control,
             recall.text, recall.at_ms, stock.released_ms
             FROM recall CROSS JOIN stock ON stock.piece = recall.piece CROSS JOIN piece ON piece.id = recall.piece
             CROSS JOIN lot ON lot.id = piece.lot CROSS JOIN shipment ON shipment.id = lot.shipment
             WHERE {RECALL_IN_FORCE} {rest}"
        ))?;
        statement.query_and_then(params, recall_row)?.collect()
    }
}

fn recall_row(row: &Row<'_>) -> Result<RecallRow, StoreError> {
    let shipment = ShipmentNumber(count(row, "number")?);
    let lot = LotNumber { shipment, line: count(row, "line")? };
    Ok(RecallRow {
        piece: id(row, "piece")?,
        number: PieceNumber { lot, piece: count(row, "place")? },
        product: word(row, "product", |text| Some(ProductId::new(text)))?,
        serial: row.get("serial")?,
        control: id(row, "control")?,
        text: row.get("text")?,
        at: time(row, "at_ms")?,
        released_at: time(row, "released_ms")?,
    })
}
