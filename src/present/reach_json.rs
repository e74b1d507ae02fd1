//! What a probe proves on a product, as JSON. Fields are added, never renamed or removed.

use crate::quantity::{Conductivity, Frequency, Length, Money};
use crate::scoring::{Reach, Scope, SolidReach};
use serde_json::{Value, json};

fn mm(length: Option<Length>) -> Value {
    json!(length.map(Length::as_millimetres))
}

fn hertz(frequency: Option<Frequency>) -> Value {
    json!(frequency.map(Frequency::as_hertz))
}

fn range(pair: (Conductivity, Conductivity)) -> Value {
    json!([pair.0.as_ms_per_m(), pair.1.as_ms_per_m()])
}

fn scope(scope: Scope) -> &'static str {
    match scope {
        Scope::Piece => "piece",
        Scope::Lot => "lot",
    }
}

fn money(money: Option<Money>) -> Value {
    money.map_or(
        Value::Null,
        |money| json!({ "amount": money.amount.to_string(), "currency": money.currency.code() }),
    )
}

/// Returns a solid that an accepted reading leaves open.
pub(super) fn solid(solid: &SolidReach) -> Value {
    json!({
        "material": solid.material.as_str(),
        "name": solid.name,
        "between_ms_m": range(solid.between),
        "share": solid.share,
        "always": solid.always,
        "concerns": scope(solid.concerns),
    })
}

/// Returns what one probe proves.
pub fn reach(reach: &Reach) -> Value {
    let cores: Vec<Value> = reach
        .cores
        .iter()
        .map(|core| {
            let hides: Vec<Value> = core
                .hides
                .iter()
                .map(|(thin, thick)| json!([thin.as_millimetres(), thick.as_millimetres()]))
                .collect();
            json!({
                "material": core.material.as_str(),
                "name": core.name,
                "hides_mm": hides,
                "left_from_mm": mm(core.left_from),
                "share": core.share,
                "displaced": money(core.displaced),
                "concerns": core.concerns.map(scope),
                "matters_to_mm": mm(core.matters_to),
                "frequency_needed_hz": hertz(core.frequency_needed),
            })
        })
        .collect();
    json!({
        "product": reach.product.as_str(),
        "probe": reach.probe.name,
        "frequency_hz": hertz(reach.probe.frequency),
        "size": reach.size,
        "assumed": reach.assumed,
        "half_mm": reach.half.as_millimetres(),
        "skin_depth_mm": mm(reach.skin_depth),
        "proved_depth_mm": mm(reach.proved_depth),
        "thickness_ratio": reach.thickness_ratio,
        "radius_ratio": reach.radius_ratio,
        "not_usable": reach.not_usable,
        "notes": reach.notes,
        "model": reach.model.map(|model| model.word()),
        "outside_model": reach.outside_model,
        "window_ms_m": range(reach.window),
        "u_ms_m": reach.u.map(Conductivity::as_ms_per_m),
        "accepted_ms_m": reach.accepted.map(range),
        "capable": reach.is_capable(),
        "spots": reach.spots,
        "lowest_frequency_hz": hertz(reach.lowest_frequency),
        "solids": reach.solids.iter().map(solid).collect::<Vec<_>>(),
        "cores": cores,
    })
}
