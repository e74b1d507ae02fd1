//! The screens that are lists: shipments and lots, holds, stock, products; and the day sheet.

use super::super::dialog::{Content, Dialog, Page, day_room};
use super::super::effect::{Effect, Then};
use super::super::holds::HoldRow;
use super::super::keymap::Act;
use super::super::state::{ListFilter, Notice, ReceiveAt, Screen, State};
use super::{bench, filter_mut, forms, go, moved, request};
use crate::present::day::day_rows;
use crate::scoring::Scope;
use chrono::NaiveDate;
use tui_input::InputRequest;

/// Carries out an act of a list.
pub(super) fn act(state: &mut State, act: Act) -> Vec<Effect> {
    match act {
        Act::Accept => open(state),
        Act::Back => back(state),
        Act::NewShipment => forms::ask_shipment(state),
        Act::NewLine => forms::ask_line(state),
        Act::Filter => {
            if let Some(filter) = filter_mut(state) {
                filter.typing = true;
                filter.input.handle(InputRequest::GoToEnd);
            }
            Vec::new()
        }
        Act::ClearFilter => {
            if let Some(filter) = filter_mut(state) {
                *filter = ListFilter::default();
            }
            to_top(state);
            Vec::new()
        }
        _ => {
            let page = usize::from(state.height).saturating_sub(8);
            let length = length(state);
            if let Some(row) = selected_mut(state) {
                *row = moved(*row, act, length, page);
            }
            if state.screen == Screen::Receive && state.receive.at == ReceiveAt::Shipments {
                state.receive.lot = 0;
            }
            Vec::new()
        }
    }
}

/// Carries out an act while the filter is typed.
pub(super) fn filter_act(state: &mut State, act: Act) -> Vec<Effect> {
    match act {
        Act::Accept | Act::Back => {
            if let Some(filter) = filter_mut(state) {
                filter.typing = false;
            }
        }
        Act::Up | Act::Down => return self::act(state, act),
        _ => {
            let changed = match (filter_mut(state), request(act)) {
                (Some(filter), Some(request)) => {
                    filter.input.handle(request).is_some_and(|change| change.value)
                }
                _ => false,
            };
            if changed {
                to_top(state);
            }
        }
    }
    Vec::new()
}

/// Returns the number of rows of the list on the screen.
fn length(state: &State) -> usize {
    match state.screen {
        Screen::Receive => match state.receive.at {
            ReceiveAt::Shipments => state.receive.visible().len(),
            ReceiveAt::Lots => state.receive.current().map_or(0, |shipment| shipment.lots.len()),
        },
        Screen::Holds => state.holds.rows().len(),
        Screen::Stock => state.stock.visible().len(),
        Screen::Instruments => state.instruments.visible().len(),
        Screen::Reference => state.visible_products().len(),
        Screen::Bench | Screen::Day => 0,
    }
}

/// Returns the selected row of the list on the screen.
fn selected_mut(state: &mut State) -> Option<&mut usize> {
    match state.screen {
        Screen::Receive => Some(match state.receive.at {
            ReceiveAt::Shipments => &mut state.receive.selected,
            ReceiveAt::Lots => &mut state.receive.lot,
        }),
        Screen::Holds => Some(&mut state.holds.selected),
        Screen::Stock => Some(&mut state.stock.selected),
        Screen::Instruments => Some(&mut state.instruments.selected),
        Screen::Reference => Some(&mut state.reference.selected),
        Screen::Bench | Screen::Day => None,
    }
}

/// Selects the first row.
pub(super) fn to_top(state: &mut State) {
    if let Some(row) = selected_mut(state) {
        *row = 0;
    }
}

/// Keeps every selection inside its list, after the list was read again.
pub(super) fn keep_inside(state: &mut State) {
    let shipments = state.receive.visible().len();
    state.receive.selected = state.receive.selected.min(shipments.saturating_sub(1));
    let lots = state.receive.current().map_or(0, |shipment| shipment.lots.len());
    state.receive.lot = state.receive.lot.min(lots.saturating_sub(1));
    if shipments == 0 {
        state.receive.at = ReceiveAt::Shipments;
    }
    let stock = state.stock.visible().len();
    state.stock.selected = state.stock.selected.min(stock.saturating_sub(1));
    let instruments = state.instruments.visible().len();
    state.instruments.selected = state.instruments.selected.min(instruments.saturating_sub(1));
}

/// Opens the selected row.
fn open(state: &mut State) -> Vec<Effect> {
    match state.screen {
        Screen::Receive => match state.receive.at {
            ReceiveAt::Shipments => {
                if state.receive.current().is_some() {
                    state.receive.at = ReceiveAt::Lots;
                    state.receive.lot = 0;
                }
                Vec::new()
            }
            ReceiveAt::Lots => match state.receive.current_lot().map(|lot| lot.id) {
                Some(lot) => bench::open_lot(state, lot),
                None => Vec::new(),
            },
        },
        Screen::Holds if state.holds.turn() => Vec::new(),
        Screen::Holds | Screen::Stock => show_evidence(state),
        Screen::Reference => {
            let product =
                state.visible_products().get(state.reference.selected).map(|product| product.id.clone());
            if let Some(id) = product {
                state.dialogs.push(Dialog::Page(Page::new("Product", Content::Product(id))));
            }
            Vec::new()
        }
        Screen::Instruments => {
            if let Some(row) = state.instruments.current() {
                let content = Content::Instrument(Box::new(row.clone()));
                state.dialogs.push(Dialog::Page(Page::new("Instrument", content)));
            }
            Vec::new()
        }
        Screen::Bench | Screen::Day => Vec::new(),
    }
}

/// Opens the plots of the lot on the bench.
pub(super) fn show_plots(state: &mut State) -> Vec<Effect> {
    if state.bench.work.is_some() {
        state.dialogs.push(Dialog::Page(Page::new("Plot", Content::Plots)));
    } else {
        state.notice = Some(Notice::Refused("no lot is open; choose one in Receive".to_owned()));
    }
    Vec::new()
}

/// Opens the uncertainty budgets of the selected piece.
pub(super) fn show_budget(state: &mut State) -> Vec<Effect> {
    match forms::selected_number(state) {
        Some(number) => vec![Effect::LoadBudget { number }],
        None => {
            state.notice = Some(Notice::Refused("no logged piece is selected".to_owned()));
            Vec::new()
        }
    }
}

/// Goes one step back: from the lots to the shipments, from any other list to the shipments.
fn back(state: &mut State) -> Vec<Effect> {
    match (state.screen, state.receive.at) {
        (Screen::Receive, ReceiveAt::Lots) => {
            state.receive.at = ReceiveAt::Shipments;
            Vec::new()
        }
        (Screen::Receive, ReceiveAt::Shipments) => Vec::new(),
        _ => go(state, Screen::Receive),
    }
}

/// Opens everything about the selected piece, or about the doubt of a lot.
pub(super) fn show_evidence(state: &mut State) -> Vec<Effect> {
    if state.screen == Screen::Bench {
        // The pieces of a lot are read without what was excluded; the page shows that too.
        let number =
            state.bench.work.as_ref().and_then(|work| work.selected()).map(|piece| piece.number.clone());
        return match number {
            Some(number) => vec![Effect::OpenPiece { number, then: Then::ShowEvidence }],
            None => {
                state.notice = Some(Notice::Refused("no piece of this lot is logged yet".to_owned()));
                Vec::new()
            }
        };
    }
    if state.screen == Screen::Stock {
        return match state.stock.current() {
            Some(piece) => vec![Effect::OpenPiece { number: piece.piece.clone(), then: Then::ShowEvidence }],
            None => Vec::new(),
        };
    }
    match state.holds.current() {
        Some(HoldRow::One { held, .. }) if held.group.scope == Scope::Lot => {
            let page = Page::new("Doubts of a lot", Content::Group(Box::new(held.group.clone())));
            state.dialogs.push(Dialog::Page(page));
            Vec::new()
        }
        // Of pieces that look alike, the first shows what all of them rest on.
        Some(row) => {
            let number = row.first().group.number.clone();
            vec![Effect::OpenPiece { number, then: Then::ShowEvidence }]
        }
        None => Vec::new(),
    }
}

/// Carries out an act of the day sheet.
pub(super) fn day_act(state: &mut State, act: Act) -> Vec<Effect> {
    let shown = state.day.view.as_ref().map(|view| view.day);
    match act {
        Act::Back => go(state, Screen::Receive),
        Act::Earlier | Act::Later => {
            let next = |day: NaiveDate| if act == Act::Earlier { day.pred_opt() } else { day.succ_opt() };
            match shown.and_then(next) {
                Some(day) => vec![Effect::LoadDay(Some(day))],
                None => Vec::new(),
            }
        }
        _ => {
            let (columns, rows) = day_room(state.width, state.height);
            let length =
                state.day.view.as_ref().map_or(0, |view| day_rows(view, columns, state.facts.offset).len());
            let positions = length.saturating_sub(rows) + 1;
            state.day.offset = moved(state.day.offset, act, positions, rows.saturating_sub(1));
            Vec::new()
        }
    }
}
