//! What happened from one moment to another.

use super::connection::Reader;
use super::error::StoreError;
use super::row::{count, id, word};
use super::shipments::LotRow;
use crate::intake::LotId;
use crate::scoring::Method;
use chrono::{DateTime, Utc};
use std::collections::BTreeSet;

impl Reader<'_> {
    /// Returns the lots that were received, logged, tested or decided upon in a span of time, in the order of their numbers.
    ///
    /// # Errors
    /// What the database says.
    pub fn lots_touched(&self, from: DateTime<Utc>, to: DateTime<Utc>) -> Result<Vec<LotRow>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT lot.id FROM lot JOIN shipment ON shipment.id = lot.shipment
                 WHERE shipment.received_ms >= ?1 AND shipment.received_ms < ?2
             UNION SELECT lot AS id FROM lot_quarter WHERE quarter >= ?1 / 900000 AND quarter < (?2 + 899999) / 900000
             UNION SELECT lot AS id FROM decision WHERE at_ms >= ?1 AND at_ms < ?2
             UNION SELECT piece.lot AS id FROM second_test JOIN piece ON piece.id = second_test.piece
                 WHERE second_test.at_ms >= ?1 AND second_test.at_ms < ?2",
        )?;
        let span = (from.timestamp_millis(), to.timestamp_millis());
        let ids: BTreeSet<LotId> =
            statement.query_map(span, |row| id(row, "id"))?.collect::<Result<_, _>>()?;
        let mut lots: Vec<LotRow> = Vec::with_capacity(ids.len());
        for id in ids {
            lots.extend(self.lot(id)?);
        }
        lots.sort_by_key(|lot| lot.number);
        Ok(lots)
    }

    /// Returns the lots of the shipments received in a span of time.
    ///
    /// # Errors
    /// What the database says.
    pub fn lots_received(&self, from: DateTime<Utc>, to: DateTime<Utc>) -> Result<Vec<LotRow>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT lot.id FROM lot JOIN shipment ON shipment.id = lot.shipment
             WHERE shipment.received_ms >= ?1 AND shipment.received_ms < ?2 ORDER BY shipment.number, lot.line",
        )?;
        let span = (from.timestamp_millis(), to.timestamp_millis());
        let ids: Vec<LotId> = statement.query_map(span, |row| id(row, "id"))?.collect::<Result<_, _>>()?;
        let mut lots = Vec::with_capacity(ids.len());
        for id in ids {
            lots.extend(self.lot(id)?);
        }
        Ok(lots)
    }

    /// Returns how many second tests were recorded in a span of time, by method; withdrawn ones are left out.
    ///
    /// # Errors
    /// What the database says.
    pub fn second_tests_between(
        &self,
        from: DateTime<Utc>,
        to: DateTime<Utc>,
    ) -> Result<Vec<(Method, u32)>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT method, count(*) AS tests FROM second_test WHERE at_ms >= ?1 AND at_ms < ?2
             AND NOT EXISTS (SELECT 1 FROM second_test_withdrawn WHERE second_test = second_test.id)
             GROUP BY method",
        )?;
        let rows = statement.query_and_then((from.timestamp_millis(), to.timestamp_millis()), |row| {
            Ok((word(row, "method", Method::named)?, count(row, "tests")?))
        })?;
        let mut tests: Vec<(Method, u32)> = rows.collect::<Result<_, StoreError>>()?;
        tests.sort_by_key(|(method, _)| *method);
        Ok(tests)
    }
}
