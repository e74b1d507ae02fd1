//! Uncertainty budgets in words: each line with its share, and the sum.

use super::text;
use super::tone::{Row, Tone};
use crate::evidence::Amount;
use crate::metrology::rounding::decimals_of;
use crate::scoring::ReadingBudget;
use serde_json::{Value, json};

/// Columns of the names of the lines.
const NAME: usize = 32;
/// Columns of a figure, and of a share.
const FIGURE: usize = 16;
const SHARE: usize = 8;
/// Fewest columns in which a source stands beside its line; else it stands below, so many columns in.
const LEAST_SOURCE: usize = 24;
const BELOW: usize = 6;

/// Returns the page of all budgets of a piece, `columns` wide.
pub fn budget_page(number: &str, budgets: &[ReadingBudget], columns: usize) -> Vec<Row> {
    let mut rows = vec![
        Row::of(Tone::Strong, format!("Budget of each reading of {number}")),
        Row::of(Tone::Quiet, "u: standard uncertainty, k = 1; share: of the sum of squares"),
    ];
    for budget in budgets {
        rows.push(Row::blank());
        rows.extend(budget_rows(budget, columns));
    }
    if budgets.is_empty() {
        rows.push(Row::of(Tone::Quiet, "nothing was measured on it"));
    }
    rows
}

/// Returns one budget: the reading, its lines, and the sum.
fn budget_rows(budget: &ReadingBudget, columns: usize) -> Vec<Row> {
    let decimals = decimals_of(budget.u.value(), 2) + 1;
    let with = budget.instrument.as_ref().map_or_else(String::new, |name| format!(", with `{name}`"));
    let value = budget.value.show(decimals_of(budget.u.value(), 2));
    let mut rows = vec![Row::of(Tone::Strong, format!("{}  {value}{with}", budget.measurand))];
    if let Some(void) = &budget.void {
        for line in text::wrap(&format!("counts for nothing: {void}"), columns) {
            rows.push(Row::of(Tone::Hold, line));
        }
    }
    let sum = budget.u.value();
    for line in &budget.lines {
        let share = if sum > 0.0 { (line.u.value() / sum).powi(2) * 100.0 } else { 0.0 };
        let figures = figures(&line.name, line.u, decimals, &format!("{share:.0} %"));
        let room = columns.saturating_sub(text::width(&figures) + 2);
        if room < LEAST_SOURCE {
            rows.push(Row::of(Tone::Plain, figures));
            let below = text::wrap(&line.source, columns.saturating_sub(BELOW).max(1)).into_iter();
            rows.extend(below.map(|line| Row::of(Tone::Quiet, " ".repeat(BELOW) + &line)));
            continue;
        }
        let mut sources = text::wrap(&line.source, room).into_iter();
        let first = sources.next().unwrap_or_default();
        rows.push(Row::of(Tone::Plain, figures.clone()).with(Tone::Quiet, format!("  {first}")));
        let indent = " ".repeat(text::width(&figures) + 2);
        rows.extend(sources.map(|rest| Row::of(Tone::Quiet, format!("{indent}{rest}"))));
    }
    let total = figures("combined, root of the squares", budget.u, decimals, "100 %");
    rows.push(Row::of(Tone::Strong, total));
    let expanded = Amount { base: budget.u.base.saturating_mul(2), ..budget.u };
    rows.push(Row::of(Tone::Plain, figures("expanded, k = 2", expanded, decimals, "")));
    rows
}

fn figures(name: &str, u: Amount, decimals: u32, share: &str) -> String {
    let name = text::pad_end(&text::fit(name, NAME), NAME);
    let figure = text::pad_start(&u.show(decimals), FIGURE);
    format!("  {name}{figure}{}", text::pad_start(share, SHARE)).trim_end().to_owned()
}

/// Returns budgets as JSON.
pub fn budgets_json(budgets: &[ReadingBudget]) -> Value {
    let one = |budget: &ReadingBudget| {
        let lines = budget
            .lines
            .iter()
            .map(|line| json!({ "name": line.name, "u": line.u.value(), "source": line.source }));
        json!({
            "quantity": budget.measurand.name(),
            "unit": budget.value.unit().symbol,
            "value": budget.value.value(),
            "instrument": budget.instrument,
            "lines": lines.collect::<Vec<_>>(),
            "u": budget.u.value(),
            "expanded_k2": 2.0 * budget.u.value(),
            "counts_for_nothing": budget.void,
        })
    };
    budgets.iter().map(one).collect()
}
