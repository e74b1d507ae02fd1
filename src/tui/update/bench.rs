//! The bench: typing, accepting, asking back, scoring.

use super::super::dialog::{Answer, Choice, Dialog};
use super::super::effect::Effect;
use super::super::keymap::Act;
use super::super::message::{Logged, Opened, Trouble};
use super::super::state::{Burst, Entry, Notice, OnDisk, ReceiveAt, Screen, Shown, State, Work};
use super::{LONGEST, devices, forms, request};
use crate::desk::screen::Units;
use crate::desk::views::{Draft, DraftField, Echo, Field};
use crate::intake::LotId;
use crate::present::units::echo as echo_in_units;
use crate::scoring::Standing;
use tui_input::{Input, InputRequest};

/// Longest pause within a run of characters that a device sends, in milliseconds.
const BURST_PAUSE: u64 = 50;
/// Fewest characters of such a run.
const BURST_LEAST: usize = 4;

/// Carries out an act of the bench.
pub(super) fn act(state: &mut State, act: Act) -> Vec<Effect> {
    if act == Act::Back {
        return leave(state);
    }
    let probes: Vec<String> = state.facts.probes.iter().map(|probe| probe.name.clone()).collect();
    let at = state.moment;
    let Some(work) = state.bench.work.as_mut() else {
        return Vec::new();
    };
    match act {
        Act::Accept => accept(state),
        Act::Retype => {
            work.input = Input::default();
            changed(work)
        }
        Act::Keep => forms::ask_keep(state),
        Act::ScoreNow => {
            work.finishing = true;
            finish(state)
        }
        Act::Up | Act::Previous => move_focus(work, work.draft.focus.checked_sub(1)),
        Act::Down => move_focus(work, Some(work.draft.focus + 1)),
        Act::Earlier => {
            work.shown = match work.shown {
                Shown::InHand => work.pieces.len().checked_sub(1).map_or(Shown::InHand, Shown::Piece),
                Shown::Piece(index) => Shown::Piece(index.saturating_sub(1)),
            };
            Vec::new()
        }
        Act::Later => {
            work.shown = match work.shown {
                Shown::Piece(index) if index + 1 < work.pieces.len() => Shown::Piece(index + 1),
                _ => Shown::InHand,
            };
            Vec::new()
        }
        Act::NextProbe => {
            let now =
                work.draft.probe.as_ref().and_then(|name| probes.iter().position(|probe| probe == name));
            let next = now.map_or(0, |index| (index + 1) % probes.len());
            let Some(name) = probes.get(next) else { return Vec::new() };
            work.draft.probe = Some(name.clone());
            vec![Effect::SaveDraft(work.draft.clone())]
        }
        Act::ClearEntry => {
            if work.half_filled() {
                let title = "Clear the entry?".to_owned();
                let text =
                    "Everything typed for the piece in hand is emptied. Nothing was scored yet.".to_owned();
                let answers = vec![
                    ("no, keep what is typed".to_owned(), Answer::Stay),
                    ("yes, empty the form".to_owned(), Answer::ClearEntry),
                ];
                state.dialogs.push(Dialog::Choice(Choice { title, text, answers, selected: 0 }));
            }
            Vec::new()
        }
        _ => {
            let Some(request) = request(act) else { return Vec::new() };
            work.burst = Burst { last: at, ..Burst::default() };
            let edited = work.input.handle(request).is_some_and(|change| change.value);
            if edited { changed(work) } else { Vec::new() }
        }
    }
}

/// Leaves the bench for the lots of the shipment; what is typed stays.
fn leave(state: &mut State) -> Vec<Effect> {
    if let Some(work) = state.bench.work.as_mut()
        && let Entry::Question(_) = work.entry
    {
        // Esc takes the question away; the text stays and is asked about again when it is accepted.
        work.entry = Entry::Typing;
        return Vec::new();
    }
    state.screen = Screen::Receive;
    state.receive.at = ReceiveAt::Shipments;
    if let Some(work) = &state.bench.work {
        let lot = &work.lot;
        let whose = state.receive.shipments.iter().find(|shipment| shipment.id == lot.shipment);
        if let Some((number, index)) = whose.and_then(|whose| {
            Some((whose.number.clone(), whose.lots.iter().position(|one| one.id == lot.id)?))
        }) {
            state.receive.select(&number);
            state.receive.at = ReceiveAt::Lots;
            state.receive.lot = index;
        }
    }
    vec![Effect::LoadShipments]
}

/// Puts a character into the focused field.
pub(super) fn type_char(state: &mut State, c: char) -> Vec<Effect> {
    let at = state.moment;
    let Some(work) = state.bench.work.as_mut() else {
        state.notice = Some(Notice::Refused("no lot is open; choose one in Receive".to_owned()));
        return Vec::new();
    };
    if work.full() {
        let text =
            format!("every piece of {} is logged; add a line to its shipment for more", work.lot.number);
        state.notice = Some(Notice::Refused(text));
        return vec![Effect::Bell(1)];
    }
    let within = at.0.saturating_sub(work.burst.last.0) < BURST_PAUSE && !work.burst.text.is_empty();
    if !within {
        let before = work.input.value().to_owned();
        let after_fault = matches!(work.entry, Entry::Fault(_));
        work.burst = Burst { text: String::new(), last: at, before, after_fault };
    }
    if work.burst.text.chars().count() < LONGEST {
        work.burst.text.push(c);
    }
    work.burst.last = at;
    if work.input.value().chars().count() >= LONGEST {
        state.notice = Some(Notice::Refused(format!("a field takes at most {LONGEST} characters")));
        return Vec::new();
    }
    work.shown = Shown::InHand;
    let empty = work.input.value().is_empty();
    if c == '=' && empty && work.focused() == Some(Field::Serial) {
        let last = work.pieces.iter().rev().find_map(|piece| piece.serial.as_deref()).unwrap_or_default();
        work.input = Input::from(last.trim_end_matches(|c: char| c.is_ascii_digit()));
        work.burst = Burst::default();
    } else {
        work.input.handle(InputRequest::InsertChar(c));
    }
    changed(work)
}

/// Takes note that the text of the focused field has changed.
fn changed(work: &mut Work) -> Vec<Effect> {
    let focus = work.draft.focus;
    let text = work.input.value().to_owned();
    let Some(field) = work.draft.fields.get_mut(focus) else { return Vec::new() };
    field.text = text;
    field.accepted = false;
    field.reason = None;
    field.device_line = None;
    if let Some(echo) = work.echoes.get_mut(focus) {
        *echo = None;
    }
    work.entry = Entry::Typing;
    work.finishing = false;
    vec![Effect::KeepDraft(work.draft.clone())]
}

/// Moves the focus to a field, keeping what is typed.
fn move_focus(work: &mut Work, to: Option<usize>) -> Vec<Effect> {
    let Some(to) = to.filter(|to| *to < work.draft.fields.len()) else { return Vec::new() };
    focus(work, to);
    vec![Effect::KeepDraft(work.draft.clone())]
}

/// Puts the cursor at the end of a field.
fn focus(work: &mut Work, to: usize) {
    work.draft.focus = to;
    work.input = Input::from(work.draft.fields.get(to).map_or("", |field| field.text.as_str()));
    work.entry = Entry::Typing;
    work.burst = Burst::default();
}

/// Accepts the focused field, or takes what a device has typed into it to where it belongs.
fn accept(state: &mut State) -> Vec<Effect> {
    if let Some(burst) = fast_burst(state) {
        let routed = route_serial(state, &burst).or_else(|| devices::typed(state, &burst));
        if let Some(effects) = routed {
            return effects;
        }
        // What a device types into a field whose text was refused is a new value, not the rest of the refused one.
        if burst.after_fault
            && let Some(work) = state.bench.work.as_mut()
            && let Some(slot) = work.draft.fields.get_mut(work.draft.focus)
        {
            slot.text.clone_from(&burst.text);
            work.input = Input::from(burst.text.as_str());
        }
    }
    let Some((lot, index, field, text)) = in_focus(state) else { return Vec::new() };
    let Some(work) = state.bench.work.as_mut() else { return Vec::new() };
    if text.is_empty() {
        if field.may_stay_empty() {
            work.draft.fields[index].accepted = true;
            return go_on(state);
        }
        return fault(
            work,
            format!("{} is empty; type the value, or - when it was not measured", field.label()),
        );
    }
    if text == "=" {
        return fault(
            work,
            format!("{} is never repeated; measure it, or type - when it was not", field.label()),
        );
    }
    let Some(slot) = work.draft.fields.get_mut(index) else { return Vec::new() };
    let mut text = text;
    // What was accepted or sent by a device has its meaning already.
    if !slot.accepted && slot.device_line.is_none() {
        let kept = state.settings.units.kept_in(field, &text);
        if kept != text {
            slot.text.clone_from(&kept);
            work.input = Input::from(kept.as_str());
            text = kept;
        }
    }
    vec![Effect::Echo { lot, index, field, text }]
}

/// Returns lot, place, field and trimmed text of the focused field.
fn in_focus(state: &State) -> Option<(LotId, usize, Field, String)> {
    let work = state.bench.work.as_ref()?;
    let field = work.draft.fields.get(work.draft.focus)?;
    Some((work.lot.id, work.draft.focus, field.field, field.text.trim().to_owned()))
}

/// Shows why the focused field was not taken, and rings, since the eyes are on the metal.
fn fault(work: &mut Work, text: String) -> Vec<Effect> {
    work.entry = Entry::Fault(text);
    work.finishing = false;
    // What was accepted on the way here goes to disk, and so does the place of the cursor.
    vec![Effect::KeepDraft(work.draft.clone()), Effect::Bell(1)]
}

/// Takes the run of characters before this ending, when it came as fast as only a device types.
fn fast_burst(state: &mut State) -> Option<Burst> {
    let at = state.moment;
    let burst = std::mem::take(&mut state.bench.work.as_mut()?.burst);
    let fast = at.0.saturating_sub(burst.last.0) < BURST_PAUSE;
    (fast && burst.text.chars().count() >= BURST_LEAST).then_some(burst)
}

/// Moves a serial of the packing list that a device has typed into another field to the serial field.
fn route_serial(state: &mut State, burst: &Burst) -> Option<Vec<Effect>> {
    let work = state.bench.work.as_mut()?;
    let serial = burst.text.trim();
    let index = work.draft.fields.iter().position(|field| field.field == Field::Serial)?;
    // Serials are compared without regard to case, as everywhere in the book.
    let same = |a: &str, b: &str| a.to_uppercase() == b.to_uppercase();
    if index == work.draft.focus || !work.lot.serials_open.iter().any(|open| same(open, serial)) {
        return None;
    }
    let focused = work.draft.focus;
    work.draft.fields[focused].text.clone_from(&burst.before);
    work.input = Input::from(burst.before.as_str());
    let held = work.draft.fields[index].text.trim().to_owned();
    if !held.is_empty() && !same(&held, serial) {
        let text = format!("the serial field holds {held}; {serial}, which was scanned, was not taken");
        state.notice = Some(Notice::Refused(text));
        return Some(vec![Effect::KeepDraft(work.draft.clone()), Effect::Bell(1)]);
    }
    work.draft.fields[index].text = serial.to_owned();
    let (lot, text) = (work.lot.id, serial.to_owned());
    Some(vec![Effect::KeepDraft(work.draft.clone()), Effect::Echo { lot, index, field: Field::Serial, text }])
}

/// Takes what the program understood of a field.
pub(super) fn echoed(state: &mut State, index: usize, echo: Echo) -> Vec<Effect> {
    let Some(work) = state.bench.work.as_mut() else { return Vec::new() };
    let Some(field) = work.draft.fields.get_mut(index) else { return Vec::new() };
    if let Some(slot) = work.echoes.get_mut(index) {
        *slot = Some(shown_echo(field, &state.settings.units).unwrap_or(echo.stored));
    }
    match echo.question {
        Some(question) if field.reason.is_none() => {
            if index != work.draft.focus {
                focus(work, index);
            }
            work.finishing = false;
            work.entry = Entry::Question(question);
            vec![Effect::KeepDraft(work.draft.clone()), Effect::Bell(1)]
        }
        _ => {
            field.accepted = true;
            if index == work.draft.focus {
                work.entry = Entry::Typing;
                go_on(state)
            } else {
                vec![Effect::SaveDraft(work.draft.clone())]
            }
        }
    }
}

/// Returns the value of a field in the unit of the desk, where that is not the stored one.
fn shown_echo(field: &DraftField, units: &Units) -> Option<String> {
    let Field::Reading(measurand, _) = field.field else { return None };
    echo_in_units(measurand, &field.text, units)
}

/// Shows why a field was not understood.
pub(super) fn not_understood(state: &mut State, index: usize, trouble: Trouble) -> Vec<Effect> {
    let Some(work) = state.bench.work.as_mut() else { return Vec::new() };
    let hint = trouble.hints.first().map_or_else(String::new, |hint| format!("; {hint}"));
    let text = format!("{}{hint}", trouble.message);
    if index == work.draft.focus || work.finishing {
        if index != work.draft.focus {
            focus(work, index);
        }
        fault(work, text)
    } else {
        state.notice = Some(Notice::Refused(text));
        vec![Effect::Bell(1)]
    }
}

/// Keeps the value in question with a reason and goes on.
pub(super) fn keep(state: &mut State, reason: String) -> Vec<Effect> {
    let Some(work) = state.bench.work.as_mut() else { return Vec::new() };
    let focus = work.draft.focus;
    if !matches!(work.entry, Entry::Question(_)) {
        return Vec::new();
    }
    if let Some(field) = work.draft.fields.get_mut(focus) {
        field.accepted = true;
        field.reason = Some(reason);
    }
    work.entry = Entry::Typing;
    go_on(state)
}

/// Saves what was accepted and goes to the next field, or scores the piece when no field is left.
fn go_on(state: &mut State) -> Vec<Effect> {
    let Some(work) = state.bench.work.as_mut() else { return Vec::new() };
    if work.finishing {
        return finish(state);
    }
    let open = |index: &usize| !work.draft.fields[*index].accepted;
    let after = (work.draft.focus + 1..work.draft.fields.len()).find(open);
    let next = after.or_else(|| {
        (0..work.draft.fields.len()).find(|index| {
            let field = &work.draft.fields[*index];
            !field.accepted && (!field.field.may_stay_empty() || !field.text.trim().is_empty())
        })
    });
    match next {
        Some(next) => {
            focus(work, next);
            vec![Effect::SaveDraft(work.draft.clone())]
        }
        None => vec![Effect::SaveDraft(work.draft.clone()), Effect::Log(work.draft.clone())],
    }
}

/// Accepts every field with text in turn, marks the empty ones as not measured, and scores.
fn finish(state: &mut State) -> Vec<Effect> {
    let Some(work) = state.bench.work.as_mut() else { return Vec::new() };
    if !work.half_filled() {
        work.finishing = false;
        state.notice = Some(Notice::Refused("nothing is typed for this piece yet".to_owned()));
        return Vec::new();
    }
    let typed = |field: &DraftField| !field.accepted && !field.text.trim().is_empty();
    if let Some(index) = work.draft.fields.iter().position(typed) {
        if index != work.draft.focus {
            focus(work, index);
        }
        return accept_focused(state);
    }
    for field in work.draft.fields.iter_mut().filter(|field| !field.accepted) {
        field.text = if field.field.may_stay_empty() { String::new() } else { "-".to_owned() };
        field.accepted = true;
    }
    work.finishing = false;
    vec![Effect::SaveDraft(work.draft.clone()), Effect::Log(work.draft.clone())]
}

/// Accepts the focused field without looking for a serial in it.
fn accept_focused(state: &mut State) -> Vec<Effect> {
    if let Some(work) = state.bench.work.as_mut() {
        work.burst = Burst::default();
    }
    accept(state)
}

/// Puts an opened lot on the bench.
pub(super) fn opened(state: &mut State, opened: Opened) -> Vec<Effect> {
    let Opened { lot, pieces, draft, mut echoes } = opened;
    echoes.resize(draft.fields.len(), None);
    for (echo, field) in echoes.iter_mut().zip(&draft.fields).filter(|(echo, _)| echo.is_some()) {
        *echo = shown_echo(field, &state.settings.units).or(echo.take());
    }
    let mut work = Work {
        lot,
        pieces,
        draft,
        echoes,
        input: Input::default(),
        entry: Entry::Typing,
        shown: Shown::InHand,
        finishing: false,
        disk: OnDisk::Saved,
        burst: Burst::default(),
    };
    if work.draft.probe.is_none() {
        work.draft.probe = state.facts.probes.first().map(|probe| probe.name.clone());
    }
    let to = if work.half_filled() {
        let units = &state.settings.units;
        // It may have been typed while the desk had another unit: that is said before it is accepted.
        let open =
            |field: &DraftField| !field.accepted && units.kept_in(field.field, &field.text) != field.text;
        let more = match work.draft.fields.iter().any(open) {
            true => " What is not accepted yet counts in the unit beside its field.",
            false => "",
        };
        state.notice = Some(Notice::Done(format!("The half-filled piece is as you left it.{more}")));
        work.draft.focus.min(work.draft.fields.len().saturating_sub(1))
    } else {
        first_field(&work)
    };
    focus(&mut work, to);
    let save = Effect::SaveDraft(work.draft.clone());
    state.bench.work = Some(work);
    state.screen = Screen::Bench;
    state.dialogs.clear();
    vec![save]
}

/// Returns the field a new piece starts with: the serial only where serials are in use.
fn first_field(work: &Work) -> usize {
    let serials = !work.lot.serials_open.is_empty() || work.pieces.iter().any(|piece| piece.serial.is_some());
    let first = work.draft.fields.first().map(|field| field.field);
    usize::from(first == Some(Field::Serial) && !serials && work.draft.fields.len() > 1)
}

/// Takes a logged piece: its verdict is shown, and the cursor is on the next piece.
pub(super) fn logged(state: &mut State, logged: Logged) -> Vec<Effect> {
    let Logged { piece, lot, draft } = logged;
    let Some(work) = state.bench.work.as_mut() else { return Vec::new() };
    let rings = match piece.standing {
        Standing::Clear => 0,
        Standing::Hold => 1,
        Standing::Refuse => 2,
    };
    let probe = work.draft.probe.take();
    work.pieces.push(piece);
    work.lot = lot;
    start_draft(work, Draft { probe: probe.or_else(|| draft.probe.clone()), ..draft });
    work.shown = Shown::Piece(work.pieces.len() - 1);
    if work.full() {
        let text = format!("Every piece of {} is logged. Esc goes back to the lots.", work.lot.number);
        state.notice = Some(Notice::Done(text));
    }
    let save = Effect::SaveDraft(work.draft.clone());
    if rings == 0 { vec![save] } else { vec![save, Effect::Bell(rings)] }
}

/// Starts an empty draft.
fn start_draft(work: &mut Work, draft: Draft) {
    work.echoes = vec![None; draft.fields.len()];
    work.draft = draft;
    work.finishing = false;
    let to = first_field(work);
    focus(work, to);
}

/// Empties the entry form.
pub(super) fn clear_entry(state: &mut State) -> Vec<Effect> {
    let Some(work) = state.bench.work.as_mut() else { return Vec::new() };
    let mut draft = work.draft.clone();
    for field in &mut draft.fields {
        field.text.clear();
        field.accepted = false;
        field.reason = None;
        field.device_line = None;
    }
    start_draft(work, draft);
    vec![Effect::SaveDraft(work.draft.clone())]
}

/// Opens a lot, or asks when a half-filled piece of another lot is in hand.
pub(super) fn open_lot(state: &mut State, lot: LotId) -> Vec<Effect> {
    if let Some(work) = &state.bench.work {
        if work.lot.id == lot {
            state.screen = Screen::Bench;
            state.dialogs.clear();
            return vec![Effect::RefreshLot(lot)];
        }
        if work.half_filled() {
            let title = "A piece is half filled".to_owned();
            let text = format!("A piece of {} is in hand. One piece at a time.", work.lot.number);
            let answers = vec![
                ("go back to that piece".to_owned(), Answer::Go(Screen::Bench)),
                ("empty its form and open the other lot".to_owned(), Answer::ClearAndOpen(lot)),
                ("stay here".to_owned(), Answer::Stay),
            ];
            state.dialogs.push(Dialog::Choice(Choice { title, text, answers, selected: 0 }));
            return Vec::new();
        }
    }
    vec![Effect::OpenLot(lot)]
}
