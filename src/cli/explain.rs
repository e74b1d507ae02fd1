//! `scruple explain`: where a number or a word about a piece comes from.

use super::{Printed, json};
use crate::desk::{AppError, Desk};
use crate::present::explain::{explained_list, explanation_json, explanation_page};
use clap::Args;
use serde_json::json;

/// Columns of the page.
const COLUMNS: usize = 100;

/// Arguments of `scruple explain`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple explain S-0001/3-07
  scruple explain S-0001/3-07 mass-limits --json")]
pub(super) struct ExplainArgs {
    /// Number or serial of the piece
    piece: String,
    /// What to explain: a number or a word of the list; without it, the list
    what: Option<String>,
}

pub(super) fn run(args: &ExplainArgs, desk: &Desk, json: bool) -> Result<Printed, AppError> {
    let explained = desk.explain(&args.piece)?;
    let Some(what) = &args.what else {
        if json {
            let things = explained.things.iter().map(explanation_json).collect::<Vec<_>>();
            let fields = json!({ "piece": explained.number, "things": things });
            return Ok(Printed::done(json::document(fields)));
        }
        return Ok(Printed::done(explained_list(&explained)));
    };
    let explanation = explained.named(what)?;
    if json {
        let fields = json!({ "piece": explained.number, "explanation": explanation_json(explanation) });
        return Ok(Printed::done(json::document(fields)));
    }
    let rows = explanation_page(&explained.number, explanation, COLUMNS);
    Ok(Printed::done(rows.iter().map(|row| row.text().trim_end().to_owned() + "\n").collect()))
}
