//! What a build would show to a method: one prediction, used before the test (power) and after it (exclusion).

use crate::metrology::normal;
use crate::reference::Material;
use crate::scoring::assessment::{Construction, Outcome};
use crate::scoring::geometry::Measured;
use crate::scoring::policy::Policy;

/// Distance in standard uncertainties beyond which a reading excludes a build (two-sided 1 in 1000).
pub(crate) const EXCLUDES_AT: f64 = 3.29;
/// Gap in standard uncertainties from which a test is worth its time: with the threshold midway, 1 in 1000 of either build
/// falls on the wrong side (2·z of that tail; [`crate::physics::immersion::uncertainty_to_tell_apart`]).
pub(crate) const TELLS_APART_AT: f64 = 6.18;

/// A material throughout, or as a core under a skin of the declared alloy.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Build<'a> {
    pub(crate) material: &'a Material,
    /// Place of the material in the catalogue.
    pub(crate) index: usize,
    /// `None` for a solid.
    pub(crate) core: Option<CoreShape>,
}

impl Build<'_> {
    /// Returns how it is built.
    pub(crate) fn construction(&self) -> Construction {
        if self.core.is_some() { Construction::Core } else { Construction::Solid }
    }
}

/// The size of a core.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct CoreShape {
    /// Thickness of the skin in mm.
    pub(crate) skin: f64,
    /// Share of the piece's volume.
    pub(crate) share: f64,
    /// Share of the piece's thickness.
    pub(crate) linear: f64,
}

/// An interval of values, in the method's unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Range {
    pub(crate) low: f64,
    pub(crate) high: f64,
}

impl Range {
    /// Makes the range between two values in any order.
    pub(crate) fn between(a: f64, b: f64) -> Self {
        Range { low: a.min(b), high: a.max(b) }
    }

    /// Returns the distance to another range; 0 where they overlap.
    pub(crate) fn gap(self, other: Range) -> f64 {
        (self.low - other.high).max(other.low - self.high).max(0.0)
    }

    /// Returns the smallest range around this one and another.
    pub(crate) fn around(self, other: Range) -> Range {
        Range { low: self.low.min(other.low), high: self.high.max(other.high) }
    }

    /// Widens the range by a share of its ends.
    pub(crate) fn widened(self, share: f64) -> Self {
        Range { low: self.low * (1.0 - share), high: self.high * (1.0 + share) }
    }
}

/// What a method would show of any build of one piece.
pub(crate) trait Predicts {
    /// Returns what a build can show, published ranges included; `None` when the method says nothing about it.
    fn range(&self, build: &Build<'_>) -> Option<Range>;

    /// Returns what the piece shows if it is as declared.
    fn declared(&self, declared: &Build<'_>) -> Option<Range> {
        self.range(declared)
    }

    /// Returns what a build would show by the published values alone, for words.
    fn centre(&self, build: &Build<'_>) -> Option<f64> {
        self.range(build).map(|range| f64::midpoint(range.low, range.high))
    }

    /// Returns the share by which the prediction itself may be off, at 3.29 u.
    fn tolerance(&self, _build: &Build<'_>) -> f64 {
        0.0
    }

    /// Tells whether the build gives itself away without a number: an echo, a foreign line, attraction.
    fn sign(&self, _build: &Build<'_>) -> bool {
        false
    }

    /// Tells whether the method takes in what lies beside the measuring points: the whole piece, or a sweep over its face.
    fn sees_inserts(&self) -> bool {
        false
    }

    /// Tells whether what was seen, or was looked for and not seen, excludes the build.
    fn sign_excludes(&self, _build: &Build<'_>) -> bool {
        false
    }
}

/// Returns how many standard uncertainties a value lies outside a range, the prediction's own error joined to the reading's;
/// 0 inside.
pub(crate) fn distance(measured: Measured, range: Range, tolerance: f64) -> f64 {
    let beyond = (range.low - measured.value).max(measured.value - range.high).max(0.0);
    if beyond == 0.0 {
        return 0.0;
    }
    beyond / joined(measured.u, measured.value.clamp(range.low, range.high), tolerance)
}

/// Tells whether a value lies at least 3.29 standard uncertainties outside a range: [`distance`] without root and quotient,
/// because it is asked for every skin of every core.
pub(crate) fn excludes(measured: Measured, range: Range, tolerance: f64) -> bool {
    let beyond = (range.low - measured.value).max(measured.value - range.high);
    let model = measured.value.clamp(range.low, range.high) * tolerance;
    let reading = EXCLUDES_AT * measured.u;
    beyond > 0.0 && beyond * beyond >= reading * reading + model * model
}

/// Joins the uncertainty of a reading with the error of a prediction, given as a share at 3.29 u.
fn joined(u: f64, predicted: f64, tolerance: f64) -> f64 {
    u.hypot(predicted * tolerance / EXCLUDES_AT)
}

/// A method as it would be used on this piece.
pub(crate) struct Plan {
    pub(crate) predicts: Box<dyn Predicts>,
    /// Standard uncertainty to expect, in the method's unit.
    pub(crate) u: f64,
    /// What the declared alloy shows.
    pub(crate) declared: Range,
    /// What it shows by the published value.
    pub(crate) good: f64,
}

impl Plan {
    /// Tells whether the test would tell a build from the declared alloy.
    pub(crate) fn tells_apart(&self, build: &Build<'_>) -> bool {
        self.predicts.sign(build)
            || self
                .predicts
                .range(build)
                .is_some_and(|range| self.tells(range, self.predicts.tolerance(build)))
    }

    /// Tells whether the test would tell every body of a cell, given by its two ends, from the declared alloy.
    pub(crate) fn tells_cell(&self, ends: &[Build<'_>; 2], built: Construction) -> bool {
        if built == Construction::Insert && !self.predicts.sees_inserts() {
            return false;
        }
        let [thin, thick] = ends;
        if self.predicts.sign(thin) || self.predicts.sign(thick) {
            return self.tells_apart(thin) && self.tells_apart(thick);
        }
        match (self.predicts.range(thin), self.predicts.range(thick)) {
            (Some(a), Some(b)) => {
                let tolerance = self.predicts.tolerance(thin).max(self.predicts.tolerance(thick));
                self.tells(a.around(b), tolerance)
            }
            _ => false,
        }
    }

    /// Tells whether the result of a good piece would exclude a range, in 99 of 100 cases: good pieces read about the published value, a
    /// sixth of the range being their standard deviation, and by the test's own uncertainty. `tolerance` is the share by which the
    /// prediction may be off, at 3.29 u.
    fn tells(&self, range: Range, tolerance: f64) -> bool {
        let (from, near) =
            if range.low > self.good { (range.low, range.low) } else { (range.high, range.high) };
        let gap = (from - self.good).abs();
        if (range.low..=range.high).contains(&self.good) {
            return false;
        }
        let scatter = SCATTER_SHARE * (self.declared.high - self.declared.low);
        gap >= EXCLUDES_AT * joined(self.u, near, tolerance) + IN_99_OF_100 * self.u.hypot(scatter)
    }
}

/// Standard deviation of good pieces, as a share of the published range (assumed: the range holds nearly all of them).
const SCATTER_SHARE: f64 = 1.0 / 6.0;
/// One-sided 1 in 100.
const IN_99_OF_100: f64 = 2.33;

/// A second test that was made, ready for comparison.
pub(crate) struct Look {
    pub(crate) predicts: Box<dyn Predicts>,
    /// What was measured, in the method's unit; `None` for a test without a number.
    pub(crate) measured: Option<Measured>,
}

impl Look {
    /// Returns how many standard uncertainties the result lies from all that a build can show; infinite when a sign excludes
    /// it.
    pub(crate) fn distance(&self, build: &Build<'_>) -> f64 {
        if self.predicts.sign_excludes(build) {
            return f64::INFINITY;
        }
        match (self.measured, self.predicts.range(build)) {
            (Some(measured), Some(range)) => distance(measured, range, self.predicts.tolerance(build)),
            _ => 0.0,
        }
    }

    /// Returns how far the result lies from all that the bodies of a cell can show, given by its two ends; 0 where the method says
    /// nothing about it.
    pub(crate) fn distance_of_cell(&self, ends: &[Build<'_>; 2], built: Construction) -> f64 {
        if built == Construction::Insert && !self.predicts.sees_inserts() {
            return 0.0;
        }
        let [thin, thick] = ends;
        let by_ends = self.distance(thin).min(self.distance(thick));
        if self.predicts.sign_excludes(thin) || self.predicts.sign_excludes(thick) {
            return by_ends;
        }
        match (self.measured, self.predicts.range(thin), self.predicts.range(thick)) {
            (Some(measured), Some(a), Some(b)) => {
                let tolerance = self.predicts.tolerance(thin).max(self.predicts.tolerance(thick));
                by_ends.min(distance(measured, a.around(b), tolerance))
            }
            _ => by_ends,
        }
    }

    /// Tells whether the result excludes every body of a cell, given by its two ends.
    pub(crate) fn excludes_cell(&self, ends: &[Build<'_>; 2], built: Construction) -> bool {
        self.distance_of_cell(ends, built) >= EXCLUDES_AT
    }
}

/// Says whether a result agrees with what the declared alloy can show.
///
/// Outside when the value lies beyond the range with all but the policy's `outside` probability, marginal when with the policy's
/// `inside` probability: a second test accuses only what it has seen. Where its own U is wider than the range the probability says
/// little: then it is marginal from 3.29 u beyond the range and outside from twice that (assumed: its u may be understated by half).
pub(crate) fn agreement(measured: Measured, declared: Range, policy: &Policy) -> Outcome {
    if 2.0 * measured.u > declared.high - declared.low {
        let far = distance(measured, declared, 0.0);
        return match far {
            _ if far >= 2.0 * EXCLUDES_AT => Outcome::Outside,
            _ if far >= EXCLUDES_AT => Outcome::Marginal,
            _ => Outcome::Inside,
        };
    }
    let below = normal::cumulative((declared.low - measured.value) / measured.u);
    let above = normal::cumulative((measured.value - declared.high) / measured.u);
    let beyond = below.max(above);
    if beyond >= 1.0 - policy.outside {
        Outcome::Outside
    } else if beyond >= policy.inside {
        Outcome::Marginal
    } else {
        Outcome::Inside
    }
}
