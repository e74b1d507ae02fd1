//! One reading against its limits: conformance probability, outcome, tolerance used, reason.

use super::assessment::{Check, Outcome};
use super::budget::Budget;
use super::policy::Policy;
use super::window::Window;
use crate::evidence::{Amount, Measurand};
use crate::metrology::rounding::decimals_of;
use crate::metrology::{Limits, Outcome as Judged, Thresholds, judge};

/// Share of the tolerance, or chance of being outside, from which a reading that passes is said to be near its limit.
const NEAR_USED: f64 = 0.8;
const NEAR_SHORTFALL: f64 = 0.01;

/// A value that is compared, in the first unit of its measurand.
pub(super) struct Compared {
    pub(super) measurand: Measurand,
    pub(super) value: f64,
    pub(super) budget: Budget,
}

/// Compares a value with its limits.
pub(super) fn compare(compared: Compared, window: &Window, policy: &Policy) -> Check {
    let Compared { measurand, value, budget } = compared;
    let u = budget.u();
    let limits =
        Limits::new(window.lower, window.upper).expect("windows are built in order from finite numbers");
    let thresholds = Thresholds::new(policy.inside, policy.outside)
        .expect("the policy reader keeps both numbers in range");
    let judgement = judge(value, u, &limits, &thresholds);
    let outcome = match judgement.outcome {
        Judged::Inside => Outcome::Inside,
        Judged::Marginal => Outcome::Marginal,
        Judged::Outside => Outcome::Outside,
        Judged::NotCapable => Outcome::NotCapable,
    };
    let used = tolerance_used(value, &limits);
    let amount = |value: f64| Amount::of(measurand, value);
    Check {
        measurand,
        value: Some(amount(value)),
        u: Some(amount(u)),
        lower: window.lower.map(amount),
        upper: window.upper.map(amount),
        mark: window.mark,
        limits_from: window.from.clone(),
        probability: Some(judgement.conformance.inside),
        shortfall: Some(judgement.conformance.outside),
        tolerance_used: used,
        outcome,
        reason: reason(
            &Outcomes { measurand, value, u, outcome, used, shortfall: judgement.conformance.outside },
            &limits,
        ),
        budget: budget.lines,
        negligible: false,
    }
}

/// Returns the check of a reading that is not there.
pub(super) fn missing(measurand: Measurand, window: &Window) -> Check {
    without_value(measurand, window, Outcome::Missing, "no reading".to_owned())
}

/// Returns the check of a reading that cannot be used.
pub(super) fn not_usable(measurand: Measurand, window: &Window, reason: &str) -> Check {
    without_value(measurand, window, Outcome::NotUsable, reason.to_owned())
}

fn without_value(measurand: Measurand, window: &Window, outcome: Outcome, reason: String) -> Check {
    Check {
        measurand,
        value: None,
        u: None,
        lower: window.lower.map(|value| Amount::of(measurand, value)),
        upper: window.upper.map(|value| Amount::of(measurand, value)),
        mark: window.mark,
        limits_from: window.from.clone(),
        probability: None,
        shortfall: None,
        tolerance_used: None,
        outcome,
        reason,
        budget: Vec::new(),
        negligible: false,
    }
}

/// Returns the share of the tolerance that a value uses: 0 in the middle of the window, 1 on a limit, more beyond; `None`
/// where there is only one limit.
fn tolerance_used(value: f64, limits: &Limits) -> Option<f64> {
    let half = limits.width()? / 2.0;
    (half > 0.0).then(|| (value - limits.centre().unwrap_or(value)).abs() / half)
}

/// What a comparison came to, for the reason in words.
struct Outcomes {
    measurand: Measurand,
    value: f64,
    u: f64,
    outcome: Outcome,
    used: Option<f64>,
    shortfall: f64,
}

/// Says why, with the numbers.
fn reason(outcomes: &Outcomes, limits: &Limits) -> String {
    let Outcomes { measurand, value, u, outcome, used, shortfall } = *outcomes;
    let decimals = decimals_of(u, 1);
    let show = |value: f64| Amount::of(measurand, value).show(decimals);
    let beyond_lower = limits.lower().is_some_and(|lower| value < lower);
    let beyond_upper = limits.upper().is_some_and(|upper| value > upper);
    match outcome {
        Outcome::Inside if shortfall >= NEAR_SHORTFALL || used.is_some_and(|used| used >= NEAR_USED) => {
            let used =
                used.map_or(String::new(), |used| format!("{:.0} % of the tolerance used, ", 100.0 * used));
            format!("inside, near its limit: {used}chance of being outside {:.1} %", 100.0 * shortfall)
        }
        Outcome::Inside => "inside".to_owned(),
        Outcome::NotCapable => match limits.width() {
            Some(width) => format!(
                "the window is {} wide, this instrument's u is {}: it cannot decide",
                show(width),
                Amount::of(measurand, u).show(decimals + 1)
            ),
            None => "this instrument cannot decide this limit".to_owned(),
        },
        _ if beyond_lower => {
            let lower = limits.lower().unwrap_or(value);
            format!(
                "{} is {} below {}, u {}",
                show(value),
                show(lower - value),
                show(lower),
                show_u(measurand, u)
            )
        }
        _ if beyond_upper => {
            let upper = limits.upper().unwrap_or(value);
            format!(
                "{} is {} above {}, u {}",
                show(value),
                show(value - upper),
                show(upper),
                show_u(measurand, u)
            )
        }
        _ => format!("{} is inside, but too near a limit for u {}", show(value), show_u(measurand, u)),
    }
}

fn show_u(measurand: Measurand, u: f64) -> String {
    Amount::of(measurand, u).show(decimals_of(u, 2))
}
