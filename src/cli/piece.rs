//! `scruple piece`: everything about one piece.

use super::{Printed, json};
use crate::desk::screen::Units;
use crate::desk::{AppError, Desk};
use crate::present::evidence::piece_page;
use chrono::{Local, Offset};
use clap::Args;
use serde_json::json;

/// Columns of the page.
const COLUMNS: usize = 100;

/// Arguments of `scruple piece`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple piece S-0001/3-07
  scruple piece S-0001/3-07 --json")]
pub(super) struct PieceArgs {
    /// Number or serial of the piece
    number: String,
}

pub(super) fn run(args: &PieceArgs, desk: &Desk, json: bool) -> Result<Printed, AppError> {
    let piece = desk.find_piece(&args.number)?;
    if json {
        return Ok(Printed::done(json::document(json!({ "piece": json::piece(&piece) }))));
    }
    let rows = piece_page(&piece, COLUMNS, Local::now().offset().fix(), &Units::default()).rows;
    Ok(Printed::done(rows.iter().map(|row| row.text().trim_end().to_owned() + "\n").collect()))
}
