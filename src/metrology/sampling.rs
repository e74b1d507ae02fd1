//! Testing a sample instead of the whole lot: what a sample can find, and what it leaves open.
//!
//! Counts are whole pieces. Without replacement the hypergeometric distribution is exact and is used wherever the size
//! of the lot is known; the binomial one stands for a lot without end.

use thiserror::Error;

/// Counts or shares that no sample can have.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum SamplingError {
    /// More pieces are in the sample, or bad, than the lot has.
    #[error("{what} `{found}` is more than the lot's `{lot}`")]
    MoreThanTheLot {
        /// What there is too much of.
        what: &'static str,
        /// The count given.
        found: u32,
        /// Pieces in the lot.
        lot: u32,
    },
    /// More bad pieces were found than were tested.
    #[error("`{found}` bad pieces are more than the `{tested}` tested")]
    MoreThanTested {
        /// Bad pieces given.
        found: u32,
        /// Pieces tested.
        tested: u32,
    },
    /// A share or a confidence is not between 0 and 1.
    #[error("{what} `{found}` is not allowed; it must lie between 0 and 1, both excluded")]
    NotAShare {
        /// What was given.
        what: &'static str,
        /// The number given.
        found: f64,
    },
}

/// Returns the probability of finding at most `accept` bad pieces in a sample from a lot with `bad` of them.
///
/// Relative error below 10⁻¹¹ for lots of up to 100 000 pieces.
///
/// # Errors
/// `MoreThanTheLot` when the sample or the bad pieces outnumber the lot.
///
/// # Source
/// Hypergeometric distribution; first term as a product of ratios, the others by recurrence.
pub fn acceptance_in_lot(lot: u32, bad: u32, sample: u32, accept: u32) -> Result<f64, SamplingError> {
    within_lot("number of bad pieces", bad, lot)?;
    within_lot("sample", sample, lot)?;
    // Fewest bad pieces that can be in the sample, and the probability of just that, as a logarithm.
    let (good, untested) = (lot - bad, lot - sample);
    let fewest = sample.saturating_sub(good);
    let mut log_term = if fewest == 0 {
        // None of the bad pieces is among the tested.
        let (draws, from) = (bad.min(sample), bad.max(sample));
        (0..draws).map(|i| f64::ln(f64::from(lot - from - i) / f64::from(lot - i))).sum::<f64>()
    } else {
        // All of the untested are bad.
        (0..untested).map(|i| f64::ln(f64::from(bad - i) / f64::from(lot - i))).sum::<f64>()
    };
    let most = bad.min(sample);
    if accept >= most {
        return Ok(1.0);
    }
    if accept < fewest {
        return Ok(0.0);
    }
    let mut sum = 0.0;
    for found in fewest..=accept {
        sum += f64::exp(log_term);
        let up = f64::from(bad - found) * f64::from(sample - found);
        let down = f64::from(found + 1) * f64::from(good + found + 1 - sample);
        log_term += f64::ln(up / down);
    }
    Ok(sum.min(1.0))
}

/// Returns the smallest sample of which at least one piece is bad with the given confidence, if the lot holds `bad` of them.
///
/// The whole lot when no smaller sample will do; `bad` at least 1, else no sample finds anything.
///
/// # Errors
/// `MoreThanTheLot`, and `NotAShare` for a confidence that is not between 0 and 1.
///
/// # Source
/// Smallest n with C(N−D, n)/C(N, n) ≤ 1 − confidence; checked against R. Cannon and R. Roe, Livestock Disease Surveys,
/// 1982.
pub fn smallest_sample_to_detect(lot: u32, bad: u32, confidence: f64) -> Result<Option<u32>, SamplingError> {
    within_lot("number of bad pieces", bad, lot)?;
    share("confidence", confidence)?;
    if bad == 0 {
        return Ok(None);
    }
    let may_miss = allowed_miss(confidence);
    let (mut too_small, mut enough) = (0, lot - bad + 1);
    while enough - too_small > 1 {
        let middle = too_small + (enough - too_small) / 2;
        if acceptance_in_lot(lot, bad, middle, 0)? <= may_miss {
            enough = middle;
        } else {
            too_small = middle;
        }
    }
    Ok(Some(enough))
}

/// Returns the largest number of bad pieces in the whole lot that a sample with `found` bad ones doesn't exclude.
///
/// The bad pieces found are part of it; take them off for the untested rest. Exact and one-sided: with more bad pieces,
/// so few would be found with a probability of 1 − confidence at most.
///
/// # Errors
/// `MoreThanTheLot`, `MoreThanTested`, and `NotAShare` for the confidence.
///
/// # Source
/// Largest D with P(X ≤ c | D) > 1 − confidence (hypergeometric form of Clopper and Pearson).
pub fn most_bad_not_excluded(
    lot: u32,
    sample: u32,
    found: u32,
    confidence: f64,
) -> Result<u32, SamplingError> {
    within_lot("sample", sample, lot)?;
    within_sample(found, sample)?;
    share("confidence", confidence)?;
    let may_miss = allowed_miss(confidence);
    let (mut possible, mut excluded) = (found, lot - (sample - found) + 1);
    while excluded - possible > 1 {
        let middle = possible + (excluded - possible) / 2;
        if acceptance_in_lot(lot, middle, sample, found)? > may_miss {
            possible = middle;
        } else {
            excluded = middle;
        }
    }
    Ok(possible)
}

/// Returns the probability of finding at most `accept` bad pieces when each piece is bad with probability `bad_share`.
///
/// A point of the operating characteristic for a large lot; `bad_share` from 0 to 1, else not a number.
///
/// # Source
/// Binomial distribution; NIST/SEMATECH e-Handbook, 6.2.3.2.
pub fn acceptance_in_stream(sample: u32, accept: u32, bad_share: f64) -> f64 {
    if !(0.0..=1.0).contains(&bad_share) {
        return f64::NAN;
    }
    if accept >= sample || bad_share == 0.0 {
        return 1.0;
    }
    if bad_share == 1.0 {
        return 0.0;
    }
    let log_odds = bad_share.ln() - (-bad_share).ln_1p();
    let mut log_term = f64::from(sample) * (-bad_share).ln_1p();
    let mut sum = 0.0;
    for found in 0..=accept {
        sum += log_term.exp();
        log_term += log_odds + f64::ln(f64::from(sample - found) / f64::from(found + 1));
    }
    sum.min(1.0)
}

/// Returns the smallest sample that finds a bad piece with the given confidence in a lot without end.
///
/// # Errors
/// `NotAShare` for a share or a confidence that is not between 0 and 1.
pub fn smallest_sample_in_stream(bad_share: f64, confidence: f64) -> Result<u32, SamplingError> {
    share("share of bad pieces", bad_share)?;
    share("confidence", confidence)?;
    let n = allowed_miss(confidence).ln() / (-bad_share).ln_1p();
    Ok(n.ceil() as u32)
}

/// Returns the largest share of bad pieces that a sample with `found` bad ones doesn't exclude: Clopper–Pearson, one-sided.
///
/// # Errors
/// `MoreThanTested`, and `NotAShare` for the confidence.
///
/// # Source
/// C. Clopper and E. Pearson, Biometrika 26 (1934), 404–413; found by bisection of the binomial distribution.
pub fn largest_bad_share(sample: u32, found: u32, confidence: f64) -> Result<f64, SamplingError> {
    within_sample(found, sample)?;
    share("confidence", confidence)?;
    if found == sample {
        return Ok(1.0);
    }
    let (mut possible, mut excluded) = (f64::from(found) / f64::from(sample), 1.0);
    for _ in 0..100 {
        let middle = f64::midpoint(possible, excluded);
        if acceptance_in_stream(sample, found, middle) > 1.0 - confidence {
            possible = middle;
        } else {
            excluded = middle;
        }
    }
    Ok(possible)
}

/// A single sampling plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Plan {
    /// Pieces to test.
    pub sample: u32,
    /// Most bad pieces among them with which the lot is accepted.
    pub accept: u32,
}

/// A point that the operating characteristic of a plan must pass on the right side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RiskPoint {
    /// Share of bad pieces.
    pub bad_share: f64,
    /// Probability of accepting there.
    pub acceptance: f64,
}

/// Returns the smallest plan that accepts the producer's quality often enough and the consumer's quality seldom enough.
///
/// For a lot without end. `None` when no plan with at most 500 bad pieces serves, or when the producer's quality is not the
/// better one.
///
/// # Errors
/// `NotAShare` for a share or a probability that is not between 0 and 1.
///
/// # Source
/// A. Kiermeier, Journal of Statistical Software 26 (2008), issue 6.
pub fn smallest_plan(producer: RiskPoint, consumer: RiskPoint) -> Result<Option<Plan>, SamplingError> {
    for point in [producer, consumer] {
        share("share of bad pieces", point.bad_share)?;
        share("probability of acceptance", point.acceptance)?;
    }
    if producer.bad_share >= consumer.bad_share {
        return Ok(None);
    }
    let mut sample = 1;
    for accept in 0..=500 {
        while acceptance_in_stream(sample, accept, consumer.bad_share) > consumer.acceptance {
            sample += 1;
        }
        if acceptance_in_stream(sample, accept, producer.bad_share) >= producer.acceptance {
            return Ok(Some(Plan { sample, accept }));
        }
    }
    Ok(None)
}

/// Returns 1 − confidence, with room for the last digit of a confidence such as 0.95 that binary numbers cannot hold.
fn allowed_miss(confidence: f64) -> f64 {
    (1.0 - confidence) * (1.0 + 1e-12)
}

/// Refuses more pieces than the lot has.
fn within_lot(what: &'static str, found: u32, lot: u32) -> Result<(), SamplingError> {
    if found <= lot { Ok(()) } else { Err(SamplingError::MoreThanTheLot { what, found, lot }) }
}

/// Refuses more bad pieces than were tested.
fn within_sample(found: u32, tested: u32) -> Result<(), SamplingError> {
    if found <= tested { Ok(()) } else { Err(SamplingError::MoreThanTested { found, tested }) }
}

/// Refuses what is not strictly between 0 and 1.
fn share(what: &'static str, found: f64) -> Result<(), SamplingError> {
    if found > 0.0 && found < 1.0 { Ok(()) } else { Err(SamplingError::NotAShare { what, found }) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Counts the samples of a small lot one by one.
    fn by_enumeration(lot: u32, bad: u32, sample: u32, accept: u32) -> f64 {
        let sets = (0_u32..1 << lot).filter(|set| set.count_ones() == sample);
        let (all, few) = sets.fold((0, 0), |(all, few), set| {
            let found = (set & ((1 << bad) - 1)).count_ones();
            (all + 1, few + u32::from(found <= accept))
        });
        f64::from(few) / f64::from(all)
    }

    #[test]
    fn the_hypergeometric_probability_is_that_of_counting_every_sample() {
        for lot in 1..=9 {
            for bad in 0..=lot {
                for sample in 0..=lot {
                    for accept in 0..=sample {
                        let computed = acceptance_in_lot(lot, bad, sample, accept).unwrap();
                        let counted = by_enumeration(lot, bad, sample, accept);
                        assert!((computed - counted).abs() < 1e-13, "{lot} {bad} {sample} {accept}");
                    }
                }
            }
        }
    }

    #[test]
    fn a_fully_tested_lot_leaves_nothing_open() {
        assert_eq!(most_bad_not_excluded(50, 50, 3, 0.95), Ok(3));
        assert_eq!(most_bad_not_excluded(50, 0, 0, 0.95), Ok(50));
        assert_eq!(smallest_sample_to_detect(10, 10, 0.95), Ok(Some(1)));
        assert_eq!(smallest_sample_to_detect(10, 0, 0.95), Ok(None));
    }

    #[test]
    fn impossible_counts_are_named() {
        assert!(matches!(acceptance_in_lot(5, 6, 1, 0), Err(SamplingError::MoreThanTheLot { found: 6, .. })));
        assert!(matches!(most_bad_not_excluded(9, 3, 4, 0.9), Err(SamplingError::MoreThanTested { .. })));
        assert!(matches!(smallest_sample_to_detect(9, 3, 1.0), Err(SamplingError::NotAShare { .. })));
        assert!(acceptance_in_stream(10, 1, 1.5).is_nan());
    }

    #[test]
    fn a_plan_for_the_worse_producer_does_not_exist() {
        let point = |bad_share, acceptance| RiskPoint { bad_share, acceptance };
        assert_eq!(smallest_plan(point(0.2, 0.95), point(0.1, 0.05)), Ok(None));
    }
}
