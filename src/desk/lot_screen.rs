//! A lot whose pieces are all logged, compared piece with piece: what is odd becomes a hold.
//!
//! What it is for: an odd piece and a lot that lies wrong are set aside, not only shown. What it must never do: close a hold
//! for any other reason than that the lot does not look odd any more. Read next: `scoring::lots`.

use super::lot_work::LotWork;
use super::settle::{close, merged, open_hold, raise_on_lot, reconcile, recount};
use super::settled::{shared_doubts_of, unsettled, unsettled_of_lot};
use super::show::lot_of;
use super::{AppError, Setup};
use crate::intake::lifecycle::HoldEvent;
use crate::intake::{HoldOrigin, LotId, Whereabouts};
use crate::scoring::{Doubt, DoubtKind, LotAssessment, PieceKey};
use crate::store::{HoldRow, LotRow, Writer};
use serde_json::{Value, json};

impl Setup {
    /// Compares the pieces of a lot once all of them are logged, brings the holds on odd pieces and on the lot in line, and
    /// adds what it found to what the journal says about the act.
    pub(super) fn screen_when_complete(
        &self,
        writer: &Writer<'_>,
        lot: LotId,
        payload: &mut Value,
    ) -> Result<(), AppError> {
        let row = lot_of(writer.read(), lot)?;
        if row.logged >= row.expected
            && let Some(found) = self.screen(writer, row)?
        {
            payload["compared"] = found;
        }
        Ok(())
    }

    /// Compares the pieces of a lot that are logged so far; `None` when it has none.
    pub(super) fn screen(&self, writer: &Writer<'_>, row: LotRow) -> Result<Option<Value>, AppError> {
        let work = LotWork::read(self, writer.read(), row)?;
        if work.pieces.is_empty() {
            return Ok(None);
        }
        let found = self.assess_work(&work, work.row.expected, |_| true)?;
        let mut odd: Vec<String> = Vec::new();
        for known in work.pieces.iter().filter(|known| known.row.whereabouts == Whereabouts::Here) {
            let key = PieceKey(known.row.number.piece);
            let doubts: Vec<Doubt> = found.doubts_of(key).cloned().collect();
            if !doubts.is_empty() {
                odd.push(known.row.number.to_string());
            }
            let open = unsettled(writer.read(), known.row.id, &doubts)?;
            if reconcile(writer, &known.row, is_of_the_lot, HoldOrigin::Record, &open)? {
                recount(writer, known.row.id)?;
            }
        }
        let doubts = self.bring_lot_in_line(writer, &work, &found)?;
        Ok(Some(json!({ "odd": odd, "doubts": doubts })))
    }

    /// Opens, renews and closes the holds of the lot itself, one a kind; returns the keys of what is open now.
    fn bring_lot_in_line(
        &self,
        writer: &Writer<'_>,
        work: &LotWork,
        found: &LotAssessment,
    ) -> Result<Vec<String>, AppError> {
        let lot = work.row.id;
        let raised = merged(&unsettled_of_lot(writer.read(), &work.row, &found.doubts)?);
        let mut open = writer.read().open_holds_of_lot(lot)?;
        let mut words = Vec::new();
        for doubt in &raised {
            words.push(doubt.cause.key());
            match open.iter().position(|hold| hold.kind == doubt.kind) {
                Some(same) if open[same].origin == HoldOrigin::Record => {
                    let hold = open.remove(same);
                    if hold.cause != doubt.cause || hold.offers != doubt.offers {
                        writer.refresh_hold(hold.id, &doubt.cause, &doubt.offers)?;
                    }
                }
                // A lot has one hold of a kind; it is held already.
                Some(_) => {}
                None => open_hold(writer, lot, None, HoldOrigin::Record, doubt)?,
            }
        }
        for hold in open.iter().filter(|hold| hold.origin == HoldOrigin::Record) {
            close(writer, hold, HoldEvent::NotRaised, "hold")?;
            // The pieces may raise a doubt of that kind by themselves, which had to wait for this hold.
            if writer.read().lot_doubt_is_raised(lot, hold.kind)? {
                for known in work.pieces.iter().filter(|known| known.row.whereabouts == Whereabouts::Here) {
                    let doubts = shared_doubts_of(writer.read(), known)?;
                    raise_on_lot(writer, lot, known.row.id, &doubts)?;
                }
            }
        }
        Ok(words)
    }
}

/// Tells whether a hold of a piece came from comparing it with its lot.
pub(super) fn is_of_the_lot(hold: &HoldRow) -> bool {
    hold.origin == HoldOrigin::Record && hold.kind == DoubtKind::OddOneOut
}
