//! Second tests: insert-only, as typed data with what they came to; a mistake is withdrawn, never deleted.

use super::connection::{Reader, Writer};
use super::error::StoreError;
use super::row::{Id, id, time, word};
use crate::evidence::SecondTest;
use crate::intake::{PieceId, SecondTestId};
use crate::scoring::{Method, SecondTestReport};
use chrono::{DateTime, Utc};
use rusqlite::{Params, Row};

/// A second test in the book.
#[derive(Debug, Clone, PartialEq)]
pub struct SecondTestRow {
    /// Identity.
    pub id: SecondTestId,
    /// The piece.
    pub piece: PieceId,
    /// The method.
    pub method: Method,
    /// What was done.
    pub test: SecondTest,
    /// What it came to when it was recorded.
    pub report: SecondTestReport,
    /// When it was recorded.
    pub at: DateTime<Utc>,
    /// Who recorded it.
    pub operator: String,
    /// Whether it was withdrawn.
    pub withdrawn: bool,
}

/// A second test that is to be written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NewSecondTest<'a> {
    /// Identity.
    pub id: SecondTestId,
    /// The piece.
    pub piece: PieceId,
    /// What was done.
    pub test: &'a SecondTest,
    /// What it came to.
    pub report: &'a SecondTestReport,
}

const SECOND_TEST: &str = "SELECT id, piece, method, body, report, at_ms, operator,
    EXISTS (SELECT 1 FROM second_test_withdrawn WHERE second_test = id) AS withdrawn FROM second_test";

fn second_test_row(row: &Row<'_>) -> Result<SecondTestRow, StoreError> {
    Ok(SecondTestRow {
        id: id(row, "id")?,
        piece: id(row, "piece")?,
        method: word(row, "method", Method::named)?,
        test: word(row, "body", |text| serde_json::from_str(text).ok())?,
        report: word(row, "report", |text| serde_json::from_str(text).ok())?,
        at: time(row, "at_ms")?,
        operator: row.get("operator")?,
        withdrawn: row.get("withdrawn")?,
    })
}

impl Writer<'_> {
    /// Writes a second test.
    ///
    /// # Errors
    /// `Refused` for a piece that is voided, in stock or gone.
    pub fn insert_second_test(&self, new: &NewSecondTest<'_>) -> Result<(), StoreError> {
        let text = |value: serde_json::Result<String>| {
            value.expect("a second test is made of words, texts and finite numbers")
        };
        self.connection
            .prepare_cached(
                "INSERT INTO second_test (id, piece, method, body, summary, report, at_ms, operator)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
            )?
            .execute((
                new.id.column(),
                new.piece.column(),
                new.report.method.word(),
                text(serde_json::to_string(new.test)),
                format!("{}: {}", new.report.method.label(), new.report.reason),
                text(serde_json::to_string(new.report)),
                self.at_ms(),
                &self.act.operator,
            ))?;
        Ok(())
    }

    /// Withdraws a second test with a reason.
    ///
    /// # Errors
    /// `Refused` when it is withdrawn already, or its piece is in stock or gone.
    pub fn withdraw_second_test(&self, test: SecondTestId, reason: &str) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO second_test_withdrawn (second_test, reason, at_ms, operator) VALUES (?1, ?2, ?3, ?4)",
            )?
            .execute((test.column(), reason, self.at_ms(), &self.act.operator))?;
        Ok(())
    }
}

impl Reader<'_> {
    /// Returns the second tests of a piece that are in force, oldest first.
    ///
    /// # Errors
    /// `Strange` when one cannot be read back.
    pub fn second_tests_of(&self, piece: PieceId) -> Result<Vec<SecondTestRow>, StoreError> {
        self.select_second_tests(
            "WHERE piece = ?1 AND NOT EXISTS (SELECT 1 FROM second_test_withdrawn WHERE second_test = id)
             ORDER BY at_ms, id",
            [piece.column()],
        )
    }

    /// Returns a second test, withdrawn or not.
    ///
    /// # Errors
    /// `Strange` when it cannot be read back.
    pub fn second_test(&self, test: SecondTestId) -> Result<Option<SecondTestRow>, StoreError> {
        Ok(self.select_second_tests("WHERE id = ?1", [test.column()])?.pop())
    }

    fn select_second_tests(&self, rest: &str, params: impl Params) -> Result<Vec<SecondTestRow>, StoreError> {
        let mut statement = self.connection.prepare_cached(&format!("{SECOND_TEST} {rest}"))?;
        statement.query_and_then(params, second_test_row)?.collect()
    }
}
