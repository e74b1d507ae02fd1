//! Why a doubt is raised: its rule with the numbers, and what it is about. Its words and those of its methods are made from its
//! cause where it is shown.

use super::super::assessment::{Candidate, Check, Construction, Scope};
use super::super::cause::Cause;
use super::super::doubt::{Doubt, DoubtKind};
use super::{Case, Explanation, Known, Source, Step, Thing, figure};
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
        result: String::new(),
        cause: Some((doubt.cause.clone(), doubt.offers.clone())),
        sources: Vec::new(),
        changes: Vec::new(),
    };
    rule(case, doubt, &doubt.cause, &mut made);
    made
}

/// Adds the rule that raised a doubt, with its numbers.
fn rule(case: &Case<'_>, doubt: &Doubt, cause: &Cause, made: &mut Explanation) {
    let policy = case.rules.policy;
    match cause {
        Cause::Check { measurand, .. } => {
            if let Some(check) = case.assessment.checks.iter().find(|check| check.measurand == *measurand) {
                of_check(case, check, made);
            }
        }
        Cause::Possible { construction, unlisted, .. } => {
            of_openings(case, doubt, *construction, *unlisted, made);
        }
        Cause::Unproved { .. } => {
            made.steps.push(Step::said(
                "a reading counts for nothing while no control of its instrument passed before it, a control failed after it, \
                 or its calibration was over: it neither clears nor refuses, it holds",
            ));
            let register = "register of instruments, and the controls in the book";
            made.sources.push(Source::new(register, Known::Instrument));
        }
        Cause::Fill { fill, least, greatest } => {
            made.steps.push(Step::new(
                "thickness of flat metal of this mass over the thickness measured over the rim",
                format!("fill = t_flat / h; struck coins have {least} to {greatest}"),
                figure(*fill),
            ));
            made.sources.push(case.policy("what struck coins fill"));
        }
        Cause::Uneven { spread, limit } => {
            made.steps.push(Step::new(
                "the largest difference between spots, against what the meter's own scatter gives in 99 of 100 even pieces",
                "largest − smallest > repeatability × upper 1 % point of the range of so many readings",
                format!("{} MS/m > {} MS/m", figure(spread.as_ms_per_m()), figure(limit.as_ms_per_m())),
            ));
            made.sources.push(Source::new("spots as read", Known::Measured));
            made.sources.push(Source::new(
                "points of the range: Harter, Annals of Mathematical Statistics 31 (1960)",
                Known::Reference(Mark::Memory),
            ));
        }
        Cause::Attracted => {
            made.steps.push(Step::said(
                "a magnet attracted the piece; precious metals and their trade alloys are not attracted",
            ));
            made.sources.push(Source::new("magnet: attracted", Known::Measured));
        }
        Cause::ThinPlate { .. } => {
            made.steps.push(Step::said(
                "conductivity lies outside its window, and a core under a thin skin of the declared alloy would read like this",
            ));
            made.sources.push(Source::new("see the candidates named", Known::Reference(Mark::Calculated)));
        }
        Cause::Strike { .. } => {
            made.steps.push(Step::said(
                "the policy asks for an expert where the product sells above its metal, or where its source is not one of \
                 those it trusts",
            ));
            let version = policy.version();
            let lists = format!("premium products and trusted sources: policy {version}");
            made.sources.push(Source::new(lists, Known::Policy));
        }
        Cause::OddInLot { .. } | Cause::OddForType { .. } => {
            made.steps.push(Step::said(
                "the piece differs from what its lot, or the released pieces of its product, lead to expect by more than \
                 chance does",
            ));
            let significance = format!("significance of an odd piece: policy {}", policy.version());
            made.sources.push(Source::new(significance, Known::Policy));
        }
        _ => {
            made.steps.push(Step::said("a second test, or the record, raised it: the words say which"));
            made.sources.push(Source::new("second tests of the piece", Known::Measured));
        }
    }
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

/// Explains the doubt that open cells raise.
fn of_openings(
    case: &Case<'_>,
    doubt: &Doubt,
    construction: Construction,
    unlisted: bool,
    made: &mut Explanation,
) {
    let policy = case.rules.policy;
    let solid = construction == Construction::Solid;
    let among = |candidate: &&Candidate| {
        candidate.survives
            && candidate.material_doubt.is_some()
            && (candidate.construction == Construction::Solid) == solid
    };
    let candidates: Vec<_> = case.assessment.candidates.iter().filter(among).collect();
    let share = if solid { policy.watch.solid_share } else { policy.watch.core_share };
    made.steps.push(Step::new(
        "what the readings do not exclude is a doubt when such pieces are met, or could be made, and when it pays",
        format!(
            "value displaced − what the substitute is worth − what it costs to make ≥ {:.0} % of the metal's value, or ≥ {}; \
             never below {}",
            100.0 * share,
            policy.watch.stake,
            policy.watch.least
        ),
        match candidates.iter().filter_map(|c| c.displaced).max_by(|a, b| a.amount.cmp(&b.amount)) {
            Some(most) => format!("up to {most} displaced"),
            None => "without a price the shares alone decide".to_owned(),
        },
    ));
    made.steps.push(Step::said(match doubt.scope {
        Scope::Piece => "a good piece hardly ever leaves this open: the readings of this piece lie to one side",
        Scope::Lot => "every good piece leaves this open with this probe, so it belongs to the lot and a sample settles it",
    }));
    if unlisted {
        made.steps.push(Step::said(format!(
            "its metal is worth more than {} {}, so density and sound are both asked: mixtures stand in no list",
            policy.watch.two_quantities, policy.currency
        )));
    }
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
    made.sources.push(case.policy("what is watched for, and from which gain it pays"));
    if case.declared.price.is_none() {
        made.sources.push(Source::new("no price of the metal was known", Known::Book));
    }
    debug_assert!(matches!(doubt.kind, DoubtKind::WrongAlloy | DoubtKind::HiddenCore));
}

/// Candidates of a doubt that are named one by one.
const LISTED: usize = 8;
