//! What the use cases of the end of the day hand to the faces: second tests, decisions, stock, the day.

use super::views::{HoldView, LotView, PieceView};
use crate::evidence::SecondTest;
use crate::intake::{HoldId, LotId, PieceId, SampleId, SecondTestId};
use crate::quantity::{Mass, Money};
use crate::reference::{Metal, ProductId};
use crate::scoring::{DoubtKind, Method, Scope, SecondTestReport, Standing};
use chrono::{DateTime, NaiveDate, Utc};

/// A second test as it stands in the book.
#[derive(Debug, Clone, PartialEq)]
pub struct SecondTestView {
    /// Identity.
    pub id: SecondTestId,
    /// Number of the piece.
    pub piece: String,
    /// What was done.
    pub test: SecondTest,
    /// What it came to when it was recorded.
    pub report: SecondTestReport,
    /// When it was recorded.
    pub at: DateTime<Utc>,
    /// Who did it.
    pub operator: String,
}

/// What a second test changed.
#[derive(Debug, Clone, PartialEq)]
pub struct SecondTestOutcome {
    /// The test as recorded.
    pub test: SecondTestView,
    /// The piece as it is assessed now.
    pub piece: PieceView,
    /// Doubts that the new assessment no longer raises.
    pub closed: Vec<HoldView>,
    /// Doubts that it raises for the first time.
    pub opened: Vec<HoldView>,
}

/// The random sample that was drawn for a lot.
#[derive(Debug, Clone, PartialEq)]
pub struct SampleView {
    /// Identity.
    pub id: SampleId,
    /// Number of the lot.
    pub lot: String,
    /// Seed of the selection; with it anyone draws the same pieces again.
    pub seed: u64,
    /// Pieces in the lot when it was drawn.
    pub of: u32,
    /// Numbers of the pieces to be tested.
    pub pieces: Vec<String>,
    /// Of these, the ones that have a second test that agrees.
    pub tested: Vec<String>,
    /// Of these, how many have a second test that agrees.
    pub agreed: u32,
    /// Of these, how many have one that disagrees; one is enough to test the whole lot.
    pub disagreed: u32,
    /// What may still be wrong in the untested rest, in words, with the confidence.
    pub bound: String,
}

/// How a piece left the desk, or that it did not.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Ending {
    /// It became stock.
    Released,
    /// It went back to its source.
    SentBack,
    /// It was handed to the authorities.
    Surrendered,
}

/// A piece in stock.
#[derive(Debug, Clone, PartialEq)]
pub struct StockView {
    /// Identity.
    pub id: PieceId,
    /// Number people see.
    pub piece: String,
    /// Source of the shipment.
    pub source: String,
    /// The product.
    pub product: ProductId,
    /// Its name.
    pub product_name: String,
    /// The metal.
    pub metal: Metal,
    /// Serial number, where it has one.
    pub serial: Option<String>,
    /// Gross mass as weighed.
    pub gross: Option<Mass>,
    /// Fine mass: gross × fineness, rounded once.
    pub fine: Mass,
    /// Value of the fine metal at release, with the price then.
    pub value: Option<Money>,
    /// Price of a troy ounce that the value rests on.
    pub price: Option<Money>,
    /// When it was released.
    pub released_at: DateTime<Utc>,
    /// Who released it.
    pub released_by: String,
    /// Why it has to come back; `None` for a piece that may be sold.
    pub recalled: Option<String>,
}

/// Which stock is wanted; everything left out matches all.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct StockFilter {
    /// Only this metal.
    pub metal: Option<Metal>,
    /// Text in number, product, source or serial.
    pub text: Option<String>,
}

/// The newest pieces in stock.
#[derive(Debug, Clone, PartialEq)]
pub struct NewestStock {
    /// The pieces, released last first.
    pub pieces: Vec<StockView>,
    /// How many are in stock in all.
    pub in_all: u32,
}

/// Fine mass and value of a group of pieces.
#[derive(Debug, Clone, PartialEq)]
pub struct Worth {
    /// The metal.
    pub metal: Metal,
    /// Number of pieces.
    pub pieces: u32,
    /// Fine mass.
    pub fine: Mass,
    /// Its value at the price in the book; `None` without a price.
    pub value: Option<Money>,
}

/// One lot on the day sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct DayLot {
    /// The lot with its running totals.
    pub lot: LotView,
    /// Source of the shipment.
    pub source: String,
    /// Pieces released so far.
    pub released: u32,
    /// Pieces sent back so far.
    pub sent_back: u32,
    /// Pieces surrendered so far.
    pub surrendered: u32,
}

/// The end-of-day account.
#[derive(Debug, Clone, PartialEq)]
pub struct DayView {
    /// The day, in the time zone of the desk.
    pub day: NaiveDate,
    /// Name of the desk, when it has one.
    pub desk: Option<String>,
    /// When the account was made.
    pub made_at: DateTime<Utc>,
    /// Lots that were received, logged or decided upon that day.
    pub lots: Vec<DayLot>,
    /// Everything received that day, by metal.
    pub received: Vec<Worth>,
    /// Everything in stock that may be sold, by metal.
    pub sellable: Vec<Worth>,
    /// Everything in stock that has to come back, by metal.
    pub recalled: Vec<Worth>,
    /// Everything on hold, by metal.
    pub on_hold: Vec<Worth>,
    /// Everything proposed to refuse that is still here, by metal.
    pub at_risk: Vec<Worth>,
    /// Open doubts by kind: of pieces, of lots.
    pub doubts: Vec<(DoubtKind, u32, u32)>,
    /// Second tests recorded that day, by method.
    pub second_tests: Vec<(Method, u32)>,
    /// Decisions of that day in words, newest last.
    pub decisions: Vec<DecisionView>,
    /// Instruments in words, with what is assumed about them.
    pub instruments: Vec<String>,
    /// Rows of the journal.
    pub journal_rows: u64,
    /// Hash of its last row, in hexadecimal.
    pub journal_head: String,
    /// Versions: engine, reference, policy.
    pub versions: (u32, String, String),
}

/// A decision that somebody took.
#[derive(Debug, Clone, PartialEq)]
pub struct DecisionView {
    /// Number of the piece, or of the lot.
    pub about: String,
    /// What was decided, in words.
    pub what: String,
    /// Why.
    pub reason: String,
    /// Second test it rests on.
    pub evidence: Option<SecondTestId>,
    /// The hold it settled.
    pub hold: Option<HoldId>,
    /// Who decided.
    pub operator: String,
    /// When.
    pub at: DateTime<Utc>,
}

/// The evidence a piece was sold on.
#[derive(Debug, Clone, PartialEq)]
pub struct PieceRecord {
    /// The piece with its readings and its last assessment.
    pub piece: PieceView,
    /// Source of its shipment.
    pub source: String,
    /// Identity of its lot.
    pub lot: LotId,
    /// Second tests, oldest first.
    pub tests: Vec<SecondTestView>,
    /// Decisions about it and its lot, oldest first.
    pub decisions: Vec<DecisionView>,
    /// Samples of its lot that it was part of.
    pub samples: Vec<SampleView>,
    /// Its release, when it was released.
    pub stock: Option<StockView>,
    /// How it left otherwise.
    pub ending: Option<(Ending, String, DateTime<Utc>)>,
    /// Hash of the journal row of its last act, in hexadecimal.
    pub journal_hash: String,
}

/// A role at the desk.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Role {
    /// Logs pieces and second tests.
    Receiver,
    /// Settles, sends back, releases.
    Reviewer,
    /// Everything, operators and policy included.
    Owner,
}

/// Somebody who works at the desk.
#[derive(Debug, Clone, PartialEq)]
pub struct OperatorView {
    /// Name.
    pub name: String,
    /// Role.
    pub role: Role,
    /// Whether a PIN is set.
    pub has_pin: bool,
}

/// Whether a doubt is one of a piece or of a lot, with the standing behind it: for lists that group by piece.
#[derive(Debug, Clone, PartialEq)]
pub struct OpenGroup {
    /// Piece or lot.
    pub scope: Scope,
    /// Number of the piece or lot.
    pub number: String,
    /// Its standing.
    pub standing: Standing,
    /// Its open doubts, worst first.
    pub doubts: Vec<HoldView>,
    /// Value of the fine metal behind it.
    pub at_risk: Option<Money>,
}
