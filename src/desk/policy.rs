//! The policy in force, and the holding periods that follow from it.
//!
//! A policy that an owner set in the book counts before the file in the config folder, and that before the one shipped: a
//! book that several people share has one policy, whoever's machine it is opened on.

use super::receive::shipment_by_number;
use super::{AppError, Desk, Setup};
use crate::scoring::Policy;
use crate::store::{Deed, HoldingRow, Reader, ShipmentRow, Writer, digest};
use chrono::{DateTime, Days, Utc};
use serde_json::json;

/// Where the policy in force comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum PolicyOrigin {
    /// Shipped with the program, or from the config folder of this machine.
    Desk,
    /// Set in the book.
    Book,
}

/// The policy in force.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PolicyView {
    /// Where it comes from.
    pub origin: PolicyOrigin,
    /// Its version, the first digits of the hash of its text.
    pub version: String,
    /// Its text.
    pub text: String,
}

/// Until when a shipment is held.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HoldingView {
    /// Number of the shipment.
    pub shipment: String,
    /// Kind of its source.
    pub source_kind: String,
    /// The end of its holding period.
    pub until: DateTime<Utc>,
    /// Whether that is over.
    pub is_over: bool,
}

impl Desk {
    /// Returns the policy in force with its text.
    ///
    /// # Errors
    /// What the book says.
    pub fn policy_view(&self) -> Result<PolicyView, AppError> {
        let origin = match self.store.read().policy_in_book()? {
            Some(_) => PolicyOrigin::Book,
            None => PolicyOrigin::Desk,
        };
        let version = self.setup.policy.version().to_owned();
        Ok(PolicyView { origin, version, text: self.setup.texts.policy.clone() })
    }

    /// Sets the policy of the book from the text of a file; it counts from now on, on every machine.
    ///
    /// # Errors
    /// `NotPermitted` for anybody but an owner; the first mistake of the text, with line or field.
    pub fn set_policy(&mut self, file: &str, text: &str) -> Result<PolicyView, AppError> {
        self.owner_acts()?;
        let policy = Policy::parse(file, text).map_err(|error| AppError::failed(error.to_string()))?;
        let act = self.act();
        self.store.write(&act, |writer| {
            writer.keep_rule_text("policy", policy.version(), text)?;
            writer.set_policy(Some(policy.version()))?;
            let payload = json!({ "file": file, "version": policy.version(), "text_sha256": digest(text) });
            writer.journal(Deed::PolicySet, &payload, None)?;
            Ok::<_, AppError>(())
        })?;
        self.setup.policy = policy;
        text.clone_into(&mut self.setup.texts.policy);
        self.policy_view()
    }

    /// Goes back to the policy of the desk: the file of the config folder, else the one shipped.
    ///
    /// # Errors
    /// `NotPermitted` for anybody but an owner, `Failed` when the book sets none.
    pub fn unset_policy(&mut self) -> Result<PolicyView, AppError> {
        self.owner_acts()?;
        if self.store.read().policy_in_book()?.is_none() {
            return Err(AppError::failed("the book sets no policy"));
        }
        let act = self.act();
        self.store.write(&act, |writer| {
            writer.set_policy(None)?;
            writer.journal(Deed::PolicySet, &json!({ "version": null }), None)?;
            Ok::<_, AppError>(())
        })?;
        let (policy, text) = self.own_policy.clone();
        self.setup.policy = policy;
        self.setup.texts.policy = text;
        self.policy_view()
    }

    /// Says what kind of source sent a shipment; its holding period follows from the policy.
    ///
    /// # Errors
    /// `Usage` for a kind that the policy does not name, `Failed` when the book has no such shipment.
    pub fn set_source_kind(&mut self, shipment: &str, kind: &str) -> Result<HoldingView, AppError> {
        let act = self.act();
        let Desk { store, setup, .. } = self;
        store.write(&act, |writer| {
            let row = shipment_by_number(writer.read(), shipment)?;
            let holding = setup.hold_shipment(writer, &row, kind)?;
            Ok(show_holding(&row, holding, act.at))
        })
    }

    /// Returns the holding period of a shipment; `None` when it has none.
    ///
    /// # Errors
    /// `Failed` when the book has no such shipment.
    pub fn holding(&self, shipment: &str) -> Result<Option<HoldingView>, AppError> {
        let reader = self.store.read();
        let row = shipment_by_number(reader, shipment)?;
        let now = self.act().at;
        Ok(reader.holding(row.id)?.map(|holding| show_holding(&row, holding, now)))
    }
}

impl Setup {
    /// Starts the holding period of a shipment whose source the policy knows by name.
    pub(super) fn hold_known_source(&self, writer: &Writer<'_>, row: &ShipmentRow) -> Result<(), AppError> {
        match self.policy.review.kind_of(&row.source) {
            Some(kind) => self.hold_shipment(writer, row, kind).map(|_| ()),
            None => Ok(()),
        }
    }

    fn hold_shipment(
        &self,
        writer: &Writer<'_>,
        row: &ShipmentRow,
        kind: &str,
    ) -> Result<HoldingRow, AppError> {
        let kinds = &self.policy.review.holding_days;
        let Some(days) = kinds.get(kind.trim()) else {
            let known: Vec<String> = kinds.keys().map(|kind| format!("`{kind}`")).collect();
            let allowed = if known.is_empty() { "none".to_owned() } else { known.join(", ") };
            let message = format!("`{}` is not a kind of source; the policy names {allowed}", kind.trim());
            return Err(AppError::usage(
                message,
                vec!["kinds stand in the policy under `[review.holding_days]`".to_owned()],
            ));
        };
        let until = row.received_at.checked_add_days(Days::new(u64::from(*days)));
        let until = until.ok_or_else(|| AppError::failed("the holding period ends beyond the calendar"))?;
        let holding = HoldingRow { source_kind: kind.trim().to_owned(), until };
        writer.set_holding(row.id, &holding)?;
        let payload = json!({
            "shipment": row.number.to_string(),
            "id": row.id.to_string(),
            "source_kind": holding.source_kind,
            "days": days,
            "until": until.to_rfc3339(),
        });
        writer.journal(Deed::HoldingSet, &payload, None)?;
        Ok(holding)
    }
}

fn show_holding(row: &ShipmentRow, holding: HoldingRow, now: DateTime<Utc>) -> HoldingView {
    HoldingView {
        shipment: row.number.to_string(),
        source_kind: holding.source_kind,
        is_over: holding.until <= now,
        until: holding.until,
    }
}

/// Returns the policy that an owner set in a book, with its text.
pub(super) fn policy_of(reader: Reader<'_>) -> Result<Option<(Policy, String)>, AppError> {
    let Some((version, text)) = reader.policy_in_book()? else { return Ok(None) };
    let policy = Policy::parse(&format!("policy {version} of the book"), &text)
        .map_err(|error| AppError::failed(error.to_string()))?;
    Ok(Some((policy, text)))
}
