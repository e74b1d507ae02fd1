//! Every row of a table against the last seal that names it: altered, removed, inserted.

use super::super::connection::Reader;
use super::super::error::StoreError;
use super::super::progress::Progress;
use super::super::row_image::{Hash, draft_digest, row_hash, values_hash};
use super::super::seal::hash_now;
use super::super::tables::{Table, key_bytes, tables};
use super::chain::walk;
use super::index::SealIndex;
use super::words::{act, describe};
use super::{AuditFault, AuditReport};
use rusqlite::Connection;
use rusqlite::types::ValueRef;

/// Compares the rows of a table with the seals.
pub(super) fn compare(
    connection: &Connection,
    (place, table): (usize, &Table),
    index: &mut SealIndex,
    report: &mut AuditReport,
    progress: &Progress,
) -> Result<(), StoreError> {
    let Ok(mut statement) = connection.prepare(&table.select_all()) else {
        // What is missing is told with the schema; the rows cannot be read as they were sealed.
        report.add(AuditFault::of(&table.name, "every row", "the table cannot be read as it was written"));
        return Ok(());
    };
    if table.name == "draft" {
        return draft(connection, report);
    }
    let mut rows = statement.query([])?;
    let (mut found, mut known) = (0, 0);
    while let Some(row) = rows.next()? {
        found += 1;
        progress.step("rows compared", found, None)?;
        if !table.is_sealed() {
            continue;
        }
        let key = table.key_of(row)?;
        let last = index.last(place, &key)?;
        let wrong = match last.and_then(|last| last.hash) {
            Some(hash) => {
                known += 1;
                if row_hash(&table.name, &table.columns, row)? == hash {
                    continue;
                }
                "it was altered"
            }
            None if last.is_some() => "it was put in again after the program had removed it",
            None => "it was put in: the program did not write it",
        };
        let written_by = last.map(|last| act(connection, last.journal));
        let row = describe(connection, table, &key);
        report.add(AuditFault { written_by, ..AuditFault::of(&table.name, row, wrong) });
    }
    report.tables.push((table.name.clone(), found));
    if table.is_sealed() && index.count(place)? != known {
        index.each(place, |key, journal| {
            if hash_now(connection, table, key)?.is_none() {
                let fault = AuditFault::of(&table.name, describe(connection, table, key), "it was removed");
                report.add(AuditFault { written_by: Some(act(connection, journal)), ..fault });
            }
            Ok(())
        })?;
    }
    Ok(())
}

/// Compares the half-filled piece with its digest.
fn draft(connection: &Connection, report: &mut AuditReport) -> Result<(), StoreError> {
    let mut statement = connection.prepare("SELECT slot, at_ms, body, digest FROM main.draft")?;
    let mut rows = statement.query([])?;
    let mut count = 0;
    while let Some(row) = rows.next()? {
        count += 1;
        let read =
            (row.get::<_, i64>(0), row.get::<_, i64>(1), row.get::<_, String>(2), row.get::<_, Hash>(3));
        let same = match read {
            (Ok(slot), Ok(at_ms), Ok(body), Ok(digest)) => slot == 1 && draft_digest(at_ms, &body) == digest,
            _ => false,
        };
        if !same {
            report.add(AuditFault::of("draft", "the half-filled piece", "it was altered"));
        }
    }
    if count != 1 {
        let wrong = if count == 0 { "it was removed" } else { "there is more than one" };
        report.add(AuditFault::of("draft", "the half-filled piece", wrong));
    }
    report.tables.push(("draft".to_owned(), count));
    Ok(())
}

/// The rows of a book held against its seals one by one, wherever they come from.
pub(in super::super) struct RowsAgainstSeals {
    tables: Vec<Table>,
    index: SealIndex,
}

impl RowsAgainstSeals {
    /// Reads the seals of a book.
    pub(in super::super) fn new(reader: Reader<'_>, progress: &Progress) -> Result<Self, StoreError> {
        let tables = tables(reader.connection)?;
        let mut index = SealIndex::new()?;
        walk(reader.connection, &tables, &mut index, &mut AuditReport::default(), progress)?;
        Ok(RowsAgainstSeals { tables, index })
    }

    /// Says what is wrong with a row by its values, one for each column; `None` when it is as it was sealed, or when no seal
    /// names rows of its table.
    pub(in super::super) fn wrong(
        &self,
        table: &Table,
        values: &[ValueRef<'_>],
    ) -> Result<Option<&'static str>, StoreError> {
        let place = self.tables.iter().position(|known| known.name == table.name);
        let Some(place) = place.filter(|_| table.is_sealed()) else { return Ok(None) };
        let key = key_bytes(table.key.iter().map(|at| values[*at]));
        let hash = values_hash(&table.name, &table.columns, values.iter().copied());
        Ok(match self.index.last(place, &key)?.and_then(|last| last.hash) {
            Some(sealed) if sealed == hash => None,
            Some(_) => Some("it was altered"),
            None => Some("it was put in"),
        })
    }
}
