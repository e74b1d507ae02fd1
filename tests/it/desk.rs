//! The use cases of a desk, from the packing list to the last correction.

use super::bench::{Bench, GOLD_BAR, SILVER, noon, reading};
use proptest::prelude::*;
use rusqlite::Connection;
use scruple::desk::{AppError, ErrorKind, Field, PieceView};
use scruple::evidence::Measurand;
use scruple::intake::LotId;
use scruple::quantity::Money;
use scruple::reference::Metal;
use scruple::scoring::{DoubtKind, Scope, Standing};

const MASS: Field = Field::Reading(Measurand::Mass, 1);

#[track_caller]
fn check_error<T>(result: Result<T, AppError>, kind: ErrorKind, message: &str) {
    let error = result.err().expect("an error was expected");
    assert_eq!((error.kind, error.message.as_str()), (kind, message));
}

fn kinds(piece: &PieceView) -> Vec<DoubtKind> {
    piece.doubts.iter().map(|doubt| doubt.kind).collect()
}

fn identity_texts(piece: &PieceView) -> Vec<String> {
    piece
        .doubts
        .iter()
        .filter(|doubt| doubt.kind == DoubtKind::Identity)
        .map(|doubt| crate::cause(&doubt.cause))
        .collect()
}

#[test]
fn a_shipment_gets_numbers_that_people_can_say() {
    let mut bench = Bench::new();
    let list =
        format!("line,product,quantity,serials,unit_cost\n1,{SILVER},20,,31.50\n3,{GOLD_BAR},2,A1 A2,2395\n");
    let shipment = bench.desk().receive("Three Geese Estates (invented)", "list.csv", &list, false).unwrap();
    assert_eq!(shipment.number, "S-0001");
    assert_eq!(shipment.received_at, noon());
    let lots: Vec<_> =
        shipment.lots.iter().map(|lot| (lot.number.as_str(), lot.expected, lot.standing)).collect();
    assert_eq!(lots, [("S-0001/1", 20, None), ("S-0001/3", 2, None)]);
    assert_eq!(shipment.lots[1].serials_open, ["A1", "A2"]);
    assert_eq!(shipment.lots[0].unit_cost.unwrap().to_string(), "31.50 EUR");
    bench.receive(&format!("line,product,quantity\n1,{SILVER},1\n"));
    let numbers: Vec<_> =
        bench.desk().shipments().unwrap().into_iter().map(|shipment| shipment.number).collect();
    assert_eq!(numbers, ["S-0002", "S-0001"]);
    assert_eq!(bench.desk().shipment("S-0001").unwrap(), shipment);
    check_error(bench.desk().shipment("S-0009"), ErrorKind::Failed, "shipment `S-0009` is not in the book");
    check_error(
        bench.desk().shipment("9"),
        ErrorKind::Usage,
        "`9` is not a shipment number such as `S-0012`",
    );
}

#[test]
fn bad_rows_of_a_packing_list_leave_nothing_in_the_book() {
    let mut bench = Bench::new();
    let before = bench.desk().verify_journal().unwrap();
    let list = format!("line,product,quantity\n1,{SILVER},20\n2,nothing-known,0\n");
    let error = bench.desk().receive("Moonpond", "list.csv", &list, false).unwrap_err();
    assert_eq!(error.kind, ErrorKind::BadRows);
    assert_eq!(error.rows.iter().map(|row| row.column.as_str()).collect::<Vec<_>>(), ["product", "quantity"]);
    assert_eq!(bench.desk().shipments().unwrap(), []);
    assert_eq!(bench.desk().verify_journal().unwrap(), before);
    check_error(
        bench.desk().receive(" \u{1b} ", "list.csv", "", false),
        ErrorKind::Usage,
        "the source is empty; allowed are 1 to 200 characters",
    );
}

#[test]
fn a_dry_run_shows_what_would_be_and_writes_nothing() {
    let mut bench = Bench::new();
    let list = format!("line,product,quantity\n1,{SILVER},20\n");
    assert_eq!(bench.desk().receive("Moonpond", "list.csv", &list, true).unwrap().number, "S-0001");
    assert_eq!(bench.desk().shipments().unwrap(), []);
    bench.receive(&list);
    let before = bench.desk().verify_journal().unwrap();
    let rows =
        "line,mass,diameter,thickness,conductivity,temperature,probe\n1,31.10,40.60,2.98,61.9,21.3,flat\n";
    let report = bench.desk().log_readings("S-0001", "r.csv", rows, true, false).unwrap();
    assert!(report.dry_run);
    assert_eq!(
        (report.pieces[0].number.as_str(), report.pieces[0].standing),
        ("S-0001/1-01", Standing::Clear)
    );
    assert_eq!(bench.desk().verify_journal().unwrap(), before);
    assert_eq!(bench.desk().shipment("S-0001").unwrap().lots[0].logged, 0);
}

#[test]
fn a_shipment_without_a_list_grows_line_by_line() {
    let mut bench = Bench::new();
    let shipment = bench.desk().new_shipment("Walk-in (invented)").unwrap();
    let first = bench.desk().add_line(shipment.id, SILVER, 3).unwrap();
    let second = bench.desk().add_line(shipment.id, GOLD_BAR, 1).unwrap();
    assert_eq!((first.number.as_str(), second.number.as_str()), ("S-0001/1", "S-0001/2"));
    let error = bench.desk().add_line(shipment.id, "us-5112-ee", 3).unwrap_err();
    assert_eq!(error.message, "product `us-5112-ee` is not in the reference");
    assert!(error.hints[0].contains("`us-5112-e`"), "{:?}", error.hints);
    check_error(
        bench.desk().add_line(shipment.id, SILVER, 0),
        ErrorKind::Usage,
        "quantity `0` is out of range; allowed is 1 to 100000",
    );
}

#[test]
fn the_form_has_the_fields_of_its_product_in_the_order_of_the_desk() {
    let mut bench = Bench::new();
    let mut check = |product: &str, serials: &str, expected: &[&str]| {
        let lot = bench.lot(product, 2, serials);
        let draft = bench.desk().new_draft(lot).unwrap();
        let labels: Vec<String> = draft.fields.iter().map(|field| field.field.label()).collect();
        assert_eq!(labels, expected, "{product}");
    };
    check(SILVER, "", &["mass", "diameter", "thickness", "conductivity 1", "temperature"]);
    check(SILVER, "A1 A2", &["serial", "mass", "diameter", "thickness", "conductivity 1", "temperature"]);
    check(GOLD_BAR, "", &["serial", "mass", "length", "width", "thickness", "conductivity 1", "temperature"]);
    let big =
        ["serial", "mass", "length", "width", "thickness", "conductivity 1", "conductivity 2", "temperature"];
    check("bar-silver-999-10ozt", "", &big);
}

#[test]
fn the_form_remembers_the_probe_used_last() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 2, "");
    assert_eq!(bench.desk().new_draft(lot).unwrap().probe.as_deref(), Some("pencil"));
    bench.log(lot, &[]);
    assert_eq!(bench.desk().new_draft(lot).unwrap().probe.as_deref(), Some("flat"));
}

#[test]
fn a_typed_field_is_echoed_in_its_stored_unit_and_a_slip_is_asked_about() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 2, "");
    #[track_caller]
    fn echo(bench: &mut Bench, lot: LotId, field: Field, text: &str, stored: &str, question: Option<&str>) {
        let echo = bench.desk().echo(lot, field, text).unwrap();
        assert_eq!((echo.stored.as_str(), echo.question.as_deref()), (stored, question), "{text}");
    }
    echo(&mut bench, lot, MASS, "31,10", "31.10 g", None);
    echo(&mut bench, lot, MASS, "1.000 ozt", "31.10 g", None);
    echo(&mut bench, lot, MASS, "-", "not measured", None);
    echo(&mut bench, lot, Field::Serial, "a-1", "a-1", None);
    echo(&mut bench, lot, Field::Serial, "", "no serial", None);
    let twice = bench.desk().echo(lot, MASS, "62.2").unwrap();
    assert_eq!(twice.question, None);
    let ten = bench.desk().echo(lot, MASS, "311.03").unwrap();
    assert!(ten.question.unwrap().starts_with("311.03 g, 10.0 times the expected 31.1"));
    let conductivity = reading(Measurand::Conductivity);
    assert!(bench.desk().echo(lot, conductivity, "6.19").unwrap().question.is_some());
    assert!(bench.desk().echo(lot, reading(Measurand::Temperature), "70").unwrap().question.is_some());
    assert_eq!(bench.desk().echo(lot, reading(Measurand::Temperature), "70 F").unwrap().question, None);
    check_error(bench.desk().echo(lot, MASS, ""), ErrorKind::Usage, "mass is empty");
    check_error(
        bench.desk().echo(lot, MASS, "="),
        ErrorKind::Usage,
        "mass `=` repeats nothing: a reading is taken anew on each piece",
    );
    assert_eq!(bench.desk().echo(lot, MASS, "31.10 mm").unwrap_err().kind, ErrorKind::Usage);
}

#[test]
fn a_logged_piece_reads_back_as_it_was_shown() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 2, "");
    let shown = bench.log(lot, &[(MASS, "31,10 g")]);
    assert_eq!(
        (shown.number.as_str(), shown.standing, shown.operator.as_str()),
        ("S-0001/1-01", Standing::Clear, "MIRA")
    );
    let mass = &shown.readings[0];
    assert_eq!((mass.text.as_str(), mass.stored.as_str()), ("31,10 g", "31.10 g"));
    assert!(mass.uncertainty.as_deref().unwrap().starts_with("± 0.00"), "{:?}", mass.uncertainty);
    assert_eq!(shown.readings[3].probe.as_deref(), Some("flat"));
    // When it is logged and in the list of its lot the excluded candidates are left out; everything else is the same.
    let in_list = bench.desk().pieces(lot).unwrap().remove(0);
    assert_eq!(in_list, shown);
    let shown = bench.desk().piece(shown.id).unwrap();
    assert_eq!(bench.desk().find_piece("S-0001/1-01").unwrap(), shown);
    assert_eq!(bench.other_desk("MIRA").piece(shown.id).unwrap(), shown);
    assert!(shown.assessment.candidates.len() > in_list.assessment.candidates.len());
    assert_eq!(in_list.assessment.checks, shown.assessment.checks);
    assert_eq!(in_list.assessment.candidates, shown.assessment.survivors().cloned().collect::<Vec<_>>());
    assert_eq!(bench.desk().lot(lot).unwrap().clear, 1);
}

#[test]
fn a_required_field_may_be_not_measured_but_not_empty() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 3, "");
    let empty = bench.filled(lot, &[(reading(Measurand::Diameter), "")]);
    check_error(bench.desk().log_piece(&empty), ErrorKind::Usage, "diameter is empty");
    let piece =
        bench.log(lot, &[(reading(Measurand::Conductivity), "-"), (reading(Measurand::Temperature), "")]);
    assert_eq!(piece.standing, Standing::Hold);
    assert!(piece.readings.iter().any(|reading| reading.stored == "not measured"));
    assert_eq!(bench.desk().lot(lot).unwrap().logged, 1);
}

#[test]
fn a_value_far_off_needs_a_reason_and_the_reason_is_kept() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 3, "");
    let mut draft = bench.filled(lot, &[(MASS, "311.0")]);
    let error = bench.desk().log_piece(&draft).unwrap_err();
    assert!(error.message.starts_with("mass `311.0` is 10.0 times the expected"), "{}", error.message);
    draft.fields[0].reason = Some("cast in a frame".to_owned());
    let piece = bench.desk().log_piece(&draft).unwrap();
    assert_eq!(piece.readings[0].reason.as_deref(), Some("cast in a frame"));
    assert_eq!(piece.standing, Standing::Refuse);
}

#[test]
fn no_more_pieces_are_logged_than_the_packing_list_announces() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 1, "");
    bench.log(lot, &[]);
    let draft = bench.filled(lot, &[]);
    let error = bench.desk().log_piece(&draft).unwrap_err();
    assert_eq!(error.message, "lot `S-0001/1`: all 1 pieces of the packing list are logged");
    assert_eq!(error.hints, ["add a line for pieces that are not on the packing list"]);
}

#[test]
fn logging_clears_the_half_filled_piece_and_failing_keeps_it() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 2, "");
    let bad = bench.filled(lot, &[(MASS, "31.1x")]);
    bench.desk().save_draft(&bad).unwrap();
    assert!(bench.desk().log_piece(&bad).is_err());
    assert_eq!(bench.desk().draft().unwrap(), Some(bad));
    let good = bench.filled(lot, &[]);
    bench.desk().log_piece(&good).unwrap();
    assert_eq!(bench.desk().draft().unwrap(), None);
}

#[test]
fn two_equal_serials_hold_both_pieces_wherever_they_are() {
    let mut bench = Bench::new();
    let lot = bench.lot(GOLD_BAR, 2, "");
    let other_lot = bench.lot("bar-gold-9999-1ozt", 2, "");
    let first = bench.log(lot, &[(Field::Serial, "X-77")]);
    assert_eq!(identity_texts(&first), Vec::<&str>::new());
    let second = bench.log(other_lot, &[(Field::Serial, "x-77")]);
    assert_eq!(identity_texts(&second), ["serial `x-77` is on `S-0001/1-01` too"]);
    let first = bench.desk().piece(first.id).unwrap();
    assert_eq!(identity_texts(&first), ["serial `X-77` is on `S-0002/1-01` too"]);
    let error = bench.desk().find_piece("X-77").unwrap_err();
    assert_eq!(error.message, "serial `X-77` is on 2 pieces");
    // Mending one of them frees both.
    let second = bench.desk().correct(second.id, Field::Serial, "X-78", "misread").unwrap();
    assert_eq!(identity_texts(&second), Vec::<&str>::new());
    assert_eq!(identity_texts(&bench.desk().piece(first.id).unwrap()), Vec::<&str>::new());
    assert_eq!(bench.desk().find_piece("x-78").unwrap().id, second.id);
}

#[test]
fn a_serial_of_another_metal_is_no_repetition() {
    let mut bench = Bench::new();
    let gold = bench.lot(GOLD_BAR, 1, "");
    let silver = bench.lot("bar-silver-999-1ozt", 1, "");
    bench.log(gold, &[(Field::Serial, "77")]);
    let changes =
        [(Field::Serial, "77"), (reading(Measurand::Length), "50"), (reading(Measurand::Width), "29")];
    let piece = bench.log(silver, &changes);
    assert_eq!(identity_texts(&piece), Vec::<&str>::new());
}

#[test]
fn serials_are_checked_against_the_packing_list() {
    let mut bench = Bench::new();
    let lot = bench.lot(GOLD_BAR, 3, "A1 A2 A3");
    let listed = bench.log(lot, &[(Field::Serial, "a1")]);
    assert_eq!(identity_texts(&listed), Vec::<&str>::new());
    assert_eq!(bench.desk().lot(lot).unwrap().serials_open, ["A2", "A3"]);
    let unlisted = bench.log(lot, &[(Field::Serial, "B9")]);
    assert_eq!(identity_texts(&unlisted), ["serial `B9` is not on the packing list of this line"]);
    let missing = bench.log(lot, &[(Field::Serial, "-")]);
    assert_eq!(identity_texts(&missing), ["no serial, though the packing list gives 3 for this line"]);
    let mended = bench.desk().correct(missing.id, Field::Serial, "A3", "read under the lamp").unwrap();
    assert_eq!(identity_texts(&mended), Vec::<&str>::new());
    assert_eq!(bench.desk().lot(lot).unwrap().serials_open, ["A2"]);
    bench.desk().void_piece(listed.id, "logged twice").unwrap();
    assert_eq!(bench.desk().lot(lot).unwrap().serials_open, ["A1", "A2"]);
}

#[test]
fn a_correction_is_a_new_row_that_names_the_old_one() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 2, "");
    let wrong = bench.log(lot, &[(MASS, "30.10")]);
    assert_eq!(wrong.standing, Standing::Refuse);
    check_error(
        bench.desk().correct(wrong.id, MASS, "31.10", "  "),
        ErrorKind::Usage,
        "the reason is empty; allowed are 1 to 200 characters",
    );
    check_error(
        bench.desk().correct(wrong.id, MASS, "30.10", "again"),
        ErrorKind::Usage,
        "piece `S-0001/1-01`: mass is `30.10` already",
    );
    let right = bench.desk().correct(wrong.id, MASS, "31.10", "a slip of the finger").unwrap();
    assert_eq!((right.standing, right.doubts.len()), (Standing::Clear, 0));
    assert_eq!(right.readings[0].reason.as_deref(), Some("a slip of the finger"));
    assert_eq!(bench.desk().lot(lot).unwrap().refuse, 0);
    let client = Connection::open(bench.book()).unwrap();
    let rows: Vec<(String, bool)> = client
        .prepare("SELECT text, replaces IS NOT NULL FROM reading WHERE measurand = 'mass' ORDER BY at_ms, replaces IS NOT NULL")
        .unwrap()
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap();
    assert_eq!(rows, [("30.10".to_owned(), false), ("31.10".to_owned(), true)]);
}

#[test]
fn a_reading_can_be_withdrawn_and_taken_later() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 2, "");
    let piece = bench.log(lot, &[]);
    let conductivity = reading(Measurand::Conductivity);
    let without = bench.desk().correct(piece.id, conductivity, "-", "read on the rim").unwrap();
    assert_eq!(without.standing, Standing::Hold);
    let again = bench.desk().correct(piece.id, conductivity, "62.0", "read on the field").unwrap();
    assert_eq!(again.standing, Standing::Clear);
    assert_eq!(
        again.readings.iter().find(|r| r.measurand == Measurand::Conductivity).unwrap().probe.as_deref(),
        Some("flat")
    );
}

#[test]
fn undo_takes_back_one_act_after_the_other_and_only_the_operators_own() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 3, "");
    let first = bench.log(lot, &[]);
    let second = bench.log(lot, &[]);
    bench.desk().correct(first.id, MASS, "30.10", "weighed again").unwrap();
    bench.desk().hold_piece(second.id, "scratched").unwrap();
    check_error(bench.other_desk("IVO").undo(), ErrorKind::Failed, "`IVO` has nothing to undo");
    let undo = |bench: &mut Bench| bench.desk().undo().unwrap();
    assert_eq!(undo(&mut bench), "Took back the hold that was put on piece S-0001/1-02.");
    assert_eq!(bench.desk().piece(second.id).unwrap().standing, Standing::Clear);
    assert_eq!(undo(&mut bench), "Set mass of piece S-0001/1-01 back from `30.10` to `31.10`.");
    assert_eq!(bench.desk().piece(first.id).unwrap().standing, Standing::Clear);
    assert_eq!(
        undo(&mut bench),
        "Voided piece S-0001/1-02, which was logged last; its readings stay in the book."
    );
    assert_eq!(
        undo(&mut bench),
        "Voided piece S-0001/1-01, which was logged last; its readings stay in the book."
    );
    assert!(bench.desk().undo().is_err());
    let lot = bench.desk().lot(lot).unwrap();
    assert_eq!((lot.logged, lot.clear, lot.hold, lot.refuse), (0, 0, 0, 0));
    assert_eq!(bench.desk().verify_journal().unwrap().faults, []);
}

#[test]
fn a_number_is_never_given_twice() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 2, "");
    bench.log(lot, &[]);
    bench.desk().undo().unwrap();
    assert_eq!(bench.log(lot, &[]).number, "S-0001/1-02");
    assert_eq!(bench.desk().pieces(lot).unwrap().len(), 1);
}

#[test]
fn a_hold_put_by_hand_is_taken_back_by_hand_and_no_other_is() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 3, "");
    let piece = bench.log(lot, &[]);
    let held = bench.desk().hold_piece(piece.id, "odd ring").unwrap();
    assert_eq!(
        (held.standing, crate::cause(&held.doubts[0].cause).as_str()),
        (Standing::Hold, "put by hand: odd ring")
    );
    assert_eq!(bench.desk().lot(lot).unwrap().hold, 1);
    // Scoring again does not take a person's hold away.
    bench.desk().correct(piece.id, MASS, "31.11", "weighed again").unwrap();
    assert_eq!(bench.desk().piece(piece.id).unwrap().standing, Standing::Hold);
    let free = bench.desk().take_back_hold(piece.id, "rang it twice more").unwrap();
    assert_eq!((free.standing, free.doubts.len()), (Standing::Clear, 0));
    check_error(
        bench.desk().take_back_hold(piece.id, "again"),
        ErrorKind::Failed,
        "piece `S-0001/1-01` has no open hold",
    );
    let light = bench.log(lot, &[(MASS, "29.00")]);
    check_error(
        bench.desk().take_back_hold(light.id, "it looks fine"),
        ErrorKind::NotPermitted,
        "piece `S-0001/1-02`: the hold was not put by hand; it closes when its doubt is settled",
    );
}

#[test]
fn a_voided_piece_leaves_the_account_and_takes_nothing_more() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 1, "");
    let piece = bench.log(lot, &[(MASS, "29.00")]);
    bench.desk().void_piece(piece.id, "weighed in its capsule").unwrap();
    assert_eq!(bench.desk().pieces(lot).unwrap(), []);
    assert_eq!(bench.desk().holds().unwrap(), []);
    let view = bench.desk().lot(lot).unwrap();
    assert_eq!((view.logged, view.refuse, view.standing), (0, 0, None));
    check_error(
        bench.desk().correct(piece.id, MASS, "31.10", "late"),
        ErrorKind::Failed,
        "piece `S-0001/1-01`: the piece was voided",
    );
    check_error(
        bench.desk().hold_piece(piece.id, "late"),
        ErrorKind::Failed,
        "piece `S-0001/1-01`: the piece was voided",
    );
    assert_eq!(bench.log(lot, &[]).number, "S-0001/1-02");
}

#[test]
fn a_doubt_of_the_lot_is_one_hold_and_goes_with_the_last_piece_that_raises_it() {
    let mut bench = Bench::new();
    // Every ounce of gold leaves the same cores open: one doubt, of the lot.
    let lot = bench.lot(GOLD_BAR, 200, "");
    let first = bench.log(lot, &[]);
    let second = bench.log(lot, &[]);
    let holds = bench.desk().holds().unwrap();
    let of_lot: Vec<_> = holds.iter().filter(|hold| hold.scope == Scope::Lot).map(|hold| hold.kind).collect();
    assert_eq!(of_lot.iter().filter(|kind| **kind == DoubtKind::HiddenCore).count(), 1, "{of_lot:?}");
    assert!(first.assessment.waits_with_its_lot(), "{:?}", first.assessment.doubts);
    let view = bench.desk().lot(lot).unwrap();
    assert_eq!((view.lot_doubts as usize, view.standing), (of_lot.len(), Some(Standing::Hold)));
    bench.desk().void_piece(first.id, "test").unwrap();
    assert_eq!(bench.desk().lot(lot).unwrap().lot_doubts as usize, of_lot.len());
    bench.desk().void_piece(second.id, "test").unwrap();
    assert_eq!(bench.desk().lot(lot).unwrap().lot_doubts, 0);
    assert_eq!(bench.desk().holds().unwrap(), []);
}

#[test]
fn holds_stand_with_the_most_money_first_and_the_unpriced_before_all() {
    let mut bench = Bench::new();
    let silver = bench.lot(SILVER, 1, "");
    let gold = bench.lot(GOLD_BAR, 1, "");
    let platinum = bench.lot("bar-platinum-9995-1ozt", 1, "");
    bench.log(silver, &[(MASS, "29.00")]);
    bench.log(gold, &[(MASS, "29.00")]);
    let dimensions = [
        (reading(Measurand::Conductivity), "9.4"),
        (reading(Measurand::Length), "40"),
        (reading(Measurand::Width), "24"),
    ];
    bench.log(platinum, &dimensions);
    let mut lots: Vec<String> = bench.desk().holds().unwrap().into_iter().map(|hold| hold.lot).collect();
    lots.dedup();
    assert_eq!(lots, ["S-0003/1", "S-0002/1", "S-0001/1"]);
    let holds = bench.desk().holds().unwrap();
    assert_eq!(holds[0].at_risk, None);
    let silver = holds.iter().find(|hold| hold.lot == "S-0001/1").unwrap();
    assert_eq!(silver.standing, Standing::Refuse);
    assert!(silver.at_risk.unwrap().to_string().ends_with(" EUR"));
}

#[test]
fn money_at_risk_is_the_fine_mass_at_the_price_rounded_once() {
    let mut bench = Bench::new();
    let lot = bench.lot(GOLD_BAR, 1, "");
    let piece = bench.log(lot, &[(MASS, "29.00")]);
    // 1 ozt × 0.9999 × 2400 = 2399.76, exact arithmetic.
    assert_eq!(piece.doubts[0].at_risk.unwrap().to_string(), "2399.76 EUR");
}

#[test]
fn a_price_counts_for_what_is_scored_after_it() {
    let mut bench = Bench::without_prices();
    let lot = bench.lot(SILVER, 20, "");
    let piece = bench.log(lot, &[]);
    assert!(
        piece.assessment.remarks.contains(&scruple::scoring::Remark::NoPrice),
        "shares alone decide, and it says so"
    );
    let currency = bench.desk().policy().currency;
    bench.desk().set_price(Metal::Silver, Money::parse("30", currency).unwrap()).unwrap();
    assert_eq!(bench.desk().piece(piece.id).unwrap().assessment.doubts, piece.assessment.doubts);
    let pieces = bench.desk().rescore(lot).unwrap();
    assert_eq!((pieces[0].standing, pieces[0].doubts.len()), (Standing::Clear, 0));
    assert!(!pieces[0].assessment.remarks.contains(&scruple::scoring::Remark::NoPrice));
    check_error(
        bench.desk().set_price(Metal::Silver, Money::parse("30 USD", currency).unwrap()),
        ErrorKind::Usage,
        "currency `USD` is not `EUR`, the currency of the policy",
    );
    check_error(
        bench.desk().set_price(Metal::Silver, Money::parse("0", currency).unwrap()),
        ErrorKind::Usage,
        "price `0 EUR` is not above 0 EUR",
    );
    let prices = bench.desk().prices().unwrap();
    assert_eq!((prices.len(), prices[0].per_troy_ounce.to_string()), (1, "30 EUR".to_owned()));
}

#[test]
fn one_bad_row_refuses_the_list_unless_the_good_ones_are_wanted() {
    let mut bench = Bench::new();
    let shipment = bench.receive(&format!("line,product,quantity\n1,{SILVER},2\n"));
    let rows = "line,mass,diameter,thickness,conductivity,probe\n\
                1,31.10,40.60,2.98,61.9,flat\n\
                1,31.10 oz,40.60,2.98,61.9,flat\n\
                1,31.09,40.61,2.98,61.9,flat\n\
                1,31.09,40.61,2.98,61.9,flat\n";
    let error = bench.desk().log_readings(&shipment, "r.csv", rows, false, false).unwrap_err();
    assert_eq!(error.kind, ErrorKind::BadRows);
    let texts: Vec<String> = error.rows.iter().map(ToString::to_string).collect();
    assert_eq!(
        texts,
        [
            "row 3, column `mass`: found `31.10 oz`, allowed is a mass in `ozt` or `g`",
            "row 5, column `line`: found `1`, allowed is at most 2 pieces of line 1, 0 logged before",
        ]
    );
    assert_eq!(bench.desk().shipment(&shipment).unwrap().lots[0].logged, 0);
    let report = bench.desk().log_readings(&shipment, "r.csv", rows, false, true).unwrap();
    assert_eq!(report.pieces.len(), 2);
    assert_eq!(report.rejected.iter().map(|row| row.row).collect::<Vec<_>>(), [3, 5]);
    assert_eq!(bench.desk().shipment(&shipment).unwrap().lots[0].logged, 2);
}

#[test]
fn a_short_count_is_shown_until_the_lot_is_complete() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 2, "");
    bench.log(lot, &[]);
    let short: Vec<_> = bench.desk().short_counts().unwrap();
    assert_eq!((short.len(), short[0].logged, short[0].expected), (1, 1, 2));
    assert_eq!(kinds(&bench.desk().pieces(lot).unwrap()[0]), []);
    bench.log(lot, &[]);
    assert_eq!(bench.desk().short_counts().unwrap(), []);
}

#[test]
fn what_a_piece_was_scored_with_is_kept_in_the_book() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 2, "");
    bench.log(lot, &[]);
    let client = Connection::open(bench.book()).unwrap();
    let kept: Vec<(String, String)> = client
        .prepare("SELECT kind, version FROM rule_text ORDER BY kind")
        .unwrap()
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap();
    let (instruments, policy, readings): (String, String, String) = client
        .query_row("SELECT instruments, policy, readings FROM assessment", [], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?))
        })
        .unwrap();
    assert_eq!(kept, [("instruments".to_owned(), instruments), ("policy".to_owned(), policy)]);
    assert_eq!(readings.split(' ').count(), 5);
}

/// An act of a receiver, for random days.
#[derive(Debug, Clone)]
enum Act {
    Log(&'static str, &'static str),
    Correct(usize, &'static str),
    Serial(usize, &'static str),
    Void(usize),
    Hold(usize),
    TakeBack(usize),
    Undo,
}

fn act() -> impl Strategy<Value = Act> {
    let mass = prop::sample::select(vec!["31.12", "31.13", "29.00", "-"]);
    let serial = prop::sample::select(vec!["A1", "A2", "B1", "-"]);
    prop_oneof![
        4 => (mass.clone(), serial.clone()).prop_map(|(mass, serial)| Act::Log(mass, serial)),
        1 => (0usize..6, mass).prop_map(|(piece, mass)| Act::Correct(piece, mass)),
        1 => (0usize..6, serial).prop_map(|(piece, serial)| Act::Serial(piece, serial)),
        1 => (0usize..6).prop_map(Act::Void),
        1 => (0usize..6).prop_map(Act::Hold),
        1 => (0usize..6).prop_map(Act::TakeBack),
        1 => Just(Act::Undo),
    ]
}

/// Does one act; what the desk refuses is refused.
fn perform(bench: &mut Bench, lot: LotId, act: &Act) {
    let pieces = bench.desk().pieces(lot).unwrap();
    let piece = |index: usize| pieces.get(index).map(|piece| piece.id);
    match act {
        Act::Log(mass, serial) => {
            let draft = bench.filled(lot, &[(MASS, mass), (Field::Serial, serial)]);
            let _ = bench.desk().log_piece(&draft);
        }
        Act::Correct(index, mass) => {
            drop(piece(*index).map(|id| bench.desk().correct(id, MASS, mass, "test")))
        }
        Act::Serial(index, text) => {
            drop(piece(*index).map(|id| bench.desk().correct(id, Field::Serial, text, "test")))
        }
        Act::Void(index) => drop(piece(*index).map(|id| bench.desk().void_piece(id, "test"))),
        Act::Hold(index) => drop(piece(*index).map(|id| bench.desk().hold_piece(id, "test"))),
        Act::TakeBack(index) => drop(piece(*index).map(|id| bench.desk().take_back_hold(id, "test"))),
        Act::Undo => drop(bench.desk().undo()),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn after_any_day_totals_standings_and_holds_agree(acts in prop::collection::vec(act(), 1..14)) {
        let mut bench = Bench::new();
        let lot = bench.lot(GOLD_BAR, 5, "A1 A2");
        for act in &acts {
            perform(&mut bench, lot, act);
        }
        let view = bench.desk().lot(lot).unwrap();
        let pieces = bench.desk().pieces(lot).unwrap();
        let number = |standing| pieces.iter().filter(|piece| piece.standing == standing).count() as u32;
        prop_assert_eq!(view.logged as usize, pieces.len());
        prop_assert_eq!(
            (view.clear, view.hold, view.refuse),
            (number(Standing::Clear), number(Standing::Hold), number(Standing::Refuse))
        );
        for piece in &pieces {
            prop_assert_eq!(piece.standing == Standing::Clear, piece.doubts.is_empty(), "{}", &piece.number);
            let same = piece.serial.as_ref().is_some_and(|serial| {
                pieces.iter().filter(|other| other.serial.as_ref() == Some(serial)).count() > 1
            });
            let repeated = identity_texts(piece).iter().any(|text| text.ends_with(" too"));
            prop_assert_eq!(same, repeated, "{}", &piece.number);
        }
        let open = bench.desk().holds().unwrap();
        let of_pieces: usize = pieces.iter().map(|piece| piece.doubts.len()).sum();
        prop_assert_eq!(open.iter().filter(|hold| hold.scope == Scope::Piece).count(), of_pieces);
        prop_assert_eq!(open.iter().filter(|hold| hold.scope == Scope::Lot).count() as u32, view.lot_doubts);
        for serial in ["A1", "A2"] {
            let borne = pieces.iter().any(|piece| piece.serial.as_deref() == Some(serial));
            prop_assert_eq!(borne, !view.serials_open.iter().any(|open| open == serial));
        }
        prop_assert_eq!(bench.desk().verify_journal().unwrap().faults, vec![]);
        // What is shown can be computed again from the readings, to the last digit.
        for piece in &pieces {
            let full = bench.desk().piece(piece.id).unwrap();
            prop_assert!(full.assessment.candidates.len() > piece.assessment.candidates.len());
        }
    }
}
