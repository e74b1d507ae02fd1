//! The end of the day: pieces sent back, surrendered and released, by the desk and by other hands.

use super::bench::{Bench, SILVER, noon};
use super::review::{ounce_sounds_true, ounces, ultrasound};
use chrono::{NaiveDate, TimeDelta};
use rusqlite::Connection;
use scruple::desk::{AppError, Desk, Ending, ErrorKind, Role, Settings, StockFilter};
use scruple::quantity::Quantity;
use scruple::reference::Metal;
use scruple::scoring::{DoubtKind, Method, Standing};
use scruple::store::MIGRATIONS;

const ROWS: &str = "line,mass,diameter,thickness,conductivity,temperature,probe\n";

/// Receives silver dollars of 1986 law, fine silver; the first `good` are in order, the others are too light.
fn silver(bench: &mut Bench, good: u32, light: u32) -> String {
    let shipment = bench.receive(&format!("line,product,quantity\n1,{SILVER},{}\n", good + light));
    let mut rows = ROWS.to_owned();
    for _ in 0..good {
        rows.push_str("1,31.10,40.60,2.98,61.9,21.3,flat\n");
    }
    for _ in 0..light {
        rows.push_str("1,29.00,40.60,2.98,61.9,21.3,flat\n");
    }
    bench.desk().log_readings(&shipment, "r.csv", &rows, false, false).unwrap();
    format!("{shipment}/1")
}

#[track_caller]
fn refused<T>(result: Result<T, AppError>, kind: ErrorKind, parts: &[&str]) -> AppError {
    let error = result.err().expect("an error was expected");
    assert_eq!(error.kind, kind, "{}", error.message);
    for part in parts {
        assert!(error.message.contains(part), "`{part}` is not in: {}", error.message);
    }
    error
}

#[track_caller]
fn client_refused(client: &Connection, sql: &str, expected: &str) {
    let error = client.execute(sql, []).unwrap_err().to_string();
    assert!(error.contains(expected), "{sql}: {error}");
}

#[test]
fn a_clear_piece_becomes_stock_with_a_value_that_can_be_checked() {
    let mut bench = Bench::new();
    let lot = silver(&mut bench, 2, 0);
    let stock = bench.desk().release(&[format!("{lot}-01")], None).unwrap().remove(0);
    // 31 U.S.C. 5112(e): 31.103 g of .999 fine silver: 31.071897 g, at 30 EUR a troy ounce 29.97 EUR (29.9695).
    assert_eq!(stock.fine.base(), 31_071_897_000);
    assert_eq!(stock.value.unwrap().to_string(), "29.97 EUR");
    assert_eq!(stock.price.unwrap().to_string(), "30 EUR");
    assert_eq!(stock.gross.unwrap().base(), 31_100_000_000);
    assert_eq!((stock.metal, stock.released_by.as_str(), stock.released_at), (Metal::Silver, "MIRA", noon()));
    assert_eq!(bench.desk().stock(&StockFilter::default()).unwrap(), std::slice::from_ref(&stock));
    assert_eq!(
        bench.other_desk("ELSE").stock(&StockFilter::default()).unwrap(),
        std::slice::from_ref(&stock)
    );
    let of = |metal: Option<Metal>, text: &str| StockFilter { metal, text: Some(text.to_owned()) };
    assert_eq!(bench.desk().stock(&of(Some(Metal::Gold), "")).unwrap(), []);
    assert_eq!(bench.desk().stock(&of(None, "MOONPOND")).unwrap().len(), 1);
    assert_eq!(bench.desk().stock(&of(None, "kettle")).unwrap(), []);
    refused(
        bench.desk().release(&[format!("{lot}-01")], None),
        ErrorKind::NotPermitted,
        &["the piece is in stock"],
    );
    let client = Connection::open(bench.book()).unwrap();
    let rule: String =
        client.query_row("SELECT rounding_rule FROM stock_value", [], |row| row.get(0)).unwrap();
    assert!(rule.contains("rounded once, half to even, to 0.01"), "{rule}");
}

#[test]
fn a_release_past_an_open_hold_is_refused_and_every_open_hold_is_named() {
    let mut bench = Bench::new();
    let good = silver(&mut bench, 2, 0);
    let held = ounces(&mut bench, 2);
    let pieces = [format!("{good}-01"), format!("{held}-01"), format!("{held}-02")];
    let of_lot = format!("nothing was released: lot `{held}`: hidden core");
    refused(bench.desk().release(&pieces, None), ErrorKind::NotPermitted, &[&of_lot]);
    refused(bench.desk().release(&[format!("{held}-01")], None), ErrorKind::NotPermitted, &[&of_lot]);
    // A piece that came alone is held by itself.
    let alone = ounces(&mut bench, 1);
    refused(
        bench.desk().release(&[format!("{alone}-01")], None),
        ErrorKind::NotPermitted,
        &["nothing was released: piece", "hidden core"],
    );
    let before = bench.desk().verify_journal().unwrap();
    refused(bench.desk().release(&[held], None), ErrorKind::NotPermitted, &[&of_lot]);
    refused(bench.desk().release(&["S-0099/1".into()], None), ErrorKind::Failed, &["S-0099/1"]);
    assert_eq!(bench.desk().stock(&StockFilter::default()).unwrap(), []);
    assert_eq!(bench.desk().verify_journal().unwrap(), before);
}

#[test]
fn another_client_cannot_put_into_stock_what_the_desk_would_not() {
    let mut bench = Bench::new();
    let good = silver(&mut bench, 4, 0);
    let held = ounces(&mut bench, 1);
    bench.desk().release(&[format!("{good}-01")], None).unwrap();
    bench.desk().send_back(&[format!("{good}-02")], "scratched", None).unwrap();
    bench.desk().surrender(&[format!("{good}-03")], "looks struck elsewhere", None).unwrap();
    drop(held);
    let client = Connection::open(bench.book()).unwrap();
    let stock = |rest: &str| {
        format!("INSERT INTO stock SELECT piece.id, 0, 'x' FROM piece JOIN lot ON lot.id = piece.lot {rest}")
    };
    client_refused(
        &client,
        &stock("WHERE standing = 'hold'"),
        "a piece with an open hold cannot become stock",
    );
    client_refused(&client, &stock("WHERE place = 2"), "a piece that left the desk cannot become stock");
    client_refused(&client, &stock("WHERE place = 3"), "a piece that left the desk cannot become stock");
    let replace = "INSERT OR REPLACE INTO stock SELECT piece, 0, 'x' FROM stock";
    client_refused(&client, replace, "this piece is in stock already");
    client_refused(&client, "DELETE FROM stock", "only by a decision that takes back its release");
    client_refused(&client, "DELETE FROM piece_end", "only by a decision that takes back its end");
    client_refused(&client, "UPDATE piece_end SET kind = 'sent_back'", "never changed");
    let end =
        "INSERT INTO piece_end SELECT stock.piece, 'sent_back', decision.id, 0 FROM stock, decision LIMIT 1";
    client_refused(&client, end, "a piece in stock is neither sent back nor surrendered");
    let end = "INSERT INTO piece_end SELECT piece.id, 'sent_back', decision.id, 0 FROM piece, decision WHERE place = 4";
    client_refused(&client, end, "a piece leaves the desk by a decision about it");
    let reading = "INSERT INTO reading (id, piece, measurand, spot, text, at_ms, operator)
                   SELECT randomblob(16), id, 'width', 1, '-', 0, 'x' FROM piece WHERE place = ";
    client_refused(&client, &format!("{reading} 2"), "a piece that left the desk takes no readings");
    client_refused(
        &client,
        &format!("{reading} 1 AND standing = 'clear'"),
        "a piece in stock takes no readings",
    );
    let test = "INSERT INTO second_test SELECT randomblob(16), id, 'ring', '{}', 'x', '{}', 0, 'x' FROM piece WHERE place = ";
    client_refused(&client, &format!("{test} 3"), "a piece that left the desk takes no second tests");
    client_refused(
        &client,
        &format!("{test} 1 AND standing = 'clear'"),
        "a piece in stock takes no second tests",
    );
    client_refused(
        &client,
        "UPDATE piece SET standing = 'clear' WHERE place = 3",
        "left the desk is never changed",
    );
    client_refused(
        &client,
        "UPDATE piece SET fine_ng = 1 WHERE place = 1 AND standing = 'clear'",
        "in stock is never changed",
    );
    for table in
        ["decision", "stock_value", "second_test", "sample", "operator", "policy_setting", "holding_period"]
    {
        // A table without rows has nothing to change; the guards stand all the same.
        let triggers: i64 = client
            .query_row(
                "SELECT count(*) FROM sqlite_schema WHERE type = 'trigger' AND tbl_name = ?1 AND name LIKE '%never%'",
                [table],
                |row| row.get(0),
            )
            .unwrap();
        assert_eq!(triggers, 2, "{table}");
    }
    client_refused(&client, "UPDATE decision SET reason = 'x'", "decisions are never changed");
    client_refused(&client, "DELETE FROM decision", "decisions are never deleted");
    client_refused(&client, "REPLACE INTO decision SELECT * FROM decision LIMIT 1", "in the book already");
    client_refused(&client, "UPDATE stock_value SET value = '1'", "never changed");
    client_refused(
        &client,
        "REPLACE INTO stock_value SELECT * FROM stock_value LIMIT 1",
        "has a value already",
    );
}

#[test]
fn nothing_is_released_before_the_holding_period_of_its_source_is_over() {
    let mut bench = Bench::new();
    let policy = bench.desk().policy_view().unwrap().text;
    let policy = policy.replace("# private = \"14\"", "private = \"14\"").replace("# \"Walk-in", "\"Walk-in");
    bench.desk().set_policy("policy.toml", &policy).unwrap();
    let list = format!("line,product,quantity\n1,{SILVER},1\n");
    let shipment = bench.desk().receive("Walk-in (invented)", "list.csv", &list, false).unwrap().number;
    let rows = format!("{ROWS}1,31.10,40.60,2.98,61.9,21.3,flat\n");
    bench.desk().log_readings(&shipment, "r.csv", &rows, false, false).unwrap();
    let piece = [format!("{shipment}/1-01")];
    let holding = bench.desk().holding(&shipment).unwrap().unwrap();
    assert_eq!(
        (holding.source_kind.as_str(), holding.until, holding.is_over),
        ("private", noon() + TimeDelta::days(14), false)
    );
    refused(
        bench.desk().release(&piece, None),
        ErrorKind::NotPermitted,
        &["the holding period of its source is not over; it ends on 2026-03-18 12:00 UTC"],
    );
    let client = Connection::open(bench.book()).unwrap();
    client_refused(
        &client,
        "INSERT INTO stock SELECT id, 0, 'x' FROM piece",
        "before the holding period of its source is over",
    );
    refused(
        bench.desk().set_source_kind(&shipment, "publik"),
        ErrorKind::Usage,
        &["`publik` is not a kind of source; the policy names `private`"],
    );
    let late = Settings::built_in("MIRA").with_clock(|| noon() + TimeDelta::days(14));
    let mut late = Desk::open(&bench.book(), late).unwrap();
    assert_eq!(late.release(&piece, None).unwrap().len(), 1);
}

#[test]
fn above_the_limit_of_the_policy_somebody_else_releases() {
    let mut bench = Bench::new();
    let cheap = silver(&mut bench, 1, 0);
    let policy =
        bench.desk().policy_view().unwrap().text.replace("four_eyes = \"1000\"", "four_eyes = \"20\"");
    bench.desk().set_policy("policy.toml", &policy).unwrap();
    let mut owner = bench.other_desk("OWNER");
    owner.add_operator("OWNER", Role::Owner, None).unwrap();
    // One name in the book is a desk of one: there is nobody else to ask.
    owner.add_operator("MIRA", Role::Reviewer, None).unwrap();
    let error = refused(
        bench.desk().release(&[format!("{cheap}-01")], None),
        ErrorKind::NotPermitted,
        &["`MIRA` logged it, and above 20 EUR somebody else releases it; it is worth 29.97 EUR"],
    );
    assert!(error.hints.is_empty());
    assert_eq!(bench.other_desk("OWNER").release(&[cheap], None).unwrap().len(), 1);
}

#[test]
fn what_was_released_or_sent_back_comes_back_by_a_linked_decision() {
    let mut bench = Bench::new();
    let lot = silver(&mut bench, 2, 1);
    let lot_id = bench.desk().shipment("S-0001").unwrap().lots[0].id;
    let (odd, light) = (bench_piece(&mut bench, &lot, 2), bench_piece(&mut bench, &lot, 3));
    bench.desk().hold_piece(odd, "odd lustre").unwrap();
    bench.desk().release(&[format!("{lot}-01")], None).unwrap();
    let gone = [format!("{lot}-02"), format!("{lot}-03")];
    bench.desk().send_back(&gone, "not what was ordered", None).unwrap();
    let day = |bench: &mut Bench| {
        let lot = bench.desk().day(None).unwrap().lots.remove(0);
        (lot.released, lot.sent_back, lot.surrendered, lot.lot.clear, lot.lot.hold, lot.lot.refuse)
    };
    assert_eq!(day(&mut bench), (1, 2, 0, 1, 0, 0));
    assert_eq!(bench.desk().holds().unwrap(), []);
    refused(
        bench.desk().correct(
            light,
            super::bench::reading(scruple::evidence::Measurand::Mass),
            "31.10",
            "slip",
        ),
        ErrorKind::NotPermitted,
        &["was sent back"],
    );
    assert_eq!(bench.desk().undo().unwrap(), "Took back the send-back of 2 pieces.");
    assert_eq!(day(&mut bench), (1, 0, 0, 1, 1, 1));
    let back = bench.desk().find_piece(&gone[0]).unwrap();
    assert_eq!(
        back.doubts.iter().map(|doubt| crate::cause(&doubt.cause)).collect::<Vec<_>>(),
        ["put by hand: odd lustre"]
    );
    assert_eq!(bench.desk().undo().unwrap(), format!("Took back the release of piece {lot}-01."));
    assert_eq!(bench.desk().stock(&StockFilter::default()).unwrap(), []);
    assert_eq!(day(&mut bench), (0, 0, 0, 1, 1, 1));
    // Released again, it has a value again.
    let again = bench.desk().release(std::slice::from_ref(&lot), None).unwrap();
    assert_eq!((again.len(), again[0].value.unwrap().to_string()), (1, "29.97 EUR".to_owned()));
    assert_eq!(bench.desk().lot(lot_id).unwrap().clear, 1);
    bench.desk().surrender(&[gone[1].clone()], "suspected", None).unwrap();
    assert_eq!(day(&mut bench), (1, 0, 1, 1, 1, 0));
    let record = bench.desk().piece_record(&gone[1]).unwrap();
    assert_eq!(record.ending, Some((Ending::Surrendered, "suspected".to_owned(), noon())));
    let what: Vec<_> = record.decisions.iter().map(|decision| decision.what.as_str()).collect();
    assert_eq!(what, ["sent back", "took back the send-back", "surrendered"]);
    assert_eq!(bench.desk().verify_journal().unwrap().faults, []);
}

fn bench_piece(bench: &mut Bench, lot: &str, place: u32) -> scruple::intake::PieceId {
    bench.desk().find_piece(&format!("{lot}-{place:02}")).unwrap().id
}

#[test]
fn a_serial_in_stock_holds_the_piece_that_bears_it_again_and_not_the_stock() {
    let mut bench = Bench::new();
    let lot = bench.lot("bar-silver-999-1ozt", 2, "");
    let numbers = [("A1", "50", "29", "2.05"); 2];
    let mut pieces = Vec::new();
    for (serial, length, width, thickness) in numbers {
        let reading = super::bench::reading;
        use scruple::evidence::Measurand::{Length, Thickness, Width};
        let changes = [
            (scruple::desk::Field::Serial, serial),
            (reading(Length), length),
            (reading(Width), width),
            (reading(Thickness), thickness),
        ];
        let piece = bench.log(lot, &changes);
        if pieces.is_empty() {
            for hold in bench.desk().holds().unwrap() {
                bench.desk().settle(hold.id, "known source", None, None).unwrap();
            }
            bench.desk().release(std::slice::from_ref(&piece.number), None).unwrap();
        }
        pieces.push(piece);
    }
    let second = bench.desk().piece(pieces[1].id).unwrap();
    assert!(second.doubts.iter().any(|doubt| doubt.kind == DoubtKind::Identity), "{:?}", second.doubts);
    assert_eq!(bench.desk().piece(pieces[0].id).unwrap().doubts, []);
    assert_eq!(bench.desk().stock(&StockFilter::default()).unwrap().len(), 1);
}

/// The whole second half of a day, by use cases only.
#[test]
fn a_day_ends_with_every_piece_accounted_for() {
    let mut bench = Bench::new();
    let coins = silver(&mut bench, 5, 1);
    let lot = ounces(&mut bench, 20);
    // Three doubts settled in three ways is in the review; here one lot is settled on a sample ...
    let sample = bench.desk().draw_sample(&lot, Some(1)).unwrap();
    for piece in &sample.pieces {
        bench.desk().record_second_test(piece, ounce_sounds_true()).unwrap();
    }
    bench.desk().settle_on_sample(&lot, DoubtKind::HiddenCore, "a sample agrees", None).unwrap();
    // ... one piece is sent back, and the rest is released.
    bench.desk().send_back(&[format!("{coins}-06")], "2 g too light", None).unwrap();
    assert_eq!(bench.desk().open_groups().unwrap(), []);
    let released = bench.desk().release(&[coins.clone(), lot.clone()], None).unwrap();
    assert_eq!(released.len(), 25);
    let day = bench.desk().day(NaiveDate::from_ymd_opt(2026, 3, 4)).unwrap();
    let lots: Vec<_> = day
        .lots
        .iter()
        .map(|lot| {
            (
                lot.lot.number.as_str(),
                lot.lot.expected,
                lot.lot.logged,
                lot.released,
                lot.sent_back,
                lot.surrendered,
            )
        })
        .collect();
    assert_eq!(lots, [(coins.as_str(), 6, 6, 5, 1, 0), (lot.as_str(), 20, 20, 20, 0, 0)]);
    // Coins: 31.103 g × 0.999 = 31.071 897 g; 5 are 155.359 485 g, at 30 EUR for 31.103 476 8 g 149.85 EUR. Ounces:
    // 31.103 476 8 g × 0.9999 = 31.100 366 452 g; 20 are 622.007 329 04 g, at 2400 EUR 47 995.20 EUR.
    let sellable: Vec<_> = day
        .sellable
        .iter()
        .map(|worth| (worth.metal, worth.pieces, worth.fine.base(), worth.value.unwrap().to_string()))
        .collect();
    assert_eq!(
        sellable,
        [
            (Metal::Gold, 20, 622_007_329_040, "47995.20 EUR".to_owned()),
            (Metal::Silver, 5, 155_359_485_000, "149.85 EUR".to_owned())
        ]
    );
    assert_eq!(day.received.iter().map(|worth| worth.pieces).collect::<Vec<_>>(), [20, 6]);
    assert!(day.on_hold.is_empty() && day.at_risk.is_empty() && day.doubts.is_empty(), "{day:?}");
    assert_eq!(day.second_tests, [(Method::Ultrasound, 16)]);
    // The doubt of the lot settled, one piece sent back, 25 released.
    assert_eq!(day.decisions.len(), 1 + 1 + 25);
    let journal = bench.desk().verify_journal().unwrap();
    assert_eq!(
        (journal.faults.len(), journal.rows, journal.head.as_str()),
        (0, day.journal_rows, day.journal_head.as_str())
    );
    assert_eq!(day.versions.2, bench.desk().policy().version());
    // Opened again by somebody else, the book tells the same.
    let stock = bench.desk().stock(&StockFilter::default()).unwrap();
    let record = bench.desk().piece_record(&sample.pieces[0]).unwrap();
    let other = bench.other_desk("ELSE");
    assert_eq!(other.day(NaiveDate::from_ymd_opt(2026, 3, 4)).unwrap(), day);
    assert_eq!(other.stock(&StockFilter::default()).unwrap(), stock);
    assert_eq!(other.piece_record(&sample.pieces[0]).unwrap(), record);
    assert_eq!((record.tests.len(), record.samples.len()), (1, 1));
    assert_eq!(record.journal_hash.len(), 64);
    // Another day knows nothing of it, except what is in stock.
    let tomorrow = other.day(NaiveDate::from_ymd_opt(2026, 3, 5)).unwrap();
    assert_eq!((tomorrow.lots.len(), tomorrow.decisions.len(), tomorrow.sellable), (0, 0, day.sellable));
}

#[test]
fn open_doubts_are_grouped_with_the_most_money_first() {
    let mut bench = Bench::new();
    let lot = ounces(&mut bench, 2);
    silver(&mut bench, 0, 1);
    bench.desk().record_second_test(&format!("{lot}-01"), ultrasound(4760.0, "2.58 mm")).unwrap();
    let groups = bench.desk().open_groups().unwrap();
    let seen: Vec<_> = groups
        .iter()
        .map(|group| {
            (group.number.as_str(), group.standing, group.doubts.len(), group.at_risk.unwrap().to_string())
        })
        .collect();
    assert_eq!((seen[0].0, seen[0].2, seen[0].3.as_str()), ("S-0001/1", 1, "4799.52 EUR"));
    assert!(seen.iter().any(|group| group.0 == "S-0002/1-01" && group.1 == Standing::Refuse), "{seen:?}");
    assert_eq!(
        bench.desk().day(None).unwrap().doubts.iter().map(|(_, pieces, lots)| pieces + lots).sum::<u32>(),
        groups.iter().map(|group| group.doubts.len() as u32).sum::<u32>()
    );
}

#[test]
fn a_book_of_the_first_version_keeps_its_pieces_and_gets_its_totals() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("old.book");
    let old = Connection::open(&path).unwrap();
    let first = &MIGRATIONS[0];
    // What the first release left behind: the mark of a book, its one migration, a lot with three pieces, one of them voided.
    old.execute_batch(&format!(
        "PRAGMA application_id = {};
         CREATE TABLE migration (
             version INTEGER PRIMARY KEY, name TEXT NOT NULL, sha256 TEXT NOT NULL, applied_ms INTEGER NOT NULL) STRICT;
         {}
         INSERT INTO migration VALUES (1, '{}', '{}', 0);
         PRAGMA user_version = 1;
         INSERT INTO shipment VALUES (zeroblob(16), 1, 'Moonpond (invented)', 0, 'MIRA');
         INSERT INTO lot (id, shipment, line, product, expected) VALUES (zeroblob(16), zeroblob(16), 1, '{SILVER}', 5);
         INSERT INTO piece (id, lot, place, state, standing, fine_ng, logged_ms, operator) VALUES
             (randomblob(16), zeroblob(16), 1, 'logged', 'clear', 7, 0, 'MIRA'),
             (randomblob(16), zeroblob(16), 2, 'held', 'hold', 11, 0, 'MIRA'),
             (randomblob(16), zeroblob(16), 3, 'voided', 'refuse', 13, 0, 'MIRA');
         INSERT INTO hold (id, lot, piece, kind, origin, text, offers, state, opened_ms, opened_by)
             SELECT randomblob(16), lot, id, 'identity', 'record', 'x', '[]', 'open', 0, 'MIRA' FROM piece WHERE place = 2;",
        0x7363_7270,
        first.text,
        first.name,
        first.hash(),
    ))
    .unwrap();
    drop(old);
    let desk = Desk::open(&path, Settings::built_in("MIRA").with_clock(noon)).unwrap();
    let lot = desk.shipment("S-0001").unwrap().lots.remove(0);
    assert_eq!((lot.logged, lot.clear, lot.hold, lot.refuse), (2, 1, 1, 0));
    let day = desk.day(None).unwrap();
    assert_eq!(
        day.on_hold.iter().map(|worth| (worth.pieces, worth.fine.base())).collect::<Vec<_>>(),
        [(1, 11)]
    );
    assert_eq!(day.doubts, [(DoubtKind::Identity, 1, 0)]);
    assert!(day.sellable.is_empty() && day.at_risk.is_empty());
    assert!(folder.path().join(format!("old.book.before-version-{}", MIGRATIONS.len())).exists());
}
