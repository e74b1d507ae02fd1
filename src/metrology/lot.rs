//! The rule by which the readings of a lot point at odd pieces: it may only add doubt.

use super::conformity::{Judgement, Limits, Thresholds, judge};
use super::outliers::generalized_esd;
use super::robust::{CUT, Gap, gap_hint, median, scale_about, scale_floor, score};
use std::f64::consts::FRAC_PI_2;

/// Least number of pieces for an outlier test.
const LEAST_FOR_A_TEST: usize = 5;
/// Number of pieces from which up to 40 % of a lot may be found odd.
const LARGE: usize = 10;
/// Most odd pieces looked for in a small lot.
const AT_MOST_IN_A_SMALL_LOT: usize = 2;

/// The readings of one quantity on every piece of a lot, and what the instrument can tell apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LotReadings<'a> {
    /// One reading a piece, in any order, all in one unit.
    pub values: &'a [f64],
    /// Standard deviation of repeated readings of one piece, zero or more.
    pub repeatability: f64,
    /// Digit step of the instrument, zero or more.
    pub digit_step: f64,
    /// Standard uncertainty of the errors that all readings share, such as the instrument's calibration; zero or more.
    pub shared_uncertainty: f64,
    /// Limits of one piece.
    pub limits: Limits,
}

/// Which outlier test a lot of this size gets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LotTest {
    /// Fewer than five pieces: none.
    None,
    /// Generalized ESD.
    GeneralizedEsd {
        /// Most odd pieces looked for.
        at_most: usize,
    },
}

/// A piece that differs from the rest of its lot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OddPiece {
    /// Index of its reading.
    pub index: usize,
    /// Its distance from the lot's median in scale units, with sign.
    pub score: f64,
}

/// What the readings of a lot say about its pieces.
#[derive(Debug, Clone, PartialEq)]
pub struct LotScreen {
    /// Median of the readings.
    pub centre: f64,
    /// 1.4826 times the median absolute deviation.
    pub scale: f64,
    /// Least scale the instrument allows.
    pub floor: f64,
    /// The test that was made.
    pub test: LotTest,
    /// The odd pieces, by index.
    pub odd: Vec<OddPiece>,
    /// A gap that suggests two populations; none is looked for in lots that get no outlier test.
    pub gap: Option<Gap>,
    /// The lot's median against the limits of one piece.
    pub median: Judgement,
}

/// Returns the outlier test for a lot of this many pieces.
pub fn test_for(pieces: usize) -> LotTest {
    match pieces {
        0..LEAST_FOR_A_TEST => LotTest::None,
        LEAST_FOR_A_TEST..LARGE => LotTest::GeneralizedEsd { at_most: AT_MOST_IN_A_SMALL_LOT },
        _ => LotTest::GeneralizedEsd { at_most: pieces * 2 / 5 },
    }
}

/// Screens a lot: odd pieces, a gap, and the median against the limits.
///
/// An odd piece must fail the test at `significance` (between 0 and 1) **and** lie more than 3.5 times the scale floor
/// from the median, or rounding ties would cry wolf. The median's uncertainty is √(π/2)·scale/√n with the shared error.
/// `None` for an empty lot, readings or spreads that are not finite, or a significance out of range.
///
/// # Source
/// B. Rosner, Technometrics 25 (1983), 165–172; the sizes and the floor are this program's rule.
pub fn screen(lot: &LotReadings<'_>, significance: f64, thresholds: &Thresholds) -> Option<LotScreen> {
    let floor = scale_floor(lot.repeatability, lot.digit_step);
    if !(floor.is_finite() && significance > 0.0 && significance < 1.0) {
        return None;
    }
    let centre = median(lot.values)?;
    let scale = scale_about(lot.values, centre)?;
    let test = test_for(lot.values.len());
    let mut odd = Vec::new();
    if let LotTest::GeneralizedEsd { at_most } = test {
        let esd = generalized_esd(lot.values, at_most, significance)?;
        odd.extend(
            esd.outlier_indices()
                .filter(|index| (lot.values[*index] - centre).abs() > CUT * floor)
                .map(|index| OddPiece { index, score: score(lot.values[index], centre, scale, floor) }),
        );
        odd.sort_by_key(|piece| piece.index);
    }
    let gap = match test {
        LotTest::None => None,
        LotTest::GeneralizedEsd { .. } => gap_hint(lot.values, floor),
    };
    let of_median = scale.max(floor) * (FRAC_PI_2 / lot.values.len() as f64).sqrt();
    let median = judge(centre, of_median.hypot(lot.shared_uncertainty), &lot.limits, thresholds);
    Some(LotScreen { centre, scale, floor, test, odd, gap, median })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::metrology::conformity::Outcome;

    fn lot(values: &[f64]) -> LotReadings<'_> {
        LotReadings {
            values,
            repeatability: 0.003,
            digit_step: 0.01,
            shared_uncertainty: 0.005,
            limits: Limits::new(Some(31.05), Some(31.20)).unwrap(),
        }
    }

    fn screened(values: &[f64]) -> LotScreen {
        screen(&lot(values), 0.05, &Thresholds::default()).unwrap()
    }

    #[test]
    fn the_test_follows_the_size_of_the_lot() {
        assert_eq!(test_for(4), LotTest::None);
        assert_eq!(test_for(5), LotTest::GeneralizedEsd { at_most: 2 });
        assert_eq!(test_for(9), LotTest::GeneralizedEsd { at_most: 2 });
        assert_eq!(test_for(10), LotTest::GeneralizedEsd { at_most: 4 });
        assert_eq!(test_for(21), LotTest::GeneralizedEsd { at_most: 8 });
    }

    #[test]
    fn a_tie_broken_by_one_digit_is_no_odd_piece() {
        let mut values = [31.10; 10];
        values[9] = 31.11;
        assert!(screened(&values).odd.is_empty());
        values[9] = 31.14;
        assert_eq!(screened(&values).odd.iter().map(|piece| piece.index).collect::<Vec<_>>(), [9]);
    }

    #[test]
    fn four_pieces_are_too_few_to_call_one_odd() {
        let screen = screened(&[31.10, 31.10, 31.11, 30.00]);
        assert_eq!(screen.test, LotTest::None);
        assert!(screen.odd.is_empty());
        assert_eq!(screen.median.outcome, Outcome::Inside);
    }

    #[test]
    fn a_lot_that_is_wrong_as_a_whole_has_no_odd_piece_but_a_median_outside() {
        let screen = screened(&[30.90, 30.91, 30.90, 30.92, 30.91, 30.90]);
        assert!(screen.odd.is_empty());
        assert_eq!(screen.median.outcome, Outcome::Outside);
    }

    #[test]
    fn what_cannot_be_screened_is_not_screened() {
        assert_eq!(screen(&lot(&[]), 0.05, &Thresholds::default()), None);
        assert_eq!(screen(&lot(&[1.0, f64::NAN]), 0.05, &Thresholds::default()), None);
        assert_eq!(screen(&lot(&[1.0]), 0.0, &Thresholds::default()), None);
    }
}
