//! A lot as a whole: odd pieces, where the lot lies, doubts that its pieces share, and what a sample can say about the rest.
//!
//! What it is for: rules over the pieces of one line of a shipment. What it must never do: take a doubt away from a piece;
//! a clean lot never raises a piece. Read next: [`assess_lot`], then [`LotAssessment`].

mod quantity;
mod sample;
pub(super) mod screen;
mod shared;
pub(super) mod values;

pub use quantity::{LotQuantity, LotValue};
pub use sample::{Bound, Sample, SamplePlan, SourcePast, SourceRecord};
pub use screen::{LotGap, LotScreen, OddOne};
pub use shared::SharedDoubt;

use super::assess::Rules;
use super::assessment::{Assessment, Standing};
use super::doubt::{Doubt, DoubtKind};
use super::doubts::rank;
use crate::evidence::PieceEvidence;
use crate::reference::{Product, ProductId};
use serde::{Deserialize, Serialize};

/// The number of a piece within its lot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct PieceKey(pub u32);

/// What a lot is declared to be.
#[derive(Debug, Clone, Copy)]
pub struct LotDeclared<'a> {
    /// The product; it is of the catalogue in the rules.
    pub product: &'a Product,
    /// Pieces on the packing list.
    pub quantity: u32,
    /// What the past of its source says.
    pub record: SourceRecord,
}

/// One piece of a lot: its number, what was measured on it, what scoring said.
pub type LotPiece<'a> = (PieceKey, &'a PieceEvidence, &'a Assessment);

/// What scoring says about a lot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LotAssessment {
    /// The product that the lot is declared to be.
    pub product: ProductId,
    /// Pieces on the packing list.
    pub declared: u32,
    /// Pieces that were assessed.
    pub assessed: u32,
    /// What the program proposes for the lot: the worst of its own doubts and of what stays untested.
    pub standing: Standing,
    /// One screen for each quantity that was read on the pieces.
    pub screens: Vec<LotScreen>,
    /// The odd pieces with the doubt that each gets, in the order of the pieces.
    pub odd: Vec<(PieceKey, Doubt)>,
    /// Doubts of the lot itself: where it lies, two populations.
    pub doubts: Vec<Doubt>,
    /// Doubts that the pieces share, to be settled on a sample.
    pub shared: Vec<SharedDoubt>,
    /// Pieces whose own spots differ more than the meter repeats.
    pub uneven: Vec<PieceKey>,
    /// Pieces that are bad: refused, or found wrong by a second test.
    pub bad: Vec<PieceKey>,
    /// Whether every piece has to be tested, because one is bad.
    pub test_all: bool,
    /// The sample that the policy asks for; `None` when nothing is shared.
    pub plan: Option<SamplePlan>,
    /// Remarks that hold nothing.
    pub remarks: Vec<String>,
}

impl LotAssessment {
    /// Returns the standing of a piece in its lot: its own, or worse.
    pub fn piece_standing(&self, key: PieceKey, own: &Assessment) -> Standing {
        if self.doubts_of(key).next().is_some() { own.standing.max(Standing::Hold) } else { own.standing }
    }

    /// Returns the doubts that the lot adds to a piece.
    pub fn doubts_of(&self, key: PieceKey) -> impl Iterator<Item = &Doubt> {
        self.odd.iter().filter(move |(odd, _)| *odd == key).map(|(_, doubt)| doubt)
    }
}

/// Assesses a lot from its pieces.
///
/// Pure. `pieces`: any order, each number once; pieces without an assessment are left out and keep the lot on hold.
///
/// # Source
/// B. Rosner, Technometrics 25 (1983), 165–172 (odd pieces); hypergeometric distribution (samples).
pub fn assess_lot(rules: &Rules<'_>, lot: &LotDeclared<'_>, pieces: &[LotPiece<'_>]) -> LotAssessment {
    let mut pieces = pieces.to_vec();
    pieces.sort_by_key(|(key, ..)| *key);
    let assessed = u32::try_from(pieces.len()).unwrap_or(u32::MAX);
    let mut remarks = Vec::new();

    let screened = screen::screens(rules, lot.product, &pieces, &mut remarks);
    let mut odd: Vec<(PieceKey, Doubt)> = Vec::new();
    for (key, _, assessment) in &pieces {
        let found: Vec<(&LotScreen, &OddOne)> = screened
            .iter()
            .flat_map(|screen| screen.odd.iter().map(move |odd| (screen, odd)))
            .filter(|(_, odd)| odd.key == *key)
            .collect();
        if !found.is_empty() {
            odd.push((*key, screen::odd_one_out(&found, assessment)));
        }
    }
    let mut doubts: Vec<Doubt> = screened
        .iter()
        .flat_map(|screen| [screen::location(screen), screen::two_populations(screen)])
        .flatten()
        .collect();

    let bad: Vec<PieceKey> =
        pieces.iter().filter(|(_, _, own)| shared::is_bad(own)).map(|(key, ..)| *key).collect();
    let test_all = !bad.is_empty();
    let plan =
        SamplePlan::of(rules.policy, lot.quantity, lot.record, pieces.iter().map(|(key, ..)| *key).collect());
    let mut shared = shared::shared_doubts(&pieces, &plan);
    for doubt in odd.iter_mut().map(|(_, doubt)| doubt).chain(&mut doubts) {
        rank(&mut doubt.offers, rules.policy);
    }
    for doubt in &mut shared {
        rank(&mut doubt.offers, rules.policy);
    }

    let missing = lot.quantity.saturating_sub(assessed);
    if missing > 0 {
        remarks.push(format!("{missing} of {} pieces have no assessment yet", lot.quantity));
    }
    if assessed > lot.quantity {
        remarks.push(format!("{assessed} pieces, {} on the packing list", lot.quantity));
    }
    let own = |doubt: &Doubt| doubt.kind == DoubtKind::Uneven;
    let uneven = pieces
        .iter()
        .filter(|(_, _, assessment)| assessment.doubts.iter().any(own))
        .map(|(key, ..)| *key)
        .collect();
    let all_refused = !pieces.is_empty() && pieces.iter().all(|(_, _, own)| own.standing == Standing::Refuse);
    let open = !doubts.is_empty()
        || test_all
        || missing > 0
        || pieces.is_empty()
        || shared.iter().any(|doubt| !doubt.is_settled());
    let standing = if all_refused {
        Standing::Refuse
    } else if open {
        Standing::Hold
    } else {
        Standing::Clear
    };
    LotAssessment {
        product: lot.product.id.clone(),
        declared: lot.quantity,
        assessed,
        standing,
        screens: screened,
        odd,
        doubts,
        plan: (!shared.is_empty()).then_some(plan),
        shared,
        uneven,
        bad,
        test_all,
        remarks,
    }
}
