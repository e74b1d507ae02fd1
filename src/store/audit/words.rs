//! Rows in the words of the desk, so that a fault can be looked up on paper.

use super::super::row_image::{hex, values};
use super::super::tables::Table;
use chrono::DateTime;
use rusqlite::types::Value;
use rusqlite::{Connection, params_from_iter};
use uuid::Uuid;

/// The number of a piece, and of a lot.
const PIECE: &str = "printf('S-%04d/%d-%02d', shipment.number, lot.line, piece.place)";
const LOT: &str = "printf('S-%04d/%d', shipment.number, lot.line)";
/// Leads from a piece, and from a lot, to their numbers.
const OF_PIECE: &str = "JOIN piece ON piece.id = own.piece JOIN lot ON lot.id = piece.lot JOIN shipment ON shipment.id = lot.shipment";
const OF_LOT: &str = "JOIN lot ON lot.id = own.lot JOIN shipment ON shipment.id = lot.shipment";

/// Returns a row in words: what the desk calls it where the book still knows, and its key.
pub(super) fn describe(connection: &Connection, table: &Table, key: &[u8]) -> String {
    let Some(key) = values(key) else { return "a row without a readable key".to_owned() };
    let of_key: Vec<String> =
        table.key_names().zip(&key).map(|(name, value)| format!("{name} {}", shown(value))).collect();
    let of_key = of_key.join(", ");
    let named = sentence(&table.name).and_then(|(what, joins)| {
        let wanted: Vec<String> =
            table.key_names().enumerate().map(|(at, name)| format!("own.\"{name}\" = ?{}", at + 1)).collect();
        let sql = format!(
            "SELECT {what} FROM main.\"{}\" AS own {joins} WHERE {}",
            table.name,
            wanted.join(" AND ")
        );
        connection.query_row(&sql, params_from_iter(key), |row| row.get::<_, String>(0)).ok()
    });
    match named {
        Some(named) => format!("{named} ({of_key})"),
        None => of_key,
    }
}

/// Returns how a row of a table is called, and the joins that this needs.
fn sentence(table: &str) -> Option<(String, &'static str)> {
    let of_piece = |what: &str| (format!("{what} || ' of piece ' || {PIECE}"), OF_PIECE);
    let of_lot = |what: &str| (format!("{what} || ' of lot ' || {LOT}"), OF_LOT);
    Some(match table {
        "reading" => of_piece("own.measurand || ', spot ' || own.spot || ', `' || own.text || '`,'"),
        "assessment" => of_piece("'assessment'"),
        "second_test" => of_piece("'second test'"),
        "stock" => of_piece("'stock row'"),
        "piece_end" => of_piece("'end'"),
        "recall" => of_piece("'recall'"),
        "type_book_value" => of_piece("own.quantity"),
        "lot_doubt" => of_piece("own.kind"),
        "piece" => {
            ("'piece ' || printf('S-%04d/%d-%02d', shipment.number, lot.line, own.place)".to_owned(), OF_LOT)
        }
        "hold" => of_lot("'hold for `' || own.kind || '`'"),
        "decision" => of_lot("'decision, ' || own.kind || ','"),
        "sample" => of_lot("'sample'"),
        "lot_total" => of_lot("'totals'"),
        "lot_quarter" => of_lot("'quarter of an hour'"),
        "expected_serial" => of_lot("'serial `' || own.serial || '`'"),
        "lot" => (
            "'lot ' || printf('S-%04d/%d', shipment.number, own.line)".to_owned(),
            "JOIN shipment ON shipment.id = own.shipment",
        ),
        "shipment" => ("'shipment ' || printf('S-%04d', own.number)".to_owned(), ""),
        "holding_period" => (
            "'holding period of shipment ' || printf('S-%04d', shipment.number)".to_owned(),
            "JOIN shipment ON shipment.id = own.shipment",
        ),
        "control" => ("'control of `' || own.instrument || '` on `' || own.reference || '`'".to_owned(), ""),
        "price" => ("'price of ' || own.metal".to_owned(), ""),
        "operator" => ("'operator `' || own.name || '`'".to_owned(), ""),
        _ => return None,
    })
}

/// Shows one value of a key.
fn shown(value: &Value) -> String {
    match value {
        Value::Null => "nothing".to_owned(),
        Value::Integer(number) => number.to_string(),
        Value::Real(number) => number.to_string(),
        Value::Text(text) => format!("`{text}`"),
        Value::Blob(blob) => Uuid::from_slice(blob).map_or_else(|_| hex(blob), |id| id.to_string()),
    }
}

/// Returns the act that a seal stands for, by its last row of the journal.
pub(super) fn act(connection: &Connection, journal: i64) -> String {
    if journal == 0 {
        return "before the first act".to_owned();
    }
    let told = connection.query_row(
        "SELECT at_ms, what, operator, json_extract(payload, '$.number') FROM main.journal WHERE sequence = ?1",
        [journal],
        |row| {
            Ok((
                row.get::<_, i64>(0)?,
                row.get::<_, String>(1)?,
                row.get::<_, String>(2)?,
                row.get::<_, Option<String>>(3)?,
            ))
        },
    );
    let Ok((at, what, operator, number)) = told else { return format!("row {journal} of the journal") };
    let at = DateTime::from_timestamp_millis(at).unwrap_or_default().format("%Y-%m-%d %H:%M UTC");
    let number = number.map(|number| format!(" {number}")).unwrap_or_default();
    format!("row {journal} of the journal, {what}{number}, {at}, {operator}")
}
