//! The first start on a new book: three questions, or an invented day, by the keys that the footer names.

use super::screens::data::Desk as Screens;
use super::terminal::Session;
use scruple::desk::{Desk, FirstAnswers, PolicyOrigin, Settings};
use scruple::present::spectrum::Marks;
use scruple::present::tone::Row;
use scruple::tui::effect::Effect;
use scruple::tui::message::Message;
use tempfile::TempDir;

/// An example of a register of instruments, shipped with the demo.
const REGISTER: &str = include_str!("../../assets/demo/instruments.toml");

fn new_book() -> (TempDir, Desk) {
    let folder = tempfile::tempdir().unwrap();
    let desk = Desk::open(&folder.path().join("a.book"), Settings::built_in("MIRA")).unwrap();
    (folder, desk)
}

fn answers(name: &str, currency: &str, register: Option<&str>) -> FirstAnswers {
    let register = register.map(|text| ("mine.toml".to_owned(), text.to_owned()));
    FirstAnswers { name: name.to_owned(), currency: currency.to_owned(), register }
}

#[test]
fn the_answers_of_the_first_start_are_kept_in_one_act() {
    let (folder, mut desk) = new_book();
    assert!(desk.is_untouched().unwrap());
    desk.set_up(&answers("Tin Kettle Traders (invented)", "chf", Some(REGISTER))).unwrap();
    assert!(!desk.is_untouched().unwrap());
    drop(desk);
    let desk = Desk::open(&folder.path().join("a.book"), Settings::built_in("BEN")).unwrap();
    assert_eq!(desk.desk_name().unwrap().as_deref(), Some("Tin Kettle Traders (invented)"));
    // ISO 4217: CHF.
    assert_eq!(desk.policy().currency.code(), "CHF");
    assert_eq!(desk.policy_view().unwrap().origin, PolicyOrigin::Book);
    assert_eq!(desk.register_view().unwrap().text, REGISTER);
    assert_eq!(desk.day(None).unwrap().desk.as_deref(), Some("Tin Kettle Traders (invented)"));
}

#[test]
fn the_currency_in_force_and_the_assumed_instruments_change_neither_policy_nor_register() {
    let (_folder, mut desk) = new_book();
    desk.set_up(&answers("Tin Kettle Traders (invented)", "EUR", None)).unwrap();
    assert_eq!(desk.policy_view().unwrap().origin, PolicyOrigin::Desk);
    assert_eq!(desk.register_view().unwrap().origin, PolicyOrigin::Desk);
}

#[test]
fn one_answer_that_cannot_be_taken_keeps_the_book_untouched() {
    for wrong in [
        answers("  ", "EUR", None),
        answers("Tin Kettle Traders (invented)", "EURO", None),
        answers("Tin Kettle Traders (invented)", "USD", Some("nonsense\n")),
    ] {
        let (_folder, mut desk) = new_book();
        desk.set_up(&wrong).unwrap_err();
        assert!(desk.is_untouched().unwrap(), "{wrong:?}");
        assert_eq!(desk.policy().currency.code(), "EUR");
    }
}

/// Returns the invented screens as they begin on a new book.
fn first_start() -> Screens {
    let mut desk = Screens::empty();
    desk.send(Message::FirstStart { currency: "EUR".to_owned() });
    desk
}

#[test]
fn the_first_start_asks_and_its_footer_names_every_key_that_is_needed() {
    let mut desk = first_start();
    let screen = desk.screen(80, 24);
    for words in
        ["A new book", "set this desk up", "invented day", "Enter choose", "Tab next answer", "Esc back"]
    {
        assert!(screen.contains(words), "{words}:\n{screen}");
    }
    desk.keys("<Enter>Tin Kettle Traders (invented)<Enter>");
    let screen = desk.screen(80, 24);
    assert!(screen.contains("> currency") && screen.contains("EUR"), "{screen}");
    desk.keys("<Enter><Enter>");
    let wished = Effect::SetUp {
        name: "Tin Kettle Traders (invented)".to_owned(),
        currency: "EUR".to_owned(),
        path: String::new(),
    };
    assert!(desk.asked.contains(&wished), "{:?}", desk.asked);
}

#[test]
fn the_second_answer_shows_an_invented_day_and_the_third_goes_on_without() {
    let mut desk = first_start();
    desk.keys("<Tab><Enter>");
    assert!(desk.asked.contains(&Effect::Demo), "{:?}", desk.asked);
    let mut desk = first_start();
    desk.keys("<Tab><Tab><Enter>");
    assert!(desk.screen(80, 24).contains("No shipment yet."));
}

#[test]
fn every_empty_screen_says_what_to_do_next() {
    let mut desk = Screens::empty();
    for (digit, words) in [
        ("1", "takes in the first one"),
        ("2", "press Enter on the lot"),
        ("3", "Receive takes a shipment in"),
        ("4", "is released with Ctrl-Y"),
    ] {
        desk.keys(&format!("<F9>{digit}"));
        let screen = desk.screen(80, 24);
        assert!(screen.contains(words), "{digit}:\n{screen}");
    }
}

#[test]
fn an_assumed_instrument_and_an_empty_day_say_what_to_do_next() {
    let (_folder, desk) = new_book();
    let view = desk.instruments_view().unwrap();
    let marks = Marks::Ascii;
    let offset = chrono::FixedOffset::east_opt(0).unwrap();
    let page = |rows: Vec<Row>| -> String { rows.iter().map(|row| row.text() + "\n").collect() };
    let said = page(scruple::present::instruments::instrument_rows(&view.rows[0], 100, 5, marks, offset));
    assert!(said.contains("scruple instrument set FILE"), "{said}");
    let said = page(scruple::present::day::day_rows(&desk.day(None).unwrap(), 100, offset));
    assert!(said.contains("Receive takes a shipment in; Left shows the day before"), "{said}");
}

#[test]
fn the_program_shows_an_invented_day_and_asks_until_the_answers_are_in_the_book() {
    let home = tempfile::tempdir().unwrap();
    let book = home.path().join("new.book");
    let mut session = Session::start(home.path(), &book);
    session.wait_for("A new book");
    session.send("\t\r");
    session.wait_for("The half-filled piece is as you left it.");
    // Ctrl-Q.
    session.send("\u{11}");
    assert!(session.ended().0.success());
    assert!(Desk::open(&book, Settings::built_in("MIRA")).unwrap().is_untouched().unwrap());
    let mut session = Session::start(home.path(), &book);
    session.wait_for("A new book");
    session.send("\r");
    session.wait_for("Set this desk up");
    session.send("Tin Kettle Traders (invented)\r\r\r");
    session.wait_for("is set up. Ctrl-N takes in the first shipment.");
    session.send("\u{11}");
    assert!(session.ended().0.success());
    let desk = Desk::open(&book, Settings::built_in("MIRA")).unwrap();
    assert_eq!(desk.desk_name().unwrap().as_deref(), Some("Tin Kettle Traders (invented)"));
}
