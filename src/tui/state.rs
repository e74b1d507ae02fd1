//! What the screens know: plain data, no terminal types. Modes are enums, dialogs a stack.

use super::devices::Device;
use super::dialog::Dialog;
use super::holds::Holds;
use super::keymap::{Key, Place};
use super::keys::Keymap;
use super::message::Trouble;
use crate::desk::review_views::{DayView, StockView};
use crate::desk::screen::ScreenSettings;
use crate::desk::type_book::TypeBookView;
use crate::desk::views::{Draft, Field, LotView, PieceView, ShipmentView};
use crate::desk::{InstrumentRow, InstrumentsView};
use crate::evidence::Probe;
use crate::present::spectrum::Marks;
use crate::scoring::Surroundings;
use chrono::FixedOffset;
use tui_input::Input;

/// A moment of the shell's clock in milliseconds; only differences count.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Moment(pub u64);

/// The screens.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Screen {
    /// Shipments and their lots.
    Receive,
    /// Readings, piece by piece.
    Bench,
    /// What is set aside.
    Holds,
    /// What was released.
    Stock,
    /// The instruments and their controls.
    Instruments,
    /// The products.
    Reference,
    /// The account of a day.
    Day,
}

impl Screen {
    /// All screens in the order of their digits, from 1.
    pub const ALL: [Screen; 7] = [
        Screen::Receive,
        Screen::Bench,
        Screen::Holds,
        Screen::Stock,
        Screen::Instruments,
        Screen::Reference,
        Screen::Day,
    ];

    /// Returns the name people read.
    pub fn name(self) -> &'static str {
        match self {
            Screen::Receive => "Receive",
            Screen::Bench => "Bench",
            Screen::Holds => "Holds",
            Screen::Stock => "Stock",
            Screen::Instruments => "Instruments",
            Screen::Reference => "Reference",
            Screen::Day => "Day",
        }
    }

    /// Returns a sentence on what the screen is for.
    pub fn purpose(self) -> &'static str {
        match self {
            Screen::Receive => "shipments, packing lists, what is logged",
            Screen::Bench => "readings, piece by piece",
            Screen::Holds => "what is set aside, and what would settle it",
            Screen::Stock => "what was released and can be sold",
            Screen::Instruments => "where each instrument stands, its controls and drift",
            Screen::Reference => "the products and what they are made of",
            Screen::Day => "the account of a day: counts, money, decisions",
        }
    }
}

/// The line above the footer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Notice {
    /// Something was done.
    Done(String),
    /// Something was not done.
    Refused(String),
}

/// A product as the screens show it.
#[derive(Debug, Clone, PartialEq)]
pub struct ProductLine {
    /// Id, as packing lists name it.
    pub id: String,
    /// Name.
    pub name: String,
    /// Metal and fineness in words.
    pub metal: String,
    /// Label and text of everything else worth reading.
    pub details: Vec<(String, String)>,
    /// What lies around it on the plots of a lot; `None` draws none.
    pub around: Option<Surroundings>,
}

/// A probe as the screens show it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProbeLine {
    /// Name.
    pub name: String,
    /// Frequency in words.
    pub text: String,
    /// The probe itself, to be put into a second test.
    pub probe: Probe,
}

/// What does not change while the program runs.
#[derive(Debug, Clone, PartialEq)]
pub struct Facts {
    /// The products.
    pub products: Vec<ProductLine>,
    /// The probes of the desk.
    pub probes: Vec<ProbeLine>,
    /// Time of the desk against UTC.
    pub offset: FixedOffset,
    /// With which marks plots are drawn.
    pub marks: Marks,
}

/// The filter of a list.
#[derive(Debug, Clone, Default)]
pub struct ListFilter {
    /// What is typed.
    pub input: Input,
    /// Whether keys go into it.
    pub typing: bool,
}

impl ListFilter {
    /// Tells whether a row with this text is shown: it contains every word of the filter, in either case.
    pub fn passes(&self, text: &str) -> bool {
        let text = text.to_lowercase();
        self.input.value().split_whitespace().all(|word| text.contains(&word.to_lowercase()))
    }
}

/// How deep the receive screen has been entered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ReceiveAt {
    /// The list of shipments.
    #[default]
    Shipments,
    /// The lots of the selected shipment.
    Lots,
}

/// The receive screen.
#[derive(Debug, Clone, Default)]
pub struct Receive {
    /// Shipments, newest first.
    pub shipments: Vec<ShipmentView>,
    /// Which list has the keys.
    pub at: ReceiveAt,
    /// Selected row among the shipments that pass the filter.
    pub selected: usize,
    /// Selected lot of the selected shipment.
    pub lot: usize,
    /// The filter of the shipments.
    pub filter: ListFilter,
}

impl Receive {
    /// Returns the shipments that pass the filter.
    pub fn visible(&self) -> Vec<&ShipmentView> {
        self.shipments
            .iter()
            .filter(|shipment| self.filter.passes(&format!("{} {}", shipment.number, shipment.source)))
            .collect()
    }

    /// Returns the selected shipment.
    pub fn current(&self) -> Option<&ShipmentView> {
        self.visible().get(self.selected).copied()
    }

    /// Returns the selected lot.
    pub fn current_lot(&self) -> Option<&LotView> {
        self.current()?.lots.get(self.lot)
    }

    /// Selects the shipment with a number, dropping a filter that hides it.
    pub fn select(&mut self, number: &str) {
        let found =
            |receive: &Receive| receive.visible().iter().position(|shipment| shipment.number == number);
        if found(self).is_none() {
            self.filter = ListFilter::default();
        }
        self.selected = found(self).unwrap_or(0);
        self.lot = 0;
    }
}

/// What the bench shows beside the form.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Shown {
    /// The piece in hand: what its product lets expect.
    #[default]
    InHand,
    /// A logged piece, by its place in the lot.
    Piece(usize),
}

/// A run of characters that came faster than a person types.
#[derive(Debug, Clone, Default)]
pub struct Burst {
    /// The characters.
    pub text: String,
    /// When the last one came.
    pub last: Moment,
    /// Text of the focused field before the run.
    pub before: String,
    /// Whether that text had just been refused.
    pub after_fault: bool,
}

/// What the focused field is waiting for.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Entry {
    /// For text and an ending.
    #[default]
    Typing,
    /// For a correction: what is typed was not understood.
    Fault(String),
    /// For an answer: the value is far off.
    Question(String),
}

/// Whether the draft in memory is on disk.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum OnDisk {
    /// It is, or will be before the next wait for a key.
    #[default]
    Saved,
    /// It is not, and why.
    NotSaved(String),
}

/// The lot on the bench.
#[derive(Debug, Clone)]
pub struct Work {
    /// The lot.
    pub lot: LotView,
    /// Its pieces, in the order in which they were logged.
    pub pieces: Vec<PieceView>,
    /// The piece in hand.
    pub draft: Draft,
    /// For each field the value in its stored unit, where it was accepted.
    pub echoes: Vec<Option<String>>,
    /// The text of the focused field with its cursor.
    pub input: Input,
    /// What the focused field is waiting for.
    pub entry: Entry,
    /// What is shown beside the form.
    pub shown: Shown,
    /// Whether every field is being accepted in turn, to score at once.
    pub finishing: bool,
    /// Whether the draft is on disk.
    pub disk: OnDisk,
    /// The run of fast characters, if one is going on.
    pub burst: Burst,
}

impl Work {
    /// Tells whether anything is typed for the piece in hand.
    pub fn half_filled(&self) -> bool {
        self.draft.fields.iter().any(|field| !field.text.is_empty())
    }

    /// Tells whether every piece of the packing list is logged, so that the lot takes no more.
    pub fn full(&self) -> bool {
        self.lot.logged >= self.lot.expected
    }

    /// Returns the piece that acts concern: the one shown, else the one logged last.
    pub fn selected(&self) -> Option<&PieceView> {
        match self.shown {
            Shown::Piece(index) => self.pieces.get(index),
            Shown::InHand => self.pieces.last(),
        }
    }

    /// Returns the field that has the focus; `None` only for a draft without fields.
    pub fn focused(&self) -> Option<Field> {
        self.draft.fields.get(self.draft.focus).map(|field| field.field)
    }
}

/// The bench.
#[derive(Debug, Clone, Default)]
pub struct Bench {
    /// The lot that is being logged.
    pub work: Option<Work>,
}

/// The list of pieces in stock.
#[derive(Debug, Clone, Default)]
pub struct StockList {
    /// The pieces, newest first.
    pub pieces: Vec<StockView>,
    /// How many are in stock in all; more than are listed in a large book.
    pub in_all: u32,
    /// Selected row among those that pass the filter.
    pub selected: usize,
    /// The filter.
    pub filter: ListFilter,
}

impl StockList {
    /// Returns the pieces that pass the filter.
    pub fn visible(&self) -> Vec<&StockView> {
        self.pieces
            .iter()
            .filter(|piece| {
                let serial = piece.serial.as_deref().unwrap_or_default();
                let text = format!(
                    "{} {} {} {} {} {serial} {}",
                    piece.piece,
                    piece.source,
                    piece.product,
                    piece.product_name,
                    piece.metal,
                    piece.released_by
                );
                self.filter.passes(&text)
            })
            .collect()
    }

    /// Returns the selected piece.
    pub fn current(&self) -> Option<&StockView> {
        self.visible().get(self.selected).copied()
    }
}

/// The list of instruments.
#[derive(Debug, Clone, Default)]
pub struct InstrumentList {
    /// The instruments; `None` until they are read.
    pub view: Option<InstrumentsView>,
    /// Selected row among those that pass the filter.
    pub selected: usize,
    /// The filter.
    pub filter: ListFilter,
}

impl InstrumentList {
    /// Returns the rows that pass the filter.
    pub fn visible(&self) -> Vec<&InstrumentRow> {
        let rows = self.view.iter().flat_map(|view| &view.rows);
        rows.filter(|row| {
            let text = format!("{} {} {}", row.name(), row.instrument.kind, row.state.word());
            self.filter.passes(&text)
        })
        .collect()
    }

    /// Returns the selected row.
    pub fn current(&self) -> Option<&InstrumentRow> {
        self.visible().get(self.selected).copied()
    }
}

/// The account of a day.
#[derive(Debug, Clone, Default)]
pub struct DaySheet {
    /// The account; `None` until it is read.
    pub view: Option<DayView>,
    /// First row shown.
    pub offset: usize,
}

/// The list of products.
#[derive(Debug, Clone, Default)]
pub struct ReferenceList {
    /// Selected row among those that pass the filter.
    pub selected: usize,
    /// The filter.
    pub filter: ListFilter,
    /// What released pieces taught about their products.
    pub type_book: Vec<TypeBookView>,
}

/// Everything the screens know.
#[derive(Debug, Clone)]
pub struct State {
    /// What does not change.
    pub facts: Facts,
    /// The keys in force.
    pub keymap: Keymap,
    /// How this desk wants its screens.
    pub settings: ScreenSettings,
    /// Whether the line above the footer stands in reverse video, for a moment.
    pub flash: bool,
    /// The screen.
    pub screen: Screen,
    /// Dialogs, the one with the keys last.
    pub dialogs: Vec<Dialog>,
    /// The receive screen.
    pub receive: Receive,
    /// The bench.
    pub bench: Bench,
    /// The list of holds.
    pub holds: Holds,
    /// The list of pieces in stock.
    pub stock: StockList,
    /// The list of instruments.
    pub instruments: InstrumentList,
    /// The list of products.
    pub reference: ReferenceList,
    /// The account of a day.
    pub day: DaySheet,
    /// The devices of the desk, in the order in which they are listened to.
    pub devices: Vec<Device>,
    /// The line above the footer.
    pub notice: Option<Notice>,
    /// A form that was left with Esc, so that its text is still there when it is opened again.
    pub put_aside: Option<super::dialog::Form>,
    /// Size of the terminal.
    pub width: u16,
    /// Size of the terminal.
    pub height: u16,
    /// When the last key came.
    pub moment: Moment,
    /// The last key.
    pub last_key: Option<Key>,
}

impl State {
    /// Makes the state of a program that has just started, on the list of shipments.
    pub fn new(facts: Facts) -> Self {
        State {
            facts,
            keymap: Keymap::default(),
            settings: ScreenSettings::default(),
            flash: false,
            screen: Screen::Receive,
            dialogs: Vec::new(),
            receive: Receive::default(),
            bench: Bench::default(),
            holds: Holds::default(),
            stock: StockList::default(),
            instruments: InstrumentList::default(),
            reference: ReferenceList::default(),
            day: DaySheet::default(),
            devices: Vec::new(),
            notice: None,
            put_aside: None,
            width: 80,
            height: 24,
            moment: Moment::default(),
            last_key: None,
        }
    }

    /// Returns the products that pass the filter.
    pub fn visible_products(&self) -> Vec<&ProductLine> {
        self.facts
            .products
            .iter()
            .filter(|product| {
                self.reference.filter.passes(&format!("{} {} {}", product.id, product.name, product.metal))
            })
            .collect()
    }

    /// Returns the filter of the list on the screen.
    pub fn filter(&self) -> Option<&ListFilter> {
        match self.screen {
            Screen::Receive if self.receive.at == ReceiveAt::Shipments => Some(&self.receive.filter),
            Screen::Holds => Some(&self.holds.filter),
            Screen::Stock => Some(&self.stock.filter),
            Screen::Instruments => Some(&self.instruments.filter),
            Screen::Reference => Some(&self.reference.filter),
            Screen::Receive | Screen::Bench | Screen::Day => None,
        }
    }

    /// Returns the place of the screen below all dialogs.
    pub fn screen_place(&self) -> Place {
        if self.filter().is_some_and(|filter| filter.typing) {
            return Place::Filter;
        }
        match self.screen {
            Screen::Receive => match self.receive.at {
                ReceiveAt::Shipments => Place::Shipments,
                ReceiveAt::Lots => Place::Lots,
            },
            Screen::Bench => match self.bench.work.as_ref().map(|work| &work.entry) {
                Some(Entry::Question(_)) => Place::Question,
                _ => Place::Bench,
            },
            Screen::Holds => Place::Holds,
            Screen::Stock => Place::Stock,
            Screen::Instruments => Place::Instruments,
            Screen::Reference => Place::Reference,
            Screen::Day => Place::Day,
        }
    }

    /// Returns the place that has the keys.
    pub fn place(&self) -> Place {
        self.dialogs.last().map_or_else(|| self.screen_place(), Dialog::place)
    }

    /// Puts a refusal on the line above the footer, with its first hint.
    pub fn refuse(&mut self, trouble: &Trouble) {
        let hint = trouble.hints.first().map_or_else(String::new, |hint| format!("; {hint}"));
        self.notice = Some(Notice::Refused(format!("{}{hint}", trouble.message)));
    }
}
