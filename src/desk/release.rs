//! Release: a person's act by which a piece becomes stock. Nothing gets past an open hold.

use super::custody::{custody_error, custody_of, meant};
use super::operators::is_shared_desk;
use super::review_views::{Role, StockView};
use super::show::{Prices, lot_of, piece_of, prices, value_of};
use super::{AppError, Desk, ErrorKind, Setup, new_uuid};
use crate::intake::{CustodyAct, CustodyRefusal, DecisionId, LotId, PieceState};
use crate::quantity::Money;
use crate::scoring::Standing;
use crate::store::{DecisionKind, Deed, NewDecision, NewStock, PieceRow, Reader, Writer};
use serde_json::{Value, json};

/// How a fine mass came about that the product's specification gives.
const FINE_BY_SPECIFICATION: &str = "fine mass of the specification";
/// How a fine mass came about that was weighed.
const FINE_BY_WEIGHING: &str = "mass × fineness, rounded once, half to even, to 1 ng";
/// How a value comes about.
const VALUE_RULE: &str = "value = fine mass × price ÷ 31.1034768 g, rounded once, half to even, to 0.01";

impl Desk {
    /// Releases pieces to stock; a lot number means all its pieces that are clear.
    ///
    /// All or nothing: one piece that may not be released refuses the whole, and the error names every open hold. A lot of
    /// which pieces are missing is compared before, since nothing else does it; what is odd in it stays on hold.
    ///
    /// # Errors
    /// `NotPermitted` without the role of a reviewer or the PIN, past an open hold, before the holding period is over, for a
    /// piece that left the desk, and where two pairs of eyes are asked for.
    pub fn release(&mut self, pieces: &[String], pin: Option<&str>) -> Result<Vec<StockView>, AppError> {
        self.allow(pin, Role::Reviewer)?;
        let act = self.act();
        let Desk { store, setup, .. } = self;
        store.write(&act, |writer| {
            let reader = writer.read();
            let clear = |row: &PieceRow| row.state == PieceState::Logged && row.standing == Standing::Clear;
            let rows = meant(reader, pieces, clear)?;
            let prices = prices(reader)?;
            let compared = setup.compare_unfinished(writer, &rows)?;
            let rows =
                rows.iter().map(|row| piece_of(writer.read(), row.id)).collect::<Result<Vec<_>, _>>()?;
            if let Err(refusal) = setup.refuse_release(writer, &rows, &prices) {
                if compared.is_empty() || refusal.kind == ErrorKind::Stopped {
                    return Err(refusal);
                }
                writer.journal(Deed::LotCompared, &json!({ "lots": compared }), None)?;
                return Ok(Err(refusal));
            }
            let mut told = Vec::new();
            for (done, row) in rows.iter().enumerate() {
                writer.step_of("pieces released", done, rows.len())?;
                told.push(setup.release_piece(writer, row, &prices)?);
            }
            let mut payload = json!({ "pieces": told });
            if !compared.is_empty() {
                payload["compared"] = Value::Array(compared);
            }
            writer.journal(Deed::PiecesReleased, &payload, None)?;
            Ok(Ok(setup.show_stock_of(writer.read(), &rows)?))
        })?
    }
}

impl Setup {
    /// Compares the lots of pieces while some of their pieces are missing; returns what was found where something is odd.
    fn compare_unfinished(&self, writer: &Writer<'_>, rows: &[PieceRow]) -> Result<Vec<Value>, AppError> {
        let mut lots: Vec<LotId> = rows.iter().map(|row| row.lot).collect();
        lots.sort();
        lots.dedup();
        let mut compared = Vec::new();
        for lot in lots {
            let row = lot_of(writer.read(), lot)?;
            if row.logged >= row.expected {
                continue;
            }
            let before = writer.read().open_holds_in_lot(lot)?.len();
            let found = self.screen(writer, row)?;
            if writer.read().open_holds_in_lot(lot)?.len() > before {
                compared.extend(found);
            }
        }
        Ok(compared)
    }

    /// Collects everything that stands against a release, every open hold by piece, and refuses when there is anything.
    fn refuse_release(
        &self,
        writer: &Writer<'_>,
        rows: &[PieceRow],
        prices: &Prices,
    ) -> Result<(), AppError> {
        let reader = writer.read();
        let at_ms = writer.act().at.timestamp_millis();
        let two_pairs = is_shared_desk(reader)?;
        let mut against: Vec<String> = Vec::new();
        let mut refused = 0u32;
        let mut first: Option<AppError> = None;
        for row in rows {
            let before = against.len();
            let number = row.number.to_string();
            if let Err(refusal) = custody_of(reader, row)?.after(CustodyAct::Released { at_ms }) {
                match refusal {
                    CustodyRefusal::OpenHolds { .. } | CustodyRefusal::OpenLotHolds { .. } => {
                        against.extend(open_holds(reader, row)?);
                    }
                    refusal => {
                        let error = custody_error(&number, refusal);
                        against.push(error.message.clone());
                        first.get_or_insert(error);
                    }
                }
            }
            if against.len() == before && row.standing != Standing::Clear {
                against.push(format!(
                    "piece `{number}` stands at `{}`: score its lot again",
                    row.standing.word()
                ));
            }
            let worth = self.worth(row, prices).map(|(_, value)| value);
            let limit = self.policy.review.four_eyes;
            if two_pairs
                && row.operator == writer.act().operator
                && worth.is_none_or(|worth| worth.amount > limit.amount)
            {
                let worth = worth.map_or("a value that is not known".to_owned(), |worth| worth.to_string());
                against.push(format!(
                    "piece `{number}`: `{}` logged it, and above {limit} somebody else releases it; it is worth {worth}",
                    row.operator
                ));
            }
            if against.len() > before {
                refused += 1;
            }
        }
        against.dedup();
        match (against.as_slice(), first) {
            ([], _) => Ok(()),
            ([_], Some(error)) => Err(error),
            ([only], None) => {
                Err(AppError::new(ErrorKind::NotPermitted, format!("nothing was released: {only}")))
            }
            (all, _) => {
                let message =
                    format!("nothing was released: {refused} of {} pieces may not become stock", rows.len());
                let mut error = AppError::new(ErrorKind::NotPermitted, message);
                error.hints = all.to_vec();
                Err(error)
            }
        }
    }

    /// Returns price and value of the fine metal of a piece.
    fn worth(&self, row: &PieceRow, prices: &Prices) -> Option<(Money, Money)> {
        let metal = self.catalogue.product(row.product.as_str())?.metal;
        let price = *prices.get(&metal)?;
        Some((price, value_of(row.fine, price)))
    }

    /// Writes decision, stock and value of a piece.
    fn release_piece(&self, writer: &Writer<'_>, row: &PieceRow, prices: &Prices) -> Result<Value, AppError> {
        let decision = DecisionId::new(new_uuid(writer.act().at));
        writer.insert_decision(&NewDecision {
            id: decision,
            kind: DecisionKind::Released,
            lot: row.lot,
            piece: Some(row.id),
            hold: None,
            evidence: None,
            sample: None,
            undoes: None,
            doubt: None,
            reason: "no doubt is open",
        })?;
        let specified = self
            .catalogue
            .product(row.product.as_str())
            .is_some_and(|product| product.nominal_fine_mass().is_some());
        let fine_rule = if specified { FINE_BY_SPECIFICATION } else { FINE_BY_WEIGHING };
        let worth = self.worth(row, prices);
        let rounding_rule = match worth {
            Some(_) => format!("{fine_rule}; {VALUE_RULE}"),
            None => fine_rule.to_owned(),
        };
        let assessment = row
            .assessment
            .ok_or_else(|| AppError::failed(format!("piece `{}` was never assessed", row.number)))?;
        writer.insert_stock(&NewStock {
            piece: row.id,
            decision,
            fine: row.fine,
            worth,
            rounding_rule: &rounding_rule,
            assessment,
        })?;
        let taught = self.teach(writer, row, decision)?;
        Ok(json!({
            "piece": row.id.to_string(),
            "number": row.number.to_string(),
            "decision": decision.to_string(),
            "fine_ng": crate::quantity::Quantity::base(row.fine),
            "price": worth.map(|(price, _)| price.to_string()),
            "value": worth.map(|(_, value)| value.to_string()),
            "rounding_rule": rounding_rule,
            "assessment": assessment.to_string(),
            "taught": taught,
        }))
    }

    fn show_stock_of(&self, reader: Reader<'_>, rows: &[PieceRow]) -> Result<Vec<StockView>, AppError> {
        let mut views = Vec::with_capacity(rows.len());
        for row in rows {
            views.extend(reader.stock_of(row.id)?.map(|stock| self.show_stock(stock)));
        }
        Ok(views)
    }
}

/// Returns the open holds of a piece and of its lot, one line each.
fn open_holds(reader: Reader<'_>, row: &PieceRow) -> Result<Vec<String>, AppError> {
    let lot = lot_of(reader, row.lot)?.number;
    let own = reader.open_holds_of_piece(row.id)?.into_iter();
    let mut lines: Vec<String> =
        own.map(|hold| format!("piece `{}`: {}", row.number, hold.kind.label())).collect();
    let shared = reader.open_holds_of_lot(row.lot)?.into_iter();
    lines.extend(shared.map(|hold| format!("lot `{lot}`: {}", hold.kind.label())));
    Ok(lines)
}
