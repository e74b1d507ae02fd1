//! What can happen: keys, and the answers of the shell.

use super::effect::{Effect, Then};
use super::keymap::Act;
use crate::desk::devices::HeardFrom;
use crate::desk::reach::Prospect;
use crate::desk::review_views::{
    DayView, NewestStock, OpenGroup, SampleView, SecondTestOutcome, SecondTestView, StockView,
};
use crate::desk::type_book::TypeBookView;
use crate::desk::views::{Draft, Echo, LotView, PieceView, ShipmentView};
use crate::desk::{ActView, ControlOutcome, Hit, InstrumentsView, PolicyView, Redone};
use crate::intake::LotId;
use crate::physics::recording::RingRecording;
use crate::scoring::{Explanation, ReadingBudget};

/// A refusal or a failure, in words for people.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trouble {
    /// What is wrong: found and allowed. May have several lines, one a row of a file.
    pub message: String,
    /// How to go on.
    pub hints: Vec<String>,
}

/// A lot that was opened for logging.
#[derive(Debug, Clone, PartialEq)]
pub struct Opened {
    /// The lot.
    pub lot: LotView,
    /// Its pieces, in the order in which they were logged.
    pub pieces: Vec<PieceView>,
    /// The half-filled piece, or an empty one.
    pub draft: Draft,
    /// For each field of the draft the value in its stored unit, where it was accepted.
    pub echoes: Vec<Option<String>>,
}

/// A piece that was logged.
#[derive(Debug, Clone, PartialEq)]
pub struct Logged {
    /// The piece.
    pub piece: PieceView,
    /// Its lot afterwards.
    pub lot: LotView,
    /// The next, empty draft.
    pub draft: Draft,
}

/// Something that happened.
#[derive(Debug, Clone, PartialEq)]
pub enum Message {
    /// A key of the keymap.
    Act(Act),
    /// A character of data.
    Type(char),
    /// Pasted text: it fills a field and nothing else.
    Paste(String),
    /// A device did something.
    Device(HeardFrom),
    /// The terminal has a new size.
    Resize {
        /// Columns.
        width: u16,
        /// Rows.
        height: u16,
    },
    /// Nothing was ever written into the book.
    FirstStart {
        /// Code of the currency of the policy in force.
        currency: String,
    },
    /// The desk is set up.
    SetUp {
        /// Its name.
        name: String,
    },
    /// The shipments, newest first.
    Shipments(Vec<ShipmentView>),
    /// A shipment was taken in.
    Received(Box<ShipmentView>),
    /// A line was added.
    LineAdded(Box<LotView>),
    /// A lot was opened.
    LotOpened(Box<Opened>),
    /// The lot on the bench was read again.
    LotRefreshed {
        /// The lot.
        lot: Box<LotView>,
        /// Its pieces.
        pieces: Vec<PieceView>,
    },
    /// The lot on the bench does not exist any more.
    LotGone(LotId),
    /// A field was understood.
    Echoed {
        /// Place of the field in the form.
        index: usize,
        /// What was understood.
        echo: Echo,
    },
    /// A field was not understood.
    NotUnderstood {
        /// Place of the field in the form.
        index: usize,
        /// Why.
        trouble: Trouble,
    },
    /// The draft is on disk.
    DraftSaved,
    /// The draft could not be put on disk.
    DraftNotSaved(Trouble),
    /// A piece was logged.
    Logged(Box<Logged>),
    /// A piece is there.
    PieceOpened {
        /// The piece.
        piece: Box<PieceView>,
        /// What to do with it.
        then: Then,
    },
    /// A piece was changed.
    PieceChanged {
        /// The piece afterwards.
        piece: Box<PieceView>,
        /// What was done, as a sentence.
        text: String,
    },
    /// A piece was voided.
    Voided(crate::intake::PieceId),
    /// The last act was undone; the sentence says which.
    Undone(String),
    /// This operator's last acts, newest first.
    LastActs(Vec<ActView>),
    /// An undone act was done again.
    Redone(Redone),
    /// The open doubts by piece and lot.
    Holds(Vec<OpenGroup>),
    /// The pieces in stock.
    Stock(NewestStock),
    /// Where the instruments stand.
    Instruments(Box<InstrumentsView>),
    /// The uncertainty budgets of a piece.
    Budgets {
        /// Its number.
        number: String,
        /// The budgets.
        budgets: Vec<ReadingBudget>,
    },
    /// Where something about a piece comes from.
    Explained {
        /// Number of the piece.
        number: String,
        /// The explanation.
        explanation: Box<Explanation>,
    },
    /// The policy in force.
    Policy(PolicyView),
    /// What the probes and instruments would do to a product.
    Reach(Box<Prospect>),
    /// A control was recorded.
    ControlRecorded(Box<ControlOutcome>),
    /// The account of a day.
    Day(Box<DayView>),
    /// What released pieces taught about their products.
    TypeBook(Vec<TypeBookView>),
    /// A piece of which a doubt is to be settled, with its second tests.
    Settling {
        /// The piece.
        piece: Box<PieceView>,
        /// Its second tests.
        tests: Vec<SecondTestView>,
    },
    /// A second test was recorded.
    TestRecorded(Box<SecondTestOutcome>),
    /// A recording was read.
    RecordingRead {
        /// The row of the form that waits for it.
        row: usize,
        /// Path of the file.
        path: String,
        /// What it tells.
        recording: Box<RingRecording>,
    },
    /// The samples of a lot, the last one drawn at the end.
    Samples {
        /// Number of the lot.
        lot: String,
        /// The samples.
        samples: Vec<SampleView>,
    },
    /// A decision is on record; the sentence says which.
    Decided(String),
    /// Pieces were released.
    Released(Vec<StockView>),
    /// An act needs a PIN.
    PinWanted {
        /// The act.
        effect: Box<Effect>,
        /// Why, or what was wrong with the one typed.
        trouble: Trouble,
    },
    /// Files were written.
    Written(Vec<String>),
    /// A shipment was found.
    FoundShipment(Box<ShipmentView>),
    /// A lot was found.
    FoundLot(LotId),
    /// What fits a text.
    Hits {
        /// The text.
        text: String,
        /// What fits, the best first.
        hits: Vec<Hit>,
    },
    /// What people should know besides, as when the clock was set back.
    Noted(String),
    /// What was asked for could not be done.
    Failed(Trouble),
}
