//! The ranges, numbers and names of axes on paper.

use crate::present::scale::range_around;
use crate::report::plot::Axis;

/// Returns from and to of an axis: as given, or around all values with a margin.
///
/// Values that are not finite are passed over; without any, 0 to 1.
pub(super) fn range_of(axis: &Axis, values: impl IntoIterator<Item = f64>) -> (f64, f64) {
    range_with_margin(axis, values, 0.06)
}

/// Returns from and to of an axis: as given, or around all values with a margin in parts of their range.
pub(super) fn range_with_margin(axis: &Axis, values: impl IntoIterator<Item = f64>, part: f64) -> (f64, f64) {
    if let Some((from, to)) = axis.range
        && from.is_finite()
        && to.is_finite()
        && from < to
    {
        return (from, to);
    }
    range_around(values, part)
}

/// Returns a number with at most six digits after the point, without trailing zeros.
pub(in crate::report) fn plain_number(value: f64) -> String {
    let text = format!("{value:.6}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// Returns the name of an axis with its unit.
pub(in crate::report) fn axis_name(axis: &Axis) -> String {
    match (axis.quantity.as_str(), axis.unit.as_str()) {
        (quantity, "") => quantity.to_owned(),
        ("", unit) => format!("in {unit}"),
        (quantity, unit) => format!("{quantity} in {unit}"),
    }
}
