//! The finder: each character asks anew, an answer to an older text is dropped, Enter opens.

use super::super::dialog::Dialog;
use super::super::effect::{Effect, Then};
use super::super::finder::Finder;
use super::super::keymap::Act;
use super::super::message::Trouble;
use super::super::state::State;
use super::{bench, insert, moved, request};
use crate::desk::{Hit, HitKind};

/// Opens the finder.
pub(super) fn open(state: &mut State) -> Vec<Effect> {
    state.dialogs.push(Dialog::Finder(Box::default()));
    Vec::new()
}

/// Carries out an act of the finder.
pub(super) fn act(state: &mut State, act: Act) -> Vec<Effect> {
    let Some(Dialog::Finder(finder)) = state.dialogs.last_mut() else { return Vec::new() };
    match act {
        Act::Back => {
            state.dialogs.pop();
            Vec::new()
        }
        Act::Accept => accept(state),
        Act::Up | Act::Down => {
            finder.selected = moved(finder.selected, act, finder.hits.len(), 8);
            finder.chosen = true;
            finder.fault = None;
            Vec::new()
        }
        _ => match request(act) {
            Some(request) if finder.input.handle(request).is_some_and(|change| change.value) => ask(finder),
            _ => Vec::new(),
        },
    }
}

/// Puts a typed character into the finder.
pub(super) fn type_char(finder: &mut Finder, c: char) -> Vec<Effect> {
    insert(&mut finder.input, c);
    ask(finder)
}

/// Asks what fits the text.
fn ask(finder: &mut Finder) -> Vec<Effect> {
    finder.selected = 0;
    finder.chosen = false;
    finder.fault = None;
    vec![Effect::Search { text: finder.text().to_owned() }]
}

/// Takes what fits a text, unless something else is typed by now.
pub(super) fn answered(state: &mut State, text: String, hits: Vec<Hit>) {
    let finder = state.dialogs.iter_mut().rev().find_map(|dialog| match dialog {
        Dialog::Finder(finder) => Some(finder),
        _ => None,
    });
    if let Some(finder) = finder.filter(|finder| finder.text() == text) {
        finder.selected = finder.selected.min(hits.len().saturating_sub(1));
        finder.hits = hits;
        finder.answered = text;
    }
}

/// Opens the selected hit; a text without an answer yet, as from a scanner, is looked up as it stands.
fn accept(state: &mut State) -> Vec<Effect> {
    let Some(Dialog::Finder(finder)) = state.dialogs.last_mut() else { return Vec::new() };
    let text = finder.text().to_owned();
    if text.is_empty() {
        return Vec::new();
    }
    if !finder.is_answered() || finder.hits.is_empty() {
        return vec![Effect::Find { text }];
    }
    let same = finder.hits.iter().filter(|hit| hit.exact && hit.kind == HitKind::Piece).count();
    if same > 1 && !finder.chosen {
        finder.chosen = true;
        finder.fault = Some(Trouble {
            message: format!("{same} pieces bear `{text}`"),
            hints: vec!["choose one with the arrows; Enter opens it".to_owned()],
        });
        return Vec::new();
    }
    let Some(hit) = finder.hits.get(finder.selected).cloned() else { return Vec::new() };
    match (hit.kind, hit.lot) {
        (HitKind::Piece, _) => {
            vec![Effect::OpenPiece { number: hit.number, then: Then::ShowEvidence }]
        }
        (HitKind::Lot | HitKind::Expected, Some(lot)) => bench::open_lot(state, lot),
        _ => vec![Effect::Find { text: hit.number }],
    }
}
