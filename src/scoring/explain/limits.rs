//! What a reading may lie between: from the specification, or from the policy where no source sets a tolerance.

use super::super::assessment::Check;
use super::super::checks::impossible_thickness;
use super::super::window::{self, FINE_METAL_MARGIN, Way, Window};
use super::{Case, Explanation, Source, Step, Thing};
use crate::evidence::{Amount, Measurand};
use crate::metrology::rounding::decimals_of;
use crate::quantity::{Length, Quantity};
use crate::reference::{Basis, Product, Sourced, Specified};

/// Decimals of limits of masses and lengths.
const DECIMALS: u32 = 3;

/// Explains the limits of a check.
pub(super) fn of(case: &Case<'_>, check: &Check) -> Explanation {
    let measurand = check.measurand;
    let circulated = case.grounds.evidence.presentation.circulated;
    let product = case.declared.product;
    let window = match measurand {
        Measurand::Mass => {
            let u = check.u.map_or(0.0, Amount::value);
            window::mass_on_scale(product, circulated, case.rules.policy, u)
        }
        Measurand::Conductivity => Some(window::conductivity(product, case.grounds.alloy, case.catalogue())),
        _ => window::dimension(product, measurand, case.rules.policy),
    };
    let mut explanation = Explanation {
        thing: Thing::Limits(measurand),
        title: format!("what the {measurand} may be"),
        steps: Vec::new(),
        cause: None,
        result: words(check),
        sources: Vec::new(),
        changes: Vec::new(),
    };
    let least = impossible_thickness(&case.grounds.geometry, case.grounds.alloy)
        .filter(|_| measurand == Measurand::Thickness);
    if let Some((_, reason)) = least {
        explanation.steps.push(Step::said(reason));
        explanation.steps.push(Step::new(
            "least thickness: mass over face and the greatest density of the declared alloy",
            "least = 4 m / (π d² ρ), or m / (l w ρ)",
            "",
        ));
        explanation.changes.push("weighing and measuring again".to_owned());
    }
    match &window {
        Some(window) => {
            for (way, side) in window.ways.iter().zip(["lower limit", "upper limit"]) {
                explanation.steps.extend(way.map(|way| step(measurand, way, side)));
            }
            if measurand == Measurand::Mass {
                explanation.steps.extend(content(product, check));
            }
            sources(case, check, window, &mut explanation.sources);
            if window.ways.iter().flatten().any(|way| by_policy(case, measurand, *way)) {
                explanation.changes.push(
                    "a tolerance of the maker or the law in `products.toml`, or the assumed one in the policy"
                        .to_owned(),
                );
            }
        }
        None => explanation.steps.push(Step::said(check.limits_from.clone())),
    }
    explanation.changes.push(match measurand {
        Measurand::Conductivity => {
            "a published range of the alloy, in `products.toml` of the desk".to_owned()
        }
        _ => "another product declared for the lot: its own specification counts".to_owned(),
    });
    explanation
}

/// Says the limits of a check.
fn words(check: &Check) -> String {
    let decimals = decimals(check.measurand);
    match (check.lower, check.upper) {
        (Some(lower), Some(upper)) => format!("{} to {}", lower.digits(decimals), upper.show(decimals)),
        (Some(lower), None) => format!("at least {}", lower.show(decimals)),
        (None, Some(upper)) => format!("at most {}", upper.show(decimals)),
        (None, None) => "no limits".to_owned(),
    }
}

fn decimals(measurand: Measurand) -> u32 {
    if measurand == Measurand::Conductivity { 2 } else { DECIMALS }
}

/// Explains one limit.
fn step(measurand: Measurand, way: Way, side: &str) -> Step {
    let show = |value: f64| Amount::of(measurand, value).show(decimals(measurand));
    let limit = show(way.limit());
    match way {
        Way::Stated(_) => {
            Step::new(format!("{side}: as the range says"), format!("{side} = end of the range"), limit)
        }
        Way::LeastCurrent(_) => Step::new(
            format!("{side}: the least weight at which the law lets a worn piece pass"),
            format!("{side} = least current weight"),
            limit,
        ),
        Way::Below { nominal, deviation } => Step::new(
            format!("{side}: nominal less the tolerance"),
            format!("{side} = nominal − tolerance"),
            format!("{} − {} = {limit}", show(nominal), show(deviation)),
        ),
        Way::Above { nominal, deviation } => Step::new(
            format!("{side}: nominal and the tolerance"),
            format!("{side} = nominal + tolerance"),
            format!("{} + {} = {limit}", show(nominal), show(deviation)),
        ),
        Way::Worn { nominal, allowance } => Step::new(
            format!("{side}: nominal less what circulation may have taken, by size and years (assumed)"),
            format!("{side} = nominal − wear"),
            format!("{} − {} = {limit}", show(nominal), show(allowance)),
        ),
        Way::BelowDecided { nominal, deviation } => Step::new(
            format!("{side}: nominal less what the scale can decide; the tolerance is narrower"),
            format!("{side} = nominal − (guard band + 2.33 √(u² + (tolerance / 4)²))"),
            format!("{} − {} = {limit}", show(nominal), show(deviation)),
        ),
        Way::AboveDecided { nominal, deviation } => Step::new(
            format!("{side}: nominal and what the scale can decide; the tolerance is narrower"),
            format!("{side} = nominal + guard band + 2.33 √(u² + (tolerance / 4)²)"),
            format!("{} + {} = {limit}", show(nominal), show(deviation)),
        ),
        Way::PureMetal { pure, own } => Step::new(
            format!(
                "{side}: fineness is a least one, so the pure metal and {:.0} %",
                100.0 * FINE_METAL_MARGIN
            ),
            format!("{side} = the greater of own range and pure metal × {:.2}", 1.0 + FINE_METAL_MARGIN),
            format!(
                "the greater of {} and {} × {:.2} = {limit}",
                show(own),
                show(pure),
                1.0 + FINE_METAL_MARGIN
            ),
        ),
    }
}

/// Compares the fine content of a reading with the one that the law prints: as value, no limit of the mass.
fn content(product: &Product, check: &Check) -> Option<Step> {
    let (printed, below) = window::printed_content(product)?;
    let (mass, fineness) = (check.value?.value(), product.fineness.nominal.value.as_share());
    let show = |value: f64| Amount::of(Measurand::Mass, value).show(DECIMALS);
    let short = printed - below - mass * fineness;
    let verdict = if short > 0.0 { format!("{} short", show(short)) } else { "not short of it".to_owned() };
    Some(Step::new(
        format!(
            "fine content, judged apart as value: at least {} by the specification",
            show(printed - below)
        ),
        "fine content = mass × fineness",
        format!("{} × {fineness:.4} = {}, {verdict}", show(mass), show(mass * fineness)),
    ))
}

/// Tells whether a limit rests on a tolerance that the policy assumes.
fn by_policy(case: &Case<'_>, measurand: Measurand, way: Way) -> bool {
    let product = case.declared.product;
    let set = |minus: bool, plus: bool| match way {
        Way::Below { .. } => !minus,
        Way::Above { .. } => !plus,
        _ => false,
    };
    match (measurand, &product.mass, length_of(case, measurand)) {
        (Measurand::Mass, Some(mass), _) => set(mass.minus.is_some(), mass.plus.is_some()),
        (_, _, Some(length)) => set(length.minus.is_some(), length.plus.is_some()),
        _ => false,
    }
}

/// Returns what the specification says of a length.
fn length_of<'a>(case: &'a Case<'_>, measurand: Measurand) -> Option<&'a Specified<Length>> {
    let product = case.declared.product;
    match measurand {
        Measurand::Diameter => product.diameter.as_ref(),
        Measurand::Length => product.length.as_ref(),
        Measurand::Width => product.width.as_ref(),
        Measurand::Thickness => product.thickness.as_ref(),
        _ => None,
    }
}

/// Names where the limits come from.
fn sources(case: &Case<'_>, check: &Check, window: &Window, found: &mut Vec<Source>) {
    let product = case.declared.product;
    let policy = case.rules.policy;
    let assumed = window.ways.iter().flatten().any(|way| by_policy(case, check.measurand, *way));
    match check.measurand {
        Measurand::Mass => {
            if let Some(range) = &product.mass_range {
                found.push(case.cited("range of the mass", range.mark, &range.sources));
            }
            if let Some(mass) = &product.mass {
                specified(case, "mass", mass, found);
            }
            if let Some(content) =
                product.fine_content.as_ref().filter(|_| window::printed_content(product).is_some())
            {
                specified(case, "fine content", content, found);
                let fineness = &product.fineness.nominal;
                let words = format!("fineness {} ‰", super::figure(1000.0 * fineness.value.as_share()));
                found.push(case.sourced(&words, fineness));
            }
            if let Some(least) = &product.least_current_mass
                && window.ways.iter().flatten().any(|way| matches!(way, Way::LeastCurrent(_)))
            {
                let words = format!("least current weight {:.3} g", least.value.as_grams());
                found.push(case.sourced(&words, least));
            }
            if assumed {
                let share = format!("tolerance {:.2} % of the nominal mass", 100.0 * policy.mass_share);
                found.push(case.policy(&share));
            }
        }
        Measurand::Conductivity => {
            let alloy = case.grounds.alloy;
            let range = &alloy.conductivity;
            let ends = format!(
                "{}, conductivity {:.2} to {:.2} MS/m at 20 °C",
                alloy.name,
                range.low.as_ms_per_m(),
                range.high.as_ms_per_m()
            );
            found.push(case.cited(&ends, range.mark.max(range.range_mark), &range.sources));
        }
        measurand => {
            if let Some(length) = length_of(case, measurand) {
                specified(case, measurand.name(), length, found);
            }
            if assumed {
                let (length, share) = match measurand {
                    Measurand::Thickness => (policy.thickness, policy.thickness_share),
                    _ => (policy.diameter, policy.diameter_share),
                };
                let words = format!(
                    "tolerance {:.2} mm + {:.2} % of the nominal",
                    length.as_millimetres(),
                    100.0 * share
                );
                found.push(case.policy(&words));
            }
        }
    }
    if found.is_empty() {
        found.push(Source::new(window.from.clone(), super::Known::Reference(window.mark)));
    }
}

/// Names the sources of a specified quantity and of its deviations.
fn specified<Q: Quantity>(case: &Case<'_>, name: &str, specified: &Specified<Q>, found: &mut Vec<Source>) {
    let mut add = |label: &str, value: &Sourced<Q>| {
        let figure = format!("{name}, {label}: {}", value.value.show(DECIMALS));
        found.push(case.sourced(&figure, value));
    };
    let basis = match specified.basis {
        Basis::Nominal => "nominal",
        Basis::Maximum => "greatest",
        Basis::Minimum => "least",
    };
    add(basis, &specified.nominal);
    for (label, value) in [("tolerance below", &specified.minus), ("tolerance above", &specified.plus)] {
        if let Some(value) = value {
            add(label, value);
        }
    }
}

/// Returns the decimals in which a value is put into a formula beside its uncertainty.
pub(super) fn decimals_beside(u: f64) -> u32 {
    decimals_of(u, 2)
}
