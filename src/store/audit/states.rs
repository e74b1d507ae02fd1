//! Running totals and states counted anew from the rows that they stand for.

use super::{AuditFault, AuditReport};
use rusqlite::Connection;

/// What is counted anew: the table, what is wrong when a row comes out, and the statement that names the rows that differ.
const CHECKS: [(&str, &str, &str); 9] = [
    (
        "lot",
        "its running totals are not what its pieces and holds come to",
        "SELECT printf('lot S-%04d/%d', shipment.number, lot.line) FROM lot
         JOIN shipment ON shipment.id = lot.shipment
         LEFT JOIN (SELECT lot, max(place) AS places, sum(state <> 'voided') AS logged,
             sum(state <> 'voided' AND standing = 'clear') AS clear, sum(state <> 'voided' AND standing = 'hold') AS hold,
             sum(state <> 'voided' AND standing = 'refuse') AS refuse, sum((state <> 'voided') * fine_ng) AS fine_ng
             FROM piece GROUP BY lot) AS own ON own.lot = lot.id
         WHERE lot.places IS NOT coalesce(own.places, 0) OR lot.logged IS NOT coalesce(own.logged, 0)
         OR lot.clear IS NOT coalesce(own.clear, 0) OR lot.hold IS NOT coalesce(own.hold, 0)
         OR lot.refuse IS NOT coalesce(own.refuse, 0) OR lot.fine_ng IS NOT coalesce(own.fine_ng, 0)
         OR lot.lot_doubts IS NOT (
             SELECT count(*) FROM hold WHERE hold.lot = lot.id AND hold.piece IS NULL AND hold.state = 'open')",
    ),
    (
        "lot_total",
        "its running totals are not what its pieces come to",
        "SELECT printf('lot S-%04d/%d', shipment.number, lot.line) FROM lot
         JOIN shipment ON shipment.id = lot.shipment LEFT JOIN lot_total AS kept ON kept.lot = lot.id
         LEFT JOIN (SELECT piece.lot, sum(here AND standing = 'clear') AS clear,
             sum((here AND standing = 'clear') * fine_ng) AS clear_ng, sum(here AND standing = 'hold') AS hold,
             sum((here AND standing = 'hold') * fine_ng) AS hold_ng, sum(here AND standing = 'refuse') AS refuse,
             sum((here AND standing = 'refuse') * fine_ng) AS refuse_ng, sum(released) AS released,
             sum(released * fine_ng) AS released_ng, sum(ended = 'sent_back') AS sent_back,
             sum((ended = 'sent_back') * fine_ng) AS sent_back_ng, sum(ended = 'surrendered') AS surrendered,
             sum((ended = 'surrendered') * fine_ng) AS surrendered_ng
             FROM (SELECT piece.lot, piece.standing, piece.fine_ng, stock.piece IS NOT NULL AS released,
                 coalesce(piece_end.kind, '') AS ended,
                 piece.state <> 'voided' AND stock.piece IS NULL AND piece_end.piece IS NULL AS here
                 FROM piece LEFT JOIN stock ON stock.piece = piece.id LEFT JOIN piece_end ON piece_end.piece = piece.id
             ) AS piece GROUP BY piece.lot) AS own ON own.lot = lot.id
         WHERE kept.clear IS NOT coalesce(own.clear, 0) OR kept.clear_ng IS NOT coalesce(own.clear_ng, 0)
         OR kept.hold IS NOT coalesce(own.hold, 0) OR kept.hold_ng IS NOT coalesce(own.hold_ng, 0)
         OR kept.refuse IS NOT coalesce(own.refuse, 0) OR kept.refuse_ng IS NOT coalesce(own.refuse_ng, 0)
         OR kept.released IS NOT coalesce(own.released, 0) OR kept.released_ng IS NOT coalesce(own.released_ng, 0)
         OR kept.sent_back IS NOT coalesce(own.sent_back, 0) OR kept.sent_back_ng IS NOT coalesce(own.sent_back_ng, 0)
         OR kept.surrendered IS NOT coalesce(own.surrendered, 0)
         OR kept.surrendered_ng IS NOT coalesce(own.surrendered_ng, 0)",
    ),
    (
        "product_total",
        "its running totals are not what its lots come to",
        "SELECT 'product `' || own.product || '`' FROM (
             SELECT lot.product, sum(clear) AS clear, sum(clear_ng) AS clear_ng, sum(hold) AS hold, sum(hold_ng) AS hold_ng,
             sum(refuse) AS refuse, sum(refuse_ng) AS refuse_ng, sum(released) AS released, sum(released_ng) AS released_ng
             FROM (SELECT lot, lot_total.clear, clear_ng, lot_total.hold, hold_ng, lot_total.refuse, refuse_ng, released,
                 released_ng FROM lot_total) AS total JOIN (SELECT id, product FROM lot) AS lot ON lot.id = total.lot
             GROUP BY lot.product) AS own LEFT JOIN product_total AS kept ON kept.product = own.product
         WHERE kept.clear IS NOT own.clear OR kept.clear_ng IS NOT own.clear_ng OR kept.hold IS NOT own.hold
         OR kept.hold_ng IS NOT own.hold_ng OR kept.refuse IS NOT own.refuse OR kept.refuse_ng IS NOT own.refuse_ng
         OR kept.released IS NOT own.released OR kept.released_ng IS NOT own.released_ng",
    ),
    (
        "doubt_total",
        "it is not the number of open holds",
        "SELECT 'doubt `' || kind.kind || '`' FROM (SELECT kind FROM hold UNION SELECT kind FROM doubt_total) AS kind
         LEFT JOIN doubt_total AS kept ON kept.kind = kind.kind
         LEFT JOIN (SELECT kind, count(piece) AS pieces, count(*) - count(piece) AS lots FROM hold WHERE state = 'open'
             GROUP BY kind) AS own ON own.kind = kind.kind
         WHERE coalesce(kept.pieces, 0) IS NOT coalesce(own.pieces, 0) OR coalesce(kept.lots, 0) IS NOT coalesce(own.lots, 0)",
    ),
    (
        "lot_quarter",
        "it does not say when pieces of the lot were logged",
        "SELECT printf('quarter %d of lot S-%04d/%d', quarter, shipment.number, lot.line) FROM (
             SELECT quarter, lot FROM (
                 SELECT DISTINCT logged_ms / 900000 AS quarter, lot FROM piece
                 UNION ALL SELECT quarter, lot FROM lot_quarter)
             GROUP BY quarter, lot HAVING count(*) <> 2) AS odd
         JOIN lot ON lot.id = odd.lot JOIN shipment ON shipment.id = lot.shipment",
    ),
    (
        "type_book_total",
        "it is not the number of released pieces that taught",
        "SELECT '`' || kept.product || '`, ' || kept.quantity || ', ' || kept.instrument FROM type_book_total AS kept
         WHERE kept.pieces IS NOT (SELECT count(*) FROM type_book_value AS value
             WHERE value.product = kept.product AND value.quantity = kept.quantity AND value.instrument = kept.instrument
             AND NOT EXISTS (SELECT 1 FROM type_book_withdrawn WHERE type_book_withdrawn.decision = value.decision))",
    ),
    (
        "piece",
        "its state does not fit its open holds",
        "SELECT printf('piece S-%04d/%d-%02d', shipment.number, lot.line, piece.place) FROM piece
         JOIN lot ON lot.id = piece.lot JOIN shipment ON shipment.id = lot.shipment
         WHERE CASE WHEN EXISTS (SELECT 1 FROM hold WHERE hold.piece = piece.id AND hold.state = 'open')
             THEN piece.state <> 'held' OR EXISTS (SELECT 1 FROM piece_end WHERE piece_end.piece = piece.id)
             -- Its holds close when a piece leaves the desk, and its state stays what it was.
             ELSE piece.state = 'held' AND NOT EXISTS (SELECT 1 FROM piece_end WHERE piece_end.piece = piece.id) END",
    ),
    (
        "piece",
        "the assessment it names is of another piece, or it names none",
        "SELECT printf('piece S-%04d/%d-%02d', shipment.number, lot.line, piece.place) FROM piece
         JOIN lot ON lot.id = piece.lot JOIN shipment ON shipment.id = lot.shipment
         LEFT JOIN assessment ON assessment.id = piece.assessment WHERE assessment.piece IS NOT piece.id",
    ),
    (
        "stock",
        "it is of a piece with an open hold",
        "SELECT printf('piece S-%04d/%d-%02d', shipment.number, lot.line, piece.place) FROM stock
         JOIN piece ON piece.id = stock.piece JOIN lot ON lot.id = piece.lot JOIN shipment ON shipment.id = lot.shipment
         WHERE EXISTS (SELECT 1 FROM hold WHERE hold.piece = piece.id AND hold.state = 'open')",
    ),
];

/// Counts totals and states anew.
pub(super) fn check(connection: &Connection, report: &mut AuditReport) {
    for (table, wrong, sql) in CHECKS {
        if let Err(error) = differing(connection, sql, |row| report.add(AuditFault::of(table, row, wrong))) {
            report.add(AuditFault::of(table, "every row", format!("it cannot be counted anew: {error}")));
        }
    }
}

fn differing(connection: &Connection, sql: &str, mut call: impl FnMut(String)) -> rusqlite::Result<()> {
    let mut statement = connection.prepare(sql)?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        call(row.get::<_, Option<String>>(0)?.unwrap_or_else(|| "a row without a number".to_owned()));
    }
    Ok(())
}
