//! The palette and the choices.

use super::super::dialog::{Answer, Choice, Dialog};
use super::super::effect::Effect;
use super::super::keymap::Act;
use super::super::state::{Screen, State};
use super::{bench, carry_out, first_run, go, moved, request, review};

/// Lists the screens.
pub(super) fn screens(state: &mut State) {
    let answers = Screen::ALL
        .into_iter()
        .enumerate()
        .map(|(index, screen)| {
            (format!("{}  {:<10} {}", index + 1, screen.name(), screen.purpose()), Answer::Go(screen))
        })
        .collect();
    let selected = Screen::ALL.iter().position(|screen| *screen == state.screen).unwrap_or(0);
    let choice = Choice { title: "Screens".to_owned(), text: String::new(), answers, selected };
    state.dialogs.push(Dialog::Choice(choice));
}

/// Carries out an act of the palette or of a choice.
pub(super) fn act(state: &mut State, act: Act) -> Vec<Effect> {
    let place = state.screen_place();
    match state.dialogs.last_mut() {
        Some(Dialog::Palette { query, selected }) => {
            let rows = state.keymap.palette(place, query.value());
            match act {
                Act::Back => {
                    state.dialogs.pop();
                }
                Act::Accept => {
                    let chosen = rows.get(*selected).map(|row| row.binding.act);
                    if let Some(chosen) = chosen {
                        state.dialogs.pop();
                        return carry_out(state, chosen);
                    }
                }
                _ => match request(act) {
                    Some(request) => {
                        if query.handle(request).is_some_and(|change| change.value) {
                            *selected = 0;
                        }
                    }
                    None => *selected = moved(*selected, act, rows.len(), 8),
                },
            }
        }
        Some(Dialog::Choice(choice)) => match act {
            Act::Back => {
                state.dialogs.pop();
            }
            Act::Accept => {
                let answer =
                    choice.answers.get(choice.selected).map_or(Answer::Stay, |(_, answer)| answer.clone());
                state.dialogs.pop();
                return answered(state, answer);
            }
            _ => choice.selected = moved(choice.selected, act, choice.answers.len(), 8),
        },
        _ => {}
    }
    Vec::new()
}

/// Does what an answer stands for.
fn answered(state: &mut State, answer: Answer) -> Vec<Effect> {
    match answer {
        Answer::Stay => Vec::new(),
        Answer::Go(screen) => go(state, screen),
        Answer::ClearEntry => bench::clear_entry(state),
        Answer::ClearAndOpen(lot) => {
            let mut effects = bench::clear_entry(state);
            effects.push(Effect::OpenLot(lot));
            effects
        }
        Answer::SetUp { currency } => first_run::questions(state, &currency),
        Answer::Demo => vec![Effect::Demo],
        answer => review::answered(state, answer),
    }
}
