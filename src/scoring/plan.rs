//! The plan: the cheapest set of methods that would exclude everything the desk watches for, if the piece reads as declared.
//!
//! There are six methods that leave a piece whole, so all sets of them are tried. A method whose power is nil here is in no plan. What
//! no method excludes is named before the first test, with the money that it stands for.

use super::assessment::Construction;
use super::cells::Cells;
use super::doubt::{Cost, Damage, Method};
use super::second::{Deepest, Figure, PLANNED, figure_of, plan};
use super::standard::Standard;
use super::trial::Trial;
use crate::quantity::{Frequency, Money};
use crate::reference::MaterialId;
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// What would settle what is open about a piece.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    /// The methods, cheapest first; empty where none can do anything.
    pub steps: Vec<PlanStep>,
    /// What none of them excludes, most first; empty for a plan that settles all.
    pub remainder: Vec<Remainder>,
    /// The most that the remainder could displace, where a price is known.
    pub at_risk: Option<Money>,
}

/// One method of a plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlanStep {
    /// The method.
    pub method: Method,
    /// What it takes, by the policy.
    pub cost: Cost,
    /// Whether it has to be swept over the whole face: a single spot sees no rods beside it.
    pub swept: bool,
    /// What a good piece reads, from and to; `None` for a method that shows a sign and no number.
    pub good: Option<(Figure, Figure)>,
    /// What the first-named alternative reads.
    pub other: Option<OtherReading>,
    /// The probe of the desk, for a deeper reading.
    pub probe: Option<String>,
    /// Its frequency, or the one that does where the desk names no probes.
    pub frequency: Option<Frequency>,
}

/// What an alternative reads.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OtherReading {
    /// The material.
    pub material: MaterialId,
    /// Its name in words.
    pub name: Arc<str>,
    /// From and to.
    pub reads: (Figure, Figure),
}

/// Something that no method of a plan excludes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Remainder {
    /// The material.
    pub material: MaterialId,
    /// Its name in words.
    pub name: Arc<str>,
    /// How it is built.
    pub construction: Construction,
}

impl Plan {
    /// Tells whether the methods settle all that is open.
    pub fn settles(&self) -> bool {
        self.remainder.is_empty()
    }
}

/// What is open about a piece, and what of its two independent quantities was asked.
pub(super) struct Open<'o> {
    /// Watched cells that are left.
    pub(super) cells: &'o Cells,
    /// Whether density has to be asked still, for what no list names.
    pub(super) density: bool,
    /// Whether sound has to be asked still.
    pub(super) sound: bool,
}

impl Open<'_> {
    fn is_nothing(&self) -> bool {
        self.cells.is_empty() && !self.density && !self.sound
    }
}

/// Makes the plan; `None` when nothing is open.
///
/// `tested`: methods from which something followed already; they are not proposed again.
pub(super) fn make(
    trial: &Trial<'_>,
    standard: &Standard,
    open: &Open<'_>,
    tested: &[Method],
) -> Option<Plan> {
    if open.is_nothing() {
        return None;
    }
    let done = |method: Method| method != Method::Conductivity && tested.contains(&method);
    let free: Vec<usize> = (0..PLANNED.len())
        .filter(|place| {
            let told = &standard.told[*place];
            told.cells.is_ok()
                && !done(told.method)
                && trial.policy.methods.cost(told.method).damage != Damage::Destroys
        })
        .collect();
    let told = |place: usize| standard.told[place].cells.as_ref().ok();
    let needs = |set: &[usize]| {
        let any = |wanted: &[Method]| set.iter().any(|place| wanted.contains(&PLANNED[*place]));
        usize::from(open.density && !any(&DENSITY)) + usize::from(open.sound && !any(&SOUND))
    };
    let left_by = |set: &[usize]| {
        set.iter().filter_map(|place| told(*place)).fold(open.cells.clone(), |left, told| left.without(told))
    };
    // What is left when everything is tried decides what a plan can be asked for at all; where that is something, what it could
    // displace counts, and a step that leaves as much at risk is not worth its time.
    let (least, unmet) = (left_by(&free), needs(&free));
    let most_of = |left: &Cells| left.iter().map(|cell| standard.grid.displaced[cell]).fold(0.0, f64::max);
    let most_left = most_of(&least);
    let mut best: Option<(rust_decimal::Decimal, usize, Vec<usize>)> = None;
    for chosen in 0u32..1 << free.len() {
        let set: Vec<usize> = free
            .iter()
            .enumerate()
            .filter(|(bit, _)| chosen >> bit & 1 == 1)
            .map(|(_, place)| *place)
            .collect();
        let price = set.iter().map(|place| trial.policy.methods.price(PLANNED[*place]).amount).sum();
        if best.as_ref().is_some_and(|(dear, many, _)| (*dear, *many) <= (price, set.len())) {
            continue;
        }
        let left = left_by(&set);
        let enough = if least.is_empty() { left.is_empty() } else { most_of(&left) <= most_left };
        if needs(&set) <= unmet && enough {
            best = Some((price, set.len(), set));
        }
    }
    let least = best.as_ref().map_or(least, |(_, _, set)| left_by(set));
    let mut set = best.map(|(_, _, set)| set).unwrap_or_default();
    set.sort_by_key(|place| trial.policy.methods.rank(PLANNED[*place]));
    let steps = set.into_iter().map(|place| step(trial, standard, PLANNED[place], open.cells)).collect();
    let remainder = remainder(trial, standard, &least);
    let most = most_of(&least);
    let at_risk = standard.value.filter(|_| !remainder.is_empty()).map(|value| trial.money(most * value));
    Some(Plan { steps, remainder, at_risk })
}

/// Methods that ask density, and those that ask sound.
pub(super) const DENSITY: [Method; 1] = [Method::Immersion];
pub(super) const SOUND: [Method; 2] = [Method::Ultrasound, Method::Ring];

/// Returns what one step shows of a good piece and of the first alternative that it tells.
pub(super) fn step(trial: &Trial<'_>, standard: &Standard, method: Method, open: &Cells) -> PlanStep {
    let cost = trial.policy.methods.cost(method);
    let grid = &standard.grid;
    let mut step =
        PlanStep { method, cost, swept: false, good: None, other: None, probe: None, frequency: None };
    let beside = open.iter().any(|cell| grid.entry_of(cell).built == Construction::Insert);
    step.swept = method == Method::Ultrasound && beside;
    let (Ok(planned), Some(figure)) = (plan(trial, method), figure_of(method)) else { return step };
    step.good = Some((figure(planned.declared.low), figure(planned.declared.high)));
    if let (Method::Conductivity, Ok(deepest)) = (method, Deepest::of(trial)) {
        step.frequency = Some(deepest.frequency);
        step.probe = deepest.probe.map(|probe| probe.name.clone());
    }
    let told =
        standard.told.iter().find(|told| told.method == method).and_then(|told| told.cells.as_ref().ok());
    let first = told.and_then(|told| open.and(told).iter().next());
    step.other = first.and_then(|cell| {
        let entry = grid.entry_of(cell);
        let [thin, _] = grid.ends(trial.catalogue, trial.geometry, entry, cell)?;
        let reads = planned.predicts.range(&thin)?;
        Some(OtherReading {
            material: thin.material.id.clone(),
            name: thin.material.name.clone(),
            reads: (figure(reads.low), figure(reads.high)),
        })
    });
    step
}

/// Names what is left of some cells, each material and construction once, in the order of the grid.
fn remainder(trial: &Trial<'_>, standard: &Standard, left: &Cells) -> Vec<Remainder> {
    let entries = standard.grid.entries.iter();
    let materials = trial.catalogue.all_materials();
    entries
        .filter(|entry| entry.cells.clone().any(|cell| left.has(cell)))
        .map(|entry| {
            let material = &materials[entry.material];
            let (name, id) = (material.name.clone(), material.id.clone());
            Remainder { material: id, name, construction: entry.built }
        })
        .collect()
}
