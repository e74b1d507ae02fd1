//! What the use cases hand to the faces: plain data, ready to be shown or printed as JSON.

use crate::evidence::{Amount, Measurand};
use crate::intake::{HoldId, LotId, PieceId, ReadingId, ShipmentId};
use crate::quantity::Money;
use crate::reference::ProductId;
use crate::scoring::{Assessment, Cause, DoubtKind, Offer, Scope, Standing};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

/// A shipment with its lots.
#[derive(Debug, Clone, PartialEq)]
pub struct ShipmentView {
    /// Identity.
    pub id: ShipmentId,
    /// Number people see, `S-0012`.
    pub number: String,
    /// Who sent it.
    pub source: String,
    /// When it was taken in.
    pub received_at: DateTime<Utc>,
    /// The lots in the order of the packing list.
    pub lots: Vec<LotView>,
}

/// A lot: the pieces of one product from one line of the packing list, with its running totals.
#[derive(Debug, Clone, PartialEq)]
pub struct LotView {
    /// Identity.
    pub id: LotId,
    /// The shipment it belongs to.
    pub shipment: ShipmentId,
    /// Number people see, `S-0012/3`.
    pub number: String,
    /// Line of the packing list.
    pub line: u32,
    /// The product declared.
    pub product: ProductId,
    /// Its name.
    pub product_name: String,
    /// Pieces on the packing list.
    pub expected: u32,
    /// Pieces logged so far, voided ones not counted.
    pub logged: u32,
    /// Of these, proposed clear.
    pub clear: u32,
    /// Of these, on hold.
    pub hold: u32,
    /// Of these, proposed to refuse.
    pub refuse: u32,
    /// Doubts of the lot itself that are open.
    pub lot_doubts: u32,
    /// Serials on the packing list that were not logged yet.
    pub serials_open: Vec<String>,
    /// Price paid for one piece.
    pub unit_cost: Option<Money>,
    /// Worst of the lot's own doubts and its pieces; `None` while nothing is logged.
    pub standing: Option<Standing>,
}

/// A reading as it stands in the book.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadingView {
    /// Identity.
    pub id: ReadingId,
    /// What was measured.
    pub measurand: Measurand,
    /// Spot, from 1; always 1 except for conductivity.
    pub spot: u8,
    /// The text as typed.
    pub text: String,
    /// The value in its stored unit, `31.10 g`, with the decimals that were typed.
    pub stored: String,
    /// The value; `None` when it was not measured.
    pub amount: Option<Amount>,
    /// Standard uncertainty and its unit, `± 0.008 g`, when the piece was assessed.
    pub uncertainty: Option<String>,
    /// Probe, for conductivity.
    pub probe: Option<String>,
    /// Why it replaced an earlier reading, or why a value far off was kept.
    pub reason: Option<String>,
    /// The line in which a device sent it, every byte readable; `None` when it was typed.
    pub device_line: Option<String>,
}

/// A piece with its readings in force, its last assessment and its open doubts.
#[derive(Debug, Clone, PartialEq)]
pub struct PieceView {
    /// Identity.
    pub id: PieceId,
    /// The lot it belongs to.
    pub lot: LotId,
    /// Number people see, `S-0012/3-07`.
    pub number: String,
    /// The product declared.
    pub product: ProductId,
    /// Its name.
    pub product_name: String,
    /// Serial number, where it has one.
    pub serial: Option<String>,
    /// Readings in force.
    pub readings: Vec<ReadingView>,
    /// The last assessment.
    pub assessment: Assessment,
    /// Open doubts of the piece, those from a person or from the record among them.
    pub doubts: Vec<HoldView>,
    /// Worst of the assessment and the open doubts.
    pub standing: Standing,
    /// Why it has to come back from stock; `None` for a piece that is not recalled.
    pub recalled: Option<String>,
    /// When it was logged.
    pub logged_at: DateTime<Utc>,
    /// Who logged it.
    pub operator: String,
}

/// One open doubt of a piece or of a lot, as the review sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct HoldView {
    /// Identity.
    pub id: HoldId,
    /// Piece or lot.
    pub scope: Scope,
    /// Shipment number.
    pub shipment: String,
    /// Source of the shipment.
    pub source: String,
    /// Lot number.
    pub lot: String,
    /// Piece number, for doubts of a piece.
    pub piece: Option<String>,
    /// The product declared.
    pub product: ProductId,
    /// Its name.
    pub product_name: String,
    /// Kind of doubt.
    pub kind: DoubtKind,
    /// Why it is open.
    pub cause: Cause,
    /// Methods considered, best first.
    pub offers: Vec<Offer>,
    /// Value of the fine metal that stands behind it, at the price in the book.
    pub at_risk: Option<Money>,
    /// Standing of the piece or lot.
    pub standing: Standing,
    /// Who logged the piece; for a doubt of a lot, who opened it.
    pub operator: String,
    /// When it was opened.
    pub opened_at: DateTime<Utc>,
}

/// A field of the bench's entry form.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Field {
    /// Serial number.
    Serial,
    /// A reading; the number is the spot, from 1.
    Reading(Measurand, u8),
}

impl Field {
    /// Returns the label people read, such as `conductivity 2`.
    pub fn label(self) -> String {
        match self {
            Field::Serial => "serial".to_owned(),
            Field::Reading(Measurand::Conductivity, spot) => format!("conductivity {spot}"),
            Field::Reading(measurand, _) => measurand.name().to_owned(),
        }
    }

    /// Tells whether the field may stay empty; the others want a value, or `-` for one that was not measured.
    pub fn may_stay_empty(self) -> bool {
        match self {
            Field::Serial => true,
            Field::Reading(measurand, spot) => measurand == Measurand::Temperature || spot > 1,
        }
    }
}

/// One field of a half-filled piece.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DraftField {
    /// Which field.
    pub field: Field,
    /// The text in it, accepted or half typed.
    pub text: String,
    /// Whether Enter or Tab accepted it.
    pub accepted: bool,
    /// Why a value far from the expected one was kept.
    pub reason: Option<String>,
    /// The line in which a device sent the text, every byte readable; `None` when it was typed.
    #[serde(default)]
    pub device_line: Option<String>,
}

impl DraftField {
    /// Makes a field with nothing in it.
    pub fn empty(field: Field) -> Self {
        DraftField { field, text: String::new(), accepted: false, reason: None, device_line: None }
    }
}

/// A half-filled piece: it is on disk before the next key.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Draft {
    /// The lot that is being logged.
    pub lot: LotId,
    /// The fields in the order of the form.
    pub fields: Vec<DraftField>,
    /// Index of the field that has the focus.
    pub focus: usize,
    /// Name of the probe in use.
    pub probe: Option<String>,
}

/// What the program understood of a typed field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Echo {
    /// The value in its stored unit, `31.10 g`; `not measured` for `-`.
    pub stored: String,
    /// Set when the value is more than three times off what the product lets expect: a question to the typist.
    pub question: Option<String>,
}

/// How an import went.
#[derive(Debug, Clone, PartialEq)]
pub struct LogReport {
    /// Pieces written (or that would be written, on a dry run).
    pub pieces: Vec<PieceView>,
    /// Whether nothing was written because it was a dry run.
    pub dry_run: bool,
    /// Rows that were not taken, only with `--partial`; otherwise one bad row refuses the whole file.
    pub rejected: Vec<crate::intake::RowError>,
}
