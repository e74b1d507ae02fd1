//! Published sampling tables, for comparison only: their acceptance numbers above zero let known bad pieces through, which
//! is no rule for authenticity.
//!
//! Only the columns that were checked against a source are held: acceptance quality 0.65 % and 1.0 %, level II, normal
//! inspection, and a few cells of the limiting-quality table.

use super::sampling::Plan;

/// Code letters of inspection level II: largest lot, letter, sample size.
///
/// # Source
/// MIL-STD-105E, table I (level II) and table II-A; the same tables as ISO 2859-1 and ANSI/ASQ Z1.4.
const LEVEL_II: [(u32, char, u32); 15] = [
    (8, 'A', 2),
    (15, 'B', 3),
    (25, 'C', 5),
    (50, 'D', 8),
    (90, 'E', 13),
    (150, 'F', 20),
    (280, 'G', 32),
    (500, 'H', 50),
    (1200, 'J', 80),
    (3200, 'K', 125),
    (10_000, 'L', 200),
    (35_000, 'M', 315),
    (150_000, 'N', 500),
    (500_000, 'P', 800),
    (u32::MAX, 'Q', 1250),
];

/// Acceptance numbers down a column of table II-A from the first letter that has a plan; `None` is an arrow.
///
/// The second is the arrow up, the third the arrow down; every column has the same run, shifted by a letter.
const RUN: [Option<u32>; 11] =
    [Some(0), None, None, Some(1), Some(2), Some(3), Some(5), Some(7), Some(10), Some(14), Some(21)];

/// The acceptance quality levels whose columns are held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AcceptanceQuality {
    /// 0.65 percent nonconforming.
    Percent0_65,
    /// 1.0 percent nonconforming.
    Percent1_0,
}

/// A cell of table II-A with its arrows followed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TablePlan {
    /// The letter whose plan is used; another than the one asked for where the table has an arrow.
    pub letter: char,
    /// Sample size and acceptance number; the rejection number is one more.
    pub plan: Plan,
}

/// Returns code letter and sample size of inspection level II for a lot; `None` for fewer than two pieces.
///
/// # Source
/// MIL-STD-105E, table I.
pub fn code_letter(lot: u32) -> Option<(char, u32)> {
    if lot < 2 {
        return None;
    }
    LEVEL_II.iter().find(|(largest, ..)| lot <= *largest).map(|(_, letter, sample)| (*letter, *sample))
}

/// Returns the single sampling plan for normal inspection, arrows followed; `None` for a letter outside A to Q.
///
/// # Source
/// MIL-STD-105E, table II-A.
pub fn normal_plan(letter: char, quality: AcceptanceQuality) -> Option<TablePlan> {
    let row = LEVEL_II.iter().position(|(_, each, _)| *each == letter)?;
    let first = match quality {
        AcceptanceQuality::Percent0_65 => 5,
        AcceptanceQuality::Percent1_0 => 4,
    };
    // Rows above the first plan have arrows down to it.
    let row = match row.saturating_sub(first) {
        0 | 1 => first,
        2 => first + 3,
        _ => row,
    };
    let (_, letter, sample) = LEVEL_II[row];
    RUN[row - first].map(|accept| TablePlan { letter, plan: Plan { sample, accept } })
}

/// Cells of the limiting-quality table: quality in hundredths of a percent, smallest lot, largest lot, sample, acceptance
/// number.
///
/// # Source
/// ISO 2859-2:1985, table A, procedure A (from memory).
const LIMITING_QUALITY: [(u32, u32, u32, u32, u32); 8] = [
    (200, 281, 500, 105, 0),
    (200, 1201, 3200, 200, 1),
    (200, 3201, 10_000, 200, 1),
    (500, 151, 280, 42, 0),
    (500, 281, 500, 50, 0),
    (500, 501, 1200, 80, 1),
    (500, 1201, 3200, 125, 3),
    (800, 51, 90, 24, 0),
];

/// Returns the plan for an isolated lot and a limiting quality in percent; `None` for cells that are not held.
///
/// # Source
/// ISO 2859-2:1985, table A, procedure A (from memory).
pub fn limiting_quality_plan(lot: u32, limiting_quality_percent: f64) -> Option<Plan> {
    LIMITING_QUALITY
        .iter()
        .find(|(quality, smallest, largest, ..)| {
            f64::from(*quality) == limiting_quality_percent * 100.0 && (*smallest..=*largest).contains(&lot)
        })
        .map(|(_, _, _, sample, accept)| Plan { sample: *sample, accept: *accept })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::metrology::sampling::acceptance_in_stream;

    #[test]
    fn every_letter_has_a_plan_that_accepts_its_own_quality_level() {
        // The scheme means lots at the quality level to be accepted with 0.88 to 0.99 (MIL-STD-105E, table X, from memory).
        for (letter, quality, share) in LEVEL_II.iter().flat_map(|(_, letter, _)| {
            [
                (*letter, AcceptanceQuality::Percent0_65, 0.0065),
                (*letter, AcceptanceQuality::Percent1_0, 0.01),
            ]
        }) {
            let found = normal_plan(letter, quality).unwrap();
            let accepted = acceptance_in_stream(found.plan.sample, found.plan.accept, share);
            assert!((0.87..0.995).contains(&accepted), "{letter} {quality:?}: {accepted}");
        }
    }

    #[test]
    fn what_the_tables_do_not_hold_is_not_guessed() {
        assert_eq!(code_letter(1), None);
        assert_eq!(normal_plan('I', AcceptanceQuality::Percent1_0), None);
        assert_eq!(limiting_quality_plan(600, 2.0), None);
        assert_eq!(limiting_quality_plan(400, 3.15), None);
    }
}
