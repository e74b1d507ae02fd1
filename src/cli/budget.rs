//! `scruple budget`: where the uncertainty of each reading of a piece comes from.

use super::{Printed, json};
use crate::desk::{AppError, Desk};
use crate::evidence::Measurand;
use crate::present::budget::{budget_page, budgets_json};
use clap::Args;
use serde_json::json;

/// Columns of the page.
const COLUMNS: usize = 110;

/// Arguments of `scruple budget`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple budget S-0001/3-07
  scruple budget S-0001/3-07 --quantity conductivity --json")]
pub(super) struct BudgetArgs {
    /// Number or serial of the piece
    number: String,
    /// Only this quantity: mass, diameter, length, width, thickness, conductivity, temperature
    #[arg(long, value_name = "QUANTITY", value_parser = quantity)]
    quantity: Option<Measurand>,
}

/// Reads the word of a quantity.
pub(super) fn quantity(word: &str) -> Result<Measurand, String> {
    Measurand::named(word).ok_or_else(|| {
        let allowed: Vec<String> = Measurand::ALL.iter().map(|of| format!("`{of}`")).collect();
        format!("allowed are {}", allowed.join(", "))
    })
}

pub(super) fn run(args: &BudgetArgs, desk: &Desk, json: bool) -> Result<Printed, AppError> {
    let (number, mut budgets) = desk.budgets(&args.number)?;
    budgets.retain(|budget| args.quantity.is_none_or(|wanted| budget.measurand == wanted));
    if json {
        let fields = json!({ "piece": number, "readings": budgets_json(&budgets) });
        return Ok(Printed::done(json::document(fields)));
    }
    let rows = budget_page(&number, &budgets, COLUMNS);
    Ok(Printed::done(rows.iter().map(|row| row.text().trim_end().to_owned() + "\n").collect()))
}
