//! What stands behind the readings of a piece: its instruments as they were used, and which readings count for nothing.

use super::custody::named_piece;
use super::settle::evidence;
use super::{AppError, Desk, Setup};
use crate::evidence::{Instruments, Measurand, PieceEvidence, Unproved};
use crate::scoring::{Assessment, Declared, ReadingBudget, Rules, assess, reading_budgets};
use crate::store::{Reader, ReadingRow, SecondTestRow, Subject};
use chrono::Local;
use std::borrow::Cow;

impl Desk {
    /// Returns the uncertainty budget of every reading of a piece, by its number or its serial.
    ///
    /// # Errors
    /// `Failed` when no piece has it, or several bear the serial.
    pub fn budgets(&self, piece: &str) -> Result<(String, Vec<ReadingBudget>), AppError> {
        let reader = self.store.read();
        let row = named_piece(reader, piece)?;
        let product = self.setup.product(&row.product)?;
        let readings = reader.readings_in_force(row.id)?;
        let evidence = self.setup.evidence(reader, &readings, &[])?;
        let instruments = self.setup.as_taken(&readings);
        let rules = Rules { instruments: &instruments, ..self.setup.rules() };
        let declared = Declared { product, price: None, lot_size: 1, source: None, type_book: None };
        Ok((row.number.to_string(), reading_budgets(&rules, &declared, &evidence)))
    }
}

impl Setup {
    /// Assesses a piece by its readings and second tests in force, with the instruments that took the readings.
    pub(super) fn judge(
        &self,
        reader: Reader<'_>,
        declared: &Declared<'_>,
        readings: &[ReadingRow],
        tests: &[SecondTestRow],
    ) -> Result<Assessment, AppError> {
        let evidence = self.evidence(reader, readings, tests)?;
        Ok(self.assess_taken(declared, readings, &evidence))
    }

    /// Assesses evidence with the instruments that took the readings.
    pub(super) fn assess_taken(
        &self,
        declared: &Declared<'_>,
        readings: &[ReadingRow],
        evidence: &PieceEvidence,
    ) -> Assessment {
        let instruments = self.as_taken(readings);
        let rules = Rules { instruments: &instruments, ..self.rules() };
        assess(&rules, declared, evidence)
    }

    /// Returns readings and second tests as scoring wants them, with the readings that count for nothing named.
    pub(super) fn evidence(
        &self,
        reader: Reader<'_>,
        readings: &[ReadingRow],
        tests: &[SecondTestRow],
    ) -> Result<PieceEvidence, AppError> {
        let mut evidence = evidence(readings, tests);
        evidence.unproved = self.unproved(reader, readings, &evidence)?;
        Ok(evidence)
    }

    /// Returns the instruments with those in use that took the readings.
    pub(super) fn as_taken(&self, readings: &[ReadingRow]) -> Cow<'_, Instruments> {
        let named = readings.iter().filter_map(|one| Some((measured(one)?, one.instrument.as_deref()?)));
        let taken: Vec<(Measurand, &str)> = named.collect();
        if taken.iter().all(|(of, name)| self.instruments.name_for(*of) == Some(name)) {
            return Cow::Borrowed(&self.instruments);
        }
        let mut choice: Vec<(Measurand, String)> =
            taken.into_iter().map(|(of, name)| (of, name.to_owned())).collect();
        let in_use = Measurand::ALL.into_iter().filter_map(|of| Some((of, self.instruments.name_for(of)?)));
        choice.extend(in_use.map(|(of, name)| (of, name.to_owned())));
        Cow::Owned(self.instruments.using(&choice))
    }

    /// Returns the readings that count for nothing, each once, with the first reason found.
    fn unproved(
        &self,
        reader: Reader<'_>,
        readings: &[ReadingRow],
        evidence: &PieceEvidence,
    ) -> Result<Vec<Unproved>, AppError> {
        let mut unproved: Vec<Unproved> = Vec::new();
        for reading in readings.iter().filter(|reading| reading.amount.is_some()) {
            let Some(measurand) = measured(reading) else { continue };
            if unproved.iter().any(|known| known.measurand == measurand) {
                continue;
            }
            let temperature = evidence.temperature.as_ref().map(|temperature| temperature.value);
            let reason = match self.not_in_order(reading) {
                Some(reason) => Some(reason),
                None => self.without_control(reader, reading, temperature)?,
            };
            if let Some(reason) = reason {
                unproved.push(Unproved { measurand, reason });
            }
        }
        for beyond in self.as_taken(readings).cannot_vouch(evidence) {
            if unproved.iter().all(|known| known.measurand != beyond.measurand) {
                unproved.push(beyond);
            }
        }
        Ok(unproved)
    }

    /// Says why the instrument of a reading was not in order, whatever its controls say; `None` when it was.
    fn not_in_order(&self, reading: &ReadingRow) -> Option<String> {
        let name = reading.instrument.as_deref()?;
        let Some(instrument) = self.instruments.register.instrument(name) else {
            return Some(format!("`{name}` is not in the register of instruments"));
        };
        let day = reading.at.with_timezone(&Local).date_naive();
        let due = instrument.due.filter(|due| day > *due)?;
        Some(format!("the calibration of `{name}` was due on {due}"))
    }
}

/// Returns what a reading measures; `None` for a serial.
pub(super) fn measured(reading: &ReadingRow) -> Option<Measurand> {
    match reading.subject {
        Subject::Measured(measurand) => Some(measurand),
        Subject::Serial => None,
    }
}
