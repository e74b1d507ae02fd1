//! A verdict in six lines, for every face: the one reason that matters most, the plan with what to expect, what it rests on, and what
//! is not excluded and not watched for.

use super::causes::{cause_text, expected_text, step_label};
use super::text::list_of;
use super::words::{count, plain_name};
use crate::quantity::Quantity;
use crate::scoring::{Assessment, Cause, Doubt, Plan, PlanStep, Remainder, Scope, Standing};

/// Names of a list before the rest is counted.
const NAMES: usize = 3;

/// What is said under one label.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// The label.
    pub label: &'static str,
    /// The words.
    pub text: String,
}

/// Returns the standing in words: a clear piece whose lot has an open doubt waits with it.
pub fn standing_words(assessment: &Assessment, standing: Standing) -> String {
    if standing == Standing::Clear && assessment.waits_with_its_lot() {
        return "waits with its lot".to_owned();
    }
    standing.word().to_owned()
}

/// Returns the verdict below its first line: why, plan, what it rests on, what is not watched for.
pub fn lines(assessment: &Assessment, standing: Standing) -> Vec<Line> {
    let mut lines = Vec::new();
    let mut put = |label, text: String| lines.push(Line { label, text });
    put("why", why(assessment, standing));
    if let Some(plan) = assessment.plan.as_ref().filter(|_| standing != Standing::Refuse) {
        put("plan", plan_text(plan));
    }
    put("rests on", rests_on(assessment));
    if let Some(text) = not_watched(assessment) {
        put("not watched", text);
    }
    lines
}

/// Returns the one reason that matters most.
fn why(assessment: &Assessment, standing: Standing) -> String {
    let Some(first) = first_doubt(assessment) else {
        return match standing {
            Standing::Clear => "nothing that the desk watches for is left open".to_owned(),
            _ => "see what is on record about it".to_owned(),
        };
    };
    let more = match assessment.doubts.len() {
        0 | 1 => String::new(),
        many => format!(" (and {} more)", count(many - 1, "reason", "reasons")),
    };
    format!("{}: {}{more}", first.kind.label(), cause_text(&first.cause))
}

/// Returns the doubt that is told first: what was read before what could be, the piece's own before the lot's.
pub fn first_doubt(assessment: &Assessment) -> Option<&Doubt> {
    let place = |doubt: &&Doubt| match (&doubt.cause, doubt.scope) {
        (Cause::OddInLot { .. } | Cause::OddForType { .. }, _) => 0,
        (Cause::Possible { .. }, Scope::Piece) => 2,
        (Cause::Possible { .. }, Scope::Lot) => 3,
        _ => 1,
    };
    assessment.doubts.iter().min_by_key(place)
}

/// Returns a plan in words.
pub fn plan_text(plan: &Plan) -> String {
    let steps: Vec<String> = plan.steps.iter().map(step_text).collect();
    let rest = || list_of(plan.remainder.iter().map(remainder_text), plan.remainder.len(), NAMES);
    let money = plan.at_risk.map_or_else(String::new, |money| {
        format!(", at most {}", crate::quantity::Money { amount: money.amount.round(), ..money })
    });
    match (steps.is_empty(), plan.settles()) {
        (false, true) => steps.join("; then "),
        (false, false) => format!(
            "{}; then {} stays open{money}: no method here tells it, a reviewer may accept it with a reason",
            steps.join("; then "),
            rest()
        ),
        (true, _) => format!(
            "no method here tells {}{money}, unharmed; a reviewer may accept it with a reason, a laboratory settles it",
            rest()
        ),
    }
}

/// Returns a step with what it takes and what to expect.
pub fn step_text(step: &PlanStep) -> String {
    let with = match (&step.probe, step.frequency) {
        (Some(probe), _) => format!(" with probe {probe}"),
        (None, Some(frequency)) => format!(" at {:.1} kHz or lower", frequency.as_hertz() / 1000.0),
        (None, None) => String::new(),
    };
    let label = format!("{}{with} ({} min)", step_label(step.method, step.swept), step.cost.minutes);
    match expected_text(step.good, step.other.as_ref()) {
        text if text.is_empty() => label,
        text => format!("{label}: {text}"),
    }
}

fn remainder_text(left: &Remainder) -> String {
    use crate::scoring::Construction;
    let name = plain_name(&left.name);
    match left.construction {
        Construction::Solid => name,
        Construction::Core => format!("a core of {name}"),
        Construction::Insert => format!("rods of {name}"),
    }
}

/// Says what the verdict rests on.
fn rests_on(assessment: &Assessment) -> String {
    let taken: Vec<&str> = assessment
        .checks
        .iter()
        .filter(|check| check.value.is_some())
        .map(|check| check.measurand.name())
        .chain(assessment.second_tests.iter().filter(|test| test.is_usable()).map(|test| test.method.label()))
        .collect();
    let depth = assessment
        .proved_depth
        .map_or_else(String::new, |depth| format!("; conductivity sees the outer {}", depth.show(2)));
    if taken.is_empty() {
        return "nothing was measured".to_owned();
    }
    format!("{}{depth}", taken.join(", "))
}

/// Says in one line what else the readings do not exclude.
fn not_watched(assessment: &Assessment) -> Option<String> {
    let (_, others) = assessment.watched_and_not();
    let mut names: Vec<String> = Vec::new();
    for candidate in others {
        let name = plain_name(&candidate.name);
        if !names.contains(&name) {
            names.push(name);
        }
    }
    (!names.is_empty()).then(|| format!("also not excluded: {}", count(names.len(), "material", "materials")))
}
