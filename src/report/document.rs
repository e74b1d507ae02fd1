//! The description of a report, which every back end writes: what is said, not how it looks.

use rust_decimal::Decimal;

use crate::report::plot::Plot;

/// A report.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Document {
    /// What it is, such as `Day sheet`.
    pub title: String,
    /// Of what and when; may be empty.
    pub subtitle: String,
    /// What stands at the foot of every page; may be empty.
    pub footer: String,
    /// The parts in order.
    pub blocks: Vec<Block>,
}

/// A part of a report.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// A heading; it stays with what follows it.
    Heading(String),
    /// A paragraph; line breaks in it are kept.
    Paragraph(String),
    /// Names and what stands for them.
    KeyValues(Vec<(String, String)>),
    /// A table.
    Table(Table),
    /// A plot.
    Plot(Box<Plot>),
    /// A warning that must not be overlooked.
    Caution(String),
    /// A new page, where the back end has pages.
    PageBreak,
}

/// A table.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table {
    /// What stands above it; may be empty.
    pub caption: String,
    /// The columns, at least one.
    pub columns: Vec<Column>,
    /// The rows: as many cells as there are columns. Missing cells are empty, cells beyond are left out.
    pub rows: Vec<Vec<Cell>>,
}

/// A column of a table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Column {
    /// Its heading, with the unit of its numbers.
    pub title: String,
    /// On which side its cells stand.
    pub align: Align,
}

/// On which side of a column its cells stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Align {
    /// Words.
    Left,
    /// Numbers.
    Right,
}

/// A cell of a table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Cell {
    /// Words, or a number with its unit.
    Text(String),
    /// A number in the unit of its column, with the digits that are to be shown.
    Number(Decimal),
}

impl Document {
    /// Makes a report without blocks.
    pub fn new(title: impl Into<String>, subtitle: impl Into<String>) -> Document {
        Document { title: title.into(), subtitle: subtitle.into(), ..Document::default() }
    }

    /// Adds a block.
    pub fn push(&mut self, block: Block) -> &mut Document {
        self.blocks.push(block);
        self
    }
}

impl Block {
    /// Makes a heading.
    pub fn heading(text: impl Into<String>) -> Block {
        Block::Heading(text.into())
    }

    /// Makes a paragraph.
    pub fn paragraph(text: impl Into<String>) -> Block {
        Block::Paragraph(text.into())
    }

    /// Makes a warning.
    pub fn caution(text: impl Into<String>) -> Block {
        Block::Caution(text.into())
    }

    /// Makes a block of a plot.
    pub fn plot(plot: Plot) -> Block {
        Block::Plot(Box::new(plot))
    }

    /// Makes a block of names and what stands for them.
    pub fn key_values<K: Into<String>, V: Into<String>>(pairs: impl IntoIterator<Item = (K, V)>) -> Block {
        Block::KeyValues(pairs.into_iter().map(|(key, value)| (key.into(), value.into())).collect())
    }
}

impl Table {
    /// Makes a table without rows.
    pub fn new(caption: impl Into<String>, columns: impl IntoIterator<Item = Column>) -> Table {
        Table { caption: caption.into(), columns: columns.into_iter().collect(), rows: Vec::new() }
    }

    /// Adds a row.
    pub fn push(&mut self, row: impl IntoIterator<Item = Cell>) {
        self.rows.push(row.into_iter().collect());
    }

    /// Returns the text of a cell; empty where the row has none.
    pub fn shown(&self, row: usize, column: usize) -> String {
        self.rows.get(row).and_then(|cells| cells.get(column)).map_or(String::new(), Cell::shown)
    }
}

impl Column {
    /// Makes a column of words.
    pub fn words(title: impl Into<String>) -> Column {
        Column { title: title.into(), align: Align::Left }
    }

    /// Makes a column of numbers.
    pub fn numbers(title: impl Into<String>) -> Column {
        Column { title: title.into(), align: Align::Right }
    }

    /// Returns the heading with its unit bound to the word before it, so that no line begins with a lone unit.
    pub(crate) fn bound_title(&self) -> String {
        self.title.replace(" in ", " in\u{A0}")
    }
}

impl Cell {
    /// Returns the text of the cell.
    pub fn shown(&self) -> String {
        match self {
            Cell::Text(text) => text.clone(),
            Cell::Number(number) => number.to_string(),
        }
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Cell {
        Cell::Text(text.to_owned())
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Cell {
        Cell::Text(text)
    }
}

impl From<Decimal> for Cell {
    fn from(number: Decimal) -> Cell {
        Cell::Number(number)
    }
}

impl From<usize> for Cell {
    fn from(count: usize) -> Cell {
        Cell::Number(Decimal::from(count))
    }
}
