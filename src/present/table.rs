//! Plain aligned tables for the command line.

use super::text;

/// On which side a column's cells begin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// Words.
    Left,
    /// Numbers.
    Right,
}

/// Blanks between two columns.
const GAP: &str = "  ";

/// A table: headings, and rows of as many cells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    columns: Vec<(String, Align)>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// Makes a table without rows.
    pub fn new(columns: &[(&str, Align)]) -> Self {
        let columns = columns.iter().map(|(name, align)| ((*name).to_owned(), *align)).collect();
        Table { columns, rows: Vec::new() }
    }

    /// Adds a row; missing cells are empty, and nothing in a cell can steer a terminal.
    pub fn row<I: IntoIterator<Item = S>, S: AsRef<str>>(&mut self, cells: I) {
        let mut cells: Vec<String> = cells.into_iter().map(|cell| text::clean(cell.as_ref())).collect();
        cells.resize(self.columns.len(), String::new());
        self.rows.push(cells);
    }

    /// Tells whether there is no row.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Returns the table as lines: each column as wide as its widest cell, the last one never filled up.
    pub fn lines(&self) -> Vec<String> {
        let headings: Vec<String> = self.columns.iter().map(|(name, _)| name.clone()).collect();
        let widths: Vec<usize> = (0..self.columns.len())
            .map(|index| {
                let cells = std::iter::once(&headings).chain(&self.rows).map(|row| text::width(&row[index]));
                cells.max().unwrap_or(0)
            })
            .collect();
        std::iter::once(&headings)
            .chain(&self.rows)
            .map(|row| {
                let cells =
                    row.iter().zip(&widths).zip(&self.columns).map(
                        |((cell, width), (_, align))| match align {
                            Align::Left => text::pad_end(cell, *width),
                            Align::Right => text::pad_start(cell, *width),
                        },
                    );
                cells.collect::<Vec<_>>().join(GAP).trim_end().to_owned()
            })
            .collect()
    }

    /// Returns the table as text, each line ended.
    pub fn text(&self) -> String {
        self.lines().into_iter().map(|line| line + "\n").collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_line_up_by_display_width() {
        let mut table = Table::new(&[("piece", Align::Left), ("score", Align::Right), ("why", Align::Left)]);
        table.row(["金-01", "9.5", "short"]);
        table.row(["S-0001/1-02", "100.0", ""]);
        assert_eq!(
            table.lines(),
            ["piece        score  why", "金-01          9.5  short", "S-0001/1-02  100.0",]
        );
    }

    #[test]
    fn a_cell_cannot_steer_the_terminal() {
        let mut table = Table::new(&[("source", Align::Left)]);
        table.row(["A\u{1b}[2JB\u{202e}C"]);
        assert_eq!(table.text(), "source\nA[2JBC\n");
    }
}
