//! The pieces of a lot with what is known of each: what rules over a whole lot work on.

use super::settled::{SettledDoubt, proved};
use super::show::kept_assessment;
use super::{AppError, Setup};
use crate::evidence::PieceEvidence;
use crate::reference::MaterialId;
use crate::scoring::{
    Assessment, Doubt, DoubtKind, LotAssessment, LotDeclared, LotPiece, PieceKey, SourceRecord, assess_lot,
};
use crate::store::{LotRow, PieceRow, Reader};
use std::collections::BTreeSet;

/// A piece with what is known of it.
pub(super) struct Known {
    pub(super) row: PieceRow,
    pub(super) evidence: PieceEvidence,
    pub(super) assessment: Assessment,
    /// What a person settled on a second test.
    pub(super) proved: Vec<SettledDoubt>,
}

impl Known {
    /// Returns what the piece could still be, by doubts of a kind that no second test settled; `None` when it raises none.
    pub(super) fn left_open(&self, kind: DoubtKind) -> Option<BTreeSet<&MaterialId>> {
        let mut raised = self.assessment.doubts.iter().filter(|doubt| doubt.kind == kind).peekable();
        raised.peek()?;
        let open: Vec<&Doubt> = raised
            .filter(|doubt| {
                !self.proved.iter().any(|settled| {
                    settled.kind == kind
                        && doubt.about.iter().all(|material| settled.about.contains(material))
                })
            })
            .collect();
        (!open.is_empty()).then(|| open.into_iter().flat_map(|doubt| &doubt.about).collect())
    }
}

/// The pieces of a lot with what is known of each, those that left the desk among them.
pub(super) struct LotWork {
    pub(super) row: LotRow,
    pub(super) pieces: Vec<Known>,
    /// What the past of its source says.
    pub(super) record: SourceRecord,
}

impl LotWork {
    /// Reads the pieces of a lot with what is known of each.
    pub(super) fn read(setup: &Setup, reader: Reader<'_>, row: LotRow) -> Result<Self, AppError> {
        let mut pieces = Vec::new();
        for piece in reader.pieces_of(row.id)? {
            let readings = reader.readings_in_force(piece.id)?;
            let evidence = setup.evidence(reader, &readings, &reader.second_tests_of(piece.id)?)?;
            pieces.push(Known {
                evidence: evidence.proved().into_owned(),
                assessment: kept_assessment(reader, &piece)?.assessment,
                proved: proved(reader, piece.id)?,
                row: piece,
            });
        }
        let past = reader.source_past(&row.source, row.number.shipment.0)?;
        let record = SourceRecord::of(past, &setup.policy.sampling);
        Ok(LotWork { row, pieces, record })
    }

    /// Returns the piece with a number.
    pub(super) fn piece(&self, key: PieceKey) -> Option<&PieceRow> {
        self.pieces.iter().map(|known| &known.row).find(|row| row.number.piece == key.0)
    }
}

impl Setup {
    /// Says what scoring says about the pieces of a lot that are wanted.
    pub(super) fn assess_work(
        &self,
        work: &LotWork,
        declared: u32,
        wanted: impl Fn(&PieceRow) -> bool,
    ) -> Result<LotAssessment, AppError> {
        let product = self.product(&work.row.product)?;
        let pieces: Vec<LotPiece<'_>> = work
            .pieces
            .iter()
            .filter(|known| wanted(&known.row))
            .map(|known| (PieceKey(known.row.number.piece), &known.evidence, &known.assessment))
            .collect();
        let lot = LotDeclared { product, quantity: declared, record: work.record };
        Ok(assess_lot(&self.rules(), &lot, &pieces))
    }
}
