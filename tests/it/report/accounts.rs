//! The day sheet and the piece record: every number of the view is said, on paper as on the screen.

use super::pdf_files::{check_within_margins, words};
use super::text_of_markup;
use crate::bench::{Bench, SILVER, noon};
use crate::review::{OUNCE, immersion, ounce_sounds_true, ounces};
use chrono::{FixedOffset, NaiveDate};
use scruple::desk::{DayView, Desk, PieceRecord, Settings, StockFilter};
use scruple::quantity::{Mass, Quantity};
use scruple::report::document::Document;
use scruple::report::pdf::{self, Paper};
use scruple::report::{day_sheet, html, piece_record, plain, sheet, stock_sheet};

fn utc() -> FixedOffset {
    FixedOffset::east_opt(0).unwrap()
}

/// A day on which a lot came in short, a doubt was settled by numbers, one by a person, and pieces went three ways.
fn day() -> (Bench, String, String) {
    let mut bench = Bench::new();
    let shipment = bench.receive(&format!("line,product,quantity\n1,{SILVER},7\n"));
    let mut rows = "line,mass,diameter,thickness,conductivity,temperature,probe\n".to_owned();
    rows.push_str(&"1,31.10,40.60,2.98,61.9,21.3,flat\n".repeat(4));
    rows.push_str("1,29.00,40.60,2.98,61.9,21.3,flat\n");
    bench.desk().log_readings(&shipment, "r.csv", &rows, false, false).unwrap();
    let silver = format!("{shipment}/1");
    let held = ounces(&mut bench, 3);
    bench.desk().record_second_test(&format!("{held}-01"), ounce_sounds_true()).unwrap();
    let hold = bench.desk().holds().unwrap().into_iter().find(|hold| hold.lot == held).unwrap();
    bench.desk().settle(hold.id, "the supplier's assay lies beside it", None, None).unwrap();
    bench.desk().release(&[format!("{silver}-01"), format!("{silver}-02")], None).unwrap();
    bench.desk().send_back(&[format!("{silver}-03")], "scratched", None).unwrap();
    bench.desk().surrender(&[format!("{silver}-05")], "suspected", None).unwrap();
    (bench, silver, held)
}

/// Returns the document as plain text with single blanks, and as the words of its PDF on both papers.
fn texts(document: &Document) -> [String; 4] {
    let single = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let paper = |paper: Paper| {
        let file = pdf::report(document, paper);
        check_within_margins(&file, paper);
        single(&words(&file))
    };
    let plain = plain::text(document);
    assert!(plain.lines().all(|line| line.chars().count() <= 80), "{plain}");
    [single(&plain), paper(Paper::A4), paper(Paper::LETTER), single(&text_of_markup(&html::page(document)))]
}

/// Checks that words stand somewhere; cells and columns may break them into lines.
#[track_caller]
fn check_said(texts: &[String], wanted: &str) {
    for text in texts {
        for word in wanted.split_whitespace() {
            assert!(text.contains(word), "`{word}` of `{wanted}` is not in {text}");
        }
    }
}

fn grams(mass: Mass, decimals: u32) -> String {
    mass.digits_in(&Mass::UNITS[0], decimals)
}

#[test]
fn the_day_sheet_says_every_number_of_the_account() {
    let (mut bench, ..) = day();
    let view: DayView = bench.desk().day(NaiveDate::from_ymd_opt(2026, 3, 4)).unwrap();
    let prices = bench.desk().prices().unwrap();
    let texts = texts(&day_sheet::document(&view, &prices, utc()));
    let say = |wanted: &str| check_said(&texts, wanted);
    say("Day sheet 2026-03-04");
    for day in &view.lots {
        say(&day.lot.number);
        say(&day.source);
        say(&day.lot.product_name);
    }
    for group in [&view.received, &view.sellable, &view.on_hold, &view.at_risk] {
        for worth in group {
            say(&format!("{} {} {}", worth.metal.as_str(), worth.pieces, grams(worth.fine, 3)));
            say(&worth.value.unwrap().to_string());
        }
    }
    for (kind, pieces, lots) in &view.doubts {
        say(&format!("{} {pieces} {lots}", kind.label()));
    }
    assert!(!view.second_tests.is_empty() && !view.decisions.is_empty());
    for (method, tests) in &view.second_tests {
        say(&format!("{} {tests}", method.label()));
    }
    for decision in &view.decisions {
        say(&format!("{} {} {}", decision.what, decision.reason, decision.operator));
    }
    for instrument in &view.instruments {
        say(&instrument.replace(':', " "));
    }
    for price in &prices {
        say(&price.per_troy_ounce.amount.to_string());
    }
    let (engine, reference, policy) = &view.versions;
    say(&format!("{engine} {reference} {policy} {} rows", view.journal_rows));
    let hash: String = texts[1].split_whitespace().collect();
    assert!(hash.contains(&view.journal_head));
    // What is short comes before what is complete: lot 1 lacks two of seven.
    let plain = &texts[0];
    let first = plain.find("Short counts first").unwrap();
    assert!(plain[first..].find("S-0001/1").unwrap() < plain[first..].find("S-0002/1").unwrap());
    say("5 of 10 lot is short by 2 pieces");
    // Four good, one too light: one good left, none held, two released, one back, one surrendered.
    let lots = day_sheet::lots(&view);
    let row: Vec<String> = (4..14).map(|column| lots.shown(0, column)).collect();
    assert_eq!(row, ["7", "5", "2", "1", "0", "0", "2", "1", "1", "0"]);
    // Two pieces of one lot released in one act stand in one row.
    let decisions = day_sheet::tables(&view, utc()).pop().unwrap().1;
    let about: Vec<String> = (0..decisions.rows.len()).map(|row| decisions.shown(row, 1)).collect();
    assert_eq!(about, ["S-0002/1", "S-0001/1-01 -02 (2 pieces)", "S-0001/1-03", "S-0001/1-05"]);
}

#[test]
fn every_number_of_a_lot_adds_up_to_what_was_logged() {
    let (mut bench, ..) = day();
    let view = bench.desk().day(NaiveDate::from_ymd_opt(2026, 3, 4)).unwrap();
    let lots = day_sheet::lots(&view);
    assert_eq!(lots.rows.len(), 2);
    for row in 0..lots.rows.len() {
        let number = |column: usize| lots.shown(row, column).parse::<u32>().unwrap();
        assert_eq!((7..=12).map(number).sum::<u32>(), number(5), "row {row}");
        assert_eq!(number(4) - number(5), number(6), "row {row}");
    }
}

#[test]
fn a_day_without_anything_says_so() {
    let mut bench = Bench::new();
    let view = bench.desk().day(NaiveDate::from_ymd_opt(2026, 3, 1)).unwrap();
    let texts = texts(&day_sheet::document(&view, &[], utc()));
    for wanted in [
        "Nothing was received, logged, tested or decided on this day.",
        "No doubt is open in the whole book.",
        "None was recorded.",
        "No price is in the book.",
    ] {
        assert!(texts[0].contains(wanted), "{wanted}");
        check_said(&texts, wanted);
    }
}

#[test]
fn the_workbook_and_the_lists_hold_the_same_tables() {
    let (mut bench, ..) = day();
    let view = bench.desk().day(NaiveDate::from_ymd_opt(2026, 3, 4)).unwrap();
    let tables = day_sheet::tables(&view, utc());
    let names: Vec<&str> = tables.iter().map(|(name, _)| *name).collect();
    assert_eq!(names, ["lots", "metal", "open doubts", "second tests", "decisions"]);
    let csv = sheet::csv(&tables[0].1);
    assert_eq!(csv.lines().count(), 1 + view.lots.len());
    assert!(
        csv.lines().nth(1).unwrap().starts_with("S-0001/1,Moonpond Bullion (invented),us-5112-e,"),
        "{csv}"
    );
    let tables: Vec<_> = tables.iter().map(|(name, table)| (*name, table)).collect();
    assert!(sheet::workbook(&tables, view.day).unwrap().starts_with(b"PK"));
    let stock = bench.desk().stock(&StockFilter::default()).unwrap();
    let csv = sheet::csv(&stock_sheet::table(&stock, utc()));
    // 31 U.S.C. 5112(e): 31.103 g of .999 fine silver is 31.071897 g fine; at 30 EUR a troy ounce 29.97 EUR.
    assert_eq!(
        csv.lines().nth(1).unwrap(),
        "S-0001/1-01,silver,us-5112-e,\"one dollar silver coin, fine silver\",,Moonpond Bullion (invented),31.1,\
         31.071897,29.97,30,EUR,2026-03-04 12:00,MIRA,"
    );
}

#[test]
fn the_piece_record_says_every_reading_limit_test_and_decision() {
    let (mut bench, silver, held) = day();
    for piece in [format!("{silver}-01"), format!("{silver}-05"), format!("{held}-01"), format!("{held}-02")]
    {
        let record = bench.desk().piece_record(&piece).unwrap();
        check_record(&record);
    }
}

#[track_caller]
fn check_record(record: &PieceRecord) {
    let piece = &record.piece;
    let texts = texts(&piece_record::document(record, utc()));
    let say = |wanted: &str| check_said(&texts, wanted);
    say(&format!("Piece record {} {}", piece.number, piece.product_name));
    say(&format!("{} {} 2026-03-04 12:00", record.source, piece.operator));
    for reading in &piece.readings {
        say(&format!("{} {}", reading.text, reading.stored));
        say(reading.uncertainty.as_deref().unwrap_or("-"));
        say(reading.probe.as_deref().unwrap_or_default());
    }
    assert!(piece.assessment.checks.len() >= 3);
    for check in &piece.assessment.checks {
        say(check.measurand.name());
        for limit in [check.lower, check.upper].into_iter().flatten() {
            let decimals = if check.measurand.name() == "conductivity" { 2 } else { 3 };
            say(&limit.digits(decimals));
        }
        say(&check.limits_from);
        for line in &check.budget {
            say(&format!("{} {}", line.u.show(4), line.name));
        }
    }
    for test in &record.tests {
        say(&test.report.how);
        say(&test.report.result().unwrap_or_default());
        say(&test.report.reason);
        for line in &test.report.budget {
            say(&format!("{} {} {}", line.u.show(4), line.name, plain_ascii(&line.source)));
        }
        for name in test.report.excluded.iter().map(|excluded| &excluded.name) {
            say(name);
        }
        for name in test.report.not_told_apart.iter().map(|left| &left.name) {
            say(name);
        }
        test.report.cautions.iter().for_each(|caution| say(caution));
    }
    for candidate in &piece.assessment.candidates {
        say(&candidate.name);
        if let (true, Some(money)) = (candidate.material_doubt.is_some(), candidate.displaced) {
            say(&money.to_string());
        }
    }
    for doubt in &piece.doubts {
        say(&format!("{} {}", doubt.kind.label(), crate::cause(&doubt.cause)));
    }
    for decision in &record.decisions {
        say(&format!("{} {} {}", decision.what, decision.reason, decision.operator));
    }
    if let Some(stock) = &record.stock {
        say(&format!("{} {}", stock.fine.show(6), stock.value.unwrap()));
    } else {
        say("This piece is not for sale");
    }
    say("a correct metal does not prove a correct strike");
    let hash: String = texts[1].split_whitespace().collect();
    assert_eq!(record.journal_hash.len(), 64);
    assert!(hash.contains(&record.journal_hash));
    for text in &texts {
        let lower = text.to_lowercase();
        assert!(!lower.contains("genuine") && !lower.contains("fake"), "{text}");
        assert!(!text.contains("[U+"), "a sign that the typeface lacks: {text}");
    }
}

/// Leaves out words with signs that a typeface of the PDF spells otherwise, such as `d/√6`.
fn plain_ascii(text: &str) -> String {
    text.split(' ').filter(|word| word.is_ascii()).collect::<Vec<_>>().join(" ")
}

#[test]
fn a_decision_names_the_second_test_it_rests_on() {
    let mut bench = Bench::new();
    let held = ounces(&mut bench, 1);
    let piece = format!("{held}-01");
    // In a beaker 412.5 grain of silver 900 displace 26.7/10.3 = 2.59 g of water.
    let test = bench.desk().record_second_test(&piece, immersion("26.70 g", "2.59 g")).unwrap();
    bench.desk().record_second_test(&piece, ounce_sounds_true()).unwrap();
    let open = bench.desk().holds().unwrap();
    let reason = "the density fits";
    let settled: Vec<_> = open
        .iter()
        .filter(|hold| bench.desk().settle(hold.id, reason, Some(test.test.id), None).is_ok())
        .collect();
    let record = bench.desk().piece_record(&piece).unwrap();
    let text = plain::text(&piece_record::document(&record, utc()));
    assert_eq!(record.tests.len(), 2);
    assert!(
        text.contains("Second test 1: immersion") && text.contains("Second test 2: ultrasound"),
        "{text}"
    );
    assert_eq!(record.decisions.len(), settled.len());
    if !settled.is_empty() {
        check_said(&[text], "second test 1");
    }
}

#[test]
fn the_moments_are_those_of_the_desk() {
    let (mut bench, silver, _) = day();
    let record = bench.desk().piece_record(&format!("{silver}-01")).unwrap();
    let east = FixedOffset::east_opt(13 * 3600).unwrap();
    let text = plain::text(&piece_record::document(&record, east));
    assert!(text.contains("2026-03-05 01:00"), "{text}");
    assert_eq!(noon().to_rfc3339(), "2026-03-04T12:00:00+00:00");
}

#[test]
fn what_nobody_priced_is_not_counted_as_nothing() {
    let bench = Bench::without_prices();
    let settings = Settings::built_in("MIRA").with_clock(noon);
    let mut desk = Desk::open(&bench.book(), settings).unwrap();
    let list = format!("line,product,quantity\n1,{OUNCE},1\n");
    let shipment = desk.receive("Moonpond Bullion (invented)", "list.csv", &list, false).unwrap().number;
    let rows =
        "line,mass,diameter,thickness,conductivity,temperature,probe\n1,26.70,38.10,2.58,49.4,21.3,flat\n";
    desk.log_readings(&shipment, "r.csv", rows, false, false).unwrap();
    let view = desk.day(NaiveDate::from_ymd_opt(2026, 3, 4)).unwrap();
    let text = plain::text(&day_sheet::document(&view, &desk.prices().unwrap(), utc()));
    assert!(text.contains("1 piece, of a value that is not known, for want of a price"), "{text}");
    assert!(text.contains("no price"), "{text}");
}
