//! The sample that stands for a lot, and what it leaves open.

use super::PieceKey;
use crate::metrology::sampling::{SamplingError, most_bad_not_excluded, smallest_sample_to_detect};
use crate::metrology::seeded::select;
use crate::quantity::Money;
use crate::scoring::policy::{Policy, Sampling};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// What the past of a source says about it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SourceRecord {
    /// Little is known of it, or a piece of it was bad.
    #[default]
    New,
    /// Enough of its pieces were good.
    Known,
    /// Many of its pieces were good.
    Trusted,
}

/// The past of a source, counted by the book.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct SourcePast {
    /// Pieces of earlier shipments that were released.
    pub released: u32,
    /// Pieces of earlier shipments that stand refused or were surrendered.
    pub refused: u32,
    /// Pieces of earlier shipments that were sent back.
    pub sent_back: u32,
}

impl SourceRecord {
    /// All records, in the order of the shares that a sample must find.
    pub const ALL: [SourceRecord; 3] = [SourceRecord::New, SourceRecord::Known, SourceRecord::Trusted];

    /// Returns the word used everywhere.
    pub fn word(self) -> &'static str {
        match self {
            SourceRecord::New => "new",
            SourceRecord::Known => "known",
            SourceRecord::Trusted => "trusted",
        }
    }

    /// Judges a source by its past: one bad piece makes it new again.
    pub fn of(past: SourcePast, sampling: &Sampling) -> Self {
        if past.refused > 0 || past.sent_back > 0 || past.released < sampling.known_from {
            SourceRecord::New
        } else if past.released < sampling.trusted_from {
            SourceRecord::Known
        } else {
            SourceRecord::Trusted
        }
    }
}

impl Sampling {
    /// Returns how many pieces a sample of a lot takes when its source is new, known or trusted.
    pub fn samples_of(&self, lot: u32) -> [u32; 3] {
        SourceRecord::ALL.map(|record| self.sample(lot, record).0)
    }

    /// Returns how many pieces a sample takes, and from how many bad pieces on it finds one with the policy's confidence.
    fn sample(&self, lot: u32, record: SourceRecord) -> (u32, u32) {
        let share = self.detect_shares[record as usize];
        // The tiny share keeps 0.10 of 30 at 3 where binary numbers make it a hair more.
        let detects = ((f64::from(lot) * share - 1e-9).ceil() as u32).clamp(1, lot.max(1));
        let found = smallest_sample_to_detect(lot, detects.min(lot), self.confidence).ok().flatten();
        (found.unwrap_or(lot), detects)
    }
}

/// How many pieces of a lot have to be tested, by the policy; no bad piece is accepted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SamplePlan {
    /// Pieces of the lot.
    pub lot: u32,
    /// The pieces that can be chosen, in the order of their numbers.
    pub pieces: Vec<PieceKey>,
    /// Pieces to test.
    pub sample: u32,
    /// Confidence of the sample.
    pub confidence: f64,
    /// Bad pieces in the lot from which on the sample finds one with that confidence.
    pub detects: u32,
    /// What the past of the source says, which decides how many are to be found.
    #[serde(default)]
    pub record: SourceRecord,
    /// Chance that the sample would miss two bad pieces.
    #[serde(default)]
    pub misses_two: f64,
}

/// The pieces chosen, with everything needed to choose them again.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Sample {
    /// The seed.
    pub seed: u64,
    /// Pieces that could be chosen.
    pub population: usize,
    /// The pieces chosen, in the order of their numbers.
    pub chosen: Vec<PieceKey>,
}

/// What the untested pieces of a lot may still hold.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Bound {
    /// Pieces tested.
    pub tested: u32,
    /// Bad pieces among them.
    pub bad: u32,
    /// Pieces not tested.
    pub untested: u32,
    /// Largest number of bad pieces among the untested that is not excluded.
    pub most_bad: u32,
    /// Confidence of that statement.
    pub confidence: f64,
    /// What so many bad pieces could displace, where a price is known.
    pub value: Option<Money>,
    /// Whether every piece has to be tested, because one was bad.
    pub test_all: bool,
}

impl SamplePlan {
    /// Makes the plan of a lot.
    pub(super) fn of(policy: &Policy, declared: u32, record: SourceRecord, pieces: Vec<PieceKey>) -> Self {
        let lot = declared.max(u32::try_from(pieces.len()).unwrap_or(u32::MAX));
        let (sample, detects) = policy.sampling.sample(lot, record);
        let confidence = policy.sampling.confidence;
        SamplePlan { lot, pieces, sample, confidence, detects, record, misses_two: misses_two(lot, sample) }
    }

    /// Chooses the pieces to test: a simple random sample without replacement; log the seed with it.
    ///
    /// When fewer pieces are known than the sample needs, all of them.
    pub fn sample(&self, seed: u64) -> Sample {
        let population = self.pieces.len();
        let count = (self.sample as usize).min(population);
        let chosen = select(population, count, seed).map(|selection| selection.chosen).unwrap_or_default();
        Sample { seed, population, chosen: chosen.into_iter().map(|place| self.pieces[place]).collect() }
    }

    /// Returns what the untested rest may still hold after so many pieces were tested and so many of them were bad;
    /// `worth_each` is what one bad piece could displace.
    ///
    /// # Errors
    /// More pieces tested than the lot has, or more bad than tested.
    ///
    /// # Source
    /// Largest D with P(X ≤ c | D) > 1 − confidence (hypergeometric form of Clopper and Pearson).
    pub fn bound_after(
        &self,
        tested: u32,
        bad: u32,
        worth_each: Option<Money>,
    ) -> Result<Bound, SamplingError> {
        let most_bad = most_bad_not_excluded(self.lot, tested, bad, self.confidence)? - bad;
        Ok(Bound {
            tested,
            bad,
            untested: self.lot - tested,
            most_bad,
            confidence: self.confidence,
            value: worth_each
                .map(|each| Money { amount: (each.amount * Decimal::from(most_bad)).round_dp(2), ..each }),
            test_all: bad > 0,
        })
    }
}

/// Returns the chance that a sample without replacement misses both of two bad pieces: C(N−2, n) / C(N, n).
fn misses_two(lot: u32, sample: u32) -> f64 {
    if lot < 2 || sample > lot - 2 {
        return 0.0;
    }
    let (lot, left) = (f64::from(lot), f64::from(lot - sample));
    left * (left - 1.0) / (lot * (lot - 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_trusted_source_needs_about_six_of_twenty_and_a_stranger_most() {
        // Hypergeometric: the smallest n with C(20−D, n)/C(20, n) ≤ 0.05 for D = 2, 4 and 7 of 20.
        assert_eq!(Policy::built_in().sampling.samples_of(20), [16, 10, 6]);
        // Two bad of twenty, ten drawn: (10·9)/(20·19).
        assert!((misses_two(20, 10) - 90.0 / 380.0).abs() < 1e-12);
        assert_eq!(misses_two(20, 19), 0.0);
    }

    #[test]
    fn one_bad_piece_makes_a_source_new_again() {
        let sampling = Policy::built_in().sampling;
        let past = SourcePast { released: 800, refused: 0, sent_back: 0 };
        assert_eq!(SourceRecord::of(past, &sampling), SourceRecord::Trusted);
        assert_eq!(SourceRecord::of(SourcePast { refused: 1, ..past }, &sampling), SourceRecord::New);
        assert_eq!(SourceRecord::of(SourcePast { released: 60, ..past }, &sampling), SourceRecord::Known);
    }
}
