//! The review: second tests, doubts settled by people, lots settled on a sample.

use super::bench::{Bench, noon};
use scruple::desk::{AppError, Desk, ErrorKind, HoldView, PieceView, Role, SecondTestOutcome, Settings};
use scruple::evidence::{
    AssaySample, AssayTest, ExpertTest, Finding, ImmersionTest, InterfaceEcho, Observation, SecondTest,
    Sound, UltrasoundTest, UnderWater,
};
use scruple::quantity::entry::parse;
use scruple::quantity::{Quantity, Velocity};
use scruple::scoring::{DoubtKind, Method, Outcome, Standing};

/// Fifty dollars, fine gold of one troy ounce, 32.7 mm: any core that a probe does not reach stays open until sound was sent through.
pub const OUNCE: &str = "us-5112-a11";
/// Fifty dollars, fine gold of one troy ounce, 30 mm.
pub const GOLD_COIN: &str = "ca-gold-50";

fn seen<Q: Quantity>(text: &str) -> Observation<Q> {
    Observation::of(&parse::<Q>(text).unwrap())
}

/// A gauge set to a velocity that shows the calliper's thickness: sound runs at just that velocity.
pub fn ultrasound(metres_per_second: f64, thickness: &str) -> SecondTest {
    SecondTest::Ultrasound(UltrasoundTest {
        thickness: seen(thickness),
        sound: Sound::Gauge { set_to: Velocity::from_m_per_s(metres_per_second), shown: seen(thickness) },
        echo: InterfaceEcho::NotSeen,
        swept: false,
    })
}

/// Fine gold carries sound at about 3240 m/s (value of the reference).
pub fn ounce_sounds_true() -> SecondTest {
    ultrasound(3240.0, "2.95 mm")
}

pub fn immersion(in_air: &str, more_in_beaker: &str) -> SecondTest {
    SecondTest::Immersion(ImmersionTest {
        in_air: seen(in_air),
        under_water: UnderWater::Beaker(seen(more_in_beaker)),
        water: seen("21.5 C"),
    })
}

fn assay(fineness: &str) -> SecondTest {
    SecondTest::Assay(AssayTest {
        fineness: seen(fineness),
        laboratory: "Tin Kettle Assay (invented)".to_owned(),
        document: "T-7".to_owned(),
        sample: AssaySample::ThroughMiddle,
    })
}

fn expert(finding: Finding) -> SecondTest {
    SecondTest::Expert(ExpertTest {
        who: "Old Quill (invented)".to_owned(),
        document: "Q-1".to_owned(),
        finding,
    })
}

/// Receives ounces of gold in one lot.
pub fn ounces(bench: &mut Bench, count: u32) -> String {
    let shipment = bench.receive(&format!("line,product,quantity\n1,{OUNCE},{count}\n"));
    let mut rows = "line,mass,diameter,thickness,conductivity,temperature,probe\n".to_owned();
    for _ in 0..count {
        rows.push_str("1,31.10,32.70,2.95,45.1,21.3,flat\n");
    }
    bench.desk().log_readings(&shipment, "r.csv", &rows, false, false).unwrap();
    format!("{shipment}/1")
}

/// Receives an ounce of gold that came alone; returns its number.
fn alone(bench: &mut Bench) -> String {
    format!("{}-01", ounces(bench, 1))
}

/// Receives one coin of fine gold.
fn gold_coin(bench: &mut Bench) -> PieceView {
    let shipment = bench.receive(&format!("line,product,quantity\n1,{GOLD_COIN},1\n"));
    let rows =
        "line,mass,diameter,thickness,conductivity,temperature,probe\n1,31.12,29.98,2.87,44.5,21.3,flat\n";
    bench.desk().log_readings(&shipment, "r.csv", rows, false, false).unwrap().pieces.remove(0)
}

fn record(bench: &mut Bench, piece: &str, test: SecondTest) -> SecondTestOutcome {
    bench.desk().record_second_test(piece, test).unwrap()
}

/// Returns the first doubt of a piece whose words contain a text.
#[track_caller]
fn doubt<'a>(piece: &'a PieceView, words: &str) -> &'a HoldView {
    piece.doubts.iter().find(|doubt| crate::cause(&doubt.cause).contains(words)).unwrap_or_else(|| {
        panic!(
            "no doubt has `{words}`: {:?}",
            piece.doubts.iter().map(|doubt| crate::cause(&doubt.cause)).collect::<Vec<_>>()
        )
    })
}

#[track_caller]
fn check_refused<T>(result: Result<T, AppError>, kind: ErrorKind, parts: &[&str]) {
    let error = result.err().expect("an error was expected");
    assert_eq!(error.kind, kind, "{}", error.message);
    for part in parts {
        assert!(error.message.contains(part), "`{part}` is not in: {}", error.message);
    }
}

#[test]
fn a_second_test_that_tells_closes_the_doubt_and_one_that_disagrees_opens_another() {
    let mut bench = Bench::new();
    let (first, second) = (alone(&mut bench), alone(&mut bench));
    let before = bench.desk().find_piece(&first).unwrap();
    assert_eq!((before.standing, before.doubts.len()), (Standing::Hold, 1));
    let told = record(&mut bench, &first, ounce_sounds_true());
    assert_eq!(told.test.report.outcome, Outcome::Inside);
    assert_eq!(told.closed.iter().map(|hold| hold.id).collect::<Vec<_>>(), [before.doubts[0].id]);
    assert_eq!((told.opened.len(), told.piece.standing), (0, Standing::Clear));
    assert_eq!(bench.desk().second_tests(before.id).unwrap(), std::slice::from_ref(&told.test));
    assert_eq!(bench.desk().piece(before.id).unwrap(), told.piece);
    // 4760 m/s is between gold and tungsten: half of the thickness is something else.
    let wrong = record(&mut bench, &second, ultrasound(4760.0, "2.95 mm"));
    assert_eq!((wrong.test.report.outcome, wrong.piece.standing), (Outcome::Outside, Standing::Refuse));
    assert_eq!(wrong.opened.len(), 1);
    assert_eq!(wrong.opened[0].kind, DoubtKind::WrongAlloy);
    // The same by another desk on the same book.
    assert_eq!(bench.other_desk("ELSE").find_piece(&second).unwrap(), wrong.piece);
}

#[test]
fn what_a_second_test_would_come_to_is_told_before_anything_is_written() {
    let mut bench = Bench::new();
    let lot = ounces(&mut bench, 1);
    let piece = format!("{lot}-01");
    let head = bench.desk().verify_journal().unwrap().head;
    let report = bench.desk().preview_second_test(&piece, ounce_sounds_true()).unwrap();
    assert_eq!(bench.desk().verify_journal().unwrap().head, head);
    assert_eq!(record(&mut bench, &piece, ounce_sounds_true()).test.report, report);
}

#[test]
fn density_is_no_evidence_between_gold_and_tungsten_on_a_centigram_scale() {
    let mut bench = Bench::new();
    let piece = gold_coin(&mut bench);
    let told = record(&mut bench, &piece.number, immersion("31.12 g", "1.61 g"));
    assert_eq!(told.test.report.outcome, Outcome::Inside);
    let tungsten = doubt(&told.piece, "tungsten").id;
    // Gold 19.30, tungsten 19.25 g/cm³ (CRC Handbook, from memory): less than the uncertainty of the weighing.
    let parts = [
        "immersion cannot settle `hidden core`",
        "Tungsten",
        "U 0.11 g/cm³ (k = 2)",
        "gap 0.0",
        "cannot tell it",
    ];
    let evidence = Some(told.test.id);
    check_refused(bench.desk().settle(tungsten, "floats", evidence, None), ErrorKind::NotPermitted, &parts);
    check_refused(bench.desk().evidence_of(tungsten, Method::Immersion), ErrorKind::NotPermitted, &parts);
    // Before anything was weighed in water the offer said the same, with the numbers of the plan.
    let offers = &doubt(&piece, "tungsten").offers;
    let plan = offers.iter().find(|offer| offer.method == Method::Immersion).unwrap();
    assert!(
        plan.power != scruple::scoring::Power::Settles
            && crate::because(&plan.because).contains("leaves some of W"),
        "{}",
        crate::because(&plan.because)
    );
}

#[test]
fn sound_tells_tungsten_from_gold_where_density_does_not() {
    let mut bench = Bench::new();
    let piece = gold_coin(&mut bench);
    let tungsten = doubt(&piece, "tungsten").id;
    check_refused(
        bench.desk().evidence_of(tungsten, Method::Ultrasound),
        ErrorKind::Failed,
        &["no ultrasound of piece `S-0001/1-01` is recorded"],
    );
    check_refused(
        bench.desk().evidence_of(tungsten, Method::XRay),
        ErrorKind::NotPermitted,
        &["X-ray cannot settle `hidden core`"],
    );
    let told = record(&mut bench, &piece.number, ultrasound(3240.0, "2.87 mm"));
    assert!(told.closed.iter().any(|hold| hold.id == tungsten));
}

#[test]
fn three_doubts_are_settled_in_three_ways_and_stay_settled() {
    let mut bench = Bench::new();
    let piece = gold_coin(&mut bench);
    let number = piece.number.clone();
    // 1. A second test takes the candidates away.
    let by_sound = record(&mut bench, &number, ultrasound(3240.0, "2.87 mm"));
    assert!(!by_sound.closed.is_empty());
    // 2. A person takes a second test as evidence for a doubt that scoring cannot lift: the reading stays marginal.
    let by_lab = record(&mut bench, &number, assay("999.9"));
    let marginal = doubt(&by_lab.piece, "conductivity marginal").clone();
    let evidence = bench.desk().evidence_of(marginal.id, Method::Assay).unwrap();
    assert_eq!(evidence, by_lab.test.id);
    let settled =
        bench.desk().settle(marginal.id, "the laboratory found 999.9", Some(evidence), None).unwrap();
    assert_eq!(settled.id, marginal.id);
    // 3. A person puts a hold and another settles it on no more than a word; the record says so.
    bench.desk().hold_piece(piece.id, "odd lustre").unwrap();
    let by_hand = doubt(&bench.desk().piece(piece.id).unwrap(), "odd lustre").id;
    bench.other_desk("ADA").settle(by_hand, "looked at it by daylight", None, None).unwrap();
    let now = bench.desk().piece(piece.id).unwrap();
    assert_eq!((now.doubts.len(), now.standing), (0, Standing::Clear));
    // Scoring the lot again does not ask what was answered.
    assert_eq!(bench.desk().rescore(piece.lot).unwrap()[0].standing, Standing::Clear);
    assert_eq!(bench.other_desk("MIRA").piece(piece.id).unwrap().standing, Standing::Clear);
    let record = bench.desk().piece_record(&number).unwrap();
    let decisions: Vec<_> = record
        .decisions
        .iter()
        .map(|decision| {
            (decision.what.as_str(), decision.reason.as_str(), decision.evidence, decision.operator.as_str())
        })
        .collect();
    assert_eq!(
        decisions,
        [
            ("settled wrong alloy", "the laboratory found 999.9", Some(evidence), "MIRA"),
            (
                "settled odd one out",
                "by decision, without a second test: looked at it by daylight",
                None,
                "ADA"
            ),
        ]
    );
    assert_eq!(record.tests.len(), 2);
    assert_eq!(bench.desk().verify_journal().unwrap().faults, []);
}

#[test]
fn another_reading_asks_again_what_was_settled_by_decision() {
    let mut bench = Bench::new();
    let piece = gold_coin(&mut bench);
    for hold in &piece.doubts {
        bench.desk().settle(hold.id, "bought from the mint's own hand", None, None).unwrap();
    }
    assert_eq!(bench.desk().piece(piece.id).unwrap().standing, Standing::Clear);
    let conductivity = super::bench::reading(scruple::evidence::Measurand::Conductivity);
    let now = bench.desk().correct(piece.id, conductivity, "43.9", "the probe was warm").unwrap();
    assert_eq!(now.standing, Standing::Hold);
    assert!(now.doubts.iter().any(|doubt| doubt.kind == DoubtKind::HiddenCore));
}

#[test]
fn a_second_test_that_disagrees_is_no_evidence_and_neither_is_that_of_another_piece() {
    let mut bench = Bench::new();
    let (first, second) = (alone(&mut bench), alone(&mut bench));
    let good = record(&mut bench, &first, ounce_sounds_true());
    let bad = record(&mut bench, &second, expert(Finding::Disagrees));
    let open = doubt(&bad.piece, "could hide").id;
    let other = Some(good.test.id);
    check_refused(bench.desk().settle(open, "alike", other, None), ErrorKind::Failed, &[&first, &second]);
    let own = Some(bad.test.id);
    check_refused(
        bench.desk().settle(open, "alike", own, None),
        ErrorKind::NotPermitted,
        &["expert cannot settle `hidden core`", "does not agree"],
    );
    check_refused(bench.desk().settle(open, " ", None, None), ErrorKind::Usage, &["the reason is empty"]);
    bench.desk().settle(open, "tired of it", None, None).unwrap();
    check_refused(
        bench.desk().settle(open, "once more", None, None),
        ErrorKind::Failed,
        &["the hold is closed already"],
    );
}

#[test]
fn a_withdrawn_second_test_counts_no_more_and_stays_in_the_book() {
    let mut bench = Bench::new();
    let lot = ounces(&mut bench, 1);
    let piece = format!("{lot}-01");
    let told = record(&mut bench, &piece, ounce_sounds_true());
    let back = bench.desk().withdraw_second_test(told.test.id, "another piece lay under the probe").unwrap();
    assert_eq!((back.standing, back.doubts.len()), (Standing::Hold, 1));
    assert_eq!(bench.desk().second_tests(back.id).unwrap(), []);
    check_refused(
        bench.desk().withdraw_second_test(told.test.id, "again"),
        ErrorKind::Failed,
        &["is withdrawn already"],
    );
    let client = rusqlite::Connection::open(bench.book()).unwrap();
    let rows: i64 = client.query_row("SELECT count(*) FROM second_test", [], |row| row.get(0)).unwrap();
    assert_eq!(rows, 1);
}

#[test]
fn undo_takes_back_a_second_test_and_a_settlement() {
    let mut bench = Bench::new();
    let lot = ounces(&mut bench, 1);
    let piece = format!("{lot}-01");
    record(&mut bench, &piece, ounce_sounds_true());
    assert_eq!(bench.desk().undo().unwrap(), format!("Withdrew the ultrasound of piece {piece}."));
    let held = bench.desk().find_piece(&piece).unwrap();
    bench.desk().settle(held.doubts[0].id, "known by sight", None, None).unwrap();
    assert_eq!(bench.desk().find_piece(&piece).unwrap().standing, Standing::Clear);
    assert_eq!(bench.desk().undo().unwrap(), "Took back a settlement; what was settled is open again.");
    let open = bench.desk().find_piece(&piece).unwrap();
    assert_eq!((open.standing, open.doubts.len()), (Standing::Hold, 1));
    assert_eq!(crate::cause(&open.doubts[0].cause), crate::cause(&held.doubts[0].cause));
    assert_eq!(bench.desk().verify_journal().unwrap().faults, []);
}

#[test]
fn a_lot_is_settled_on_a_sample_that_anyone_draws_again() {
    let mut bench = Bench::new();
    let lot = ounces(&mut bench, 20);
    check_refused(
        bench.desk().settle_on_sample(&lot, DoubtKind::HiddenCore, "why not", None),
        ErrorKind::Failed,
        &["has no sample"],
    );
    let sample = bench.desk().draw_sample(&lot, Some(7)).unwrap();
    // Hypergeometric: of 20 pieces with 2 bad, 16 miss both with probability (4·3)/(20·19) = 0.032, 15 with 0.053.
    assert_eq!((sample.of, sample.pieces.len(), sample.seed), (20, 16, 7));
    let mut again = Bench::new();
    let same = ounces(&mut again, 20);
    assert_eq!(again.desk().draw_sample(&same, Some(7)).unwrap().pieces, sample.pieces);
    // One of 20 may be bad and be among the 4 untested: 4/20 = 0.2 is above 0.05; two with 0.032 is not.
    assert!(sample.bound.contains("at most 1 of the 4 pieces not tested may be wrong"), "{}", sample.bound);
    assert!(sample.bound.contains("95 % confidence"), "{}", sample.bound);
    check_refused(
        bench.desk().draw_sample(&lot, Some(8)),
        ErrorKind::Failed,
        &["has a sample of 16 pieces already, drawn with seed 7"],
    );
    for piece in &sample.pieces[1..] {
        record(&mut bench, piece, ounce_sounds_true());
    }
    check_refused(
        bench.desk().settle_on_sample(&lot, DoubtKind::HiddenCore, "a sample agrees", None),
        ErrorKind::Failed,
        &["1 of 16 pieces of the sample", "have no second test that agrees", &sample.pieces[0]],
    );
    record(&mut bench, &sample.pieces[0], ounce_sounds_true());
    let seen = samples(&mut bench).remove(0);
    assert_eq!((seen.agreed, seen.disagreed), (16, 0));
    let settled =
        bench.desk().settle_on_sample(&lot, DoubtKind::HiddenCore, "a sample agrees", None).unwrap();
    assert_eq!((settled.clear, settled.hold, settled.standing), (20, 0, Some(Standing::Clear)));
    let untested = (1..=20).map(|n| format!("{lot}-{n:02}")).find(|n| !sample.pieces.contains(n)).unwrap();
    let record = bench.desk().piece_record(&untested).unwrap();
    assert_eq!(record.decisions[0].what, "settled hidden core on a sample");
    let reason = &record.decisions[0].reason;
    for part in
        ["a sample agrees; sample of 16 of 20 pieces, seed 7", "at most 1 of the 4", "EUR of them together"]
    {
        assert!(reason.contains(part), "`{part}` is not in: {reason}");
    }
    // Scored again, the untested pieces stay settled.
    let lot_id = bench_lot(&mut bench);
    assert!(bench.desk().rescore(lot_id).unwrap().iter().all(|piece| piece.standing == Standing::Clear));
    assert_eq!(bench.desk().verify_journal().unwrap().faults, []);
    // Undone, they are open again and the tested ones stay clear.
    bench.desk().undo().unwrap();
    assert_eq!(bench.desk().lot(lot_id).unwrap().lot_doubts, 1);
}

fn samples(bench: &mut Bench) -> Vec<scruple::desk::SampleView> {
    let lot = bench_lot(bench);
    bench.desk().samples(lot).unwrap()
}

fn bench_lot(bench: &mut Bench) -> scruple::intake::LotId {
    bench.desk().shipment("S-0001").unwrap().lots[0].id
}

#[test]
fn one_bad_piece_means_that_every_piece_is_tested() {
    let mut bench = Bench::new();
    let lot = ounces(&mut bench, 20);
    let sample = bench.desk().draw_sample(&lot, None).unwrap();
    for piece in &sample.pieces[1..] {
        record(&mut bench, piece, ounce_sounds_true());
    }
    record(&mut bench, &sample.pieces[0], ultrasound(4760.0, "2.95 mm"));
    let parts = [sample.pieces[0].as_str(), "is bad, so every piece is tested"];
    check_refused(
        bench.desk().settle_on_sample(&lot, DoubtKind::HiddenCore, "nearly all agree", None),
        ErrorKind::NotPermitted,
        &parts,
    );
    // Sending it back does not make the rest better.
    bench.desk().send_back(&[sample.pieces[0].clone()], "sound says otherwise", None).unwrap();
    check_refused(
        bench.desk().settle_on_sample(&lot, DoubtKind::HiddenCore, "now they do", None),
        ErrorKind::NotPermitted,
        &parts,
    );
    check_refused(bench.desk().draw_sample(&lot, None), ErrorKind::NotPermitted, &parts);
    let seen = samples(&mut bench).remove(0);
    assert_eq!((seen.agreed, seen.disagreed), (15, 1));
    assert_eq!(seen.bound, "a piece of the sample disagrees: every piece of the lot is tested");
}

#[test]
fn who_may_settle_is_a_matter_of_role_and_pin() {
    let mut bench = Bench::new();
    let lot = ounces(&mut bench, 1);
    let hold = bench.desk().find_piece(&format!("{lot}-01")).unwrap().doubts[0].id;
    check_refused(
        bench.desk().add_operator("MIRA", Role::Receiver, None),
        ErrorKind::NotPermitted,
        &["the first operator of a book is its owner, not a receiver"],
    );
    let mut owner = bench.other_desk("OWNER");
    assert!(owner.operators().unwrap().is_empty());
    check_refused(
        owner.add_operator("OWNER", Role::Owner, Some("123")),
        ErrorKind::Usage,
        &["the PIN has 3 characters"],
    );
    owner.add_operator("OWNER", Role::Owner, Some("1234")).unwrap();
    check_refused(
        owner.add_operator("ADA", Role::Reviewer, Some("2468")),
        ErrorKind::NotPermitted,
        &["signs this with a PIN"],
    );
    check_refused(owner.sign_in("4321"), ErrorKind::NotPermitted, &["this is not the PIN of `OWNER`"]);
    assert_eq!(owner.sign_in("1234").unwrap(), Role::Owner);
    owner.add_operator("ADA", Role::Reviewer, Some("2468")).unwrap();
    owner.add_operator("MIRA", Role::Receiver, None).unwrap();
    check_refused(
        owner.add_operator("OWNER", Role::Reviewer, None),
        ErrorKind::NotPermitted,
        &["`OWNER` is the only owner"],
    );
    let names: Vec<_> =
        owner.operators().unwrap().into_iter().map(|view| (view.name, view.role, view.has_pin)).collect();
    assert_eq!(
        names,
        [
            ("ADA".to_owned(), Role::Reviewer, true),
            ("MIRA".to_owned(), Role::Receiver, false),
            ("OWNER".to_owned(), Role::Owner, true),
        ]
    );
    check_refused(
        bench.desk().settle(hold, "I say so", None, None),
        ErrorKind::NotPermitted,
        &["`MIRA` is a receiver; this needs a reviewer"],
    );
    check_refused(
        bench.other_desk("NOBODY").settle(hold, "I say so", None, None),
        ErrorKind::NotPermitted,
        &["`NOBODY` is not an operator of this book"],
    );
    let mut ada = bench.other_desk("ADA");
    check_refused(ada.settle(hold, "I say so", None, None), ErrorKind::NotPermitted, &["none was given"]);
    check_refused(
        ada.settle(hold, "I say so", None, Some("2469")),
        ErrorKind::NotPermitted,
        &["not the PIN"],
    );
    ada.settle(hold, "I say so", None, Some("2468")).unwrap();
    check_refused(ada.add_operator("X", Role::Owner, None), ErrorKind::NotPermitted, &["this needs a owner"]);
    // The PIN itself is nowhere in the book.
    let client = rusqlite::Connection::open(bench.book()).unwrap();
    let hash: String =
        client.query_row("SELECT pin_hash FROM operator WHERE name = 'ADA'", [], |row| row.get(0)).unwrap();
    assert!(hash.starts_with("$argon2id$v=19$") && !hash.contains("2468"), "{hash}");
}

#[test]
fn the_policy_of_the_book_counts_before_that_of_the_machine() {
    let mut bench = Bench::new();
    let shipped = bench.desk().policy_view().unwrap();
    let strict = shipped.text.replace("stake = \"500\"", "stake = \"50\"");
    let set = bench.desk().set_policy("strict.toml", &strict).unwrap();
    assert_ne!(set.version, shipped.version);
    assert_eq!(bench.desk().policy().watch.stake.to_string(), "50 EUR");
    let own = Settings::built_in("ELSE").with_policy("mine.toml", &shipped.text).unwrap().with_clock(noon);
    let other = Desk::open(&bench.book(), own).unwrap();
    assert_eq!(other.policy_view().unwrap(), set);
    check_refused(
        bench.desk().set_policy("bad.toml", &strict.replace("\"0.95\"", "\"1.5\"")),
        ErrorKind::Failed,
        &["bad.toml: `gate.inside`: `1.5` is not a number from 0.5 to 0.999999"],
    );
    assert_eq!(bench.desk().unset_policy().unwrap(), shipped);
    assert_eq!(bench.other_desk("ELSE").policy_view().unwrap(), shipped);
}
