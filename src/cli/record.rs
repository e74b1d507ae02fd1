//! `scruple record`: the evidence a piece was sold on.

use super::output::{Wanted, said};
use super::{Printed, json, review_json};
use crate::desk::{AppError, Desk};
use crate::report::pdf::Paper;
use crate::report::{piece_record, plain};
use chrono::{Local, Offset};
use clap::Args;
use serde_json::json;
use std::path::PathBuf;

/// Arguments of `scruple record`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple record S-0001/3-07
  scruple record S-0001/3-07 --pdf record.pdf")]
pub(super) struct RecordArgs {
    /// Number or serial of the piece
    #[arg(value_name = "PIECE")]
    piece: String,
    /// Write it as one HTML file; `-` for standard output
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Write it as PDF
    #[arg(long, value_name = "FILE")]
    pdf: Option<PathBuf>,
    /// Use US letter paper, not A4
    #[arg(long, requires = "pdf")]
    letter: bool,
}

pub(super) fn run(args: &RecordArgs, desk: &Desk, json: bool) -> Result<Printed, AppError> {
    let wanted = Wanted { html: args.html.as_deref(), pdf: args.pdf.as_deref(), ..Wanted::default() };
    wanted.check()?;
    let record = desk.piece_record(&args.piece)?;
    let document = piece_record::document(&record, Local::now().offset().fix());
    let paper = if args.letter { Paper::LETTER } else { Paper::A4 };
    let written = wanted.document(&document, paper)?;
    if json {
        return Ok(Printed::done(json::document(json!({ "record": review_json::record(&record) }))));
    }
    if wanted.any() {
        return Ok(Printed::done(said(&written)));
    }
    Ok(Printed::done(plain::text(&document)))
}
