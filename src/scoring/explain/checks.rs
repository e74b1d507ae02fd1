//! The numbers of a check: uncertainty, conformance probability, tolerance used; and the score made of them.

use super::super::assessment::{Assessment, Check, Outcome};
use super::limits::decimals_beside;
use super::{Case, Explanation, Known, Source, Step, Thing, figure};
use crate::evidence::Amount;
use crate::metrology::normal::cumulative;
use crate::physics::skin::PROVED_DEPTH_IN_SKIN_DEPTHS;
use crate::reference::Mark;

/// Where the formulas of conformance stand.
const JCGM_106: &str =
    "formula: JCGM 106:2012, 7.4 (conformance probability of a normally distributed value)";
/// Where the combination of uncertainties stands.
const JCGM_100: &str = "formula: JCGM 100:2008, 5.1.2 (combined standard uncertainty)";

/// Explains the uncertainty of a check's value; `None` where nothing was read.
pub(super) fn uncertainty(check: &Check) -> Option<Explanation> {
    let u = check.u?;
    let measurand = check.measurand;
    let decimals = decimals_beside(u.value()) + 1;
    let squares = check.budget.iter().map(|line| format!("{}²", line.u.digits(decimals)));
    let squares: Vec<String> = squares.collect();
    let expanded = Amount { base: u.base.saturating_mul(2), ..u };
    let mut sources: Vec<Source> = check
        .budget
        .iter()
        .map(|line| {
            Source::new(
                format!("{}, {}: {}", line.name, line.u.show(decimals), line.source),
                Known::Instrument,
            )
        })
        .collect();
    sources.push(Source::new(JCGM_100, Known::Reference(Mark::Memory)));
    Some(Explanation {
        thing: Thing::Uncertainty(measurand),
        title: format!("how far the {measurand} may be off"),
        steps: vec![
            Step::new(
                "standard uncertainty (k = 1): the root of the sum of the squares of the lines of the budget",
                "u = √(u₁² + u₂² + …)",
                format!("√({}) = {}", squares.join(" + "), u.show(decimals)),
            ),
            Step::new(
                "expanded uncertainty (k = 2), as it stands behind ±: about 95 of 100 readings lie within it",
                "U = 2 u",
                format!("2 × {} = {}", u.show(decimals), expanded.show(decimals)),
            ),
        ],
        cause: None,
        result: format!("u = {}, U = {}", u.show(decimals), expanded.show(decimals)),
        sources,
        changes: vec![
            largest(check).map_or_else(String::new, |line| {
                format!("the largest line is `{line}`: a certificate, a finer digit or the mean of more readings makes it smaller")
            }),
            "the budget page lists each line with its share (Ctrl-A, `scruple budget`)".to_owned(),
        ],
    })
}

/// Returns the name of the largest line of a budget.
fn largest(check: &Check) -> Option<&str> {
    let line = check.budget.iter().max_by(|a, b| a.u.base.cmp(&b.u.base))?;
    Some(&line.name)
}

/// Explains the conformance probability of a check; `None` where nothing was compared.
pub(super) fn conformance(case: &Case<'_>, check: &Check) -> Option<Explanation> {
    let measurand = check.measurand;
    let policy = case.rules.policy;
    let thing = Thing::Conformance(measurand);
    let title = format!("how likely the {measurand} lies inside its limits");
    let (Some(value), Some(u), Some(probability)) = (check.value, check.u, check.probability) else {
        return Some(Explanation {
            thing,
            title,
            steps: vec![Step::said(format!("no value was compared: {}", check.reason))],
            cause: None,
            result: format!("{}; it counts as 0 in the score", check.outcome.label()),
            sources: Vec::new(),
            changes: vec!["taking the reading".to_owned()],
        });
    };
    let decimals = decimals_beside(u.value());
    let mut steps = Vec::new();
    let mut terms = Vec::new();
    for (limit, name) in [(check.upper, "U"), (check.lower, "L")] {
        let Some(limit) = limit else {
            terms.push(if name == "U" { 1.0 } else { 0.0 });
            continue;
        };
        let z = (limit.value() - value.value()) / u.value();
        terms.push(cumulative(z));
        steps.push(Step::new(
            format!("distance of the {} limit from the reading, in standard uncertainties", side(name)),
            format!("({name} − y) / u"),
            format!(
                "({} − {}) / {} = {}",
                limit.digits(decimals + 1),
                value.digits(decimals + 1),
                u.digits(decimals + 1),
                figure(z)
            ),
        ));
    }
    // A thickness that no plate can have is outside whatever its own probability says.
    let impossible = probability == 0.0 && check.outcome == Outcome::Outside && terms[0] - terms[1] > 0.0;
    if impossible {
        steps = vec![Step::said(check.reason.clone())];
    } else {
        steps.push(Step::new(
            "chance that the true value lies between the limits, its error taken as normally distributed",
            match (check.lower, check.upper) {
                (Some(_), Some(_)) => "p = Φ((U − y) / u) − Φ((L − y) / u)",
                (None, _) => "p = Φ((U − y) / u)",
                (_, None) => "p = 1 − Φ((L − y) / u)",
            },
            format!("{:.4} − {:.4} = {probability:.4}", terms[0], terms[1]),
        ));
    }
    steps.push(Step::new(
        "what it comes to",
        format!(
            "inside from p = {}, outside up to p = {}, between them marginal; not capable where even a reading in the middle \
             would not be inside",
            policy.inside, policy.outside
        ),
        format!("p = {probability:.4}: {}", check.outcome.label()),
    ));
    Some(Explanation {
        thing,
        title,
        steps,
        cause: None,
        result: format!("p = {probability:.4}, {}", check.outcome.label()),
        sources: vec![
            Source::new(format!("y = {}", value.show(decimals)), Known::Measured),
            Source::new(
                format!("u = {}: see `{}`", u.show(decimals + 1), Thing::Uncertainty(measurand).word()),
                Known::Instrument,
            ),
            Source::new(
                format!("limits: {}; see `{}`", check.limits_from, Thing::Limits(measurand).word()),
                Known::Reference(check.mark),
            ),
            case.policy("probabilities of inside and outside"),
            Source::new(JCGM_106, Known::Reference(Mark::Memory)),
        ],
        changes: vec![
            "a smaller u: a better instrument, or the mean of more readings".to_owned(),
            "a corrected reading, when this one was a slip".to_owned(),
        ],
    })
}

fn side(name: &str) -> &'static str {
    if name == "U" { "upper" } else { "lower" }
}

/// Explains the share of the tolerance that a value uses; `None` where there is none.
pub(super) fn tolerance(check: &Check) -> Option<Explanation> {
    let (used, value, lower, upper) = (check.tolerance_used?, check.value?, check.lower?, check.upper?);
    let decimals = decimals_beside(check.u?.value()) + 1;
    let show = |amount: Amount| amount.digits(decimals);
    let (middle, half) = middle_and_half(lower, upper);
    Some(Explanation {
        thing: Thing::Tolerance(check.measurand),
        title: format!("how much of its tolerance the {} uses", check.measurand),
        steps: vec![Step::new(
            "distance from the middle of the window over half its width: 0 in the middle, 1 on a limit, more beyond",
            "used = |y − (L + U) / 2| / ((U − L) / 2)",
            format!("|{} − {}| / {} = {:.0} %", show(value), figure(middle), figure(half), 100.0 * used),
        )],
        cause: None,
        result: format!("{:.0} % of the tolerance used", 100.0 * used),
        sources: vec![
            Source::new(format!("y = {}", value.show(decimals)), Known::Measured),
            Source::new(
                format!("limits: see `{}`", Thing::Limits(check.measurand).word()),
                Known::Reference(check.mark),
            ),
        ],
        changes: vec!["it clears and holds nothing by itself: the probability does".to_owned()],
    })
}

fn middle_and_half(lower: Amount, upper: Amount) -> (f64, f64) {
    (f64::midpoint(lower.value(), upper.value()), (upper.value() - lower.value()) / 2.0)
}

/// Explains the score.
pub(super) fn score(assessment: &Assessment) -> Explanation {
    let short = |check: &Check| check.shortfall.unwrap_or(1.0);
    let terms: Vec<String> = assessment
        .checks
        .iter()
        .map(|check| format!("{} {}", figure(short(check)), check.measurand))
        .collect();
    Explanation {
        thing: Thing::Score,
        title: "the score".to_owned(),
        steps: vec![Step::new(
            "1 less what each check falls short of certainty, never below 0; a check without a value falls short by 1",
            "score = max(0, 1 − Σ (1 − p))",
            format!("max(0, 1 − ({})) = {}", terms.join(" + "), figure(assessment.score)),
        )],
        cause: None,
        result: format!(
            "{} of 100, truncated, on {} of {} checks",
            assessment.score_shown(),
            assessment.score_rests_on,
            assessment.checks.len()
        ),
        sources: vec![
            Source::new("p of each check: see its probability", Known::Measured),
            Source::new(
                "a lower bound of the chance that all checks conform (Bonferroni's inequality)",
                Known::Reference(Mark::Memory),
            ),
        ],
        changes: vec!["it clears nothing: open doubts hold a piece whatever its score".to_owned()],
    }
}

/// Explains the depth for which the conductivity reading vouches; `None` without a probe of known frequency.
pub(super) fn depth(case: &Case<'_>) -> Option<Explanation> {
    let skin = case.assessment.skin_depth?.as_millimetres();
    let probe = case.grounds.evidence.probe.as_ref()?;
    let hertz = probe.frequency?.as_hertz();
    let alloy = case.grounds.alloy;
    let sigma = alloy.conductivity.value.as_ms_per_m();
    let mut steps = vec![Step::new(
        "skin depth in the declared alloy: where the field of the probe has fallen to 37 %",
        "δ = 1 / √(π f μ₀ σ)",
        format!("1 / √(π × {} Hz × 4π·10⁻⁷ H/m × {} MS/m) = {skin:.3} mm", figure(hertz), figure(sigma)),
    )];
    if let Some(proved) = case.assessment.proved_depth {
        steps.push(Step::new(
            "depth for which a reading in its window vouches: a poor core under more skin hides in a window of ±3 %",
            format!("vouched for = {PROVED_DEPTH_IN_SKIN_DEPTHS} δ"),
            format!("{PROVED_DEPTH_IN_SKIN_DEPTHS} × {skin:.3} mm = {:.2} mm", proved.as_millimetres()),
        ));
    }
    let vouched = case.assessment.proved_depth.map_or_else(
        || "no usable reading: nothing is vouched for".to_owned(),
        |proved| format!("the reading vouches for the outer {:.2} mm", proved.as_millimetres()),
    );
    let conductivity = &alloy.conductivity;
    Some(Explanation {
        thing: Thing::Depth,
        title: "how deep the conductivity reading looks".to_owned(),
        steps,
        cause: None,
        result: format!("skin depth {skin:.2} mm; {vouched}"),
        sources: vec![
            Source::new(format!("f = {} Hz, probe `{}`", figure(hertz), probe.name), Known::Instrument),
            case.cited(
                &format!("{}, σ = {} MS/m", alloy.name, figure(sigma)),
                conductivity.mark,
                &conductivity.sources,
            ),
            Source::new("formula: classical; as in MIL-STD-1537C, 3.7", Known::Reference(Mark::Memory)),
        ],
        changes: vec![format!(
            "a probe of a lower frequency looks deeper: half the depth at four times {} Hz",
            figure(hertz)
        )],
    })
}
