//! `scruple holds`: open doubts, the most money at risk first.

use super::{Printed, json};
use crate::desk::{AppError, Desk, HoldView, LotView};
use crate::present::holds_text::{holds_text, short_counts_text};
use crate::present::words::count;
use crate::scoring::DoubtKind;
use clap::Args;
use clap::builder::PossibleValuesParser;
use serde_json::json;
use std::io::IsTerminal;

/// Columns where there is no terminal.
const COLUMNS: usize = 80;
/// Columns beyond which lines are hard to read.
const MOST_COLUMNS: usize = 120;

/// Arguments of `scruple holds`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple holds
  scruple holds --doubt hidden_core --source moonpond --json --check")]
pub(super) struct HoldsArgs {
    /// Only what came from a source whose name contains this
    #[arg(long, value_name = "TEXT")]
    source: Option<String>,
    /// Only this product
    #[arg(long, value_name = "ID")]
    product: Option<String>,
    /// Only this kind of doubt
    #[arg(long, value_name = "KIND", value_parser = doubt_kinds())]
    doubt: Option<String>,
    /// Only what this operator logged
    #[arg(long, value_name = "NAME", id = "logged_by")]
    logged_by: Option<String>,
    /// Exit with 3 when something is on hold or refused
    #[arg(long)]
    check: bool,
}

pub(super) fn run(args: &HoldsArgs, desk: &Desk, json: bool) -> Result<Printed, AppError> {
    let mut holds = desk.holds()?;
    holds.retain(|hold| args.wants(hold));
    let short = desk.short_counts()?;
    let open = !holds.is_empty();
    if json {
        let fields = json!({
            "holds": holds.iter().map(json::hold).collect::<Vec<_>>(),
            "short_counts": short.iter().map(|lot| json!({
                "lot": lot.number,
                "product": lot.product.as_str(),
                "expected": lot.expected,
                "logged": lot.logged,
                "serials_open": lot.serials_open,
            })).collect::<Vec<_>>(),
        });
        return Ok(Printed::checked(json::document(fields), args.check, open));
    }
    Ok(Printed::checked(text(&holds, &short, columns()), args.check, open))
}

/// Returns the parser of the kinds of doubts, which also tells them in `--help`.
fn doubt_kinds() -> PossibleValuesParser {
    PossibleValuesParser::new(DoubtKind::ALL.map(DoubtKind::word))
}

impl HoldsArgs {
    /// Tells whether a doubt passes every filter given.
    fn wants(&self, hold: &HoldView) -> bool {
        let contains = |text: &str, part: &str| text.to_lowercase().contains(&part.trim().to_lowercase());
        self.source.as_deref().is_none_or(|part| contains(&hold.source, part))
            && self.product.as_deref().is_none_or(|id| hold.product.as_str() == id.trim())
            && self.doubt.as_deref().is_none_or(|kind| hold.kind.word() == kind)
            && self.logged_by.as_deref().is_none_or(|name| hold.operator.eq_ignore_ascii_case(name.trim()))
    }
}

fn text(holds: &[HoldView], short: &[LotView], columns: usize) -> String {
    let mut text = String::new();
    if holds.is_empty() {
        text.push_str("nothing is on hold\n");
    } else {
        text.push_str(&holds_text(holds, columns));
        text.push_str(&format!("\n{} open\n", count(holds.len(), "doubt", "doubts")));
    }
    if !short.is_empty() {
        text.push('\n');
        text.push_str(&short_counts_text(short, columns));
    }
    text
}

/// Returns the width of the terminal; 80 where there is none.
fn columns() -> usize {
    let terminal = std::io::stdout().is_terminal();
    let size = terminal.then(crossterm::terminal::size).and_then(Result::ok);
    size.map_or(COLUMNS, |(columns, _)| usize::from(columns).min(MOST_COLUMNS))
}
