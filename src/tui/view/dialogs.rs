//! Dialogs: a panel between two rules, over the middle of the screen.
//!
//! ```text
//! -- Correct S-0012/3-07 --------------------------
//!
//!   field      mass
//! > new value  27.21
//!   why
//!
//!   as the instrument shows it
//! -------------------------------------------------
//! ```

use super::super::dialog::{Choice, Dialog, Form, FormRow, Page, RowKind, page_room};
use super::super::state::State;
use super::canvas::{Canvas, window};
use super::second_test;
use crate::present::text;
use crate::present::tone::{Row, Tone};
use ratatui::layout::{Position, Rect};
use tui_input::Input;

/// Widest panel of a form, a choice or the palette.
const WIDEST: usize = 84;
/// Rows of the screen that the tallest panel leaves: header, rules, notice and footer.
const TALL: usize = 6;
/// Columns of the labels of a form.
const LABEL: usize = 15;

/// Draws a dialog over the screen and returns where the cursor belongs.
pub(super) fn draw(state: &State, dialog: &Dialog, canvas: &mut Canvas) -> Option<Position> {
    match dialog {
        Dialog::Palette { query, selected } => draw_palette(state, query, *selected, canvas),
        Dialog::Choice(choice) => {
            draw_choice(choice, canvas);
            None
        }
        Dialog::Form(form) => draw_form(state, form, canvas),
        Dialog::Page(page) => {
            draw_page(state, page, canvas);
            None
        }
        Dialog::Methods(methods) => {
            second_test::methods(methods, canvas);
            None
        }
        Dialog::LastActs(list) => {
            super::last_acts::draw(list, state.facts.offset, canvas);
            None
        }
        Dialog::Finder(finder) => super::finder::draw(finder, canvas),
        Dialog::Partials(partials) => {
            second_test::partials(state, partials, canvas);
            None
        }
    }
}

/// Draws an empty panel with a title for `rows` rows and returns its inside.
pub(super) fn panel<'a>(
    canvas: &'a mut Canvas,
    title: &str,
    end: &str,
    columns: usize,
    rows: usize,
) -> Canvas<'a> {
    let (width, height) = (canvas.width(), canvas.height());
    let columns = columns.min(width.saturating_sub(4));
    let rows = rows.min(height.saturating_sub(4));
    let x = (width - columns) / 2 - 1;
    let y = 1 + (height.saturating_sub(4) - rows) / 2;
    // A blank margin keeps the panel apart from what lies below it; beside a panel as tall as the screen nothing is left of it
    // that could be read.
    let (from, wide) = match rows + TALL >= height {
        true => (0, width),
        false => (x.saturating_sub(2), columns + 2 + 2 * x.min(2)),
    };
    canvas.part(from, y, wide, rows + 2).clear();
    let mut frame = canvas.part(x, y, columns + 2, rows + 2);
    let rule = |title: &str| {
        let words = if title.is_empty() { String::new() } else { format!("-- {} ", text::clean(title)) };
        let words = text::fit(&words, columns + 2);
        let rest = (columns + 2).saturating_sub(text::width(&words));
        (words, "-".repeat(rest))
    };
    let (words, rest) = rule(title);
    frame.row(0, &Row::of(Tone::Strong, words).with(Tone::Quiet, rest));
    let (words, rest) = rule(end);
    frame.row(rows + 1, &Row::of(Tone::Quiet, words).with(Tone::Quiet, rest));
    canvas.part(x + 1, y + 1, columns, rows)
}

/// Draws the palette.
fn draw_palette(state: &State, query: &Input, selected: usize, canvas: &mut Canvas) -> Option<Position> {
    let rows = state.keymap.palette(state.screen_place(), query.value());
    let all = state.keymap.palette(state.screen_place(), "").len();
    let columns = canvas.width().saturating_sub(4).min(WIDEST);
    let mut inside = panel(canvas, "Acts", "", columns, all + 3);
    inside.row(0, &Row::of(Tone::Accent, "> "));
    let cursor = inside.input(2, 0, columns.saturating_sub(2), query, Tone::Strong);
    let room = inside.height().saturating_sub(2);
    let first = window(selected, rows.len(), room);
    for (line, (index, bound)) in rows.iter().enumerate().skip(first).take(room).enumerate() {
        let here = index == selected;
        let row = Row::of(Tone::Accent, if here { "> " } else { "  " })
            .with(if here { Tone::Strong } else { Tone::Plain }, text::pad_end(bound.binding.label, 15))
            .with(Tone::Accent, text::pad_end(&bound.two_keys(), 15))
            .with(Tone::Quiet, text::fit(bound.binding.help, columns.saturating_sub(32)));
        inside.row(2 + line, &row);
    }
    if rows.is_empty() {
        inside.row(2, &Row::of(Tone::Quiet, "  no act here contains that"));
    }
    cursor
}

/// Draws a choice: the question, then the answers, around the selected one where there are many.
fn draw_choice(choice: &Choice, canvas: &mut Canvas) {
    let columns = canvas.width().saturating_sub(4).min(64);
    let mut text_rows: Vec<Row> = Vec::new();
    if !choice.text.is_empty() {
        text_rows
            .extend(text::wrap(&choice.text, columns).into_iter().map(|line| Row::of(Tone::Plain, line)));
        text_rows.push(Row::blank());
    }
    let all = text_rows.len() + choice.answers.len();
    let mut inside = panel(canvas, &choice.title, "", columns, all + 2);
    let skip = usize::from(inside.height() > all);
    // Where there is no room for both, the answers come first.
    let least = choice.answers.len().min(4);
    text_rows.truncate(inside.height().saturating_sub(skip + least));
    inside.rows(skip, &text_rows);
    let from = skip + text_rows.len();
    let room = inside.height().saturating_sub(from);
    let first = window(choice.selected, choice.answers.len(), room);
    for (line, (index, (words, _))) in choice.answers.iter().enumerate().skip(first).take(room).enumerate() {
        let here = index == choice.selected;
        let row = Row::of(Tone::Accent, if here { "> " } else { "  " })
            .with(if here { Tone::Strong } else { Tone::Plain }, text::fit(words, columns.saturating_sub(2)));
        inside.row(from + line, &row);
    }
}

/// Columns of the value in its stored unit.
const ECHO: usize = 30;

/// Draws a form.
fn draw_form(state: &State, form: &Form, canvas: &mut Canvas) -> Option<Position> {
    let columns = canvas.width().saturating_sub(4).min(WIDEST);
    let matches = match &form.rows[form.focus].kind {
        RowKind::Product { matches, selected } => Some((matches, *selected)),
        _ => None,
    };
    let shown: Vec<usize> = (0..form.rows.len()).filter(|row| form.asks(*row)).collect();
    let caution: Vec<Row> = form.caution.as_deref().map_or_else(Vec::new, |caution| {
        text::wrap(caution, columns).into_iter().map(|line| Row::of(Tone::Hold, line)).collect()
    });
    let reserved = form.rows.iter().any(|row| matches!(row.kind, RowKind::Product { .. }));
    let below = if reserved { 8 } else { 3 };
    let above = if caution.is_empty() { 0 } else { caution.len() + 1 };
    let mut inside = panel(canvas, &form.title, "", columns, above + shown.len() + 2 + below);
    let room = inside.height();
    // The rows and two lines of hint come first, then the caution.
    let above = if above + shown.len() + 4 <= room {
        above
    } else {
        caution.len().min(room.saturating_sub(shown.len() + 2))
    };
    inside.rows(0, &caution[..caution.len().min(above)]);
    let tight = usize::from(room > above + shown.len() + 3);
    let rows_room = room.saturating_sub(above + tight);
    let focus = shown.iter().position(|row| *row == form.focus).unwrap_or(0);
    // On a screen too small for the whole form, the rows around the focus; one line is left to say why not.
    let lines = shown.len().min(rows_room.saturating_sub(usize::from(shown.len() + 1 > rows_room)).max(1));
    let first = window(focus, shown.len(), lines);
    let mut cursor = None;
    for (place, index) in shown.iter().skip(first).take(lines).enumerate() {
        let row = &form.rows[*index];
        let here = *index == form.focus;
        let (mark, tone) = if here { ("> ", Tone::Accent) } else { ("  ", Tone::Quiet) };
        let line = above + tight + place;
        inside.row(line, &Row::of(tone, format!("{mark}{}", row.label)));
        let at = draw_value(row, here, &mut inside.part(LABEL, line, columns.saturating_sub(LABEL), 1));
        if here {
            cursor = at;
        }
    }
    let from = above + lines + 2 * tight;
    let rows = match &form.fault {
        Some(fault) => {
            let words =
                std::iter::once(&fault.message).chain(&fault.hints).cloned().collect::<Vec<_>>().join("\n");
            text::wrap(&format!("! {words}"), columns)
                .into_iter()
                .map(|line| Row::of(Tone::Refuse, line))
                .collect()
        }
        None => hint_rows(state, form, matches, columns),
    };
    inside.rows(from, &rows);
    cursor
}

/// Draws what a row of a form holds and returns where its cursor is.
fn draw_value(row: &FormRow, here: bool, canvas: &mut Canvas) -> Option<Position> {
    let room = canvas.width();
    let tone = if here { Tone::Strong } else { Tone::Plain };
    match &row.kind {
        RowKind::Options { options, selected } => {
            let words = options.get(*selected).map_or("", String::as_str);
            let place = format!("  {} of {}", selected + 1, options.len());
            let words = text::fit(words, room.saturating_sub(text::width(&place)));
            canvas.row(0, &Row::of(tone, words).with(Tone::Quiet, place));
            None
        }
        RowKind::Secret => {
            let typed = row.input.value().chars().count();
            let hidden = tui_input::Input::from("*".repeat(typed));
            canvas.input(0, 0, room, &hidden, tone)
        }
        RowKind::Value { echo, .. } => {
            let typed = row.input.value().trim();
            let echo = echo.as_deref().filter(|echo| *echo != typed).unwrap_or_default();
            let used = text::width(row.input.value()) + 3;
            // The echo stands in its column; behind a long text only where there is room.
            let at = if used < room.saturating_sub(ECHO) { room - ECHO } else { used };
            let width = if echo.is_empty() || at + 8 > room { room } else { at.saturating_sub(1) };
            if width < room {
                canvas.part(at, 0, room - at, 1).row(0, &Row::of(Tone::Quiet, text::fit(echo, room - at)));
            }
            canvas.input(0, 0, width, &row.input, tone)
        }
        RowKind::Text | RowKind::Optional | RowKind::Product { .. } => {
            canvas.input(0, 0, room, &row.input, tone)
        }
    }
}

/// Returns what is shown below a form: the hint of the row with the focus, or the products that match.
fn hint_rows(state: &State, form: &Form, matches: Option<(&Vec<usize>, usize)>, columns: usize) -> Vec<Row> {
    let row = &form.rows[form.focus];
    let mut rows: Vec<Row> = match matches {
        Some((matches, selected)) if !matches.is_empty() => matches
            .iter()
            .enumerate()
            .filter_map(|(index, place)| Some((index, state.facts.products.get(*place)?)))
            .map(|(index, product)| {
                let here = index == selected;
                Row::of(Tone::Accent, if here { "> " } else { "  " })
                    .with(if here { Tone::Strong } else { Tone::Plain }, text::pad_end(&product.id, 24))
                    .with(Tone::Quiet, text::fit(&format!("  {}", product.name), columns.saturating_sub(26)))
            })
            .collect(),
        Some(_) if !row.input.value().trim().is_empty() => {
            vec![Row::of(Tone::Hold, "  no product contains that; its id stands in Reference")]
        }
        _ => Vec::new(),
    };
    if rows.is_empty() {
        // An answer too long for its row is shown in full.
        let answer = match &row.kind {
            RowKind::Options { options, selected } => options.get(*selected).filter(|answer| {
                let place = format!("  {} of {}", selected + 1, options.len());
                text::width(answer) + place.len() + LABEL > columns
            }),
            _ => None,
        };
        let words = answer.unwrap_or(&row.hint);
        let hint = text::wrap(words, columns.saturating_sub(2));
        rows = hint.into_iter().map(|line| Row::of(Tone::Quiet, format!("  {line}"))).collect();
    }
    rows
}

/// Draws a page.
fn draw_page(state: &State, page: &Page, canvas: &mut Canvas) {
    let (columns, lines) = page_room(canvas.width() as u16, canvas.height() as u16);
    let rows = page.rows(state, columns);
    let offset = page.offset.min(rows.len().saturating_sub(lines));
    let last = (offset + lines).min(rows.len());
    let end = if rows.len() > lines {
        format!("lines {} to {last} of {}", offset + 1, rows.len())
    } else {
        String::new()
    };
    let marked = page.things(state, columns).get(page.mark).map(|(row, _)| *row);
    let mut inside = panel(canvas, &page.title, &end, columns, lines);
    inside.rows(0, &rows[offset..]);
    if let Some(line) = marked.and_then(|row| row.checked_sub(offset)).filter(|line| *line < inside.height())
    {
        let corner = inside.area;
        // The mark stands in the margin, so that no row moves for it.
        let margin = Rect { x: corner.x.saturating_sub(2), y: corner.y, width: 1, height: corner.height };
        Canvas { buffer: inside.buffer, area: margin, ink: inside.ink }
            .row(line, &Row::of(Tone::Accent, ">"));
    }
}
