//! An assessment as JSON, for scripts. The form is a contract: fields are added, never renamed or removed, without a new
//! schema number.

use super::causes;
use crate::quantity::Length;
use crate::scoring::{Assessment, Candidate, Check, Compared, Construction, Doubt, Figure, Plan, Scope};
use serde_json::{Map, Value, json};

/// Schema number of the JSON of an assessment.
pub const SCHEMA: u32 = 1;

/// Returns an assessment as the JSON object that `score --json` prints.
pub fn assessment(assessment: &Assessment) -> Value {
    let mut object = Map::new();
    object.insert("schema".to_owned(), json!(SCHEMA));
    if let Value::Object(rest) = body(assessment) {
        object.extend(rest);
    }
    Value::Object(object)
}

/// Returns an assessment as a JSON object without a schema number, to stand inside another.
pub fn body(assessment: &Assessment) -> Value {
    let score = (assessment.score * 1000.0).floor() / 10.0;
    let (watched, not_watched) = assessment.watched_and_not();
    json!({
        "product": assessment.product.as_str(),
        "standing": assessment.standing.word(),
        "score": score,
        "score_rests_on": assessment.score_rests_on,
        "checks": assessment.checks.iter().map(check).collect::<Vec<_>>(),
        "candidates": assessment.candidates.iter().map(candidate).collect::<Vec<_>>(),
        "doubts": assessment.doubts.iter().map(doubt).collect::<Vec<_>>(),
        "plan": assessment.plan.as_ref().map(plan),
        "watched": named(&watched),
        "not_watched": named(&not_watched),
        "waits_with_its_lot": assessment.waits_with_its_lot(),
        "remarks": assessment.remarks.iter().map(causes::remark_text).collect::<Vec<_>>(),
        "skin_depth_mm": assessment.skin_depth.map(millimetres),
        "proved_depth_mm": assessment.proved_depth.map(millimetres),
        "engine": assessment.engine,
        "reference": assessment.reference,
        "policy": assessment.policy,
        "type_book": assessment.type_book.as_ref().map(|used| json!({
            "version": used.version,
            "significance": used.significance,
            "compared": used.compared.iter().map(compared).collect::<Vec<_>>(),
        })),
    })
}

fn compared(compared: &Compared) -> Value {
    json!({
        "quantity": compared.quantity.word(),
        "unit": compared.quantity.measurand().map(|measurand| measurand.units()[0].symbol),
        "instrument": compared.instrument,
        "value": compared.value.value(),
        "pieces": compared.pieces,
        "centre": compared.centre.value(),
        "centre_u": compared.centre_u.value(),
        "scatter": compared.scatter.value(),
        "lower": compared.lower.value(),
        "upper": compared.upper.value(),
        "odd": compared.odd,
    })
}

fn check(check: &Check) -> Value {
    let unit = check.measurand.units()[0].symbol;
    json!({
        "quantity": check.measurand.name(),
        "value": check.value.map(|amount| amount.value()),
        "unit": unit,
        "u": check.u.map(|amount| amount.value()),
        "lower": check.lower.map(|amount| amount.value()),
        "upper": check.upper.map(|amount| amount.value()),
        "limits": check.mark.as_str(),
        "limits_from": check.limits_from,
        "p": check.probability,
        "tolerance_used": check.tolerance_used,
        "outcome": check.outcome.word(),
        "reason": check.reason,
        "budget": check.budget.iter().map(|line| json!({
            "name": line.name, "u": line.u.value(), "source": line.source,
        })).collect::<Vec<_>>(),
    })
}

fn candidate(candidate: &Candidate) -> Value {
    json!({
        "material": candidate.material.as_str(),
        "name": candidate.name,
        "construction": construction(candidate.construction),
        "survives": candidate.survives,
        "skin_mm": candidate.skins.iter().map(|(from, to)| json!([millimetres(*from), millimetres(*to)])).collect::<Vec<_>>(),
        "hidden_share": candidate.hidden_share,
        "displaced": candidate.displaced.map(|money| json!({
            "amount": money.amount.to_string(), "currency": money.currency.code(),
        })),
        "material_doubt": candidate.material_doubt.is_some(),
        "doubt_scope": candidate.material_doubt.map(scope),
        "outside_model": candidate.outside_model,
        "excluded_by": candidate.excluded_by,
    })
}

/// Names candidates by material and construction.
fn named(candidates: &[&Candidate]) -> Value {
    candidates
        .iter()
        .map(|candidate| {
            json!({
                "material": candidate.material.as_str(),
                "name": candidate.name,
                "construction": construction(candidate.construction),
                "practice": candidate.practice.map(|practice| practice.as_str()),
            })
        })
        .collect()
}

/// Returns a plan as a JSON object.
pub fn plan(plan: &Plan) -> Value {
    let figures = |(low, high): (Figure, Figure)| json!({ "from": low.value(), "to": high.value(), "unit": low.symbol() });
    json!({
        "settles": plan.settles(),
        "steps": plan.steps.iter().map(|step| json!({
            "method": step.method.word(),
            "swept": step.swept,
            "minutes": step.cost.minutes,
            "fee": step.cost.fee.amount.to_string(),
            "good": step.good.map(figures),
            "other": step.other.as_ref().map(|other| json!({
                "material": other.material.as_str(), "name": other.name, "reads": figures(other.reads),
            })),
            "probe": step.probe,
            "frequency_hz": step.frequency.map(|frequency| frequency.as_hertz().round()),
        })).collect::<Vec<_>>(),
        "remainder": plan.remainder.iter().map(|left| json!({
            "material": left.material.as_str(), "name": left.name, "construction": construction(left.construction),
        })).collect::<Vec<_>>(),
        "at_risk": plan.at_risk.map(|money| json!({
            "amount": money.amount.to_string(), "currency": money.currency.code(),
        })),
    })
}

/// Returns a doubt as a JSON object; `settled_by` names the methods whose own numbers suffice, best first.
pub fn doubt(doubt: &Doubt) -> Value {
    json!({
        "kind": doubt.kind.word(),
        "scope": scope(doubt.scope),
        "text": causes::cause_text(&doubt.cause),
        "cause": doubt.cause.key(),
        "settled_by": doubt.settled_by().map(|method| method.word()).collect::<Vec<_>>(),
        "methods": offers(&doubt.offers),
    })
}

/// Returns what every method considered can do, as a JSON array.
pub fn offers(offers: &[crate::scoring::Offer]) -> Value {
    offers
        .iter()
        .map(|offer| {
            json!({
                "method": offer.method.word(),
                "power": match offer.power {
                    crate::scoring::Power::Settles => "settles",
                    crate::scoring::Power::Narrows => "narrows",
                    crate::scoring::Power::Cannot => "cannot",
                },
                "why": causes::because_text(&offer.because),
            })
        })
        .collect()
}

/// Returns the word of how something is built.
pub fn construction(construction: Construction) -> &'static str {
    match construction {
        Construction::Solid => "solid",
        Construction::Core => "core",
        Construction::Insert => "insert",
    }
}

/// Returns the word of a scope.
pub fn scope(scope: Scope) -> &'static str {
    match scope {
        Scope::Piece => "piece",
        Scope::Lot => "lot",
    }
}

/// Returns a length in millimetres, to the micrometre.
fn millimetres(length: Length) -> f64 {
    (length.as_millimetres() * 1e3).round() / 1e3
}
