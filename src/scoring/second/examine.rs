//! From a second test to its report: value, uncertainty, agreement with the declared alloy, what it excluded.

use super::prediction::{Build, EXCLUDES_AT, Look, Predicts, Range, TELLS_APART_AT, agreement};
use super::report::{Excluded, Figure, FigureLine, NotToldApart, SecondTestReport};
use crate::metrology::Uncertain;
use crate::metrology::rounding::decimals_of;
use crate::scoring::assessment::{Construction, Outcome, Scope};
use crate::scoring::cause::{Cause, Rule};
use crate::scoring::cells::Cells;
use crate::scoring::doubt::{Doubt, DoubtKind, Method, Offer, Power};
use crate::scoring::exclusion::Exclusion;
use crate::scoring::geometry::Measured;
use crate::scoring::standard::Standard;
use crate::scoring::trial::Trial;

/// A second test with what follows from it.
pub(crate) struct Examined {
    pub(crate) report: SecondTestReport,
    /// What candidates are compared with; `None` when nothing follows.
    pub(crate) look: Option<Look>,
    /// Doubts that it raises.
    pub(crate) doubts: Vec<Doubt>,
    figure: Option<fn(f64) -> Figure>,
}

impl Examined {
    /// Makes the report of a test from which nothing follows.
    pub(crate) fn unusable(method: Method, how: String, reason: String) -> Self {
        Self::without_number(method, how, Outcome::NotUsable, reason)
    }

    /// Makes the report of a test without a number.
    pub(crate) fn without_number(method: Method, how: String, outcome: Outcome, reason: String) -> Self {
        Examined {
            report: SecondTestReport {
                method,
                how,
                value: None,
                u: None,
                declared: None,
                budget: Vec::new(),
                outcome,
                reason,
                excluded: Vec::new(),
                not_told_apart: Vec::new(),
                cautions: cautions(method).iter().map(|&caution| caution.to_owned()).collect(),
            },
            look: None,
            doubts: Vec::new(),
            figure: None,
        }
    }
}

/// A second test with a number, to be compared with the declared alloy.
pub(crate) struct Judged<'s> {
    pub(crate) method: Method,
    pub(crate) how: String,
    pub(crate) predicts: Box<dyn Predicts>,
    /// The result with its inputs, in the method's unit.
    pub(crate) value: Uncertain,
    pub(crate) figure: fn(f64) -> Figure,
    /// Source of each input's figure, by the name of the input.
    pub(crate) sources: &'s [(&'static str, &'static str)],
}

impl Judged<'_> {
    /// Compares the result with the declared alloy; a disagreement raises a doubt.
    pub(crate) fn examined(self, trial: &Trial<'_>) -> Examined {
        let Judged { method, how, predicts, value, figure, sources } = self;
        let measured = Measured { value: value.value(), u: value.standard_uncertainty() };
        let mut examined = Examined::without_number(method, how, Outcome::NotCapable, String::new());
        let report = &mut examined.report;
        report.value = Some(figure(measured.value));
        report.u = Some(figure(measured.u));
        report.budget = value
            .contributions()
            .iter()
            .map(|(input, part)| FigureLine {
                name: input.as_str().to_owned(),
                u: figure(part.abs()),
                source: sources
                    .iter()
                    .find(|(name, _)| *name == input.as_str())
                    .map_or(String::new(), |(_, source)| (*source).to_owned()),
            })
            .collect();
        let declared = trial.declared();
        let own = predicts.declared(&declared).map(|range| range.widened(predicts.tolerance(&declared)));
        if let Some(own) = own {
            report.declared = Some((figure(own.low), figure(own.high)));
            report.outcome = agreement(measured, own, trial.policy);
            report.reason = reason(report, measured, own, figure, &trial.alloy.name);
            if matches!(report.outcome, Outcome::Outside | Outcome::Marginal) {
                examined.doubts.push(disagreement(method, report.reason.clone()));
            }
        }
        examined.look = Some(Look { predicts, measured: Some(measured) });
        examined.figure = Some(figure);
        examined
    }
}

/// Says how a result stands to what the declared alloy can show.
fn reason(
    report: &SecondTestReport,
    measured: Measured,
    own: Range,
    figure: fn(f64) -> Figure,
    alloy: &str,
) -> String {
    let decimals = decimals_of(2.0 * measured.u, 2) as usize;
    let show = |value: f64| figure(value).show(decimals as u32);
    let result = report.result().unwrap_or_default();
    let range = format!("{} to {} of {alloy}", show(own.low), show(own.high));
    if measured.value < own.low {
        format!("{result}, is {} below the {range}", show(own.low - measured.value))
    } else if measured.value > own.high {
        format!("{result}, is {} above the {range}", show(measured.value - own.high))
    } else {
        format!("{result}, lies in the {range}")
    }
}

/// Returns the doubt of a result that disagrees with the declared alloy.
fn disagreement(method: Method, reason: String) -> Doubt {
    let mut offers = vec![Offer::always(method, Power::Narrows, Rule::RulesOutASlip)];
    if method != Method::XRay {
        offers.push(Offer::always(Method::XRay, Power::Narrows, Rule::NamesTheSurface));
    }
    if method != Method::Assay {
        offers.push(Offer::always(Method::Assay, Power::Settles, Rule::Laboratory));
    }
    Doubt::new(DoubtKind::WrongAlloy, Scope::Piece, Cause::Disagrees { method, reason }, offers)
}

/// Returns what to mind with a method.
fn cautions(method: Method) -> &'static [&'static str] {
    match method {
        Method::Immersion => &[
            "water harms proof surfaces and packaging; dry at once, do not rub",
            "a bubble of 1 mm³ counts 1 mg",
        ],
        Method::Ultrasound => &["couplant harms proof surfaces and packaging; wipe it off, do not rub"],
        Method::Ring => &["ring the free piece on a soft support; an edge knock marks a proof surface"],
        Method::XRay => &[
            "trained and, where the law says so, licensed operator; never hold the piece in the beam",
            "it sees the surface only",
        ],
        Method::Magnet => &["strong magnets: keep away from pacemakers, mind pinched fingers"],
        Method::Assay => &["acids, lead fume and furnaces: accredited laboratory only; it destroys a part"],
        Method::Expert => &["suspected counterfeit of legal tender: keep it apart, local law decides"],
        _ => &[],
    }
}

/// Completes a report with what the test excluded of what was possible before it, and what it could not tell apart.
///
/// What the desk watches for comes first. `before`: the cells as the first readings leave them.
pub(crate) fn complete(trial: &Trial<'_>, standard: &Standard, examined: &mut Examined, before: &Cells) {
    let Some(look) = &examined.look else { return };
    let grid = &standard.grid;
    let (mut watched, mut others) = (Vec::new(), Vec::new());
    for entry in &grid.entries {
        let mut nearest: Option<(f64, Build<'_>)> = None;
        let (mut gone, mut left) = (Vec::new(), Vec::new());
        for cell in entry.cells.clone().filter(|cell| before.has(*cell)) {
            let Some(ends) = grid.ends(trial.catalogue, trial.geometry, entry, cell) else { continue };
            let distance = look.distance_of_cell(&ends, entry.built);
            if distance >= EXCLUDES_AT {
                gone.push(cell)
            } else {
                left.push(cell)
            }
            if nearest.as_ref().is_none_or(|(least, _)| distance < *least) {
                nearest = Some((distance, ends[0]));
            }
        }
        let Some((distance, build)) = nearest else { continue };
        let (material, name) = (build.material.id.clone(), build.material.name.to_string());
        let construction = entry.built;
        if !gone.is_empty() {
            examined.report.excluded.push(Excluded {
                material: material.clone(),
                name: name.clone(),
                construction,
                skins: grid.skins(entry, &gone),
                whole: left.is_empty(),
                why: if left.is_empty() {
                    Exclusion::SecondTest { method: examined.report.method, distance }.to_string()
                } else {
                    "under these skins it would show".to_owned()
                },
            });
        }
        if !left.is_empty() {
            let place =
                if left.iter().any(|cell| standard.watched.has(*cell)) { &mut watched } else { &mut others };
            place.push(NotToldApart {
                material,
                name,
                construction,
                skins: grid.skins(entry, &left),
                why: why_not(trial, look, &build, distance, examined.figure),
            });
        }
    }
    watched.append(&mut others);
    examined.report.not_told_apart = watched;
}

/// Says why a result leaves a candidate, with uncertainty and gap.
fn why_not(
    trial: &Trial<'_>,
    look: &Look,
    build: &Build<'_>,
    distance: f64,
    figure: Option<fn(f64) -> Figure>,
) -> String {
    let declared = trial.declared();
    let (Some(measured), Some(range), Some(own), Some(figure)) =
        (look.measured, look.predicts.range(build), look.predicts.declared(&declared), figure)
    else {
        return match build.construction() {
            Construction::Core => "it does not see a core under such a skin".to_owned(),
            Construction::Insert => "it does not see what lies beside the measuring points".to_owned(),
            Construction::Solid => "it says nothing about it".to_owned(),
        };
    };
    let centres = look.predicts.centre(build).zip(look.predicts.centre(&declared));
    let gap = centres.map_or(range.gap(own), |(build, declared)| (build - declared).abs());
    let tolerance = look.predicts.tolerance(build);
    let expanded = 2.0 * measured.u;
    let decimals = decimals_of(expanded, 2).max(2);
    let numbers = if tolerance > 0.0 {
        format!(
            "U {} (k = 2) and ±{:.0} % of the prediction, gap {}",
            figure(expanded).show(decimals),
            100.0 * tolerance,
            figure(gap).show(decimals)
        )
    } else {
        format!("U {} (k = 2), gap {}", figure(expanded).show(decimals), figure(gap).show(decimals))
    };
    let apart = range.gap(own) >= TELLS_APART_AT * measured.u.hypot(range.high * tolerance / EXCLUDES_AT);
    if apart {
        format!("{numbers}: the result agrees with it within {distance:.1} u")
    } else {
        format!("{numbers}: cannot tell it from the declared alloy")
    }
}
