//! Stock: what was released and can be sold, the newest first.
//!
//! ```text
//! Stock, 12 pieces                                              title or filter
//!   piece        product                 fine g       value  released
//! > S-0012/3-07  one dollar 1873         24.057     1840.00  2026-03-14  rows
//!
//! gold          3 pieces        93.310 g fine        7200.00 EUR        totals of what is shown
//! ```
//!
//! Panes: list, totals by metal of what is listed below it; from 110 columns on, the selected piece beside the list.

use super::super::keymap::{Act, Place};
use super::super::state::State;
use super::canvas::{Canvas, window};
use super::columns::{Column, Columns};
use super::{list_title, nothing_passes};
use crate::present::stock::{stock_rows, totals, worth_row};
use crate::present::tone::{Row, Tone};
use crate::present::words::{count, day, money_text};
use crate::quantity::{Mass, Quantity};
use ratatui::layout::Position;

/// From this width on, the selected piece stands beside the list.
const WIDE: usize = 108;

const COLUMNS: &[Column] = &[
    Column::text("piece", 13, 0),
    Column::growing("product", 12, 1),
    Column::number("fine g", 10, 0),
    Column::number("value", 14, 2),
    Column::text("released", 10, 3),
];

/// Draws the stock and returns where the cursor belongs.
pub(super) fn draw(state: &State, canvas: &mut Canvas) -> Option<Position> {
    let (width, height) = (canvas.width(), canvas.height());
    if state.stock.pieces.is_empty() {
        let key = state.keymap.key(Place::Holds, Act::Release);
        let rows = [
            Row::blank(),
            Row::of(Tone::Strong, "Nothing is in stock."),
            Row::blank(),
            Row::of(
                Tone::Plain,
                format!("A clear piece is released with {key}: on the Bench, in Holds, or all clear"),
            ),
            Row::of(Tone::Plain, "pieces of a lot in Receive. It becomes stock only while no doubt is open."),
        ];
        canvas.rows(0, &rows);
        return None;
    }
    let visible = state.stock.visible();
    let wide = width >= WIDE;
    let left = if wide { width * 3 / 5 } else { width };
    let totals = totals(visible.iter().copied());
    // The totals never take more than half of the screen.
    let below = (totals.len() + 1).min(height / 2);
    let mut list = canvas.part(0, 0, left, height - below);
    let (listed, in_all) = (state.stock.pieces.len(), state.stock.in_all as usize);
    let title = match in_all > listed {
        true => format!("Stock, {}; the newest {listed} are listed", count(in_all, "piece", "pieces")),
        false => format!("Stock, {}", count(listed, "piece", "pieces")),
    };
    let cursor = list_title(state, &title, &mut list);
    let columns = Columns::fit(COLUMNS, left);
    list.row(1, &columns.titles());
    let rows = list.height().saturating_sub(2);
    let first = window(state.stock.selected, visible.len(), rows);
    for (line, (index, piece)) in visible.iter().enumerate().skip(first).take(rows).enumerate() {
        let cells = [
            (Tone::Plain, piece.piece.clone()),
            (Tone::Plain, piece.product_name.clone()),
            (Tone::Plain, piece.fine.digits_in(&Mass::UNITS[0], 3)),
            (Tone::Plain, piece.value.map_or_else(|| "no price".to_owned(), money_text)),
            match piece.recalled {
                Some(_) => (Tone::Hold, "! recalled".to_owned()),
                None => (Tone::Quiet, day(piece.released_at, state.facts.offset)),
            },
        ];
        list.row(2 + line, &columns.row(&cells, index == state.stock.selected));
    }
    if visible.is_empty() {
        list.row(2, &Row::of(Tone::Quiet, nothing_passes(state)));
    }
    let rows: Vec<Row> = totals.iter().map(|worth| worth_row(worth, width.saturating_sub(2))).collect();
    canvas.part(2, height - below + 1, width.saturating_sub(2), below.saturating_sub(1)).rows(0, &rows);
    if let Some(piece) = visible.get(state.stock.selected).filter(|_| wide) {
        let right = width - left - 3;
        let rows = stock_rows(piece, right, state.facts.offset);
        canvas.part(left + 3, 2, right, height.saturating_sub(2)).rows(0, &rows);
    }
    cursor
}
