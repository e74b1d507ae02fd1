//! `scruple rescore`: lots scored again by the rules and prices of today.

use super::{Printed, json, shipments};
use crate::desk::{AppError, Desk, ErrorKind, LotView};
use crate::present::words::count;
use clap::Args;
use serde_json::json;

/// Arguments of `scruple rescore`.
#[derive(Debug, Args)]
#[command(after_help = "\
A new price, policy or instrument counts for what is logged from then on; this brings it to what is logged already. Pieces
that left the desk keep their assessment.

Examples:
  scruple rescore S-0001/3
  scruple rescore S-0001/3 S-0001/4 --json")]
pub(super) struct RescoreArgs {
    /// Numbers of lots
    #[arg(value_name = "LOT", required = true)]
    lots: Vec<String>,
}

pub(super) fn run(args: &RescoreArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    let found = args.lots.iter().map(|lot| desk.find_lot(lot)).collect::<Result<Vec<_>, _>>()?;
    let mut pieces = 0;
    let mut lots = Vec::with_capacity(found.len());
    for lot in found {
        let scored = desk.rescore(lot.id).map_err(|error| told_of(error, &lots))?;
        pieces += scored.len();
        lots.push(desk.lot(lot.id)?);
    }
    if json {
        let lots: Vec<_> = lots.iter().map(json::lot).collect();
        return Ok(Printed::done(json::document(json!({ "pieces": pieces, "lots": lots }))));
    }
    let pieces = count(pieces, "piece", "pieces");
    Ok(Printed::done(format!("scored {pieces} again\n\n{}", shipments::lots_text(&lots))))
}

/// Says which lots are scored again already, when the next one was stopped: each lot is an act of its own.
fn told_of(error: AppError, done: &[LotView]) -> AppError {
    if error.kind != ErrorKind::Stopped || done.is_empty() {
        return error;
    }
    let numbers: Vec<String> = done.iter().map(|lot| format!("`{}`", lot.number)).collect();
    let message =
        format!("stopped: only {} scored again, the lots behind are as they were", numbers.join(", "));
    AppError { message, ..error }
}
