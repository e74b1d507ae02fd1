//! The bench with room: verdict and reasons in the middle, the lot as strips and plots around them.
//!
//! ```text
//! piece 8 of 20                        S-0012/3-07   A-0041                            number
//!                                      ? hold        score 71.3 on 4 checks            verdict
//!   mass           27.21
//! > diameter       38.1                mass  27.210 g  =====......  48 % inside        checks
//!
//! logged                               why             hidden core: ...                sections
//!   -06  + clear   98.0                could still be  ...
//! > -07  ? hold    71.3  a             settled by      ...
//!
//! mass         27.21, 26.90 to 27.50 g  g/cm3  density against conductivity             plots
//! |..':.a'.:..              |           10.2 |     +-----+
//! ```
//!
//! Every block has its place by the size of the screen and the product alone, so that nothing moves when a verdict comes. From
//! 160 columns on, the product has a column of its own and there are two plots.

use super::super::super::dialog::product_rows;
use super::super::super::plots::lot_plots;
use super::super::super::state::{Shown, State, Work};
use super::super::canvas::{Canvas, window};
use super::super::form;
use super::{lot_facts, lot_row, number_row, shown};
use crate::present::lot_plot::LotPlots;
use crate::present::text;
use crate::present::tone::{Row, Tone};
use crate::present::verdict::{checks, sections, verdict_row};
use crate::present::words::{letters, short_number, standing_text, standing_tone};
use ratatui::layout::Position;

/// From this width on, the product has a column.
const WIDEST: usize = 158;
/// Columns between form and verdict.
const GAP: usize = 4;
/// Width of that column.
const PRODUCT: usize = 46;
/// Fewest rows of the list of logged pieces beside strips.
const LIST: usize = 8;
/// Rows that the sections have before a plot has any.
const SECTIONS: usize = 10;
/// Fewest and most rows of a plot on the bench.
const PLOT: std::ops::RangeInclusive<usize> = 12..=20;
/// Fewest columns of one of two plots, and the columns between them.
const PLOT_WIDTH: usize = 46;
const BETWEEN: usize = 3;
/// Widest check.
const CHECK: usize = 76;

/// How the middle column is shared out, in rows.
struct Shares {
    /// The checks.
    checks: usize,
    /// Reasons and what would settle them.
    sections: usize,
    /// The plots; 0 where there is no room.
    plot: usize,
}

/// Number, verdict and a blank above the checks, a blank below them.
const HEAD: usize = 3;

impl Shares {
    fn of(lines: usize, checks: usize, plots: bool) -> Shares {
        let after = |checks: usize| lines.saturating_sub(HEAD + checks + 1);
        let fits = |checks: usize| after(checks) > SECTIONS + PLOT.start();
        if plots && (fits(2 * checks) || fits(checks)) {
            let checks = if fits(2 * checks) { 2 * checks } else { checks };
            let plot = (after(checks) - SECTIONS - 1).min(*PLOT.end());
            return Shares { checks, sections: after(checks) - plot - 1, plot };
        }
        let checks = (2 * checks).min(lines.saturating_sub(12));
        Shares { checks, sections: after(checks), plot: 0 }
    }
}

/// Draws two or three full columns and returns where the cursor belongs.
pub(super) fn draw(state: &State, work: &Work, canvas: &mut Canvas) -> Option<Position> {
    let (width, height) = (canvas.width(), canvas.height());
    let plots = lot_plots(state);
    canvas.row(0, &lot_row(work, width));
    let form_rows = form::height(work);
    let cursor = form::draw(state, work, &mut canvas.part(0, 2, form::WIDTH, form_rows));
    let list = 2 + form_rows + 1;
    let mut below = canvas.part(0, list, form::WIDTH, height.saturating_sub(list));
    below_the_form(state, work, plots.as_ref(), &mut below);
    let x = form::WIDTH + GAP;
    let third = if width >= WIDEST { PRODUCT } else { 0 };
    let middle = width.saturating_sub(x + if third > 0 { third + 4 } else { 0 });
    let mut middle = canvas.part(x, 2, middle, height.saturating_sub(2));
    verdict(state, work, (plots.as_ref(), third > 0), &mut middle);
    if third > 0 {
        let rows = product_rows(state, work.lot.product.as_str(), third);
        canvas.part(width - third, 2, third, height.saturating_sub(2)).rows(0, &rows);
    }
    cursor
}

/// Draws the logged pieces, and below them the strips where there is room for both.
fn below_the_form(state: &State, work: &Work, plots: Option<&LotPlots>, canvas: &mut Canvas) {
    let (width, lines) = (canvas.width(), canvas.height());
    let strips = plots.map_or(0, |plots| plots.strips.len());
    let fits = |high: usize| strips > 0 && lines > LIST + strips * (1 + high);
    let high = [2, 1].into_iter().find(|high| fits(*high)).unwrap_or(0);
    let taken = if high > 0 { strips * (1 + high) } else { 0 };
    pieces_list(work, &mut canvas.part(0, 0, width, lines - taken - usize::from(high > 0)));
    if let Some(plots) = plots.filter(|_| high > 0) {
        canvas.rows(lines - taken, &plots.strip_rows(state.facts.marks, width, high));
    }
}

/// Draws the verdict of the piece shown, or what is known before there is one, and the plots.
fn verdict(
    state: &State,
    work: &Work,
    (plots, product_beside): (Option<&LotPlots>, bool),
    canvas: &mut Canvas,
) {
    let (width, lines) = (canvas.width(), canvas.height());
    let piece = shown(work);
    let number = plots.map_or(0, |plots| plots.strips.len());
    let number = piece.map_or(number, |piece| number.max(piece.assessment.checks.len()));
    let shares = Shares::of(lines, number, plots.is_some());
    let above = HEAD + shares.checks + 1;
    match piece {
        Some(piece) => {
            canvas.row(0, &number_row(piece));
            canvas.row(1, &verdict_row(piece));
            let units = &state.settings.units;
            canvas.rows(HEAD, &checks(&piece.assessment, width.min(CHECK), shares.checks, units));
            canvas.part(0, above, width, shares.sections).rows(0, &sections(piece, width, shares.sections));
        }
        None => {
            let mut rows = vec![Row::of(Tone::Quiet, "The verdict appears here when the piece is logged.")];
            if !product_beside {
                rows = product_rows(state, work.lot.product.as_str(), width);
            }
            rows.push(Row::blank());
            rows.extend(lot_facts(work, width));
            canvas.part(0, 0, width, above + shares.sections).rows(0, &rows);
        }
    }
    if let Some(plots) = plots.filter(|_| shares.plot > 0) {
        draw_plots(state, plots, &mut canvas.part(0, lines - shares.plot, width, shares.plot));
    }
}

/// Draws the plots: both where there is room for them side by side, else the first.
fn draw_plots(state: &State, plots: &LotPlots, canvas: &mut Canvas) {
    let (width, lines) = (canvas.width(), canvas.height());
    let marks = state.facts.marks;
    if width < 2 * PLOT_WIDTH + BETWEEN {
        canvas.rows(0, &plots.density.rows(marks, width, lines));
        return;
    }
    let half = (width - BETWEEN) / 2;
    canvas.rows(0, &plots.density.rows(marks, half, lines));
    canvas.part(half + BETWEEN, 0, half, lines).rows(0, &plots.mass.rows(marks, half, lines));
}

/// Draws the logged pieces as a list.
fn pieces_list(work: &Work, canvas: &mut Canvas) {
    canvas.row(0, &Row::of(Tone::Quiet, "  logged"));
    let rows = canvas.height().saturating_sub(1);
    if work.pieces.is_empty() {
        canvas.row(1, &Row::of(Tone::Quiet, "  none yet"));
        return;
    }
    let at = match work.shown {
        Shown::Piece(index) => index,
        Shown::InHand => work.pieces.len() - 1,
    };
    let letters = letters(work.pieces.iter().map(|piece| piece.standing));
    let first = window(at, work.pieces.len(), rows);
    for (line, index) in (first..work.pieces.len()).take(rows).enumerate() {
        let piece = &work.pieces[index];
        let here = work.shown == Shown::Piece(index);
        let row = Row::of(Tone::Accent, if here { "> " } else { "  " })
            .with(
                if here { Tone::Strong } else { Tone::Plain },
                text::pad_end(short_number(&piece.number), 6),
            )
            .with(standing_tone(piece.standing), text::pad_end(&standing_text(piece.standing), 10))
            .with(Tone::Quiet, text::pad_start(&piece.assessment.score_shown(), 5))
            .with(Tone::Hold, text::pad_end(&format!("  {}", letters[index]), 5))
            .with(Tone::Quiet, text::fit(piece.serial.as_deref().unwrap_or_default(), 12));
        canvas.row(1 + line, &row);
    }
}
