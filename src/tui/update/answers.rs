//! What the shell answers.

use super::super::dialog::{Content, Dialog, Page};
use super::super::effect::{Effect, Then};
use super::super::message::Message;
use super::super::state::{Notice, OnDisk, Screen, Shown, State};
use super::{bench, find, first_run, forms, last_acts, lists, review, review_forms};
use crate::desk::views::{PieceView, ShipmentView};
use crate::desk::{ControlOutcome, PolicyOrigin};
use crate::present::prospect::prospect_text;
use crate::present::words::count;

/// Takes an answer of the shell.
pub(super) fn take(state: &mut State, message: Message) -> Vec<Effect> {
    match message {
        Message::Act(_)
        | Message::Type(_)
        | Message::Paste(_)
        | Message::Device(_)
        | Message::Resize { .. } => Vec::new(),
        Message::FirstStart { currency } => first_run::ask(state, currency),
        Message::SetUp { name } => first_run::done(state, &name),
        Message::Explained { number, explanation } => {
            let content = Content::Explanation { number, explanation };
            state.dialogs.push(Dialog::Page(Page::new("Where it comes from", content)));
            Vec::new()
        }
        Message::Shipments(shipments) => {
            let selected = state.receive.current().map(|shipment| shipment.number.clone());
            let lot = state.receive.lot;
            state.receive.shipments = shipments;
            if let Some(number) = selected {
                let visible = state.receive.visible();
                let place = visible.iter().position(|shipment| shipment.number == number);
                state.receive.selected = place.unwrap_or(state.receive.selected);
                state.receive.lot = lot;
            }
            lists::keep_inside(state);
            Vec::new()
        }
        Message::Received(shipment) => {
            forms::done(state);
            let pieces: u32 = shipment.lots.iter().map(|lot| lot.expected).sum();
            let text = if shipment.lots.is_empty() {
                format!("Shipment {} is started. Add its lines.", shipment.number)
            } else {
                let lots = count(shipment.lots.len(), "lot", "lots");
                format!("Shipment {} is taken in: {lots}, {}.", shipment.number, pieces_text(pieces))
            };
            let by_hand = shipment.lots.is_empty();
            found(state, *shipment, 0);
            state.notice = Some(Notice::Done(text));
            if by_hand { forms::ask_line(state) } else { Vec::new() }
        }
        Message::LineAdded(lot) => {
            forms::done(state);
            state.notice = Some(Notice::Done(format!("Lot {} is added: {}.", lot.number, lot.product_name)));
            let place = state.receive.shipments.iter_mut().find(|shipment| shipment.id == lot.shipment);
            if let Some(shipment) = place {
                shipment.lots.push(*lot);
                state.receive.lot = shipment.lots.len() - 1;
            }
            vec![Effect::LoadShipments]
        }
        Message::LotOpened(opened) => bench::opened(state, *opened),
        Message::LotRefreshed { lot, pieces } => {
            if let Some(work) = state.bench.work.as_mut().filter(|work| work.lot.id == lot.id) {
                if let Shown::Piece(index) = work.shown {
                    work.shown = pieces
                        .len()
                        .checked_sub(1)
                        .map_or(Shown::InHand, |last| Shown::Piece(index.min(last)));
                }
                work.lot = *lot;
                work.pieces = pieces;
            }
            Vec::new()
        }
        Message::LotGone(lot) => {
            if state.bench.work.as_ref().is_some_and(|work| work.lot.id == lot) {
                state.bench.work = None;
            }
            Vec::new()
        }
        Message::Echoed { index, echo } => bench::echoed(state, index, echo),
        Message::NotUnderstood { index, trouble } => bench::not_understood(state, index, trouble),
        Message::DraftSaved => {
            if let Some(work) = state.bench.work.as_mut() {
                work.disk = OnDisk::Saved;
            }
            Vec::new()
        }
        Message::DraftNotSaved(trouble) => {
            if let Some(work) = state.bench.work.as_mut() {
                work.disk = OnDisk::NotSaved(trouble.message.clone());
            }
            state.refuse(&trouble);
            vec![Effect::Bell(1)]
        }
        Message::Logged(logged) => bench::logged(state, *logged),
        Message::PieceOpened { piece, then } => match then {
            Then::ShowEvidence => {
                forms::done(state);
                state.dialogs.push(Dialog::Page(Page::new("Evidence", Content::Piece(piece))));
                Vec::new()
            }
            Then::Refresh => {
                replace(state, *piece);
                Vec::new()
            }
            Then::Test => review::methods(state, *piece),
            then => forms::ask_piece(state, &piece, then),
        },
        Message::PieceChanged { piece, text } => {
            forms::done(state);
            replace(state, *piece);
            state.notice = Some(Notice::Done(text));
            refresh(state)
        }
        Message::Voided(id) => {
            forms::done(state);
            state.dialogs.retain(
                |dialog| !matches!(dialog, Dialog::Page(Page { content: Content::Piece(piece), .. }) if piece.id == id),
            );
            state.notice =
                Some(Notice::Done("The piece is void. It stays in the book with the reason.".to_owned()));
            refresh(state)
        }
        Message::LastActs(acts) => last_acts::open(state, acts),
        Message::Redone(redone) => {
            forms::done(state);
            last_acts::close(state);
            state.notice = Some(Notice::Done(redone.words));
            match redone.in_hand {
                Some(lot) => vec![Effect::OpenLot(lot), Effect::LoadShipments],
                None => after_undo(state),
            }
        }
        Message::Undone(text) => {
            last_acts::close(state);
            state.notice = Some(Notice::Done(text));
            after_undo(state)
        }
        Message::Holds(groups) => {
            state.holds.set(groups);
            Vec::new()
        }
        Message::TypeBook(views) => {
            state.reference.type_book = views;
            Vec::new()
        }
        Message::Stock(stock) => {
            let selected = state.stock.current().map(|piece| piece.piece.clone());
            state.stock.pieces = stock.pieces;
            state.stock.in_all = stock.in_all;
            if let Some(number) = selected {
                let place = state.stock.visible().iter().position(|piece| piece.piece == number);
                state.stock.selected = place.unwrap_or(state.stock.selected);
            }
            lists::keep_inside(state);
            Vec::new()
        }
        Message::Instruments(view) => {
            let selected = state.instruments.current().map(|row| row.name().to_owned());
            state.instruments.view = Some(*view);
            if let Some(name) = selected {
                let place = state.instruments.visible().iter().position(|row| row.name() == name);
                state.instruments.selected = place.unwrap_or(state.instruments.selected);
            }
            lists::keep_inside(state);
            Vec::new()
        }
        Message::Budgets { number, budgets } => {
            let page = Page::new("Budget", Content::Budget { number, budgets });
            state.dialogs.push(Dialog::Page(page));
            Vec::new()
        }
        Message::Policy(view) => {
            let from = match view.origin {
                PolicyOrigin::Desk => "the policy of this machine; the book sets none",
                PolicyOrigin::Book => "set in the book; it counts on every machine",
            };
            let mut lines = vec![format!("version {}: {from}", view.version), String::new()];
            lines.extend(view.text.lines().map(str::to_owned));
            state.dialogs.push(Dialog::Page(Page::new("Policy", Content::Text(lines))));
            Vec::new()
        }
        Message::Reach(prospect) => {
            forms::done(state);
            let text = prospect_text(&prospect);
            let lines = text.lines().map(str::to_owned).collect();
            state.dialogs.push(Dialog::Page(Page::new("Reach", Content::Text(lines))));
            Vec::new()
        }
        Message::ControlRecorded(outcome) => {
            forms::done(state);
            let (refused, text) = control_text(&outcome);
            state.notice = Some(if refused { Notice::Refused(text) } else { Notice::Done(text) });
            let mut effects = refresh(state);
            if refused {
                effects.push(Effect::Bell(2));
            }
            effects
        }
        Message::Day(day) => {
            if state.day.view.as_ref().is_none_or(|view| view.day != day.day) {
                state.day.offset = 0;
            }
            state.day.view = Some(*day);
            Vec::new()
        }
        Message::Settling { piece, tests } => review_forms::ask_settle(state, &piece, &tests),
        Message::TestRecorded(outcome) => {
            replace(state, outcome.piece.clone());
            review::recorded(state, *outcome);
            refresh(state)
        }
        Message::RecordingRead { row, path, recording } => {
            review::recording_read(state, row, path, *recording)
        }
        Message::Samples { lot, samples } => review::samples(state, lot, &samples),
        Message::Decided(text) => {
            forms::done(state);
            state.notice = Some(Notice::Done(text));
            refresh(state)
        }
        Message::Released(pieces) => {
            review::released(state, &pieces);
            refresh(state)
        }
        Message::PinWanted { effect, trouble } => review_forms::ask_pin(state, *effect, trouble),
        Message::Written(paths) => {
            forms::done(state);
            state.notice = Some(Notice::Done(format!("Written: {}.", paths.join(", "))));
            Vec::new()
        }
        Message::FoundShipment(shipment) => {
            forms::done(state);
            found(state, *shipment, 0);
            Vec::new()
        }
        Message::FoundLot(lot) => {
            forms::done(state);
            bench::open_lot(state, lot)
        }
        Message::Hits { text, hits } => {
            find::answered(state, text, hits);
            Vec::new()
        }
        Message::Noted(text) => {
            state.notice = Some(Notice::Refused(text));
            vec![Effect::Bell(1)]
        }
        Message::Failed(trouble) => {
            forms::failed(state, trouble);
            vec![Effect::Bell(1)]
        }
    }
}

/// Returns a number of pieces in words.
fn pieces_text(pieces: u32) -> String {
    count(pieces as usize, "piece", "pieces")
}

/// Shows a shipment, putting it into the list where it is missing or older.
fn found(state: &mut State, shipment: ShipmentView, lot: usize) {
    let number = shipment.number.clone();
    match state.receive.shipments.iter_mut().find(|known| known.id == shipment.id) {
        Some(known) => *known = shipment,
        None => state.receive.shipments.insert(0, shipment),
    }
    forms::show_shipment(state, &number, lot);
}

/// Reads anew what an undone act, or one done again, may have changed.
fn after_undo(state: &State) -> Vec<Effect> {
    let mut effects = refresh(state);
    if !effects.contains(&Effect::LoadShipments) {
        effects.push(Effect::LoadShipments);
    }
    effects
}

/// Puts a changed piece in the place of the old one, wherever it is shown.
fn replace(state: &mut State, piece: PieceView) {
    for dialog in &mut state.dialogs {
        match dialog {
            Dialog::Page(Page { content: Content::Piece(shown), .. }) if shown.id == piece.id => {
                **shown = piece.clone();
            }
            Dialog::Page(Page { content: Content::Outcome(outcome), .. }) if outcome.piece.id == piece.id => {
                outcome.piece = piece.clone();
            }
            _ => {}
        }
    }
    if let Some(work) = state.bench.work.as_mut()
        && let Some(index) = work.pieces.iter().position(|known| known.id == piece.id)
    {
        work.pieces[index] = piece;
        work.shown = Shown::Piece(index);
    }
}

/// Asks for everything on the screens that a change may have touched.
fn refresh(state: &State) -> Vec<Effect> {
    let mut effects = Vec::new();
    if let Some(work) = &state.bench.work {
        effects.push(Effect::RefreshLot(work.lot.id));
    }
    match state.screen {
        Screen::Receive => effects.push(Effect::LoadShipments),
        Screen::Holds => effects.push(Effect::LoadHolds),
        Screen::Stock => effects.push(Effect::LoadStock),
        Screen::Instruments => effects.push(Effect::LoadInstruments),
        Screen::Day => effects.push(Effect::LoadDay(state.day.view.as_ref().map(|view| view.day))),
        Screen::Reference => effects.push(Effect::LoadTypeBook),
        Screen::Bench => {}
    }
    for dialog in &state.dialogs {
        let number = match dialog {
            Dialog::Page(Page { content: Content::Piece(piece), .. }) => &piece.number,
            Dialog::Page(Page { content: Content::Outcome(outcome), .. }) => &outcome.piece.number,
            _ => continue,
        };
        effects.push(Effect::OpenPiece { number: number.clone(), then: Then::Refresh });
    }
    effects
}

/// Says what a control came to, and whether it failed.
fn control_text(outcome: &ControlOutcome) -> (bool, String) {
    let control = &outcome.control;
    if control.passed {
        return (false, format!("The control passed: {}.", control.finding));
    }
    let mut text = format!("the control failed: {}", control.finding);
    for (what, pieces) in [("back on hold", &outcome.held), ("on the recall list", &outcome.recalled)] {
        if !pieces.is_empty() {
            text.push_str(&format!("; {} {what}", count(pieces.len(), "piece", "pieces")));
        }
    }
    (true, text)
}
