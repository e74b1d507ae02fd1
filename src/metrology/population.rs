//! What released pieces teach about the next one: centre, scatter and the interval that one new piece falls into.
//!
//! Pieces of one lot are more alike than pieces of two: what differs from lot to lot is estimated and counts, and few lots
//! leave few degrees of freedom, so that the interval is as wide as the ignorance.

use super::components::components;
use super::huber::{CENTRE_EFFICIENCY, CONSISTENCY, SCALE_EFFICIENCY, proposal_two};
use super::normal::student_t_quantile;
use super::robust::CUT;

/// Centre and scatter of a population, learned from some of its pieces.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Population {
    /// Number of pieces.
    pub count: usize,
    /// Number of groups they came in.
    pub groups: usize,
    /// Centre.
    pub centre: f64,
    /// Standard uncertainty of the centre.
    pub centre_u: f64,
    /// Standard deviation of a piece of a new group.
    pub scatter: f64,
    /// Effective degrees of freedom of the scatter.
    pub freedom: f64,
    /// Least scatter that the instrument allows.
    pub floor: f64,
}

/// Groups from which on the differences between groups are known from the values alone.
const ENOUGH_GROUPS: usize = 3;
/// What, over the degrees of freedom between groups, is added to the part that differs from group to group: from few groups
/// it comes out too small more often than the degrees of freedom allow for (simulated; the rates are watched by a test).
const CAUTION: f64 = 2.0;

/// Learns a population from one value a piece.
///
/// `groups` names the group of each value, such as its lot. `floor`: least scatter that the instrument allows, zero or more.
/// `shared`: standard uncertainty of the errors that all readings of a group share; it counts where one or two groups only
/// were seen, because then the values hardly show how groups differ. `None` for fewer than three values, values that are not
/// finite, or lengths that differ.
///
/// # Source
/// Huber's proposal 2 ([`super::huber`]); one-way random effects ([`super::components`]); degrees of freedom scaled by the
/// efficiency of the scale, as var(s)/σ² = 1/(2ν) (JCGM 100:2008, E.4.3).
pub fn learn(values: &[f64], groups: &[usize], floor: f64, shared: f64) -> Option<Population> {
    if values.len() < 3 || values.len() != groups.len() || shared.is_nan() || shared < 0.0 {
        return None;
    }
    let huber = proposal_two(values, floor)?;
    let n = values.len() as f64;
    let plain = huber.scale * huber.scale;
    let (seen, known, freedom, of_centre) = match components(&huber.pulled_in, groups) {
        Some(found) => {
            let caution = 1.0 + CAUTION / found.between_freedom;
            let (variance, freedom) = found.of_a_new_group(caution);
            let within = found.within / n;
            let between = found.between_variance() * found.concentration;
            let of_centre = ((within + between) / CONSISTENCY).max(plain / n) * caution;
            (found.groups, (variance / CONSISTENCY).max(plain), freedom, of_centre)
        }
        None => (1, plain, n - 1.0, plain / n),
    };
    let unseen = if seen < ENOUGH_GROUPS { shared * shared } else { 0.0 };
    let variance = (known + unseen).max(floor * floor);
    // What is known of the instrument has no end of degrees of freedom.
    let share = if known > 0.0 { (variance / known).powi(2) } else { 1.0 };
    Some(Population {
        count: values.len(),
        groups: seen,
        centre: huber.centre,
        centre_u: ((of_centre + unseen) / CENTRE_EFFICIENCY).sqrt(),
        scatter: variance.sqrt(),
        freedom: SCALE_EFFICIENCY * freedom * share,
        floor,
    })
}

/// Returns the factor by which the standard deviation of n values makes the interval that holds one further value: t √(1 + 1/n).
///
/// Two-sided; `significance` between 0 and 1 is the chance that the further value lies outside. `None` for fewer than two
/// values or a significance out of range.
///
/// # Source
/// G. Hahn and W. Meeker, Statistical Intervals, 1991, 4.7 (prediction interval for one future observation).
pub fn prediction_factor(n: usize, significance: f64) -> Option<f64> {
    let n = n as f64;
    Some(student_t_quantile(1.0 - significance / 2.0, n - 1.0)? * (1.0 + 1.0 / n).sqrt())
}

impl Population {
    /// Returns the interval that one new piece of a new group falls into but for a chance of `significance`, two-sided.
    ///
    /// `floor`: least scatter of the instrument that read the new piece. The interval is never narrower than 3.5 floors on
    /// either side, or rounding ties would cry wolf. `None` for a significance out of range.
    ///
    /// # Source
    /// As [`prediction_factor`], with the learned degrees of freedom and the uncertainty of the centre in place of s/√n.
    pub fn interval(&self, significance: f64, floor: f64) -> Option<(f64, f64)> {
        let t = student_t_quantile(1.0 - significance / 2.0, self.freedom)?;
        let coarser = (floor * floor - self.floor * self.floor).max(0.0);
        let spread = (self.scatter * self.scatter + self.centre_u * self.centre_u + coarser).sqrt();
        let half = (t * spread).max(CUT * floor.max(self.floor));
        half.is_finite().then_some((self.centre - half, self.centre + half))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::metrology::seeded::SplitMix64;

    #[test]
    fn the_factor_for_one_further_value_is_the_printed_one() {
        // G. Hahn and W. Meeker, Statistical Intervals, 1991, table A.13, m = 1 (from memory); t from JCGM 100:2008, table G.2.
        for (n, significance, printed) in [
            (5, 0.05, 3.04),
            (10, 0.05, 2.37),
            (20, 0.05, 2.14),
            (10, 0.01, 3.41),
            (20, 0.01, 2.93),
            (60, 0.05, 2.02),
        ] {
            let factor = prediction_factor(n, significance).unwrap();
            assert!((factor - printed).abs() <= 0.0051, "n = {n}: {factor} instead of {printed}");
        }
        assert_eq!(prediction_factor(1, 0.05), None);
        assert_eq!(prediction_factor(20, 0.0), None);
    }

    /// A way in which pieces scatter.
    struct Case {
        name: &'static str,
        pieces: usize,
        lots: usize,
        /// Standard deviation from lot to lot; within lots it is 1.
        between: f64,
        /// Digit step.
        step: f64,
        /// Share of pieces of the book that are something else, 3 standard deviations off.
        spoilt: f64,
    }

    /// Returns how often a good piece of a new lot lies outside the learned interval.
    fn false_alarms(case: &Case, significance: f64, books: u32) -> f64 {
        const NEW: u32 = 10;
        let mut random = SplitMix64::new(20_261_125);
        let floor = crate::metrology::robust::scale_floor(0.3 * case.step, case.step);
        let mut alarms = 0;
        for _ in 0..books {
            let read = |value: f64| {
                if case.step > 0.0 { (value / case.step).round() * case.step } else { value }
            };
            let offset = random.uniform();
            let of_lot: Vec<f64> = (0..case.lots).map(|_| case.between * random.standard_normal()).collect();
            let groups: Vec<usize> = (0..case.pieces).map(|index| index * case.lots / case.pieces).collect();
            let spoilt = (case.spoilt * case.pieces as f64).round() as usize;
            let values: Vec<f64> = groups
                .iter()
                .enumerate()
                .map(|(index, lot)| {
                    let odd = if index % case.pieces.div_ceil(spoilt.max(1)) == 0 && spoilt > 0 {
                        3.0
                    } else {
                        0.0
                    };
                    read(offset + of_lot[*lot] + random.standard_normal() + odd)
                })
                .collect();
            // From one or two lots the difference to the next is known from the instrument: here all of it is the instrument's.
            let learned = learn(&values, &groups, floor, case.between).unwrap();
            let (low, high) = learned.interval(significance, floor).unwrap();
            for _ in 0..NEW {
                let new = read(offset + case.between * random.standard_normal() + random.standard_normal());
                alarms += u32::from(new < low || new > high);
            }
        }
        f64::from(alarms) / f64::from(books * NEW)
    }

    /// The share of good pieces outside the learned interval is at most the significance stated, whatever the pieces came in.
    ///
    /// Allowed above it: four standard deviations of the count of 4,000 books, taken as if the ten new pieces of one book
    /// told no more than two (they share its error).
    #[test]
    fn a_good_piece_lies_outside_no_more_often_than_stated() {
        let case =
            |name, pieces, lots, between, step| Case { name, pieces, lots, between, step, spoilt: 0.0 };
        let cases = [
            case("20 pieces alike, 4 lots", 20, 4, 0.0, 0.0),
            case("20 pieces alike, each a lot", 20, 20, 0.0, 0.0),
            case("50 pieces alike, 5 lots", 50, 5, 0.0, 0.0),
            case("200 pieces alike, 10 lots", 200, 10, 0.0, 0.0),
            case("20 pieces, one lot", 20, 1, 0.5, 0.0),
            case("20 pieces, 2 lots that differ", 20, 2, 1.0, 0.0),
            case("30 pieces, 3 lots that differ", 30, 3, 1.0, 0.0),
            case("60 pieces, 6 lots that differ", 60, 6, 1.0, 0.0),
            case("200 pieces, 20 lots that differ", 200, 20, 1.0, 0.0),
            case("20 pieces, 4 lots, digit of 1 s", 20, 4, 0.0, 1.0),
            case("20 pieces, 4 lots, digit of 5 s", 20, 4, 0.0, 5.0),
            Case { spoilt: 0.05, ..case("40 pieces, 4 lots, 5 % something else", 40, 4, 0.0, 0.0) },
        ];
        let books = 4000;
        for (significance, label) in [(0.01, "1 %"), (0.0025, "1 % over four quantities")] {
            println!("stated {label}: {:.2} %", 100.0 * significance);
            for case in &cases {
                let rate = false_alarms(case, significance, books);
                println!("  {:<40} {:.3} %", case.name, 100.0 * rate);
                let allowed = significance + 4.0 * (significance / (2.0 * f64::from(books))).sqrt();
                assert!(rate <= allowed, "{}: {rate} above {allowed}", case.name);
            }
        }
    }

    #[test]
    fn lots_that_differ_widen_the_interval_and_few_lots_widen_it_more() {
        let values: Vec<f64> =
            (0..40).map(|index| f64::from(index % 7) + 10.0 * f64::from(index / 20)).collect();
        let two: Vec<usize> = (0..40).map(|index| index / 20).collect();
        let each: Vec<usize> = (0..40).collect();
        let width = |groups: &[usize]| {
            let (low, high) = learn(&values, groups, 0.0, 0.0).unwrap().interval(0.01, 0.0).unwrap();
            high - low
        };
        assert!(width(&two) > 5.0 * width(&each), "{} {}", width(&two), width(&each));
    }

    #[test]
    fn a_coarser_instrument_widens_the_interval() {
        let values: Vec<f64> = (0..40).map(|index| f64::from(index % 5) * 0.01).collect();
        let groups: Vec<usize> = (0..40).map(|index| index / 10).collect();
        let learned = learn(&values, &groups, 0.004, 0.0).unwrap();
        let width = |floor| learned.interval(0.01, floor).map(|(low, high)| high - low).unwrap();
        assert!(width(0.05) > width(0.004));
        assert!((width(0.5) / 2.0 - CUT * 0.5).abs() < 1e-12);
        assert_eq!(learned.interval(0.0, 0.004), None);
    }

    #[test]
    fn too_little_teaches_nothing() {
        assert_eq!(learn(&[1.0, 2.0], &[0, 1], 0.0, 0.0), None);
        assert_eq!(learn(&[1.0, 2.0, 3.0], &[0, 1], 0.0, 0.0), None);
        assert_eq!(learn(&[1.0, 2.0, f64::NAN], &[0, 1, 2], 0.0, 0.0), None);
        assert_eq!(learn(&[1.0, 2.0, 3.0], &[0, 1, 2], 0.0, -1.0), None);
    }
}
