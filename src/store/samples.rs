//! Samples of lots: insert-only, with the seed that draws them again.

use super::connection::{Reader, Writer};
use super::error::StoreError;
use super::row::{Id, count, id, time, word};
use crate::intake::{LotId, PieceId, SampleId};
use chrono::{DateTime, Utc};
use rusqlite::Row;

/// A sample in the book.
#[derive(Debug, Clone, PartialEq)]
pub struct SampleRow {
    /// Identity.
    pub id: SampleId,
    /// The lot.
    pub lot: LotId,
    /// Seed of the selection.
    pub seed: u64,
    /// Pieces of the lot that it stands for.
    pub lot_size: u32,
    /// Places of the lot that were given out when it was drawn.
    pub places: u32,
    /// Confidence of the plan.
    pub confidence: f64,
    /// Share of bad pieces that the plan finds.
    pub detect_share: f64,
    /// The pieces drawn, in their order.
    pub pieces: Vec<PieceId>,
    /// The doubts that it is to settle, as JSON.
    pub shared: String,
    /// When it was drawn.
    pub at: DateTime<Utc>,
    /// Who drew it.
    pub operator: String,
}

/// A sample that is to be written.
#[derive(Debug, Clone, PartialEq)]
pub struct NewSample<'a> {
    /// Identity.
    pub id: SampleId,
    /// The lot.
    pub lot: LotId,
    /// Seed of the selection.
    pub seed: u64,
    /// Pieces of the lot that it stands for.
    pub lot_size: u32,
    /// Places of the lot that were given out.
    pub places: u32,
    /// Confidence of the plan.
    pub confidence: f64,
    /// Share of bad pieces that the plan finds.
    pub detect_share: f64,
    /// The pieces drawn, in their order.
    pub pieces: &'a [PieceId],
    /// The doubts that it is to settle, as JSON.
    pub shared: &'a str,
}

fn sample_row(row: &Row<'_>) -> Result<SampleRow, StoreError> {
    Ok(SampleRow {
        id: id(row, "id")?,
        lot: id(row, "lot")?,
        seed: word(row, "seed", |text| text.parse().ok())?,
        lot_size: count(row, "lot_size")?,
        places: count(row, "places")?,
        confidence: row.get("confidence")?,
        detect_share: row.get("detect_share")?,
        pieces: word(row, "pieces", |text| serde_json::from_str(text).ok())?,
        shared: row.get("shared")?,
        at: time(row, "at_ms")?,
        operator: row.get("operator")?,
    })
}

impl Writer<'_> {
    /// Writes a sample.
    ///
    /// # Errors
    /// What the database says.
    pub fn insert_sample(&self, new: &NewSample<'_>) -> Result<(), StoreError> {
        let pieces = serde_json::to_string(new.pieces).expect("identities are texts");
        self.connection
            .prepare_cached(
                "INSERT INTO sample (id, lot, seed, size, lot_size, places, confidence, detect_share, pieces, shared,
                 at_ms, operator) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
            )?
            .execute((
                new.id.column(),
                new.lot.column(),
                new.seed.to_string(),
                i64::try_from(new.pieces.len()).unwrap_or(i64::MAX),
                new.lot_size,
                new.places,
                new.confidence,
                new.detect_share,
                pieces,
                new.shared,
                self.at_ms(),
                &self.act.operator,
            ))?;
        Ok(())
    }
}

impl Reader<'_> {
    /// Returns the samples of a lot, oldest first.
    ///
    /// # Errors
    /// What the database says.
    pub fn samples_of(&self, lot: LotId) -> Result<Vec<SampleRow>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT id, lot, seed, lot_size, places, confidence, detect_share, pieces, shared, at_ms, operator
             FROM sample WHERE lot = ?1 ORDER BY at_ms, id",
        )?;
        statement.query_and_then([lot.column()], sample_row)?.collect()
    }
}
