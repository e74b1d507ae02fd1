//! Holds: every open doubt, those of one lot together.
//!
//! ```text
//! Holds, 3 open                                            title or filter
//! S-0012/3  one dollar 1873, 900 silver     Northfield     lot
//! > -07  ? hidden core    tungsten heavy ..    1840.00     doubts
//!
//! why         tungsten heavy alloy could ...               the selected one
//! settled by  ultrasound settles it: ...
//! ```
//!
//! Panes: list; the selected doubt, below the list or, from 110 columns on, beside it.

use super::super::state::State;
use super::canvas::{Canvas, window};
use super::columns::{Column, Columns};
use super::list_title;
use crate::desk::views::HoldView;
use crate::present::evidence::hold_page;
use crate::present::text;
use crate::present::tone::{Row, Tone};
use crate::present::verdict::{LABEL, offer_text};
use crate::present::words::{money_text, short_number, standing_sign, standing_tone};
use crate::scoring::Power;
use ratatui::layout::Position;

/// From this width on, the selected doubt stands beside the list.
const WIDE: usize = 108;
/// Rows of the selected doubt below the list.
const DETAIL: usize = 6;

const DOUBTS: &[Column] = &[
    Column::text("piece", 5, 0),
    Column::text("", 1, 0),
    Column::text("doubt", 19, 0),
    Column::growing("", 10, 2),
    Column::number("at risk", 13, 3),
];

/// Draws the holds and returns where the cursor belongs.
pub(super) fn draw(state: &State, canvas: &mut Canvas) -> Option<Position> {
    let (width, height) = (canvas.width(), canvas.height());
    if state.holds.holds.is_empty() {
        let rows = [
            Row::blank(),
            Row::of(Tone::Strong, "Nothing is on hold."),
            Row::blank(),
            Row::of(Tone::Plain, "A piece with an open doubt appears here as soon as it is logged."),
            Row::of(Tone::Accent, "Esc").with(Tone::Plain, " goes to the shipments."),
        ];
        canvas.rows(0, &rows);
        return None;
    }
    if width >= WIDE {
        let left = width * 11 / 20;
        let cursor = list(state, &mut canvas.part(0, 0, left, height));
        if let Some(hold) = state.holds.current() {
            let right = width - left - 3;
            let rows = hold_page(hold, right, state.facts.offset);
            canvas.part(left + 3, 2, right, height.saturating_sub(2)).rows(0, &rows);
        }
        return cursor;
    }
    let detail = if height >= 16 { DETAIL } else { 0 };
    let cursor = list(state, &mut canvas.part(0, 0, width, height - detail));
    if let Some(hold) = state.holds.current().filter(|_| detail > 0) {
        canvas.part(0, height - detail + 1, width, detail - 1).rows(0, &detail_rows(hold, width, detail - 1));
    }
    cursor
}

/// Returns the selected doubt in a few rows.
fn detail_rows(hold: &HoldView, width: usize, lines: usize) -> Vec<Row> {
    let room = width.saturating_sub(LABEL);
    let mut rows = Vec::new();
    let mut add = |label: &str, tone: Tone, words: &str, most: usize| {
        for (index, line) in text::first_lines(text::wrap(words, room), most, room).into_iter().enumerate() {
            let label = if index == 0 { label } else { "" };
            rows.push(Row::of(Tone::Quiet, text::pad_end(label, LABEL)).with(tone, line));
        }
    };
    add("why", standing_tone(hold.standing), &hold.text, 2);
    let useful = hold.offers.iter().filter(|offer| offer.power != Power::Cannot);
    let texts: Vec<String> = useful.map(offer_text).collect();
    for (index, words) in texts.iter().enumerate() {
        add(if index == 0 { "settled by" } else { "" }, Tone::Plain, words, 1);
    }
    if texts.is_empty() {
        add("settled by", Tone::Quiet, "a person's decision; Enter shows what was considered", 1);
    }
    rows.truncate(lines);
    rows
}

/// One line of the list.
enum Line<'a> {
    Lot(&'a HoldView),
    Doubt(usize, &'a HoldView),
}

/// Draws the list.
fn list(state: &State, canvas: &mut Canvas) -> Option<Position> {
    let visible = state.holds.visible();
    let cursor = list_title(state, &format!("Holds, {} open", state.holds.holds.len()), canvas);
    let mut lines = Vec::new();
    let mut before: Option<&str> = None;
    for (index, hold) in visible.iter().enumerate() {
        if before != Some(hold.lot.as_str()) {
            lines.push(Line::Lot(hold));
        }
        before = Some(&hold.lot);
        lines.push(Line::Doubt(index, hold));
    }
    let columns = Columns::fit(DOUBTS, canvas.width());
    canvas.row(1, &columns.titles());
    let rows = canvas.height().saturating_sub(2);
    let selected = |line: &Line| matches!(line, Line::Doubt(index, _) if *index == state.holds.selected);
    let at = lines.iter().position(selected).unwrap_or(0);
    let first = window(at, lines.len(), rows);
    for (row, line) in lines.iter().skip(first).take(rows).enumerate() {
        let drawn = match line {
            Line::Lot(hold) => lot_row(hold, canvas.width()),
            Line::Doubt(index, hold) => columns.row(&cells(hold), *index == state.holds.selected),
        };
        canvas.row(2 + row, &drawn);
    }
    if visible.is_empty() {
        canvas.row(2, &Row::of(Tone::Quiet, "  nothing contains the filter; Ctrl-X clears it"));
    }
    cursor
}

/// Returns the row above the doubts of a lot.
fn lot_row(hold: &HoldView, width: usize) -> Row {
    let room = width.saturating_sub(text::width(&hold.lot) + 2);
    Row::of(Tone::Strong, &hold.lot)
        .with(Tone::Quiet, text::fit(&format!("  {}, from {}", hold.product_name, hold.source), room))
}

/// Returns a doubt as cells.
fn cells(hold: &HoldView) -> [(Tone, String); 5] {
    let number = hold.piece.as_deref().map_or("lot", short_number);
    let tone = standing_tone(hold.standing);
    [
        (Tone::Plain, number.to_owned()),
        (tone, standing_sign(hold.standing).to_string()),
        (tone, hold.kind.label().to_owned()),
        (Tone::Plain, hold.text.clone()),
        (Tone::Plain, hold.at_risk.map_or_else(String::new, money_text)),
    ]
}
