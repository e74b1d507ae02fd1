//! The bench: the entry form, and beside it the piece logged last or chosen.
//!
//! ```text
//! S-0012/3  one dollar 1873, 900 silver      7 of 20   5 clear  1 hold  1 refuse         lot
//!
//!   piece 8 of 20                       S-0012/3-07   A-0041                               number
//!                                       ? hold        score 71.3 on 4 checks               verdict
//!   mass           27.21    27.21 g     mass          27.210 ± 0.016 g                     checks
//! > diameter       38.1                 ===========.................  48 % inside
//!
//! why             hidden core: ...                                                         sections
//! could still be  ...
//! settled by      ...
//! logged          01+  02+  03?a  04x                                                      pieces
//! ```
//!
//! Panes: lot, form, verdict with checks, sections, logged pieces. From 110 columns on, the logged pieces are a list
//! below the form, the sections stand below the checks, and the plots of the lot have the rest, see [`wide`]. On a small
//! screen the form and one line of verdict remain.

mod wide;

use super::super::dialog::product_rows;
use super::super::keymap::{Act, Place};
use super::super::state::{Shown, State, Work};
use super::canvas::Canvas;
use super::form;
use crate::desk::views::PieceView;
use crate::present::text;
use crate::present::tone::{Row, Tone};
use crate::present::verdict::{LABEL, checks, sections, verdict_row};
use crate::present::words::{
    count, letters, money_text, short_number, standing_sign, standing_text, standing_tone,
};
use crate::scoring::Standing;
use ratatui::layout::Position;

/// From this width on, the bench has two full columns.
const WIDE: usize = 108;
/// Least width of the two blocks side by side.
const BESIDE: usize = 76;
/// Gap between form and verdict where the screen is narrow: the widest verdict just fits into 80 columns.
const GAP: usize = 1;

/// Draws the bench and returns where the cursor belongs.
pub(super) fn draw(state: &State, canvas: &mut Canvas) -> Option<Position> {
    let Some(work) = state.bench.work.as_ref() else {
        let key = state.keymap.key(Place::Bench, Act::Screens);
        let rows = [
            Row::blank(),
            Row::of(Tone::Strong, "No lot is open."),
            Row::blank(),
            Row::of(Tone::Plain, format!("{key} shows the screens: choose Receive, open a shipment,")),
            Row::of(Tone::Plain, "and press Enter on the lot you want to log."),
        ];
        canvas.rows(0, &rows);
        return None;
    };
    let (width, height) = (canvas.width(), canvas.height());
    if width >= WIDE && height >= 20 {
        wide::draw(state, work, canvas)
    } else if width >= BESIDE && height >= form::height(work) + 7 {
        beside(state, work, canvas)
    } else {
        stacked(state, work, canvas)
    }
}

/// Returns the piece that is shown.
fn shown(work: &Work) -> Option<&PieceView> {
    match work.shown {
        Shown::Piece(index) => work.pieces.get(index),
        Shown::InHand => None,
    }
}

/// Returns the row about the lot.
fn lot_row(work: &Work, width: usize) -> Row {
    let lot = &work.lot;
    let mut totals = Row::of(Tone::Plain, format!("{} of {}", lot.logged, lot.expected));
    for (number, standing) in
        [(lot.clear, Standing::Clear), (lot.hold, Standing::Hold), (lot.refuse, Standing::Refuse)]
    {
        let tone = if number == 0 { Tone::Quiet } else { standing_tone(standing) };
        totals = totals.with(Tone::Plain, "  ").with(tone, format!("{number} {}", standing.word()));
    }
    let room = width.saturating_sub(totals.width() + text::width(&lot.number) + 4);
    Row::of(Tone::Strong, &lot.number)
        .with(Tone::Plain, "  ")
        .with(Tone::Plain, text::fit(&lot.product_name, room))
        .to_column(width.saturating_sub(totals.width()))
        .joined(totals)
}

/// Returns the row with number and serial of a piece.
fn number_row(piece: &PieceView) -> Row {
    let row = Row::of(Tone::Strong, &piece.number).to_column(14);
    match &piece.serial {
        Some(serial) => row.with(Tone::Plain, format!("serial {serial}")),
        None => row,
    }
}

/// Returns what is known about the lot while the piece in hand has no verdict yet.
fn lot_facts(work: &Work, width: usize) -> Vec<Row> {
    let mut rows = Vec::new();
    let room = width.saturating_sub(LABEL);
    let label = |words: &str| Row::of(Tone::Quiet, text::pad_end(words, LABEL));
    let open = &work.lot.serials_open;
    if !open.is_empty() {
        let words = format!("{} not seen yet: {}", count(open.len(), "serial", "serials"), open.join(", "));
        rows.push(label("packing list").with(Tone::Plain, text::fit(&words, room)));
    }
    if work.lot.lot_doubts > 0 {
        let doubts = count(work.lot.lot_doubts as usize, "doubt concerns", "doubts concern");
        rows.push(
            label("lot").with(Tone::Hold, text::fit(&format!("{doubts} every piece; see Holds"), room)),
        );
    }
    if let Some(cost) = work.lot.unit_cost {
        rows.push(label("paid").with(Tone::Plain, format!("{} a piece", money_text(cost))));
    }
    rows
}

/// Form and verdict side by side, sections below, logged pieces in one line.
fn beside(state: &State, work: &Work, canvas: &mut Canvas) -> Option<Position> {
    let (width, height) = (canvas.width(), canvas.height());
    canvas.row(0, &lot_row(work, width));
    let form_rows = form::height(work);
    let cursor = form::draw(state, work, &mut canvas.part(0, 2, form::WIDTH, form_rows));
    let x = form::WIDTH + GAP;
    let right = width.saturating_sub(x);
    // Room for: lot, blank | upper block | blank, four rows of sections, the logged pieces.
    let most = height.saturating_sub(2 + 1 + 4 + 1);
    let piece = shown(work);
    let wanted = piece.map_or(0, |piece| 2 + 2 * piece.assessment.checks.len());
    let upper = form_rows.max(wanted.min(most));
    let mut verdict = canvas.part(x, 2, right, upper);
    match piece {
        Some(piece) => {
            verdict.row(0, &number_row(piece));
            verdict.row(1, &verdict_row(piece));
            verdict.rows(2, &checks(&piece.assessment, right, upper - 2, &state.settings.units));
        }
        None => verdict.rows(0, &product_rows(state, work.lot.product.as_str(), right)),
    }
    let below = 2 + upper + 1;
    let lines = height.saturating_sub(below + 1);
    let rows = match piece {
        Some(piece) => sections(piece, width, lines),
        None => lot_facts(work, width),
    };
    canvas.part(0, below, width, lines).rows(0, &rows);
    canvas.row(height - 1, &pieces_row(work, width));
    cursor
}

/// The form, one line of verdict, and below what there is room for.
fn stacked(state: &State, work: &Work, canvas: &mut Canvas) -> Option<Position> {
    let (width, height) = (canvas.width(), canvas.height());
    let form_rows = (work.draft.fields.len() + 1).min(height.saturating_sub(1));
    let cursor = form::fields(state, work, &mut canvas.part(0, 0, width, form_rows));
    let piece = shown(work);
    let rest = height - form_rows;
    if rest < 5 {
        if let Some(piece) = piece.or_else(|| work.pieces.last()) {
            canvas.row(height - 1, &verdict_line(piece));
        }
        return cursor;
    }
    let Some(piece) = piece else {
        canvas.part(0, form_rows + 1, width, rest - 2).rows(0, &lot_facts(work, width));
        canvas.row(height - 1, &pieces_row(work, width));
        return cursor;
    };
    let mut below = canvas.part(0, form_rows + 1, width, rest - 2);
    below.row(0, &verdict_line(piece));
    let rows = checks(&piece.assessment, width, below.height().saturating_sub(1), &state.settings.units);
    below.rows(1, &rows);
    let used = 1 + rows.len();
    let lines = below.height().saturating_sub(used + 1);
    below.rows(used + 1, &sections(piece, width, lines));
    canvas.row(height - 1, &pieces_row(work, width));
    cursor
}

/// Returns number, standing and score in one line.
fn verdict_line(piece: &PieceView) -> Row {
    Row::of(Tone::Plain, &piece.number)
        .with(Tone::Plain, "  ")
        .with(standing_tone(piece.standing), standing_text(piece.standing))
        .with(Tone::Plain, format!("  {}", piece.assessment.score_shown()))
}

/// Returns the logged pieces in one row, the last ones that fit, or those around the one shown.
fn pieces_row(work: &Work, width: usize) -> Row {
    let label = Row::of(Tone::Quiet, text::pad_end("logged", LABEL.min(width)));
    if work.pieces.is_empty() {
        return label.with(Tone::Quiet, "none yet; Enter accepts a field and goes on");
    }
    let letters = letters(work.pieces.iter().map(|piece| piece.standing));
    let items: Vec<(Tone, String)> = work
        .pieces
        .iter()
        .zip(&letters)
        .map(|(piece, letter)| {
            let number = short_number(&piece.number).trim_start_matches('-');
            (standing_tone(piece.standing), format!("{number}{}{letter}", standing_sign(piece.standing)))
        })
        .collect();
    let at = match work.shown {
        Shown::Piece(index) => index.min(items.len() - 1),
        Shown::InHand => items.len() - 1,
    };
    let room = width.saturating_sub(LABEL);
    // Backwards from a little after the one shown, as many as fit.
    let last = (at + 2).min(items.len() - 1);
    let mut first = last + 1;
    let mut used = 0;
    while first > 0 {
        let next = text::width(&items[first - 1].1) + 3;
        if used + next > room {
            break;
        }
        used += next;
        first -= 1;
    }
    let mut row = label;
    for (index, (tone, words)) in items.iter().enumerate().take(last + 1).skip(first) {
        let here = work.shown == Shown::Piece(index);
        row = row.with(Tone::Accent, if here { ">" } else { " " }).with(*tone, words).with(Tone::Plain, "  ");
    }
    row
}
