//! Learned figures beside the published ones, in words.

use super::text::clean;
use crate::desk::type_book::{TypeBookRow, TypeBookView};
use crate::metrology::rounding::decimals_of;
use crate::scoring::{LotValue, PublishedLimits};

/// Returns the published limits of a row in words.
pub fn published_text(row: &TypeBookRow) -> String {
    let digits = match row.quantity.measurand() {
        Some(_) => row.learned.as_ref().map_or(2, |learned| learned.decimals().max(2)),
        None => 2,
    };
    limits_text(row.published, digits)
}

fn limits_text(limits: PublishedLimits, digits: u32) -> String {
    match limits {
        (Some(low), Some(high)) => format!("{} to {}", number(low, digits), high.show(digits)),
        (Some(low), None) => format!("from {}", low.show(digits)),
        (None, Some(high)) => format!("up to {}", high.show(digits)),
        (None, None) => "none".to_owned(),
    }
}

/// Returns a value without its unit.
fn number(value: LotValue, digits: u32) -> String {
    match value {
        LotValue::Reading(amount) => amount.digits(digits),
        LotValue::Share(_) => value.show(digits),
    }
}

/// Returns the learned centre with its standard uncertainty, k = 1; empty until the figures count.
pub fn centre_text(row: &TypeBookRow) -> String {
    let Some(figures) = row.learned.as_ref().and_then(|learned| learned.figures) else {
        return String::new();
    };
    let digits = decimals_of(figures.centre_u.value(), 1);
    format!("{} ± {}", number(figures.centre, digits), figures.centre_u.show(digits))
}

/// Returns the learned standard deviation of a piece; empty until the figures count.
pub fn scatter_text(row: &TypeBookRow) -> String {
    row.learned
        .as_ref()
        .and_then(|learned| learned.figures)
        .map_or_else(String::new, |figures| figures.scatter.show(decimals_of(figures.scatter.value(), 2)))
}

/// Returns what the next piece is expected to read; until the figures count, how many pieces are missing.
pub fn expected_text(row: &TypeBookRow) -> String {
    match (row.expected, &row.learned) {
        (Some((low, high)), Some(learned)) => {
            format!("{} to {}", number(low, learned.decimals()), high.show(learned.decimals()))
        }
        _ => format!("{} missing", super::words::count(row.missing as usize, "piece", "pieces")),
    }
}

/// Returns a row as one sentence for a narrow place: what was learned, from how many pieces, and what is published.
pub fn row_text(row: &TypeBookRow) -> String {
    let with = row.instrument.as_deref().map_or_else(String::new, |name| format!(" ({})", clean(name)));
    let quantity = row.quantity.word();
    if row.learned.is_none() {
        return format!("{quantity}{with}: {} of {} pieces", row.pieces, row.pieces + row.missing);
    }
    format!(
        "{quantity}{with}: {}, scatter {}; {} expected; published {}; {} pieces",
        centre_text(row),
        scatter_text(row),
        expected_text(row),
        published_text(row),
        row.pieces
    )
}

/// Returns what speaks against trusting the figures, one line each, with the quantities it is about; the same words about
/// several quantities are said once.
pub fn remark_lines(view: &TypeBookView) -> Vec<String> {
    let mut said: Vec<(String, Vec<&str>)> = Vec::new();
    for row in &view.rows {
        for remark in row.learned.iter().flat_map(|learned| &learned.remarks) {
            match said.iter_mut().find(|(known, _)| known == remark) {
                Some((_, quantities)) => quantities.push(row.quantity.word()),
                None => said.push((remark.clone(), vec![row.quantity.word()])),
            }
        }
    }
    said.into_iter()
        .map(|(remark, quantities)| format!("{}: {}", quantities.join(", "), clean(&remark)))
        .collect()
}
