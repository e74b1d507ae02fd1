//! The methods for a second test, and the partials of a recording: panels over the holds.
//!
//! ```text
//! -- Second test of S-0012/3-07 ---------------------------------
//! > + ring          settles all 2   4 min        the disc rings at ...
//!   - immersion     cannot tell     U 0.110 g/cm3, gap 0.030 g/cm3
//!
//! why             settles it: the disc rings at 5.1 kHz ...
//! mind            Ring the free piece on a soft support ...
//! ---------------------------------------------------------------
//! ```

use super::super::dialog::{Methods, Partials, page_room};
use super::super::state::State;
use super::canvas::{Canvas, window};
use super::dialogs::panel;
use crate::present::second_test::{Ranked, method_rows, time_and_fee};
use crate::present::spectrum::{partial_text, rejected_rows, spectrum_rows};
use crate::present::text;
use crate::present::tone::{Row, Tone};
use crate::present::verdict::reasons;
use crate::present::words::{count, standing_text, standing_tone};
use crate::scoring::Power;

/// Rows that the account of the selected method needs at least.
const DETAIL: usize = 7;

/// Draws the list of methods.
pub(super) fn methods(methods: &Methods, canvas: &mut Canvas) {
    let (columns, lines) = page_room(canvas.width() as u16, canvas.height() as u16);
    let title = format!("Second test of {}", methods.piece.number);
    let mut inside = panel(canvas, &title, "", columns, lines);
    let lines = inside.height();
    let piece = &methods.piece;
    let open = reasons(piece).len();
    let head = Row::of(standing_tone(piece.standing), standing_text(piece.standing))
        .with(Tone::Plain, format!("  {}, ", count(open, "open doubt", "open doubts")))
        .with(Tone::Quiet, text::fit(&piece.product_name, columns.saturating_sub(28)));
    let skip = if lines >= 12 {
        inside.row(0, &head);
        2
    } else {
        0
    };
    let room = lines.saturating_sub(skip);
    let list = if room > DETAIL + 3 { methods.ranked.len().min(room - DETAIL - 1) } else { room.min(3) };
    let first = window(methods.selected, methods.ranked.len(), list);
    for (line, (index, ranked)) in methods.ranked.iter().enumerate().skip(first).take(list).enumerate() {
        inside.row(skip + line, &method_row(ranked, index == methods.selected, columns));
    }
    if let Some(ranked) = methods.ranked.get(methods.selected) {
        let below = skip + list + usize::from(room > list + 3);
        let mut rows = method_rows(ranked, columns);
        let most = lines.saturating_sub(below);
        // What to mind is never what is cut.
        if rows.len() > most && most > 2 {
            let tail = rows.split_off(rows.len() - rows.iter().rev().take_while(|row| is_mind(row)).count());
            rows.truncate(most.saturating_sub(tail.len()));
            rows.extend(tail);
        }
        inside.rows(below, &rows);
    }
}

/// Tells whether a row belongs to what is to be minded.
fn is_mind(row: &Row) -> bool {
    row.runs.iter().any(|run| run.tone == Tone::Hold)
}

/// Returns a method as a row: sign, name, what it can do, what it takes, why.
fn method_row(ranked: &Ranked, selected: bool, columns: usize) -> Row {
    let strong = if selected { Tone::Strong } else { ranked.tone() };
    let row = Row::of(Tone::Accent, if selected { "> " } else { "  " })
        .with(ranked.tone(), format!("{} ", ranked.sign()))
        .with(strong, text::pad_end(ranked.method.label(), 15))
        .with(ranked.tone(), text::pad_end(&ranked.summary(), 16));
    let able = matches!(ranked.power, Some(Power::Settles | Power::Narrows));
    let row = match ranked.cost.filter(|_| able) {
        Some(cost) => row.with(Tone::Plain, text::pad_end(&time_and_fee(cost), 20)),
        None => row,
    };
    let room = columns.saturating_sub(row.width());
    row.with(Tone::Quiet, text::fit(ranked.why(), room))
}

/// Draws the partials of a recording with their spectrum.
pub(super) fn partials(state: &State, partials: &Partials, canvas: &mut Canvas) {
    let (columns, lines) = page_room(canvas.width() as u16, canvas.height() as u16);
    let recording = &partials.recording;
    let title = format!("Ring in {}", text::clean(&partials.path));
    let mut inside = panel(canvas, &title, "", columns, lines);
    let lines = inside.height();
    let (list, plot) = match lines {
        14.. => (recording.partials.len().min(lines - 11), 7),
        9.. => (recording.partials.len().min(lines - 7), 5),
        _ => (lines, 0),
    };
    let first = window(partials.selected, recording.partials.len(), list);
    for (line, (index, partial)) in recording.partials.iter().enumerate().skip(first).take(list).enumerate() {
        let here = index == partials.selected;
        let row = Row::of(Tone::Accent, if here { "> " } else { "  " }).with(
            if here { Tone::Strong } else { Tone::Plain },
            text::fit(&partial_text(index, partial), columns - 2),
        );
        inside.row(line, &row);
    }
    if plot == 0 {
        return;
    }
    inside.rows(list + 1, &spectrum_rows(recording, state.facts.marks, columns, plot));
    let words = format!(
        "{:.2} s at {} Hz, struck at {:.2} s, {:.2} s of decay used. The ring wanted is the lowest of the free piece; a \
         stand or a finger adds lower ones.",
        recording.duration_s, recording.rate_hz, recording.strike_s, recording.decay_used_s
    );
    let mut rows: Vec<Row> =
        text::wrap(&words, columns).into_iter().map(|line| Row::of(Tone::Quiet, line)).collect();
    rows.extend(rejected_rows(&recording.rejected, columns));
    inside.rows(list + plot + 1, &rows);
}
