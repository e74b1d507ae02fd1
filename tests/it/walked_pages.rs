//! The page about a piece, walked over by a mark; and lists that stay as they were left.

use super::screens::data::Desk;
use scruple::scoring::Thing;
use scruple::tui::dialog::{Content, Dialog, Page, page_room};
use scruple::tui::effect::Effect;
use scruple::tui::state::Screen;

/// Returns the thing under the mark, and whether its row is in sight.
fn marked(desk: &Desk) -> (Thing, bool) {
    let Some(Dialog::Page(page)) = desk.state.dialogs.last() else { panic!("{:?}", desk.state.dialogs) };
    let (columns, lines) = page_room(80, 24);
    let (row, thing) = page.things(&desk.state, columns).swap_remove(page.mark);
    (thing, (page.offset..page.offset + lines).contains(&row))
}

#[test]
fn one_key_opens_the_evidence_and_enter_explains_the_first_doubt() {
    let mut desk = Desk::with_pieces();
    desk.keys("<F9>3<C-e>");
    let (thing, in_sight) = marked(&desk);
    assert!(matches!(thing, Thing::Hold(_) | Thing::Doubt(_)) && in_sight, "{thing:?}");
    let screen = desk.screen(80, 24);
    assert!(screen.lines().any(|line| line.starts_with('>') || line.starts_with(" >")), "{screen}");
    assert!(screen.contains("Enter explain"), "{screen}");
    desk.keys("<Enter>");
    assert!(matches!(desk.asked.last(), Some(Effect::Explain { thing: asked, .. }) if *asked == thing));
    let screen = desk.screen(80, 24);
    for words in ["Where it comes from", "2 + 2 = 4", "measured on this piece", "another number"] {
        assert!(screen.contains(words), "{words}: {screen}");
    }
    desk.keys("<Esc>");
    assert_eq!(marked(&desk).0, thing);
}

#[test]
fn the_arrows_reach_everything_that_can_be_explained_and_the_mark_stays_in_sight() {
    let mut desk = Desk::with_pieces();
    desk.keys("<F9>3<C-e><Home>");
    let all = match desk.state.dialogs.last() {
        Some(Dialog::Page(page)) => page.things(&desk.state, page_room(80, 24).0).len(),
        other => panic!("{other:?}"),
    };
    let mut seen = vec![marked(&desk).0];
    for _ in 0..300 {
        desk.keys("<Down>");
        let (thing, in_sight) = marked(&desk);
        assert!(in_sight, "{thing:?}");
        if seen.last() != Some(&thing) {
            seen.push(thing);
        }
    }
    assert_eq!(seen.len(), all, "{seen:?}");
    for _ in 0..300 {
        desk.keys("<Up>");
        assert!(marked(&desk).1);
    }
    assert_eq!(marked(&desk).0, seen[0]);
    for keys in ["<PgDn>", "<PgDn>", "<PgUp>", "<End>", "<Home>"] {
        desk.keys(keys);
        assert!(marked(&desk).1, "{keys}");
    }
}

#[test]
fn a_mark_out_of_sight_is_shown_before_it_is_explained() {
    let mut desk = Desk::with_pieces();
    desk.state.height = 10;
    desk.state.width = 40;
    desk.keys("<F9>3<C-e><Enter>");
    assert!(!desk.asked.iter().any(|effect| matches!(effect, Effect::Explain { .. })));
    assert!(desk.screen(40, 10).lines().any(|line| line.trim_start().starts_with("> hidden")));
    desk.keys("<Enter>");
    assert!(matches!(desk.asked.last(), Some(Effect::Explain { .. })));
}

#[test]
fn a_page_of_words_still_closes_with_enter() {
    let mut desk = Desk::with_pieces();
    desk.keys("<F1><Enter>");
    assert!(desk.state.dialogs.is_empty());
    desk.keys("<F9>6<Enter>");
    assert!(matches!(
        desk.state.dialogs.last(),
        Some(Dialog::Page(Page { content: Content::Product(_), .. }))
    ));
    desk.keys("<Enter>");
    assert!(desk.state.dialogs.is_empty());
}

#[test]
fn a_filter_and_the_selected_row_are_there_when_one_comes_back() {
    let mut desk = Desk::with_pieces();
    desk.keys("<F9>6/dollar<Enter><Down>");
    let chosen = desk.state.visible_products()[desk.state.reference.selected].id.clone();
    desk.keys("136");
    desk.keys("2");
    desk.keys("<F9>6");
    assert_eq!(desk.state.screen, Screen::Reference);
    assert_eq!(desk.state.reference.filter.input.value(), "dollar");
    assert_eq!(desk.state.visible_products()[desk.state.reference.selected].id, chosen);
    desk.keys("3/S-0012<Enter>13");
    assert_eq!((desk.state.screen, desk.state.holds.filter.input.value()), (Screen::Holds, "S-0012"));
}

#[test]
fn the_selection_stays_on_its_piece_when_the_list_is_read_anew() {
    let mut desk = Desk::with_pieces();
    desk.keys("<F9>1<Down>");
    let selected = desk.state.receive.current().unwrap().number.clone();
    let mut newer = desk.shipments[0].clone();
    newer.number = "S-0013".to_owned();
    desk.shipments.insert(0, newer);
    desk.keys("31");
    assert_eq!(desk.state.receive.current().unwrap().number, selected);
    desk.keys("3");
    let held = desk.state.holds.current().map(|row| row.first().group.number.clone());
    desk.holds.reverse();
    desk.keys("13");
    assert_eq!(desk.state.holds.current().map(|row| row.first().group.number.clone()), held);
}
