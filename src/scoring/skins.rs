//! The skins that are tried on a piece, and the intervals that survive.

use super::geometry::Geometry;
use super::scans::THINNEST_MM;
use super::second::CoreShape;
use super::suspects::NO_CORE;

/// Steps from the end of a table to half the thickness of a piece.
const STEPS_BELOW: u32 = 40;

/// The skins that are tried on a piece, each with the size of the core under it.
pub(super) struct Scan {
    /// Rising skins, so falling shares.
    pub(super) steps: Vec<CoreShape>,
}

impl Scan {
    /// Takes the depths of a table, in skin depths of `depth` mm, up to half the thickness. Below the table's end, where a core
    /// answers as at the end, even steps go on to half the thickness, so that no core is forgotten because it lies deep. Without a
    /// table, 200 even steps.
    pub(super) fn of(geometry: &Geometry, thickness: f64, table: Option<(&[f64], f64)>) -> Self {
        let half = thickness / 2.0;
        let mut skins: Vec<f64> = match table {
            Some((depths, depth)) => {
                depths.iter().map(|d| (d * depth).max(THINNEST_MM)).take_while(|skin| *skin <= half).collect()
            }
            None => (0..=200).map(|i| (f64::from(i) * half / 200.0).max(THINNEST_MM)).collect(),
        };
        let last = skins.last().copied().unwrap_or(THINNEST_MM).min(half);
        let at_end = table.is_some_and(|(depths, _)| skins.len() == depths.len());
        let steps = if at_end { STEPS_BELOW } else { 1 };
        if last < half {
            skins.extend((1..=steps).map(|i| last + (half - last) * f64::from(i) / f64::from(steps)));
        }
        Scan { steps: skins.into_iter().map(|skin| geometry.core_shape(thickness, skin)).collect() }
    }

    /// Returns the number of steps at which there is a core to speak of.
    pub(super) fn with_core(&self) -> usize {
        self.steps.partition_point(|shape| shape.share > NO_CORE)
    }
}

/// Collects steps into closed intervals.
pub(super) struct Intervals<'v> {
    open: Option<(f64, f64)>,
    done: &'v mut Vec<(f64, f64)>,
}

impl<'v> Intervals<'v> {
    pub(super) fn new(done: &'v mut Vec<(f64, f64)>) -> Self {
        Intervals { open: None, done }
    }

    /// Adds the next step; `inside` tells whether it belongs to an interval.
    pub(super) fn step(&mut self, at: f64, inside: bool) {
        match (&mut self.open, inside) {
            (Some((_, end)), true) => *end = at,
            (None, true) => self.open = Some((at, at)),
            (Some(_), false) => self.done.extend(self.open.take()),
            (None, false) => {}
        }
    }

    /// Ends the last interval.
    pub(super) fn close(&mut self) {
        self.done.extend(self.open.take());
    }
}
