//! The skins that are tried on a piece, and the intervals that survive.

use super::geometry::Geometry;
use super::scans::THINNEST_MM;
use super::second::CoreShape;
use super::suspects::NO_CORE;
use std::ops::Range as Steps;

/// Steps from the end of a table to half the thickness of a piece.
const STEPS_BELOW: usize = 40;
/// Steps over half the thickness of a piece without a table.
const STEPS_ALONE: usize = 200;

/// The skins that are tried on a piece, rising; the core under each is sized when it is asked for.
pub(super) struct Scan<'s> {
    geometry: &'s Geometry,
    thickness: f64,
    /// Skins of the table up to half the thickness, in skin depths, with the skin depth in mm.
    table: Option<(&'s [f64], f64)>,
    /// Thickest skin of the table on this piece, in mm.
    last: f64,
    /// Even steps from there to half the thickness.
    even: usize,
}

impl<'s> Scan<'s> {
    /// Takes the depths of a table, in skin depths of `depth` mm, up to half the thickness. Below the table's end, where a core
    /// answers as at the end, even steps go on to half the thickness, so that no core is forgotten because it lies deep. Without a
    /// table, 200 even steps.
    pub(super) fn of(geometry: &'s Geometry, thickness: f64, table: Option<(&'s [f64], f64)>) -> Self {
        let half = thickness / 2.0;
        let Some((depths, depth)) = table else {
            return Scan { geometry, thickness, table: None, last: 0.0, even: STEPS_ALONE };
        };
        let fitting = depths.partition_point(|d| (d * depth).max(THINNEST_MM) <= half);
        let last = depths[..fitting].last().map_or(THINNEST_MM.min(half), |d| (d * depth).max(THINNEST_MM));
        let steps = if fitting == depths.len() { STEPS_BELOW } else { 1 };
        let even = if last < half { steps } else { 0 };
        Scan { geometry, thickness, table: Some((&depths[..fitting], depth)), last, even }
    }

    /// Returns the number of skins.
    pub(super) fn len(&self) -> usize {
        match self.table {
            Some((depths, _)) => depths.len() + self.even,
            None => self.even + 1,
        }
    }

    /// Returns the skin of a step in mm.
    pub(super) fn skin(&self, step: usize) -> f64 {
        let half = self.thickness / 2.0;
        match self.table {
            Some((depths, depth)) if step < depths.len() => (depths[step] * depth).max(THINNEST_MM),
            Some((depths, _)) => {
                self.last + (half - self.last) * (step - depths.len() + 1) as f64 / self.even as f64
            }
            None => (step as f64 * half / self.even as f64).max(THINNEST_MM),
        }
    }

    /// Returns the size of the core under the skin of a step.
    pub(super) fn shape(&self, step: usize) -> CoreShape {
        self.geometry.core_shape(self.thickness, self.skin(step))
    }

    /// Returns the share of the volume that the core under the skin of a step has.
    pub(super) fn share(&self, step: usize) -> f64 {
        self.geometry.core_share(self.thickness, self.skin(step))
    }

    /// Returns all of them.
    pub(super) fn shapes(&self) -> impl Iterator<Item = CoreShape> + '_ {
        (0..self.len()).map(|step| self.shape(step))
    }

    /// Returns the first of a run of steps whose core's share breaks a rule that holds for those before it; its end where none
    /// does.
    pub(super) fn holds_to(&self, run: Steps<usize>, rule: impl Fn(f64) -> bool) -> usize {
        let (mut from, mut to) = (run.start, run.end);
        while from < to {
            let middle = from.midpoint(to);
            if rule(self.share(middle)) { from = middle + 1 } else { to = middle }
        }
        from
    }

    /// Returns the number of steps at which there is a core to speak of.
    pub(super) fn with_core(&self) -> usize {
        self.holds_to(0..self.len(), |share| share > NO_CORE)
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
