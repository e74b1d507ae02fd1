//! Rows of the book as views for the faces.

use super::settle::body;
use super::type_book::type_book_of;
use super::views::{HoldView, LotView, PieceView, ReadingView, ShipmentView};
use super::{AppError, Setup};
use crate::evidence::{Amount, Measurand};
use crate::intake::typed::decimals_of_step;
use crate::intake::{LotId, PieceId};
use crate::metrology::rounding::decimals_of;
use crate::quantity::{Mass, Money, Quantity};
use crate::reference::Metal;
use crate::scoring::{Assessment, Declared, Scope, Standing};
use crate::store::{
    AssessmentRow, HoldRow, LotRow, PieceRow, Reader, ReadingRow, ShipmentRow, StoreError, Subject,
};
use rust_decimal::Decimal;
use std::collections::HashMap;

/// The last price of each metal.
pub(super) type Prices = HashMap<Metal, Money>;

/// How much of an assessment a view brings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Depth {
    /// As kept in the book: excluded candidates are left out.
    Kept,
    /// With the excluded candidates, computed again where that gives what the book keeps.
    Full,
}

/// Returns the last price of each metal.
pub(super) fn prices(reader: Reader<'_>) -> Result<Prices, AppError> {
    Ok(reader.prices()?.into_iter().map(|row| (row.metal, row.per_troy_ounce)).collect())
}

/// Returns the value of a fine mass: one exact product, rounded once, half to even, to hundredths.
pub(super) fn value_of(fine: Mass, per_troy_ounce: Money) -> Money {
    let product = per_troy_ounce.amount.checked_mul(Decimal::from(fine.base())).unwrap_or(Decimal::MAX);
    let mut amount = (product / Decimal::from(Mass::TROY_OUNCE.base())).round_dp(2);
    amount.rescale(2);
    Money { amount, ..per_troy_ounce }
}

impl Setup {
    /// Returns a shipment with its lots.
    pub(super) fn show_shipment(
        &self,
        shipment: ShipmentRow,
        lots: Vec<LotRow>,
        serials: &mut HashMap<LotId, Vec<String>>,
    ) -> ShipmentView {
        let lots = lots.into_iter().map(|lot| {
            let open = serials.remove(&lot.id).unwrap_or_default();
            self.show_lot(lot, open)
        });
        ShipmentView {
            id: shipment.id,
            number: shipment.number.to_string(),
            source: shipment.source,
            received_at: shipment.received_at,
            lots: lots.collect(),
        }
    }

    /// Returns a lot.
    pub(super) fn show_lot(&self, lot: LotRow, serials_open: Vec<String>) -> LotView {
        LotView {
            id: lot.id,
            shipment: lot.shipment,
            number: lot.number.to_string(),
            line: lot.number.line,
            product_name: self.product_name(&lot.product),
            expected: lot.expected,
            logged: lot.logged,
            clear: lot.clear,
            hold: lot.hold,
            refuse: lot.refuse,
            lot_doubts: lot.lot_doubts,
            serials_open,
            unit_cost: lot.unit_cost,
            standing: lot_standing(&lot),
            product: lot.product,
        }
    }

    /// Returns a piece with its readings, its assessment and its open doubts.
    pub(super) fn show_piece(
        &self,
        reader: Reader<'_>,
        piece: PieceRow,
        prices: &Prices,
        depth: Depth,
    ) -> Result<PieceView, AppError> {
        let lot = lot_of(reader, piece.lot)?;
        let readings = reader.readings_in_force(piece.id)?;
        let kept = kept_assessment(reader, &piece)?;
        let assessment = match depth {
            Depth::Kept => kept.assessment,
            Depth::Full => self.with_excluded(reader, kept, &piece, &readings)?,
        };
        let doubts = reader
            .open_holds_of_piece(piece.id)?
            .into_iter()
            .map(|hold| self.show_hold(hold, &lot, Some(&piece), prices))
            .collect();
        Ok(PieceView {
            id: piece.id,
            lot: piece.lot,
            number: piece.number.to_string(),
            product_name: self.product_name(&piece.product),
            serial: piece.serial,
            readings: readings.iter().filter_map(|reading| show_reading(reading, &assessment)).collect(),
            assessment,
            doubts,
            standing: piece.standing,
            recalled: reader.recalls_of(piece.id)?.pop().map(|recall| recall.text),
            logged_at: piece.logged_at,
            operator: piece.operator,
            product: piece.product,
        })
    }

    /// Returns the assessment with its excluded candidates, where the rules of today give what the book keeps.
    fn with_excluded(
        &self,
        reader: Reader<'_>,
        kept: AssessmentRow,
        piece: &PieceRow,
        readings: &[ReadingRow],
    ) -> Result<Assessment, AppError> {
        let same_rules = kept.instruments == self.texts.instruments_version
            && kept.assessment.policy == self.policy.version()
            && kept.assessment.reference == self.catalogue.version();
        let Some(product) = self.catalogue.product(piece.product.as_str()).filter(|_| same_rules) else {
            return Ok(kept.assessment);
        };
        let lot = lot_of(reader, piece.lot)?;
        let (price, lot_size, source) = (kept.price, kept.lot_size, Some(lot.source.as_str()));
        let used = kept.assessment.type_book.as_ref().map(|used| used.version.as_str());
        let book = type_book_of(reader, &piece.product, used)?;
        let declared = Declared { product, price, lot_size, source, type_book: book.as_ref() };
        let tests = reader.second_tests_of(piece.id)?;
        let again = self.judge(reader, &declared, readings, &tests)?;
        Ok(if body(&again) == kept.body { again } else { kept.assessment })
    }

    /// Returns an open hold.
    pub(super) fn show_hold(
        &self,
        hold: HoldRow,
        lot: &LotRow,
        piece: Option<&PieceRow>,
        prices: &Prices,
    ) -> HoldView {
        let metal = self.catalogue.product(lot.product.as_str()).map(|product| product.metal);
        let fine = piece.map_or(lot.fine_here, |piece| piece.fine);
        let price = metal.and_then(|metal| prices.get(&metal));
        HoldView {
            id: hold.id,
            scope: if hold.piece.is_some() { Scope::Piece } else { Scope::Lot },
            shipment: lot.number.shipment.to_string(),
            source: lot.source.clone(),
            lot: lot.number.to_string(),
            piece: piece.map(|piece| piece.number.to_string()),
            product: lot.product.clone(),
            product_name: self.product_name(&lot.product),
            kind: hold.kind,
            cause: hold.cause,
            offers: hold.offers,
            at_risk: price.map(|price| value_of(fine, *price)),
            standing: piece
                .map_or_else(|| lot_standing(lot).unwrap_or(Standing::Hold), |piece| piece.standing),
            operator: piece.map_or(hold.opened_by, |piece| piece.operator.clone()),
            opened_at: hold.opened_at,
        }
    }
}

/// Returns the worst of a lot's own doubts and its pieces; `None` while nothing is logged.
pub(super) fn lot_standing(lot: &LotRow) -> Option<Standing> {
    match lot {
        lot if lot.refuse > 0 => Some(Standing::Refuse),
        lot if lot.hold > 0 || lot.lot_doubts > 0 => Some(Standing::Hold),
        lot if lot.logged > 0 => Some(Standing::Clear),
        _ => None,
    }
}

/// Returns a reading in words; `None` for a serial, which has its own place in the view.
fn show_reading(reading: &ReadingRow, assessment: &Assessment) -> Option<ReadingView> {
    let Subject::Measured(measurand) = reading.subject else { return None };
    let stored = reading.amount.map_or_else(
        || "not measured".to_owned(),
        |amount| amount.show(decimals_of_step(measurand, reading.step)),
    );
    let u = assessment.checks.iter().find(|check| check.measurand == measurand).and_then(|check| check.u);
    Some(ReadingView {
        id: reading.id,
        measurand,
        spot: reading.spot,
        text: reading.text.clone(),
        stored,
        amount: reading.amount,
        uncertainty: u.filter(|_| reading.amount.is_some()).map(|u| show_u(measurand, u)),
        probe: reading.probe.as_ref().map(|probe| probe.name.clone()),
        reason: reading.reason.clone(),
        device_line: reading.device_line.clone(),
    })
}

/// Prints a standard uncertainty with two significant digits.
fn show_u(measurand: Measurand, u: Amount) -> String {
    format!("± {}", Amount { measurand, ..u }.show(decimals_of(u.value(), 2)))
}

/// Returns the assessment in force of a piece.
pub(super) fn kept_assessment(reader: Reader<'_>, piece: &PieceRow) -> Result<AssessmentRow, AppError> {
    let kept = piece.assessment.map(|id| reader.assessment(id)).transpose()?.flatten();
    kept.ok_or_else(|| {
        StoreError::Strange { column: "piece.assessment", found: format!("nothing, for {}", piece.number) }
            .into()
    })
}

/// Returns a lot that must be in the book.
pub(super) fn lot_of(reader: Reader<'_>, lot: LotId) -> Result<LotRow, AppError> {
    let missing = || StoreError::Strange { column: "lot.id", found: format!("nothing, for lot {lot}") };
    reader.lot(lot)?.ok_or_else(|| missing().into())
}

/// Returns a piece that must be in the book.
pub(super) fn piece_of(reader: Reader<'_>, piece: PieceId) -> Result<PieceRow, AppError> {
    let missing = || StoreError::Strange { column: "piece.id", found: format!("nothing, for piece {piece}") };
    reader.piece(piece)?.ok_or_else(|| missing().into())
}
