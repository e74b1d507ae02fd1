//! Why a doubt is open and what a method can do about it, as facts: kinds, materials and numbers, never sentences.
//!
//! Decisions, settlements, undo and explanations go by [`Cause::key`]; words are made when somebody reads them.

use super::assessment::{Construction, Outcome};
use super::doubt::Method;
use super::lots::{LotQuantity, LotValue};
use super::plan::OtherReading;
use super::second::Figure;
use crate::evidence::Measurand;
use crate::quantity::{Conductivity, Length, Money};
use crate::reference::MaterialId;
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// Why a doubt is open.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "cause", rename_all = "snake_case")]
pub enum Cause {
    /// As a person said it, or as it was worded before causes were kept.
    Said {
        /// The words.
        text: String,
    },
    /// A check that is not inside.
    Check {
        /// What was checked.
        measurand: Measurand,
        /// What it came to.
        outcome: Outcome,
        /// With the numbers.
        reason: String,
    },
    /// Something the desk watches for that the readings do not exclude.
    Possible {
        /// Solids, or cores and inserts.
        construction: Construction,
        /// Names, what is met first.
        names: Vec<Arc<str>>,
        /// Thinnest skin that is left.
        thinnest: Option<Length>,
        /// Largest share of the volume.
        share: f64,
        /// Most that it could displace in a piece.
        at_risk: Option<Money>,
        /// Pieces of the lot that share it; 0 for a doubt of the piece alone.
        pieces: u32,
        /// Whether mixtures that no list names are open too.
        unlisted: bool,
    },
    /// The conductivity reads like plating.
    ThinPlate {
        /// Materials with the skins under which they would read so.
        under: Vec<(Arc<str>, Length, Length)>,
    },
    /// Spots differ more than the meter repeats.
    Uneven {
        /// Largest less smallest.
        spread: Conductivity,
        /// What the meter's own scatter gives.
        limit: Conductivity,
    },
    /// It fills its envelope as no struck piece does.
    Fill {
        /// Share that it fills.
        fill: f64,
        /// Least and greatest of struck pieces.
        least: f64,
        /// Greatest.
        greatest: f64,
    },
    /// The strike matters, and no reading tells one from another.
    Strike {
        /// Whether the product sells above its metal; else its source is not trusted.
        premium: bool,
    },
    /// A magnet attracted it.
    Attracted,
    /// No proved instrument stands behind readings.
    Unproved {
        /// Which.
        measurands: Vec<Measurand>,
        /// Why.
        reason: String,
    },
    /// A second test disagrees with the declaration.
    Disagrees {
        /// The method.
        method: Method,
        /// With the numbers.
        reason: String,
    },
    /// An echo came from inside.
    Echo {
        /// How deep, where it was read.
        depth: Option<Length>,
    },
    /// X-ray found elements that have no place in the alloy.
    Foreign {
        /// Symbols with shares in percent.
        elements: Vec<(String, f64)>,
    },
    /// An expert disagrees.
    ExpertDisagrees {
        /// Who, and in which document.
        how: String,
    },
    /// It stands apart from its lot.
    OddInLot {
        /// In which quantities.
        values: Vec<OddValue>,
    },
    /// It stands apart from what released pieces taught.
    OddForType {
        /// In which quantities.
        values: Vec<LearnedValue>,
        /// Chance that a good piece does.
        significance: f64,
        /// Quantities that were compared.
        compared: usize,
    },
    /// The lot's median lies outside the limits of a piece.
    LotOff {
        /// The quantity.
        quantity: LotQuantity,
        /// The median.
        centre: LotValue,
        /// Pieces.
        pieces: usize,
        /// The limit that it passed, and whether it lies below.
        limit: LotValue,
        /// Below or above.
        below: bool,
        /// Decimals with which values are shown.
        decimals: u32,
    },
    /// The lot looks like two.
    TwoPopulations {
        /// The quantity.
        quantity: LotQuantity,
        /// Largest value of the lower group.
        below: LotValue,
        /// Smallest of the upper.
        above: LotValue,
        /// Pieces of the lower group.
        count_below: usize,
        /// Pieces.
        pieces: usize,
        /// Width of the gap in scale units.
        units: f64,
        /// Decimals with which values are shown.
        decimals: u32,
    },
    /// A serial is on other pieces too.
    SerialTwice {
        /// The serial.
        serial: String,
        /// Some of the other pieces.
        on: Vec<String>,
        /// How many more.
        more: usize,
    },
    /// A serial is missing although the list gives some.
    SerialMissing {
        /// Serials of the line.
        declared: u64,
    },
    /// A serial is not on the packing list.
    SerialNotListed {
        /// The serial.
        serial: String,
    },
    /// Several of one kind, which the book holds as one.
    Several {
        /// Each of them.
        causes: Vec<Cause>,
    },
}

/// One quantity in which a piece stands apart from its lot.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct OddValue {
    /// The quantity.
    pub quantity: LotQuantity,
    /// Of the piece.
    pub value: LotValue,
    /// The lot's median.
    pub centre: LotValue,
    /// The lot's scale, at least what the instrument allows.
    pub scale: LotValue,
    /// Distance in scale units, with sign.
    pub score: f64,
    /// Statistic of the test, and its critical value.
    pub statistic: f64,
    /// Critical value.
    pub critical: f64,
    /// Distance below which no piece is odd.
    pub limit: LotValue,
    /// Decimals with which values are shown.
    pub decimals: u32,
}

/// One quantity in which a piece stands apart from what released pieces taught.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LearnedValue {
    /// The quantity.
    pub quantity: LotQuantity,
    /// Of the piece.
    pub value: LotValue,
    /// Released pieces that count.
    pub pieces: u32,
    /// The instrument that read them.
    pub instrument: String,
    /// Their centre.
    pub centre: LotValue,
    /// Their scatter.
    pub scatter: LotValue,
    /// What is expected, from.
    pub lower: LotValue,
    /// To.
    pub upper: LotValue,
    /// Decimals with which values are shown.
    pub decimals: u32,
}

impl Cause {
    /// Returns what tells one cause from another of its kind: never a number that moves from reading to reading.
    pub fn key(&self) -> String {
        match self {
            Cause::Said { text } => format!("said {text}"),
            Cause::Check { measurand, .. } => format!("check {}", measurand.name()),
            Cause::Possible { construction: Construction::Solid, .. } => "possible solid".to_owned(),
            Cause::Possible { .. } => "possible core".to_owned(),
            Cause::ThinPlate { .. } => "thin plate".to_owned(),
            Cause::Uneven { .. } => "uneven".to_owned(),
            Cause::Fill { .. } => "fill".to_owned(),
            Cause::Strike { .. } => "strike".to_owned(),
            Cause::Attracted => "attracted".to_owned(),
            Cause::Unproved { measurands, .. } => {
                let names: Vec<&str> = measurands.iter().map(|measurand| measurand.name()).collect();
                format!("unproved {}", names.join(" "))
            }
            Cause::Disagrees { method, .. } => format!("disagrees {}", method.word()),
            Cause::Echo { .. } => "echo".to_owned(),
            Cause::Foreign { .. } => "foreign".to_owned(),
            Cause::ExpertDisagrees { how } => format!("expert {how}"),
            Cause::OddInLot { .. } => "odd in lot".to_owned(),
            Cause::OddForType { values, .. } => {
                let names: Vec<&str> = values.iter().map(|value| value.quantity.word()).collect();
                format!("odd for type {}", names.join(" "))
            }
            Cause::LotOff { quantity, .. } => format!("lot off {}", quantity.word()),
            Cause::TwoPopulations { quantity, .. } => format!("two populations {}", quantity.word()),
            Cause::SerialTwice { serial, on, .. } => format!("serial twice {serial} {}", on.join(" ")),
            Cause::SerialMissing { .. } => "serial missing".to_owned(),
            Cause::SerialNotListed { serial } => format!("serial not listed {serial}"),
            Cause::Several { causes } => causes.iter().map(Cause::key).collect::<Vec<_>>().join("; "),
        }
    }
}

/// What a method can do about a doubt here, with the numbers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "because", rename_all = "snake_case")]
pub enum Because {
    /// As it was worded before causes were kept.
    Said {
        /// The words.
        text: String,
    },
    /// It reads something else on what the piece could be.
    Tells {
        /// What a good piece reads; `None` for a method that shows a sign and no number.
        good: Option<(Figure, Figure)>,
        /// What the first of the others reads.
        other: Option<OtherReading>,
        /// What it leaves open.
        leaves: Vec<MaterialId>,
    },
    /// It reads all of them as it reads a good piece.
    TellsNone,
    /// It cannot be used on this piece.
    NotHere {
        /// Why, with the numbers.
        reason: String,
    },
    /// A reading that cannot be used has to be taken again in another way.
    TakeAgain {
        /// What was in the way, with the remedy.
        reason: String,
    },
    /// What is always so.
    Always {
        /// What.
        rule: Rule,
    },
}

/// What is always so of a method about a kind of doubt.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Rule {
    /// The reading is missing.
    TakeTheReading,
    /// The instrument is too coarse.
    FinerInstrument,
    /// A finer instrument, or the mean of more readings.
    FinerOrMore,
    /// A repeat only rules out a slip.
    RulesOutASlip,
    /// It names the alloy of the surface.
    NamesTheSurface,
    /// A laboratory takes a sample and destroys a part.
    Laboratory,
    /// A control that passes, then the reading again.
    ControlThenAgain,
    /// More spots on both faces and ends.
    MoreSpots,
    /// A sweep over the face finds what lies beside the spots.
    Sweep,
    /// Sizes have to be measured again.
    MeasureSizes,
    /// Only an expert tells strikes apart.
    OnlyAnExpert,
    /// It sees the core's lines through a thin plate.
    SeesThroughPlate,
    /// A second opinion.
    SecondOpinion,
    /// A control of the instrument first: a whole lot that is off may be an instrument that is off.
    ControlFirst,
    /// Split the lot and judge each part.
    SplitTheLot,
    /// The density of the whole body.
    WholeDensity,
    /// Read the serial again, or record what the source says.
    ReadTheSerial,
    /// Whoever looks again answers what made somebody stop.
    SomebodyLooks,
    /// It settles another doubt of the piece, which may tell why this one is open.
    TellsWhy,
}

/// A remark or caution that holds nothing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(from = "KeptRemark")]
#[serde(tag = "remark", rename_all = "snake_case")]
pub enum Remark {
    /// As it was worded.
    Said {
        /// The words.
        text: String,
    },
    /// No price of the metal is known.
    NoPrice,
    /// No model says what a core reads.
    OutsideModel {
        /// Why.
        reason: String,
    },
    /// A correct metal does not prove a correct strike.
    StrikeNotProved,
    /// How much of a face the spots cover.
    Cover {
        /// Spots read.
        spots: u32,
        /// Spots that would cover one face.
        full: u32,
        /// Share covered.
        share: f64,
    },
    /// A reading is near its limit or cannot be decided, and what it may fall short is worth next to nothing.
    Negligible {
        /// Which reading.
        measurand: Measurand,
        /// The most that it may be off, as a share of the nominal.
        share: f64,
    },
    /// The piece stands apart from what released pieces taught.
    TypeBook {
        /// In which quantities.
        values: Vec<LearnedValue>,
    },
}

/// A remark as it is kept; before causes were kept, it was a sentence.
#[derive(Deserialize)]
#[serde(untagged)]
enum KeptRemark {
    Said(String),
    Fact(RemarkFact),
}

#[derive(Deserialize)]
#[serde(tag = "remark", rename_all = "snake_case")]
enum RemarkFact {
    Said { text: String },
    NoPrice,
    OutsideModel { reason: String },
    StrikeNotProved,
    Cover { spots: u32, full: u32, share: f64 },
    Negligible { measurand: Measurand, share: f64 },
    TypeBook { values: Vec<LearnedValue> },
}

impl From<KeptRemark> for Remark {
    fn from(kept: KeptRemark) -> Self {
        match kept {
            KeptRemark::Said(text) | KeptRemark::Fact(RemarkFact::Said { text }) => Remark::Said { text },
            KeptRemark::Fact(RemarkFact::NoPrice) => Remark::NoPrice,
            KeptRemark::Fact(RemarkFact::OutsideModel { reason }) => Remark::OutsideModel { reason },
            KeptRemark::Fact(RemarkFact::StrikeNotProved) => Remark::StrikeNotProved,
            KeptRemark::Fact(RemarkFact::Cover { spots, full, share }) => {
                Remark::Cover { spots, full, share }
            }
            KeptRemark::Fact(RemarkFact::Negligible { measurand, share }) => {
                Remark::Negligible { measurand, share }
            }
            KeptRemark::Fact(RemarkFact::TypeBook { values }) => Remark::TypeBook { values },
        }
    }
}
