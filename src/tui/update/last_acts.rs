//! The list of last acts: Enter undoes the newest, or does an undone one again.

use super::super::dialog::{Dialog, LastActs};
use super::super::effect::Effect;
use super::super::keymap::Act;
use super::super::state::{Notice, State};
use super::moved;
use crate::desk::{ActState, ActView};

/// Opens the list, or says that there is nothing in it.
pub(super) fn open(state: &mut State, acts: Vec<ActView>) -> Vec<Effect> {
    if acts.is_empty() {
        state.notice = Some(Notice::Refused("you have done nothing yet that can be undone".to_owned()));
        return Vec::new();
    }
    close(state);
    state.dialogs.push(Dialog::LastActs(LastActs::new(acts)));
    Vec::new()
}

/// Closes the list.
pub(super) fn close(state: &mut State) {
    state.dialogs.retain(|dialog| !matches!(dialog, Dialog::LastActs(_)));
}

/// Carries out an act of the list.
pub(super) fn act(state: &mut State, act: Act) -> Vec<Effect> {
    let Some(Dialog::LastActs(list)) = state.dialogs.last_mut() else { return Vec::new() };
    match act {
        Act::Back => {
            state.dialogs.pop();
        }
        Act::Accept => {
            let Some(chosen) = list.acts.get(list.selected) else { return Vec::new() };
            let act = chosen.sequence;
            match chosen.state {
                ActState::Next => return vec![Effect::Undo { act }],
                ActState::Undone => return vec![Effect::Redo { act, pin: None }],
                ActState::Waits | ActState::Followed | ActState::Redone => {
                    let words = format!("{} {}: {}", chosen.what, chosen.about, chosen.state.label());
                    state.notice = Some(Notice::Refused(words));
                }
            }
        }
        _ => list.selected = moved(list.selected, act, list.acts.len(), 8),
    }
    Vec::new()
}
