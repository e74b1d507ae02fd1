//! `scruple send-back` and `scruple surrender`: pieces that leave the desk without becoming stock.

use super::{Printed, input, json};
use crate::desk::{AppError, Desk, PieceView, SURRENDER_CAUTIONS};
use crate::present::text::wrap;
use crate::present::words::count;
use clap::Args;
use serde_json::json;

/// Arguments of `scruple send-back`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple send-back S-0001/3-07 --reason 'too light for a 20 franc piece'
  scruple send-back S-0001/3 --reason 'the supplier takes the lot back' --json")]
pub(super) struct SendBackArgs {
    #[command(flatten)]
    which: Which,
}

/// Arguments of `scruple surrender`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple surrender S-0001/3-07 --reason 'suspected counterfeit of legal tender'
  scruple surrender S-0001/3-07 --reason 'receipt 12/31 of the office' --json")]
pub(super) struct SurrenderArgs {
    #[command(flatten)]
    which: Which,
}

/// Which pieces, and why.
#[derive(Debug, Args)]
struct Which {
    /// Numbers or serials of pieces; a lot number means all its pieces that are here
    #[arg(value_name = "PIECE", required = true)]
    pieces: Vec<String>,
    /// Why
    #[arg(long, value_name = "TEXT")]
    reason: String,
    /// Read your PIN from the first line of standard input
    #[arg(long)]
    pin_stdin: bool,
}

pub(super) fn send_back(args: &SendBackArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    let Which { pieces, reason, pin_stdin } = &args.which;
    let pin = input::pin(*pin_stdin)?;
    let pieces = desk.send_back(pieces, reason, pin.as_deref())?;
    if json {
        return Ok(Printed::done(json::document(json!({ "sent_back": numbers(&pieces), "reason": reason }))));
    }
    Ok(Printed::done(text("sent back", &pieces)))
}

pub(super) fn surrender(args: &SurrenderArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    let Which { pieces, reason, pin_stdin } = &args.which;
    let pin = input::pin(*pin_stdin)?;
    let pieces = desk.surrender(pieces, reason, pin.as_deref())?;
    if json {
        let fields =
            json!({ "surrendered": numbers(&pieces), "reason": reason, "cautions": SURRENDER_CAUTIONS });
        return Ok(Printed::done(json::document(fields)));
    }
    let mut data = text("surrendered", &pieces);
    for caution in SURRENDER_CAUTIONS {
        for (index, line) in wrap(caution, 71).into_iter().enumerate() {
            let label = if index == 0 { "caution: " } else { "         " };
            data.push_str(&format!("{label}{line}\n"));
        }
    }
    Ok(Printed::done(data))
}

fn numbers(pieces: &[PieceView]) -> Vec<&str> {
    pieces.iter().map(|piece| piece.number.as_str()).collect()
}

fn text(verb: &str, pieces: &[PieceView]) -> String {
    let head = format!("{verb} {}: {}", count(pieces.len(), "piece", "pieces"), numbers(pieces).join(" "));
    wrap(&head, 80).into_iter().map(|line| line + "\n").collect()
}
