//! A list of readings, one row a piece, as a scale, a spreadsheet or a second desk hands it over.
//!
//! Pure: text, known lines and instruments in, rows and every bad cell out. Columns, in any order: `line`, and optional
//! `serial`, `mass`, `diameter`, `thickness`, `length`, `width`, `conductivity` or `conductivity_1` … for spots,
//! `temperature`, `probe`. A header may name a unit (`mass_g`, `conductivity_1_%IACS`), a cell may carry its own. Empty
//! and `-` both mean not measured.

use super::row_error::RowError;
use super::serial::Serial;
use super::sheet::{self, Row, Sheet, column_name};
use super::typed::{self, TypedField, TypedReading};
use crate::evidence::{Instruments, Measurand};
use crate::quantity::Unit;
use crate::reference::closest::closest;
use std::collections::HashSet;

/// Most spots of conductivity on one piece.
pub const MOST_SPOTS: u8 = 20;

/// The columns a list of readings may have; `conductivity` also with the number of a spot.
const COLUMNS: [&str; 10] = [
    "line",
    "serial",
    "mass",
    "diameter",
    "thickness",
    "length",
    "width",
    "conductivity",
    "temperature",
    "probe",
];

/// The readings of one piece.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadingsRow {
    /// Line of the file it stands on.
    pub row: usize,
    /// Line of the packing list the piece belongs to.
    pub line: u32,
    /// Its serial, when one is given.
    pub serial: Option<Serial>,
    /// What was measured; spots counted from 1.
    pub readings: Vec<(u8, TypedReading)>,
    /// Name of the probe, as the instruments spell it.
    pub probe: Option<String>,
}

/// A list of readings: good rows, and the errors of the others.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadingsList {
    /// Rows without a bad cell.
    pub rows: Vec<ReadingsRow>,
    /// Every bad cell, in the order of the file.
    pub rejected: Vec<RowError>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Kind {
    Line,
    Serial,
    Probe,
    Reading(Measurand, u8),
}

struct Column {
    kind: Kind,
    index: usize,
    header: String,
    unit: Option<&'static Unit>,
}

/// Reads a list of readings for a shipment whose packing list has the given lines.
///
/// # Errors
/// Mistakes of the header or of the file as a whole; nothing can be taken then. Mistakes of single rows are in
/// [`ReadingsList::rejected`].
pub fn read(text: &str, lines: &[u32], instruments: &Instruments) -> Result<ReadingsList, Vec<RowError>> {
    let sheet = sheet::read(text).map_err(|error| vec![error])?;
    let columns = columns(&sheet)?;
    if sheet.rows.is_empty() {
        return Err(vec![RowError::new(sheet.header.line, "*", "", "at least one row below the header")]);
    }
    let mut rejected = sheet.surplus();
    let surplus: HashSet<usize> = rejected.iter().map(|error| error.row).collect();
    let mut rows = Vec::new();
    for row in &sheet.rows {
        let before = rejected.len();
        let mut reader = Reader { row, columns: &columns, errors: &mut rejected };
        let read = reader.row(lines, instruments);
        if rejected.len() == before && !surplus.contains(&row.line) {
            rows.extend(read);
        }
    }
    rejected.sort_by_key(|error| error.row);
    Ok(ReadingsList { rows, rejected })
}

/// Returns the rejected rows of a list in its own form, so that they can be mended and imported again.
///
/// `lines` are the lines of the file on which those rows begin. Empty when the list cannot be read at all.
pub fn rejected_rows(text: &str, lines: &HashSet<usize>) -> String {
    sheet::read(text).map(|sheet| sheet.only(lines)).unwrap_or_default()
}

/// Finds the columns by the header.
fn columns(sheet: &Sheet) -> Result<Vec<Column>, Vec<RowError>> {
    let row = sheet.header.line;
    let mut columns: Vec<Column> = Vec::new();
    let mut errors = Vec::new();
    for (index, header) in sheet.header.cells.iter().enumerate() {
        let name = column_name(header);
        let header = header.trim();
        if name.is_empty()
            && sheet.rows.iter().all(|row| row.cells.get(index).is_none_or(|c| c.trim().is_empty()))
        {
            continue;
        }
        match known_column(&name) {
            Ok((kind, unit)) => {
                if columns.iter().any(|column| column.kind == kind) {
                    errors.push(RowError::new(row, header, header, "each column once"));
                }
                columns.push(Column { kind, index, header: header.to_owned(), unit });
            }
            Err(allowed) => {
                let error = RowError::new(row, header, header, allowed);
                errors.push(match closest(&name, COLUMNS.into_iter(), 1).first() {
                    Some(near) => error.with_hint(format!("closest: `{near}`")),
                    None => error,
                });
            }
        }
    }
    if !columns.iter().any(|column| column.kind == Kind::Line) {
        errors.push(RowError::new(row, "line", "", "a column `line` in the header"));
    }
    if !columns.iter().any(|column| matches!(column.kind, Kind::Reading(..))) {
        errors.push(RowError::new(row, "mass", "", "at least one column of readings, such as `mass`"));
    }
    if errors.is_empty() { Ok(columns) } else { Err(errors) }
}

/// Returns the column that a header names with the unit after it, or what is allowed instead.
fn known_column(name: &str) -> Result<(Kind, Option<&'static Unit>), String> {
    let mut parts = name.splitn(2, '_');
    let head = parts.next().unwrap_or("").to_lowercase();
    let rest = parts.next();
    let plain = match head.as_str() {
        "line" => Some(Kind::Line),
        "serial" => Some(Kind::Serial),
        "probe" => Some(Kind::Probe),
        _ => None,
    };
    let unknown = || {
        let allowed = COLUMNS.map(|name| format!("`{name}`")).join(", ");
        format!("one of the columns {allowed}")
    };
    if let Some(kind) = plain {
        return if rest.is_none() { Ok((kind, None)) } else { Err(unknown()) };
    }
    let measurand = Measurand::named(&head).ok_or_else(unknown)?;
    let (spot, unit) = match (measurand, rest) {
        (_, None) => (1, None),
        (Measurand::Conductivity, Some(rest)) => {
            let (first, after) =
                rest.split_once('_').map_or((rest, None), |(first, after)| (first, Some(after)));
            if first.bytes().all(|byte| byte.is_ascii_digit()) {
                let spot = first.parse().ok().filter(|spot| (1..=MOST_SPOTS).contains(spot));
                (spot.ok_or_else(|| format!("spots from 1 to {MOST_SPOTS}"))?, after)
            } else {
                (1, Some(rest))
            }
        }
        (_, Some(rest)) => (1, Some(rest)),
    };
    let unit = match unit {
        None => None,
        Some(spelling) => {
            let unit = measurand.units().iter().find(|unit| unit.is_spelled(spelling));
            let symbols =
                || measurand.units().iter().map(|unit| format!("`{}`", unit.symbol)).collect::<Vec<_>>();
            Some(unit.ok_or_else(|| format!("`{head}` with one of the units {}", symbols().join(", ")))?)
        }
    };
    Ok((Kind::Reading(measurand, spot), unit))
}

struct Reader<'a> {
    row: &'a Row,
    columns: &'a [Column],
    errors: &'a mut Vec<RowError>,
}

impl<'a> Reader<'a> {
    fn column(&self, kind: Kind) -> Option<(&'a str, &'a str)> {
        let column = self.columns.iter().find(|column| column.kind == kind)?;
        Some((column.header.as_str(), cell(self.row, column)))
    }

    fn row(&mut self, lines: &[u32], instruments: &Instruments) -> Option<ReadingsRow> {
        let line = self.line(lines);
        let serial = self.serial();
        let readings = self.readings();
        let probe = self.probe(instruments);
        Some(ReadingsRow { row: self.row.line, line: line?, serial, readings, probe })
    }

    fn line(&mut self, lines: &[u32]) -> Option<u32> {
        let (header, found) = self.column(Kind::Line)?;
        let plain = !found.is_empty() && found.bytes().all(|byte| byte.is_ascii_digit());
        let line = if plain { found.parse().ok().filter(|line| lines.contains(line)) } else { None };
        if line.is_none() {
            let listed = match lines {
                [] => "none: the shipment has no lines yet".to_owned(),
                [one] => format!("line {one} of the packing list"),
                [first, .., last] => format!("a line of the packing list, {first} to {last}"),
            };
            self.errors.push(RowError::new(self.row.line, header, found, listed));
        }
        line
    }

    fn serial(&mut self) -> Option<Serial> {
        let (header, found) = self.column(Kind::Serial)?;
        match found {
            "" | "-" => None,
            text => match Serial::parse(text) {
                Ok(serial) => Some(serial),
                Err(error) => {
                    self.errors.push(RowError::new(self.row.line, header, &error.found, error.allowed()));
                    None
                }
            },
        }
    }

    fn readings(&mut self) -> Vec<(u8, TypedReading)> {
        let mut readings = Vec::new();
        let mut bad = false;
        for column in self.columns {
            let Kind::Reading(measurand, spot) = column.kind else { continue };
            let found = cell(self.row, column);
            match typed::read(measurand, found, column.unit) {
                Ok(TypedField::Value(reading)) => readings.push((spot, reading)),
                Ok(TypedField::Nothing | TypedField::NotMeasured) => {}
                Ok(TypedField::Repeat) => {
                    bad = true;
                    let allowed = format!("a {measurand}, or `-` for not measured");
                    self.errors.push(RowError::new(self.row.line, &column.header, found, allowed));
                }
                Err(error) => {
                    bad = true;
                    self.errors.push(RowError::of_entry(self.row.line, &column.header, found, &error));
                }
            }
        }
        if readings.is_empty() && !bad {
            let column = self.columns.iter().find(|column| matches!(column.kind, Kind::Reading(..)));
            let header = column.map_or("*", |column| column.header.as_str());
            self.errors.push(RowError::new(self.row.line, header, "", "at least one reading in the row"));
        }
        readings
    }

    fn probe(&mut self, instruments: &Instruments) -> Option<String> {
        let (header, found) = self.column(Kind::Probe)?;
        if matches!(found, "" | "-") {
            return None;
        }
        let probe = instruments.probe(found).map(|probe| probe.name.clone());
        if probe.is_none() {
            let names: Vec<String> =
                instruments.probes.iter().map(|probe| format!("`{}`", probe.name)).collect();
            let allowed = format!("a probe of this desk: {}", names.join(", "));
            self.errors.push(RowError::new(self.row.line, header, found, allowed));
        }
        probe
    }
}

fn cell<'a>(row: &'a Row, column: &Column) -> &'a str {
    row.cells.get(column.index).map_or("", |cell| cell.trim())
}
