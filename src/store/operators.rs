//! Who works at the desk: the last row of a name counts.

use super::connection::{Reader, Writer};
use super::error::StoreError;
use rusqlite::Row;

/// An operator in the book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OperatorRow {
    /// Name.
    pub name: String,
    /// Word of the role.
    pub role: String,
    /// Hash of the PIN with its salt and its cost, where one is set.
    pub pin_hash: Option<String>,
}

fn operator_row(row: &Row<'_>) -> rusqlite::Result<OperatorRow> {
    Ok(OperatorRow { name: row.get("name")?, role: row.get("role")?, pin_hash: row.get("pin_hash")? })
}

impl Writer<'_> {
    /// Writes an operator, or a change of one.
    ///
    /// # Errors
    /// What the database says.
    pub fn insert_operator(&self, operator: &OperatorRow) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO operator (name, role, pin_hash, at_ms, operator) VALUES (?1, ?2, ?3, ?4, ?5)",
            )?
            .execute((
                &operator.name,
                &operator.role,
                &operator.pin_hash,
                self.at_ms(),
                &self.act.operator,
            ))?;
        Ok(())
    }
}

impl Reader<'_> {
    /// Returns the operators in the order of their names.
    ///
    /// # Errors
    /// What the database says.
    pub fn operators(&self) -> Result<Vec<OperatorRow>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT name, role, pin_hash FROM operator
             WHERE id IN (SELECT max(id) FROM operator GROUP BY name) ORDER BY name",
        )?;
        Ok(statement.query_map([], operator_row)?.collect::<Result<_, _>>()?)
    }
}
