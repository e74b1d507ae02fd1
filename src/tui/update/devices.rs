//! What devices send: into the field that takes it, or said why not. What is half typed is never touched.

use super::super::devices::{Standing, gone_text};
use super::super::effect::Effect;
use super::super::state::{Burst, Entry, Notice, Screen, Shown, State};
use crate::desk::devices::{Heard, HeardFrom};
use crate::desk::views::Field;
use crate::evidence::Measurand;
use crate::intake::device::{Captured, DeviceNews, DeviceNote, LineReading, RawLine};
use tui_input::Input;

/// A value on its way to a field.
struct Coming {
    /// Name of the device.
    from: String,
    /// What it may feed.
    feeds: Vec<Measurand>,
    /// The text for the field.
    text: String,
    /// The line it came in, every byte readable.
    line: String,
}

/// Takes what a device did.
pub(super) fn heard(state: &mut State, from: HeardFrom) -> Vec<Effect> {
    let HeardFrom { device, heard } = from;
    let on_bench = state.screen == Screen::Bench;
    let Some(device) = state.devices.get_mut(device) else { return Vec::new() };
    let name = device.profile.name.clone();
    match heard {
        Heard::Connected => {
            let back = matches!(device.standing, Standing::Gone(_));
            device.standing = Standing::Said(DeviceNote::Nothing);
            if back {
                state.notice = Some(Notice::Done(format!("The device {name} is connected again.")));
            }
            Vec::new()
        }
        Heard::Gone(why) => {
            let words = gone_text(&name, &why);
            device.standing = Standing::Gone(why);
            state.notice = Some(Notice::Refused(words.trim_start_matches("! ").to_owned()));
            vec![Effect::Bell(1)]
        }
        Heard::News(DeviceNews::Note(note)) => {
            let rings = on_bench && matches!(note, DeviceNote::Overload | DeviceNote::WrongUnit { .. });
            device.standing = Standing::Said(note);
            if rings { vec![Effect::Bell(1)] } else { Vec::new() }
        }
        Heard::News(DeviceNews::Value(Captured { value, line })) => {
            let feeds = device.profile.feeds.clone();
            put(state, Coming { from: name, feeds, text: value.text().to_owned(), line })
        }
    }
}

/// Takes a run of characters that a device has typed, when a profile knows it; `None` leaves it as typed.
pub(super) fn typed(state: &mut State, burst: &Burst) -> Option<Vec<Effect>> {
    let text = burst.text.trim();
    let line = RawLine::of(text);
    let focused = state.bench.work.as_ref()?.focused();
    let known = state.devices.iter().filter(|device| device.profile.keyboard).filter_map(|device| {
        let said = device.profile.read_line(&line);
        // The field in hand decides between devices whose lines look alike; then what is a value.
        let rank = match &said {
            LineReading::Garbage(_) => return None,
            LineReading::Stable(_) if fits(focused, &device.profile.feeds) => 0,
            LineReading::Stable(_) => 1,
            _ => 2,
        };
        Some((rank, device, said))
    });
    let (_, device, said) = known.min_by_key(|(rank, ..)| *rank)?;
    let (from, feeds) = (device.profile.name.clone(), device.profile.feeds.clone());
    let work = state.bench.work.as_mut()?;
    let focus = work.draft.focus;
    work.draft.fields.get_mut(focus)?.text.clone_from(&burst.before);
    work.input = Input::from(burst.before.as_str());
    let mut effects = vec![Effect::KeepDraft(work.draft.clone())];
    match said {
        LineReading::Stable(value) => {
            let text = value.text().to_owned();
            effects.extend(put(state, Coming { from, feeds, text, line: line.to_string() }));
        }
        said => {
            state.notice = Some(Notice::Refused(format!("{from}: {}", DeviceNote::of(&said, &line))));
            effects.push(Effect::Bell(1));
        }
    }
    Some(effects)
}

/// Tells whether a device may feed a field.
fn fits(field: Option<Field>, feeds: &[Measurand]) -> bool {
    matches!(field, Some(Field::Reading(measurand, _)) if feeds.contains(&measurand))
}

/// Puts a value into its field and accepts it as Enter would, or says why not.
fn put(state: &mut State, coming: Coming) -> Vec<Effect> {
    let index = match place(state, &coming) {
        Ok(index) => index,
        Err(why) => {
            let Coming { from, text, .. } = coming;
            state.notice = Some(Notice::Refused(format!("{text} from {from} was not taken: {why}")));
            return vec![Effect::Bell(1)];
        }
    };
    let Some(work) = state.bench.work.as_mut() else { return Vec::new() };
    let Some(field) = work.draft.fields.get_mut(index) else { return Vec::new() };
    let Coming { from, text, line, .. } = coming;
    field.text.clone_from(&text);
    field.accepted = false;
    field.reason = None;
    field.device_line = Some(line);
    let field = field.field;
    if let Some(echo) = work.echoes.get_mut(index) {
        *echo = None;
    }
    work.finishing = false;
    work.shown = Shown::InHand;
    if index == work.draft.focus {
        work.input = Input::from(text.as_str());
        work.entry = Entry::Typing;
        work.burst = Burst::default();
    } else {
        state.notice = Some(Notice::Done(format!("{}: {text} from {from}.", field.label())));
    }
    vec![Effect::KeepDraft(work.draft.clone()), Effect::Echo { lot: work.lot.id, index, field, text }]
}

/// Returns the field that takes a value: the one in hand if it fits, else the first empty one that does.
///
/// When the one in hand fits and something is typed in it, no other is taken: the value was meant for this one.
fn place(state: &State, coming: &Coming) -> Result<usize, String> {
    if !state.dialogs.is_empty() {
        return Err("a dialog is open; close it and measure again".to_owned());
    }
    if state.screen != Screen::Bench {
        return Err("the bench is not on the screen; go there and measure again".to_owned());
    }
    let Some(work) = state.bench.work.as_ref() else { return Err("no lot is open".to_owned()) };
    if work.full() {
        return Err(format!("every piece of {} is logged", work.lot.number));
    }
    let fields = &work.draft.fields;
    let focus = work.draft.focus;
    if let Some(field) = fields.get(focus).filter(|field| fits(Some(field.field), &coming.feeds)) {
        return if field.text.trim().is_empty() {
            Ok(focus)
        } else {
            Err(format!("{} holds `{}`; empty it and measure again", field.field.label(), field.text.trim()))
        };
    }
    fields
        .iter()
        .position(|field| fits(Some(field.field), &coming.feeds) && field.text.trim().is_empty())
        .ok_or_else(|| "no empty field takes it".to_owned())
}
