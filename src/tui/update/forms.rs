//! Forms: asking, filling, carrying out.

use super::super::dialog::{Content, Dialog, Form, FormRow, Page, Purpose, RowKind};
use super::super::effect::{Effect, Then};
use super::super::holds::HoldRow;
use super::super::keymap::Act;
use super::super::message::Trouble;
use super::super::second_test::Meaning;
use super::super::state::{Entry, Notice, ReceiveAt, Screen, State};
use super::{bench, insert, moved, request, review_forms};
use crate::desk::screen::Units;
use crate::desk::views::{Field, PieceView};
use crate::evidence::Measurand;
use crate::reference::closest::closest;
use crate::scoring::{DoubtKind, Scope};
use tui_input::{Input, InputRequest};

/// One measurand of each unit that a desk may choose.
const KINDS: [Measurand; 3] = [Measurand::Mass, Measurand::Diameter, Measurand::Conductivity];
/// Most products that are listed below a field.
const MATCHES: usize = 6;

/// Opens a form, with the text it was left with when it is the one put aside.
pub(super) fn ask(state: &mut State, mut form: Form) -> Vec<Effect> {
    for row in &mut form.rows {
        if let RowKind::Value { reads, .. } = &row.kind
            && let Some(unit) = reads.other_unit(&state.settings.units)
        {
            row.hint.push_str(&format!("; a bare number is in {}", unit.symbol));
        }
    }
    let form = match state.put_aside.take() {
        Some(aside) if aside.purpose == form.purpose => Form { fault: None, ..aside },
        other => {
            state.put_aside = other;
            form
        }
    };
    state.dialogs.push(Dialog::Form(Box::new(form)));
    Vec::new()
}

/// Asks for a shipment.
pub(super) fn ask_shipment(state: &mut State) -> Vec<Effect> {
    let rows = vec![
        FormRow::new("source", "who sent it", RowKind::Text),
        FormRow::new(
            "packing list",
            "path of a CSV file; leave it empty to type the lines",
            RowKind::Optional,
        ),
    ];
    ask(state, Form::new(Purpose::NewShipment, "New shipment", rows))
}

/// Asks for a line of the selected shipment.
pub(super) fn ask_line(state: &mut State) -> Vec<Effect> {
    let Some(shipment) = state.receive.current() else { return Vec::new() };
    let purpose = Purpose::NewLine { shipment: shipment.id };
    let title = format!("New line of {}", shipment.number);
    let kind = RowKind::Product { matches: Vec::new(), selected: 0 };
    let rows = vec![
        FormRow::new("product", "its id, or a word of its name", kind),
        FormRow::new("quantity", "pieces on the packing list", RowKind::Text),
    ];
    ask(state, Form::new(purpose, title, rows))
}

/// Asks why a value far off is kept.
pub(super) fn ask_keep(state: &mut State) -> Vec<Effect> {
    let Some(Entry::Question(question)) = state.bench.work.as_ref().map(|work| &work.entry) else {
        return Vec::new();
    };
    let hint = question.clone();
    let rows = vec![FormRow::new("why", &hint, RowKind::Text)];
    ask(state, Form::new(Purpose::Keep, "Keep the value", rows))
}

/// What is to be asked about a piece: the piece itself, or first the shell for it.
pub(super) enum Target {
    /// It is there.
    Piece(Box<PieceView>),
    /// Its number is known.
    Load(String),
    /// None is selected.
    None,
}

/// Returns the piece that acts concern.
pub(super) fn target(state: &State) -> Target {
    match state.dialogs.last() {
        Some(Dialog::Page(Page { content: Content::Piece(piece), .. })) => {
            return Target::Piece(piece.clone());
        }
        Some(Dialog::Page(Page { content: Content::Outcome(outcome), .. })) => {
            return Target::Piece(Box::new(outcome.piece.clone()));
        }
        _ => {}
    }
    match state.screen {
        Screen::Bench => state
            .bench
            .work
            .as_ref()
            .and_then(|work| work.selected())
            .map_or(Target::None, |piece| Target::Piece(Box::new(piece.clone()))),
        Screen::Holds => match state.holds.current() {
            Some(HoldRow::One { held, .. }) if held.group.scope == Scope::Piece => {
                Target::Load(held.group.number.clone())
            }
            _ => Target::None,
        },
        Screen::Stock => {
            state.stock.current().map_or(Target::None, |piece| Target::Load(piece.piece.clone()))
        }
        Screen::Receive | Screen::Instruments | Screen::Reference | Screen::Day => Target::None,
    }
}

/// Returns the number of the selected piece.
pub(super) fn selected_number(state: &State) -> Option<String> {
    match target(state) {
        Target::Piece(piece) => Some(piece.number.clone()),
        Target::Load(number) => Some(number),
        Target::None => None,
    }
}

/// Asks about the selected piece, reading it first where only its number is known.
fn ask_about(state: &mut State, then: Then) -> Vec<Effect> {
    match target(state) {
        Target::Piece(piece) => ask_piece(state, &piece, then),
        Target::Load(number) => vec![Effect::OpenPiece { number, then }],
        Target::None => {
            state.notice = Some(Notice::Refused("no logged piece is selected".to_owned()));
            Vec::new()
        }
    }
}

/// Asks what to correct.
pub(super) fn ask_correct(state: &mut State) -> Vec<Effect> {
    ask_about(state, Then::Correct)
}

/// Asks about a hold.
pub(super) fn ask_hold(state: &mut State) -> Vec<Effect> {
    ask_about(state, Then::Hold)
}

/// Asks why a piece is void.
pub(super) fn ask_void(state: &mut State) -> Vec<Effect> {
    ask_about(state, Then::Void)
}

/// Asks about a piece.
pub(super) fn ask_piece(state: &mut State, piece: &PieceView, then: Then) -> Vec<Effect> {
    let why = || FormRow::new("why", "the reason, for the record", RowKind::Text);
    let (purpose, title, rows) = match then {
        Then::ShowEvidence | Then::Test | Then::Settle | Then::Refresh => return Vec::new(),
        Then::Correct => {
            let mut fields = vec![Field::Serial];
            fields
                .extend(piece.readings.iter().map(|reading| Field::Reading(reading.measurand, reading.spot)));
            for check in &piece.assessment.checks {
                let field = Field::Reading(check.measurand, 1);
                if !fields.contains(&field) {
                    fields.push(field);
                }
            }
            let selected = usize::from(fields.len() > 1);
            let options = fields.iter().map(|field| field.label()).collect();
            let rows = vec![
                FormRow::new("field", "arrows choose", RowKind::Options { options, selected }),
                FormRow::new("new value", &as_shown(&state.settings.units, &KINDS), RowKind::Text),
                why(),
            ];
            (Purpose::Correct { piece: piece.id, fields }, format!("Correct {}", piece.number), rows)
        }
        Then::Hold => {
            let scored = |kind, key: &str| {
                piece.assessment.doubts.iter().any(|doubt| doubt.kind == kind && doubt.cause.key() == key)
            };
            // What neither scoring nor the record of serials has raised, a person has.
            let by_hand = piece
                .doubts
                .iter()
                .any(|open| open.kind != DoubtKind::Identity && !scored(open.kind, &open.cause.key()));
            let options = vec!["put on hold".to_owned(), "take a hold set by hand back".to_owned()];
            let kind = RowKind::Options { options, selected: usize::from(by_hand) };
            let rows = vec![FormRow::new("act", "arrows choose", kind), why()];
            (Purpose::Hold { piece: piece.id }, format!("Hold {}", piece.number), rows)
        }
        Then::Void => (Purpose::Void { piece: piece.id }, format!("Void {}", piece.number), vec![why()]),
    };
    ask(state, Form::new(purpose, title, rows))
}

/// Carries out an act of the form on top.
pub(super) fn act(state: &mut State, act: Act) -> Vec<Effect> {
    let Some(Dialog::Form(form)) = state.dialogs.last_mut() else { return Vec::new() };
    match act {
        Act::Back => {
            if let Some(Dialog::Form(form)) = state.dialogs.pop() {
                // A PIN is not kept.
                if !matches!(form.purpose, Purpose::Pin { .. }) {
                    state.put_aside = Some(*form);
                }
            }
            Vec::new()
        }
        Act::Accept => accept(state),
        Act::Previous => {
            form.focus = form.before().unwrap_or(form.focus);
            Vec::new()
        }
        Act::Up | Act::Down | Act::Left | Act::Right => {
            let step = if matches!(act, Act::Up | Act::Left) { Act::Up } else { Act::Down };
            let vertical = matches!(act, Act::Up | Act::Down);
            let (before, after) = (form.before(), form.after());
            match &mut form.rows[form.focus].kind {
                RowKind::Options { options, selected } => {
                    *selected = moved(*selected, step, options.len(), 1)
                }
                RowKind::Product { matches, selected } if vertical && !matches.is_empty() => {
                    *selected = moved(*selected, step, matches.len(), 1);
                }
                _ if vertical && step == Act::Up => form.focus = before.unwrap_or(form.focus),
                _ if vertical => form.focus = after.unwrap_or(form.focus),
                _ => return request(act).map_or_else(Vec::new, |request| edit(state, request)),
            }
            Vec::new()
        }
        _ => request(act).map_or_else(Vec::new, |request| edit(state, request)),
    }
}

/// Edits the text of the focused row.
pub(super) fn edit(state: &mut State, request: InputRequest) -> Vec<Effect> {
    let Some(Dialog::Form(form)) = state.dialogs.last_mut() else { return Vec::new() };
    let row = &mut form.rows[form.focus];
    if let RowKind::Options { options, selected } = &mut row.kind {
        // A letter chooses the next word that begins with it.
        if let InputRequest::InsertChar(c) = request {
            let starts = |word: &String| word.starts_with(c.to_ascii_lowercase());
            let next = options.iter().enumerate().cycle().skip(*selected + 1).take(options.len());
            if let Some((index, _)) = next.into_iter().find(|(_, word)| starts(word)) {
                *selected = index;
            }
        }
        return Vec::new();
    }
    match request {
        InputRequest::InsertChar(c) => insert(&mut row.input, c),
        request => {
            row.input.handle(request);
        }
    }
    form.fault = None;
    let typed = row.input.value().to_owned();
    match &mut row.kind {
        RowKind::Product { matches, selected } => {
            *matches = matching(&state.facts.products, &typed);
            *selected = 0;
        }
        RowKind::Value { reads, echo, .. } => {
            *echo = match reads.understand(&typed, &state.settings.units) {
                Ok(Meaning::Value(stored)) => Some(stored),
                Ok(Meaning::Recording(_)) => Some("Enter reads it".to_owned()),
                Err(_) => None,
            };
        }
        _ => {}
    }
    Vec::new()
}

/// Returns the places of the products that contain every typed word, the exact id first; when there are none, of those
/// whose id comes closest.
fn matching(products: &[super::super::state::ProductLine], typed: &str) -> Vec<usize> {
    let typed = typed.trim().to_lowercase();
    if typed.is_empty() {
        return Vec::new();
    }
    let words: Vec<&str> = typed.split_whitespace().collect();
    let mut found: Vec<usize> = products
        .iter()
        .enumerate()
        .filter(|(_, product)| {
            let text = format!("{} {} {}", product.id, product.name, product.metal).to_lowercase();
            words.iter().all(|word| text.contains(word))
        })
        .map(|(index, _)| index)
        .collect();
    found.sort_by_key(|index| products[*index].id.to_lowercase() != typed);
    if found.is_empty() {
        let ids = closest(&typed, products.iter().map(|product| product.id.as_str()), MATCHES);
        found =
            ids.into_iter().filter_map(|id| products.iter().position(|product| product.id == id)).collect();
    }
    found.truncate(MATCHES);
    found
}

/// Shows why a form was not taken.
pub(super) fn refuse(form: &mut Form, message: String) -> Vec<Effect> {
    form.fault = Some(Trouble { message, hints: Vec::new() });
    Vec::new()
}

/// Accepts the focused row; after the last one the form is carried out.
fn accept(state: &mut State) -> Vec<Effect> {
    let Some(Dialog::Form(form)) = state.dialogs.last_mut() else { return Vec::new() };
    form.fault = None;
    let row = &mut form.rows[form.focus];
    match &row.kind {
        RowKind::Text | RowKind::Secret if row.input.value().trim().is_empty() => {
            let message = format!("{} is empty; needed is {}", row.label, row.hint);
            return refuse(form, message);
        }
        RowKind::Product { matches, selected } => match matches.get(*selected) {
            Some(index) => {
                let id = state.facts.products[*index].id.clone();
                row.input = Input::from(id.as_str());
                row.kind = RowKind::Product { matches: vec![*index], selected: 0 };
            }
            None => {
                let message = format!("product `{}` is not in the reference", row.input.value());
                return refuse(form, message);
            }
        },
        RowKind::Value { optional: true, .. } if row.input.value().trim().is_empty() => {}
        RowKind::Value { reads, .. } => match reads.understand(row.input.value(), &state.settings.units) {
            Ok(Meaning::Value(_)) => {}
            Ok(Meaning::Recording(path)) => return vec![Effect::ReadRecording { row: form.focus, path }],
            Err(message) => return refuse(form, message),
        },
        _ => {}
    }
    match form.after() {
        Some(next) => {
            form.focus = next;
            Vec::new()
        }
        None => submit(state),
    }
}

/// Puts the unit behind every bare number that the desk understands in another unit than the stored one.
fn name_units(form: &mut Form, units: &Units) {
    for row in &mut form.rows {
        if let RowKind::Value { reads, .. } = &row.kind {
            let kept = reads.kept(row.input.value(), units);
            if kept != row.input.value() {
                row.input = Input::from(kept.as_str());
            }
        }
    }
}

/// Returns what is to be typed for a value of several measurands, with the units of bare numbers where the desk chose some.
pub(super) fn as_shown(units: &Units, measurands: &[Measurand]) -> String {
    let chosen: Vec<&str> =
        measurands.iter().filter_map(|one| units.other_than_stored(*one)).map(|unit| unit.symbol).collect();
    let bare = match chosen.as_slice() {
        [] => String::new(),
        [one] => format!("; a bare number is in {one}"),
        several => format!("; bare numbers are in {}", several.join(", ")),
    };
    format!("as the instrument shows it{bare}")
}

/// Carries out a filled form.
fn submit(state: &mut State) -> Vec<Effect> {
    let Some(Dialog::Form(form)) = state.dialogs.last_mut() else { return Vec::new() };
    let missing = form.rows.iter().position(|row| {
        matches!(row.kind, RowKind::Text | RowKind::Secret) && row.input.value().trim().is_empty()
    });
    if let Some(index) = missing {
        form.focus = index;
        return Vec::new();
    }
    name_units(form, &state.settings.units);
    let text = |index: usize| {
        form.rows.get(index).map_or_else(String::new, |row| row.input.value().trim().to_owned())
    };
    let chosen = |index: usize| match form.rows.get(index).map(|row| &row.kind) {
        Some(RowKind::Options { selected, .. }) => *selected,
        _ => 0,
    };
    match form.purpose.clone() {
        Purpose::SetUp => vec![Effect::SetUp { name: text(0), currency: text(1), path: text(2) }],
        Purpose::NewShipment => {
            let (source, path) = (text(0), text(1));
            if path.is_empty() {
                vec![Effect::NewShipment { source }]
            } else {
                vec![Effect::Receive { source, path }]
            }
        }
        Purpose::NewLine { shipment } => match text(1).parse::<u32>() {
            Ok(quantity) if (1..=100_000).contains(&quantity) => {
                vec![Effect::AddLine { shipment, product: text(0), quantity }]
            }
            _ => {
                let message = format!("quantity `{}` is not a whole number from 1 to 100000", text(1));
                refuse(form, message)
            }
        },
        Purpose::Correct { piece, fields } => {
            let field = fields.get(chosen(0)).copied().unwrap_or(Field::Serial);
            let text = (state.settings.units.kept_in(field, &text(1)), text(2));
            vec![Effect::Correct { piece, field, text: text.0, reason: text.1 }]
        }
        Purpose::Hold { piece } => {
            let reason = text(1);
            if chosen(0) == 0 {
                vec![Effect::Hold { piece, reason }]
            } else {
                vec![Effect::TakeBack { piece, reason }]
            }
        }
        Purpose::Void { piece } => vec![Effect::Void { piece, reason: text(0) }],
        Purpose::Keep => {
            let reason = text(0);
            state.dialogs.pop();
            bench::keep(state, reason)
        }
        purpose => review_forms::submit(state, purpose),
    }
}

/// Closes the form on top, after it was carried out.
pub(super) fn done(state: &mut State) {
    // A form that asked for a PIN lies over the one it belongs to.
    while matches!(state.dialogs.last(), Some(Dialog::Form(_) | Dialog::Finder(_))) {
        state.dialogs.pop();
    }
    state.put_aside = None;
}

/// Shows why something could not be done: in the form on top, else above the footer; long lists on a page.
pub(super) fn failed(state: &mut State, trouble: Trouble) {
    // The PIN was right, or the desk would have asked again: what is wrong is the act.
    if matches!(state.dialogs.last(), Some(Dialog::Form(form)) if matches!(form.purpose, Purpose::Pin { .. }))
    {
        state.dialogs.pop();
    }
    if let Some(Dialog::Finder(finder)) = state.dialogs.last_mut() {
        finder.fault = Some(trouble);
        return;
    }
    // A form shows two hints, the line above the footer one.
    let in_form = matches!(state.dialogs.last(), Some(Dialog::Form(_)));
    let long = trouble.message.contains('\n') || trouble.hints.len() > 1 + usize::from(in_form);
    if let Some(Dialog::Form(form)) = state.dialogs.last_mut() {
        let first = trouble.message.lines().next().unwrap_or_default().to_owned();
        form.fault = Some(Trouble { message: first, hints: trouble.hints.clone() });
        // The row that holds the value is where one wants to be.
        if let Purpose::Correct { .. } = form.purpose {
            form.focus = 1;
        }
    } else if !long {
        state.refuse(&trouble);
    }
    if long {
        let lines = trouble.message.lines().map(str::to_owned).chain(trouble.hints).collect();
        state.dialogs.push(Dialog::Page(Page::new("Nothing was written", Content::Text(lines))));
    }
}

/// Goes to a shipment on the receive screen.
pub(super) fn show_shipment(state: &mut State, number: &str, lot: usize) {
    state.dialogs.clear();
    state.screen = Screen::Receive;
    state.receive.select(number);
    state.receive.at = ReceiveAt::Lots;
    state.receive.lot = lot;
}
