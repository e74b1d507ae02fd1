//! Controls: what proves a reading, what voids it, and what comes back from stock.

use super::bench::SILVER;
use super::cli::{Call, write};
use super::instruments::REGISTER;
use chrono::{DateTime, Utc};
use rusqlite::Connection;
use scruple::desk::review_views::StockFilter;
use scruple::desk::{AppError, ControlOutcome, ControlRequest, Desk, ErrorKind, Field, PieceView, Settings};
use scruple::evidence::Measurand;
use scruple::evidence::control::{ControlReason, ControlState};
use scruple::intake::LotId;
use scruple::metrology::drift::line;
use scruple::quantity::Money;
use scruple::reference::Metal;
use scruple::scoring::{DoubtKind, Outcome, Standing};
use std::sync::{Arc, Mutex};
use tempfile::TempDir;

/// Reference pieces of the invented desk.
pub const REFERENCES: &str = r#"
[[reference]]
name = "100 g weight"
mass = "100 g"
U = "0.002 g"
k = 2
certificate = "W-3"
date = "2025-11-03"

[[reference]]
name = "20 mm block"
length = "20 mm"
U = "0.001 mm"
k = 2

[[reference]]
name = "silver block"
material = "Ag"
conductivity = "61.5 MS/m"
U = "0.3 MS/m"
k = 2
"#;

const CONDUCTIVITY: Field = Field::Reading(Measurand::Conductivity, 1);

fn moment(text: &str) -> DateTime<Utc> {
    format!("2026-{text}:00Z").parse().unwrap()
}

/// A desk whose clock the test turns.
struct Day {
    folder: TempDir,
    desk: Desk,
    clock: Arc<Mutex<DateTime<Utc>>>,
}

impl Day {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let clock = Arc::new(Mutex::new(moment("03-04T07:00")));
        let own = Arc::clone(&clock);
        let settings = Settings::built_in("MIRA").with_clock(move || *own.lock().unwrap());
        let desk = Desk::open(&folder.path().join("a.book"), settings).unwrap();
        let mut day = Day { folder, desk, clock };
        let currency = day.desk.policy().currency;
        day.desk.set_price(Metal::Silver, Money::parse("30", currency).unwrap()).unwrap();
        day.desk.set_register("r.toml", &format!("{REGISTER}{REFERENCES}")).unwrap();
        day
    }

    fn at(&mut self, text: &str) -> &mut Self {
        *self.clock.lock().unwrap() = moment(text);
        self
    }

    fn control(&mut self, reference: &str, value: &str, instrument: &str) -> ControlOutcome {
        self.try_control(reference, value, instrument).unwrap()
    }

    fn try_control(
        &mut self,
        reference: &str,
        value: &str,
        instrument: &str,
    ) -> Result<ControlOutcome, AppError> {
        let meter = instrument == "meter one";
        self.desk.record_control(&ControlRequest {
            reference: reference.to_owned(),
            value: value.to_owned(),
            instrument: Some(instrument.to_owned()),
            probe: meter.then(|| "flat".to_owned()),
            temperature: meter.then(|| "21.0 C".to_owned()),
            reason: None,
        })
    }

    /// Takes the four controls of a morning.
    fn morning(&mut self) -> &mut Self {
        for (reference, value, instrument) in [
            ("100 g weight", "100.00", "bench scale"),
            ("20 mm block", "20.00", "long calliper"),
            ("20 mm block", "20.000", "rim micrometer"),
            ("silver block", "61.5", "meter one"),
        ] {
            let outcome = self.control(reference, value, instrument);
            assert!(outcome.control.passed, "{:?}", outcome.control);
        }
        self
    }

    fn lot(&mut self, quantity: u32) -> LotId {
        let list = format!("line,product,quantity\n1,{SILVER},{quantity}\n");
        self.desk.receive("Moonpond (invented)", "list.csv", &list, false).unwrap().lots[0].id
    }

    fn log(&mut self, lot: LotId) -> PieceView {
        let mut draft = self.desk.new_draft(lot).unwrap();
        draft.probe = Some("flat".to_owned());
        for field in &mut draft.fields {
            let Field::Reading(measurand, _) = field.field else { continue };
            let text = match measurand {
                Measurand::Mass => "31.10",
                Measurand::Diameter => "40.60",
                Measurand::Thickness => "2.980",
                Measurand::Conductivity => "61.9",
                _ => "21.3",
            };
            text.clone_into(&mut field.text);
        }
        self.desk.log_piece(&draft).unwrap()
    }

    fn standing(&self, number: &str) -> Standing {
        self.desk.find_piece(number).unwrap().standing
    }

    fn raw(&self) -> Connection {
        Connection::open(self.folder.path().join("a.book")).unwrap()
    }

    fn deeds(&self) -> Vec<String> {
        let raw = self.raw();
        let mut statement = raw.prepare("SELECT what FROM journal ORDER BY sequence").unwrap();
        let rows = statement.query_map([], |row| row.get(0)).unwrap();
        rows.collect::<Result<_, _>>().unwrap()
    }

    fn state(&self, name: &str) -> ControlState {
        let view = self.desk.instruments_view().unwrap();
        view.rows.into_iter().find(|row| row.name() == name).unwrap().state
    }
}

/// Three pieces were read in the morning, one of them was released.
fn morning_with_three_pieces() -> (Day, Vec<String>) {
    let mut day = Day::new();
    day.at("03-04T08:00").morning();
    let lot = day.at("03-04T09:00").lot(3);
    let pieces: Vec<PieceView> = (0..3).map(|_| day.log(lot)).collect();
    for piece in &pieces {
        assert_eq!(piece.standing, Standing::Clear, "{:?}", piece.doubts);
    }
    let numbers: Vec<String> = pieces.into_iter().map(|piece| piece.number).collect();
    day.at("03-04T09:30").desk.release(&numbers[2..], None).unwrap();
    (day, numbers)
}

#[test]
fn a_control_that_fails_at_noon_takes_the_morning_back_in_one_transaction() {
    let (mut day, numbers) = morning_with_three_pieces();
    let before = day.deeds().len();
    let outcome = day.at("03-04T12:00").control("silver block", "60.0", "meter one");
    assert!(!outcome.control.passed);
    assert_eq!(outcome.control.reason, ControlReason::QuestionableReading);
    assert_eq!(outcome.held, numbers[..2]);
    assert_eq!(outcome.recalled, numbers[2..]);
    for number in &numbers[..2] {
        let piece = day.desk.find_piece(number).unwrap();
        assert_eq!(piece.standing, Standing::Hold);
        let doubt = piece.doubts.iter().find(|doubt| doubt.kind == DoubtKind::UnprovedInstrument).unwrap();
        assert!(
            crate::cause(&doubt.cause).starts_with(
                "conductivity unproved: `meter one, flat`: the control on `silver block` of 2026-03-04 12:00 failed and \
                 voids what was read before it: 59.99 MS/m against 61.50 MS/m, E_n -"
            ),
            "{}",
            crate::cause(&doubt.cause)
        );
        let check = piece.assessment.checks.last().unwrap();
        assert_eq!((check.measurand, check.outcome), (Measurand::Conductivity, Outcome::NotUsable));
    }
    // What is in stock keeps its record; it is on the recall list.
    assert_eq!(day.standing(&numbers[2]), Standing::Clear);
    assert!(day.desk.find_piece(&numbers[2]).unwrap().recalled.is_some());
    assert!(day.desk.find_piece(&numbers[0]).unwrap().recalled.is_none());
    let stock = day.desk.stock(&StockFilter::default()).unwrap();
    assert!(stock.iter().all(|piece| piece.recalled.is_some()));
    let account = day.desk.day(None).unwrap();
    assert_eq!((account.sellable.len(), account.recalled[0].pieces), (0, 1));
    let recalls = day.desk.recalls().unwrap();
    assert_eq!(recalls.iter().map(|recall| recall.piece.as_str()).collect::<Vec<_>>(), [&numbers[2]]);
    // One act, one row each; all of them with the moment of the act.
    let deeds = day.deeds();
    assert_eq!(deeds[before..], ["control recorded", "piece unproved", "piece unproved", "piece recalled"]);
    let moments: i64 = day
        .raw()
        .query_row("SELECT count(DISTINCT at_ms) FROM journal WHERE sequence > ?1", [before as i64], |row| {
            row.get(0)
        })
        .unwrap();
    assert_eq!(moments, 1);
    assert!(day.desk.verify_journal().unwrap().faults.is_empty());
    assert!(matches!(day.state("meter one, flat"), ControlState::Failed { .. }));
    assert!(day.state("bench scale").is_in_order());
}

#[test]
fn a_failure_in_the_middle_of_a_failed_control_leaves_nothing() {
    let (mut day, numbers) = morning_with_three_pieces();
    let before = (day.deeds(), day.desk.controls(None).unwrap(), day.desk.holds().unwrap());
    // The last step of the act is the recall: it is made to fail after controls, holds and journal rows were written.
    day.raw()
        .execute_batch(
            "CREATE TRIGGER stop BEFORE INSERT ON recall BEGIN SELECT RAISE(ABORT, 'stopped by the test'); END;",
        )
        .unwrap();
    let error = day.at("03-04T12:00").try_control("silver block", "60.0", "meter one").unwrap_err();
    assert!(error.message.contains("stopped by the test") || error.source.is_some(), "{error:?}");
    assert_eq!((day.deeds(), day.desk.controls(None).unwrap(), day.desk.holds().unwrap()), before);
    assert_eq!(day.standing(&numbers[0]), Standing::Clear);
    assert!(day.state("meter one, flat").is_in_order());
    day.raw().execute_batch("DROP TRIGGER stop;").unwrap();
    let outcome = day.control("silver block", "60.0", "meter one");
    assert_eq!((outcome.held.len(), outcome.recalled.len()), (2, 1));
}

#[test]
fn a_new_control_and_new_readings_settle_it() {
    let (mut day, numbers) = morning_with_three_pieces();
    day.at("03-04T12:00").control("silver block", "60.0", "meter one");
    day.at("03-04T12:10").control("silver block", "61.6", "meter one");
    // The control alone proves nothing about what was read before it.
    let lot = day.desk.find_piece(&numbers[0]).unwrap().lot;
    day.desk.rescore(lot).unwrap();
    assert_eq!(day.standing(&numbers[0]), Standing::Hold);
    let piece = day.desk.find_piece(&numbers[0]).unwrap().id;
    let again = day.at("03-04T12:20").desk.correct(piece, CONDUCTIVITY, "61.8", "read again").unwrap();
    assert_eq!(again.standing, Standing::Clear, "{:?}", again.doubts);
    assert_eq!(day.standing(&numbers[1]), Standing::Hold);
    // What was read before the failed control and after the good one is void, what is read now is not.
    assert_eq!(day.state("meter one, flat"), ControlState::InControl { since: moment("03-04T12:10") });
}

#[test]
fn a_recalled_piece_comes_back_to_the_desk_on_hold() {
    let (mut day, numbers) = morning_with_three_pieces();
    let refused = day.desk.take_back_recalled(&numbers[2], "why not", None).unwrap_err();
    assert_eq!(refused.message, format!("piece `{}` is not on the recall list", numbers[2]));
    day.at("03-04T12:00").control("silver block", "60.0", "meter one");
    // Failing again recalls nobody twice.
    let again = day.at("03-04T12:01").control("silver block", "60.0", "meter one");
    assert_eq!((again.held.len(), again.recalled.len()), (2, 1));
    assert_eq!(day.desk.recalls().unwrap().len(), 1);
    let back = day.at("03-04T13:00").desk.take_back_recalled(&numbers[2], "from the vault", None).unwrap();
    assert_eq!(back.standing, Standing::Hold);
    assert!(back.doubts.iter().any(|doubt| doubt.kind == DoubtKind::UnprovedInstrument));
    assert_eq!(day.desk.recalls().unwrap(), []);
    let error = day.desk.release(&numbers[2..], None).unwrap_err();
    assert_eq!(error.kind, ErrorKind::NotPermitted);
    assert_eq!(day.deeds().last().unwrap(), "recalled piece back");
}

#[test]
fn a_failed_control_entered_by_mistake_is_withdrawn_with_a_reason() {
    let (mut day, numbers) = morning_with_three_pieces();
    let wrong = day.at("03-04T12:00").control("silver block", "16.5", "meter one").control.id;
    assert_eq!(day.standing(&numbers[0]), Standing::Hold);
    day.at("03-04T12:05").desk.withdraw_control(wrong, "typed 16.5 for 61.5", None).unwrap();
    assert_eq!(day.standing(&numbers[0]), Standing::Clear);
    assert_eq!(day.desk.recalls().unwrap(), []);
    assert!(day.state("meter one, flat").is_in_order());
    let error = day.desk.withdraw_control(wrong, "again", None).unwrap_err();
    assert_eq!(error.message, "this control is withdrawn already");
    let good = day.desk.controls(Some("meter one")).unwrap()[0].id;
    let error = day.desk.withdraw_control(good, "no", None).unwrap_err();
    assert_eq!(error.message, "a control that passed is not withdrawn: take another one");
    // The book itself keeps controls as they are.
    for change in ["UPDATE control SET e_n = 0", "DELETE FROM control", "DELETE FROM recall"] {
        assert!(day.raw().execute(change, []).is_err(), "{change}");
    }
}

#[test]
fn a_reading_without_a_control_in_force_holds() {
    let mut day = Day::new();
    let lot = day.at("03-04T09:00").lot(4);
    let none = day.log(lot);
    assert_eq!(none.standing, Standing::Hold);
    let texts: Vec<String> = none.doubts.iter().map(|doubt| crate::cause(&doubt.cause)).collect();
    assert!(
        texts.iter().any(|text| text == "mass unproved: `bench scale`: no control is on record"),
        "{texts:?}"
    );
    day.at("03-04T09:10").morning();
    let proved = day.at("03-04T09:20").log(lot);
    assert_eq!(proved.standing, Standing::Clear, "{:?}", proved.doubts);
    // The next day begins with a control.
    let stale = day.at("03-05T09:00").log(lot);
    let texts: Vec<String> = stale.doubts.iter().map(|doubt| crate::cause(&doubt.cause)).collect();
    let due = "conductivity unproved: `meter one, flat`: the last control was on 2026-03-04; each day begins with one";
    assert!(texts.iter().any(|text| text == due), "{texts:?}");
    // Another probe on the meter asks for a control of the first one when it is back.
    day.at("03-05T09:10").morning();
    let pencil = ControlRequest {
        reference: "silver block".to_owned(),
        value: "61.4".to_owned(),
        probe: Some("pencil".to_owned()),
        temperature: Some("21".to_owned()),
        ..ControlRequest::default()
    };
    day.at("03-05T09:15").desk.record_control(&pencil).unwrap();
    let changed = day.at("03-05T09:20").log(lot);
    let texts: Vec<String> = changed.doubts.iter().map(|doubt| crate::cause(&doubt.cause)).collect();
    assert!(
        texts.iter().any(|text| text.contains("the probe was changed since the control of 2026-03-05 09:10")),
        "{texts:?}"
    );
    let outcome = day.at("03-05T09:30").control("silver block", "61.5", "meter one");
    assert_eq!(outcome.control.reason, ControlReason::ProbeChange);
}

#[test]
fn from_twenty_controls_on_their_own_limits_count_too() {
    let mut day = Day::new();
    for index in 0..20 {
        let value = ["61.4", "61.5", "61.6", "61.5"][index % 4];
        let text = format!("02-{:02}T08:00", 1 + index);
        let outcome = day.at(&text).control("silver block", value, "meter one");
        assert!(outcome.control.passed && outcome.verdict.limits.is_none(), "{outcome:?}");
    }
    // 62.0 is well within E_n; the mean moving range is 0.1, so that the limits are 61.5 ± 3 × 0.1/1.128 (NIST/SEMATECH
    // e-Handbook, 6.3.2.2).
    let outcome = day.at("02-21T08:00").control("silver block", "62.0", "meter one");
    assert!(outcome.control.e_n.abs() < 1.0 && !outcome.control.passed, "{:?}", outcome.control);
    let limits = outcome.verdict.limits.unwrap();
    assert!((limits.upper - limits.centre - 0.3 / 1.128).abs() < 2e-3, "{limits:?}");
    assert_eq!(outcome.earlier, 20);
    assert!(
        outcome.control.finding.contains("the limits of 20 earlier controls"),
        "{}",
        outcome.control.finding
    );
}

#[test]
fn the_drift_line_reproduces_the_reference_fit() {
    // NIST StRD, linear regression, data set Norris (y against x), with its certified values (from memory; the data give
    // the certified values to the last digit printed).
    let data = [
        (0.1, 0.2),
        (338.8, 337.4),
        (118.1, 118.2),
        (888.0, 884.6),
        (9.2, 10.1),
        (228.1, 226.5),
        (668.5, 666.3),
        (998.5, 996.3),
        (449.1, 448.6),
        (778.9, 777.0),
        (559.2, 558.2),
        (0.3, 0.4),
        (0.1, 0.6),
        (778.1, 775.5),
        (668.8, 666.9),
        (339.3, 338.0),
        (448.9, 447.5),
        (10.8, 11.6),
        (557.7, 556.0),
        (228.3, 228.1),
        (998.0, 995.8),
        (888.8, 887.6),
        (119.6, 120.2),
        (0.3, 0.3),
        (0.6, 0.3),
        (557.6, 556.8),
        (339.3, 339.1),
        (888.0, 887.2),
        (998.5, 999.0),
        (778.9, 779.0),
        (10.2, 11.1),
        (117.6, 118.3),
        (228.9, 229.2),
        (668.4, 669.1),
        (449.2, 448.9),
        (0.2, 0.5),
    ];
    let (y, x): (Vec<f64>, Vec<f64>) = data.into_iter().unzip();
    let fit = line(&x, &y).unwrap();
    let near =
        |found: f64, certified: f64| assert!((found / certified - 1.0).abs() < 1e-10, "{found} {certified}");
    near(fit.intercept, -0.262_323_073_774_029);
    near(fit.slope, 1.002_116_818_020_45);
    near(fit.u_intercept, 0.232_818_234_301_152);
    near(fit.u_slope, 0.429_796_848_199_937e-3);
    near(fit.residual, 0.884_796_396_144_373);
}

#[test]
fn a_drift_brings_the_calibration_forward() {
    let mut day = Day::new();
    // One step of 1 mg a week on the fine scale, whose certificate is good for longer; U = 2 mg, weight 2 mg.
    for index in 0..6u32 {
        let text = format!("{:02}-{:02}T08:00", 1 + (index * 7) / 28, 1 + (index * 7) % 28);
        let value = format!("100.00{index}");
        day.at(&text)
            .desk
            .record_control(&ControlRequest {
                reference: "100 g weight".to_owned(),
                value,
                instrument: Some("fine scale".to_owned()),
                ..ControlRequest::default()
            })
            .unwrap();
    }
    let view = day.desk.instruments_view().unwrap();
    let row = view.rows.iter().find(|row| row.name() == "fine scale").unwrap();
    let series = &row.series[0];
    assert!(series.chart.drift.unwrap().drifts());
    let due = row.due.unwrap();
    assert!(due.by_drift && Some(due.day) == series.leaves, "{due:?}");
}

#[test]
fn mistakes_of_a_control_are_told_before_anything_is_written() {
    let mut day = Day::new();
    let before = day.deeds();
    let check = |day: &mut Day, request: ControlRequest, message: &str| {
        let error = day.desk.record_control(&request).unwrap_err();
        assert!(error.message.starts_with(message), "{}", error.message);
        assert_eq!(error.kind, ErrorKind::Usage);
    };
    let request = |reference: &str, value: &str| ControlRequest {
        reference: reference.to_owned(),
        value: value.to_owned(),
        ..ControlRequest::default()
    };
    check(
        &mut day,
        request("block", "1"),
        "reference piece `block` is not one of `100 g weight`, `20 mm block`",
    );
    check(&mut day, request("100 g weight", "100 mm"), "mass `100 mm`: unit `mm` is not one of");
    check(
        &mut day,
        request("20 mm block", "20"),
        "`20 mm block` checks `long calliper` and `rim micrometer`",
    );
    check(&mut day, request("silver block", "61.5"), "a control of a meter names its probe");
    let other = ControlRequest { instrument: Some("meter one".to_owned()), ..request("100 g weight", "100") };
    check(&mut day, other, "`meter one` is not checked on `100 g weight`");
    check(&mut day, request("100 g weight", "700"), "700 g is above what `bench scale` measures, 600 g");
    assert_eq!(day.deeds(), before);
}

#[test]
fn the_subcommands_record_list_and_recall() {
    let folder = tempfile::tempdir().unwrap();
    write(&folder, "r.toml", &format!("{REGISTER}{REFERENCES}"));
    Call::new(&folder, &["instrument", "set", "r.toml"]).done();
    let args = ["control", "100 g weight", "100.00", "--reason", "zero-change"];
    Call::new(&folder, &args).check(
        0,
        "bench scale on 100 g weight: passed, 100.0000 g against 100.0000 g, E_n 0.00\n",
        "",
    );
    let failed = Call::new(&folder, &["control", "100 g weight", "100.20", "--check", "--json"]).json(3);
    assert_eq!(failed["control"]["passed"], false);
    assert_eq!(failed["control"]["reason"], "questionable reading");
    let list = Call::new(&folder, &["controls", "bench scale", "--json"]).json(0);
    assert_eq!(list["controls"].as_array().unwrap().len(), 2);
    assert_eq!(list["instruments"][0]["state"], "failed");
    let chart = Call::new(&folder, &["controls", "bench scale", "--chart"]).done();
    assert!(chart.contains("x failed") && chart.contains("100 g weight, g, 2 controls"), "{chart}");
    Call::new(&folder, &["recall"]).check(0, "nothing is recalled\n", "");
    assert_eq!(Call::new(&folder, &["recall", "--json"]).json(0)["recalls"], serde_json::json!([]));
    let id = failed["control"]["id"].as_str().unwrap();
    Call::new(&folder, &["control", "--withdraw", id, "--why", "typed wrong"]).check(
        0,
        "withdrew the control of bench scale on 100 g weight\n",
        "",
    );
}
