//! From what is left of the grid to candidates: each material, how it is built, what excluded it or what of it is left, what it is
//! worth, and whom it concerns.

use super::assessment::{Candidate, Construction, Scope};
use super::cells::Cells;
use super::exclusion::Exclusion;
use super::grid::Entry;
use super::second::{EXCLUDES_AT, Look};
use super::standard::Standard;
use super::survey::{By, Survey, nearest};
use super::tables::{MODEL_SHARE, core_range};
use super::trial::Trial;
use super::{doubt::Method, second};
use std::ops::Range;

/// What is open about a piece: what is watched for and left, and whether it lies in what good pieces leave open too.
pub(super) struct Openings {
    /// Watched cells that are left.
    pub(super) cells: Cells,
    /// Of them those that the first readings of a good piece hardly ever leave open.
    pub(super) odd: Cells,
}

impl Openings {
    pub(super) fn of(standard: &Standard, survey: &Survey) -> Self {
        let cells = survey.left.and(&standard.watched);
        let odd = cells.without(&standard.ordinary);
        Openings { cells, odd }
    }

    /// Returns whom the open cells of one way of building concern; `None` when there are none.
    ///
    /// What every piece of the lot shares, because the probe reaches no deeper, is for the lot; what a good piece hardly ever leaves
    /// open is for the piece, and so is everything about a piece that came alone.
    pub(super) fn scope(&self, standard: &Standard, solid: bool, lot_size: u32) -> Option<Scope> {
        let solids = standard.grid.solids;
        let built = |cell: usize| (cell < solids) == solid;
        if self.cells.iter().any(built) && (lot_size < 2 || self.odd.iter().any(built)) {
            Some(Scope::Piece)
        } else {
            self.cells.iter().any(built).then_some(Scope::Lot)
        }
    }
}

/// Returns every candidate: doubts of the piece, of the lot, remarks, excluded, in each in the order of the grid.
pub(super) fn all(
    trial: &Trial<'_>,
    standard: &Standard,
    survey: &Survey,
    openings: &Openings,
    looks: &[(Method, &Look)],
) -> Vec<Candidate> {
    let scopes = [true, false].map(|solid| openings.scope(standard, solid, trial.lot_size));
    let mut candidates: Vec<Candidate> = standard
        .grid
        .entries
        .iter()
        .filter(|entry| !entry.cells.is_empty())
        .map(|entry| one(trial, standard, survey, openings, looks, entry, scopes))
        .collect();
    candidates.sort_by_key(|candidate| match (candidate.survives, candidate.material_doubt) {
        (true, Some(Scope::Piece)) => 0,
        (true, Some(Scope::Lot)) => 1,
        (true, None) => 2,
        (false, _) => 3,
    });
    candidates
}

fn one(
    trial: &Trial<'_>,
    standard: &Standard,
    survey: &Survey,
    openings: &Openings,
    looks: &[(Method, &Look)],
    entry: &Entry,
    [of_solids, of_cores]: [Option<Scope>; 2],
) -> Candidate {
    let grid = &standard.grid;
    let material = &trial.catalogue.all_materials()[entry.material];
    let left: Vec<usize> = entry.cells.clone().filter(|cell| survey.left.has(*cell)).collect();
    let survives = !left.is_empty();
    let open = entry.cells.clone().any(|cell| openings.cells.has(cell));
    let most = |column: &[f64]| left.iter().map(|cell| column[*cell]).fold(0.0, f64::max);
    let scope = if entry.built == Construction::Solid { of_solids } else { of_cores };
    Candidate {
        material: material.id.clone(),
        name: material.name.clone(),
        construction: entry.built,
        survives,
        skins: grid.skins(entry, &left),
        hidden_share: survives.then(|| most(&grid.share)),
        displaced: standard
            .value
            .filter(|_| survives)
            .map(|value| trial.money(value * most(&grid.displaced))),
        material_doubt: scope.filter(|_| open),
        practice: Some(entry.practice),
        excluded_by: (!survives).then(|| why_excluded(trial, standard, survey, looks, entry)),
        outside_model: entry.built == Construction::Core
            && trial.conductivity.is_some()
            && grid.reads.low[entry.cells.start] == f64::NEG_INFINITY,
    }
}

/// Says what excluded all cells of an entry: one mask that did by itself, else the last that took the rest.
fn why_excluded(
    trial: &Trial<'_>,
    standard: &Standard,
    survey: &Survey,
    looks: &[(Method, &Look)],
    entry: &Entry,
) -> Exclusion {
    let alone = survey.masks.iter().find(|(_, mask)| entry.cells.clone().all(|cell| mask.has(cell)));
    let last = || survey.masks.iter().rev().find(|(_, mask)| entry.cells.clone().any(|cell| mask.has(cell)));
    match alone.or_else(last).map(|(by, _)| *by) {
        Some(By::Size) => by_size(trial, standard, entry),
        Some(By::Magnet) => Exclusion::Magnet,
        Some(By::Conductivity) => by_conductivity(trial, standard, entry, alone.is_some()),
        Some(By::Second(method)) => {
            let grid = &standard.grid;
            let of = |cell: usize| {
                let ends = grid.ends(trial.catalogue, trial.geometry, entry, cell)?;
                let of = looks.iter().filter(|(known, _)| *known == method);
                of.map(|(_, look)| look.distance_of_cell(&ends, entry.built)).reduce(f64::max)
            };
            let distance = entry.cells.clone().filter(|cell| survey.before.has(*cell)).filter_map(of);
            let distance = distance.reduce(f64::min).unwrap_or(EXCLUDES_AT);
            Exclusion::SecondTest { method, distance }
        }
        None => Exclusion::NoSkin,
    }
}

fn by_size(trial: &Trial<'_>, standard: &Standard, entry: &Entry) -> Exclusion {
    let Some(envelope) = trial.geometry.envelope_density else { return Exclusion::NoSkin };
    let column = &standard.grid.density;
    let bounds = |cells: Range<usize>| {
        let low = cells.clone().map(|cell| column.low[cell]).fold(f64::INFINITY, f64::min);
        (low, cells.map(|cell| column.high[cell]).fold(f64::NEG_INFINITY, f64::max))
    };
    let (low, high) = bounds(entry.cells.clone());
    let least = envelope.value - EXCLUDES_AT * envelope.u;
    if least > high {
        return Exclusion::TooLight { least, greatest: high };
    }
    let typed = standard.fill.as_ref().and_then(|fill| super::density::density_of(trial.geometry, fill));
    match typed {
        Some(measured) => {
            let range = second::Range { low, high };
            let distance = second::distance(measured, range, 0.0);
            Exclusion::TypeDensity { value: measured.value, u: measured.u, distance, low, high }
        }
        None => Exclusion::TooHeavy { fill: envelope.value / low },
    }
}

fn by_conductivity(trial: &Trial<'_>, standard: &Standard, entry: &Entry, alone: bool) -> Exclusion {
    let Some(measured) = trial.conductivity else { return Exclusion::NoSkin };
    match entry.built {
        Construction::Solid => {
            let material = &trial.catalogue.all_materials()[entry.material];
            let (low, high) = core_range(material);
            let distance = second::distance(measured, second::Range { low, high }, 0.0);
            Exclusion::Conductivity { value: measured.value, distance, low, high }
        }
        _ if alone => Exclusion::UnderAnySkin {
            distance: nearest(&standard.grid, measured, entry.cells.clone(), MODEL_SHARE),
        },
        _ => Exclusion::NoSkin,
    }
}
