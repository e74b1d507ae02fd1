//! An assessment as plain text for a person at a terminal of 80 columns, without colour.

use super::bar::{tolerance_bar, tolerance_percent};
use super::causes::{cause_text, remark_text};
use super::words::{construction_text, standing_sign};
use crate::evidence::Measurand;
use crate::metrology::rounding::decimals_of;
use crate::quantity::Quantity;
use crate::scoring::{Assessment, Candidate, Check, Doubt, Power, Scope};
use std::fmt::Write;

/// Width of a tolerance bar at 100 %.
const BAR: usize = 10;
/// Most candidates and doubts listed before the rest is counted.
const MOST_LISTED: usize = 6;

/// Returns the whole account of an assessment, ending with a line feed.
pub fn account(assessment: &Assessment, product_name: &str) -> String {
    let mut text = String::new();
    let standing = assessment.standing;
    let _ = writeln!(text, "{}  {product_name}", assessment.product);
    let _ = writeln!(
        text,
        "{} {}   score {} of 100, on {} checks\n",
        standing_sign(standing),
        standing.word().to_uppercase(),
        assessment.score_shown(),
        assessment.score_rests_on
    );
    for check in &assessment.checks {
        check_lines(&mut text, check);
    }
    if let (Some(depth), Some(proved)) = (assessment.skin_depth, assessment.proved_depth) {
        let _ = writeln!(
            text,
            "\nThe conductivity reading vouches for the outer {} (skin depth {}).",
            proved.show(2),
            depth.show(2)
        );
    }
    candidates(&mut text, assessment);
    if !assessment.doubts.is_empty() {
        let _ = writeln!(text, "\nOpen doubts");
        for open in assessment.doubts.iter().take(MOST_LISTED) {
            doubt(&mut text, open);
        }
        if assessment.doubts.len() > MOST_LISTED {
            let _ = writeln!(text, "  and {} more", assessment.doubts.len() - MOST_LISTED);
        }
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

fn candidates(text: &mut String, assessment: &Assessment) {
    let material: Vec<&Candidate> = assessment.survivors().filter(|c| c.material_doubt.is_some()).collect();
    let remarks = assessment.survivors().count() - material.len();
    let _ = writeln!(text, "\nWhat it could still be");
    if material.is_empty() {
        let _ = writeln!(text, "  nothing that is worth more than the limits of the policy");
    }
    for candidate in material.iter().take(MOST_LISTED) {
        wrapped(text, "  ? ", "    ", &candidate_words(candidate));
    }
    if material.len() > MOST_LISTED {
        let _ = writeln!(text, "  and {} more", material.len() - MOST_LISTED);
    }
    if remarks > 0 {
        let _ = writeln!(text, "  and {remarks} constructions that displace less than the policy's limits");
    }
}

/// Says in one line what a surviving candidate is.
pub fn candidate_words(candidate: &Candidate) -> String {
    let lot = if candidate.material_doubt == Some(Scope::Lot) { ", over the whole lot" } else { "" };
    format!("{}: {}{lot}", candidate.name, construction_text(candidate))
}

fn doubt(text: &mut String, doubt: &Doubt) {
    let scope = match doubt.scope {
        Scope::Piece => "",
        Scope::Lot => " (lot)",
    };
    wrapped(text, "  ! ", "    ", &format!("{}{scope}: {}", doubt.kind.label(), cause_text(&doubt.cause)));
    let words = |power: Power| {
        doubt
            .offers
            .iter()
            .filter(|o| o.power == power)
            .map(|o| o.method.label())
            .collect::<Vec<_>>()
            .join(", ")
    };
    let (settles, narrows) = (words(Power::Settles), words(Power::Narrows));
    if !settles.is_empty() {
        wrapped(text, "    settled by ", "      ", &settles);
    }
    if !narrows.is_empty() {
        wrapped(text, "    narrowed by ", "      ", &narrows);
    }
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
