//! Doubts that the pieces of a lot share for one reason, such as the reach of the probe: settled on a sample.

use super::sample::{Bound, SamplePlan};
use super::{LotPiece, PieceKey};
use crate::quantity::Money;
use crate::reference::MaterialId;
use crate::scoring::assessment::{Assessment, Outcome, Scope, Standing};
use crate::scoring::cause::Cause;
use crate::scoring::doubt::{Doubt, DoubtKind, Method, Offer};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// A doubt of a lot that a sample can settle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SharedDoubt {
    /// Its kind.
    pub kind: DoubtKind,
    /// Whether it also holds each piece by itself, or only the lot.
    pub scope: Scope,
    /// Why it is open, on a piece that has it.
    pub cause: Cause,
    /// The materials it is about; empty for a doubt that names none.
    pub about: Vec<MaterialId>,
    /// Every method that was considered, best first.
    pub offers: Vec<Offer>,
    /// Pieces for which it is open.
    pub open: Vec<PieceKey>,
    /// Pieces for which a second test settled it, and which are not bad.
    pub settled: Vec<PieceKey>,
    /// Bad pieces of the lot.
    pub bad: Vec<PieceKey>,
    /// What one bad piece could displace, where a price is known.
    pub worth_each: Option<Money>,
    /// Pieces that have to be tested by the plan.
    pub sample: u32,
    /// What the rest may still hold after the pieces tested so far.
    pub bound: Option<Bound>,
}

impl SharedDoubt {
    /// Tells whether the sample is complete and clean, or nothing is left to test.
    ///
    /// Whether the pieces tested were the ones drawn is for the desk to know.
    pub fn is_settled(&self) -> bool {
        let tested = u32::try_from(self.settled.len()).unwrap_or(u32::MAX);
        self.bad.is_empty() && tested >= self.sample
    }

    /// Returns the methods whose own numbers suffice, best first.
    pub fn settled_by(&self) -> impl Iterator<Item = Method> {
        self.offers
            .iter()
            .filter(|offer| offer.power == crate::scoring::doubt::Power::Settles)
            .map(|offer| offer.method)
    }
}

/// Tells whether a piece is bad: refused, found wrong by a second test, or with an echo from inside.
pub(super) fn is_bad(own: &Assessment) -> bool {
    own.standing == Standing::Refuse
        || own.second_tests.iter().any(|test| matches!(test.outcome, Outcome::Outside | Outcome::Marginal))
        || own.doubts.iter().any(|doubt| doubt.kind == DoubtKind::HiddenCore && doubt.about.is_empty())
}

/// Tells whether a second test of the piece can be used.
fn is_tested(own: &Assessment) -> bool {
    own.second_tests.iter().any(|test| test.is_usable())
}

/// Tells whether doubts of this kind can be settled on a sample: they come from what the readings cannot see, not from
/// what they saw.
fn is_shareable(doubt: &Doubt) -> bool {
    match doubt.kind {
        DoubtKind::HiddenCore | DoubtKind::WrongAlloy => !doubt.about.is_empty(),
        DoubtKind::CounterfeitStrike => true,
        _ => false,
    }
}

/// Returns the doubts that can be settled on a sample: those of the lot, and those that every piece has.
pub(super) fn shared_doubts(pieces: &[LotPiece<'_>], plan: &SamplePlan) -> Vec<SharedDoubt> {
    if pieces.len() < 2 {
        return Vec::new();
    }
    let untested: Vec<&LotPiece<'_>> = pieces.iter().filter(|(_, _, own)| !is_tested(own)).collect();
    let asked = if untested.is_empty() { pieces.iter().collect() } else { untested };
    let mut found: Vec<(DoubtKind, Scope, Vec<MaterialId>, Doubt)> = Vec::new();
    let (_, _, first) = asked[0];
    for doubt in first.doubts.iter().filter(|doubt| is_shareable(doubt)) {
        let everywhere =
            |material: Option<&MaterialId>| asked.iter().all(|(_, _, own)| has(own, doubt.kind, material));
        let about: Vec<MaterialId> =
            doubt.about.iter().filter(|material| everywhere(Some(material))).cloned().collect();
        if !about.is_empty() || (doubt.about.is_empty() && everywhere(None)) {
            found.push((doubt.kind, doubt.scope, about, doubt.clone()));
        }
    }
    // A doubt of the lot need not show on every piece.
    for (_, _, own) in &asked {
        for doubt in own.doubts.iter().filter(|doubt| doubt.scope == Scope::Lot && is_shareable(doubt)) {
            let known: BTreeSet<&MaterialId> = found
                .iter()
                .filter(|(kind, ..)| *kind == doubt.kind)
                .flat_map(|(_, _, about, _)| about)
                .collect();
            let about: Vec<MaterialId> =
                doubt.about.iter().filter(|material| !known.contains(material)).cloned().collect();
            if !about.is_empty() {
                found.push((doubt.kind, Scope::Lot, about, doubt.clone()));
            }
        }
    }
    found
        .into_iter()
        .map(|(kind, scope, about, doubt)| shared(pieces, plan, kind, scope, about, doubt))
        .collect()
}

/// Tells whether an assessment has a doubt of a kind about a material, or of the kind at all.
fn has(own: &Assessment, kind: DoubtKind, material: Option<&MaterialId>) -> bool {
    own.doubts
        .iter()
        .filter(|doubt| doubt.kind == kind)
        .any(|doubt| material.is_none_or(|material| doubt.about.contains(material)))
}

/// Counts who has a doubt, for whom it is settled, and what that leaves of the rest.
fn shared(
    pieces: &[LotPiece<'_>],
    plan: &SamplePlan,
    kind: DoubtKind,
    scope: Scope,
    about: Vec<MaterialId>,
    doubt: Doubt,
) -> SharedDoubt {
    let is_open = |own: &Assessment| {
        if about.is_empty() {
            has(own, kind, None)
        } else {
            about.iter().any(|material| has(own, kind, Some(material)))
        }
    };
    let keys = |wanted: &dyn Fn(&Assessment) -> bool| -> Vec<PieceKey> {
        pieces.iter().filter(|(_, _, own)| wanted(own)).map(|(key, ..)| *key).collect()
    };
    let bad = keys(&is_bad);
    let settled = keys(&|own| is_tested(own) && !is_bad(own) && !is_open(own));
    let open = keys(&|own| is_open(own));
    let worth_each = pieces
        .iter()
        .flat_map(|(_, _, own)| &own.candidates)
        .filter(|candidate| candidate.survives && about.contains(&candidate.material))
        .filter_map(|candidate| candidate.displaced)
        .max_by(|a, b| a.amount.cmp(&b.amount));
    let count = |keys: &[PieceKey]| u32::try_from(keys.len()).unwrap_or(u32::MAX);
    let bound = plan.bound_after(count(&settled) + count(&bad), count(&bad), worth_each).ok();
    SharedDoubt {
        kind,
        scope,
        cause: doubt.cause,
        about,
        offers: doubt.offers,
        open,
        settled,
        bad,
        worth_each,
        sample: plan.sample,
        bound,
    }
}
