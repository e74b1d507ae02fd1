//! Putting rows of toned text on the screen, never outside of it.

use super::style::Ink;
use crate::desk::screen::DecimalMark;
use crate::present::decimal_mark::marked;
use crate::present::text;
use crate::present::tone::{Row, Tone};
use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};
use ratatui::style::{Modifier, Style};
use tui_input::Input;

/// The part of the screen a view draws on.
pub(super) struct Canvas<'a> {
    /// Cells of the whole screen.
    pub buffer: &'a mut Buffer,
    /// The part that may be drawn on.
    pub area: Rect,
    /// How tones and numbers look.
    pub ink: Ink,
}

impl<'a> Canvas<'a> {
    /// Returns a canvas for a part of this one, cut to it; `x` and `y` count from this one's corner.
    pub fn part(&mut self, x: usize, y: usize, width: usize, height: usize) -> Canvas<'_> {
        let small = |value: usize| u16::try_from(value).unwrap_or(u16::MAX);
        let x = self.area.x.saturating_add(small(x)).min(self.area.right());
        let y = self.area.y.saturating_add(small(y)).min(self.area.bottom());
        let width = small(width).min(self.area.right() - x);
        let height = small(height).min(self.area.bottom() - y);
        Canvas { buffer: self.buffer, area: Rect { x, y, width, height }, ink: self.ink }
    }

    /// Returns the width in columns.
    pub fn width(&self) -> usize {
        usize::from(self.area.width)
    }

    /// Returns the height in rows.
    pub fn height(&self) -> usize {
        usize::from(self.area.height)
    }

    /// Writes a row at `line`, cut at the right edge.
    pub fn row(&mut self, line: usize, row: &Row) {
        if line >= self.height() {
            return;
        }
        let y = self.area.y + line as u16;
        let mut x = self.area.x;
        for run in &row.runs {
            let room = usize::from(self.area.right().saturating_sub(x));
            if room == 0 {
                break;
            }
            let mark = if run.as_typed { DecimalMark::Point } else { self.ink.decimal_mark };
            let shown = marked(&run.text, mark);
            let shown = if text::width(&shown) > room { text::fit(&shown, room).into() } else { shown };
            let (next, _) = self.buffer.set_stringn(x, y, &shown, room, self.ink.style(run.tone));
            x = next;
        }
    }

    /// Writes rows from `line` on, as many as there is room for.
    pub fn rows(&mut self, line: usize, rows: &[Row]) {
        for (index, row) in rows.iter().enumerate().take(self.height().saturating_sub(line)) {
            self.row(line + index, row);
        }
    }

    /// Writes an input of `width` columns and returns where its cursor is.
    pub fn input(
        &mut self,
        x: usize,
        line: usize,
        width: usize,
        input: &Input,
        tone: Tone,
    ) -> Option<Position> {
        let mut field = self.part(x, line, width, 1);
        if field.width() == 0 || field.height() == 0 {
            return None;
        }
        // One column stays free for the cursor behind the last character.
        let room = field.width().saturating_sub(1).max(1);
        let scroll = input.visual_scroll(room);
        let visible = skip_columns(&text::clean(input.value()), scroll);
        field.row(0, &Row::blank().typed(tone, visible));
        let column = input.visual_cursor().saturating_sub(scroll).min(field.width() - 1);
        Some(Position { x: field.area.x + column as u16, y: field.area.y })
    }

    /// Shows a line in reverse video over its whole width.
    pub fn reverse(&mut self, line: usize) {
        if line < self.height() {
            let row = Rect { y: self.area.y + line as u16, height: 1, ..self.area };
            self.buffer.set_style(row, Style::new().add_modifier(Modifier::REVERSED));
        }
    }

    /// Empties the canvas.
    pub fn clear(&mut self) {
        let blank = " ".repeat(self.width());
        for line in 0..self.height() {
            let y = self.area.y + line as u16;
            self.buffer.set_stringn(self.area.x, y, &blank, self.width(), Style::reset());
        }
    }
}

/// Returns the text without its first columns.
fn skip_columns(text: &str, columns: usize) -> String {
    let mut skipped = 0;
    text.chars()
        .skip_while(|c| {
            let skip = skipped < columns;
            skipped += text::width(c.encode_utf8(&mut [0; 4]));
            skip
        })
        .collect()
}

/// Returns the first row to show of a list of `length` rows so that `selected` is in sight and stays near the middle.
pub(super) fn window(selected: usize, length: usize, height: usize) -> usize {
    selected.saturating_sub(height / 2).min(length.saturating_sub(height))
}
