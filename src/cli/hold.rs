//! `scruple hold`: a piece set aside by hand, and taken back.

use super::correct::standing_text;
use super::{Printed, json};
use crate::desk::{AppError, Desk};
use clap::Args;
use serde_json::json;

/// Arguments of `scruple hold`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple hold S-0001/3-07 --reason 'the rim looks cast'
  scruple hold S-0001/3-07 --take-back --reason 'a scratch, nothing more' --json")]
pub(super) struct HoldArgs {
    /// Number or serial of the piece
    #[arg(value_name = "PIECE")]
    piece: String,
    /// Take back the holds that people put on it
    #[arg(long)]
    take_back: bool,
    /// Why
    #[arg(long, value_name = "TEXT")]
    reason: String,
}

pub(super) fn run(args: &HoldArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    let piece = desk.find_piece(&args.piece)?.id;
    let (verb, piece) = if args.take_back {
        ("took back the hold on", desk.take_back_hold(piece, &args.reason)?)
    } else {
        ("put a hold on", desk.hold_piece(piece, &args.reason)?)
    };
    Ok(Printed::done(if json {
        json::document(json!({ "piece": json::piece(&piece) }))
    } else {
        format!("{verb} piece {}\n{}", piece.number, standing_text(&piece))
    }))
}
