//! The finder: a line to type in, and below it what fits.
//!
//! ```text
//! -- Find ----------------------------------------------------------
//! > 4711
//!
//! > S-0012/3-07    AB004711    ? hold    at the desk   silver coin
//!   S-0009/1       XK904711              not logged yet  gold bar
//! ------------------------------------------------------------------
//! ```

use super::super::dialog::page_room;
use super::super::finder::Finder;
use super::canvas::{Canvas, window};
use super::dialogs::panel;
use crate::desk::{Hit, HitKind};
use crate::present::text;
use crate::present::tone::{Row, Tone};
use crate::present::words::{count, standing_text, standing_tone};
use ratatui::layout::Position;

/// What can be typed, said while nothing is.
const WHAT: [&str; 5] = [
    "a number, or how it begins:     S-0012   12   S-0012/3   S-0012/3-07",
    "a serial, or how it begins;     a scanner may type it",
    "its last four characters:       4711",
    "a word of a source:             geese",
    "a word or the id of a product:  silver   us-5112",
];
/// Columns of number, serial, standing and place.
const NUMBER: usize = 14;
const SERIAL: usize = 16;
const STANDING: usize = 9;
const PLACE: usize = 17;

/// Draws the finder and returns where its cursor is.
pub(super) fn draw(finder: &Finder, canvas: &mut Canvas) -> Option<Position> {
    let (columns, lines) = page_room(canvas.width() as u16, canvas.height() as u16);
    let end = match finder.hits.len() {
        0 => String::new(),
        hits => count(hits, "fits", "fit"),
    };
    let mut inside = panel(canvas, "Find", &end, columns, lines);
    inside.row(0, &Row::of(Tone::Accent, "> "));
    let cursor = inside.input(2, 0, columns.saturating_sub(2), &finder.input, Tone::Strong);
    let mut from = if inside.height() > 6 { 2 } else { 1 };
    if let Some(fault) = &finder.fault {
        let words =
            std::iter::once(&fault.message).chain(&fault.hints).cloned().collect::<Vec<_>>().join("; ");
        let rows: Vec<Row> = text::wrap(&format!("! {words}"), columns)
            .into_iter()
            .map(|line| Row::of(Tone::Refuse, line))
            .collect();
        inside.rows(from, &rows);
        from += rows.len() + 1;
    }
    if finder.text().is_empty() {
        let rows: Vec<Row> =
            WHAT.iter().map(|line| Row::of(Tone::Quiet, text::fit(&format!("  {line}"), columns))).collect();
        inside.rows(from, &rows);
        return cursor;
    }
    if finder.hits.is_empty() && finder.is_answered() && finder.fault.is_none() {
        inside.row(from, &Row::of(Tone::Quiet, "  nothing in the book fits that"));
    }
    let room = inside.height().saturating_sub(from);
    let first = window(finder.selected, finder.hits.len(), room);
    for (line, (index, hit)) in finder.hits.iter().enumerate().skip(first).take(room).enumerate() {
        inside.row(from + line, &hit_row(hit, index == finder.selected, columns));
    }
    cursor
}

/// Returns a hit as a row: number, serial, standing, place, source or product; a shipment has a source only.
fn hit_row(hit: &Hit, here: bool, columns: usize) -> Row {
    let cell = |words: &str, width: usize| text::pad_end(&text::fit(words, width - 1), width);
    let tone = if here { Tone::Strong } else { Tone::Plain };
    let serial = match hit.kind {
        HitKind::Shipment | HitKind::Lot => hit.kind.word(),
        HitKind::Piece | HitKind::Expected => hit.serial.as_deref().unwrap_or("piece"),
    };
    let mut row = Row::of(Tone::Accent, if here { "> " } else { "  " })
        .with(tone, cell(&hit.number, NUMBER))
        .with(tone, cell(serial, SERIAL));
    if hit.kind != HitKind::Shipment {
        let standing = hit.standing.map_or_else(String::new, standing_text);
        row = row
            .with(hit.standing.map_or(Tone::Quiet, standing_tone), cell(&standing, STANDING))
            .with(Tone::Quiet, cell(&hit.place, PLACE));
    }
    let room = columns.saturating_sub(row.width());
    row.with(Tone::Quiet, text::fit(&hit.what, room))
}
