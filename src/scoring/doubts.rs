//! From checks and openings to doubts: what is open, and what each method could do about it.

use super::assessment::{Check, Construction, Outcome, Scope};
use super::candidates::Openings;
use super::cause::{Because, Cause, Rule};
use super::cells::Cells;
use super::doubt::{Doubt, DoubtKind, Method, Offer, Power};
use super::plan::{Plan, PlanStep, step};
use super::policy::Policy;
use super::standard::Standard;
use super::survey::Survey;
use super::trial::Trial;
use crate::evidence::{Measurand, Unproved};
use crate::quantity::{Conductivity, Length};
use crate::reference::MaterialId;
use std::sync::Arc;

/// Skins, in mm, that a reading outside its window makes look like plating.
const PLATE_UP_TO_MM: f64 = 0.25;
/// Most materials that a cause names; the candidates hold the rest.
const NAMED: usize = 12;

/// Returns the doubt that a check raises; `None` when it is inside, or when it is a remark only.
pub(super) fn of_check(check: &Check) -> Option<Doubt> {
    if check.outcome == Outcome::Inside || check.negligible {
        return None;
    }
    let repeat = repeat(check.measurand);
    let kind = match (check.measurand, check.outcome) {
        (Measurand::Conductivity, Outcome::NotCapable | Outcome::NotUsable) => DoubtKind::UnprovedInstrument,
        (Measurand::Conductivity, _) => DoubtKind::WrongAlloy,
        _ => DoubtKind::WeightOrSize,
    };
    let mut list = vec![match check.outcome {
        Outcome::Missing => Offer::always(repeat, Power::Settles, Rule::TakeTheReading),
        Outcome::NotUsable => {
            Offer::new(repeat, Power::Settles, Because::TakeAgain { reason: check.reason.clone() })
        }
        Outcome::NotCapable => Offer::always(repeat, Power::Settles, Rule::FinerInstrument),
        Outcome::Marginal => Offer::always(repeat, Power::Settles, Rule::FinerOrMore),
        _ => Offer::always(repeat, Power::Narrows, Rule::RulesOutASlip),
    }];
    if kind == DoubtKind::WrongAlloy {
        list.push(Offer::always(Method::XRay, Power::Settles, Rule::NamesTheSurface));
        list.push(Offer::always(Method::Assay, Power::Settles, Rule::Laboratory));
    }
    let cause =
        Cause::Check { measurand: check.measurand, outcome: check.outcome, reason: check.reason.clone() };
    Some(Doubt::new(kind, Scope::Piece, cause, list))
}

/// Returns the doubts of readings behind which no proved instrument stands, one for each reason.
pub(super) fn unproved(readings: &[Unproved]) -> Vec<Doubt> {
    let mut reasons: Vec<&str> = Vec::new();
    for reading in readings {
        if !reasons.contains(&reading.reason.as_str()) {
            reasons.push(&reading.reason);
        }
    }
    let doubt = |reason: &str| {
        let of = readings.iter().filter(|reading| reading.reason == reason);
        let measurands: Vec<Measurand> = of.map(|reading| reading.measurand).collect();
        let mut offers: Vec<Offer> = Vec::new();
        for measurand in &measurands {
            let method = repeat(*measurand);
            if offers.iter().all(|offer| offer.method != method) {
                offers.push(Offer::always(method, Power::Settles, Rule::ControlThenAgain));
            }
        }
        let cause = Cause::Unproved { measurands, reason: reason.to_owned() };
        Doubt::new(DoubtKind::UnprovedInstrument, Scope::Piece, cause, offers)
    };
    reasons.into_iter().map(doubt).collect()
}

/// Returns the method that takes a reading again.
fn repeat(measurand: Measurand) -> Method {
    match measurand {
        Measurand::Mass => Method::Reweigh,
        Measurand::Conductivity => Method::Conductivity,
        _ => Method::Remeasure,
    }
}

/// What is open of one piece, for its doubts.
pub(super) struct Found<'f> {
    pub(super) openings: &'f Openings,
    pub(super) plan: Option<&'f Plan>,
    /// Whether what no list names has to be asked for still.
    pub(super) unlisted: bool,
}

/// Returns the doubts that open cells raise: at most one of another metal throughout, and one of a hidden core.
pub(super) fn of_openings(trial: &Trial<'_>, standard: &Standard, found: &Found<'_>) -> Vec<Doubt> {
    [Construction::Solid, Construction::Core]
        .into_iter()
        .filter_map(|construction| of_built(trial, standard, found, construction))
        .collect()
}

fn of_built(
    trial: &Trial<'_>,
    standard: &Standard,
    found: &Found<'_>,
    construction: Construction,
) -> Option<Doubt> {
    let grid = &standard.grid;
    let solid = construction == Construction::Solid;
    let unlisted = found.unlisted && !solid;
    let scope = match found.openings.scope(standard, solid, trial.lot_size) {
        Some(scope) => scope,
        None if unlisted && trial.lot_size < 2 => Scope::Piece,
        None if unlisted => Scope::Lot,
        None => return None,
    };
    let cells = Cells::of(grid.len(), |cell| (cell < grid.solids) == solid && found.openings.cells.has(cell));
    let materials = trial.catalogue.all_materials();
    let mut about: Vec<MaterialId> = Vec::new();
    let mut names: Vec<Arc<str>> = Vec::new();
    // What a good piece hardly ever leaves open is named first: the reading points at it.
    let pointed = |cell: &usize| found.openings.odd.has(*cell);
    let mut order: Vec<usize> = cells.iter().collect();
    order.sort_by_key(|cell| !pointed(cell));
    for cell in order {
        let material = &materials[grid.entry_of(cell).material];
        if !about.contains(&material.id) {
            about.push(material.id.clone());
            names.push(material.name.clone());
        }
    }
    let most = |column: &[f64]| cells.iter().map(|cell| column[cell]).fold(0.0, f64::max);
    let thinnest = cells
        .iter()
        .filter(|cell| grid.entry_of(*cell).built == Construction::Core)
        .map(|cell| grid.thin[cell])
        .reduce(f64::min);
    let at_risk = standard.value.map(|value| trial.money(value * most(&grid.displaced)));
    names.truncate(NAMED);
    let cause = Cause::Possible {
        construction,
        names,
        thinnest: thinnest.map(Length::from_millimetres),
        share: most(&grid.share),
        at_risk: at_risk.filter(|_| !cells.is_empty()),
        pieces: if scope == Scope::Lot { trial.lot_size } else { 0 },
        unlisted,
    };
    let kind = if solid { DoubtKind::WrongAlloy } else { DoubtKind::HiddenCore };
    let offers = offers(trial, standard, found.plan, &cells);
    Some(Doubt { kind, scope, cause, about, offers })
}

/// Returns what every method could do about some cells.
fn offers(trial: &Trial<'_>, standard: &Standard, plan: Option<&Plan>, cells: &Cells) -> Vec<Offer> {
    let grid = &standard.grid;
    let materials = trial.catalogue.all_materials();
    let mut offers: Vec<Offer> = Vec::new();
    for told in &standard.told {
        let told_cells = match &told.cells {
            Err(reason) => {
                let because = Because::NotHere { reason: reason.clone() };
                offers.push(Offer::new(told.method, Power::Cannot, because));
                continue;
            }
            Ok(told_cells) => told_cells,
        };
        let (seen, left) = (cells.and(told_cells), cells.without(told_cells));
        if seen.is_empty() {
            offers.push(Offer::new(told.method, Power::Cannot, Because::TellsNone));
            continue;
        }
        let mut leaves: Vec<MaterialId> = Vec::new();
        for cell in left.iter() {
            let material = &materials[grid.entry_of(cell).material].id;
            if !leaves.contains(material) {
                leaves.push(material.clone());
            }
        }
        let planned = plan.and_then(|plan| plan.steps.iter().find(|step| step.method == told.method));
        let PlanStep { good, other, .. } =
            planned.cloned().unwrap_or_else(|| step(trial, standard, told.method, &seen));
        let power = if left.is_empty() { Power::Settles } else { Power::Narrows };
        offers.push(Offer::new(told.method, power, Because::Tells { good, other, leaves }));
    }
    offers.push(Offer::always(Method::Assay, Power::Settles, Rule::Laboratory));
    offers
}

/// Returns the doubt that a conductivity outside its window looks like plating, when some core under a thin skin fits it.
pub(super) fn thin_plate(
    trial: &Trial<'_>,
    standard: &Standard,
    checks: &[Check],
    survey: &Survey,
) -> Option<Doubt> {
    let outside = checks
        .iter()
        .any(|check| check.measurand == Measurand::Conductivity && check.outcome == Outcome::Outside);
    if !outside || trial.table().is_none() {
        return None;
    }
    let grid = &standard.grid;
    let materials = trial.catalogue.all_materials();
    let under: Vec<(Arc<str>, Length, Length)> = grid
        .entries
        .iter()
        .filter(|entry| entry.built == Construction::Core)
        .filter_map(|entry| {
            let left: Vec<usize> = entry.cells.clone().filter(|cell| survey.left.has(*cell)).collect();
            let (from, to) = grid.skins(entry, &left).into_iter().next()?;
            (from.as_millimetres() < PLATE_UP_TO_MM)
                .then(|| (materials[entry.material].name.clone(), from, to))
        })
        .take(3)
        .collect();
    if under.is_empty() {
        return None;
    }
    let offers = vec![
        Offer::always(Method::XRay, Power::Settles, Rule::SeesThroughPlate),
        Offer::always(Method::Assay, Power::Settles, Rule::Laboratory),
    ];
    Some(Doubt::new(DoubtKind::ThinPlate, Scope::Piece, Cause::ThinPlate { under }, offers))
}

/// Returns the doubt that spots differ more than the meter repeats, in MS/m.
pub(super) fn uneven(spread: f64, limit: f64) -> Doubt {
    let cause = Cause::Uneven {
        spread: Conductivity::from_ms_per_m(spread),
        limit: Conductivity::from_ms_per_m(limit),
    };
    let offers = vec![
        Offer::always(Method::Conductivity, Power::Settles, Rule::MoreSpots),
        Offer::always(Method::Ultrasound, Power::Settles, Rule::Sweep),
    ];
    Doubt::new(DoubtKind::Uneven, Scope::Piece, cause, offers)
}

/// Returns the doubt that the body fills its envelope as no struck coin does.
pub(super) fn fill(fill: f64, least: f64, greatest: f64) -> Doubt {
    let offers = vec![Offer::always(Method::Remeasure, Power::Settles, Rule::MeasureSizes)];
    Doubt::new(DoubtKind::WeightOrSize, Scope::Piece, Cause::Fill { fill, least, greatest }, offers)
}

/// Returns the doubt of a strike that matters, because the product sells above its metal or its source is not trusted.
pub(super) fn strike(premium: bool) -> Doubt {
    let offers = vec![Offer::always(Method::Expert, Power::Settles, Rule::OnlyAnExpert)];
    Doubt::new(DoubtKind::CounterfeitStrike, Scope::Piece, Cause::Strike { premium }, offers)
}

/// Returns the doubt of a piece that a magnet attracted.
pub(super) fn attracted() -> Doubt {
    let offers = vec![Offer::always(Method::Assay, Power::Settles, Rule::Laboratory)];
    Doubt::new(DoubtKind::WrongAlloy, Scope::Piece, Cause::Attracted, offers)
}

/// Fills in what each method takes and puts those that settle first, cheap before dear, what destroys last.
pub(super) fn rank(offers: &mut [Offer], policy: &Policy) {
    for offer in offers.iter_mut() {
        offer.cost = Some(policy.methods.cost(offer.method));
    }
    offers.sort_by_key(|offer| {
        let power = match offer.power {
            Power::Settles => 0,
            Power::Narrows => 1,
            Power::Cannot => 2,
        };
        (power, policy.methods.rank(offer.method))
    });
}
