//! What can lie over a screen: help, palette, choices, forms and pages of text.

use super::effect::Effect;
use super::finder::Finder;
use super::keymap::Place;
use super::message::Trouble;
use super::second_test::Reads;
use super::state::{Screen, State};
use crate::desk::review_views::{Ending, OpenGroup, SecondTestOutcome};
use crate::desk::type_book::TypeBookView;
use crate::desk::views::{Field, PieceView};
use crate::desk::{ActState, ActView, InstrumentRow};
use crate::intake::{HoldId, LotId, PieceId, SecondTestId, ShipmentId};
use crate::physics::recording::RingRecording;
use crate::present::budget::budget_page;
use crate::present::evidence::{piece_page, piece_things};
use crate::present::explain::explanation_page;
use crate::present::holds::group_page;
use crate::present::instruments::instrument_rows;
use crate::present::second_test::{Ranked, outcome_page, tests_section};
use crate::present::text;
use crate::present::tone::{Row, Tone};
use crate::present::type_book::{remark_lines, row_text};
use crate::quantity::Frequency;
use crate::scoring::{DoubtKind, Explanation, Method, ReadingBudget, Thing};
use chrono::NaiveDate;
use tui_input::Input;

/// Lines of a chart on a page.
const CHART_LINES: usize = 9;

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
    /// The methods for a second test of a piece.
    Methods(Box<Methods>),
    /// The partials of a recording, to choose the ring from.
    Partials(Box<Partials>),
    /// The finder.
    Finder(Box<Finder>),
    /// The operator's last acts, to undo and to do again.
    LastActs(LastActs),
}

/// The operator's last acts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LastActs {
    /// The acts, newest first.
    pub acts: Vec<ActView>,
    /// Selected row: at first the one that undo takes back.
    pub selected: usize,
}

impl LastActs {
    /// Makes the list.
    pub fn new(acts: Vec<ActView>) -> Self {
        let selected = acts.iter().position(|act| act.state == ActState::Next).unwrap_or(0);
        LastActs { acts, selected }
    }
}

/// The methods for a second test of a piece, ranked.
#[derive(Debug, Clone)]
pub struct Methods {
    /// The piece.
    pub piece: PieceView,
    /// The methods, the one to try first at the top.
    pub ranked: Vec<Ranked>,
    /// Selected row.
    pub selected: usize,
}

/// The partials of a recording.
#[derive(Debug, Clone)]
pub struct Partials {
    /// The row of the form below that waits for one of them.
    pub row: usize,
    /// Path of the recording.
    pub path: String,
    /// What the recording tells.
    pub recording: RingRecording,
    /// Selected partial.
    pub selected: usize,
}

impl Dialog {
    /// Returns the place its keys are valid in.
    pub fn place(&self) -> Place {
        match self {
            Dialog::Palette { .. } => Place::Palette,
            Dialog::Finder(_) => Place::Finder,
            Dialog::Choice(choice)
                if choice.answers.iter().all(|(_, answer)| matches!(answer, Answer::Go(_))) =>
            {
                Place::ScreenList
            }
            Dialog::Choice(_) | Dialog::Methods(_) | Dialog::Partials(_) | Dialog::LastActs(_) => {
                Place::Choice
            }
            Dialog::Form(_) => Place::Form,
            Dialog::Page(Page { content: Content::Piece(_), .. }) => Place::Evidence,
            Dialog::Page(Page { content: Content::Outcome(_), .. }) => Place::Outcome,
            Dialog::Page(_) => Place::Page,
        }
    }
}

/// What an answer does.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// Nothing: everything stays as it is.
    Stay,
    /// Goes to a screen.
    Go(Screen),
    /// Asks the questions of the first start.
    SetUp {
        /// Code of the currency in force.
        currency: String,
    },
    /// Leaves this book for an invented day.
    Demo,
    /// Empties the entry form.
    ClearEntry,
    /// Empties the entry form and opens another lot.
    ClearAndOpen(LotId),
    /// Releases pieces.
    Release(Vec<String>),
    /// Asks why pieces leave without being sold.
    PartWith(Ending, Vec<String>),
    /// Chooses the method of a second test of a piece.
    Test(String),
    /// Draws a sample of a lot with a seed of the program's choice.
    Draw(String),
    /// Asks for the seed of a sample of a lot.
    AskSeed(String),
    /// Asks why doubts of a kind are settled on the sample of a lot.
    OnSample(String, DoubtKind),
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
    /// Set a new desk up.
    SetUp,
    /// Take in a shipment.
    NewShipment,
    /// Add a line to a shipment.
    NewLine {
        /// The shipment.
        shipment: ShipmentId,
    },
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
    /// Record a second test.
    SecondTest {
        /// Number of the piece.
        piece: String,
        /// The method.
        method: Method,
    },
    /// Settle a doubt by decision.
    Settle {
        /// The doubts that can be chosen.
        doubts: Vec<HoldId>,
        /// The second tests that can be chosen, behind the answer that there is none.
        tests: Vec<SecondTestId>,
    },
    /// Choose the seed of a sample.
    Seed {
        /// Number of the lot.
        lot: String,
    },
    /// Settle doubts of a lot on its sample.
    OnSample {
        /// Number of the lot.
        lot: String,
        /// Their kind.
        kind: DoubtKind,
    },
    /// Send pieces back or surrender them.
    PartWith {
        /// Which of the two.
        ending: Ending,
        /// Their numbers.
        pieces: Vec<String>,
    },
    /// Type the PIN that an act needs.
    Pin {
        /// The act.
        effect: Box<Effect>,
    },
    /// Write the day sheet to files.
    WriteDay {
        /// The day.
        day: NaiveDate,
    },
    /// Say what a probe would do to a product.
    Reach {
        /// The probe; `None` for all of them.
        probe: Option<String>,
    },
    /// Record a control.
    Control {
        /// The instrument.
        instrument: String,
        /// The probe, for a meter.
        probe: Option<String>,
    },
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
    /// A value of the strict grammar.
    Value {
        /// What it is.
        reads: Reads,
        /// Whether it may be left empty.
        optional: bool,
        /// The value in its stored unit, where what is typed is understood.
        echo: Option<String>,
    },
    /// Text that is not shown.
    Secret,
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
    /// The row, and the answer chosen in it, with which this row is asked for; `None` asks always.
    pub only: Option<(usize, usize)>,
}

impl FormRow {
    /// Makes a row.
    pub fn new(label: &'static str, hint: &str, kind: RowKind) -> Self {
        FormRow { label, hint: hint.to_owned(), input: Input::default(), kind, only: None }
    }

    /// Asks for the row only when another row has a certain answer.
    pub fn only(self, row: usize, answer: usize) -> Self {
        FormRow { only: Some((row, answer)), ..self }
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
    /// What to mind, shown as long as the form is open.
    pub caution: Option<String>,
    /// Frequencies that were taken from a recording.
    pub heard: Vec<Heard>,
}

/// A frequency that was taken from a recording.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Heard {
    /// The row it was put into.
    pub row: usize,
    /// The text it was put as; typed over, the uncertainty no longer holds.
    pub text: String,
    /// Its standard uncertainty, k = 1.
    pub uncertainty: Frequency,
}

impl Form {
    /// Makes a form with the focus on its first row.
    pub fn new(purpose: Purpose, title: impl Into<String>, rows: Vec<FormRow>) -> Self {
        Form { purpose, title: title.into(), rows, focus: 0, fault: None, caution: None, heard: Vec::new() }
    }

    /// Adds what to mind.
    pub fn with_caution(self, caution: Option<String>) -> Self {
        Form { caution, ..self }
    }

    /// Tells whether a row is asked for with the answers given so far.
    pub fn asks(&self, row: usize) -> bool {
        let Some((on, answer)) = self.rows.get(row).and_then(|row| row.only) else { return true };
        match self.rows.get(on).map(|row| &row.kind) {
            Some(RowKind::Options { selected, .. }) => *selected == answer,
            _ => false,
        }
    }

    /// Returns the next row that is asked for, after the one with the focus.
    pub fn after(&self) -> Option<usize> {
        (self.focus + 1..self.rows.len()).find(|row| self.asks(*row))
    }

    /// Returns the row that is asked for before the one with the focus.
    pub fn before(&self) -> Option<usize> {
        (0..self.focus).rev().find(|row| self.asks(*row))
    }
}

/// What a page shows.
#[derive(Debug, Clone)]
pub enum Content {
    /// The keys of a place.
    Help(Place),
    /// Everything about a piece.
    Piece(Box<PieceView>),
    /// Everything about the open doubts of a lot.
    Group(Box<OpenGroup>),
    /// What a second test came to.
    Outcome(Box<SecondTestOutcome>),
    /// Everything about an instrument and its controls.
    Instrument(Box<InstrumentRow>),
    /// Where the uncertainty of each reading of a piece comes from.
    Budget {
        /// Number of the piece.
        number: String,
        /// The budgets.
        budgets: Vec<ReadingBudget>,
    },
    /// The plots of the lot on the bench.
    Plots,
    /// Where something about a piece comes from.
    Explanation {
        /// Number of the piece.
        number: String,
        /// The explanation.
        explanation: Box<Explanation>,
    },
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
    /// The thing that Enter explains, among those of the page.
    pub mark: usize,
}

impl Page {
    /// Makes a page at its beginning; the mark stands on the first doubt, else on the first check.
    pub fn new(title: &str, content: Content) -> Self {
        let mark = match &content {
            Content::Piece(piece) => {
                let things = piece_things(piece);
                let doubt = |thing: &Thing| matches!(thing, Thing::Hold(_) | Thing::Doubt(_));
                let first = things.iter().position(doubt);
                first.or_else(|| things.iter().position(|thing| *thing != Thing::Score)).unwrap_or(0)
            }
            _ => 0,
        };
        Page { title: title.to_owned(), content, offset: 0, mark }
    }

    /// Returns what can be explained on it: the row of each thing from the top.
    pub fn things(&self, state: &State, columns: usize) -> Vec<(usize, Thing)> {
        match &self.content {
            Content::Piece(piece) => {
                piece_page(piece, columns, state.facts.offset, &state.settings.units).things
            }
            _ => Vec::new(),
        }
    }

    /// Returns its rows, `columns` wide.
    pub fn rows(&self, state: &State, columns: usize) -> Vec<Row> {
        match &self.content {
            Content::Help(place) => super::help::rows(&state.keymap, *place, columns),
            Content::Piece(piece) => {
                let page = piece_page(piece, columns, state.facts.offset, &state.settings.units);
                let mut rows = page.rows;
                rows.extend(tests_section(&piece.assessment.second_tests, columns));
                rows
            }
            Content::Group(group) => group_page(group, columns, state.facts.offset),
            Content::Outcome(outcome) => outcome_page(outcome, columns),
            Content::Instrument(row) => {
                let facts = &state.facts;
                instrument_rows(row, columns, CHART_LINES, facts.marks, facts.offset)
            }
            Content::Budget { number, budgets } => budget_page(number, budgets, columns),
            Content::Plots => plots_rows(state, columns),
            Content::Explanation { number, explanation } => explanation_page(number, explanation, columns),
            Content::Product(id) => product_rows(state, id, columns),
            Content::Text(lines) => lines
                .iter()
                // A line that fits stays as it is: it may be a row of a table.
                .flat_map(|line| match text::width(line) <= columns {
                    true => vec![text::clean(line)],
                    false => text::wrap(line, columns),
                })
                .map(|line| Row::of(Tone::Plain, line))
                .collect(),
        }
    }
}

/// Returns the plots of the lot on the bench, each as high as suits the size of a page.
fn plots_rows(state: &State, columns: usize) -> Vec<Row> {
    const PLOT: std::ops::RangeInclusive<usize> = 10..=22;
    let (_, rows) = page_room(state.width, state.height);
    // Both where they fit on one page with a blank between them, else one a page.
    let two = rows.saturating_sub(2) / 2;
    let lines = if two >= 14 { two } else { rows.saturating_sub(1) };
    match super::plots::lot_plots(state) {
        Some(plots) => plots.page_rows(state.facts.marks, columns, lines.clamp(*PLOT.start(), *PLOT.end())),
        None => vec![Row::of(
            Tone::Quiet,
            "the product of this lot is not in the reference, so there is nothing to draw",
        )],
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
    if let Some(view) = state.reference.type_book.iter().find(|view| view.product.as_str() == id) {
        rows.push(Row::blank());
        rows.extend(type_book_rows(view, columns));
    }
    rows
}

/// Returns what released pieces taught about a product.
fn type_book_rows(view: &TypeBookView, columns: usize) -> Vec<Row> {
    let mut rows = vec![Row::of(Tone::Strong, "type book")];
    let mut add = |tone: Tone, words: &str| {
        for (index, line) in text::wrap(words, columns.saturating_sub(2).max(1)).into_iter().enumerate() {
            rows.push(Row::of(Tone::Plain, if index == 0 { "" } else { "  " }).with(tone, line));
        }
    };
    for row in &view.rows {
        add(if row.learned.is_some() { Tone::Plain } else { Tone::Quiet }, &row_text(row));
    }
    for remark in remark_lines(view) {
        add(Tone::Hold, &remark);
    }
    rows
}

/// Returns the size of a page's inside on a terminal: columns and rows.
pub fn page_room(width: u16, height: u16) -> (usize, usize) {
    let columns = usize::from(width).saturating_sub(4).min(100);
    let around = if height < 20 { 4 } else { 6 };
    (columns, usize::from(height).saturating_sub(around))
}

/// Returns the size of the day sheet on a terminal: columns and rows.
pub fn day_room(width: u16, height: u16) -> (usize, usize) {
    let around = if height < 20 { 3 } else { 4 };
    (usize::from(width).saturating_sub(2).min(110), usize::from(height).saturating_sub(around))
}
