//! `update`: what a message does to the state, and what the shell is to do about it. No I/O, no clock.

mod answers;
mod bench;
mod choose;
mod devices;
mod find;
mod first_run;
mod forms;
mod last_acts;
mod lists;
mod pages;
mod review;
mod review_forms;

use super::dialog::{Content, Dialog, Page};
use super::effect::Effect;
use super::keymap::{Act, Key};
use super::message::Message;
use super::state::{ListFilter, Moment, ReceiveAt, Screen, State};
use crate::present::text::clean;
use tui_input::{Input, InputRequest};

/// Longest text a field takes, in characters.
const LONGEST: usize = 200;

/// Takes a key: finds its meaning in the keymap for the place that has the keys, and carries it out.
///
/// A line feed right after a carriage return is the second half of the same ending and does nothing.
pub fn press(state: &mut State, key: Key, at: Moment) -> Vec<Effect> {
    let second_half = key == Key::LineFeed && state.last_key == Some(Key::Enter);
    state.last_key = Some(key);
    if second_half {
        return Vec::new();
    }
    state.moment = at;
    match state.keymap.message(state.place(), key) {
        Some(message) => {
            state.notice = None;
            update(state, message)
        }
        None => Vec::new(),
    }
}

/// Carries out a message and returns what the shell is to do.
pub fn update(state: &mut State, message: Message) -> Vec<Effect> {
    match message {
        Message::Act(act) => carry_out(state, act),
        Message::Type(c) => type_char(state, c),
        Message::Paste(text) => paste(state, &text),
        Message::Device(heard) => devices::heard(state, heard),
        Message::Resize { width, height } => {
            state.width = width;
            state.height = height;
            Vec::new()
        }
        answer => answers::take(state, answer),
    }
}

/// Carries out an act: the ones that work everywhere, then those of the dialog or the screen.
fn carry_out(state: &mut State, act: Act) -> Vec<Effect> {
    match act {
        Act::Quit => vec![Effect::Quit],
        Act::Redraw => vec![Effect::Redraw],
        Act::Help => {
            let place = state.place();
            if !matches!(state.dialogs.last(), Some(Dialog::Page(Page { content: Content::Help(_), .. }))) {
                state.dialogs.push(Dialog::Page(Page::new("Help", Content::Help(place))));
            }
            Vec::new()
        }
        Act::Palette => {
            state.dialogs.push(Dialog::Palette { query: Input::default(), selected: 0 });
            Vec::new()
        }
        Act::Find => find::open(state),
        Act::Undo => vec![Effect::LoadActs],
        Act::Screens => {
            choose::screens(state);
            Vec::new()
        }
        Act::GoReceive => go(state, Screen::Receive),
        Act::GoBench => go(state, Screen::Bench),
        Act::GoHolds => go(state, Screen::Holds),
        Act::GoStock => go(state, Screen::Stock),
        Act::GoInstruments => go(state, Screen::Instruments),
        Act::GoReference => go(state, Screen::Reference),
        Act::GoDay => go(state, Screen::Day),
        Act::Correct => forms::ask_correct(state),
        Act::Hold => forms::ask_hold(state),
        Act::Void => forms::ask_void(state),
        Act::Evidence => lists::show_evidence(state),
        Act::Budget => lists::show_budget(state),
        Act::Plot => lists::show_plots(state),
        Act::Policy => vec![Effect::LoadPolicy],
        Act::Control => review_forms::ask_control(state),
        Act::Reach => review_forms::ask_reach(state),
        Act::Mark
        | Act::SecondTest
        | Act::Settle
        | Act::Sample
        | Act::PartWith
        | Act::Release
        | Act::WriteFiles => review::act(state, act),
        _ => local(state, act),
    }
}

/// Carries out an act of the dialog on top or of the screen.
fn local(state: &mut State, act: Act) -> Vec<Effect> {
    match state.dialogs.last() {
        Some(Dialog::Form(_)) => return forms::act(state, act),
        Some(Dialog::Palette { .. } | Dialog::Choice(_)) => return choose::act(state, act),
        Some(Dialog::Methods(_) | Dialog::Partials(_)) => return review::choose(state, act),
        Some(Dialog::Finder(_)) => return find::act(state, act),
        Some(Dialog::LastActs(_)) => return last_acts::act(state, act),
        Some(Dialog::Page(_)) => return pages::act(state, act),
        None => {}
    }
    if filter_mut(state).is_some_and(|filter| filter.typing) {
        return lists::filter_act(state, act);
    }
    match state.screen {
        Screen::Bench => bench::act(state, act),
        Screen::Receive | Screen::Holds | Screen::Stock | Screen::Instruments | Screen::Reference => {
            lists::act(state, act)
        }
        Screen::Day => lists::day_act(state, act),
    }
}

/// Puts a typed character where the focus is.
fn type_char(state: &mut State, c: char) -> Vec<Effect> {
    let text = clean(&c.to_string());
    let Some(c) = text.chars().next() else { return Vec::new() };
    match state.dialogs.last_mut() {
        Some(Dialog::Form(_)) => return forms::edit(state, InputRequest::InsertChar(c)),
        Some(Dialog::Palette { query, selected }) => {
            insert(query, c);
            *selected = 0;
            return Vec::new();
        }
        Some(Dialog::Finder(finder)) => return find::type_char(finder, c),
        Some(_) => return Vec::new(),
        None => {}
    }
    if let Some(filter) = filter_mut(state).filter(|filter| filter.typing) {
        insert(&mut filter.input, c);
        lists::to_top(state);
        return Vec::new();
    }
    if state.screen == Screen::Bench { bench::type_char(state, c) } else { Vec::new() }
}

/// Puts a pasted text where the focus is: it fills a field and ends none.
fn paste(state: &mut State, text: &str) -> Vec<Effect> {
    let mut effects = Vec::new();
    for c in clean(text).trim().chars().take(LONGEST) {
        let wished = type_char(state, c);
        if !wished.is_empty() {
            effects = wished;
        }
    }
    if let Some(work) = state.bench.work.as_mut() {
        work.burst = super::state::Burst::default();
    }
    effects
}

/// Inserts a character unless the text is as long as any field takes.
fn insert(input: &mut Input, c: char) {
    if input.value().chars().count() < LONGEST {
        input.handle(InputRequest::InsertChar(c));
    }
}

/// Returns the editing request that an act stands for.
fn request(act: Act) -> Option<InputRequest> {
    match act {
        Act::Left => Some(InputRequest::GoToPrevChar),
        Act::Right => Some(InputRequest::GoToNextChar),
        Act::LineStart => Some(InputRequest::GoToStart),
        Act::LineEnd => Some(InputRequest::GoToEnd),
        Act::DeleteBack => Some(InputRequest::DeletePrevChar),
        Act::DeleteForward => Some(InputRequest::DeleteNextChar),
        _ => None,
    }
}

/// Returns the filter of the list on the screen, to be changed.
fn filter_mut(state: &mut State) -> Option<&mut ListFilter> {
    match state.screen {
        Screen::Receive if state.receive.at == ReceiveAt::Shipments => Some(&mut state.receive.filter),
        Screen::Holds => Some(&mut state.holds.filter),
        Screen::Stock => Some(&mut state.stock.filter),
        Screen::Instruments => Some(&mut state.instruments.filter),
        Screen::Reference => Some(&mut state.reference.filter),
        Screen::Receive | Screen::Bench | Screen::Day => None,
    }
}

/// Goes to a screen, closing all dialogs, and reads what it shows.
fn go(state: &mut State, screen: Screen) -> Vec<Effect> {
    state.dialogs.clear();
    state.screen = screen;
    match screen {
        Screen::Receive => vec![Effect::LoadShipments],
        Screen::Holds => vec![Effect::LoadHolds],
        Screen::Stock => vec![Effect::LoadStock],
        Screen::Instruments => vec![Effect::LoadInstruments],
        Screen::Day => vec![Effect::LoadDay(None)],
        Screen::Reference => vec![Effect::LoadTypeBook],
        Screen::Bench => Vec::new(),
    }
}

/// Returns a row moved by an act in a list of `length` rows with `page` rows to a page.
fn moved(at: usize, act: Act, length: usize, page: usize) -> usize {
    let last = length.saturating_sub(1);
    let page = page.max(1);
    match act {
        Act::Up | Act::Previous => at.saturating_sub(1),
        Act::Down => (at + 1).min(last),
        Act::PageUp => at.saturating_sub(page),
        Act::PageDown => (at + page).min(last),
        Act::First => 0,
        Act::Last => last,
        _ => at.min(last),
    }
}
