//! Why a doubt is raised: its rule with the numbers, what it is about, and which methods would settle it with their numbers.

use super::super::assess::fill_doubt;
use super::super::assessment::{Check, Scope};
use super::super::conductivity::Verdict;
use super::super::doubt::{Doubt, DoubtKind, Power};
use super::super::doubts::{self as rules, PLATE_UP_TO_MM};
use super::{Case, Explanation, Known, Source, Step, Thing, figure};
use crate::evidence::MagnetResponse;
use crate::reference::Mark;

/// Explains every doubt that the assessment raises.
pub(super) fn all(case: &Case<'_>) -> Vec<Explanation> {
    case.assessment.doubts.iter().enumerate().map(|(place, doubt)| one(case, place, doubt)).collect()
}

fn one(case: &Case<'_>, place: usize, doubt: &Doubt) -> Explanation {
    let whose = if doubt.scope == Scope::Lot { ", whole lot" } else { "" };
    let mut made = Explanation {
        thing: Thing::Doubt(place),
        title: format!("{}{whose}", doubt.kind.label()),
        steps: Vec::new(),
        result: doubt.text.clone(),
        sources: Vec::new(),
        changes: offers(doubt),
    };
    rule(case, doubt, &mut made);
    made
}

/// Returns what each method can do about a doubt, with its numbers.
pub fn offers(doubt: &Doubt) -> Vec<String> {
    let words = |power: Power| match power {
        Power::Settles => "would settle it",
        Power::Narrows => "would narrow it",
        Power::Cannot => "cannot tell",
    };
    let one = |offer: &super::super::doubt::Offer| {
        let why = if offer.why.is_empty() { String::new() } else { format!(": {}", offer.why) };
        format!("{} {}{why}", offer.method.label(), words(offer.power))
    };
    doubt.offers.iter().map(one).collect()
}

/// Adds the rule that raised a doubt, with its numbers: it is the rule that, asked again, raises this very doubt.
fn rule(case: &Case<'_>, doubt: &Doubt, made: &mut Explanation) {
    let same = |other: Option<Doubt>| other.is_some_and(|other| other.text == doubt.text);
    if !doubt.about.is_empty() {
        return of_candidates(case, doubt, made);
    }
    if let Some(check) = case.assessment.checks.iter().find(|check| same(rules::of_check(check))) {
        return of_check(case, check, made);
    }
    let unproved = rules::unproved(&case.given.unproved);
    if unproved.iter().any(|other| other.text == doubt.text) {
        made.steps.push(Step::said(
            "a reading counts for nothing while no control of its instrument passed before it, a control failed after it, or \
             its calibration was over: it neither clears nor refuses, it holds",
        ));
        made.sources
            .push(Source::new("register of instruments, and the controls in the book", Known::Instrument));
        return;
    }
    let policy = case.rules.policy;
    if same(fill_doubt(case.declared.product, &case.grounds.geometry, policy)) {
        let flat = case.grounds.geometry.flat_equivalent;
        let thickness = case.grounds.geometry.thickness;
        if let (Some(flat), Some(thickness)) = (flat, thickness) {
            made.steps.push(Step::new(
                "thickness of flat metal of this mass over the thickness measured over the rim",
                format!(
                    "fill = t_flat / h; struck coins have {} to {}",
                    policy.fill_least, policy.fill_greatest
                ),
                format!(
                    "{} / {} = {}",
                    figure(flat.value),
                    figure(thickness.value),
                    figure(flat.value / thickness.value)
                ),
            ));
        }
        made.sources.push(case.policy("what struck coins fill"));
        return;
    }
    if let Verdict::Usable(usable) = &case.grounds.reading
        && let Some((spread, limit)) = usable.uneven
        && same(Some(rules::uneven(spread, limit)))
    {
        made.steps.push(Step::new(
            "the largest difference between spots, against what the meter's own scatter gives in 99 of 100 even pieces",
            "largest − smallest > repeatability × upper 1 % point of the range of so many readings",
            format!("{} MS/m > {} MS/m", figure(spread), figure(limit)),
        ));
        made.sources.push(Source::new("spots as read", Known::Measured));
        made.sources.push(Source::new(
            "points of the range: Harter, Annals of Mathematical Statistics 31 (1960)",
            Known::Reference(Mark::Memory),
        ));
        return;
    }
    if case.grounds.evidence.presentation.magnet == Some(MagnetResponse::Attracted)
        && same(Some(rules::attracted()))
    {
        made.steps.push(Step::said(
            "a magnet attracted the piece; precious metals and their trade alloys are not attracted",
        ));
        made.sources.push(Source::new("magnet: attracted", Known::Measured));
        return;
    }
    by_kind(case, doubt, made);
}

/// Explains the doubt of a check that is not inside.
fn of_check(case: &Case<'_>, check: &Check, made: &mut Explanation) {
    let policy = case.rules.policy;
    made.steps.push(Step::new(
        format!("the check of the {} is not inside: every such check holds the piece", check.measurand),
        format!("inside from p = {}, outside up to p = {}", policy.inside, policy.outside),
        check.probability.map_or_else(|| check.reason.clone(), |p| format!("p = {p:.4}: {}", check.reason)),
    ));
    made.sources.push(Source::new(
        format!(
            "see `{}` and `{}`",
            Thing::Conformance(check.measurand).word(),
            Thing::Limits(check.measurand).word()
        ),
        Known::Measured,
    ));
    made.sources.push(case.policy("probabilities of inside and outside"));
}

/// Explains the doubt that surviving candidates raise.
fn of_candidates(case: &Case<'_>, doubt: &Doubt, made: &mut Explanation) {
    let policy = case.rules.policy;
    let among = |candidate: &&super::super::assessment::Candidate| {
        candidate.survives
            && candidate.material_doubt == Some(doubt.scope)
            && doubt.about.contains(&candidate.material)
            && (candidate.skins.is_empty() == (doubt.kind == DoubtKind::WrongAlloy))
    };
    let candidates: Vec<_> = case.assessment.candidates.iter().filter(among).collect();
    made.steps.push(Step::new(
        match doubt.scope {
            Scope::Piece => "what the readings do not exclude is a doubt of the piece when what it would displace is worth enough",
            Scope::Lot => "what the readings do not exclude is a doubt of the lot when it is worth enough over all its pieces",
        },
        match doubt.scope {
            Scope::Piece => format!("value > {}", policy.displaced_piece),
            Scope::Lot => format!("value × pieces > {}", policy.displaced_lot),
        },
        match (candidates.iter().filter_map(|c| c.displaced).max_by(|a, b| a.amount.cmp(&b.amount)), doubt.scope) {
            (Some(most), Scope::Piece) => format!("{most} > {}", policy.displaced_piece),
            (Some(most), Scope::Lot) => format!(
                "{most} × {} > {}",
                case.trial.lot_size,
                policy.displaced_lot
            ),
            (None, _) => "without a price every such candidate counts".to_owned(),
        },
    ));
    made.steps.push(Step::said(format!(
        "{} of {} candidates are in it: those that the same methods would settle",
        candidates.len(),
        case.assessment.survivors().count()
    )));
    for candidate in candidates.iter().take(LISTED) {
        let thing = Thing::Candidate(candidate.material.clone(), candidate.construction);
        let money = candidate.displaced.map_or_else(String::new, |money| format!(", {money}"));
        let share = candidate.hidden_share.unwrap_or(1.0);
        made.sources.push(Source::new(
            format!(
                "{}, {:.0} % of the volume{money}: see `{}`",
                candidate.name,
                100.0 * share,
                thing.word()
            ),
            Known::Reference(Mark::Calculated),
        ));
    }
    made.sources.push(case.policy("limits of the value at risk"));
}

/// Candidates of a doubt that are named one by one.
const LISTED: usize = 8;

/// Explains a doubt by its kind where no number of the readings raised it.
fn by_kind(case: &Case<'_>, doubt: &Doubt, made: &mut Explanation) {
    let policy = case.rules.policy;
    let (words, source) = match doubt.kind {
        DoubtKind::ThinPlate => (
            format!(
                "conductivity lies outside its window, and a core under at most {PLATE_UP_TO_MM} mm of the declared alloy would \
                 read like this"
            ),
            Source::new("see the candidates named", Known::Reference(Mark::Calculated)),
        ),
        DoubtKind::CounterfeitStrike => (
            "the policy asks for an expert where the product sells above its metal, or where its source is not one of those it \
             trusts"
                .to_owned(),
            Source::new(format!("premium products and trusted sources: policy {}", policy.version()), Known::Policy),
        ),
        DoubtKind::OddOneOut => (
            "the piece differs from what its lot, or the released pieces of its product, lead to expect by more than chance does"
                .to_owned(),
            Source::new(format!("significance of an odd piece: policy {}", policy.version()), Known::Policy),
        ),
        _ => (
            "a second test, or the record, raised it: the words say which".to_owned(),
            Source::new("second tests of the piece", Known::Measured),
        ),
    };
    made.steps.push(Step::said(words));
    made.sources.push(source);
}
