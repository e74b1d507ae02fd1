//! How much of a tolerance is used, as a bar that grows from the left.

/// A bar in two parts, so that a face may let the rest step back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bar {
    /// The part that is used.
    pub used: String,
    /// The part that is left.
    pub left: String,
}

/// Returns the bar for a share of the tolerance: 0 in the middle of the window, 1 on a limit.
///
/// The full width stands for 1; beyond it the bar ends in `>`. A bar looks full only from 1 on, and any use at all
/// shows at least one mark. A share that is not a number gives an empty bar.
pub fn tolerance_bar(share: f64, columns: usize) -> Bar {
    let used = if columns == 0 || share.is_nan() || share <= 0.0 {
        String::new()
    } else if share > 1.0 {
        "=".repeat(columns - 1) + ">"
    } else {
        "=".repeat(((share * columns as f64).floor() as usize).clamp(1, columns))
    };
    let left = ".".repeat(columns - used.len());
    Bar { used, left }
}

/// Returns the share in per cent: rounded down up to the limit and up beyond it, so that neither hides which side it
/// is on.
pub fn tolerance_percent(share: f64) -> String {
    if share.is_nan() {
        return String::new();
    }
    let percent = share.max(0.0) * 100.0;
    // A share such as 0.29 times 100 is a hair below 29; the addition keeps the printed figure.
    let whole = if share > 1.0 { (percent - 1e-9).ceil() } else { (percent + 1e-9).floor() };
    if whole > 999.0 { ">999 %".to_owned() } else { format!("{whole:.0} %") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(share: f64, bar: &str, percent: &str) {
        let made = tolerance_bar(share, 10);
        assert_eq!(made.used + &made.left, bar);
        assert_eq!(tolerance_percent(share), percent);
    }

    #[test]
    fn the_bar_grows_from_the_left_and_is_full_only_on_the_limit() {
        check(0.0, "..........", "0 %");
        check(0.001, "=.........", "0 %");
        check(0.48, "====......", "48 %");
        check(0.29, "==........", "29 %");
        check(0.999, "=========.", "99 %");
        check(1.0, "==========", "100 %");
        check(1.001, "=========>", "101 %");
        check(1.8, "=========>", "180 %");
        check(1e9, "=========>", ">999 %");
        check(f64::NAN, "..........", "");
        check(f64::INFINITY, "=========>", ">999 %");
    }

    #[test]
    fn a_bar_without_room_is_empty() {
        assert_eq!(tolerance_bar(0.5, 0), Bar { used: String::new(), left: String::new() });
        assert_eq!(tolerance_bar(2.0, 1).used, ">");
    }
}
