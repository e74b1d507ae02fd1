//! Pages of text: scrolled, walked over by a mark where their rows can be explained, closed.

use super::super::dialog::{Content, Dialog, Page, page_room};
use super::super::effect::Effect;
use super::super::keymap::Act;
use super::super::state::State;
use super::moved;
use crate::scoring::Thing;

/// Carries out an act of the page on top.
pub(super) fn act(state: &mut State, act: Act) -> Vec<Effect> {
    let (columns, lines) = page_room(state.width, state.height);
    let Some(Dialog::Page(page)) = state.dialogs.last() else { return Vec::new() };
    if matches!(act, Act::Back | Act::Accept) {
        state.dialogs.pop();
        return Vec::new();
    }
    let things = page.things(state, columns);
    if act == Act::Explain {
        let row = things.get(page.mark).map_or(page.offset, |(row, _)| *row);
        if (page.offset..page.offset + lines).contains(&row) {
            return explain(page, &things);
        }
        // On a small screen the mark may be out of sight: it is shown before it is explained.
        if let Some(Dialog::Page(page)) = state.dialogs.last_mut() {
            page.offset = row;
        }
        return Vec::new();
    }
    let positions = page.rows(state, columns).len().saturating_sub(lines) + 1;
    if let Some(Dialog::Page(page)) = state.dialogs.last_mut() {
        walk(page, act, &things, positions, lines);
    }
    Vec::new()
}

/// Asks where the marked thing comes from.
fn explain(page: &Page, things: &[(usize, Thing)]) -> Vec<Effect> {
    match (&page.content, things.get(page.mark)) {
        (Content::Piece(piece), Some((_, thing))) => {
            vec![Effect::Explain { number: piece.number.clone(), thing: thing.clone() }]
        }
        _ => Vec::new(),
    }
}

/// Scrolls a page; the mark goes along, and the arrows go from one thing to the next while it is in sight.
fn walk(page: &mut Page, act: Act, things: &[(usize, Thing)], positions: usize, lines: usize) {
    let last = positions.saturating_sub(1);
    page.offset = page.offset.min(last);
    let in_sight = |offset: usize, mark: usize| {
        things.get(mark).is_some_and(|(row, _)| (offset..offset + lines).contains(row))
    };
    let next = match act {
        Act::Down => Some(page.mark + 1),
        Act::Up => page.mark.checked_sub(1),
        _ => None,
    };
    if let Some(next) = next.filter(|next| in_sight(page.offset, *next)) {
        page.mark = next;
        return;
    }
    let before = page.offset;
    page.offset = moved(page.offset, act, positions, lines.saturating_sub(1));
    match (act, next) {
        // One row on, the next thing may have come into sight.
        (_, Some(next)) if in_sight(page.offset, next) => page.mark = next,
        (Act::First, _) => page.mark = 0,
        (Act::Last, _) => page.mark = things.len().saturating_sub(1),
        _ if in_sight(page.offset, page.mark) => {}
        _ => {
            let seen = |mark: &usize| in_sight(page.offset, *mark);
            let nearest = if page.offset >= before {
                (0..things.len()).find(seen)
            } else {
                (0..things.len()).rev().find(seen)
            };
            page.mark = nearest.unwrap_or(page.mark);
        }
    }
}
