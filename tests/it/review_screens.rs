//! The screens of the end of the day: keys in, text out, with an invented desk behind them.

use super::screens::{data::Desk, everywhere};
use proptest::prelude::*;
use scruple::desk::review_views::Ending;
use scruple::evidence::{SecondTest, StrongMagnet, UnderWater};
use scruple::quantity::{Frequency, Mass};
use scruple::scoring::DoubtKind;
use scruple::tui::dialog::Dialog;
use scruple::tui::effect::{Effect, Files, Pin};
use scruple::tui::keymap::Key;
use scruple::tui::state::Screen;

/// Draws the screen at three sizes and compares it with the picture on file.
#[track_caller]
fn picture(name: &str, desk: &Desk) {
    let text: String = [(80, 24), (120, 40), (200, 50)]
        .into_iter()
        .map(|(width, height)| format!("{width}x{height}\n{}\n", desk.screen(width, height)))
        .collect();
    insta::assert_snapshot!(name, text);
}

/// Returns the last wish that writes or reads something of the review.
fn last(desk: &Desk) -> Option<&Effect> {
    desk.asked.iter().rev().find(|effect| !matches!(effect, Effect::LoadStock | Effect::LoadDay(_)))
}

/// Selects the row of the holds that contains a text, from the top.
fn select(desk: &mut Desk, text: &str) {
    desk.keys("<Home>");
    for _ in 0..40 {
        let screen = desk.screen(80, 24);
        if screen.lines().any(|line| line.trim_start().starts_with('>') && line.contains(text)) {
            return;
        }
        desk.keys("<Down>");
    }
    panic!("no row of the holds contains {text}:\n{}", desk.screen(80, 24));
}

#[test]
fn pieces_that_look_alike_stand_in_one_row() {
    let desk = Desk::on_holds();
    let screen = desk.screen(80, 24);
    assert!(screen.contains("-01 to -10"), "{screen}");
    assert_eq!(screen.matches("weight or size").count(), 1, "{screen}");
    insta::assert_snapshot!("holds", everywhere::at_every_size(&desk));
}

#[test]
fn a_folded_row_unfolds_and_acts_on_all_its_pieces() {
    let mut desk = Desk::on_holds();
    select(&mut desk, "-01 to -10");
    picture("holds_folded", &desk);
    desk.keys("<C-v><Enter>short weight, all of them<Enter>");
    let Some(Effect::PartWith { ending: Ending::SentBack, pieces, .. }) = last(&desk) else {
        panic!("{:?}", last(&desk));
    };
    assert_eq!(pieces.len(), 10);
    let mut desk = Desk::on_holds();
    select(&mut desk, "-01 to -10");
    desk.keys("<Enter>");
    let listed = |desk: &Desk| desk.state.holds.rows().len();
    let unfolded = listed(&desk);
    assert!(desk.screen(80, 24).contains(" -02 "), "{}", desk.screen(80, 24));
    desk.keys("<Enter>");
    assert_eq!(listed(&desk) + 10, unfolded);
}

#[test]
fn every_doubt_of_the_selected_piece_is_below_the_list() {
    let mut desk = Desk::on_holds();
    select(&mut desk, "-03");
    let screen = desk.screen(80, 24);
    for words in ["hidden core: tungsten heavy alloy", "uneven: spot 1 reads 10.2 MS/m", "ring settles all 2"]
    {
        assert!(screen.contains(words), "{words}\n{screen}");
    }
}

#[test]
fn the_filter_looks_into_source_product_and_doubt() {
    for (typed, first) in [
        ("geese", vec!["S-0012/2-01", "S-0012/2-11"]),
        ("5112", vec!["S-0012/1", "S-0012/1-02", "S-0012/1-03"]),
        ("uneven", vec!["S-0012/1-03", "S-0012/2-11"]),
        ("TUNGSTEN", vec!["S-0012/1-02", "S-0012/1-03"]),
        ("uneven geese", vec!["S-0012/2-11"]),
        ("nowhere", vec![]),
    ] {
        let mut desk = Desk::on_holds();
        desk.keys(&format!("/{typed}<Enter>"));
        let rows = desk.state.holds.rows();
        let shown: Vec<&str> = rows.iter().map(|row| row.first().group.number.as_str()).collect();
        assert_eq!(shown, first, "{typed}");
    }
}

#[test]
fn marked_pieces_are_what_an_act_takes() {
    let mut desk = Desk::on_holds();
    select(&mut desk, "-02");
    desk.keys(" ");
    select(&mut desk, "-11");
    desk.keys(" ");
    assert!(desk.screen(80, 24).contains("2 marked"));
    desk.keys("<C-v><Down><Enter>looks cast<Enter>");
    let pieces = vec!["S-0012/1-02".to_owned(), "S-0012/2-11".to_owned()];
    let reason = "looks cast".to_owned();
    assert_eq!(
        last(&desk),
        Some(&Effect::PartWith { ending: Ending::Surrendered, pieces, reason, pin: None })
    );
    assert!(!desk.screen(80, 24).contains("marked"), "what is gone is not marked");
}

#[test]
fn a_surrender_says_what_the_law_may_ask_before_it_is_done() {
    let mut desk = Desk::on_holds();
    select(&mut desk, "-02");
    desk.keys("<C-v><Down><Enter>");
    let screen = desk.screen(80, 24);
    for words in ["local law decides", "Keep the piece apart", "circulation"] {
        assert!(screen.contains(words), "{words}\n{screen}");
    }
    let before = desk.asked.len();
    desk.keys("<Enter>");
    assert_eq!(desk.asked.len(), before, "a reason is needed");
    picture("surrender", &desk);
}

#[test]
fn the_methods_are_listed_with_the_number_why_before_anything_is_measured() {
    let mut desk = Desk::on_holds();
    select(&mut desk, "-03");
    desk.keys("<C-n>");
    let screen = desk.screen(80, 24);
    let place = |words: &str| screen.find(words).unwrap_or_else(|| panic!("{words}\n{screen}"));
    assert!(place("ring ") < place("ultrasound ") && place("ultrasound ") < place("immersion "));
    assert!(screen.contains("immersion      cannot tell     the densities differ by 0.03 g/cm3"), "{screen}");
    picture("methods", &desk);
}

#[test]
fn each_form_says_what_to_mind_with_its_method() {
    // Common practice, no source: what must not be forgotten with each of them.
    for (method, words) in [
        ("magnet", "pacemakers"),
        ("X-ray", "never hold the piece in the beam"),
        ("assay", "accredited laboratory only"),
        ("immersion", "proof surfaces and packaging"),
        ("ultrasound", "proof surfaces and packaging"),
    ] {
        let mut desk = Desk::on_holds();
        select(&mut desk, "-03");
        desk.keys("<C-n>");
        choose(&mut desk, method);
        desk.keys("<Enter>");
        let screen = desk.screen(80, 24).to_lowercase();
        assert!(screen.contains(&format!("second test by {}", method.to_lowercase())), "{method}\n{screen}");
        assert!(
            screen.split_whitespace().collect::<Vec<_>>().join(" ").contains(words),
            "{method}\n{screen}"
        );
    }
}

/// Moves to a method of the list.
fn choose(desk: &mut Desk, method: &str) {
    for _ in 0..16 {
        let Some(Dialog::Methods(methods)) = desk.state.dialogs.last() else { break };
        if methods.ranked[methods.selected].method.label() == method {
            return;
        }
        desk.keys("<Down>");
    }
    panic!("no method {method}");
}

/// Opens the form of a method for the piece with two doubts.
fn form(method: &str) -> Desk {
    let mut desk = Desk::on_holds();
    select(&mut desk, "-03");
    desk.keys("<C-n>");
    choose(&mut desk, method);
    desk.keys("<Enter>");
    desk
}

#[test]
fn an_immersion_weighing_is_typed_and_echoed_in_its_stored_unit() {
    let mut desk = form("immersion");
    desk.keys("1.0910 ozt");
    assert!(desk.screen(80, 24).contains("33.934 g"), "{}", desk.screen(80, 24));
    desk.keys("<Enter><Down><Enter>1,87<Enter>21.5<Enter>");
    let Some(Effect::RecordTest { piece, test }) = last(&desk) else { panic!("{:?}", last(&desk)) };
    assert_eq!(piece, "S-0012/1-03");
    let SecondTest::Immersion(test) = **test else { panic!("{test:?}") };
    // NIST Special Publication 811 (2008), Appendix B.8: a troy ounce is 31.103 476 8 g.
    assert_eq!(test.in_air.value, Mass::from_grams(1.0910 * 31.103_476_8));
    assert!(matches!(test.under_water, UnderWater::Beaker(wet) if wet.step == Mass::from_grams(0.01)));
}

#[test]
fn a_row_that_does_not_apply_is_not_asked_for() {
    let mut desk = form("ultrasound");
    assert!(!desk.screen(80, 24).contains("set to"));
    desk.keys("2.87<Enter><Down><Enter>");
    let screen = desk.screen(80, 24);
    assert!(screen.contains("> set to") && !screen.contains("time  "), "{screen}");
    desk.keys("3240<Enter>2.85<Enter><Down><Down><Down><Enter>");
    assert!(desk.screen(80, 24).contains("> its depth"));
    picture("ultrasound_form", &desk);
    desk.keys("0.4<Enter><Enter>");
    assert!(
        matches!(last(&desk), Some(Effect::RecordTest { test, .. }) if matches!(**test, SecondTest::Ultrasound(_)))
    );
}

#[test]
fn a_value_that_breaks_the_grammar_is_refused_with_what_is_allowed() {
    let mut desk = form("immersion");
    desk.keys("1e3<Enter>");
    let screen = desk.screen(80, 24);
    assert!(screen.contains("mass `1e3` is not a number such as"), "{screen}");
    assert!(screen.contains("> in air"));
    desk.keys("<BS><BS><BS><Enter>");
    assert!(desk.screen(80, 24).contains("mass is empty"));
}

#[test]
fn the_outcome_shows_value_doubts_closed_and_still_open() {
    let mut desk = form("ring");
    desk.keys("5102.3<Enter><Enter><Enter>");
    let screen = desk.screen(80, 24);
    for words in ["(5102.3 ± 1.2) Hz, k = 2", "doubts closed", "still open", "excluded", "uneven: spot 1"] {
        assert!(screen.contains(words), "{words}\n{screen}");
    }
    picture("outcome", &desk);
    desk.keys("<Enter>");
    assert!(desk.state.dialogs.is_empty());
    select(&mut desk, "-03");
    assert!(!desk.screen(80, 24).contains("-03  ? hidden core"), "the list is read again");
}

#[test]
fn a_ring_is_taken_from_a_recording_with_its_uncertainty() {
    let mut desk = form("ring");
    desk.keys("rings/noise.wav<Enter>");
    assert!(desk.screen(80, 24).contains("no strike found"), "{}", desk.screen(80, 24));
    for _ in 0..15 {
        desk.keys("<BS>");
    }
    desk.keys("rings/coin.wav<Enter>");
    let screen = desk.screen(80, 24);
    // The lowest of the three is offered, not the loudest.
    assert!(screen.lines().any(|line| line.contains("> b") && line.contains("5102.3 Hz")), "{screen}");
    assert!(screen.contains("hum of the 50 Hz mains"), "{screen}");
    picture("partials", &desk);
    desk.keys("<Enter><Enter><Enter>");
    let Some(Effect::RecordTest { test, .. }) = last(&desk) else { panic!("{:?}", last(&desk)) };
    let SecondTest::Ring(test) = **test else { panic!("{test:?}") };
    assert_eq!(test.frequency.value, Frequency::from_hertz(5102.3));
    assert_eq!(test.frequency.stated, Some(Frequency::from_hertz(0.6)));
    assert_eq!(test.exemplar, None);
}

#[test]
fn a_frequency_typed_over_the_recorded_one_loses_its_uncertainty() {
    let mut desk = form("ring");
    desk.keys("rings/coin.wav<Enter><Enter><Up><BS><BS><BS><BS>9 Hz<Enter><Enter><Enter>");
    let Some(Effect::RecordTest { test, .. }) = last(&desk) else { panic!("{:?}", last(&desk)) };
    let SecondTest::Ring(test) = **test else { panic!("{test:?}") };
    assert_eq!((test.frequency.value, test.frequency.stated), (Frequency::from_hertz(5102.9), None));
}

#[test]
fn a_magnet_an_expert_an_assay_an_x_ray_and_another_probe_are_recorded() {
    let scripts = [
        ("magnet", "<Down><Enter>"),
        ("expert", "the assay office<Enter>E-17<Enter><Down><Enter>"),
        ("assay", "916.7<Enter>0.3<Enter>the assay office<Enter>L-4<Enter><Down><Enter>"),
        ("X-ray", "Au 91.6 Ag 4.2 Cu 4.2<Enter><Enter>"),
        ("conductivity", "<Down><Enter>10.2 10.3<Enter><Enter>"),
    ];
    for (method, script) in scripts {
        let mut desk = form(method);
        desk.keys(script);
        let Some(Effect::RecordTest { test, .. }) = last(&desk) else {
            panic!("{method}: {:?}\n{}", last(&desk), desk.screen(80, 24));
        };
        match &**test {
            SecondTest::Magnet(test) => assert_eq!(test.response, StrongMagnet::Attracted),
            SecondTest::Expert(test) => assert_eq!(test.document, "E-17"),
            SecondTest::Assay(test) => {
                let stated = test.fineness.stated.expect("it was typed");
                assert_eq!((stated.as_per_mille() * 10.0).round(), 3.0);
            }
            SecondTest::XRay(test) => assert_eq!(test.composition.len(), 3),
            SecondTest::Conductivity(test) => {
                assert_eq!((test.probe.name.as_str(), test.readings.len()), ("deep", 2));
            }
            other => panic!("{method}: {other:?}"),
        }
    }
}

#[test]
fn a_method_that_corrects_a_record_opens_the_correction() {
    let mut desk = Desk::on_holds();
    select(&mut desk, "-01 to -10");
    desk.keys("<Enter><Down><C-n>");
    choose(&mut desk, "weigh again");
    desk.keys("<Enter>");
    assert!(desk.screen(80, 24).contains("Correct S-0012/2-01"), "{}", desk.screen(80, 24));
}

#[test]
fn a_doubt_is_settled_with_a_reason_and_the_test_it_rests_on() {
    let mut desk = form("ring");
    desk.keys("5102.3<Enter><Enter><Enter><F5><Enter><Down>");
    let screen = desk.screen(80, 24);
    assert!(
        screen.contains("Settle a doubt of S-0012/1-03") && screen.contains("ring (5102.3 ± 1.2) Hz"),
        "{screen}"
    );
    picture("settle", &desk);
    desk.keys("<Enter>uneven toning, not metal<Enter>");
    let test = desk.review.tests[0].id;
    let Some(Effect::Settle { reason, evidence, pin: None, .. }) =
        desk.asked.iter().rev().find(|effect| matches!(effect, Effect::Settle { .. }))
    else {
        panic!("{:?}", desk.asked);
    };
    assert_eq!((reason.as_str(), *evidence), ("uneven toning, not metal", Some(test)));
    assert!(desk.screen(80, 24).contains("The doubt is settled."));
    assert!(desk.screen(80, 24).contains("nothing of this piece"), "the page shows the piece as it is now");
}

#[test]
fn a_pin_is_asked_for_when_the_desk_wants_one_and_is_never_shown() {
    let mut desk = Desk::on_holds();
    desk.review.pin = Some("4711".to_owned());
    select(&mut desk, "-02");
    desk.keys("<C-v><Enter>too light<Enter>");
    assert!(desk.screen(80, 24).contains("signs this with a PIN"), "{}", desk.screen(80, 24));
    desk.keys("1234");
    let screen = desk.screen(80, 24);
    assert!(screen.contains("****") && !screen.contains("1234"), "{screen}");
    picture("pin", &desk);
    desk.keys("<Enter>");
    assert!(desk.screen(80, 24).contains("this is not the PIN of `ana`"));
    assert!(!desk.screen(80, 24).contains("****"), "the wrong one is emptied");
    desk.keys("4711<Enter>");
    assert!(desk.state.dialogs.is_empty());
    assert!(desk.screen(80, 24).contains("S-0012/1-02 recorded as sent back."));
    let printed = format!("{:?} {:?}", desk.asked, Pin("4711".to_owned()));
    assert!(!printed.contains("4711"), "{printed}");
}

#[test]
fn a_pin_left_with_escape_is_forgotten_and_the_form_below_stays() {
    let mut desk = Desk::on_holds();
    desk.review.pin = Some("4711".to_owned());
    select(&mut desk, "-02");
    desk.keys("<C-v><Enter>too light<Enter>47<Esc>");
    let screen = desk.screen(80, 24);
    assert!(screen.contains("Send back S-0012/1-02") && screen.contains("too light"), "{screen}");
    desk.keys("<Enter>");
    assert!(!desk.screen(80, 24).contains("**"));
}

#[test]
fn a_lot_is_cleared_on_a_sample() {
    let mut desk = Desk::on_holds();
    desk.keys("<C-a>");
    assert!(desk.screen(80, 24).contains("No sample is drawn yet."), "{}", desk.screen(80, 24));
    desk.keys("<Enter>");
    assert_eq!(last(&desk), Some(&Effect::DrawSample { lot: "S-0012/1".to_owned(), seed: None }));
    let screen = desk.screen(80, 24);
    assert!(screen.contains("drawn with seed 7") && screen.contains("> test S-0012/1-01"), "{screen}");
    picture("sample", &desk);
    for piece in ["S-0012/1-01", "S-0012/1-03"] {
        if desk.state.dialogs.is_empty() {
            desk.keys("<Home><C-a>");
        }
        let wanted = format!("> test {piece}");
        for _ in 0..9 {
            if !desk.screen(80, 24).contains(&wanted) {
                desk.keys("<Down>");
            }
        }
        assert!(desk.screen(80, 24).contains(&wanted), "{}", desk.screen(80, 24));
        desk.keys("<Enter>");
        choose(&mut desk, "ring");
        desk.keys("<Enter>5102<Enter><Enter><Enter><Enter>");
    }
    desk.keys("<Home><C-a>");
    assert!(desk.screen(80, 24).contains("> settle `wrong alloy` on this sample"), "{}", desk.screen(80, 24));
    desk.keys("<Enter>two of five rang true<Enter>");
    let kind = DoubtKind::WrongAlloy;
    let reason = "two of five rang true".to_owned();
    assert_eq!(
        last(&desk),
        Some(&Effect::SettleOnSample { lot: "S-0012/1".to_owned(), kind, reason, pin: None })
    );
    assert!(desk.state.holds.rows().iter().all(|row| row.first().group.number != "S-0012/1"));
}

#[test]
fn a_seed_of_ones_own_is_a_whole_number() {
    let mut desk = Desk::on_holds();
    desk.keys("<C-a><Down><Enter>4.5<Enter>");
    assert!(desk.screen(80, 24).contains("seed `4.5` is not a whole number"));
    desk.keys("<BS><BS>2<Enter>");
    assert_eq!(last(&desk), Some(&Effect::DrawSample { lot: "S-0012/1".to_owned(), seed: Some(42) }));
}

#[test]
fn a_release_past_open_doubts_shows_every_one_of_them() {
    let mut desk = Desk::on_holds();
    select(&mut desk, "-03");
    desk.keys("<C-y><Enter>");
    let screen = desk.screen(80, 24);
    for words in ["nothing was released", "`S-0012/1-03`: hidden core", "`S-0012/1-03`: uneven"] {
        assert!(screen.contains(words), "{words}\n{screen}");
    }
    picture("release_refused", &desk);
}

#[test]
fn clear_pieces_are_released_from_the_bench_the_lots_and_the_page_of_a_piece() {
    let mut bench = Desk::with_pieces();
    bench.keys("<PgUp><PgUp><C-y><Enter>");
    assert_eq!(last(&bench), Some(&Effect::Release { pieces: vec!["S-0012/1-01".to_owned()], pin: None }));
    let mut lots = Desk::with_pieces();
    lots.keys("<Esc><C-y>");
    assert!(lots.screen(80, 24).contains("Every clear piece of S-0012/1"), "{}", lots.screen(80, 24));
    lots.keys("<Enter>");
    assert_eq!(last(&lots), Some(&Effect::Release { pieces: vec!["S-0012/1".to_owned()], pin: None }));
    let mut page = Desk::with_pieces();
    page.keys("<F3>MB-0041<Enter><C-y><Enter>");
    assert_eq!(last(&page), Some(&Effect::Release { pieces: vec!["S-0012/1-01".to_owned()], pin: None }));
    assert!(page.screen(80, 24).contains("S-0012/1-01 is in stock, 2400.00 EUR."), "{}", page.screen(80, 24));
}

#[test]
fn a_lot_without_a_clear_piece_has_nothing_to_release() {
    let mut desk = Desk::with_shipments();
    desk.keys("<Enter><C-y>");
    assert!(desk.screen(80, 24).contains("no piece of S-0012/1 is clear"));
    assert!(desk.state.dialogs.is_empty());
}

#[test]
fn the_stock_is_listed_with_fine_mass_and_value_and_opens_the_evidence() {
    let mut desk = Desk::on_stock();
    insta::assert_snapshot!("stock", everywhere::at_every_size(&desk));
    desk.keys("/silver<Enter>");
    let screen = desk.screen(80, 24);
    assert!(screen.contains("S-0011/2-01") && !screen.contains("S-0011/1-02"), "{screen}");
    assert!(screen.contains("no price"), "{screen}");
}

#[test]
fn the_day_sheet_is_scrolled_turned_and_written() {
    let mut desk = Desk::on_holds();
    desk.keys("7");
    assert_eq!(desk.state.screen, Screen::Day);
    insta::assert_snapshot!("day", everywhere::at_every_size(&desk));
    desk.keys("<End>");
    assert!(desk.screen(80, 24).contains(&"4f8a1c0d".repeat(8)), "{}", desk.screen(80, 24));
    desk.keys("<Left>");
    assert!(desk.screen(80, 24).contains("Day sheet 2026-03-13"));
    desk.keys("<F7>-a<Enter><Down><Enter>");
    let day = chrono::NaiveDate::from_ymd_opt(2026, 3, 13).unwrap();
    let files = Files { html: true, pdf: false };
    let path = "day-sheet-2026-03-13-a".to_owned();
    assert_eq!(last(&desk), Some(&Effect::WriteDay { day, path, files }));
    assert!(desk.screen(80, 24).contains("Written: day-sheet-2026-03-13-a.html."));
}

#[test]
fn nothing_destructive_happens_on_a_plain_key_of_the_holds() {
    for c in ' '..='~' {
        let mut desk = Desk::on_holds();
        let before = (desk.holds.len(), desk.pieces.len());
        desk.press(Key::Char(c), 200);
        assert!(
            !matches!(
                last(&desk),
                Some(Effect::Settle { .. } | Effect::PartWith { .. } | Effect::Release { .. })
            ),
            "{c}"
        );
        assert_eq!((desk.holds.len(), desk.pieces.len()), before, "{c}");
    }
}

/// One desk for every screen and every dialog of the review.
pub fn every_screen() -> Vec<(&'static str, Desk)> {
    let scripts = [
        ("holds", ""),
        ("folded", "<End><Up>"),
        ("unfolded", "<End><Up><Enter>"),
        ("marked", "<Down> "),
        ("filter", "/uneven"),
        ("lot page", "<Enter>"),
        ("settle a lot", "<F5>"),
        ("sample", "<C-a>"),
        ("sample drawn", "<C-a><Enter>"),
        ("methods", "<Down><C-n>"),
        ("ring", "<Down><C-n><Enter>"),
        ("ring, typed", "<Down><C-n><Enter>5.1 kHz"),
        ("partials", "<Down><C-n><Enter>x.wav<Enter>"),
        ("outcome", "<Down><C-n><Enter>5102<Enter><Enter><Enter>"),
        ("settle", "<Down><F5>"),
        ("part with", "<Down><C-v>"),
        ("surrender", "<Down><C-v><Down><Enter>"),
        ("release", "<Down><C-y>"),
        ("refused", "<Down><C-y><Enter>"),
        ("stock", "4"),
        ("day", "7"),
        ("write", "7<F7>"),
    ];
    let mut desks: Vec<_> = scripts
        .into_iter()
        .map(|(name, script)| {
            let mut desk = Desk::on_holds();
            desk.keys(script);
            (name, desk)
        })
        .collect();
    desks.push(("stock with pieces", Desk::on_stock()));
    let mut pin = Desk::on_holds();
    pin.review.pin = Some("4711".to_owned());
    pin.keys("<Down><C-v><Enter>x<Enter>47");
    desks.push(("pin", pin));
    desks
}

#[test]
fn no_size_panics_and_the_footer_always_shows_the_help() {
    everywhere::check_sizes(every_screen());
}

#[test]
fn without_colour_the_same_words_are_on_the_screen() {
    everywhere::check_colour_only_supports(every_screen());
}

#[test]
fn every_key_of_the_table_can_be_pressed_on_every_screen_of_the_review() {
    everywhere::check_every_key(every_screen);
}

fn any_key() -> impl Strategy<Value = Key> {
    let review: Vec<Key> = ['n', 'k', 'a', 'v', 'y'].map(Key::Ctrl).to_vec();
    prop_oneof![
        3 => prop::sample::select(vec!['3', '5', '.', ' ', '-', 'A', 'u', 'é', '金', '\u{1b}']).prop_map(Key::Char),
        4 => prop::sample::select(vec![Key::Enter, Key::Down, Key::Up, Key::Esc]),
        2 => prop::sample::select(review),
        2 => prop::sample::select(everywhere::keys_that_stay()),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn random_keys_of_the_review_neither_panic_nor_release_past_a_doubt(
        keys in prop::collection::vec((any_key(), 60u64..300), 1..120),
        width in 0u16..210,
        height in 0u16..55,
        pin in any::<bool>(),
    ) {
        let mut desk = Desk::on_holds();
        desk.review.pin = pin.then(|| "4711".to_owned());
        for (key, pause) in keys {
            desk.press(key, pause);
            for piece in &desk.review.stock {
                prop_assert!(!desk.holds.iter().any(|hold| hold.piece.as_ref() == Some(&piece.piece)));
            }
        }
        prop_assert!(!desk.quit);
        desk.screen(width, height);
        desk.screen(80, 24);
    }
}

#[test]
fn the_policy_in_force_is_shown_with_its_version() {
    let mut desk = Desk::with_pieces();
    desk.keys("<F9>6<C-o>");
    let shown = desk.screen(80, 24);
    assert!(shown.contains("version 0123456789ab: set in the book"), "{shown}");
    assert!(shown.contains("inside = \"0.95\""), "{shown}");
    desk.keys("<Esc>");
    assert!(!desk.screen(80, 24).contains("0123456789ab"));
}
