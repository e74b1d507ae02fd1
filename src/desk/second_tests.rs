//! Second tests: recorded, and the piece assessed anew with everything that is known of it.

use super::custody::{at_the_desk, named_piece};
use super::review_views::{SecondTestOutcome, SecondTestView};
use super::show::{Depth, Prices, lot_of, piece_of, prices};
use super::views::{HoldView, PieceView};
use super::{AppError, Desk, Setup, new_uuid, said};
use crate::evidence::SecondTest;
use crate::intake::{HoldId, PieceId, SecondTestId};
use crate::scoring::{Assessment, Declared, SecondTestReport};
use crate::store::{Deed, HoldRow, NewSecondTest, PieceRow, Reader, SecondTestRow, Writer};
use serde_json::json;

impl Desk {
    /// Records a second test of a piece, scores the piece again with it, and brings its holds in line.
    ///
    /// # Errors
    /// `Failed` when no piece has that number or serial, `NotPermitted` for a piece that is in stock or gone.
    pub fn record_second_test(
        &mut self,
        piece: &str,
        test: SecondTest,
    ) -> Result<SecondTestOutcome, AppError> {
        let act = self.act();
        let Desk { store, setup, .. } = self;
        store.write(&act, |writer| {
            setup.keep_rules(writer)?;
            let row = named_piece(writer.read(), piece)?;
            at_the_desk(&row)?;
            let report = setup.try_second_test(writer.read(), &row, test.clone())?;
            let before = holds_around(writer.read(), &row)?;
            let id = SecondTestId::new(new_uuid(act.at));
            writer.insert_second_test(&NewSecondTest { id, piece: row.id, test: &test, report: &report })?;
            let assessment = setup.settle(writer, row.id)?;
            let payload = json!({
                "piece": row.id.to_string(),
                "number": row.number.to_string(),
                "second_test": id.to_string(),
                "method": report.method.word(),
                "test": test,
                "outcome": report.outcome.word(),
                "result": report.result(),
                "reason": report.reason,
                "assessment": assessment,
            });
            writer.journal(Deed::SecondTestRecorded, &payload, None)?;
            setup.outcome(writer, &row, id, &before)
        })
    }

    /// Says what a second test would come to, and writes nothing.
    ///
    /// # Errors
    /// As [`Desk::record_second_test`].
    pub fn preview_second_test(&self, piece: &str, test: SecondTest) -> Result<SecondTestReport, AppError> {
        let reader = self.store.read();
        let row = named_piece(reader, piece)?;
        at_the_desk(&row)?;
        self.setup.try_second_test(reader, &row, test)
    }

    /// Withdraws a second test that was entered by mistake; the piece is scored again without it.
    ///
    /// # Errors
    /// `Usage` without a reason, `Failed` when it is withdrawn already, `NotPermitted` for a piece in stock or gone.
    pub fn withdraw_second_test(&mut self, test: SecondTestId, reason: &str) -> Result<PieceView, AppError> {
        let reason = said("the reason", reason)?;
        let act = self.act();
        let Desk { store, setup, .. } = self;
        store.write(&act, |writer| {
            setup.keep_rules(writer)?;
            let row = setup.withdraw(writer, test, &reason, None)?;
            let reader = writer.read();
            setup.show_piece(reader, piece_of(reader, row.id)?, &prices(reader)?, Depth::Full)
        })
    }

    /// Returns the second tests of a piece that are in force, oldest first, with what they come to now.
    ///
    /// # Errors
    /// What the book says.
    pub fn second_tests(&self, piece: PieceId) -> Result<Vec<SecondTestView>, AppError> {
        let reader = self.store.read();
        self.setup.show_second_tests(reader, &piece_of(reader, piece)?)
    }
}

impl Setup {
    /// Assesses a piece as if a second test had been recorded; returns what it comes to.
    fn try_second_test(
        &self,
        reader: Reader<'_>,
        row: &PieceRow,
        test: SecondTest,
    ) -> Result<SecondTestReport, AppError> {
        let product = self.product(&row.product)?;
        let readings = reader.readings_in_force(row.id)?;
        let mut evidence = self.evidence(reader, &readings, &reader.second_tests_of(row.id)?)?;
        evidence.second_tests.push(test);
        let price = reader.price(product.metal)?.map(|row| row.per_troy_ounce);
        let lot = lot_of(reader, row.lot)?;
        let (lot_size, source) = (lot.expected, Some(lot.source.as_str()));
        let declared = Declared { product, price, lot_size, source, type_book: None };
        let mut assessment = self.assess_taken(&declared, &readings, &evidence);
        Ok(assessment.second_tests.pop().expect("scoring reports on each second test"))
    }

    fn outcome(
        &self,
        writer: &Writer<'_>,
        row: &PieceRow,
        id: SecondTestId,
        before: &[HoldRow],
    ) -> Result<SecondTestOutcome, AppError> {
        let reader = writer.read();
        let row = piece_of(reader, row.id)?;
        let prices = prices(reader)?;
        let after = holds_around(reader, &row)?;
        let test = self.show_second_tests(reader, &row)?.into_iter().find(|test| test.id == id);
        let only_in = |some: &[HoldRow], other: &[HoldRow]| {
            let ids: Vec<HoldId> = other.iter().map(|hold| hold.id).collect();
            let found = some.iter().filter(|hold| !ids.contains(&hold.id)).cloned();
            self.show_holds(reader, found.collect(), &row, &prices)
        };
        Ok(SecondTestOutcome {
            closed: only_in(before, &after)?,
            opened: only_in(&after, before)?,
            test: test.expect("the test was recorded in this transaction"),
            piece: self.show_piece(reader, row, &prices, Depth::Full)?,
        })
    }

    fn show_holds(
        &self,
        reader: Reader<'_>,
        holds: Vec<HoldRow>,
        row: &PieceRow,
        prices: &Prices,
    ) -> Result<Vec<HoldView>, AppError> {
        let lot = lot_of(reader, row.lot)?;
        let show = |hold: HoldRow| {
            let piece = hold.piece.map(|_| row);
            self.show_hold(hold, &lot, piece, prices)
        };
        Ok(holds.into_iter().map(show).collect())
    }

    /// Returns the second tests of a piece with what they come to now.
    pub(super) fn show_second_tests(
        &self,
        reader: Reader<'_>,
        row: &PieceRow,
    ) -> Result<Vec<SecondTestView>, AppError> {
        let tests = reader.second_tests_of(row.id)?;
        let assessment = super::show::kept_assessment(reader, row)?.assessment;
        let shown = tests.into_iter().enumerate().map(|(place, test)| SecondTestView {
            id: test.id,
            piece: row.number.to_string(),
            report: report_now(&assessment, place, &test),
            test: test.test,
            at: test.at,
            operator: test.operator,
        });
        Ok(shown.collect())
    }

    /// Withdraws a second test, scores its piece again, and adds the journal row.
    pub(super) fn withdraw(
        &self,
        writer: &Writer<'_>,
        test: SecondTestId,
        reason: &str,
        undoes: Option<i64>,
    ) -> Result<PieceRow, AppError> {
        let found = writer.read().second_test(test)?;
        let test =
            found.ok_or_else(|| AppError::failed(format!("second test `{test}` is not in the book")))?;
        let row = piece_of(writer.read(), test.piece)?;
        at_the_desk(&row)?;
        if test.withdrawn {
            return Err(AppError::failed(format!(
                "the {} of piece `{}` is withdrawn already",
                test.method.label(),
                row.number
            )));
        }
        writer.withdraw_second_test(test.id, reason)?;
        let assessment = self.settle(writer, row.id)?;
        let payload = json!({
            "piece": row.id.to_string(),
            "number": row.number.to_string(),
            "second_test": test.id.to_string(),
            "reason": reason,
            "assessment": assessment,
        });
        writer.journal(Deed::SecondTestWithdrawn, &payload, undoes)?;
        Ok(row)
    }
}

/// Returns what a second test comes to now: the reports of an assessment stand in the order of the tests.
pub(super) fn report_now(assessment: &Assessment, place: usize, test: &SecondTestRow) -> SecondTestReport {
    let now = assessment.second_tests.get(place).filter(|report| report.method == test.method);
    now.unwrap_or(&test.report).clone()
}

/// Returns the open holds of a piece and those of its lot.
fn holds_around(reader: Reader<'_>, row: &PieceRow) -> Result<Vec<HoldRow>, AppError> {
    let mut holds = reader.open_holds_of_piece(row.id)?;
    holds.extend(reader.open_holds_of_lot(row.lot)?);
    Ok(holds)
}
