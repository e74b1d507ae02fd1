//! An assessment as plain text for a person at a terminal of 80 columns, without colour.

use super::bar::{tolerance_bar, tolerance_percent};
use super::causes::remark_text;
use super::in_short;
use super::words::standing_sign;
use crate::evidence::Measurand;
use crate::metrology::rounding::decimals_of;
use crate::scoring::{Assessment, Check};
use std::fmt::Write;

/// Width of a tolerance bar at 100 %.
const BAR: usize = 10;
/// Columns of the labels of the verdict.
const LABEL: usize = 13;

/// Returns the whole account of an assessment, ending with a line feed: the verdict in six lines, then the checks and remarks.
pub fn account(assessment: &Assessment, product_name: &str) -> String {
    let mut text = String::new();
    let standing = assessment.standing;
    let _ = writeln!(text, "{}  {product_name}", assessment.product);
    let _ = writeln!(
        text,
        "{} {}   score {}",
        standing_sign(standing),
        in_short::standing_words(assessment, standing).to_uppercase(),
        assessment.score_shown()
    );
    for in_short::Line { label, text: words } in in_short::lines(assessment, standing) {
        let first = format!("  {label:<LABEL$}");
        wrapped(&mut text, &first, &" ".repeat(LABEL + 2), &words);
    }
    let _ = writeln!(text);
    for check in &assessment.checks {
        check_lines(&mut text, check);
    }
    if !assessment.remarks.is_empty() {
        let _ = writeln!(text, "\nRemarks");
        for remark in &assessment.remarks {
            wrapped(&mut text, "  - ", "    ", &remark_text(remark));
        }
    }
    text
}

/// Prints one check: value and limits on the first line, the reason on a second where it is not simply inside.
fn check_lines(text: &mut String, check: &Check) {
    let value = match (check.value, check.u) {
        (Some(value), Some(u)) => {
            let decimals = decimals_of(u.value(), 1);
            format!("{} ± {}", value.digits(decimals), u.show(decimals))
        }
        _ => "-".to_owned(),
    };
    let used = check
        .tolerance_used
        .map_or(String::new(), |used| format!("{} {:>6}", bar(used), tolerance_percent(used)));
    let line = format!("  {:<13}{:<24}{:<19}{}", check.measurand.name(), value, used, check.outcome.label());
    let _ = writeln!(text, "{}", line.trim_end());
    let limits = limits(check);
    if !limits.is_empty() {
        wrapped(text, "               ", "               ", &limits);
    }
    if check.reason != "inside" {
        wrapped(text, "               ", "               ", &check.reason);
    }
}

/// Says what is allowed and how well that is founded.
fn limits(check: &Check) -> String {
    let decimals = match check.measurand {
        Measurand::Mass => 3,
        Measurand::Conductivity | Measurand::Temperature => 1,
        _ => 2,
    };
    let founded = check.mark.as_str();
    match (check.lower, check.upper) {
        (Some(lower), Some(upper)) => {
            format!("allowed {} to {} ({founded})", lower.digits(decimals), upper.show(decimals))
        }
        (Some(lower), None) => format!("allowed from {} ({founded})", lower.show(decimals)),
        (None, Some(upper)) => format!("allowed up to {} ({founded})", upper.show(decimals)),
        (None, None) => String::new(),
    }
}

/// Draws the share of the tolerance used.
fn bar(used: f64) -> String {
    let bar = tolerance_bar(used, BAR);
    format!("{}{}", bar.used, bar.left)
}

/// Writes a paragraph broken at blanks to 80 columns.
pub fn wrapped(text: &mut String, first: &str, rest: &str, paragraph: &str) {
    let mut line = first.to_owned();
    let mut empty = true;
    for word in paragraph.split_whitespace() {
        if !empty && unicode_width::UnicodeWidthStr::width(line.as_str()) + 1 + word.chars().count() > 80 {
            let _ = writeln!(text, "{}", line.trim_end());
            rest.clone_into(&mut line);
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    let _ = writeln!(text, "{}", line.trim_end());
}
