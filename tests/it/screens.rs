//! The screens: keys in, text out, with an invented desk behind them.

#[path = "screens/data.rs"]
pub mod data;
pub mod everywhere;

use data::{Desk, GOLD};
use proptest::prelude::*;
use scruple::desk::views::Field;
use scruple::evidence::Measurand;
use scruple::tui::effect::Effect;
use scruple::tui::keymap::Key;
use scruple::tui::message::Message;
use scruple::tui::state::{Entry, Screen, Shown};

const PIECE: &str = "33.93<Enter>32.70<Enter>2.87<Enter>10.2<Enter>";

/// Draws the screen at the three sizes and compares it with the picture on file.
#[track_caller]
fn picture(name: &str, desk: &Desk) {
    let text: String = [(40, 10), (80, 24), (120, 40)]
        .into_iter()
        .map(|(width, height)| format!("{width}x{height}\n{}\n", desk.screen(width, height)))
        .collect();
    insta::assert_snapshot!(name, text);
}

#[test]
fn an_empty_book_says_what_to_do() {
    picture("empty_book", &Desk::empty());
}

#[test]
fn the_shipments_are_listed_newest_first() {
    insta::assert_snapshot!("receive_shipments", everywhere::at_every_size(&Desk::with_shipments()));
}

#[test]
fn a_shipment_shows_its_lots() {
    let mut desk = Desk::with_pieces();
    desk.keys("<Esc>");
    picture("receive_lots", &desk);
}

#[test]
fn the_bench_shows_what_the_product_lets_expect_while_a_piece_is_typed() {
    let mut desk = Desk::on_bench();
    desk.keys("MB-0041<Enter>33,93<Enter>1.287 in<Enter>2.8");
    picture("bench_typing", &desk);
}

#[test]
fn the_bench_shows_the_verdict_of_the_piece_just_logged() {
    insta::assert_snapshot!("bench_hold", everywhere::at_every_size(&Desk::with_pieces()));
}

#[test]
fn the_bench_shows_a_refusal_and_an_unusable_reading() {
    let mut desk = Desk::with_pieces();
    desk.keys("<PgUp>");
    picture("bench_refuse", &desk);
}

#[test]
fn the_bench_asks_about_a_value_far_off() {
    let mut desk = Desk::on_bench();
    desk.keys("<Enter>339.3<Enter>");
    picture("bench_question", &desk);
}

#[test]
fn the_bench_says_why_an_entry_was_not_taken() {
    let mut desk = Desk::on_bench();
    desk.keys("<Enter>33.9x<Enter>");
    picture("bench_fault", &desk);
}

#[test]
fn the_holds_are_grouped_by_lot() {
    let mut desk = Desk::with_pieces();
    desk.keys("<F9><Down><Enter>");
    picture("holds", &desk);
}

#[test]
fn a_hold_opens_everything_it_rests_on() {
    let mut desk = Desk::with_pieces();
    desk.keys("<Esc>3<Down><Enter>");
    picture("evidence", &desk);
}

#[test]
fn the_palette_lists_every_act_with_its_key() {
    let mut desk = Desk::with_pieces();
    desk.keys("<F2>");
    picture("palette", &desk);
}

#[test]
fn the_help_is_made_from_the_keymap() {
    let mut desk = Desk::on_bench();
    desk.keys("<F1>");
    picture("help", &desk);
}

#[test]
fn bad_rows_of_a_packing_list_are_shown_one_by_one() {
    let mut desk = Desk::empty();
    desk.keys("<C-n>Tin Kettle Traders (invented)<Enter>list.csv<Enter>");
    picture("bad_rows", &desk);
    desk.keys("<Esc>");
    picture("bad_rows_form", &desk);
}

#[test]
fn a_line_offers_the_closest_products_while_typing() {
    let mut desk = Desk::empty();
    desk.keys("<C-n>Tin Kettle Traders (invented)<Enter><Enter>dollar");
    picture("new_line", &desk);
}

#[test]
fn a_correction_asks_field_value_and_reason() {
    let mut desk = Desk::with_pieces();
    desk.keys("<F4><Enter>33.95");
    picture("correct", &desk);
}

#[test]
fn the_products_can_be_filtered() {
    let mut desk = Desk::with_shipments();
    desk.keys("6/gold");
    insta::assert_snapshot!("reference", everywhere::at_every_size(&desk));
}

#[test]
fn a_piece_is_scored_after_its_last_field_and_the_cursor_is_on_the_next() {
    let mut desk = Desk::on_bench();
    desk.keys("MB-0041<Enter>");
    desk.keys(PIECE);
    assert_eq!(desk.pieces.len(), 0, "spot 2 and the temperature are still to come");
    desk.keys("<Enter><Enter>");
    assert_eq!(desk.pieces.len(), 1);
    assert_eq!(desk.pieces[0].serial.as_deref(), Some("MB-0041"));
    assert_eq!(desk.focus(), ("serial".to_owned(), String::new()));
    assert_eq!(desk.field("mass"), (String::new(), false));
}

#[test]
fn a_value_from_a_device_takes_the_place_of_one_that_was_refused() {
    let mut desk = Desk::on_bench();
    desk.device("<Enter>");
    desk.device("33.9.3<Enter>");
    assert_eq!(desk.focus(), ("mass".to_owned(), "33.9.3".to_owned()));
    desk.device("33.93<Enter>");
    assert_eq!(desk.field("mass"), ("33.93".to_owned(), true));
    // A person mends the text instead.
    desk.keys("32.7.<Enter><BS>0<Enter>");
    assert_eq!(desk.field("diameter"), ("32.70".to_owned(), true));
}

#[test]
fn carriage_return_line_feed_both_and_tab_are_one_ending_each() {
    for ending in ["<Enter>", "<LF>", "<Enter><LF>", "<Tab>"] {
        let mut desk = Desk::on_bench();
        desk.keys(&format!("<Enter>33.93{ending}32.70{ending}"));
        assert_eq!(desk.focus(), ("thickness".to_owned(), String::new()), "{ending}");
        assert_eq!(desk.field("mass"), ("33.93".to_owned(), true));
        assert_eq!(desk.field("diameter"), ("32.70".to_owned(), true));
    }
}

#[test]
fn the_verdict_stays_until_the_next_entry_starts() {
    let mut desk = Desk::with_pieces();
    let shown = |desk: &Desk| desk.state.bench.work.as_ref().map(|work| work.shown);
    assert_eq!(shown(&desk), Some(Shown::Piece(2)));
    desk.keys("<Down><Up>");
    assert_eq!(shown(&desk), Some(Shown::Piece(2)));
    desk.keys("3");
    assert_eq!(shown(&desk), Some(Shown::InHand));
}

#[test]
fn the_bell_is_silent_for_clear_and_rings_once_for_hold_and_twice_for_refuse() {
    // Clear, refuse, hold, in this order.
    assert_eq!(Desk::with_pieces().rings, [2, 1]);
}

#[test]
fn what_is_accepted_or_half_typed_is_on_disk_before_the_next_key() {
    let mut desk = Desk::on_bench();
    desk.keys("<Enter>33.93<Enter>32.");
    let disk = desk.disk.clone().unwrap();
    let of = |label: &str| disk.fields.iter().find(|field| field.field.label() == label).unwrap();
    assert!(of("mass").accepted);
    assert_eq!(of("mass").text, "33.93");
    assert!(!of("diameter").accepted);
    assert_eq!(of("diameter").text, "32.");
    assert_eq!(disk.focus, 2);
}

#[test]
fn a_half_filled_piece_comes_back_as_it_was() {
    let mut before = Desk::on_bench();
    before.keys("<Enter>33.93<Enter>32.");
    let mut after = Desk::with_shipments();
    after.disk = before.disk.clone();
    after.keys("<Enter><Enter>");
    assert_eq!(after.focus(), ("diameter".to_owned(), "32.".to_owned()));
    assert_eq!(after.field("mass"), ("33.93".to_owned(), true));
    after.keys("70<Enter>");
    assert_eq!(after.field("diameter"), ("32.70".to_owned(), true));
}

#[test]
fn a_disk_that_takes_nothing_is_said_and_tried_again() {
    let mut desk = Desk::on_bench();
    desk.disk_full = true;
    desk.keys("<Enter>33.9");
    assert!(desk.screen(80, 24).contains("NOT SAVED"));
    desk.disk_full = false;
    desk.keys("3");
    assert!(!desk.screen(80, 24).contains("NOT SAVED"));
    assert_eq!(desk.disk.as_ref().unwrap().fields[1].text, "33.93");
}

#[test]
fn a_value_far_off_is_never_accepted_without_an_answer() {
    let mut desk = Desk::on_bench();
    desk.keys("<Enter>339.3<Enter>");
    assert!(matches!(desk.state.bench.work.as_ref().unwrap().entry, Entry::Question(_)));
    assert_eq!(desk.field("mass"), ("339.3".to_owned(), false));
    // Somebody who types on without looking does not slip the next value into this field.
    let mut blind = Desk::on_bench();
    blind.keys("<Enter>339.3<Enter>32.70<Enter>");
    assert_eq!(blind.field("mass"), ("339.332.70".to_owned(), false));
    assert_eq!(blind.field("diameter"), (String::new(), false));
    // Enter empties the field; the right value is then taken.
    desk.keys("<Enter>33.93<Enter>");
    assert_eq!(desk.field("mass"), ("33.93".to_owned(), true));
}

#[test]
fn a_value_far_off_is_kept_with_a_reason() {
    for key in ["<F5>", "<C-k>"] {
        let mut desk = Desk::on_bench();
        desk.keys(&format!("<Enter>339.3<Enter>{key}<Enter>"));
        assert!(!desk.field("mass").1, "a reason is needed");
        desk.keys("three coins stuck together<Enter>");
        assert_eq!(desk.field("mass"), ("339.3".to_owned(), true));
        let reason = &desk.disk.as_ref().unwrap().fields[1].reason;
        assert_eq!(reason.as_deref(), Some("three coins stuck together"));
        assert_eq!(desk.focus().0, "diameter");
    }
}

#[test]
fn minus_means_not_measured_and_a_reading_is_never_repeated_or_left_empty() {
    let mut desk = Desk::on_bench();
    desk.keys("<Enter>-<Enter>");
    assert_eq!(desk.field("mass"), ("-".to_owned(), true));
    desk.keys("=<Enter>");
    assert!(!desk.field("diameter").1);
    desk.keys("<BS><Enter>");
    assert_eq!(desk.field("diameter"), (String::new(), false));
    assert_eq!(desk.focus().0, "diameter");
}

#[test]
fn equals_brings_the_letters_of_the_last_serial() {
    let mut desk = Desk::with_pieces();
    desk.keys("=");
    assert_eq!(desk.focus(), ("serial".to_owned(), "MB-".to_owned()));
    desk.keys("0044<Enter>");
    assert_eq!(desk.field("serial"), ("MB-0044".to_owned(), true));
}

#[test]
fn a_scanned_serial_of_the_packing_list_finds_its_field() {
    let mut desk = Desk::on_bench();
    desk.keys("<Enter>33.93<Enter>32");
    desk.device("mb-0042<Enter>");
    assert_eq!(desk.field("serial"), ("mb-0042".to_owned(), true));
    assert_eq!(desk.focus(), ("diameter".to_owned(), "32".to_owned()));
    desk.keys(".70<Enter>");
    assert_eq!(desk.field("diameter"), ("32.70".to_owned(), true));
}

#[test]
fn a_second_scan_does_not_replace_a_serial() {
    let mut desk = Desk::on_bench();
    desk.keys("MB-0041<Enter>");
    desk.device("MB-0042<Enter>");
    assert_eq!(desk.field("serial"), ("MB-0041".to_owned(), true));
    assert_eq!(desk.focus(), ("mass".to_owned(), String::new()));
    assert!(desk.screen(80, 24).contains("MB-0042, which was scanned, was not taken"));
}

#[test]
fn a_serial_typed_by_hand_or_unknown_stays_where_it_was_typed() {
    let mut desk = Desk::on_bench();
    desk.keys("<Enter>MB-0042<Enter>");
    assert_eq!(desk.field("mass"), ("MB-0042".to_owned(), false));
    let mut desk = Desk::on_bench();
    desk.keys("<Enter>");
    desk.device("ZZ-9999<Enter>");
    assert_eq!(desk.field("mass"), ("ZZ-9999".to_owned(), false));
}

#[test]
fn a_scale_that_types_fast_fills_the_field_in_hand() {
    let mut desk = Desk::on_bench();
    desk.keys("<Enter>");
    desk.device("33.93<Enter><LF>");
    desk.device("32.70<Tab>");
    assert_eq!(desk.field("mass"), ("33.93".to_owned(), true));
    assert_eq!(desk.field("diameter"), ("32.70".to_owned(), true));
}

#[test]
fn pasted_text_fills_a_field_and_ends_none() {
    let mut desk = Desk::on_bench();
    desk.keys("<Enter>");
    desk.send(Message::Paste("33.93\r\n\u{1b}[31m".to_owned()));
    assert_eq!(desk.focus(), ("mass".to_owned(), "33.93 [31m".to_owned()));
    assert!(!desk.field("mass").1);
    assert_eq!(desk.disk.as_ref().unwrap().fields[1].text, "33.93 [31m");
}

#[test]
fn score_now_takes_what_is_typed_and_marks_the_rest_as_not_measured() {
    let mut desk = Desk::on_bench();
    desk.keys("<F5>");
    assert!(desk.pieces.is_empty(), "nothing is typed yet");
    desk.keys("<Enter>33.93<Enter>32.70<F5>");
    assert_eq!(desk.pieces.len(), 1);
    // A field that is not understood stops it.
    desk.keys("<Enter>33.9x<Down><C-k>");
    assert_eq!(desk.pieces.len(), 1);
    assert_eq!(desk.focus(), ("mass".to_owned(), "33.9x".to_owned()));
}

#[test]
fn escape_loses_no_text() {
    let mut desk = Desk::on_bench();
    desk.keys("<Enter>33.9<Esc>");
    assert_eq!(desk.state.screen, Screen::Receive);
    assert!(desk.screen(80, 24).contains("in hand: S-0012/1"));
    desk.keys("<Enter>");
    assert_eq!(desk.focus(), ("mass".to_owned(), "33.9".to_owned()));
    desk.keys("<Esc><Esc><C-n>Three Geese<Esc><C-n>");
    assert!(desk.screen(80, 24).contains("Three Geese"));
}

#[test]
fn another_lot_is_not_opened_over_a_half_filled_piece_without_asking() {
    let mut desk = Desk::on_bench();
    desk.keys("<Enter>33.9<Esc><Down><Enter>");
    assert!(desk.screen(80, 24).contains("A piece is half filled"));
    desk.keys("<Enter>");
    assert_eq!(desk.focus(), ("mass".to_owned(), "33.9".to_owned()));
    desk.keys("<Esc><Down><Enter><Down><Enter>");
    assert_eq!(desk.state.bench.work.as_ref().unwrap().lot.number, "S-0012/2");
    assert_eq!(desk.disk.as_ref().unwrap().lot, desk.state.bench.work.as_ref().unwrap().lot.id);
}

#[test]
fn a_lot_without_serials_starts_at_the_first_reading() {
    let mut desk = Desk::with_shipments();
    desk.keys("<Enter><Down><Enter>");
    assert_eq!(desk.focus().0, "mass");
    desk.keys(PIECE);
    desk.keys("<Enter><Enter>");
    assert_eq!(desk.pieces.len(), 1, "an empty serial is not waited for");
}

#[test]
fn a_lot_takes_no_more_than_its_packing_list_says() {
    let mut desk = Desk::with_pieces();
    for _ in 0..2 {
        desk.keys("<Enter>33.93<F5>");
    }
    assert!(desk.screen(80, 24).contains("Every piece of S-0012/1 is logged."));
    desk.keys("3");
    assert!(desk.screen(80, 24).contains("every piece of S-0012/1 is logged; add a line"));
    assert_eq!(desk.focus().1, "");
    assert_eq!(desk.rings.last(), Some(&1));
}

#[test]
fn the_probe_is_chosen_by_a_key_and_stays_for_the_next_piece() {
    let mut desk = Desk::on_bench();
    let probe = |desk: &Desk| desk.disk.clone().and_then(|draft| draft.probe);
    assert_eq!(probe(&desk).as_deref(), Some("pencil"));
    desk.keys("<C-n>");
    assert_eq!(probe(&desk).as_deref(), Some("deep"));
    desk.keys("<Enter>");
    desk.keys(PIECE);
    desk.keys("<Enter><Enter>");
    assert_eq!(desk.pieces.len(), 1);
    assert_eq!(probe(&desk).as_deref(), Some("deep"));
    desk.keys("<C-n>");
    assert_eq!(probe(&desk).as_deref(), Some("pencil"));
}

#[test]
fn a_correction_a_hold_and_a_void_carry_their_reason() {
    let mut desk = Desk::with_pieces();
    let id = desk.pieces[2].id;
    desk.keys("<F4><Enter>33.95<Enter>misread<Enter>");
    let field = Field::Reading(Measurand::Mass, 1);
    let corrected =
        Effect::Correct { piece: id, field, text: "33.95".to_owned(), reason: "misread".to_owned() };
    assert_eq!(desk.asked.last(), Some(&corrected));
    desk.keys("<F6><Enter><Enter>");
    assert_eq!(desk.asked.last(), Some(&corrected), "a hold needs a reason");
    desk.keys("rim looks filed<Enter>");
    assert_eq!(desk.asked.last(), Some(&Effect::Hold { piece: id, reason: "rim looks filed".to_owned() }));
    desk.keys("<C-d>logged twice<Enter>");
    assert_eq!(desk.asked.last(), Some(&Effect::Void { piece: id, reason: "logged twice".to_owned() }));
    assert_eq!(desk.state.bench.work.as_ref().unwrap().pieces.len(), 2);
}

#[test]
fn a_shipment_is_typed_by_hand_line_by_line() {
    let mut desk = Desk::empty();
    desk.keys("<C-n>Tin Kettle Traders (invented)<Enter><Enter>fifty<Enter>many<Enter>");
    assert!(desk.screen(80, 24).contains("quantity `many` is not a whole number"));
    desk.keys("<BS><BS><BS><BS>12<Enter>");
    let shipment = desk.shipments[0].id;
    let line = Effect::AddLine { shipment, product: GOLD.to_owned(), quantity: 12 };
    assert_eq!(desk.asked.last(), Some(&line));
    assert!(desk.screen(80, 24).contains("0 of 12"));
}

#[test]
fn the_list_of_screens_is_answered_by_a_digit_or_by_enter() {
    let mut desk = Desk::with_pieces();
    desk.keys("<F9>3");
    assert_eq!(desk.state.screen, Screen::Holds);
    desk.keys("<C-t><Down><Enter>");
    assert_eq!(desk.state.screen, Screen::Stock);
    for (digit, screen) in
        [("5", Screen::Instruments), ("6", Screen::Reference), ("7", Screen::Day), ("1", Screen::Receive)]
    {
        desk.keys(digit);
        assert_eq!(desk.state.screen, screen);
    }
    assert!(desk.state.dialogs.is_empty());
}

#[test]
fn find_jumps_to_a_piece_by_serial_and_to_a_shipment_by_number() {
    let mut desk = Desk::with_pieces();
    desk.keys("<F3>MB-0042<Enter>");
    assert!(desk.screen(80, 24).contains("S-0012/1-02"));
    desk.keys("<Esc><C-f>S-0011<Enter>");
    assert!(desk.screen(80, 24).contains("Three Geese"));
    desk.keys("<F3>nowhere<Enter>");
    assert!(desk.screen(80, 24).contains("nothing has the number or the serial"));
}

#[test]
fn the_palette_runs_what_it_lists() {
    let mut desk = Desk::with_pieces();
    desk.keys("<C-p>linked corr<Enter>");
    assert_eq!(desk.asked.last(), Some(&Effect::LoadActs));
    desk.keys("<F2>quit<Enter>");
    assert!(desk.quit);
}

#[test]
fn letters_and_digits_are_data_on_the_bench_and_never_a_command() {
    let mut desk = Desk::on_bench();
    for c in (' '..='~').filter(|c| *c != '=') {
        desk.press(Key::Char(c), 200);
        assert_eq!(desk.state.screen, Screen::Bench, "{c}");
        assert!(desk.state.dialogs.is_empty(), "{c}");
    }
    assert_eq!(desk.focus().1.len(), 94);
}

#[test]
fn nothing_shown_can_steer_the_terminal() {
    let mut desk = Desk::with_shipments();
    let mut shipments = desk.shipments.clone();
    shipments[0].source = "Moon\u{1b}[2Jpond\u{7}\u{202e}".to_owned();
    desk.send(Message::Shipments(shipments));
    let screen = desk.screen(80, 24);
    assert!(screen.contains("Moon[2Jpond"), "{screen}");
    assert!(!screen.chars().any(|c| c.is_control() && c != '\n'));
}

/// One desk for every screen and every dialog.
pub fn every_screen() -> Vec<(&'static str, Desk)> {
    let scripts = [
        ("verdict", ""),
        ("typing", "MB-00"),
        ("question", "<Enter>339.3<Enter>"),
        ("keep", "<Enter>339.3<Enter><F5>"),
        ("fault", "<Enter>x<Enter>"),
        ("help", "<F1>"),
        ("palette", "<F2>"),
        ("find", "<F3>"),
        ("correct", "<F4>"),
        ("hold", "<F6>"),
        ("screens", "<F9>"),
        ("evidence", "<C-e>"),
        ("plot", "<C-a>"),
        ("lots", "<Esc>"),
        ("new line", "<Esc><C-n>dollar"),
        ("shipments", "<Esc><Esc>"),
        ("new shipment", "<Esc><Esc><C-n>a<Enter>b<Enter>"),
        ("holds", "<Esc>3"),
        ("filtered", "<Esc>3/nothing"),
        ("stock, empty", "<Esc>4"),
        ("instruments, unread", "<Esc>5"),
        ("reference", "<Esc>6"),
        ("product", "<Esc>6<Enter>"),
        ("day", "<Esc>7"),
    ];
    let mut desks: Vec<_> = scripts
        .into_iter()
        .map(|(name, script)| {
            let mut desk = Desk::with_pieces();
            desk.keys(script);
            (name, desk)
        })
        .collect();
    desks.push(("empty", Desk::empty()));
    let mut bench = Desk::empty();
    bench.keys("2");
    desks.push(("empty bench", bench));
    let mut acts = Desk::with_acts();
    acts.keys("<F8>");
    desks.push(("last acts", acts));
    desks
}

#[test]
fn every_screen_and_every_kind_of_dialog_is_looked_at() {
    let review = crate::review_screens::every_screen();
    let instruments = crate::instrument_screens::every_screen();
    let all = every_screen().into_iter().chain(review).chain(instruments).collect();
    everywhere::check_nothing_is_left_out(&all);
}

#[test]
fn no_size_panics_and_a_screen_too_small_says_which_size_it_needs() {
    everywhere::check_sizes(every_screen());
}

#[test]
fn a_small_screen_still_logs() {
    let mut desk = Desk::on_bench();
    for (label, keys) in [("serial", "<Enter>"), ("mass", "33.93<Enter>"), ("diameter", "32.70<Enter>")] {
        assert!(desk.screen(40, 10).contains(&format!("> {label}")), "{label}");
        desk.keys(keys);
    }
    desk.keys("2.87<Enter>10.2<Enter><Enter><Enter>");
    assert!(desk.screen(40, 10).contains("S-0012/1-01  + clear  98.7"));
}

#[test]
fn without_colour_the_same_words_are_on_the_screen() {
    everywhere::check_colour_only_supports(every_screen());
}

#[test]
fn every_key_of_the_table_can_be_pressed_on_every_screen() {
    everywhere::check_every_key(every_screen);
}

fn any_key() -> impl Strategy<Value = Key> {
    prop_oneof![
        3 => prop::sample::select(vec!['3', '4', '.', '0', '-', '=', 'M', 'g', 'é', '金', '\u{1b}']).prop_map(Key::Char),
        3 => prop::sample::select(vec![Key::Enter, Key::Tab, Key::LineFeed]),
        2 => prop::sample::select(everywhere::keys_that_stay()),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn random_keys_neither_panic_nor_lose_what_is_typed(
        keys in prop::collection::vec((any_key(), 0u64..120), 1..160),
        width in 0u16..130,
        height in 0u16..45,
    ) {
        let mut desk = Desk::on_bench();
        for (key, pause) in keys {
            desk.press(key, pause);
            if let Some(work) = &desk.state.bench.work {
                prop_assert_eq!(desk.disk.as_ref(), Some(&work.draft), "after {:?}", key);
            }
            // The list of acts runs `quit` too, when what is typed into it leaves nothing else.
            if desk.quit {
                break;
            }
        }
        desk.screen(width, height);
    }
}
