//! What can lie over a screen: help, palette, choices, forms and pages of text.

use super::keymap::Place;
use super::message::Trouble;
use super::state::{Screen, State};
use crate::desk::views::{Field, HoldView, PieceView};
use crate::intake::{LotId, PieceId, ShipmentId};
use crate::present::evidence::{hold_page, piece_page};
use crate::present::text;
use crate::present::tone::{Row, Tone};
use tui_input::Input;

/// A dialog.
#[derive(Debug, Clone)]
pub enum Dialog {
    /// The palette of acts.
    Palette {
        /// What is typed.
        query: Input,
        /// Selected row.
        selected: usize,
    },
    /// A choice among a few answers.
    Choice(Choice),
    /// A form.
    Form(Box<Form>),
    /// A page of text.
    Page(Page),
}

impl Dialog {
    /// Returns the place its keys are valid in.
    pub fn place(&self) -> Place {
        match self {
            Dialog::Palette { .. } => Place::Palette,
            Dialog::Choice(choice)
                if choice.answers.iter().all(|(_, answer)| matches!(answer, Answer::Go(_))) =>
            {
                Place::ScreenList
            }
            Dialog::Choice(_) => Place::Choice,
            Dialog::Form(_) => Place::Form,
            Dialog::Page(Page { content: Content::Piece(_), .. }) => Place::Evidence,
            Dialog::Page(_) => Place::Page,
        }
    }
}

/// What an answer does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answer {
    /// Nothing: everything stays as it is.
    Stay,
    /// Goes to a screen.
    Go(Screen),
    /// Empties the entry form.
    ClearEntry,
    /// Empties the entry form and opens another lot.
    ClearAndOpen(LotId),
}

/// A choice among a few answers.
#[derive(Debug, Clone)]
pub struct Choice {
    /// Title.
    pub title: String,
    /// Question in a sentence or two; may be empty.
    pub text: String,
    /// Answers with their words.
    pub answers: Vec<(String, Answer)>,
    /// Selected row.
    pub selected: usize,
}

/// What a form is for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Purpose {
    /// Take in a shipment.
    NewShipment,
    /// Add a line to a shipment.
    NewLine {
        /// The shipment.
        shipment: ShipmentId,
    },
    /// Find something.
    Find,
    /// Correct a piece.
    Correct {
        /// The piece.
        piece: PieceId,
        /// The fields that can be chosen.
        fields: Vec<Field>,
    },
    /// Put a piece on hold, or take that back.
    Hold {
        /// The piece.
        piece: PieceId,
    },
    /// Void a piece.
    Void {
        /// The piece.
        piece: PieceId,
    },
    /// Keep a value far off.
    Keep,
}

/// What a row of a form holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RowKind {
    /// Text that must not be empty.
    Text,
    /// Text that may be empty.
    Optional,
    /// One of a few words.
    Options {
        /// The words.
        options: Vec<String>,
        /// The chosen one.
        selected: usize,
    },
    /// A product; the closest ones are listed while typing.
    Product {
        /// Places of the matching products in the list of products.
        matches: Vec<usize>,
        /// The chosen one of them.
        selected: usize,
    },
}

/// A row of a form.
#[derive(Debug, Clone)]
pub struct FormRow {
    /// Label.
    pub label: &'static str,
    /// What to type, in a few words.
    pub hint: String,
    /// The text.
    pub input: Input,
    /// What it holds.
    pub kind: RowKind,
}

impl FormRow {
    /// Makes a row.
    pub fn new(label: &'static str, hint: &str, kind: RowKind) -> Self {
        FormRow { label, hint: hint.to_owned(), input: Input::default(), kind }
    }
}

/// A form: rows that are filled one after the other.
#[derive(Debug, Clone)]
pub struct Form {
    /// What it is for.
    pub purpose: Purpose,
    /// Title.
    pub title: String,
    /// Rows.
    pub rows: Vec<FormRow>,
    /// The row with the focus.
    pub focus: usize,
    /// Why it was not carried out.
    pub fault: Option<Trouble>,
}

/// What a page shows.
#[derive(Debug, Clone)]
pub enum Content {
    /// The keys of a place.
    Help(Place),
    /// Everything about a piece.
    Piece(Box<PieceView>),
    /// Everything about a doubt of a lot.
    Hold(Box<HoldView>),
    /// A product, by its id.
    Product(String),
    /// Text.
    Text(Vec<String>),
}

/// A page of text.
#[derive(Debug, Clone)]
pub struct Page {
    /// Title.
    pub title: String,
    /// What it shows.
    pub content: Content,
    /// First row shown.
    pub offset: usize,
}

impl Page {
    /// Makes a page at its beginning.
    pub fn new(title: &str, content: Content) -> Self {
        Page { title: title.to_owned(), content, offset: 0 }
    }

    /// Returns its rows, `columns` wide.
    pub fn rows(&self, state: &State, columns: usize) -> Vec<Row> {
        match &self.content {
            Content::Help(place) => super::help::rows(*place, columns),
            Content::Piece(piece) => piece_page(piece, columns, state.facts.offset),
            Content::Hold(hold) => hold_page(hold, columns, state.facts.offset),
            Content::Product(id) => product_rows(state, id, columns),
            Content::Text(lines) => lines
                .iter()
                .flat_map(|line| text::wrap(line, columns))
                .map(|line| Row::of(Tone::Plain, line))
                .collect(),
        }
    }
}

/// Returns the rows about a product: name, id, then label and text of each detail.
pub fn product_rows(state: &State, id: &str, columns: usize) -> Vec<Row> {
    const LABEL: usize = 14;
    let Some(product) = state.facts.products.iter().find(|product| product.id == id) else {
        return vec![Row::of(Tone::Quiet, format!("product {id} is not in the reference"))];
    };
    let mut rows: Vec<Row> =
        text::wrap(&product.name, columns).into_iter().map(|line| Row::of(Tone::Strong, line)).collect();
    rows.push(Row::of(Tone::Quiet, &product.id));
    rows.push(Row::blank());
    let room = columns.saturating_sub(LABEL).max(1);
    let metal = ("metal".to_owned(), product.metal.clone());
    for (label, words) in std::iter::once(&metal).chain(&product.details) {
        for (index, line) in text::wrap(words, room).into_iter().enumerate() {
            let label = if index == 0 { label.as_str() } else { "" };
            rows.push(Row::of(Tone::Quiet, text::pad_end(label, LABEL.min(columns))).with(Tone::Plain, line));
        }
    }
    rows
}

/// Returns the size of a page's inside on a terminal: columns and rows.
pub fn page_room(width: u16, height: u16) -> (usize, usize) {
    let columns = usize::from(width).saturating_sub(4).min(100);
    let around = if height < 20 { 4 } else { 6 };
    (columns, usize::from(height).saturating_sub(around))
}
