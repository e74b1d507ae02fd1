//! What scoring says about one piece.

use super::cause::Remark;
use super::doubt::Doubt;
use super::exclusion::Exclusion;
use super::plan::Plan;
use super::second::SecondTestReport;
use super::type_book::TypeBookUse;
use crate::evidence::{Amount, Measurand};
use crate::quantity::{Length, Money};
use crate::reference::{Mark, MaterialId, Practice, ProductId};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// Version of the rules in this folder; stored with every assessment so that it can be recomputed to the last digit.
pub const ENGINE_VERSION: u32 = 6;

/// What the program proposes for a piece or a lot. People decide. Worse is greater.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Nothing that was measured speaks against it and no doubt of the piece is open.
    Clear,
    /// Set aside until a second test or a decision.
    Hold,
    /// Certainly outside what it is declared to be.
    Refuse,
}

impl Standing {
    /// Returns the word used everywhere.
    pub fn word(self) -> &'static str {
        match self {
            Standing::Clear => "clear",
            Standing::Hold => "hold",
            Standing::Refuse => "refuse",
        }
    }

    /// Returns the standing with the given word.
    pub fn named(word: &str) -> Option<Self> {
        [Standing::Clear, Standing::Hold, Standing::Refuse].into_iter().find(|s| s.word() == word)
    }
}

/// What one check against the specification came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// Inside the limits with at least the policy's conformance probability.
    Inside,
    /// Neither inside nor outside beyond doubt.
    Marginal,
    /// Outside the limits beyond doubt.
    Outside,
    /// The instrument cannot decide this window.
    NotCapable,
    /// The reading exists but cannot be used for this piece.
    NotUsable,
    /// There is no reading.
    Missing,
}

impl Outcome {
    /// Returns the name people read.
    pub fn label(self) -> &'static str {
        match self {
            Outcome::Inside => "inside",
            Outcome::Marginal => "marginal",
            Outcome::Outside => "outside",
            Outcome::NotCapable => "not capable",
            Outcome::NotUsable => "not usable",
            Outcome::Missing => "missing",
        }
    }

    /// Returns the word used in JSON and the book.
    pub fn word(self) -> &'static str {
        match self {
            Outcome::Inside => "inside",
            Outcome::Marginal => "marginal",
            Outcome::Outside => "outside",
            Outcome::NotCapable => "not_capable",
            Outcome::NotUsable => "not_usable",
            Outcome::Missing => "missing",
        }
    }
}

/// One line of an uncertainty budget.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BudgetLine {
    /// Where the contribution comes from.
    pub name: String,
    /// Standard uncertainty it contributes, in the unit of the reading.
    pub u: Amount,
    /// Source of the figure.
    pub source: String,
}

/// One check of a reading against a limit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Check {
    /// What was checked.
    pub measurand: Measurand,
    /// The value that was compared (conductivity: the mean of the spots at 20 °C).
    pub value: Option<Amount>,
    /// Its standard uncertainty, k = 1.
    pub u: Option<Amount>,
    /// Lower limit.
    pub lower: Option<Amount>,
    /// Upper limit.
    pub upper: Option<Amount>,
    /// How well the limits are founded.
    pub mark: Mark,
    /// Where the limits come from.
    pub limits_from: String,
    /// Conformance probability.
    pub probability: Option<f64>,
    /// Its complement, from the tails, so that it keeps its digits.
    pub shortfall: Option<f64>,
    /// Share of the tolerance used: 0 in the middle, 1 on the limit.
    pub tolerance_used: Option<f64>,
    /// What it came to.
    pub outcome: Outcome,
    /// Why, in words.
    pub reason: String,
    /// The uncertainty, line by line.
    pub budget: Vec<BudgetLine>,
    /// Whether what it may fall short is worth less than a share of the piece: then it is a remark and holds nothing.
    #[serde(default)]
    pub negligible: bool,
}

/// How a candidate is built.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Construction {
    /// One material throughout.
    Solid,
    /// A core under a skin of the declared alloy.
    Core,
    /// Rods or plugs let in beside the measuring points.
    Insert,
}

/// Whom a surviving candidate concerns.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Scope {
    /// The piece itself.
    Piece,
    /// Every piece of the lot alike; settled on a sample.
    Lot,
}

/// Something that the piece could be instead of what it is declared to be.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Candidate {
    /// The material.
    pub material: MaterialId,
    /// Its name in words.
    pub name: Arc<str>,
    /// How it is built.
    pub construction: Construction,
    /// Whether the readings so far leave it possible.
    pub survives: bool,
    /// Skin thicknesses that survive; empty for a solid.
    pub skins: Vec<(Length, Length)>,
    /// Largest share of the volume that could be this material.
    pub hidden_share: Option<f64>,
    /// Largest value it could displace in this piece at the price given.
    pub displaced: Option<Money>,
    /// Whom the doubt concerns when the candidate is material, `None` when it is a remark only.
    pub material_doubt: Option<Scope>,
    /// Whether such pieces are met; `None` in assessments of before there was a watch list.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub practice: Option<Practice>,
    /// What excluded it.
    pub excluded_by: Option<Exclusion>,
    /// The conductivity model does not hold for this candidate, so conductivity did not exclude it.
    pub outside_model: bool,
}

/// What scoring says about one piece.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Assessment {
    /// The product that the piece is declared to be.
    pub product: ProductId,
    /// What the program proposes.
    pub standing: Standing,
    /// Score from 0 to 1: max(0, 1 − Σ(1 − p)) over the checks of the specification.
    pub score: f64,
    /// Number of checks that the score rests on.
    pub score_rests_on: usize,
    /// The checks in the order in which a desk takes them.
    pub checks: Vec<Check>,
    /// What it could still be: survivors first, most displaced value first; then what was excluded.
    pub candidates: Vec<Candidate>,
    /// Open doubts, those of the piece first.
    pub doubts: Vec<Doubt>,
    /// What would settle what is open; `None` when nothing the desk watches for is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plan: Option<Plan>,
    /// What the second tests came to, in the order they were made.
    #[serde(default)]
    pub second_tests: Vec<SecondTestReport>,
    /// Remarks and cautions that hold nothing.
    pub remarks: Vec<Remark>,
    /// Skin depth in the declared alloy at the probe's frequency.
    pub skin_depth: Option<Length>,
    /// Depth that the conductivity reading vouches for.
    pub proved_depth: Option<Length>,
    /// Version of the scoring rules.
    pub engine: u32,
    /// Version of the reference catalogue.
    pub reference: String,
    /// Version of the policy.
    pub policy: String,
    /// Which learned figures were used; `None` where none were learned.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub type_book: Option<TypeBookUse>,
}

impl Assessment {
    /// Returns the score as printed: 0.0 to 100.0, truncated to one decimal, so that 100.0 means exactly 1.
    pub fn score_shown(&self) -> String {
        let tenths = (self.score.clamp(0.0, 1.0) * 1000.0).floor() as u32;
        format!("{}.{}", tenths / 10, tenths % 10)
    }

    /// Tells whether nothing speaks against the piece itself and a doubt that it shares with its lot is open.
    pub fn waits_with_its_lot(&self) -> bool {
        self.standing == Standing::Clear && self.doubts.iter().any(|doubt| doubt.scope == Scope::Lot)
    }

    /// Returns the candidates that the desk watches for and that are left, and those that are left and not watched for.
    pub fn watched_and_not(&self) -> (Vec<&Candidate>, Vec<&Candidate>) {
        self.survivors().partition(|candidate| candidate.material_doubt.is_some())
    }

    /// Returns the candidates that the readings leave possible.
    pub fn survivors(&self) -> impl Iterator<Item = &Candidate> {
        self.candidates.iter().filter(|candidate| candidate.survives)
    }
}
