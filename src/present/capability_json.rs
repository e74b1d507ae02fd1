//! What instruments would do to a product, as JSON. Fields are added, never renamed or removed.

use super::reach_json::solid;
use crate::scoring::Capability;
use serde_json::{Value, json};

/// Returns what instruments would do to a product.
pub fn capability(capability: &Capability) -> Value {
    let held = &capability.held;
    let windows: Vec<Value> = capability
        .windows
        .iter()
        .map(|window| {
            json!({
                "quantity": window.measurand.name(),
                "lower": window.lower.map(|amount| amount.value()),
                "upper": window.upper.map(|amount| amount.value()),
                "u": window.u.map(|amount| amount.value()),
                "accepted_share": window.accepted_share,
                "capable": window.capable,
                "why": window.why,
            })
        })
        .collect();
    let by_kind: serde_json::Map<String, Value> =
        held.by_kind.iter().map(|(kind, count)| (kind.word().to_owned(), json!(count))).collect();
    json!({
        "probe": capability.probe,
        "size": capability.size,
        "assumed": capability.assumed,
        "capable": capability.is_capable(),
        "why_not": capability.why_not(),
        "windows": windows,
        "solids": capability.solids.iter().map(solid).collect::<Vec<_>>(),
        "seed": capability.seed,
        "pieces": held.pieces,
        "held_by_own_readings": held.own,
        "share_held_by_own_readings": held.own_share(),
        "by_kind": by_kind,
        "refused": held.refused,
        "clear": held.clear,
        "with_shared_doubt": held.shared,
        "with_core_of_their_own": held.other_core,
        "shared_doubts": capability.shared,
    })
}
