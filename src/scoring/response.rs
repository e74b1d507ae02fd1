//! What one core reads under each skin of a scan, in blocks, so that a piece asks a few of them instead of every skin.

use super::geometry::Measured;
use super::scans::MODEL_SHARE;
use super::second::{EXCLUDES_AT, Range};
use std::ops::Range as Steps;

/// Skins of one block, and of one of the wide blocks that are asked first.
const BLOCK: usize = 16;
const WIDE: usize = 8 * BLOCK;

/// Lowest and highest apparent conductivity of one core under each skin of the scan, in MS/m, over the published ranges of
/// skin and core.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Response {
    pub(super) low: Vec<f64>,
    pub(super) high: Vec<f64>,
    blocks: Vec<Block>,
    wide: Vec<Block>,
}

/// Extremes of the readings of one block.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Block {
    low: Range,
    high: Range,
}

impl Block {
    /// Returns the extremes of each block of so many skins.
    fn all(size: usize, low: &[f64], high: &[f64]) -> Vec<Block> {
        let extremes = |values: &[f64]| Range {
            low: values.iter().copied().fold(f64::INFINITY, f64::min),
            high: values.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        };
        let blocks = low.chunks(size).zip(high.chunks(size));
        blocks.map(|(low, high)| Block { low: extremes(low), high: extremes(high) }).collect()
    }

    /// Tells whether a reading leaves all of the block or nothing of it; `None` where it leaves a part.
    fn left(&self, excluded: Excluded) -> Option<bool> {
        if self.low.low >= excluded.above || self.high.high <= excluded.below {
            Some(false)
        } else if self.low.high < excluded.above && self.high.low > excluded.below {
            Some(true)
        } else {
            None
        }
    }
}

/// What a reading excludes of all that a core can show: every range that ends at or below `below`, and every one that begins at or
/// above `above`, in MS/m.
///
/// The ends of [`super::second::excludes`] solved for the prediction: (p − v)² = (3.29 u)² + (share·p)².
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Excluded {
    below: f64,
    above: f64,
}

impl Excluded {
    /// Solves for a reading compared with a model that may be off by [`MODEL_SHARE`].
    pub(super) fn by(measured: Measured) -> Self {
        let (value, reading) = (measured.value, EXCLUDES_AT * measured.u);
        let rest = 1.0 - MODEL_SHARE * MODEL_SHARE;
        let root = (MODEL_SHARE * MODEL_SHARE * value * value + rest * reading * reading).sqrt();
        // Without any uncertainty the ends meet in the reading, which excludes nothing that contains it.
        let below = ((value - root) / rest).min(value.next_down());
        Excluded { below, above: ((value + root) / rest).max(value.next_up()) }
    }

    /// Tells whether a prediction is excluded.
    pub(super) fn excludes(self, low: f64, high: f64) -> bool {
        low >= self.above || high <= self.below
    }
}

impl Response {
    /// Puts the readings under each skin into blocks; both lists have one entry a skin and at least one.
    pub(super) fn new(low: Vec<f64>, high: Vec<f64>) -> Self {
        let (blocks, wide) = (Block::all(BLOCK, &low, &high), Block::all(WIDE, &low, &high));
        Response { low, high, blocks, wide }
    }

    /// Returns what it reads under the skin of a step; below the end of the scan it reads as at the end.
    pub(super) fn at(&self, step: usize) -> Range {
        let step = step.min(self.low.len() - 1);
        Range { low: self.low[step], high: self.high[step] }
    }

    /// Calls `run` for each longest run of steps that a reading leaves, in rising order.
    pub(super) fn left(&self, excluded: Excluded, steps: Steps<usize>, mut run: impl FnMut(Steps<usize>)) {
        let mut open: Option<usize> = None;
        let mut put = |from: usize, left: bool| match (open, left) {
            (None, true) => open = Some(from),
            (Some(start), false) => {
                run(start..from);
                open = None;
            }
            _ => {}
        };
        let known = steps.end.min(self.low.len());
        let mut step = steps.start;
        while step < known {
            let (end, left) = match self.wide[step / WIDE].left(excluded) {
                Some(left) => ((step / WIDE * WIDE + WIDE).min(known), Some(left)),
                None => ((step / BLOCK * BLOCK + BLOCK).min(known), self.blocks[step / BLOCK].left(excluded)),
            };
            match left {
                Some(left) => put(step, left),
                None => {
                    for step in step..end {
                        put(step, !excluded.excludes(self.low[step], self.high[step]));
                    }
                }
            }
            step = end;
        }
        if step < steps.end {
            let last = self.low.len() - 1;
            put(step, !excluded.excludes(self.low[last], self.high[last]));
        }
        if let Some(start) = open {
            run(start..steps.end);
        }
    }

    /// Returns the readings under the first so many skins that come nearest to a value: the lowest of those above it and the
    /// highest of those below it; `None` where one of them holds the value.
    pub(super) fn around(&self, value: f64, steps: usize) -> Option<(f64, f64)> {
        let (mut below, mut above) = (f64::NEG_INFINITY, f64::INFINITY);
        let known = steps.clamp(1, self.low.len());
        for (index, block) in self.blocks.iter().enumerate().take(known.div_ceil(BLOCK)) {
            if block.low.low > value && (index + 1) * BLOCK <= known {
                above = above.min(block.low.low);
            } else if block.high.high < value && (index + 1) * BLOCK <= known {
                below = below.max(block.high.high);
            } else {
                for step in index * BLOCK..((index + 1) * BLOCK).min(known) {
                    match (self.low[step], self.high[step]) {
                        (low, _) if low > value => above = above.min(low),
                        (_, high) if high < value => below = below.max(high),
                        _ => return None,
                    }
                }
            }
        }
        Some((below, above))
    }
}

#[cfg(test)]
mod tests {
    use super::super::second::{distance, excludes};
    use super::*;
    use crate::metrology::seeded::SplitMix64;

    fn response(noise: &mut SplitMix64) -> Response {
        let mut at = 20.0 + 40.0 * noise.uniform();
        let steps = 1 + (noise.uniform() * 400.0) as usize;
        let (mut low, mut high) = (Vec::new(), Vec::new());
        for _ in 0..steps {
            at += 4.0 * (noise.uniform() - 0.5);
            low.push(at - 0.5 * noise.uniform());
            high.push(at + 0.5 * noise.uniform());
        }
        Response::new(low, high)
    }

    #[test]
    fn blocks_leave_what_every_skin_asked_by_itself_leaves() {
        let mut noise = SplitMix64::new(11);
        for _ in 0..2000 {
            let response = response(&mut noise);
            let measured = Measured { value: 20.0 + 40.0 * noise.uniform(), u: noise.uniform() };
            let last = response.low.len() + 5;
            let from = (noise.uniform() * 20.0) as usize;
            let mut left = vec![false; last];
            response.left(Excluded::by(measured), from..last.max(from), |run| {
                assert!(!left[run.start.saturating_sub(1)] && run.start < run.end);
                left[run].fill(true);
            });
            for (step, left) in left.into_iter().enumerate().skip(from) {
                let one_by_one = !excludes(measured, response.at(step), MODEL_SHARE);
                assert_eq!(left, one_by_one, "{measured:?} {:?}", response.at(step));
            }
        }
    }

    #[test]
    fn the_nearest_reading_is_the_nearest_of_all_skins() {
        let mut noise = SplitMix64::new(12);
        for _ in 0..2000 {
            let response = response(&mut noise);
            let measured = Measured { value: 20.0 + 40.0 * noise.uniform(), u: 0.01 + noise.uniform() };
            let steps = 1 + (noise.uniform() * 100.0) as usize;
            let known = steps.min(response.low.len());
            let one_by_one = (0..known)
                .map(|step| distance(measured, response.at(step), MODEL_SHARE))
                .fold(f64::INFINITY, f64::min);
            let nearest = response.around(measured.value, steps).map_or(0.0, |(below, above)| {
                let to = |at: f64| distance(measured, Range { low: at, high: at }, MODEL_SHARE);
                [below, above].into_iter().filter(|at| at.is_finite()).map(to).fold(f64::INFINITY, f64::min)
            });
            assert!((nearest - one_by_one).abs() <= 1e-12 * one_by_one, "{nearest} {one_by_one}");
        }
    }

    #[test]
    fn a_reading_without_uncertainty_leaves_what_holds_it() {
        let excluded = Excluded::by(Measured { value: 0.0, u: 0.0 });
        assert!(!excluded.excludes(-1.0, 1.0) && excluded.excludes(0.5, 1.0));
    }
}
