//! Instruments: where each stands, and the charts of its controls.
//!
//! ```text
//! Instruments, 5 rows; 2 pieces are recalled                    title or filter
//!   instrument        state         last control      due
//! > meter one, flat   + in control  2026-03-04 08:00  2027-02-01    rows
//!
//! meter one, flat                                               state, chart, drift
//! + in control                                                  of the selected row
//! ```
//!
//! Panes: list; state and charts of the selected instrument below it, or beside it from 110 columns on.

use super::super::state::State;
use super::canvas::{Canvas, window};
use super::columns::{Column, Columns};
use super::{list_title, nothing_passes};
use crate::present::instruments::{instrument_rows, state_text, state_tone};
use crate::present::tone::{Row, Tone};
use crate::present::words::{count, minute};
use ratatui::layout::Position;

/// From this width on, the selected instrument stands beside the list.
const WIDE: usize = 108;
/// Lines of a chart below the list, and beside it.
const CHART_BELOW: usize = 5;
const CHART_BESIDE: usize = 9;

const COLUMNS: &[Column] = &[
    Column::growing("instrument", 14, 0),
    Column::text("state", 18, 0),
    Column::text("last control", 16, 1),
    Column::text("due", 10, 2),
];

/// Draws the instruments and returns where the cursor belongs.
pub(super) fn draw(state: &State, canvas: &mut Canvas) -> Option<Position> {
    let (width, height) = (canvas.width(), canvas.height());
    let Some(view) = &state.instruments.view else {
        canvas.row(0, &Row::of(Tone::Quiet, "reading the instruments"));
        return None;
    };
    let visible = state.instruments.visible();
    let wide = width >= WIDE;
    let left = if wide { width / 2 } else { width };
    let rows = if wide { height } else { (visible.len() + 3).min(height / 2 + 1) };
    let mut list = canvas.part(0, 0, left, rows);
    let recalled = match view.recalls.len() {
        0 => String::new(),
        recalled => format!("; {} recalled from stock: `scruple recall`", count(recalled, "piece", "pieces")),
    };
    let title = format!("Instruments, {}{recalled}", count(view.rows.len(), "row", "rows"));
    let cursor = list_title(state, &title, &mut list);
    let columns = Columns::fit(COLUMNS, left);
    list.row(1, &columns.titles());
    let room = list.height().saturating_sub(2);
    let first = window(state.instruments.selected, visible.len(), room);
    for (line, (index, row)) in visible.iter().enumerate().skip(first).take(room).enumerate() {
        let last = row.last().map_or_else(|| "-".to_owned(), |last| minute(last.at, state.facts.offset));
        let due = row.due.map_or_else(|| "-".to_owned(), |due| due.day.to_string());
        let cells = [
            (Tone::Plain, row.name()),
            (state_tone(&row.state), state_text(&row.state)),
            (Tone::Plain, last),
            (if row.instrument.past_due { Tone::Hold } else { Tone::Quiet }, due),
        ];
        list.row(2 + line, &columns.row(&cells, index == state.instruments.selected));
    }
    if visible.is_empty() {
        list.row(2, &Row::of(Tone::Quiet, nothing_passes(state)));
    }
    if let Some(row) = visible.get(state.instruments.selected) {
        let (x, y) = if wide { (left + 3, 0) } else { (0, rows) };
        let (columns, chart) = if wide { (width - left - 3, CHART_BESIDE) } else { (width, CHART_BELOW) };
        let rows = instrument_rows(row, columns, chart, state.facts.marks, state.facts.offset);
        canvas.part(x, y, columns, height.saturating_sub(y)).rows(0, &rows);
    }
    cursor
}
