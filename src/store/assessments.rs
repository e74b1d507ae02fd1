//! Assessments: what scoring said, with the versions and readings it rests on. Insert-only.

use super::connection::{Reader, Writer};
use super::error::StoreError;
use super::row::{Id, count, id, money, standing, time};
use crate::intake::{AssessmentId, PieceId};
use crate::quantity::Money;
use crate::scoring::{Assessment, Standing};
use chrono::{DateTime, Utc};
use rusqlite::{ErrorCode, OptionalExtension, Row};

/// An assessment that is to be written.
#[derive(Debug, Clone, PartialEq)]
pub struct NewAssessment<'a> {
    /// Identity.
    pub id: AssessmentId,
    /// The piece.
    pub piece: PieceId,
    /// What scoring said.
    pub assessment: &'a Assessment,
    /// Identities of the readings and second tests used.
    pub readings: Vec<String>,
    /// Version of the instruments.
    pub instruments: &'a str,
    /// Price of the metal that was used.
    pub price: Option<Money>,
    /// Pieces of the lot that were reckoned with.
    pub lot_size: u32,
    /// The assessment as JSON, as it is kept.
    pub body: String,
}

impl Writer<'_> {
    /// Writes an assessment.
    ///
    /// # Errors
    /// What the database says.
    pub fn insert_assessment(&self, new: &NewAssessment<'_>) -> Result<(), StoreError> {
        let said = new.assessment;
        self.connection
            .prepare_cached(
                "INSERT INTO assessment (id, piece, at_ms, operator, standing, score, engine, reference, policy,
                 instruments, price, price_currency, lot_size, readings, body)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)",
            )?
            .execute((
                new.id.column(),
                new.piece.column(),
                self.at_ms(),
                &self.act.operator,
                said.standing.word(),
                said.score,
                said.engine,
                &said.reference,
                &said.policy,
                new.instruments,
                new.price.map(|price| price.amount.to_string()),
                new.price.map(|price| price.currency.to_string()),
                new.lot_size,
                new.readings.join(" "),
                &new.body,
            ))?;
        Ok(())
    }

    /// Keeps the text of a policy, of instruments or of a dealer's products, the first time a version is used.
    ///
    /// # Errors
    /// What the database says.
    pub fn keep_rule_text(&self, kind: &str, version: &str, text: &str) -> Result<(), StoreError> {
        let kept = self
            .connection
            .prepare_cached(
                "INSERT INTO rule_text (kind, version, text, first_used_ms) VALUES (?1, ?2, ?3, ?4)
                 ON CONFLICT DO NOTHING",
            )?
            .execute((kind, version, text, self.at_ms()));
        match kept {
            Ok(_) => Ok(()),
            // The version is made from the text: another text under it was not written by this program.
            Err(error) if error.sqlite_error_code() == Some(ErrorCode::ConstraintViolation) => {
                Err(StoreError::Strange {
                    column: "rule_text.text",
                    found: format!("another text as {version}"),
                })
            }
            Err(error) => Err(error.into()),
        }
    }
}

/// An assessment as it was kept.
#[derive(Debug, Clone, PartialEq)]
pub struct AssessmentRow {
    /// What scoring said; excluded candidates are left out, because they follow from the readings.
    pub assessment: Assessment,
    /// The text it was read from.
    pub body: String,
    /// Version of the instruments.
    pub instruments: String,
    /// Price of the metal that was used.
    pub price: Option<Money>,
    /// Pieces of the lot that were reckoned with.
    pub lot_size: u32,
}

fn assessment_row(row: &Row<'_>) -> Result<AssessmentRow, StoreError> {
    let body: String = row.get("body")?;
    Ok(AssessmentRow {
        assessment: serde_json::from_str(&body)
            .map_err(|error| StoreError::Strange { column: "assessment.body", found: error.to_string() })?,
        body,
        instruments: row.get("instruments")?,
        price: money(row, "price", "price_currency")?,
        lot_size: count(row, "lot_size")?,
    })
}

impl Reader<'_> {
    /// Returns an assessment as it was kept.
    ///
    /// # Errors
    /// `Strange` when it cannot be read back.
    pub fn assessment(&self, assessment: AssessmentId) -> Result<Option<AssessmentRow>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT body, instruments, price, price_currency, lot_size FROM assessment WHERE id = ?1",
        )?;
        statement.query_and_then([assessment.column()], assessment_row)?.next().transpose()
    }

    /// Returns the standing that an assessment came to.
    ///
    /// # Errors
    /// What the database says.
    pub fn assessment_standing(&self, assessment: AssessmentId) -> Result<Option<Standing>, StoreError> {
        let mut statement =
            self.connection.prepare_cached("SELECT standing FROM assessment WHERE id = ?1")?;
        statement.query_and_then([assessment.column()], |row| standing(row, "standing"))?.next().transpose()
    }
}

/// An assessment with everything it was made of, as the audit computes it again.
#[derive(Debug, Clone, PartialEq)]
pub struct FiledAssessment {
    /// Its place in the order in which assessments were made.
    pub place: i64,
    /// Identity.
    pub id: AssessmentId,
    /// The piece.
    pub piece: PieceId,
    /// When it was made.
    pub at: DateTime<Utc>,
    /// Identities of the readings and second tests used.
    pub readings: Vec<String>,
    /// Standing, score, engine, reference and policy as their columns say.
    pub columns: (String, f64, u32, String, String),
    /// What was kept.
    pub kept: AssessmentRow,
}

/// An assessment as it was filed; one that cannot be read is its place and what is wrong.
pub type MaybeFiled = Result<FiledAssessment, (i64, StoreError)>;

impl Reader<'_> {
    /// Returns the next assessments behind a place, in the order in which they were made.
    ///
    /// # Errors
    /// What the database says.
    pub fn assessments_behind(&self, place: i64, most: u32) -> Result<Vec<MaybeFiled>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT rowid AS place, id, piece, at_ms, standing, score, engine, reference, policy, readings, body,
             instruments, price, price_currency, lot_size FROM assessment WHERE rowid > ?1 ORDER BY rowid LIMIT ?2",
        )?;
        let mut rows = statement.query((place, most))?;
        let mut filed = Vec::new();
        while let Some(row) = rows.next()? {
            let place: i64 = row.get("place")?;
            filed.push(filed_assessment(row, place).map_err(|error| (place, error)));
        }
        Ok(filed)
    }

    /// Returns an assessment as it was filed.
    ///
    /// # Errors
    /// `Strange` when it cannot be read back.
    pub fn filed_assessment(&self, assessment: AssessmentId) -> Result<Option<FiledAssessment>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT rowid AS place, id, piece, at_ms, standing, score, engine, reference, policy, readings, body,
             instruments, price, price_currency, lot_size FROM assessment WHERE id = ?1",
        )?;
        let mut rows = statement.query([assessment.column()])?;
        let Some(row) = rows.next()? else { return Ok(None) };
        let place: i64 = row.get("place")?;
        filed_assessment(row, place).map(Some)
    }

    /// Returns the text of a policy, of instruments or of a dealer's products by its version.
    ///
    /// # Errors
    /// What the database says.
    pub fn rule_text(&self, kind: &str, version: &str) -> Result<Option<String>, StoreError> {
        let mut statement =
            self.connection.prepare_cached("SELECT text FROM rule_text WHERE kind = ?1 AND version = ?2")?;
        Ok(statement.query_row((kind, version), |row| row.get(0)).optional()?)
    }
}

fn filed_assessment(row: &Row<'_>, place: i64) -> Result<FiledAssessment, StoreError> {
    let readings: String = row.get("readings")?;
    Ok(FiledAssessment {
        place,
        id: id(row, "id")?,
        piece: id(row, "piece")?,
        at: time(row, "at_ms")?,
        readings: readings.split_whitespace().map(str::to_owned).collect(),
        columns: (
            row.get("standing")?,
            row.get("score")?,
            row.get("engine")?,
            row.get("reference")?,
            row.get("policy")?,
        ),
        kept: assessment_row(row)?,
    })
}
