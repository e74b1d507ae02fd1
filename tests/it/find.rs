//! Finding while one types: what fits, in which order, and what the finder does with it.

use super::bench::{Bench, GOLD_BAR, SILVER, reading};
use super::cli::Call;
use super::screens::data::Desk;
use scruple::desk::{Field, HitKind};
use scruple::evidence::Measurand;
use scruple::tui::dialog::Dialog;
use scruple::tui::effect::Effect;
use scruple::tui::message::Message;

/// Two shipments: gold bars with serials, of which one is logged, and silver coins.
fn book() -> Bench {
    let mut bench = Bench::new();
    let gold = bench.lot(GOLD_BAR, 3, "AB104711 AB104712 XK904711");
    bench.log(gold, &[(Field::Serial, "AB104711")]);
    let silver = bench.lot(SILVER, 2, "");
    bench.log(silver, &[]);
    bench
}

/// Returns kind and number of everything that fits.
#[track_caller]
fn hits(bench: &mut Bench, text: &str) -> Vec<(HitKind, String)> {
    bench.desk().search(text, 30).unwrap().into_iter().map(|hit| (hit.kind, hit.number)).collect()
}

#[test]
fn a_serial_is_found_by_its_start_and_by_its_end_from_four_characters_on() {
    let mut bench = book();
    let piece = (HitKind::Piece, "S-0001/1-01".to_owned());
    let waiting = (HitKind::Expected, "S-0001/1".to_owned());
    assert_eq!(hits(&mut bench, "ab1047"), [piece.clone(), waiting.clone()]);
    assert_eq!(hits(&mut bench, "4711"), [piece.clone(), waiting.clone()]);
    assert_eq!(hits(&mut bench, "04711"), [piece.clone(), waiting.clone()]);
    assert_eq!(hits(&mut bench, "14711"), []);
    assert_eq!(hits(&mut bench, "711"), []);
    // What is named in full comes first, whatever else fits.
    let exact = bench.desk().search("xk904711", 30).unwrap();
    assert_eq!((exact[0].exact, exact[0].serial.as_deref()), (true, Some("XK904711")));
    assert!(hits(&mut bench, "").is_empty());
}

#[test]
fn the_serial_in_force_is_the_one_that_is_found() {
    let mut bench = book();
    let piece = bench.desk().find_piece("AB104711").unwrap();
    bench.desk().correct(piece.id, Field::Serial, "ZZ998877", "read upside down").unwrap();
    assert_eq!(hits(&mut bench, "8877"), [(HitKind::Piece, "S-0001/1-01".to_owned())]);
    // The packing list waits for the old one again.
    assert_eq!(hits(&mut bench, "AB104711"), [(HitKind::Expected, "S-0001/1".to_owned())]);
    let other = bench.desk().find_piece("S-0002/1-01").unwrap();
    bench.desk().void_piece(other.id, "logged twice").unwrap();
    let voided = bench.desk().search("S-0002/1-01", 5).unwrap();
    assert_eq!((voided[0].place.as_str(), voided[0].exact), ("voided", false));
}

#[test]
fn numbers_are_found_by_their_start() {
    let mut bench = book();
    for text in ["S-0001/1-01", "s-0001/1-0", "S-1/1-1", "1/1-1"] {
        assert!(hits(&mut bench, text).contains(&(HitKind::Piece, "S-0001/1-01".to_owned())), "{text}");
    }
    for text in ["S-0002", "s-000", "2", "S-2"] {
        assert!(hits(&mut bench, text).contains(&(HitKind::Shipment, "S-0002".to_owned())), "{text}");
    }
    let first = bench.desk().search("S-0002", 30).unwrap();
    assert_eq!((first[0].kind, first[0].exact), (HitKind::Shipment, true));
    assert!(first.iter().any(|hit| hit.number == "S-0002/1"), "{first:?}");
    assert_eq!(hits(&mut bench, "S-0009"), []);
}

#[test]
fn sources_and_products_are_found_by_the_start_of_any_word() {
    let mut bench = book();
    for text in ["moon", "BULL", "bull moon"] {
        let found = hits(&mut bench, text);
        assert!(found.contains(&(HitKind::Shipment, "S-0001".to_owned())), "{text}: {found:?}");
        assert!(found.contains(&(HitKind::Shipment, "S-0002".to_owned())), "{text}: {found:?}");
    }
    assert_eq!(hits(&mut bench, "oonpond"), []);
    for text in ["silver dollar", "us-5112-e", "5112"] {
        let found = hits(&mut bench, text);
        assert!(found.contains(&(HitKind::Lot, "S-0002/1".to_owned())), "{text}: {found:?}");
    }
    assert_eq!(bench.desk().search("moon", 1).unwrap().len(), 1);
}

#[test]
fn where_a_piece_is_stands_beside_it() {
    let mut bench = book();
    let piece = bench.desk().find_piece("S-0002/1-01").unwrap();
    bench.desk().send_back(&[piece.number], "not ours", None).unwrap();
    let hit = bench.desk().search("S-0002/1-01", 1).unwrap().remove(0);
    assert_eq!(hit.place, "sent back");
    let light = bench.desk().shipment("S-0002").unwrap().lots[0].id;
    bench.log(light, &[(reading(Measurand::Mass), "29.9")]);
    let hit = bench.desk().search("S-0002/1-02", 1).unwrap().remove(0);
    assert_eq!((hit.place.as_str(), hit.standing.unwrap().word()), ("at the desk", "refuse"));
}

#[test]
fn the_finder_shows_what_fits_as_it_is_typed_and_opens_the_selected() {
    let mut desk = Desk::with_pieces();
    desk.keys("<F3>");
    let empty = desk.screen(80, 24);
    assert!(empty.contains("its last four characters") && empty.contains("a serial"), "{empty}");
    desk.keys("MB-");
    let typed = desk.screen(80, 24);
    assert!(typed.contains("S-0012/1-02") && typed.contains("MB-0042"), "{typed}");
    desk.keys("xx");
    assert!(desk.screen(80, 24).contains("nothing in the book fits that"));
    desk.keys("<BS><BS>0042<Enter>");
    assert!(desk.screen(80, 24).contains("Evidence"));
    desk.keys("<Esc>");
    assert!(desk.state.dialogs.is_empty());
    desk.keys("<F3>MB<Esc>");
    assert!(desk.state.dialogs.is_empty());
}

#[test]
fn an_answer_to_an_older_text_is_dropped() {
    let mut desk = Desk::with_pieces();
    desk.slow = true;
    desk.keys("<F3>MB-00");
    let late = desk.hits("MB-");
    assert!(!late.is_empty());
    desk.send(Message::Hits { text: "MB-".to_owned(), hits: late.clone() });
    let shown = |desk: &Desk| match desk.state.dialogs.last() {
        Some(Dialog::Finder(finder)) => finder.hits.len(),
        other => panic!("{other:?}"),
    };
    assert_eq!(shown(&desk), 0);
    desk.send(Message::Hits { text: "MB-00".to_owned(), hits: late.clone() });
    assert_eq!(shown(&desk), late.len());
}

#[test]
fn a_scanner_opens_the_exact_hit_before_any_answer_came() {
    let mut desk = Desk::with_pieces();
    desk.slow = true;
    desk.keys("<F3>MB-0042<Enter>");
    let screen = desk.screen(80, 24);
    assert!(screen.contains("Evidence") && screen.contains("S-0012/1-02"), "{screen}");
}

#[test]
fn two_pieces_of_one_serial_are_chosen_between() {
    let mut desk = Desk::with_pieces();
    let mut twin = desk.pieces[0].clone();
    twin.number = "S-0012/1-04".to_owned();
    twin.serial = Some("MB-0042".to_owned());
    desk.pieces.push(twin);
    desk.keys("<F3>MB-0042<Enter>");
    assert!(desk.screen(80, 24).contains("2 pieces bear `MB-0042`"));
    assert!(!desk.asked.iter().any(|effect| matches!(effect, Effect::OpenPiece { .. })));
    desk.keys("<Down><Enter>");
    assert!(desk.screen(80, 24).contains("Evidence"));
}

#[test]
fn the_subcommand_lists_what_fits_and_says_when_nothing_does() {
    let folder = tempfile::tempdir().unwrap();
    Call::new(&folder, &["demo", "--book", "a.book", "--no-screen"]).done();
    let list = Call::new(&folder, &["find", "geese"]).done();
    assert!(list.starts_with("number") && list.contains("Three Geese Estates"), "{list}");
    let json = Call::new(&folder, &["find", "S-0001", "--limit", "2", "--json"]).json(0);
    assert_eq!((&json["schema"], &json["hits"][0]["exact"]), (&1.into(), &true.into()));
    assert_eq!(json["hits"].as_array().unwrap().len(), 2);
    let output = Call::new(&folder, &["find", "nowhere"]).run();
    assert_eq!(output.status.code(), Some(1));
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(said.starts_with("error: nothing in the book fits `nowhere`\nhint: "), "{said}");
}
