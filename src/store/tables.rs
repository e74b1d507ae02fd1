//! The tables of a book, with their columns and keys, as the database itself tells them.

use super::error::StoreError;
use super::row_image::push_value;
use rusqlite::Connection;
use rusqlite::types::ValueRef;

/// Tables whose rows no seal names: journal and seals are chains of their own, the half-filled piece carries its digest.
pub(super) const SEALED_BY_THEMSELVES: [&str; 3] = ["draft", "journal", "seal"];

/// A table of the book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Table {
    pub(super) name: String,
    /// Its columns in order.
    pub(super) columns: Vec<String>,
    /// The kind of value that each column takes, as declared.
    pub(super) kinds: Vec<String>,
    /// Whether its rows have a number of their own beside the key.
    pub(super) has_row_numbers: bool,
    /// Places in `columns` of what tells its rows apart, in the order of the key.
    pub(super) key: Vec<usize>,
}

impl Table {
    /// Returns the names of the key.
    pub(super) fn key_names(&self) -> impl Iterator<Item = &str> {
        self.key.iter().map(|at| self.columns[*at].as_str())
    }

    /// Returns the columns for a statement.
    pub(super) fn column_list(&self) -> String {
        let quoted: Vec<String> = self.columns.iter().map(|column| format!("\"{column}\"")).collect();
        quoted.join(", ")
    }

    /// Returns the statement that reads one row by its key.
    pub(super) fn select_one(&self) -> String {
        let wanted: Vec<String> =
            self.key_names().enumerate().map(|(at, name)| format!("\"{name}\" = ?{}", at + 1)).collect();
        format!("SELECT {} FROM main.\"{}\" WHERE {}", self.column_list(), self.name, wanted.join(" AND "))
    }

    /// Returns the statement that reads every row in the order of the key.
    pub(super) fn select_all(&self) -> String {
        let key: Vec<String> = self.key_names().map(|name| format!("\"{name}\"")).collect();
        format!("SELECT {} FROM main.\"{}\" ORDER BY {}", self.column_list(), self.name, key.join(", "))
    }

    /// Returns the statement that reads every row in the order in which they were written, where the table knows it.
    pub(super) fn select_as_written(&self) -> String {
        match self.has_row_numbers {
            true => format!("SELECT {} FROM main.\"{}\" ORDER BY rowid", self.column_list(), self.name),
            false => self.select_all(),
        }
    }

    /// Returns the statement that writes a row.
    pub(super) fn insert(&self) -> String {
        let marks: Vec<String> = (1..=self.columns.len()).map(|at| format!("?{at}")).collect();
        format!("INSERT INTO main.\"{}\" ({}) VALUES ({})", self.name, self.column_list(), marks.join(", "))
    }

    /// Returns the key of a row as bytes.
    pub(super) fn key_of(&self, row: &rusqlite::Row<'_>) -> Result<Vec<u8>, StoreError> {
        let mut bytes = Vec::with_capacity(32);
        for at in &self.key {
            push_value(&mut bytes, row.get_ref(*at)?);
        }
        Ok(bytes)
    }

    /// Tells whether seals name its rows.
    pub(super) fn is_sealed(&self) -> bool {
        !SEALED_BY_THEMSELVES.contains(&self.name.as_str())
    }
}

/// Returns every table of a book, the database's own left out, in the order of the names.
pub(super) fn tables(connection: &Connection) -> Result<Vec<Table>, StoreError> {
    let mut statement = connection.prepare(
        "SELECT list.name, info.name, info.pk, upper(info.type),
             (SELECT wr = 0 FROM pragma_table_list WHERE schema = 'main' AND name = list.name)
         FROM main.sqlite_schema AS list JOIN pragma_table_xinfo(list.name, 'main') AS info
         WHERE list.type = 'table' AND list.name NOT LIKE 'sqlite\\_%' ESCAPE '\\' ORDER BY list.name, info.cid",
    )?;
    let mut rows = statement.query([])?;
    let mut tables: Vec<(Table, Vec<(i64, usize)>)> = Vec::new();
    while let Some(row) = rows.next()? {
        let (name, column, place): (String, String, i64) = (row.get(0)?, row.get(1)?, row.get(2)?);
        let (kind, has_row_numbers): (String, bool) = (row.get(3)?, row.get(4)?);
        if tables.last().is_none_or(|(table, _)| table.name != name) {
            let empty =
                Table { name, columns: Vec::new(), kinds: Vec::new(), has_row_numbers, key: Vec::new() };
            tables.push((empty, Vec::new()));
        }
        if let Some((table, key)) = tables.last_mut() {
            if place > 0 {
                key.push((place, table.columns.len()));
            }
            table.columns.push(column);
            table.kinds.push(kind);
        }
    }
    Ok(tables
        .into_iter()
        .map(|(table, mut key)| {
            key.sort_unstable();
            Table { key: key.into_iter().map(|(_, at)| at).collect(), ..table }
        })
        .collect())
}

/// Returns a key made of the arguments of a trigger.
pub(super) fn key_bytes<'v>(values: impl Iterator<Item = ValueRef<'v>>) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(32);
    values.for_each(|value| push_value(&mut bytes, value));
    bytes
}
