//! The views of the end of the day as JSON. The forms are a contract: fields are added, never renamed or removed, without
//! a new schema number.

use super::json::{hold, lot, money, time};
use crate::desk::review_views::{
    DayLot, DayView, DecisionView, Ending, OperatorView, PieceRecord, Role, SampleView, SecondTestView,
    StockView, Worth,
};
use crate::present::second_test_json;
use crate::quantity::{Mass, Quantity};
use serde_json::{Value, json};

pub(super) fn second_test(test: &SecondTestView) -> Value {
    json!({
        "id": test.id.to_string(),
        "piece": test.piece,
        "at": time(test.at),
        "operator": test.operator,
        "test": test.test,
        "report": second_test_json::report(&test.report),
    })
}

pub(super) fn sample(sample: &SampleView) -> Value {
    json!({
        "id": sample.id.to_string(),
        "lot": sample.lot,
        "seed": sample.seed.to_string(),
        "of": sample.of,
        "pieces": sample.pieces,
        "agreed": sample.agreed,
        "disagreed": sample.disagreed,
        "bound": sample.bound,
    })
}

pub(super) fn stock(stock: &StockView) -> Value {
    json!({
        "piece": stock.piece,
        "id": stock.id.to_string(),
        "source": stock.source,
        "product": stock.product.as_str(),
        "product_name": stock.product_name,
        "metal": stock.metal.as_str(),
        "serial": stock.serial,
        "gross_g": stock.gross.map(grams),
        "fine_g": grams(stock.fine),
        "value": stock.value.map(money),
        "price_per_troy_ounce": stock.price.map(money),
        "released_at": time(stock.released_at),
        "released_by": stock.released_by,
        "recalled": stock.recalled,
    })
}

/// Returns a mass in grams as a text with all its digits, so that nothing is rounded on the way.
fn grams(mass: Mass) -> String {
    let digits = mass.digits_in(&Mass::UNITS[0], 9);
    digits.trim_end_matches('0').trim_end_matches('.').to_owned()
}

pub(super) fn worth(worth: &Worth) -> Value {
    json!({
        "metal": worth.metal.as_str(),
        "pieces": worth.pieces,
        "fine_g": grams(worth.fine),
        "value": worth.value.map(money),
    })
}

pub(super) fn decision(decision: &DecisionView) -> Value {
    json!({
        "about": decision.about,
        "what": decision.what,
        "reason": decision.reason,
        "evidence": decision.evidence.map(|id| id.to_string()),
        "hold": decision.hold.map(|id| id.to_string()),
        "operator": decision.operator,
        "at": time(decision.at),
    })
}

fn day_lot(day: &DayLot) -> Value {
    let mut value = lot(&day.lot);
    value["source"] = json!(day.source);
    value["released"] = json!(day.released);
    value["sent_back"] = json!(day.sent_back);
    value["surrendered"] = json!(day.surrendered);
    value["short"] = json!(day.lot.expected.saturating_sub(day.lot.logged));
    value
}

pub(super) fn day(day: &DayView) -> Value {
    let group = |group: &[Worth]| group.iter().map(worth).collect::<Vec<_>>();
    json!({
        "day": day.day.to_string(),
        "made_at": time(day.made_at),
        "lots": day.lots.iter().map(day_lot).collect::<Vec<_>>(),
        "received": group(&day.received),
        "sellable": group(&day.sellable),
        "recalled": group(&day.recalled),
        "on_hold": group(&day.on_hold),
        "at_risk": group(&day.at_risk),
        "doubts": day.doubts.iter().map(|(kind, pieces, lots)| json!({
            "kind": kind.word(), "pieces": pieces, "lots": lots,
        })).collect::<Vec<_>>(),
        "second_tests": day.second_tests.iter().map(|(method, tests)| json!({
            "method": method.word(), "tests": tests,
        })).collect::<Vec<_>>(),
        "decisions": day.decisions.iter().map(decision).collect::<Vec<_>>(),
        "instruments": day.instruments,
        "journal_rows": day.journal_rows,
        "journal_head": day.journal_head,
        "desk": day.desk,
        "engine": day.versions.0,
        "reference": day.versions.1,
        "policy": day.versions.2,
    })
}

pub(super) fn record(record: &PieceRecord) -> Value {
    json!({
        "piece": super::json::piece(&record.piece),
        "source": record.source,
        "lot": record.lot.to_string(),
        "second_tests": record.tests.iter().map(second_test).collect::<Vec<_>>(),
        "decisions": record.decisions.iter().map(decision).collect::<Vec<_>>(),
        "samples": record.samples.iter().map(sample).collect::<Vec<_>>(),
        "stock": record.stock.as_ref().map(stock),
        "ending": record.ending.as_ref().map(|(ending, reason, at)| json!({
            "kind": ending_word(*ending), "reason": reason, "at": time(*at),
        })),
        "journal_hash": record.journal_hash,
    })
}

fn ending_word(ending: Ending) -> &'static str {
    match ending {
        Ending::Released => "released",
        Ending::SentBack => "sent_back",
        Ending::Surrendered => "surrendered",
    }
}

/// Returns the word of a role.
pub(super) fn role_word(role: Role) -> &'static str {
    match role {
        Role::Receiver => "receiver",
        Role::Reviewer => "reviewer",
        Role::Owner => "owner",
    }
}

pub(super) fn operator(operator: &OperatorView) -> Value {
    json!({ "name": operator.name, "role": role_word(operator.role), "has_pin": operator.has_pin })
}

pub(super) fn holds(holds: &[crate::desk::HoldView]) -> Vec<Value> {
    holds.iter().map(hold).collect()
}
