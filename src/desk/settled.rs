//! What people settled: scoring a piece again does not open the same doubt again.

use super::AppError;
use super::lot_work::Known;
use super::settle::merged;
use super::show::{kept_assessment, lot_of, piece_of};
use crate::intake::{HoldId, HoldOrigin, LotId, PieceId, ReadingId};
use crate::reference::MaterialId;
use crate::scoring::{Assessment, Cause, Doubt, DoubtKind, LotQuantity, Scope};
use crate::store::{DecisionRow, HoldRow, LotRow, PieceRow, Reader, ReadingRow, StoreError};
use serde::{Deserialize, Serialize};
use std::collections::HashMap;

/// What exactly a settlement settled.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct SettledDoubt {
    pub(super) kind: DoubtKind,
    /// What tells it from others of its kind; before causes were kept, its words.
    #[serde(alias = "text")]
    pub(super) key: String,
    /// The materials it could have been instead.
    pub(super) about: Vec<MaterialId>,
    /// The readings of the piece at the time: other readings ask anew.
    pub(super) readings: Vec<ReadingId>,
    /// For a doubt of a lot: pieces with a place up to this one were meant.
    pub(super) places: Option<u32>,
    /// The quantities in which the piece differed from the type book.
    #[serde(default)]
    pub(super) differs: Vec<LotQuantity>,
}

impl SettledDoubt {
    /// Returns what stands behind an open hold.
    pub(super) fn behind(reader: Reader<'_>, hold: &HoldRow) -> Result<Self, AppError> {
        let mut differs = Vec::new();
        let (about, readings, places) = match hold.piece {
            Some(piece) => {
                let row = piece_of(reader, piece)?;
                let assessment = kept_assessment(reader, &row)?.assessment;
                let readings = reader.readings_in_force(piece)?.iter().map(|reading| reading.id).collect();
                if matches!(hold.cause, Cause::OddForType { .. }) {
                    differs = differing(&assessment);
                }
                (about_of(&assessment, hold, Scope::Piece), readings, None)
            }
            None => {
                let mut about: Vec<MaterialId> = Vec::new();
                // What the comparison of its pieces says of a lot names no material.
                let of_pieces = hold.origin == HoldOrigin::Scoring;
                for piece in reader.pieces_of(hold.lot)?.iter().filter(|_| of_pieces) {
                    let assessment = kept_assessment(reader, piece)?.assessment;
                    about.extend(materials(&assessment, hold.kind, Scope::Lot));
                }
                about.sort();
                about.dedup();
                (about, Vec::new(), Some(lot_of(reader, hold.lot)?.places))
            }
        };
        Ok(SettledDoubt { kind: hold.kind, key: hold.cause.key(), about, readings, places, differs })
    }

    /// Tells whether a doubt that is raised now is the one that was settled: the same cause, or nothing it could be that was
    /// not settled, on the same readings. A piece that was odd in its lot stays settled when the lot around it moves.
    fn covers(&self, doubt: &Doubt, readings: &[ReadingId]) -> bool {
        let within = !doubt.about.is_empty()
            && self.readings == readings
            && doubt.about.iter().all(|material| self.about.contains(material));
        let same = self.key == doubt.cause.key() && self.readings == readings && doubt.about.is_empty();
        self.kind == doubt.kind && (same || within)
    }

    /// Tells whether a doubt of the type book was settled: the same readings differ in nothing else, whatever the book has
    /// learned since.
    fn covers_difference(&self, doubt: &Doubt, differs: &[LotQuantity], readings: &[ReadingId]) -> bool {
        of_type_book(doubt)
            && !differs.is_empty()
            && self.readings == readings
            && differs.iter().all(|quantity| self.differs.contains(quantity))
    }

    /// Tells whether a doubt of the lot, raised by a piece at a place, was settled.
    fn covers_lot(&self, doubt: &Doubt, place: u32) -> bool {
        let meant = self.places.is_some_and(|places| place <= places);
        // One that names materials and one that names none are about different things.
        let alike = self.about.is_empty() == doubt.about.is_empty();
        self.kind == doubt.kind
            && meant
            && alike
            && doubt.about.iter().all(|material| self.about.contains(material))
    }

    /// Writes it as the book keeps it.
    pub(super) fn json(&self) -> String {
        serde_json::to_string(self).expect("a settled doubt is made of words and identities")
    }

    fn of(row: &DecisionRow) -> Result<Self, AppError> {
        let text = row.doubt.as_deref().unwrap_or_default();
        serde_json::from_str(text)
            .map_err(|_| StoreError::Strange { column: "decision.doubt", found: text.to_owned() }.into())
    }
}

/// Tells whether a doubt of an assessment came from the type book.
fn of_type_book(doubt: &Doubt) -> bool {
    matches!(doubt.cause, Cause::OddForType { .. })
}

/// Returns the quantities in which a piece differs from the type book.
fn differing(assessment: &Assessment) -> Vec<LotQuantity> {
    assessment.type_book.iter().flat_map(|used| used.odd()).map(|compared| compared.quantity).collect()
}

/// Returns the materials that an assessment names in the doubt behind a hold.
fn about_of(assessment: &Assessment, hold: &HoldRow, scope: Scope) -> Vec<MaterialId> {
    let mut doubts = assessment.doubts.iter().filter(|doubt| doubt.scope == scope && doubt.kind == hold.kind);
    doubts
        .find(|doubt| doubt.cause.key() == hold.cause.key())
        .map(|doubt| doubt.about.clone())
        .unwrap_or_default()
}

/// Returns the materials that open holds of a piece are about, as the assessment in force names them.
pub(super) fn abouts(
    reader: Reader<'_>,
    row: &PieceRow,
    holds: &[HoldRow],
) -> Result<HashMap<HoldId, Vec<MaterialId>>, AppError> {
    let Some(kept) = row.assessment.map(|id| reader.assessment(id)).transpose()?.flatten() else {
        return Ok(HashMap::new());
    };
    Ok(holds.iter().map(|hold| (hold.id, about_of(&kept.assessment, hold, Scope::Piece))).collect())
}

/// Returns the materials that an assessment names in doubts of a kind and scope.
fn materials(assessment: &Assessment, kind: DoubtKind, scope: Scope) -> Vec<MaterialId> {
    let doubts = assessment.doubts.iter().filter(|doubt| doubt.kind == kind && doubt.scope == scope);
    doubts.flat_map(|doubt| doubt.about.iter().cloned()).collect()
}

/// Tells whether anything about a piece was settled by a person.
pub(super) fn has_settlements(reader: Reader<'_>, piece: PieceId) -> Result<bool, AppError> {
    Ok(!reader.settlements_of_piece(piece)?.is_empty())
}

/// Returns the doubts of an assessment that nobody settled.
pub(super) fn open_doubts<'a>(
    reader: Reader<'_>,
    row: &PieceRow,
    readings: &[ReadingRow],
    assessment: &'a Assessment,
) -> Result<Vec<&'a Doubt>, AppError> {
    let own = settled(&reader.settlements_of_piece(row.id)?)?;
    let shared = lot_settlements(reader, row.lot)?;
    let readings: Vec<ReadingId> = readings.iter().map(|reading| reading.id).collect();
    let place = row.number.piece;
    let differs = differing(assessment);
    Ok(assessment
        .doubts
        .iter()
        .filter(|doubt| match doubt.scope {
            Scope::Piece => !own.iter().any(|settled| {
                settled.covers(doubt, &readings) || settled.covers_difference(doubt, &differs, &readings)
            }),
            Scope::Lot => !shared.iter().any(|settled| settled.covers_lot(doubt, place)),
        })
        .collect())
}

/// Returns the doubts of the record that nobody settled.
pub(super) fn unsettled<'a>(
    reader: Reader<'_>,
    piece: PieceId,
    doubts: &'a [Doubt],
) -> Result<Vec<&'a Doubt>, AppError> {
    if doubts.is_empty() {
        return Ok(Vec::new());
    }
    let own = settled(&reader.settlements_of_piece(piece)?)?;
    let readings: Vec<ReadingId> =
        reader.readings_in_force(piece)?.iter().map(|reading| reading.id).collect();
    Ok(doubts.iter().filter(|doubt| !own.iter().any(|settled| settled.covers(doubt, &readings))).collect())
}

/// Returns the doubts about a lot as a whole that nobody settled.
pub(super) fn unsettled_of_lot<'a>(
    reader: Reader<'_>,
    lot: &LotRow,
    doubts: &'a [Doubt],
) -> Result<Vec<&'a Doubt>, AppError> {
    let shared = lot_settlements(reader, lot.id)?;
    Ok(doubts
        .iter()
        .filter(|doubt| !shared.iter().any(|settled| settled.covers_lot(doubt, lot.places)))
        .collect())
}

/// Returns the doubts that a piece raises of its lot and that nobody settled, one a kind.
pub(super) fn shared_doubts_of(reader: Reader<'_>, known: &Known) -> Result<Vec<Doubt>, AppError> {
    let readings = reader.readings_in_force(known.row.id)?;
    let mut open = open_doubts(reader, &known.row, &readings, &known.assessment)?;
    open.retain(|doubt| doubt.scope == Scope::Lot);
    Ok(merged(&open))
}

/// Returns what people settled of a piece on a second test or a sample, not on their own word.
pub(super) fn proved(reader: Reader<'_>, piece: PieceId) -> Result<Vec<SettledDoubt>, AppError> {
    let mut rows = reader.settlements_of_piece(piece)?;
    rows.retain(|row| row.evidence.is_some() || row.sample.is_some());
    settled(&rows)
}

/// Returns what was settled for a lot as a whole.
fn lot_settlements(reader: Reader<'_>, lot: LotId) -> Result<Vec<SettledDoubt>, AppError> {
    settled(&reader.settlements_of_lot(lot)?)
}

fn settled(rows: &[DecisionRow]) -> Result<Vec<SettledDoubt>, AppError> {
    rows.iter().map(SettledDoubt::of).collect()
}
