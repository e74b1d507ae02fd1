//! Maximum permissible errors of scales, weights, callipers and micrometers.
//!
//! A limit of error ±a counts with a/√3 as standard uncertainty ([`super::evaluation::rectangular`]). Only values that
//! were checked against a source are held; anything else is `None`, never guessed.

/// Accuracy class of a non-automatic weighing instrument.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ScaleClass {
    /// Class I, special.
    I,
    /// Class II, high.
    II,
    /// Class III, medium.
    III,
    /// Class IIII, ordinary.
    IIII,
}

/// Returns the maximum permissible error of a scale at initial verification, in verification intervals e.
///
/// `load_in_e` is the load divided by e, zero or more. In service twice the value is permitted. `None` for a load that is
/// negative, not a number, or above what the class allows.
///
/// # Source
/// OIML R 76-1:2006, table 6; largest number of intervals from table 3 (from memory).
pub fn scale_error_in_e(class: ScaleClass, load_in_e: f64) -> Option<f64> {
    let [half, one, most] = match class {
        ScaleClass::I => [50_000.0, 200_000.0, f64::INFINITY],
        ScaleClass::II => [5_000.0, 20_000.0, 100_000.0],
        ScaleClass::III => [500.0, 2_000.0, 10_000.0],
        ScaleClass::IIII => [50.0, 200.0, 1_000.0],
    };
    match load_in_e {
        m if (0.0..=half).contains(&m) => Some(0.5),
        m if m > half && m <= one => Some(1.0),
        m if m > one && m <= most => Some(1.5),
        _ => None,
    }
}

/// Accuracy class of a weight.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum WeightClass {
    /// Class E2.
    E2,
    /// Class F1.
    F1,
    /// Class F2.
    F2,
    /// Class M1.
    M1,
}

/// Nominal mass in grams and maximum permissible errors in milligrams for E2, F1, F2 and M1.
const WEIGHTS: [(u32, [f64; 4]); 7] = [
    (1, [0.03, 0.1, 0.3, 1.0]),
    (2, [0.04, 0.12, 0.4, 1.2]),
    (5, [0.05, 0.16, 0.5, 1.6]),
    (10, [0.06, 0.2, 0.6, 2.0]),
    (20, [0.08, 0.25, 0.8, 2.5]),
    (50, [0.1, 0.3, 1.0, 3.0]),
    (200, [0.3, 1.0, 3.0, 10.0]),
];

/// Returns the maximum permissible error of a weight at verification, in milligrams.
///
/// `nominal_g` in whole grams: 1, 2, 5, 10, 20, 50 or 200; `None` for others.
///
/// # Source
/// OIML R 111-1:2004, table 1.
pub fn weight_error_mg(nominal_g: u32, class: WeightClass) -> Option<f64> {
    let column = match class {
        WeightClass::E2 => 0,
        WeightClass::F1 => 1,
        WeightClass::F2 => 2,
        WeightClass::M1 => 3,
    };
    WEIGHTS.iter().find(|(nominal, _)| *nominal == nominal_g).map(|(_, errors)| errors[column])
}

/// Returns the limit of error of a calliper with a digit step of 0.01 mm, in micrometres.
///
/// `length_mm` above 0 and up to 100; `None` beyond. ISO 13385-1 leaves the limit to the maker's statement, which goes first.
///
/// # Source
/// DIN 862, as summarised in makers' sheets.
pub fn calliper_error_um(length_mm: f64) -> Option<f64> {
    (length_mm > 0.0 && length_mm <= 100.0).then_some(20.0)
}

/// Returns the limit of error of an external micrometer, in micrometres.
///
/// `range_to_mm` is the upper end of its measuring range: 25, 50, 75 or 100; `None` for others. ISO 3611:2010 leaves the
/// limit to the maker's statement, which goes first.
///
/// # Source
/// DIN 863-1, as summarised in makers' sheets; the ranges to 25 and 75 mm from memory.
pub fn micrometer_error_um(range_to_mm: u32) -> Option<f64> {
    match range_to_mm {
        25 | 50 => Some(4.0),
        75 | 100 => Some(5.0),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_load_or_a_weight_without_a_limit_has_none() {
        assert_eq!(scale_error_in_e(ScaleClass::III, 10_001.0), None);
        assert_eq!(scale_error_in_e(ScaleClass::III, -1.0), None);
        assert_eq!(scale_error_in_e(ScaleClass::I, f64::NAN), None);
        assert_eq!(weight_error_mg(3, WeightClass::M1), None);
        assert_eq!(calliper_error_um(150.0), None);
        assert_eq!(micrometer_error_um(125), None);
    }

    #[test]
    fn the_error_steps_just_above_each_bound() {
        // OIML R 76-1:2006, table 6: 0 ≤ m ≤ 500 e, 500 < m ≤ 2000, 2000 < m ≤ 10 000 for class III.
        for (load, error) in [(0.0, 0.5), (500.0, 0.5), (500.5, 1.0), (2000.5, 1.5)] {
            assert_eq!(scale_error_in_e(ScaleClass::III, load), Some(error));
        }
    }
}
