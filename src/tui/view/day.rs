//! Day: the account of a day, as a page that is scrolled.
//!
//! ```text
//! Day sheet 2026-03-14                              made 2026-03-14 17:05
//!
//! Lots of the day
//! lot            logged  clear   hold refuse  stock   back  surr.  standing
//! ```
//!
//! Panes: one.

use super::super::dialog::day_room;
use super::super::state::State;
use super::canvas::Canvas;
use crate::present::day::day_rows;
use crate::present::tone::{Row, Tone};

/// Draws the day sheet.
pub(super) fn draw(state: &State, canvas: &mut Canvas) {
    let Some(view) = &state.day.view else {
        canvas.row(1, &Row::of(Tone::Quiet, "The day is not read yet."));
        return;
    };
    let (columns, lines) = day_room(canvas.width() as u16 + 2, canvas.height() as u16 + 4);
    let rows = day_rows(view, columns, state.facts.offset);
    let lines = lines.min(canvas.height());
    let offset = state.day.offset.min(rows.len().saturating_sub(lines));
    canvas.rows(0, &rows[offset..(offset + lines).min(rows.len())]);
    if offset + lines < rows.len() && lines > 1 {
        let rest = rows.len() - offset - lines + 1;
        canvas.part(0, lines - 1, columns, 1).clear();
        canvas.row(lines - 1, &Row::of(Tone::Quiet, format!(".. {rest} more lines; PgDn")));
    }
}
