//! What pieces of one product are compared with on one desk: the grid, what the desk watches for in it, what the readings of any
//! good piece leave open, and what each second method tells apart.
//!
//! It depends on product, probe, instruments, price and policy, never on what a piece reads; so it is made once and shared by all
//! pieces. Sizes that the product does not state are taken from the piece, rounded to 2 %, so that pieces alike share it.

use super::assess::{Declared, Rules};
use super::cells::Cells;
use super::conductivity::Verdict;
use super::density::{TypeFill, density_of};
use super::doubt::Method;
use super::geometry::{Geometry, Measured};
use super::grid::{Grid, Made, metal_value};
use super::grounds::Grounds;
use super::second::{EXCLUDES_AT, PLANNED, Plan, Range, plan};
use super::tables::{MODEL_SHARE, Tables};
use super::trial::Trial;
use crate::evidence::{Observation, PieceEvidence};
use crate::quantity::{Conductivity, Quantity, Temperature};
use crate::reference::{Basis, Product, Specified};
use std::collections::HashMap;
use std::sync::{Arc, Mutex};

/// Rounding of a size that the product does not state, as a share.
const ROUNDED_TO: f64 = 0.02;
/// Standard uncertainties by which a cell must lie off the declared range, beyond those that exclude it, before a good piece
/// hardly ever leaves it open: 1 in 100.
const HARDLY_EVER: f64 = 2.33;
/// What gives up on more: nothing the desk has to do with costs so many standards.
const MOST_KEPT: usize = 512;

/// Standards and tables made so far, shared by all assessments of a run.
#[derive(Debug, Default)]
pub struct Standards {
    pub(super) tables: Tables,
    made: Mutex<HashMap<String, Arc<Standard>>>,
}

/// What one planned method tells from a good piece.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Told {
    pub(super) method: Method,
    /// Cells that it tells; the reason when it cannot be used on such pieces.
    pub(super) cells: Result<Cells, String>,
}

/// What pieces of one product are compared with.
#[derive(Debug)]
pub(super) struct Standard {
    pub(super) grid: Grid,
    /// Outline and mass of the pieces.
    pub(super) geometry: Geometry,
    /// Cells that the desk watches for and that pay.
    pub(super) watched: Cells,
    /// Cells that the first readings of a good piece may leave open.
    pub(super) ordinary: Cells,
    /// In the order of [`PLANNED`].
    pub(super) told: Vec<Told>,
    /// How much of their envelope pieces of the type fill.
    pub(super) fill: Option<TypeFill>,
    /// Value of the fine metal in a piece, where a price is known.
    pub(super) value: Option<f64>,
}

impl Standards {
    /// Returns what a piece is compared with, making it at the first request.
    pub(super) fn of(
        &self,
        rules: &Rules<'_>,
        declared: &Declared<'_>,
        evidence: &PieceEvidence,
    ) -> Arc<Standard> {
        let typical = typical(rules, declared.product, evidence);
        let key = format!(
            "{}|{}|{}|{}|{:?}|{:?}|{:?}|{:?}|{:?}|{:?}",
            declared.product.id,
            declared.type_book.map_or("", |book| book.version()),
            rules.catalogue.version(),
            rules.policy.version(),
            declared.price,
            typical,
            rules.instruments.scale,
            rules.instruments.calliper,
            rules.instruments.meter,
            rules.instruments.gauge(),
        );
        if let Some(known) =
            self.made.lock().expect("no thread panics while it holds the standards").get(&key)
        {
            return Arc::clone(known);
        }
        let made = Arc::new(Standard::of(rules, declared, &typical));
        let mut kept = self.made.lock().expect("no thread panics while it holds the standards");
        if kept.len() >= MOST_KEPT {
            kept.clear();
        }
        Arc::clone(kept.entry(key).or_insert(made))
    }
}

impl Standard {
    fn of(rules: &Rules<'_>, declared: &Declared<'_>, typical: &PieceEvidence) -> Self {
        let grounds = Grounds::of(rules, declared, typical);
        let trial = grounds.trial(rules, declared);
        let table = typical.probe.as_ref().and_then(|probe| trial.table_of(probe).ok());
        let depth = typical.probe.as_ref().and_then(|probe| trial.skin_depth(probe));
        let grid = Grid::of(&Made {
            catalogue: rules.catalogue,
            product: declared.product,
            alloy: grounds.alloy,
            geometry: &grounds.geometry,
            table: table.as_deref().zip(depth),
        });
        let fill = TypeFill::of(declared, grounds.alloy, rules.policy, typical.presentation.circulated);
        let value = trial
            .piece_mass()
            .zip(grounds.price)
            .map(|(grams, price)| metal_value(declared.product, grams, price.as_f64()));
        let watched = watched(&trial, &grid, value);
        let ordinary = ordinary(&trial, &grid, fill.as_ref());
        let told = PLANNED.map(|method| told(&trial, &grid, method, &watched)).into();
        Standard { grid, geometry: grounds.geometry.clone(), watched, ordinary, told, fill, value }
    }

    /// Tells whether a piece is dear enough that mixtures which no list names are asked for too.
    pub(super) fn asks_two_quantities(&self, trial: &Trial<'_>) -> bool {
        let limit = trial.policy.watch.two_quantities;
        self.value.is_some_and(|value| value >= limit)
    }
}

/// Returns the cells that the policy watches for and that pay.
fn watched(trial: &Trial<'_>, grid: &Grid, value: Option<f64>) -> Cells {
    let (watch, grams) = (&trial.policy.watch, trial.piece_mass().unwrap_or(0.0));
    let mut cells = Cells::none(grid.len());
    for entry in grid.entries.iter().filter(|entry| watch.holds(entry.practice)) {
        let pays = Cells::of(grid.len(), |cell| {
            entry.cells.contains(&cell) && {
                let making = watch.making(entry.built, trial.product.kind, grams, grid.thin[cell]);
                let own = grid.mass_share[cell] * grams / 1000.0 * grid.per_kg[cell];
                watch.pays(entry.built, grid.displaced[cell], value, own + making)
            }
        });
        cells.add(&pays);
    }
    cells
}

/// Returns the cells that the first readings of a good piece may leave open: what it reads lies anywhere in the range of the declared
/// alloy, and off by the uncertainty of the readings.
fn ordinary(trial: &Trial<'_>, grid: &Grid, fill: Option<&TypeFill>) -> Cells {
    let far = EXCLUDES_AT + HARDLY_EVER;
    let beyond = |cell: Range, own: Range, u: f64, model: f64| {
        let near = if cell.low > own.high { cell.low } else { cell.high };
        cell.gap(own) >= far * u.hypot(near * model / EXCLUDES_AT)
    };
    let alloy = trial.alloy;
    let reads =
        Range { low: alloy.conductivity.low.as_ms_per_m(), high: alloy.conductivity.high.as_ms_per_m() };
    let weighs = Range { low: alloy.density.low.as_g_per_cm3(), high: alloy.density.high.as_g_per_cm3() };
    let density = fill.and_then(|fill| density_of(trial.geometry, fill));
    Cells::of(grid.len(), |cell| {
        let by_conductivity = trial.conductivity.is_some_and(|measured| {
            let model = if cell < grid.solids { 0.0 } else { MODEL_SHARE };
            beyond(grid.reads.at(cell), reads, measured.u, model)
        });
        let by_density =
            density.is_some_and(|measured: Measured| beyond(grid.density.at(cell), weighs, measured.u, 0.0));
        !by_conductivity && !by_density
    })
}

/// Returns the cells that a method would tell from a good piece.
fn told(trial: &Trial<'_>, grid: &Grid, method: Method, watched: &Cells) -> Told {
    let cells = plan(trial, method).map(|plan: Plan| {
        Cells::of(grid.len(), |cell| {
            watched.has(cell) && {
                let entry = grid.entry_of(cell);
                let ends = grid.ends(trial.catalogue, trial.geometry, entry, cell);
                ends.is_some_and(|ends| plan.tells_cell(&ends, entry.built))
            }
        })
    });
    Told { method, cells }
}

/// Returns the readings that pieces of a product have alike: sizes and mass as the product states them, else as on this piece and
/// rounded; conductivity as the reference expects it.
fn typical(rules: &Rules<'_>, product: &Product, evidence: &PieceEvidence) -> PieceEvidence {
    fn size<Q: Quantity>(
        stated: Option<&Specified<Q>>,
        read: &Option<Observation<Q>>,
    ) -> Option<Observation<Q>> {
        // What is only customary, or a legal bound, says less than the piece itself.
        let firm = |stated: &&Specified<Q>| {
            read.is_none() || (!stated.is_customary() && stated.basis == Basis::Nominal)
        };
        match (stated.filter(firm), read) {
            (Some(stated), read) => {
                let value = stated.nominal.value;
                let step = read.as_ref().map_or(Q::from_base(1), |read| read.step);
                Some(Observation { value, step, stated: None })
            }
            (None, Some(read)) if read.value.base() > 0 => {
                let places = ((read.value.base() as f64).ln() / ROUNDED_TO).round();
                let rounded = (places * ROUNDED_TO).exp().round() as i64;
                Some(Observation { value: Q::from_base(rounded), ..*read })
            }
            (None, _) => None,
        }
    }
    let expected = rules.catalogue.alloy_of(product).conductivity.value;
    let spot = |read: &Observation<Conductivity>| Observation { value: expected, ..*read };
    PieceEvidence {
        mass: size(product.mass.as_ref(), &evidence.mass),
        diameter: size(product.diameter.as_ref(), &evidence.diameter),
        length: size(product.length.as_ref(), &evidence.length),
        width: size(product.width.as_ref(), &evidence.width),
        thickness: size(product.thickness.as_ref(), &evidence.thickness),
        temperature: evidence
            .temperature
            .map(|seen| Observation { value: Temperature::from_celsius(20.0), ..seen }),
        conductivity: evidence.conductivity.iter().map(spot).collect(),
        probe: evidence.probe.clone(),
        presentation: evidence.presentation,
        ..PieceEvidence::default()
    }
}

impl Verdict {
    /// Returns the reading that counts, with its uncertainty.
    pub(super) fn measured(&self) -> Option<Measured> {
        match self {
            Verdict::Usable(usable) => Some(Measured { value: usable.at_20, u: usable.u_with_spread() }),
            _ => None,
        }
    }
}
