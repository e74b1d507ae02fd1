//! How far a long act is: in which words, and how often they are shown.

use crate::desk::Step;
use std::time::Duration;

/// An act that is done by then shows nothing.
pub const FIRST: Duration = Duration::from_millis(500);
/// Least time between two lines.
pub const BETWEEN: Duration = Duration::from_millis(100);

/// Returns a step in words, `pieces logged: 12 000 of 40 000`; without a count, what is done.
pub fn step_text(step: &Step) -> String {
    match (step.done, step.of) {
        (0, None) => step.what.to_owned(),
        (done, None) => format!("{}: {}", step.what, grouped(done)),
        (done, Some(of)) => format!("{}: {} of {}", step.what, grouped(done), grouped(of)),
    }
}

/// Returns a count in groups of three digits, divided by a blank: no mark that somewhere stands before tenths.
fn grouped(count: u64) -> String {
    let digits = count.to_string();
    let mut text = String::with_capacity(digits.len() + digits.len() / 3);
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            text.push(' ');
        }
        text.push(digit);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(done: u64, of: Option<u64>, expected: &str) {
        assert_eq!(step_text(&Step { what: "rows read", done, of }), expected);
    }

    #[test]
    fn a_step_is_told_with_its_count_where_there_is_one() {
        check(0, None, "rows read");
        check(999, None, "rows read: 999");
        check(12_000, Some(1_000_000), "rows read: 12 000 of 1 000 000");
        check(0, Some(5), "rows read: 0 of 5");
    }
}
