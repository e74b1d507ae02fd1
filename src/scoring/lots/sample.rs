//! The sample that stands for a lot, and what it leaves open.

use super::PieceKey;
use crate::metrology::sampling::{SamplingError, most_bad_not_excluded, smallest_sample_to_detect};
use crate::metrology::seeded::select;
use crate::quantity::Money;
use crate::scoring::policy::Policy;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

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
    pub(super) fn of(policy: &Policy, declared: u32, pieces: Vec<PieceKey>) -> Self {
        let sampling = policy.sampling;
        let lot = declared.max(u32::try_from(pieces.len()).unwrap_or(u32::MAX));
        // The tiny share keeps 0.10 of 30 at 3 where binary numbers make it a hair more.
        let detects = ((f64::from(lot) * sampling.detect_share - 1e-9).ceil() as u32).clamp(1, lot.max(1));
        let sample = smallest_sample_to_detect(lot, detects.min(lot), sampling.confidence)
            .ok()
            .flatten()
            .unwrap_or(lot);
        SamplePlan { lot, pieces, sample, confidence: sampling.confidence, detects }
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
