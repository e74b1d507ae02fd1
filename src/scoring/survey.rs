//! What the readings and second tests of one piece exclude: each a mask over the grid, and what no mask took is what the piece could
//! still be. Nothing else decides a candidate.

use super::cells::Cells;
use super::density::density_of;
use super::doubt::Method;
use super::geometry::Measured;
use super::grid::Grid;
use super::second::{EXCLUDES_AT, Look, distance};
use super::standard::Standard;
use super::tables::MODEL_SHARE;
use super::trial::Trial;
use crate::evidence::MagnetResponse;
use crate::reference::{Kind, Magnetism};

/// What took cells away.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum By {
    /// Mass, size, and how much of their envelope such pieces fill.
    Size,
    /// A magnet that did not attract.
    Magnet,
    /// The conductivity reading.
    Conductivity,
    /// A second test.
    Second(Method),
}

/// What one piece leaves of the grid.
pub(super) struct Survey {
    /// What each reading and test excludes.
    pub(super) masks: Vec<(By, Cells)>,
    /// What the first readings leave, before any second test.
    pub(super) before: Cells,
    /// What is left.
    pub(super) left: Cells,
}

impl Survey {
    /// Asks every reading and second test.
    pub(super) fn of(trial: &Trial<'_>, standard: &Standard, looks: &[(Method, &Look)]) -> Self {
        let grid = &standard.grid;
        let mut masks = vec![(By::Size, by_size(trial, standard))];
        if trial.evidence.presentation.magnet == Some(MagnetResponse::None) {
            masks.push((By::Magnet, by_magnet(trial, grid)));
        }
        if let Some(measured) = trial.conductivity {
            masks.push((By::Conductivity, by_conductivity(grid, measured)));
        }
        let all = Cells::of(grid.len(), |_| true);
        let before = masks.iter().fold(all, |left, (_, mask)| left.without(mask));
        let mut left = before.clone();
        for (method, look) in looks {
            let mask = Cells::of(grid.len(), |cell| {
                before.has(cell) && {
                    let entry = grid.entry_of(cell);
                    let ends = grid.ends(trial.catalogue, trial.geometry, entry, cell);
                    ends.is_some_and(|ends| look.excludes_cell(&ends, entry.built))
                }
            });
            left = left.without(&mask);
            masks.push((By::Second(*method), mask));
        }
        Survey { masks, before, left }
    }
}

/// Returns the cells that a conductivity reading excludes.
fn by_conductivity(grid: &Grid, measured: Measured) -> Cells {
    let solid = Excluded::by(measured, 0.0);
    let core = Excluded::by(measured, MODEL_SHARE);
    let (low, high) = (&grid.reads.low, &grid.reads.high);
    Cells::of(grid.len(), |cell| {
        let limits = if cell < grid.solids { &solid } else { &core };
        limits.excludes(low[cell], high[cell])
    })
}

/// Returns the cells that mass and size exclude: by the envelope, which bounds the density from below, and by the fill of the type
/// where it is known.
pub(super) fn by_size(trial: &Trial<'_>, standard: &Standard) -> Cells {
    let grid = &standard.grid;
    let Some(envelope) = trial.geometry.envelope_density else { return Cells::none(grid.len()) };
    let margin = EXCLUDES_AT * envelope.u;
    let (at_least, at_most) = (envelope.value - margin, envelope.value + margin);
    let coin = trial.product.kind == Kind::Coin;
    let impossible = if coin { trial.policy.fill_impossible } else { 0.0 };
    let typed = standard.fill.as_ref().and_then(|fill| density_of(trial.geometry, fill));
    let typed = typed.map(|measured| Excluded::by(measured, 0.0));
    let (low, high) = (&grid.density.low, &grid.density.high);
    Cells::of(grid.len(), |cell| {
        high[cell] < at_least
            || impossible * low[cell] > at_most
            || typed.is_some_and(|typed| typed.excludes(low[cell], high[cell]))
    })
}

/// Returns the cells that a magnet that did not attract excludes.
fn by_magnet(trial: &Trial<'_>, grid: &Grid) -> Cells {
    let materials = trial.catalogue.all_materials();
    Cells::of(grid.len(), |cell| {
        materials[grid.entry_of(cell).material].magnetism.value == Magnetism::Ferromagnetic
    })
}

/// What a reading excludes of all that a cell can show: every range that ends at or below `below`, and every one that begins at or
/// above `above`.
///
/// The ends of [`distance`] = 3.29 solved for the prediction: (p − v)² = (3.29 u)² + (share·p)².
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Excluded {
    below: f64,
    above: f64,
}

impl Excluded {
    /// Solves for a reading compared with a prediction that may be off by a share.
    pub(super) fn by(measured: Measured, share: f64) -> Self {
        let (value, reading) = (measured.value, EXCLUDES_AT * measured.u);
        let rest = 1.0 - share * share;
        let root = (share * share * value * value + rest * reading * reading).sqrt();
        // Without any uncertainty the ends meet in the reading, which excludes nothing that contains it.
        let below = ((value - root) / rest).min(value.next_down());
        Excluded { below, above: ((value + root) / rest).max(value.next_up()) }
    }

    /// Tells whether a prediction is excluded.
    pub(super) fn excludes(self, low: f64, high: f64) -> bool {
        low >= self.above || high <= self.below
    }
}

/// Returns how near a reading comes to what any of some cells can show, in standard uncertainties.
pub(super) fn nearest(grid: &Grid, measured: Measured, cells: std::ops::Range<usize>, share: f64) -> f64 {
    cells.map(|cell| distance(measured, grid.reads.at(cell), share)).fold(f64::INFINITY, f64::min)
}

#[cfg(test)]
mod tests {
    use super::super::second::{Range, excludes};
    use super::*;
    use crate::metrology::seeded::SplitMix64;

    #[test]
    fn solved_ends_exclude_what_the_distance_excludes() {
        let mut noise = SplitMix64::new(11);
        for _ in 0..20_000 {
            let measured = Measured { value: 20.0 + 40.0 * noise.uniform(), u: noise.uniform() };
            let low = 15.0 + 50.0 * noise.uniform();
            let range = Range { low, high: low + 3.0 * noise.uniform() };
            for share in [0.0, MODEL_SHARE] {
                let solved = Excluded::by(measured, share).excludes(range.low, range.high);
                assert_eq!(solved, excludes(measured, range, share), "{measured:?} {range:?}");
            }
        }
    }

    #[test]
    fn a_reading_without_uncertainty_leaves_what_holds_it() {
        let excluded = Excluded::by(Measured { value: 0.0, u: 0.0 }, MODEL_SHARE);
        assert!(!excluded.excludes(-1.0, 1.0) && excluded.excludes(0.5, 1.0));
    }
}
