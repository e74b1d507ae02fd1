//! `scruple release`: clear pieces become stock.

use super::{Printed, input, json, review_json, stock};
use crate::desk::{AppError, Desk};
use crate::present::words::count;
use clap::Args;
use serde_json::json;

/// Arguments of `scruple release`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple release S-0001/3-07 S-0001/3-08
  scruple release S-0001/4 --pin-stdin --json < pin")]
pub(super) struct ReleaseArgs {
    /// Numbers or serials of pieces; a lot number means all its pieces that are clear
    #[arg(value_name = "PIECE|LOT", required = true)]
    pieces: Vec<String>,
    /// Read your PIN from the first line of standard input
    #[arg(long)]
    pin_stdin: bool,
}

pub(super) fn run(args: &ReleaseArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    let pin = input::pin(args.pin_stdin)?;
    let released = desk.release(&args.pieces, pin.as_deref())?;
    if json {
        let released: Vec<_> = released.iter().map(review_json::stock).collect();
        return Ok(Printed::done(json::document(json!({ "released": released }))));
    }
    let pieces = count(released.len(), "piece", "pieces");
    Ok(Printed::done(format!("released {pieces}\n\n{}", stock::text(&released))))
}
