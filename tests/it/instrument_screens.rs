//! The instruments on the screen: the invented day's controls, charts, the form of a control, the budget of a piece.

use super::bench::noon;
use super::screens::{data::Desk as Screens, everywhere};
use scruple::desk::reach::Prospect;
use scruple::desk::{Desk, InstrumentsView, Settings, demo};
use scruple::evidence::control::{ControlReason, ControlState};
use scruple::present::prospect::prospect_text;
use scruple::scoring::ReadingBudget;
use scruple::tui::effect::Effect;
use std::sync::OnceLock;

/// What the invented day leaves: where its instruments stand, its lots, and the budgets of one piece.
struct Day {
    view: InstrumentsView,
    lots: Vec<(String, [u32; 5])>,
    budgets: Vec<ReadingBudget>,
    prospect: Prospect,
    faults: usize,
}

fn invented_day() -> &'static Day {
    static DAY: OnceLock<Day> = OnceLock::new();
    DAY.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let settings = Settings::built_in("MIRA").with_clock(noon);
        let mut desk = Desk::open(&folder.path().join("day.book"), settings).unwrap();
        demo::fill(&mut desk).unwrap();
        let shipments = desk.shipments().unwrap();
        let lots = shipments.iter().flat_map(|shipment| &shipment.lots);
        Day {
            view: desk.instruments_view().unwrap(),
            lots: lots
                .map(|lot| {
                    (lot.number.clone(), [lot.logged, lot.clear, lot.hold, lot.refuse, lot.lot_doubts])
                })
                .collect(),
            budgets: desk.budgets("S-0002/2-01").unwrap().1,
            prospect: desk.prospect("ca-gold-50", Some("pencil")).unwrap(),
            faults: desk.verify_journal().unwrap().faults.len(),
        }
    })
}

fn on_instruments() -> Screens {
    let mut desk = Screens::with_pieces();
    desk.review.instruments = Some(invented_day().view.clone());
    desk.review.budgets = invented_day().budgets.clone();
    desk.keys("<Esc>5");
    desk
}

#[track_caller]
fn picture(name: &str, desk: &Screens) {
    let text: String = [(80, 24), (120, 40)]
        .into_iter()
        .map(|(width, height)| format!("{width}x{height}\n{}\n", desk.screen(width, height)))
        .collect();
    insta::assert_snapshot!(name, text);
}

#[test]
fn the_invented_day_is_in_control_and_comes_to_what_it_did_before() {
    let day = invented_day();
    for row in day.view.rows.iter().filter(|row| !row.instrument.checked_on.is_empty()) {
        assert!(matches!(row.state, ControlState::InControl { .. }), "{}: {:?}", row.name(), row.state);
    }
    assert_eq!(day.view.recalls, []);
    let scale = day.view.rows.iter().find(|row| row.name() == "bench scale").unwrap();
    assert!(scale.series[0].controls.len() > 20 && scale.series[0].chart.trusted);
    assert_eq!(day.faults, 0);
    let expected = [
        ("S-0003/1", [3, 1, 2, 0, 1]),
        ("S-0003/2", [9, 9, 0, 0, 0]),
        ("S-0003/3", [1, 1, 0, 0, 1]),
        ("S-0002/1", [4, 3, 1, 0, 2]),
        ("S-0002/2", [20, 18, 0, 2, 0]),
        ("S-0002/3", [6, 6, 0, 0, 0]),
        ("S-0002/4", [6, 5, 0, 1, 2]),
        ("S-0002/5", [3, 0, 3, 0, 2]),
        ("S-0001/1", [5, 5, 0, 0, 1]),
        ("S-0001/2", [2, 2, 0, 0, 1]),
        ("S-0001/3", [6, 6, 0, 0, 1]),
        ("S-0001/4", [20, 20, 0, 0, 1]),
    ];
    let found: Vec<(&str, [u32; 5])> = day.lots.iter().map(|(lot, counts)| (lot.as_str(), *counts)).collect();
    assert_eq!(found, expected);
}

#[test]
fn the_instruments_are_listed_with_state_and_chart() {
    let mut desk = on_instruments();
    insta::assert_snapshot!("instruments", everywhere::at_every_size(&desk));
    desk.keys("/pencil<Enter>");
    picture("instruments_pencil", &desk);
    desk.keys("<Enter>");
    picture("instrument_page", &desk);
}

#[test]
fn a_control_is_typed_into_a_form() {
    let mut desk = on_instruments();
    desk.keys("/flat<Enter><C-n>");
    picture("control_form", &desk);
    desk.keys("<Enter>61.5<Enter>21.4<Enter><Down><Down><Enter>");
    let Some(Effect::RecordControl(request)) = desk.asked.last() else {
        panic!("{:?}", desk.asked.last());
    };
    assert_eq!(request.reference, "silver block");
    assert_eq!(
        (request.instrument.as_deref(), request.probe.as_deref()),
        (Some("bench meter"), Some("flat"))
    );
    assert_eq!((request.value.as_str(), request.temperature.as_deref()), ("61.5", Some("21.4")));
    assert_eq!(request.reason, Some(ControlReason::ProbeChange));
}

#[test]
fn a_meter_says_what_it_would_do_to_a_product() {
    let mut desk = on_instruments();
    desk.review.prospect = Some(invented_day().prospect.clone());
    desk.keys("/pencil<Enter><C-e>us-5112-a7<Enter>");
    let Some(Effect::LoadReach { product, probe }) = desk.asked.last() else {
        panic!("{:?}", desk.asked.last());
    };
    assert_eq!((product.as_str(), probe.as_deref()), ("us-5112-a7", Some("pencil")));
    let text = prospect_text(&invented_day().prospect);
    for wanted in [
        "Probe pencil: 60 kHz",
        "vouches for",
        "WHA",
        "Cores that an accepted reading can hide",
        "of 400 held by their own",
    ] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
    assert_eq!(text.lines().filter(|line| line.chars().count() > 76).collect::<Vec<_>>(), Vec::<&str>::new());
    // Tables keep their columns.
    desk.keys("<Down><Down><Down><Down><Down><Down><Down><Down><Down><Down>");
    assert!(desk.screen(80, 24).contains("WHA    "), "{}", desk.screen(80, 24));
}

#[test]
fn an_instrument_without_a_reference_piece_takes_no_control() {
    let mut desk = on_instruments();
    desk.keys("/thermometer<Enter><C-n>");
    assert!(desk.state.dialogs.is_empty());
    assert!(desk.screen(80, 24).contains("the register holds no reference piece for `thermometer`"));
}

#[test]
fn the_budget_of_a_piece_opens_on_its_page() {
    let mut desk = Screens::with_pieces();
    desk.review.budgets = invented_day().budgets.clone();
    desk.keys("<C-e><C-a>");
    assert_eq!(desk.state.dialogs.len(), 2);
    picture("budget", &desk);
}

pub fn every_screen() -> Vec<(&'static str, Screens)> {
    let scripts = [
        ("list", ""),
        ("filter", "/meter"),
        ("page", "<Enter>"),
        ("form", "<C-n>"),
        ("form, typed", "<C-n><Enter>100.0"),
    ];
    let mut desks: Vec<_> = scripts
        .into_iter()
        .map(|(name, script)| {
            let mut desk = on_instruments();
            desk.keys(script);
            (name, desk)
        })
        .collect();
    let mut unread = Screens::with_pieces();
    unread.keys("<Esc>5");
    desks.push(("unread", unread));
    let mut budget = Screens::with_pieces();
    budget.review.budgets = invented_day().budgets.clone();
    budget.keys("<C-e><C-a>");
    desks.push(("budget", budget));
    desks
}

#[test]
fn the_instruments_fit_every_size_without_colour_and_with_every_key() {
    everywhere::check_sizes(every_screen());
    everywhere::check_colour_only_supports(every_screen());
    everywhere::check_every_key(every_screen);
}
