//! Doubts: what may be wrong with a piece or a lot, and which methods can do something about it.

use super::assessment::Scope;
use super::cause::{Because, Cause, Rule};
use crate::quantity::Money;
use crate::reference::MaterialId;
use serde::{Deserialize, Serialize};

/// The kinds of doubts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DoubtKind {
    /// A homogeneous candidate survives, or a reading lies outside.
    WrongAlloy,
    /// A core under a skin survives and hides more than policy allows.
    HiddenCore,
    /// The reading looks like a thin skin over something else.
    ThinPlate,
    /// Weight or size is outside, marginal, impossible or missing.
    WeightOrSize,
    /// Spots or faces differ more than the meter repeats.
    Uneven,
    /// The piece differs from the rest of its lot.
    OddOneOut,
    /// A correct metal does not prove a correct strike, and here it matters.
    CounterfeitStrike,
    /// A serial number is repeated, missing or not on the packing list.
    Identity,
    /// The instrument behind a reading is not proved, or the reading cannot be used.
    UnprovedInstrument,
    /// The holding period of the source is not over.
    LegalHold,
}

impl DoubtKind {
    /// All kinds.
    pub const ALL: [DoubtKind; 10] = [
        DoubtKind::WrongAlloy,
        DoubtKind::HiddenCore,
        DoubtKind::ThinPlate,
        DoubtKind::WeightOrSize,
        DoubtKind::Uneven,
        DoubtKind::OddOneOut,
        DoubtKind::CounterfeitStrike,
        DoubtKind::Identity,
        DoubtKind::UnprovedInstrument,
        DoubtKind::LegalHold,
    ];

    /// Returns the word used in JSON and the book.
    pub fn word(self) -> &'static str {
        match self {
            DoubtKind::WrongAlloy => "wrong_alloy",
            DoubtKind::HiddenCore => "hidden_core",
            DoubtKind::ThinPlate => "thin_plate",
            DoubtKind::WeightOrSize => "weight_or_size",
            DoubtKind::Uneven => "uneven",
            DoubtKind::OddOneOut => "odd_one_out",
            DoubtKind::CounterfeitStrike => "counterfeit_strike",
            DoubtKind::Identity => "identity",
            DoubtKind::UnprovedInstrument => "unproved_instrument",
            DoubtKind::LegalHold => "legal_hold",
        }
    }

    /// Returns the name people read.
    pub fn label(self) -> &'static str {
        match self {
            DoubtKind::WrongAlloy => "wrong alloy",
            DoubtKind::HiddenCore => "hidden core",
            DoubtKind::ThinPlate => "thin plate",
            DoubtKind::WeightOrSize => "weight or size",
            DoubtKind::Uneven => "uneven",
            DoubtKind::OddOneOut => "odd one out",
            DoubtKind::CounterfeitStrike => "counterfeit strike",
            DoubtKind::Identity => "identity",
            DoubtKind::UnprovedInstrument => "unproved instrument",
            DoubtKind::LegalHold => "legal hold",
        }
    }

    /// Returns the kind with the given word.
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }
}

/// A second method, or a repeat of the first with other means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Method {
    /// Weigh again, on a better scale.
    Reweigh,
    /// Measure again, with a better calliper or micrometer.
    Remeasure,
    /// A conductivity reading with another probe, frequency or on more spots.
    Conductivity,
    /// A strong magnet.
    Magnet,
    /// Ring test: the lowest mode of the free disc.
    Ring,
    /// Ultrasound: time of flight against calliper thickness.
    Ultrasound,
    /// Immersion weighing.
    Immersion,
    /// X-ray fluorescence: the surface only.
    XRay,
    /// Fire assay or ICP by an accredited laboratory; destroys a part.
    Assay,
    /// Examination by an expert.
    Expert,
    /// A correction of the record with a reason, the supplier's word recorded.
    Correction,
}

impl Method {
    /// All methods, cheapest first.
    pub const ALL: [Method; 11] = [
        Method::Reweigh,
        Method::Remeasure,
        Method::Magnet,
        Method::Conductivity,
        Method::Ring,
        Method::Ultrasound,
        Method::Immersion,
        Method::XRay,
        Method::Expert,
        Method::Correction,
        Method::Assay,
    ];

    /// Returns the word used in JSON and the book.
    pub fn word(self) -> &'static str {
        match self {
            Method::Reweigh => "reweigh",
            Method::Remeasure => "remeasure",
            Method::Conductivity => "conductivity",
            Method::Magnet => "magnet",
            Method::Ring => "ring",
            Method::Ultrasound => "ultrasound",
            Method::Immersion => "immersion",
            Method::XRay => "x_ray",
            Method::Assay => "assay",
            Method::Expert => "expert",
            Method::Correction => "correction",
        }
    }

    /// Returns the name people read.
    pub fn label(self) -> &'static str {
        match self {
            Method::Reweigh => "weigh again",
            Method::Remeasure => "measure again",
            Method::Conductivity => "conductivity",
            Method::Magnet => "magnet",
            Method::Ring => "ring",
            Method::Ultrasound => "ultrasound",
            Method::Immersion => "immersion",
            Method::XRay => "X-ray",
            Method::Assay => "assay",
            Method::Expert => "expert",
            Method::Correction => "correction",
        }
    }

    /// Returns the method with the given word.
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|method| method.word() == word)
    }
}

/// What a method can do about a doubt on this very piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Power {
    /// Its own numbers suffice to settle the doubt.
    Settles,
    /// It makes the doubt smaller and leaves a rest.
    Narrows,
    /// It cannot tell the candidates apart on this piece.
    Cannot,
}

/// A method with what it can do here, and the number why.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(from = "KeptOffer")]
pub struct Offer {
    /// The method.
    pub method: Method,
    /// What it can do.
    pub power: Power,
    /// Why, with the numbers.
    pub because: Because,
    /// What it takes, by the policy.
    pub cost: Option<Cost>,
}

/// An offer as it is kept; before causes were kept, its reason was kept in words.
#[derive(Deserialize)]
struct KeptOffer {
    method: Method,
    power: Power,
    because: Option<Because>,
    why: Option<String>,
    #[serde(default)]
    cost: Option<Cost>,
}

impl From<KeptOffer> for Offer {
    fn from(kept: KeptOffer) -> Self {
        let said = || Because::Said { text: kept.why.clone().unwrap_or_default() };
        let because = kept.because.clone().unwrap_or_else(said);
        Offer { method: kept.method, power: kept.power, because, cost: kept.cost }
    }
}

impl Offer {
    /// Makes an offer; its cost is filled in by the policy when it is ranked.
    pub fn new(method: Method, power: Power, because: Because) -> Self {
        Offer { method, power, because, cost: None }
    }

    /// Makes an offer by what is always so of the method.
    pub fn always(method: Method, power: Power, rule: Rule) -> Self {
        Offer::new(method, power, Because::Always { rule })
    }
}

/// What a method does to the piece. Worse is greater.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Damage {
    /// Nothing.
    None,
    /// It may spoil a proof surface or a package.
    Surface,
    /// It destroys a part of the piece.
    Destroys,
}

impl Damage {
    /// Returns the word used in the policy and in JSON.
    pub fn word(self) -> &'static str {
        match self {
            Damage::None => "none",
            Damage::Surface => "surface",
            Damage::Destroys => "destroys",
        }
    }

    /// Returns the damage with the given word.
    pub fn named(word: &str) -> Option<Self> {
        [Damage::None, Damage::Surface, Damage::Destroys].into_iter().find(|damage| damage.word() == word)
    }
}

/// What a method takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Cost {
    /// Minutes of a person at the desk.
    pub minutes: u32,
    /// What somebody outside asks for it.
    pub fee: Money,
    /// What it does to the piece.
    pub damage: Damage,
}

/// One named reason why a piece or lot may not be what it is declared to be.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(from = "KeptDoubt")]
pub struct Doubt {
    /// Its kind.
    pub kind: DoubtKind,
    /// Whether it concerns this piece or the whole lot.
    pub scope: Scope,
    /// Why it is open.
    pub cause: Cause,
    /// The materials it could be instead, most material first; empty for a doubt that names none.
    pub about: Vec<MaterialId>,
    /// Every method that was considered, best first.
    pub offers: Vec<Offer>,
}

/// A doubt as it is kept; before causes were kept, it was kept in words.
#[derive(Deserialize)]
struct KeptDoubt {
    kind: DoubtKind,
    scope: Scope,
    cause: Option<Cause>,
    text: Option<String>,
    #[serde(default)]
    about: Vec<MaterialId>,
    offers: Vec<Offer>,
}

impl From<KeptDoubt> for Doubt {
    fn from(kept: KeptDoubt) -> Self {
        let said = || Cause::Said { text: kept.text.clone().unwrap_or_default() };
        let cause = kept.cause.clone().unwrap_or_else(said);
        Doubt { kind: kept.kind, scope: kept.scope, cause, about: kept.about, offers: kept.offers }
    }
}

impl Doubt {
    /// Makes a doubt about no material in particular.
    pub fn new(kind: DoubtKind, scope: Scope, cause: Cause, offers: Vec<Offer>) -> Self {
        Doubt { kind, scope, cause, about: Vec::new(), offers }
    }

    /// Returns the methods whose own numbers suffice, best first.
    pub fn settled_by(&self) -> impl Iterator<Item = Method> {
        self.offers.iter().filter(|offer| offer.power == Power::Settles).map(|offer| offer.method)
    }
}
