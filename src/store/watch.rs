//! Which rows an act touches, whoever touches them: statements of the program or triggers of the book.
//!
//! Triggers in the connection's own temporary schema report each change of a row to a function of the program; they need no
//! place in the book, reach tables without row numbers, and fire for changes that other triggers make. (The hook that the
//! database has for this needs a C parser on every machine that builds the program; the update hook leaves out tables
//! without row numbers.)

use super::error::StoreError;
use super::row_image::{Hash, values_hash};
use super::tables::{Table, key_bytes, tables};
use rusqlite::Connection;
use rusqlite::functions::{Context, FunctionFlags};
use rusqlite::types::Null;
use std::cell::OnceCell;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// A row by the place of its table in the list of tables, and its key; with it its hash before the act touched it, `None` when
/// it was not there.
pub(super) type Touched = BTreeMap<(usize, Vec<u8>), Option<Hash>>;

/// Name of the function that the triggers call.
const FUNCTION: &str = "scruple_touched";

/// The three triggers of a table: a name, the event, and the rows whose keys are reported.
const ACTS: [(&str, &str, &[&str]); 3] =
    [("insert", "INSERT", &["NEW"]), ("update", "UPDATE", &["OLD", "NEW"]), ("delete", "DELETE", &["OLD"])];

/// Keeps what the transaction at work touched.
#[derive(Debug, Default)]
pub(super) struct Watch {
    touched: Arc<Mutex<Touched>>,
    tables: OnceCell<Vec<Table>>,
}

impl Watch {
    /// Begins to watch a connection, and forgets what was touched before.
    pub(super) fn start(&self, connection: &Connection) -> Result<(), StoreError> {
        if self.tables.get().is_none() {
            let found = tables(connection)?;
            self.install(connection, &found)?;
            // Only this thread sets it, and it was not set a moment ago.
            let _ = self.tables.set(found);
        }
        self.lock().clear();
        Ok(())
    }

    /// Ends the watch: a migration changes tables, and their triggers with them.
    pub(super) fn stop(&self, connection: &Connection) -> Result<(), StoreError> {
        for at in (0..self.tables().len()).filter(|at| self.tables()[*at].is_sealed()) {
            for (act, ..) in ACTS {
                connection.execute_batch(&format!("DROP TRIGGER IF EXISTS temp.touched_{at}_{act}"))?;
            }
        }
        Ok(())
    }

    /// Returns the tables that are watched, as they are numbered in what was touched.
    pub(super) fn tables(&self) -> &[Table] {
        self.tables.get().map_or(&[], Vec::as_slice)
    }

    /// Takes what was touched.
    pub(super) fn take(&self) -> Touched {
        std::mem::take(&mut *self.lock())
    }

    fn lock(&self) -> MutexGuard<'_, Touched> {
        self.touched.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn install(&self, connection: &Connection, tables: &[Table]) -> Result<(), StoreError> {
        let touched = Arc::clone(&self.touched);
        let known = tables.to_vec();
        let report = move |context: &mut Context<'_>| {
            let place = usize::try_from(context.get::<i64>(0)?).unwrap_or(usize::MAX);
            let Some(table) = known.get(place) else { return Ok(Null) };
            let row = 1 + table.key.len();
            let key = key_bytes((1..row).map(|at| context.get_raw(at)));
            // What follows the key is the row as it was; without it the row was not there.
            let before = || {
                let values = (row..context.len()).map(|at| context.get_raw(at));
                (context.len() > row).then(|| values_hash(&table.name, &table.columns, values))
            };
            // How it stood before the act is what it was when the act came to it first.
            touched.lock().unwrap_or_else(PoisonError::into_inner).entry((place, key)).or_insert_with(before);
            Ok(Null)
        };
        let flags = FunctionFlags::SQLITE_UTF8 | FunctionFlags::SQLITE_INNOCUOUS;
        connection.create_scalar_function(FUNCTION, -1, flags, report)?;
        let mut text = "SAVEPOINT watch;".to_owned();
        for (at, table) in tables.iter().enumerate().filter(|(_, table)| table.is_sealed()) {
            for (act, event, rows) in ACTS {
                text.push_str(&format!(
                    "CREATE TEMP TRIGGER touched_{at}_{act} AFTER {event} ON main.\"{}\" BEGIN",
                    table.name
                ));
                for row in rows {
                    let mut names: Vec<&str> = table.key_names().collect();
                    if *row == "OLD" {
                        names.extend(table.columns.iter().map(String::as_str));
                    }
                    let values: Vec<String> =
                        names.into_iter().map(|name| format!("{row}.\"{name}\"")).collect();
                    text.push_str(&format!(" SELECT {FUNCTION}({at}, {});", values.join(", ")));
                }
                text.push_str(" END;");
            }
        }
        text.push_str("RELEASE watch;");
        connection.execute_batch(&text)?;
        Ok(())
    }
}
