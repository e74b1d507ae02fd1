//! What a second test came to as JSON, for scripts. The form is a contract: fields are added, never renamed or removed,
//! without a new schema number.

use super::assessment_json::construction;
use crate::quantity::Length;
use crate::scoring::{Figure, SecondTestReport};
use serde_json::{Value, json};

/// Returns the report of a second test as a JSON object without a schema number.
pub fn report(report: &SecondTestReport) -> Value {
    let unit = report.value.map(Figure::symbol);
    json!({
        "method": report.method.word(),
        "how": report.how,
        "result": report.result(),
        "value": report.value.map(Figure::value),
        "u": report.u.map(Figure::value),
        "unit": unit,
        "declared": report.declared.map(|(low, high)| json!([low.value(), high.value()])),
        "outcome": report.outcome.word(),
        "reason": report.reason,
        "budget": report.budget.iter().map(|line| json!({
            "name": line.name, "u": line.u.value(), "source": line.source,
        })).collect::<Vec<_>>(),
        "excluded": report.excluded.iter().map(|excluded| json!({
            "material": excluded.material.as_str(),
            "name": excluded.name,
            "construction": construction(excluded.construction),
            "skin_mm": skins(&excluded.skins),
            "whole": excluded.whole,
            "why": excluded.why,
        })).collect::<Vec<_>>(),
        "not_told_apart": report.not_told_apart.iter().map(|left| json!({
            "material": left.material.as_str(),
            "name": left.name,
            "construction": construction(left.construction),
            "skin_mm": skins(&left.skins),
            "why": left.why,
        })).collect::<Vec<_>>(),
        "cautions": report.cautions,
    })
}

/// Returns ranges of skin thickness in millimetres, to the micrometre.
fn skins(skins: &[(Length, Length)]) -> Vec<[f64; 2]> {
    let millimetres = |length: Length| (length.as_millimetres() * 1e3).round() / 1e3;
    skins.iter().map(|(thin, thick)| [millimetres(*thin), millimetres(*thick)]).collect()
}
