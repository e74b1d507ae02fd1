//! Readings: insert-only; a correction names the reading it replaces.

use super::connection::{Reader, Writer};
use super::error::StoreError;
use super::row::{Id, id, maybe_id, time, word};
use crate::evidence::{Amount, Coil, Measurand, Probe, Standardised};
use crate::intake::{PieceId, ReadingId, Serial, TypedReading};
use crate::quantity::{Frequency, Length, Quantity};
use chrono::{DateTime, Utc};
use rusqlite::{OptionalExtension, Row};

/// What a row of the readings is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Subject {
    /// The serial number.
    Serial,
    /// A measured quantity.
    Measured(Measurand),
}

impl Subject {
    /// Returns the word kept in the book.
    pub fn word(self) -> &'static str {
        match self {
            Subject::Serial => "serial",
            Subject::Measured(measurand) => measurand.name(),
        }
    }

    /// Returns the subject with the given word.
    pub fn named(word: &str) -> Option<Self> {
        if word == "serial" { Some(Subject::Serial) } else { Measurand::named(word).map(Subject::Measured) }
    }
}

/// A reading in the book.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadingRow {
    /// Identity.
    pub id: ReadingId,
    /// What it is about.
    pub subject: Subject,
    /// Spot, from 1.
    pub spot: u8,
    /// The value; `None` for a serial and for "not measured".
    pub amount: Option<Amount>,
    /// One step of the last digit, in base integers; 1 without a value.
    pub step: i64,
    /// Unit as typed.
    pub unit: Option<String>,
    /// The text as typed.
    pub text: String,
    /// The probe, as it was then.
    pub probe: Option<Probe>,
    /// The instrument, where one was registered.
    pub instrument: Option<String>,
    /// When it was entered.
    pub at: DateTime<Utc>,
    /// The reading it replaced.
    pub replaces: Option<ReadingId>,
    /// Why it replaced one, or why a value far off was kept.
    pub reason: Option<String>,
    /// The line in which a device sent it, every byte readable.
    pub device_line: Option<String>,
}

/// A reading that is to be written.
#[derive(Debug, Clone, PartialEq)]
pub struct NewReading {
    /// Identity.
    pub id: ReadingId,
    /// What it is about.
    pub subject: Subject,
    /// Spot, from 1.
    pub spot: u8,
    /// Value, step and unit; `None` for a serial and for "not measured".
    pub value: Option<(i64, i64, String)>,
    /// The text as typed.
    pub text: String,
    /// The probe in use, for conductivity.
    pub probe: Option<Probe>,
    /// The instrument in use, where one is registered.
    pub instrument: Option<String>,
    /// The reading it replaces.
    pub replaces: Option<ReadingId>,
    /// Why it replaces one, or why a value far off was kept.
    pub reason: Option<String>,
    /// The line in which a device sent it, every byte readable.
    pub device_line: Option<String>,
}

impl NewReading {
    /// Makes a reading of a typed value.
    pub fn of_typed(id: ReadingId, spot: u8, typed: &TypedReading) -> Self {
        NewReading {
            id,
            subject: Subject::Measured(typed.amount.measurand),
            spot,
            value: Some((typed.amount.base, typed.step, typed.unit.to_owned())),
            text: typed.text.clone(),
            probe: None,
            instrument: None,
            replaces: None,
            reason: None,
            device_line: None,
        }
    }

    /// Makes the row of a serial.
    pub fn of_serial(id: ReadingId, serial: &Serial) -> Self {
        NewReading { text: serial.text().to_owned(), ..Self::nothing(id, Subject::Serial, 1) }
    }

    /// Makes the row of something that was deliberately not measured.
    pub fn nothing(id: ReadingId, subject: Subject, spot: u8) -> Self {
        let text = "-".to_owned();
        NewReading {
            id,
            subject,
            spot,
            value: None,
            text,
            probe: None,
            instrument: None,
            replaces: None,
            reason: None,
            device_line: None,
        }
    }

    /// Makes a row that restores an earlier reading.
    pub fn like(id: ReadingId, earlier: &ReadingRow) -> Self {
        let value =
            earlier.amount.zip(earlier.unit.clone()).map(|(amount, unit)| (amount.base, earlier.step, unit));
        NewReading {
            id,
            subject: earlier.subject,
            spot: earlier.spot,
            value,
            text: earlier.text.clone(),
            probe: earlier.probe.clone(),
            instrument: earlier.instrument.clone(),
            replaces: None,
            reason: None,
            device_line: earlier.device_line.clone(),
        }
    }
}

const READING: &str =
    "SELECT reading.id, reading.measurand, reading.spot, reading.base, reading.step, reading.unit,
    reading.text, reading.replaces, reading.reason, reading.device_line, reading.instrument, reading.at_ms, probe.name,
    probe.frequency_mhz, probe.coil_inner_nm, probe.coil_outer_nm, probe.coil_length_nm, probe.lift_off_range_nm,
    probe.edge_distance_nm, probe.standardised
    FROM reading LEFT JOIN probe ON probe.id = reading.probe";

fn reading_row(row: &Row<'_>) -> Result<ReadingRow, StoreError> {
    let subject = word(row, "measurand", Subject::named)?;
    let base: Option<i64> = row.get("base")?;
    let amount = match subject {
        Subject::Measured(measurand) => base.map(|base| Amount { measurand, base }),
        Subject::Serial => None,
    };
    Ok(ReadingRow {
        id: id(row, "id")?,
        subject,
        spot: row.get("spot")?,
        amount,
        step: row.get::<_, Option<i64>>("step")?.unwrap_or(1),
        unit: row.get("unit")?,
        text: row.get("text")?,
        probe: probe(row)?,
        instrument: row.get("instrument")?,
        at: time(row, "at_ms")?,
        replaces: maybe_id(row, "replaces")?,
        reason: row.get("reason")?,
        device_line: row.get("device_line")?,
    })
}

pub(super) fn probe(row: &Row<'_>) -> Result<Option<Probe>, StoreError> {
    let Some(name) = row.get::<_, Option<String>>("name")? else { return Ok(None) };
    let length = |column: &str| row.get::<_, Option<i64>>(column).map(|base| base.map(Length::from_base));
    let radii = length("coil_inner_nm")?.zip(length("coil_outer_nm")?);
    let of_coil = length("coil_length_nm")?;
    let coil = radii.map(|(inner, outer)| Coil { inner, outer, length: of_coil });
    Ok(Some(Probe {
        name,
        frequency: row.get::<_, Option<i64>>("frequency_mhz")?.map(Frequency::from_base),
        coil,
        lift_off_range: length("lift_off_range_nm")?,
        edge_distance: length("edge_distance_nm")?,
        standardised: word(row, "standardised", Standardised::named)?,
    }))
}

impl Writer<'_> {
    /// Writes a reading.
    ///
    /// # Errors
    /// `Refused` when it replaces a reading of another kind, piece or spot, or one that is replaced already.
    pub fn insert_reading(&self, piece: PieceId, reading: &NewReading) -> Result<(), StoreError> {
        let probe = reading.probe.as_ref().map(|probe| self.probe_number(probe)).transpose()?;
        let value = reading.value.as_ref();
        self.connection
            .prepare_cached(
                "INSERT INTO reading
                 (id, piece, measurand, spot, base, step, unit, text, probe, replaces, reason, device_line, at_ms,
                  operator, instrument)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)",
            )?
            .execute((
                reading.id.column(),
                piece.column(),
                reading.subject.word(),
                reading.spot,
                value.map(|(base, ..)| base),
                value.map(|(_, step, _)| step),
                value.map(|(.., unit)| unit),
                &reading.text,
                probe,
                reading.replaces.as_ref().map(Id::column),
                &reading.reason,
                &reading.device_line,
                self.at_ms(),
                &self.act.operator,
                &reading.instrument,
            ))?;
        Ok(())
    }

    /// Returns the number of a probe as it is now, writing it when it is new or was changed.
    pub(super) fn probe_number(&self, probe: &Probe) -> Result<i64, StoreError> {
        let columns = (
            probe.name.as_str(),
            probe.frequency.map(Quantity::base),
            probe.coil.map(|coil| coil.inner.base()),
            probe.coil.map(|coil| coil.outer.base()),
            probe.coil.and_then(|coil| coil.length).map(Quantity::base),
            probe.lift_off_range.map(Quantity::base),
            probe.edge_distance.map(Quantity::base),
            probe.standardised.name(),
        );
        let known = self
            .connection
            .prepare_cached(
                "SELECT id FROM probe WHERE name IS ?1 AND frequency_mhz IS ?2 AND coil_inner_nm IS ?3
                 AND coil_outer_nm IS ?4 AND coil_length_nm IS ?5 AND lift_off_range_nm IS ?6 AND edge_distance_nm IS ?7
                 AND standardised IS ?8",
            )?
            .query_row(columns, |row| row.get(0))
            .optional()?;
        if let Some(known) = known {
            return Ok(known);
        }
        self.connection
            .prepare_cached(
                "INSERT INTO probe
                 (name, frequency_mhz, coil_inner_nm, coil_outer_nm, coil_length_nm, lift_off_range_nm, edge_distance_nm,
                  standardised)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
            )?
            .execute(columns)?;
        Ok(self.connection.last_insert_rowid())
    }
}

impl Reader<'_> {
    /// Returns the readings of a piece that are in force, in the order of the desk.
    ///
    /// # Errors
    /// What the database says.
    pub fn readings_in_force(&self, piece: PieceId) -> Result<Vec<ReadingRow>, StoreError> {
        let mut statement = self.connection.prepare_cached(&format!(
            "{READING} WHERE reading.piece = ?1
             AND NOT EXISTS (SELECT 1 FROM reading AS later WHERE later.replaces = reading.id)"
        ))?;
        let mut rows: Vec<ReadingRow> =
            statement.query_and_then([piece.column()], reading_row)?.collect::<Result<_, _>>()?;
        rows.sort_by_key(|row| (place(row.subject), row.spot));
        Ok(rows)
    }

    /// Returns a reading, in force or not.
    ///
    /// # Errors
    /// What the database says.
    pub fn reading(&self, reading: ReadingId) -> Result<Option<ReadingRow>, StoreError> {
        let mut statement = self.connection.prepare_cached(&format!("{READING} WHERE reading.id = ?1"))?;
        statement.query_and_then([reading.column()], reading_row)?.next().transpose()
    }
}

/// Returns the place of a subject in the order of the desk.
fn place(subject: Subject) -> usize {
    match subject {
        Subject::Serial => 0,
        Subject::Measured(measurand) => {
            1 + Measurand::ALL.iter().position(|kind| *kind == measurand).unwrap_or(Measurand::ALL.len())
        }
    }
}
