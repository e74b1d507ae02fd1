//! The policy and the register that an owner set, and the holding periods of shipments: the last row counts.

use super::connection::{Reader, Writer};
use super::error::StoreError;
use super::row::{Id, time};
use crate::intake::ShipmentId;
use chrono::{DateTime, Utc};
use rusqlite::OptionalExtension;

/// The holding period of a shipment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HoldingRow {
    /// Kind of its source.
    pub source_kind: String,
    /// Its end.
    pub until: DateTime<Utc>,
}

impl Writer<'_> {
    /// Sets the policy by its version, whose text is kept already; `None` goes back to the policy of the desk.
    ///
    /// # Errors
    /// What the database says.
    pub fn set_policy(&self, version: Option<&str>) -> Result<(), StoreError> {
        self.connection
            .prepare_cached("INSERT INTO policy_setting (version, at_ms, operator) VALUES (?1, ?2, ?3)")?
            .execute((version, self.at_ms(), &self.act.operator))?;
        Ok(())
    }

    /// Sets the register of instruments by its version, whose text is kept already; `None` goes back to that of the desk.
    ///
    /// # Errors
    /// What the database says.
    pub fn set_instruments(&self, version: Option<&str>) -> Result<(), StoreError> {
        self.connection
            .prepare_cached("INSERT INTO instrument_setting (version, at_ms, operator) VALUES (?1, ?2, ?3)")?
            .execute((version, self.at_ms(), &self.act.operator))?;
        Ok(())
    }

    /// Sets the holding period of a shipment.
    ///
    /// # Errors
    /// What the database says.
    pub fn set_holding(&self, shipment: ShipmentId, holding: &HoldingRow) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO holding_period (shipment, source_kind, until_ms, at_ms, operator)
                 VALUES (?1, ?2, ?3, ?4, ?5)",
            )?
            .execute((
                shipment.column(),
                &holding.source_kind,
                holding.until.timestamp_millis(),
                self.at_ms(),
                &self.act.operator,
            ))?;
        Ok(())
    }
}

impl Reader<'_> {
    /// Returns version and text of the policy that an owner set last; `None` when the policy of the desk counts.
    ///
    /// # Errors
    /// What the database says.
    pub fn policy_in_book(&self) -> Result<Option<(String, String)>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT rule_text.version, rule_text.text FROM policy_setting
             JOIN rule_text ON rule_text.kind = 'policy' AND rule_text.version = policy_setting.version
             WHERE policy_setting.id = (SELECT max(id) FROM policy_setting)",
        )?;
        Ok(statement.query_row([], |row| Ok((row.get(0)?, row.get(1)?))).optional()?)
    }

    /// Returns version and text of the register that an owner set last; `None` when the instruments of the desk count.
    ///
    /// # Errors
    /// What the database says.
    pub fn instruments_in_book(&self) -> Result<Option<(String, String)>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT rule_text.version, rule_text.text FROM instrument_setting
             JOIN rule_text ON rule_text.kind = 'instruments' AND rule_text.version = instrument_setting.version
             WHERE instrument_setting.id = (SELECT max(id) FROM instrument_setting)",
        )?;
        Ok(statement.query_row([], |row| Ok((row.get(0)?, row.get(1)?))).optional()?)
    }

    /// Returns the holding period of a shipment.
    ///
    /// # Errors
    /// What the database says.
    pub fn holding(&self, shipment: ShipmentId) -> Result<Option<HoldingRow>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT source_kind, until_ms FROM holding_period WHERE shipment = ?1 ORDER BY id DESC LIMIT 1",
        )?;
        let found = statement.query_and_then([shipment.column()], |row| {
            Ok(HoldingRow { source_kind: row.get("source_kind")?, until: time(row, "until_ms")? })
        })?;
        found.into_iter().next().transpose()
    }
}
