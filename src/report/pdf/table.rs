//! Tables that break across pages.

use super::{Layout, MARGIN};
use crate::report::binding::bound;
use crate::report::document::{Align, Column, Table};
use crate::report::drawing::Ink;
use crate::report::metrics::{Face, breakable, width, wrap};

/// Size and line distance of cells, in points; the smaller ones where the columns would not fit.
const SIZES: [(f64, f64); 3] = [(8.5, 11.0), (7.5, 9.8), (6.5, 8.5)];
/// Room between two columns, in points.
const GAP: f64 = 9.0;
/// Room above and below the words of a row, in points.
const PAD: f64 = 2.5;
/// Longest word that a column is kept wide enough for, in points.
const LONGEST_WORD: f64 = 130.0;

/// The columns of a table on a page.
struct Columns {
    /// Left side and width of each.
    places: Vec<(f64, f64)>,
    size: f64,
    leading: f64,
    head: Vec<Vec<String>>,
}

impl Layout {
    pub(super) fn table(&mut self, table: &Table) {
        if table.columns.is_empty() {
            return;
        }
        let columns = Columns::of(table, self.room());
        self.space(3.0);
        let first = columns.row_lines(table, 0);
        self.need(13.0 + columns.head_height() + columns.height(&first).min(80.0));
        if !table.caption.is_empty() {
            let caption = wrap(&table.caption, Face::Bold, 9.0, self.room());
            self.lines(&caption, MARGIN, (9.0, 13.0), Face::Bold, Ink::Black);
        }
        self.table_head(&columns, &table.columns);
        for row in 0..table.rows.len() {
            self.table_row(table, &columns, columns.row_lines(table, row));
        }
        let y = self.y;
        self.pages.rule((MARGIN, y), (MARGIN + columns.room(), y), 0.8, Ink::Black);
        self.y += 12.0;
    }

    fn table_head(&mut self, columns: &Columns, titles: &[Column]) {
        let count = columns.head.iter().map(Vec::len).max().unwrap_or(1);
        self.y += PAD;
        for ((lines, &place), column) in columns.head.iter().zip(&columns.places).zip(titles) {
            let above = columns.leading * (count - lines.len()) as f64;
            self.cell(lines, place, self.y + above, columns, (Face::Bold, column.align));
        }
        self.y += columns.leading * count as f64 + PAD;
        let y = self.y;
        self.pages.rule((MARGIN, y), (MARGIN + columns.room(), y), 0.8, Ink::Black);
    }

    /// Writes a row, on the next page where this one has no room for it; a row that is taller than a page is cut
    /// between its lines.
    fn table_row(&mut self, table: &Table, columns: &Columns, mut cells: Vec<Vec<String>>) {
        loop {
            let height = columns.height(&cells);
            let left = self.bottom() - self.y;
            let fits = height <= left + 1e-6;
            let whole_page = self.whole() - columns.head_height() - 13.0;
            if fits || (height > whole_page && left > 4.0 * columns.leading) {
                let most = (((left - 2.0 * PAD) / columns.leading).floor() as usize).max(1);
                let now: Vec<Vec<String>> =
                    cells.iter_mut().map(|lines| lines.drain(..lines.len().min(most)).collect()).collect();
                for ((lines, &place), column) in now.iter().zip(&columns.places).zip(&table.columns) {
                    self.cell(lines, place, self.y + PAD, columns, (Face::Regular, column.align));
                }
                self.y += columns.height(&now);
                let y = self.y;
                self.pages.rule((MARGIN, y), (MARGIN + columns.room(), y), 0.3, Ink::Pale);
                if cells.iter().all(Vec::is_empty) {
                    return;
                }
            }
            self.new_page();
            let name = if table.caption.is_empty() { "continued" } else { &table.caption };
            let name = if table.caption.is_empty() { name.to_owned() } else { format!("{name} (continued)") };
            let lines = wrap(&name, Face::Regular, 8.5, self.room());
            self.lines(&lines, MARGIN, (8.5, 13.0), Face::Regular, Ink::Grey);
            self.table_head(columns, &table.columns);
        }
    }

    fn cell(
        &mut self,
        lines: &[String],
        (x, room): (f64, f64),
        top: f64,
        columns: &Columns,
        (face, align): (Face, Align),
    ) {
        for (index, line) in lines.iter().enumerate() {
            let at = match align {
                Align::Left => x,
                Align::Right => x + room - width(line, face, columns.size),
            };
            let y = top + columns.leading * index as f64 + 0.77 * columns.leading;
            self.pages.words(line, (at, y), columns.size, face, Ink::Black);
        }
    }
}

impl Columns {
    /// Chooses the widths of the columns and the size of the words.
    fn of(table: &Table, room: f64) -> Columns {
        let mut columns = Columns { places: Vec::new(), size: 0.0, leading: 0.0, head: Vec::new() };
        for (size, leading) in SIZES {
            let (least, natural): (Vec<f64>, Vec<f64>) =
                (0..table.columns.len()).map(|column| widths(table, column, size)).unzip();
            let free = room - GAP * (table.columns.len() - 1) as f64;
            let widths = share(&least, &natural, free);
            let mut x = MARGIN;
            columns.places = Vec::new();
            for &width in &widths {
                columns.places.push((x, width));
                x += width + GAP;
            }
            (columns.size, columns.leading) = (size, leading);
            if least.iter().sum::<f64>() <= free {
                break;
            }
        }
        let head = table.columns.iter().zip(&columns.places);
        columns.head = head
            .map(|(column, place)| wrap(&column.bound_title(), Face::Bold, columns.size, place.1))
            .collect();
        columns
    }

    /// Returns the width of the whole table.
    fn room(&self) -> f64 {
        self.places.last().map_or(0.0, |(x, width)| x + width - MARGIN)
    }

    fn head_height(&self) -> f64 {
        self.leading * self.head.iter().map(Vec::len).max().unwrap_or(1) as f64 + 2.0 * PAD
    }

    fn height(&self, cells: &[Vec<String>]) -> f64 {
        self.leading * cells.iter().map(Vec::len).max().unwrap_or(0) as f64 + 2.0 * PAD
    }

    fn row_lines(&self, table: &Table, row: usize) -> Vec<Vec<String>> {
        let cells = self.places.iter().enumerate();
        cells
            .map(|(column, &(_, room))| wrap(&table.shown(row, column), Face::Regular, self.size, room))
            .collect()
    }
}

/// Returns the least and the natural width of a column.
///
/// The least width holds the longest word, and a whole cell of numbers; a hair is added, so that a text never
/// breaks by rounding.
fn widths(table: &Table, column: usize, size: f64) -> (f64, f64) {
    let Column { title, align } = &table.columns[column];
    let word = |text: &str, face: Face| {
        bound(text).split(breakable).map(|word| width(word, face, size)).fold(0.0, f64::max)
    };
    let mut least = word(&table.columns[column].bound_title(), Face::Bold);
    let mut natural = width(title, Face::Bold, size);
    for row in 0..table.rows.len() {
        let text = table.shown(row, column);
        let whole = text.lines().map(|line| width(line, Face::Regular, size)).fold(0.0, f64::max);
        natural = natural.max(whole);
        least = least.max(if *align == Align::Right { whole } else { word(&text, Face::Regular) });
    }
    (least.min(LONGEST_WORD).max(size) + 0.05, natural.max(size) + 0.05)
}

/// Shares the room of a line between columns: as much as they want, else at least what they need, else in
/// proportion to it.
fn share(least: &[f64], natural: &[f64], room: f64) -> Vec<f64> {
    let (needed, wanted) = (least.iter().sum::<f64>(), natural.iter().sum::<f64>());
    if wanted <= room {
        // A little air, but columns that belong together do not drift apart.
        let air = ((room - wanted) / natural.len() as f64).min(22.0);
        return natural.iter().map(|width| width + air).collect();
    }
    if needed <= room {
        let share = (room - needed) / (wanted - needed).max(1e-9);
        return least.iter().zip(natural).map(|(least, natural)| least + share * (natural - least)).collect();
    }
    least.iter().map(|least| least * room / needed).collect()
}
