//! The views as JSON. The forms are a contract: fields are added, never renamed or removed, without a new schema number.

use crate::desk::{HoldView, LotView, PieceView, ReadingView, ShipmentView};
use crate::present::assessment_json;
use crate::present::causes::cause_text;
use crate::present::text::clean;
use crate::quantity::Money;
use crate::scoring::{Offer, Power, Scope};
use chrono::{DateTime, SecondsFormat, Utc};
use serde_json::{Map, Value, json};

/// Schema number of everything this folder prints.
const SCHEMA: u32 = 1;

/// Returns a document as text: the schema number first, then its fields.
pub(super) fn document(fields: Value) -> String {
    tame(&serde_json::to_string_pretty(&with_schema(fields)).expect("texts and finite numbers")) + "\n"
}

fn with_schema(fields: Value) -> Value {
    let mut object = Map::new();
    object.insert("schema".to_owned(), json!(SCHEMA));
    if let Value::Object(fields) = fields {
        object.extend(fields);
    }
    Value::Object(object)
}

/// Returns one row of a stream as text on one line: the schema number first, then its fields.
pub(super) fn row(fields: Value) -> String {
    tame(&with_schema(fields).to_string()) + "\n"
}

/// Returns JSON with everything that could steer a terminal or turn its reading direction written as a `\u` escape.
///
/// Such characters stand in texts only, so that the document stays the same.
///
/// # Source
/// RFC 8259, clause 7: any character of a text may be escaped so.
fn tame(json: &str) -> String {
    let mut tamed = String::with_capacity(json.len());
    for c in json.chars() {
        if c == '\n' || !clean(c.encode_utf8(&mut [0; 4])).is_empty() {
            tamed.push(c);
            continue;
        }
        for unit in c.encode_utf16(&mut [0; 2]) {
            tamed.push_str(&format!("\\u{unit:04x}"));
        }
    }
    tamed
}

pub(super) fn time(time: DateTime<Utc>) -> Value {
    json!(time.to_rfc3339_opts(SecondsFormat::Millis, true))
}

pub(super) fn money(money: Money) -> Value {
    json!({ "amount": money.amount.to_string(), "currency": money.currency.code() })
}

pub(super) fn shipment(shipment: &ShipmentView) -> Value {
    json!({
        "number": shipment.number,
        "id": shipment.id.to_string(),
        "source": shipment.source,
        "received_at": time(shipment.received_at),
        "lots": shipment.lots.iter().map(lot).collect::<Vec<_>>(),
    })
}

pub(super) fn lot(lot: &LotView) -> Value {
    json!({
        "number": lot.number,
        "id": lot.id.to_string(),
        "line": lot.line,
        "product": lot.product.as_str(),
        "product_name": lot.product_name,
        "expected": lot.expected,
        "logged": lot.logged,
        "clear": lot.clear,
        "hold": lot.hold,
        "refuse": lot.refuse,
        "lot_doubts": lot.lot_doubts,
        "serials_open": lot.serials_open,
        "unit_cost": lot.unit_cost.map(money),
        "standing": lot.standing.map(|standing| standing.word()),
    })
}

/// Returns a piece in short: what an import prints for each row.
pub(super) fn piece_in_short(piece: &PieceView) -> Value {
    json!({
        "number": piece.number,
        "id": piece.id.to_string(),
        "product": piece.product.as_str(),
        "serial": piece.serial,
        "standing": piece.standing.word(),
        "score": (piece.assessment.score * 1000.0).floor() / 10.0,
        "doubts": piece.doubts.iter().map(|doubt| json!({
            "kind": doubt.kind.word(), "text": cause_text(&doubt.cause), "settled_by": settled_by(&doubt.offers),
        })).collect::<Vec<_>>(),
    })
}

/// Returns a piece in full.
pub(super) fn piece(piece: &PieceView) -> Value {
    let mut value = piece_in_short(piece);
    value["product_name"] = json!(piece.product_name);
    value["logged_at"] = time(piece.logged_at);
    value["operator"] = json!(piece.operator);
    value["recalled"] = json!(piece.recalled);
    value["readings"] = piece.readings.iter().map(reading).collect();
    value["holds"] = piece.doubts.iter().map(hold).collect();
    value["assessment"] = assessment_json::body(&piece.assessment);
    value
}

fn reading(reading: &ReadingView) -> Value {
    json!({
        "id": reading.id.to_string(),
        "quantity": reading.measurand.name(),
        "spot": reading.spot,
        "text": reading.text,
        "stored": reading.stored,
        "u": reading.uncertainty,
        "probe": reading.probe,
        "reason": reading.reason,
        "device_line": reading.device_line,
    })
}

pub(super) fn hold(hold: &HoldView) -> Value {
    json!({
        "id": hold.id.to_string(),
        "scope": match hold.scope { Scope::Piece => "piece", Scope::Lot => "lot" },
        "shipment": hold.shipment,
        "source": hold.source,
        "lot": hold.lot,
        "piece": hold.piece,
        "product": hold.product.as_str(),
        "product_name": hold.product_name,
        "kind": hold.kind.word(),
        "text": cause_text(&hold.cause),
        "cause": hold.cause.key(),
        "settled_by": settled_by(&hold.offers),
        "offers": assessment_json::offers(&hold.offers),
        "at_risk": hold.at_risk.map(money),
        "standing": hold.standing.word(),
        "operator": hold.operator,
        "opened_at": time(hold.opened_at),
    })
}

fn settled_by(offers: &[Offer]) -> Vec<&'static str> {
    offers.iter().filter(|offer| offer.power == Power::Settles).map(|offer| offer.method.word()).collect()
}
