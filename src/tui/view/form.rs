//! The entry form of the bench: one row a field, the one with the focus marked.
//!
//! ```text
//!   piece 8 of 20
//!
//!   mass           27.21      27.21 g       label, as typed, in its stored unit
//! > diameter       38.1                     the focus
//!   probe          pencil, 60 kHz
//! ```

use super::super::state::{State, Work};
use super::canvas::{Canvas, window};
use crate::desk::screen::Units;
use crate::desk::views::{DraftField, Field};
use crate::present::text;
use crate::present::tone::{Row, Tone};
use ratatui::layout::Position;

/// Width of the form.
pub(super) const WIDTH: usize = 40;
/// First column of what is typed.
const TYPED: usize = 17;
/// Columns of what is typed.
const TYPED_WIDTH: usize = 11;
/// First column of the value in its stored unit.
const ECHO: usize = 28;

/// Returns the rows of the form in full: title, blank, fields, probe.
pub(super) fn height(work: &Work) -> usize {
    work.draft.fields.len() + 3
}

/// Draws the form with its title and returns where the cursor belongs.
pub(super) fn draw(state: &State, work: &Work, canvas: &mut Canvas) -> Option<Position> {
    let number = work.lot.logged + 1;
    let title = if work.full() {
        "every piece is logged".to_owned()
    } else {
        format!("piece {number} of {}", work.lot.expected)
    };
    canvas.row(0, &Row::of(Tone::Strong, format!("  {title}")));
    let rows = canvas.height().saturating_sub(2);
    let width = canvas.width();
    fields(state, work, &mut canvas.part(0, 2, width, rows))
}

/// Draws as many fields as there is room for, around the focus, then the probe.
pub(super) fn fields(state: &State, work: &Work, canvas: &mut Canvas) -> Option<Position> {
    let all = work.draft.fields.len();
    let room = canvas.height();
    let with_probe = room > all;
    let first = window(work.draft.focus, all, room);
    let mut cursor = None;
    for (line, index) in (first..all).take(room).enumerate() {
        let field = &work.draft.fields[index];
        let focused = index == work.draft.focus;
        canvas.row(line, &field_row(state, work, index, field, focused));
        if focused {
            let tone = if field.accepted { Tone::Plain } else { Tone::Strong };
            cursor = canvas.input(TYPED, line, TYPED_WIDTH, &work.input, tone);
        }
    }
    if with_probe {
        canvas.row(
            all,
            &Row::of(Tone::Quiet, "  probe").to_column(TYPED).with(Tone::Plain, probe_text(state, work)),
        );
    }
    cursor
}

/// Returns a field: label, as typed, in its stored unit.
fn field_row(state: &State, work: &Work, index: usize, field: &DraftField, focused: bool) -> Row {
    let (mark, tone) = if focused { ("> ", Tone::Accent) } else { ("  ", Tone::Quiet) };
    let label = text::pad_end(&label(field.field, &state.settings.units), TYPED - 2);
    let row = Row::of(tone, format!("{mark}{label}"));
    let row = if focused {
        row.to_column(ECHO)
    } else {
        row.typed(Tone::Plain, text::pad_end(&field.text, TYPED_WIDTH))
    };
    let echo =
        work.echoes.get(index).and_then(|echo| echo.as_deref()).filter(|echo| *echo != field.text.trim());
    let kept = if field.reason.is_some() { " kept" } else { "" };
    row.with(Tone::Quiet, text::fit(&format!("{}{kept}", echo.unwrap_or_default()), WIDTH - ECHO))
}

/// Returns the label of a field, with the unit of a bare number where that is not the stored one.
fn label(field: Field, units: &Units) -> String {
    let words = field.label();
    let unit = match field {
        Field::Reading(measurand, _) => units.other_than_stored(measurand),
        Field::Serial => None,
    };
    match unit {
        Some(unit) => format!("{}, {}", words.replace("conductivity", "cond."), unit.symbol),
        None => words,
    }
}

/// Returns the probe in use.
fn probe_text(state: &State, work: &Work) -> String {
    match &work.draft.probe {
        None => "none chosen".to_owned(),
        Some(name) => {
            let known = state.facts.probes.iter().find(|probe| probe.name == *name);
            let words = known.map_or_else(|| name.clone(), |probe| format!("{name}, {}", probe.text));
            text::fit(&words, WIDTH - TYPED)
        }
    }
}
