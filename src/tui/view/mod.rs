//! Drawing: header, one screen, the line above the footer, the footer, dialogs. Nothing here changes the state.
//!
//! ```text
//! scruple   Receive   Bench   Holds   Stock   Reference   Day      header
//!
//!   one screen, see its file                           body
//!
//! what was done, or why not                            notice
//! F1 help  Enter next  ...                             footer, from the keymap
//! ```

mod bench;
mod canvas;
mod columns;
mod day;
mod dialogs;
mod finder;
mod form;
mod holds;
mod instruments;
mod last_acts;
mod receive;
mod reference;
mod second_test;
mod stock;
pub mod style;

use super::keymap::{Act, Place};
use super::state::{Entry, Notice, OnDisk, Screen, State};
use crate::present::text;
use crate::present::tone::{Row, Tone};
use canvas::Canvas;
use ratatui::Frame;
use ratatui::layout::Position;
use style::Theme;

/// Least columns that can be worked with.
pub const LEAST_WIDTH: u16 = 40;
/// Least rows that can be worked with.
pub const LEAST_HEIGHT: u16 = 10;

/// Draws the state on the whole frame.
pub fn draw(state: &State, theme: Theme, frame: &mut Frame) {
    let area = frame.area();
    let mut canvas = Canvas { buffer: frame.buffer_mut(), area, ink: theme.of_desk(&state.settings) };
    if area.width < LEAST_WIDTH || area.height < LEAST_HEIGHT {
        too_small(&mut canvas);
        return;
    }
    let cursor = draw_all(state, &mut canvas);
    if let Some(position) = cursor {
        frame.set_cursor_position(position);
    }
}

/// Below this width only the screen one is on is named.
const NARROW: usize = 70;

/// Says which size is needed.
fn too_small(canvas: &mut Canvas) {
    let words = format!(
        "scruple needs {LEAST_WIDTH} columns and {LEAST_HEIGHT} rows; here are {} and {}. Nothing is lost.",
        canvas.width(),
        canvas.height()
    );
    let rows: Vec<Row> =
        text::wrap(&words, canvas.width()).into_iter().map(|line| Row::of(Tone::Plain, line)).collect();
    canvas.rows(0, &rows);
}

/// Draws everything and returns where the cursor belongs.
fn draw_all(state: &State, canvas: &mut Canvas) -> Option<Position> {
    let (width, height) = (canvas.width(), canvas.height());
    let notice_rows = if height >= 20 { 2 } else { 1 };
    let body_rows = height - 2 - notice_rows;
    canvas.row(0, &header(state, width));
    let mut body = canvas.part(1, 1, width - 2, body_rows);
    let screen_cursor = match state.screen {
        Screen::Receive => receive::draw(state, &mut body),
        Screen::Bench => bench::draw(state, &mut body),
        Screen::Holds => holds::draw(state, &mut body),
        Screen::Stock => stock::draw(state, &mut body),
        Screen::Instruments => instruments::draw(state, &mut body),
        Screen::Reference => reference::draw(state, &mut body),
        Screen::Day => {
            day::draw(state, &mut body);
            None
        }
    };
    let dialog_cursor = state.dialogs.last().map(|dialog| dialogs::draw(state, dialog, canvas));
    // On a small screen a long notice may take the row above, which is then given back with the next key.
    notice(state, &mut canvas.part(1, height - 3, width - 2, 2));
    if state.flash {
        canvas.reverse(height - 2);
    }
    let mut row = Row::blank();
    for (index, (key, label)) in state.keymap.footer(state.place(), width - 2).into_iter().enumerate() {
        let gap = if index == 0 { "" } else { "  " };
        row = row.with(Tone::Plain, gap).with(Tone::Accent, key).with(Tone::Quiet, format!(" {label}"));
    }
    canvas.part(1, height - 1, width - 2, 1).row(0, &row);
    match dialog_cursor {
        Some(cursor) => cursor,
        None => screen_cursor,
    }
}

/// Returns the header: where one is, and on the right what must not be forgotten; the names of the other screens give way.
fn header(state: &State, width: usize) -> Row {
    let mark = header_mark(state, width);
    let names = |gap: usize, all: bool| {
        let mut row = Row::of(Tone::Quiet, " scruple");
        for screen in Screen::ALL {
            let here = screen == state.screen;
            if here || all {
                row = row
                    .with(Tone::Plain, " ".repeat(gap))
                    .with(if here { Tone::Accent } else { Tone::Quiet }, screen.name());
            }
        }
        row
    };
    let beside = mark.as_ref().map_or(0, |(_, words)| text::width(words) + 1);
    let fits = |row: &Row| width >= NARROW && row.width() + beside < width;
    let row = [names(3, true), names(2, true)].into_iter().find(fits).unwrap_or_else(|| names(3, false));
    match mark {
        Some((tone, words)) => row.right(width - 1, tone, words),
        None => row,
    }
}

/// Returns what must not be forgotten.
fn header_mark(state: &State, width: usize) -> Option<(Tone, String)> {
    let work = state.bench.work.as_ref()?;
    let here = state.screen == Screen::Bench;
    match &work.disk {
        OnDisk::NotSaved(_) => Some((Tone::Refuse, "NOT SAVED".to_owned())),
        OnDisk::Saved if work.half_filled() && !here => {
            Some((Tone::Hold, format!("in hand: {}", work.lot.number)))
        }
        OnDisk::Saved if here && width < NARROW => {
            let words = format!("{}  {} of {}", work.lot.number, work.lot.logged, work.lot.expected);
            Some((Tone::Plain, words))
        }
        OnDisk::Saved => None,
    }
}

/// Draws why an entry was not taken, what is asked, or what was done last.
fn notice(state: &State, canvas: &mut Canvas) {
    let entry = state.bench.work.as_ref().filter(|_| state.screen == Screen::Bench).map(|work| &work.entry);
    let device = || super::devices::worst(&state.devices).filter(|_| state.screen == Screen::Bench);
    let (tone, words) = match (&state.notice, entry) {
        (Some(Notice::Refused(words)), _) => (Tone::Refuse, format!("! {words}")),
        (_, Some(Entry::Fault(words))) => (Tone::Refuse, format!("! {words}")),
        (_, Some(Entry::Question(words))) => (Tone::Hold, format!("? {words}")),
        (Some(Notice::Done(words)), _) => (Tone::Plain, words.clone()),
        (None, _) => match device() {
            Some(said) => said,
            None => return,
        },
    };
    let lines = text::first_lines(text::wrap(&words, canvas.width()), canvas.height(), canvas.width());
    let rows: Vec<Row> = lines.into_iter().map(|line| Row::of(tone, line)).collect();
    // A single line stands right above the footer, where the eye already is.
    let skip = canvas.height().saturating_sub(rows.len());
    let (width, height) = (canvas.width(), canvas.height());
    canvas.part(0, skip, width, height - skip).clear();
    canvas.rows(skip, &rows);
}

/// Returns the row of a list's filter, or its title when there is none; with the columns before the text.
fn filter_row(state: &State, title: &str) -> Row {
    match state.filter() {
        Some(filter) if filter.typing => Row::of(Tone::Accent, "filter  "),
        Some(filter) if !filter.input.value().trim().is_empty() => {
            Row::of(Tone::Hold, "filter  ").typed(Tone::Plain, filter.input.value())
        }
        _ => Row::of(Tone::Strong, title),
    }
}

/// Says that a filter hides every row, and which key clears it.
fn nothing_passes(state: &State) -> String {
    // The same in every list, also while the filter is typed.
    format!(
        "  nothing contains the filter; {} clears it",
        state.keymap.key(Place::Shipments, Act::ClearFilter)
    )
}

/// Draws the title or the filter of a list and returns the cursor while the filter is typed.
fn list_title(state: &State, title: &str, canvas: &mut Canvas) -> Option<Position> {
    canvas.row(0, &filter_row(state, title));
    let filter = state.filter().filter(|filter| filter.typing)?;
    canvas.input(8, 0, canvas.width().saturating_sub(8), &filter.input, Tone::Plain)
}
