//! `scruple label`: labels with a bar code and a QR code.

use super::{Printed, json, output};
use crate::desk::review_views::{Ending, PieceRecord};
use crate::desk::{AppError, Desk};
use crate::evidence::Measurand;
use crate::present::words::{day, standing_text};
use crate::quantity::{Fineness, Quantity};
use crate::report::labels::{Label, LabelSheet, sheets_as_pdf, sheets_as_svg};
use chrono::{FixedOffset, Local, Offset};
use clap::Args;
use serde_json::json;
use std::path::{Path, PathBuf};

/// Hexadecimal digits of the journal's hash in the QR code.
const HASH_DIGITS: usize = 16;

/// Arguments of `scruple label`.
#[derive(Debug, Args)]
#[command(after_help = "\
Labels of 70 mm by 37 mm, 24 on a sheet of A4.

Examples:
  scruple label S-0001/3-07 --pdf labels.pdf
  scruple label S-0001/3-07 S-0001/3-08 --skip 4 --svg labels.svg")]
pub(super) struct LabelArgs {
    /// Numbers or serials of pieces
    #[arg(value_name = "PIECE", required = true)]
    pieces: Vec<String>,
    /// Write the sheets as PDF into a new file
    #[arg(long, value_name = "FILE")]
    pdf: Option<PathBuf>,
    /// Write the sheets as SVG into new files, the second named FILE-2.svg and so on
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// Labels of the first sheet that are used up already
    #[arg(long, value_name = "N", default_value_t = 0)]
    skip: usize,
}

pub(super) fn run(args: &LabelArgs, desk: &Desk, json: bool) -> Result<Printed, AppError> {
    if args.pdf.is_none() && args.svg.is_none() && !json {
        return Err(AppError::usage("name a file with `--pdf` or `--svg`", Vec::new()));
    }
    let zone = Local::now().offset().fix();
    let labels = args
        .pieces
        .iter()
        .map(|piece| Ok(label_of(desk, &desk.piece_record(piece)?, zone)))
        .collect::<Result<Vec<Label>, AppError>>()?;
    let failed = |error: crate::report::labels::LabelError| AppError::failed(error.to_string());
    let mut written = Vec::new();
    if let Some(path) = &args.pdf {
        output::write_new(path, &sheets_as_pdf(&labels, &LabelSheet::A4_24, args.skip).map_err(failed)?)?;
        written.push(path.clone());
    }
    if let Some(path) = &args.svg {
        let sheets = sheets_as_svg(&labels, &LabelSheet::A4_24, args.skip).map_err(failed)?;
        if sheets.len() > 1 && path == Path::new("-") {
            let message = format!("standard output takes one sheet, and there are {}", sheets.len());
            return Err(AppError::usage(message, Vec::new()));
        }
        for (index, sheet) in sheets.iter().enumerate() {
            let path = numbered(path, index);
            output::write_new(&path, sheet.as_bytes())?;
            written.push(path);
        }
    }
    if json {
        let labels: Vec<_> = labels
            .iter()
            .map(|label| {
                json!({
                    "piece": label.piece,
                    "product": label.product,
                    "mass": label.mass,
                    "fineness": label.fineness,
                    "standing": label.standing,
                    "released": label.released,
                    "code": label.code,
                })
            })
            .collect();
        return Ok(Printed::done(json::document(json!({ "labels": labels }))));
    }
    Ok(Printed::done(output::said(&written)))
}

/// Returns the file of a sheet, from 0: the one named, then the same with a number.
fn numbered(path: &Path, index: usize) -> PathBuf {
    if index == 0 {
        return path.to_owned();
    }
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let end = path.extension().map_or_else(String::new, |end| format!(".{}", end.to_string_lossy()));
    path.with_file_name(format!("{stem}-{}{end}", index + 1))
}

fn label_of(desk: &Desk, record: &PieceRecord, zone: FixedOffset) -> Label {
    let piece = &record.piece;
    let mass = piece.readings.iter().find(|reading| reading.measurand == Measurand::Mass);
    let fineness = desk.catalogue().product(piece.product.as_str()).map(|product| {
        let fineness: Fineness = product.fineness.nominal.value;
        let digits = fineness.digits_in(&Fineness::UNITS[0], 2);
        format!("{} ‰", digits.trim_end_matches('0').trim_end_matches('.'))
    });
    let standing = match (&record.stock, &record.ending) {
        (Some(_), _) => "in stock".to_owned(),
        (None, Some((Ending::SentBack, ..))) => "sent back".to_owned(),
        (None, Some((Ending::Surrendered, ..))) => "surrendered, keep apart".to_owned(),
        (None, _) => format!("not released: {}", standing_text(piece.standing)),
    };
    Label {
        piece: piece.number.clone(),
        product: piece.product_name.clone(),
        mass: mass.map_or_else(String::new, |mass| mass.stored.clone()),
        fineness: fineness.unwrap_or_default(),
        standing,
        released: record
            .stock
            .as_ref()
            .map_or_else(String::new, |stock| format!("released {}", day(stock.released_at, zone))),
        code: format!(
            "scruple:{}:{}",
            piece.number,
            record.journal_hash.chars().take(HASH_DIGITS).collect::<String>()
        ),
    }
}
