//! Receive: the shipments, newest first, and the lots of one.
//!
//! ```text
//! Shipments                                                        title or filter
//!   number    received    source                logged   standing
//! > S-0012    2026-03-14  Northfield Exchange  7 of 40   ? hold    rows
//! ```
//!
//! Panes: shipments, or the lots of the chosen one; from 110 columns on both, the lots below the shipments, from 140 on beside
//! them, so that names are whole.

use super::super::keymap::{Act, Place};
use super::super::state::{ReceiveAt, State};
use super::canvas::{Canvas, window};
use super::columns::{Column, Columns};
use super::{list_title, nothing_passes};
use crate::desk::views::{LotView, ShipmentView};
use crate::present::text;
use crate::present::tone::{Row, Tone};
use crate::present::words::{day, standing_text, standing_tone};
use crate::scoring::Standing;
use ratatui::layout::Position;

/// From this width on, the lots stand beside the shipments.
const BESIDE: usize = 138;
/// From this width and height on, they stand below them.
const BELOW: (usize, usize) = (108, 20);
/// Width of the shipments when the lots stand beside them.
const LEFT: usize = 66;

const SHIPMENTS: &[Column] = &[
    Column::text("number", 8, 0),
    Column::text("received", 10, 4),
    Column::growing("source", 14, 2),
    Column::number("lots", 4, 6),
    Column::number("logged", 10, 3),
    Column::number("hold", 4, 5),
    Column::number("refuse", 6, 5),
    Column::text("standing", 8, 1),
];

/// The same beside the lots, which tell the rest: the source comes first.
const SHIPMENTS_BESIDE: &[Column] = &[
    Column::text("number", 8, 0),
    Column::text("received", 10, 7),
    Column::growing("source", 30, 0),
    Column::number("lots", 4, 8),
    Column::number("logged", 10, 3),
    Column::number("hold", 4, 5),
    Column::number("refuse", 6, 6),
    Column::text("standing", 8, 1),
];

const LOTS: &[Column] = &[
    Column::text("line", 4, 0),
    Column::growing("product", 8, 2),
    Column::number("logged", 9, 1),
    Column::number("clear", 5, 5),
    Column::number("hold", 4, 4),
    Column::number("refuse", 6, 4),
    Column::text("standing", 8, 1),
];

/// Draws the receive screen and returns where the cursor belongs.
pub(super) fn draw(state: &State, canvas: &mut Canvas) -> Option<Position> {
    let (width, height) = (canvas.width(), canvas.height());
    if state.receive.shipments.is_empty() {
        let rows = [
            Row::blank(),
            Row::of(Tone::Strong, "No shipment yet."),
            Row::blank(),
            Row::of(Tone::Accent, state.keymap.key(Place::Shipments, Act::NewShipment))
                .with(Tone::Plain, " takes in the first one: name who sent it, then give"),
            Row::of(Tone::Plain, "the packing list as a CSV file, or type its lines."),
        ];
        canvas.rows(0, &rows);
        return None;
    }
    if width >= BESIDE {
        let cursor = shipments(state, SHIPMENTS_BESIDE, &mut canvas.part(0, 0, LEFT, height));
        lots(state, &mut canvas.part(LEFT + 3, 0, width - LEFT - 3, height));
        return cursor;
    }
    if width < BELOW.0 || height < BELOW.1 {
        return match state.receive.at {
            ReceiveAt::Shipments => shipments(state, SHIPMENTS, canvas),
            ReceiveAt::Lots => {
                lots(state, canvas);
                None
            }
        };
    }
    let half = height / 2;
    let cursor = shipments(state, SHIPMENTS, &mut canvas.part(0, 0, width, half - 1));
    lots(state, &mut canvas.part(0, half, width, height - half));
    cursor
}

/// Returns the worst standing of a shipment's lots.
fn worst(shipment: &ShipmentView) -> Option<Standing> {
    shipment.lots.iter().filter_map(|lot| lot.standing).max()
}

/// Returns a standing as a cell.
fn standing_cell(standing: Option<Standing>) -> (Tone, String) {
    match standing {
        Some(standing) => (standing_tone(standing), standing_text(standing)),
        None => (Tone::Quiet, "not yet".to_owned()),
    }
}

/// Returns a number as a cell that steps back when it is zero.
fn number_cell(number: u32, tone: Tone) -> (Tone, String) {
    (if number == 0 { Tone::Quiet } else { tone }, number.to_string())
}

/// Draws the shipments.
fn shipments(state: &State, columns: &[Column], canvas: &mut Canvas) -> Option<Position> {
    let cursor = list_title(state, "Shipments", canvas);
    let columns = Columns::fit(columns, canvas.width());
    canvas.row(1, &columns.titles());
    let visible = state.receive.visible();
    let rows = canvas.height().saturating_sub(2);
    let first = window(state.receive.selected, visible.len(), rows);
    for (line, (index, shipment)) in visible.iter().enumerate().skip(first).take(rows).enumerate() {
        let sum = |of: fn(&LotView) -> u32| shipment.lots.iter().map(of).sum::<u32>();
        let cells = [
            (Tone::Plain, shipment.number.clone()),
            (Tone::Quiet, day(shipment.received_at, state.facts.offset)),
            (Tone::Plain, shipment.source.clone()),
            (Tone::Quiet, shipment.lots.len().to_string()),
            (Tone::Plain, format!("{} of {}", sum(|lot| lot.logged), sum(|lot| lot.expected))),
            number_cell(sum(|lot| lot.hold), Tone::Hold),
            number_cell(sum(|lot| lot.refuse), Tone::Refuse),
            standing_cell(worst(shipment)),
        ];
        canvas.row(2 + line, &columns.row(&cells, index == state.receive.selected));
    }
    if visible.is_empty() {
        canvas.row(2, &Row::of(Tone::Quiet, nothing_passes(state)));
    }
    cursor
}

/// Draws the lots of the selected shipment.
fn lots(state: &State, canvas: &mut Canvas) {
    let Some(shipment) = state.receive.current() else { return };
    let width = canvas.width();
    let taken = format!("taken in {}", day(shipment.received_at, state.facts.offset));
    let room = width.saturating_sub(text::width(&shipment.number) + text::width(&taken) + 4);
    let title = Row::of(Tone::Strong, &shipment.number)
        .with(Tone::Plain, "  ")
        .with(Tone::Plain, text::fit(&shipment.source, room))
        .with(Tone::Quiet, format!("  {taken}"));
    canvas.row(0, &title);
    let columns = Columns::fit(LOTS, width);
    canvas.row(1, &columns.titles());
    let active = state.receive.at == ReceiveAt::Lots;
    let rows = canvas.height().saturating_sub(2);
    let first = window(state.receive.lot, shipment.lots.len(), rows);
    for (line, (index, lot)) in shipment.lots.iter().enumerate().skip(first).take(rows).enumerate() {
        let cells = [
            (Tone::Plain, format!("/{}", lot.line)),
            (Tone::Plain, lot.product_name.clone()),
            (Tone::Plain, format!("{} of {}", lot.logged, lot.expected)),
            number_cell(lot.clear, Tone::Clear),
            number_cell(lot.hold, Tone::Hold),
            number_cell(lot.refuse, Tone::Refuse),
            standing_cell(lot.standing),
        ];
        canvas.row(2 + line, &columns.row(&cells, active && index == state.receive.lot));
    }
    if shipment.lots.is_empty() {
        canvas.row(
            2,
            &Row::of(Tone::Plain, "  No line yet. ")
                .with(Tone::Accent, state.keymap.key(Place::Lots, Act::NewLine))
                .with(Tone::Plain, " adds one."),
        );
    }
}
