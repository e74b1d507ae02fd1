//! Lists in columns that drop the less important ones when the screen is narrow.

use crate::present::text;
use crate::present::tone::{Row, Tone};

/// A column.
#[derive(Debug, Clone, Copy)]
pub(super) struct Column {
    /// Title.
    pub title: &'static str,
    /// Width; for the one that grows, the least.
    pub width: usize,
    /// Whether it takes the room that is left.
    pub grows: bool,
    /// Whether it is aligned to the right, as numbers are.
    pub right: bool,
    /// Rank: the highest is dropped first; 0 is never dropped.
    pub rank: u8,
}

impl Column {
    /// Makes a column of text.
    pub const fn text(title: &'static str, width: usize, rank: u8) -> Self {
        Column { title, width, grows: false, right: false, rank }
    }

    /// Makes a column of numbers.
    pub const fn number(title: &'static str, width: usize, rank: u8) -> Self {
        Column { title, width, grows: false, right: true, rank }
    }

    /// Makes the column that grows.
    pub const fn growing(title: &'static str, width: usize, rank: u8) -> Self {
        Column { title, width, grows: true, right: false, rank }
    }
}

/// Columns that were fitted to a width.
pub(super) struct Columns {
    shown: Vec<(usize, Column)>,
}

/// Columns left free on the left for the mark of the selection.
const MARK: usize = 2;
/// Columns between two columns.
const GAP: usize = 2;

impl Columns {
    /// Fits columns to a width.
    pub fn fit(all: &[Column], width: usize) -> Self {
        let mut shown: Vec<(usize, Column)> = all.iter().copied().enumerate().collect();
        let needed = |shown: &[(usize, Column)]| {
            MARK + shown.iter().map(|(_, column)| column.width + GAP).sum::<usize>().saturating_sub(GAP)
        };
        while shown.len() > 1 && needed(&shown) > width {
            let Some(worst) = shown
                .iter()
                .enumerate()
                .filter(|(_, (_, column))| column.rank > 0)
                .max_by_key(|(_, (_, column))| column.rank)
                .map(|(index, _)| index)
            else {
                break;
            };
            shown.remove(worst);
        }
        let spare = width.saturating_sub(needed(&shown));
        if let Some((_, column)) = shown.iter_mut().find(|(_, column)| column.grows) {
            column.width += spare;
        }
        Columns { shown }
    }

    /// Returns the row of titles.
    pub fn titles(&self) -> Row {
        let mut row = Row::of(Tone::Quiet, " ".repeat(MARK));
        for (index, (_, column)) in self.shown.iter().enumerate() {
            row = self.cell(row, index, column, Tone::Quiet, column.title);
        }
        row
    }

    /// Returns a row of cells; the selected one has a mark and its plain cells stand out.
    pub fn row(&self, cells: &[(Tone, String)], selected: bool) -> Row {
        let mut row = Row::of(Tone::Accent, if selected { "> " } else { "  " });
        for (index, (place, column)) in self.shown.iter().enumerate() {
            let (tone, text) =
                cells.get(*place).map_or((Tone::Plain, ""), |(tone, text)| (*tone, text.as_str()));
            let tone = if selected && tone == Tone::Plain { Tone::Strong } else { tone };
            row = self.cell(row, index, column, tone, text);
        }
        row
    }

    /// Adds a cell.
    fn cell(&self, row: Row, index: usize, column: &Column, tone: Tone, words: &str) -> Row {
        let words = text::clean(words);
        let cell = if column.right {
            text::pad_start(&words, column.width)
        } else {
            text::pad_end(&words, column.width)
        };
        let gap = if index == 0 { 0 } else { GAP };
        row.with(Tone::Plain, " ".repeat(gap)).with(tone, cell)
    }
}
