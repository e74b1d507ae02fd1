//! Readings imported from a list, one row a piece.

use super::bench::{Entered, EnteredReading};
use super::receive::shipment_by_number;
use super::show::{Depth, piece_of, prices};
use super::views::LogReport;
use super::{AppError, Desk, Setup};
use crate::intake::lifecycle::{LotCount, LotEvent};
use crate::intake::{LotId, ReadingsList, ReadingsRow, RowError, readings_list};
use crate::store::{LotRow, Writer};
use std::collections::{HashMap, HashSet};

impl Desk {
    /// Logs the pieces of a list of readings against the packing list of a shipment.
    ///
    /// One bad row refuses the whole list, unless `partial`: then the good rows are taken and the report names the others. On
    /// a dry run everything is scored and nothing is written.
    ///
    /// # Errors
    /// `BadRows` with every bad cell, more pieces than the packing list has among them.
    pub fn log_readings(
        &mut self,
        shipment: &str,
        file: &str,
        text: &str,
        dry_run: bool,
        partial: bool,
    ) -> Result<LogReport, AppError> {
        let act = self.act();
        let Desk { store, setup, .. } = self;
        let reader = store.read();
        let row = shipment_by_number(reader, shipment)?;
        let lots: HashMap<u32, LotRow> =
            reader.lots_of(row.id)?.into_iter().map(|lot| (lot.number.line, lot)).collect();
        let mut lines: Vec<u32> = lots.keys().copied().collect();
        lines.sort_unstable();
        let list = readings_list::read(text, &lines, &setup.instruments)
            .map_err(|rows| AppError::bad_rows(file, rows))?;
        let (rows, rejected) = within_the_packing_list(list, &lots);
        if !rejected.is_empty() && !partial {
            return Err(AppError::bad_rows(file, rejected));
        }
        let work = |writer: &Writer<'_>| {
            let mut ids = Vec::with_capacity(rows.len());
            if !rows.is_empty() {
                setup.keep_rules(writer)?;
            }
            for (done, (lot, row)) in rows.iter().enumerate() {
                writer.step_of("pieces logged", done, rows.len())?;
                let entered = setup.entered_row(row);
                ids.push(setup.enter(writer, *lot, &entered)?);
            }
            let reader = writer.read();
            let prices = prices(reader)?;
            let pieces = ids
                .into_iter()
                .enumerate()
                .map(|(done, id)| {
                    writer.step_of("pieces read again", done, rows.len())?;
                    setup.show_piece(reader, piece_of(reader, id)?, &prices, Depth::Kept)
                })
                .collect::<Result<_, _>>()?;
            Ok(LogReport { pieces, dry_run, rejected })
        };
        if dry_run { store.rehearse(&act, work) } else { store.write(&act, work) }
    }
}

impl Setup {
    /// Returns a row of the list as entered; a desk with a single probe need not name it.
    fn entered_row(&self, row: &ReadingsRow) -> Entered {
        let probe = match (&row.probe, self.instruments.probes.as_slice()) {
            (Some(name), _) => self.instruments.probe(name).cloned(),
            (None, [only]) => Some(only.clone()),
            (None, _) => None,
        };
        Entered {
            serial: row.serial.clone(),
            readings: row
                .readings
                .iter()
                .map(|(spot, reading)| EnteredReading::typed(*spot, reading.clone()))
                .collect(),
            not_measured: Vec::new(),
            probe,
        }
    }
}

/// Splits off the rows for which the packing list has no piece left.
fn within_the_packing_list(
    list: ReadingsList,
    lots: &HashMap<u32, LotRow>,
) -> (Vec<(LotId, ReadingsRow)>, Vec<RowError>) {
    let mut counts: HashMap<u32, LotCount> = lots
        .iter()
        .map(|(line, lot)| (*line, LotCount { expected: lot.expected, logged: lot.logged }))
        .collect();
    let mut rejected = list.rejected;
    let mut full: HashSet<u32> = HashSet::new();
    let mut rows = Vec::new();
    for row in list.rows {
        let (Some(lot), Some(count)) = (lots.get(&row.line), counts.get_mut(&row.line)) else { continue };
        match count.after(LotEvent::PieceLogged) {
            Ok(next) => {
                *count = next;
                rows.push((lot.id, row));
            }
            Err(_) => {
                let allowed = format!(
                    "at most {} pieces of line {}, {} logged before",
                    lot.expected, row.line, lot.logged
                );
                let error = RowError::new(row.row, "line", &row.line.to_string(), allowed);
                // The advice is the same for every row of a line: it is given once.
                rejected.push(match full.insert(row.line) {
                    true => error.with_hint("add a line for pieces that are not on the packing list"),
                    false => error,
                });
            }
        }
    }
    rejected.sort_by_key(|error| error.row);
    (rows, rejected)
}
