//! The chain of the seals walked from its first link to its last.

use super::super::error::StoreError;
use super::super::progress::Progress;
use super::super::row_image::Hash;
use super::super::seal::{Sealed, next_entry};
use super::super::tables::Table;
use super::index::{LastSeal, SealIndex};
use super::words::{act, describe};
use super::{AuditFault, AuditReport, Passed};
use chrono::DateTime;
use rusqlite::{Connection, OptionalExtension, Row};
use std::collections::HashMap;

/// What the walk came to.
pub(super) struct Walked {
    pub(super) seals: u64,
    pub(super) head: Hash,
}

/// Walks the seals, recomputes every hash, and notes what they say about each row.
pub(super) fn walk(
    connection: &Connection,
    tables: &[Table],
    index: &mut SealIndex,
    report: &mut AuditReport,
    progress: &Progress,
) -> Result<Walked, StoreError> {
    let places: HashMap<&str, usize> =
        tables.iter().enumerate().map(|(at, table)| (table.name.as_str(), at)).collect();
    let mut walk = Walk { connection, tables, places, index, report, previous: [0; 32], next: 1, journal: 0 };
    let mut seals = 0;
    let Ok(mut statement) = connection.prepare(
        "SELECT number, at_ms, journal, entries, previous_hash, hash FROM main.seal ORDER BY number",
    ) else {
        // That the table is missing or another one is told with the schema.
        return Ok(Walked { seals, head: walk.previous });
    };
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        walk.take(row)?;
        seals += 1;
        progress.step("seals compared", seals, None)?;
    }
    let (head, covered) = (walk.previous, walk.journal);
    let last: Option<i64> =
        connection.query_row("SELECT max(sequence) FROM main.journal", [], |row| row.get(0)).unwrap_or(None);
    match last.unwrap_or(0) {
        last if last > covered => {
            let row = if last == covered + 1 {
                format!("row {last}")
            } else {
                format!("rows {} to {last}", covered + 1)
            };
            report.add(AuditFault::of(
                "journal",
                row,
                "no seal covers it: it was put in, or its seal was removed",
            ));
        }
        last if last < covered => report.add(AuditFault::of(
            "journal",
            format!("row {covered}"),
            "it is missing: the last seal covers it",
        )),
        _ => {}
    }
    Ok(Walked { seals, head })
}

struct Walk<'a> {
    connection: &'a Connection,
    tables: &'a [Table],
    places: HashMap<&'a str, usize>,
    index: &'a mut SealIndex,
    report: &'a mut AuditReport,
    previous: Hash,
    next: i64,
    journal: i64,
}

impl Walk<'_> {
    fn take(&mut self, row: &Row<'_>) -> Result<(), StoreError> {
        let read =
            (row.get::<_, i64>(0), row.get::<_, i64>(1), row.get::<_, i64>(2), row.get::<_, Vec<u8>>(3));
        let hashes = (row.get::<_, Hash>(4), row.get::<_, Hash>(5));
        let ((Ok(number), Ok(at_ms), Ok(journal), Ok(entries)), (Ok(previous_hash), Ok(hash))) =
            (read, hashes)
        else {
            self.fault(self.next, "a column holds a value of the wrong kind");
            self.next += 1;
            return Ok(());
        };
        if number != self.next {
            self.fault(self.next, "it is missing");
        }
        if previous_hash != self.previous {
            self.fault(number, "it does not follow the seal before");
        }
        let journal_hash = self.journal_hash(journal)?;
        if journal < self.journal {
            self.fault(number, "it covers less of the journal than the seal before");
        }
        match journal_hash {
            None => self.fault(number, "the row of the journal that it covers is missing"),
            Some(journal_hash) => {
                let sealed =
                    Sealed { number, at_ms, journal, journal_hash: &journal_hash, entries: &entries };
                if sealed.hash(&previous_hash) != hash {
                    self.fault(number, "it was altered, or the row of the journal that it covers");
                }
            }
        }
        self.note(number, journal, &entries)?;
        self.previous = hash;
        self.next = number.saturating_add(1);
        self.journal = journal;
        Ok(())
    }

    fn note(&mut self, number: i64, journal: i64, entries: &[u8]) -> Result<(), StoreError> {
        let mut rest = entries;
        while !rest.is_empty() {
            let Some(entry) = next_entry(&mut rest) else {
                self.fault(number, "its entries cannot be read");
                return Ok(());
            };
            // A table that a later version dropped is named by old seals only.
            let Some(place) = self.places.get(entry.table) else { continue };
            let last = self.index.last(*place, entry.key)?;
            let wrong = match (last.and_then(|last| last.hash), entry.before) {
                (last, before) if last == before => None,
                (Some(_), Some(_)) => Some("it was altered, and this program wrote it again afterwards, in"),
                (Some(_), None) => Some("it was removed, and this program wrote it again afterwards, in"),
                (None, _) => Some("it was put in, and this program wrote it again afterwards, in"),
            };
            if let Some(wrong) = wrong {
                let row = describe(self.connection, &self.tables[*place], entry.key);
                let wrong = format!("{wrong} {}", act(self.connection, journal));
                let written_by = last.map(|last| act(self.connection, last.journal));
                self.report.add(AuditFault { written_by, ..AuditFault::of(entry.table, row, wrong) });
            }
            self.index.note(*place, entry.key, LastSeal { hash: entry.hash, journal })?;
        }
        Ok(())
    }

    fn journal_hash(&self, sequence: i64) -> Result<Option<Hash>, StoreError> {
        if sequence == 0 {
            return Ok(Some([0; 32]));
        }
        let mut statement =
            self.connection.prepare_cached("SELECT row_hash FROM main.journal WHERE sequence = ?1")?;
        Ok(statement.query_row([sequence], |row| row.get(0)).optional().unwrap_or(None))
    }

    fn fault(&mut self, number: i64, wrong: &str) {
        self.report.add(AuditFault::of("seal", format!("seal {number}"), wrong));
    }
}

/// Returns where the chain passed through a hash.
pub(super) fn passed(connection: &Connection, hash: &str) -> Result<Option<Passed>, StoreError> {
    let wanted = hash.trim().to_lowercase();
    let read = |row: &Row<'_>| {
        let at: i64 = row.get(2)?;
        Ok(Passed {
            journal: row.get(0)?,
            seal: row.get(1)?,
            at: DateTime::from_timestamp_millis(at).unwrap_or_default(),
        })
    };
    Ok(connection
        .query_row(
            "SELECT sequence, NULL, at_ms FROM journal WHERE lower(hex(row_hash)) = ?1
             UNION ALL SELECT journal, number, at_ms FROM seal WHERE lower(hex(hash)) = ?1 LIMIT 1",
            [wanted],
            read,
        )
        .optional()?)
}
