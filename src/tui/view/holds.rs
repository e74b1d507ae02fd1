//! Holds: every piece and lot with an open doubt, those of one lot together, the worst money first.
//!
//! ```text
//! Holds: 12 pieces, 1 lot                          2 marked      title or filter
//! S-0012/3  one dollar 1873, 900 silver, from Northfield         lot
//!     lot          ? wrong alloy      ~ ultrasound    18400.00   its own doubts
//! > * -07          ? hidden core      ring             1840.00   a piece
//!   + -08 to -17   ? weight or size   weigh again      2100.00   pieces that look alike, folded
//!
//! why         hidden core: tungsten heavy alloy could ...        the selected one
//! settled by  ring settles it (4 min): ...
//! ```
//!
//! Panes: list; the selected doubts, below the list or, from 110 columns on, beside it.

use super::super::holds::{Held, HoldRow};
use super::super::keymap::{Act, Place};
use super::super::state::State;
use super::canvas::{Canvas, window};
use super::columns::{Column, Columns};
use super::list_title;
use super::{filter_row, nothing_passes};
use crate::present::holds::{at_risk, group_page, group_pane, numbers_text};
use crate::present::text;
use crate::present::tone::{Row, Tone};
use crate::present::words::{count, money_text, short_number, standing_sign, standing_tone};
use crate::scoring::Scope;
use ratatui::layout::Position;

/// From this width on, the selected doubts stand beside the list.
const WIDE: usize = 108;
/// Rows of the selected doubts below the list.
const DETAIL: usize = 8;

const COLUMNS: &[Column] = &[
    Column::text("", 1, 0),
    Column::text("piece", 10, 0),
    Column::text("", 1, 0),
    Column::growing("doubts", 15, 0),
    Column::text("try first", 16, 2),
    Column::number("at risk", 13, 1),
];

/// Draws the holds and returns where the cursor belongs.
pub(super) fn draw(state: &State, canvas: &mut Canvas) -> Option<Position> {
    let (width, height) = (canvas.width(), canvas.height());
    if state.holds.held.is_empty() {
        let rows = [
            Row::blank(),
            Row::of(Tone::Strong, "Nothing is on hold."),
            Row::blank(),
            Row::of(Tone::Plain, "A piece with an open doubt appears here as soon as it is logged."),
            Row::of(Tone::Plain, "What is clear is released in Receive, from the lots of its shipment."),
            Row::of(Tone::Accent, state.keymap.key(Place::Holds, Act::Screens))
                .with(Tone::Plain, " shows the screens: Receive takes a shipment in."),
        ];
        canvas.rows(0, &rows);
        return None;
    }
    let rows = state.holds.rows();
    let current = rows.get(state.holds.selected);
    if width >= WIDE {
        let left = width * 11 / 20;
        let cursor = list(state, &rows, &mut canvas.part(0, 0, left, height));
        if let Some(row) = current {
            let right = width - left - 3;
            let mut page = also(row, right);
            page.extend(group_page(&row.first().group, right, state.facts.offset));
            let room = height.saturating_sub(2);
            if page.len() > room && room > 0 {
                page.truncate(room - 1);
                page.push(Row::of(Tone::Quiet, ".. Enter shows everything"));
            }
            canvas.part(left + 3, 2, right, room).rows(0, &page);
        }
        return cursor;
    }
    let detail = if height >= 16 { DETAIL } else { 0 };
    let cursor = list(state, &rows, &mut canvas.part(0, 0, width, height - detail));
    if let Some(row) = current.filter(|_| detail > 0) {
        let mut pane = also(row, width);
        let lines = (detail - 1).saturating_sub(pane.len());
        pane.extend(group_pane(&row.first().group, width, lines));
        canvas.part(0, height - detail + 1, width, detail - 1).rows(0, &pane);
    }
    cursor
}

/// Says of folded pieces that the first stands for all.
fn also(row: &HoldRow<'_>, width: usize) -> Vec<Row> {
    match row {
        HoldRow::One { .. } => Vec::new(),
        HoldRow::Fold { held, open } => {
            let turn = if *open { "folds them" } else { "unfolds them" };
            let words = format!(
                "{} look alike, the first is shown; Enter {turn}",
                count(held.len(), "piece", "pieces")
            );
            vec![Row::of(Tone::Quiet, text::fit(&words, width))]
        }
    }
}

/// One line of the list.
enum Line<'a> {
    Lot(&'a Held),
    Row(usize, &'a HoldRow<'a>),
}

/// Draws the list.
fn list(state: &State, rows: &[HoldRow<'_>], canvas: &mut Canvas) -> Option<Position> {
    let cursor = title(state, canvas);
    let mut lines = Vec::new();
    let mut before: Option<&str> = None;
    for (index, row) in rows.iter().enumerate() {
        let lot = row.first().lot();
        if before != Some(lot) {
            lines.push(Line::Lot(row.first()));
        }
        before = Some(lot);
        lines.push(Line::Row(index, row));
    }
    let columns = Columns::fit(COLUMNS, canvas.width());
    canvas.row(1, &columns.titles());
    let room = canvas.height().saturating_sub(2);
    let selected = |line: &Line| matches!(line, Line::Row(index, _) if *index == state.holds.selected);
    let at = lines.iter().position(selected).unwrap_or(0);
    let first = window(at, lines.len(), room);
    for (place, line) in lines.iter().skip(first).take(room).enumerate() {
        let drawn = match line {
            Line::Lot(held) => lot_row(held, canvas.width()),
            Line::Row(index, row) => columns.row(&cells(state, row), *index == state.holds.selected),
        };
        canvas.row(2 + place, &drawn);
    }
    if rows.is_empty() {
        canvas.row(2, &Row::of(Tone::Quiet, nothing_passes(state)));
    }
    cursor
}

/// Draws the title with the marks, or the filter.
fn title(state: &State, canvas: &mut Canvas) -> Option<Position> {
    let of = |scope: Scope| state.holds.held.iter().filter(|held| held.group.scope == scope).count();
    let mut words = format!("Holds: {}", count(of(Scope::Piece), "piece", "pieces"));
    if of(Scope::Lot) > 0 {
        words.push_str(&format!(", {}", count(of(Scope::Lot), "lot", "lots")));
    }
    let cursor = list_title(state, &words, canvas);
    let marked = state.holds.marked.len();
    if marked > 0 && cursor.is_none() {
        let row = filter_row(state, &words);
        let width = canvas.width();
        canvas.row(0, &row.right(width, Tone::Accent, format!("{marked} marked")));
    }
    cursor
}

/// Returns the row above the doubts of a lot.
fn lot_row(held: &Held, width: usize) -> Row {
    let row = Row::of(Tone::Strong, held.lot());
    let Some(doubt) = held.group.doubts.first() else { return row };
    let room = width.saturating_sub(row.width());
    row.with(Tone::Quiet, text::fit(&format!("  {}, from {}", doubt.product_name, doubt.source), room))
}

/// Returns a row as cells.
fn cells(state: &State, row: &HoldRow<'_>) -> [(Tone, String); 6] {
    let first = row.first();
    let standing = first.group.standing;
    let tone = standing_tone(standing);
    let pieces = row.pieces();
    let marked = pieces.iter().filter(|number| state.holds.marked.contains(*number)).count();
    let mark = match (marked, row) {
        (0, HoldRow::Fold { open: false, .. }) => (Tone::Quiet, "+"),
        (0, HoldRow::Fold { open: true, .. }) => (Tone::Quiet, "-"),
        (0, HoldRow::One { .. }) => (Tone::Plain, ""),
        (some, _) if some == pieces.len() => (Tone::Accent, "*"),
        _ => (Tone::Accent, "~"),
    };
    let (number, risk) = match row {
        HoldRow::One { held, .. } if held.group.scope == Scope::Lot => ("lot".to_owned(), held.group.at_risk),
        HoldRow::One { held, inside } => {
            let indent = if *inside { " " } else { "" };
            (format!("{indent}{}", short_number(&held.group.number)), held.group.at_risk)
        }
        HoldRow::Fold { held, .. } => {
            let numbers: Vec<&str> = held.iter().map(|held| held.group.number.as_str()).collect();
            let words = numbers_text(&numbers);
            let words =
                if text::width(&words) > 10 { count(numbers.len(), "piece", "pieces") } else { words };
            (words, at_risk(held.iter().map(|held| &held.group)))
        }
    };
    // What repeats the row above steps back.
    let repeats = matches!(row, HoldRow::One { inside: true, .. });
    let quiet = |tone: Tone| if repeats { Tone::Quiet } else { tone };
    [
        (mark.0, mark.1.to_owned()),
        (Tone::Plain, number),
        (tone, standing_sign(standing).to_string()),
        (quiet(tone), first.kinds.clone()),
        (quiet(Tone::Plain), first.first.clone()),
        (quiet(Tone::Plain), risk.map_or_else(|| "no price".to_owned(), money_text)),
    ]
}
