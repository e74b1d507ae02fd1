//! `scruple log`: readings imported from a list.

use super::{Printed, input, json};
use crate::desk::private_file::create_new;
use crate::desk::{AppError, Desk, ErrorKind, LogReport};
use crate::intake::readings_list::rejected_rows;
use crate::present::causes::hold_text;
use crate::present::table::{Align, Table};
use crate::present::text::clean;
use crate::present::words::count;
use crate::scoring::Standing;
use clap::Args;
use serde_json::json;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Arguments of `scruple log`.
#[derive(Debug, Args)]
#[command(after_help = "\
Columns: line; and optional serial, mass, diameter, thickness, length, width, conductivity or conductivity_1 and so on,
temperature, probe. A header may name a unit (mass_g), a cell may carry its own. Empty and `-` mean not measured.

Examples:
  scruple log readings.csv --shipment S-0001
  scruple log readings.csv --shipment S-0001 --partial --json")]
pub(super) struct LogArgs {
    /// The readings, CSV; `-` for standard input
    #[arg(value_name = "READINGS.csv")]
    readings: PathBuf,
    /// Number of the shipment, such as S-0001
    #[arg(long, value_name = "S")]
    shipment: String,
    /// Score everything and write nothing
    #[arg(long)]
    dry_run: bool,
    /// Take the good rows, and write the others to READINGS.rejected.csv
    #[arg(long)]
    partial: bool,
}

pub(super) fn run(args: &LogArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    let list = input::read(&args.readings)?;
    let beside = rejected_name(&args.readings);
    if args.partial && !args.dry_run && beside.exists() {
        let message = format!("`{}` exists already", beside.display());
        return Err(AppError::failed(message).with_hint("move it away; rejected rows are never written over"));
    }
    let report = desk.log_readings(&args.shipment, &list.name, &list.text, args.dry_run, args.partial)?;
    let mut written = None;
    if !report.rejected.is_empty() {
        report_rejected(&report);
        if !args.dry_run {
            let rows = report.rejected.iter().map(|error| error.row).collect();
            write_new(&beside, &rejected_rows(&list.text, &rows))?;
            written = Some(beside);
        }
    }
    if json {
        return Ok(Printed::done(as_json(&report, written.as_deref())));
    }
    Ok(Printed::done(text(&report, written.as_deref())))
}

/// Names the rejected rows on standard error.
fn report_rejected(report: &LogReport) {
    let mut lines = String::new();
    for error in &report.rejected {
        lines.push_str(&format!("rejected: {}\n", clean(&error.to_string())));
        if let Some(hint) = &error.hint {
            lines.push_str(&format!("hint: {}\n", clean(hint)));
        }
    }
    // Nobody is left to tell when standard error itself is gone.
    let _ = std::io::stderr().lock().write_all(lines.as_bytes());
}

fn as_json(report: &LogReport, written: Option<&Path>) -> String {
    json::document(json!({
        "dry_run": report.dry_run,
        "pieces": report.pieces.iter().map(json::piece_in_short).collect::<Vec<_>>(),
        "rejected": report.rejected.iter().map(|error| json!({
            "row": error.row,
            "column": error.column,
            "found": error.found,
            "allowed": error.allowed,
            "hint": error.hint,
        })).collect::<Vec<_>>(),
        "rejected_file": written.map(|path| path.display().to_string()),
    }))
}

fn text(report: &LogReport, written: Option<&Path>) -> String {
    let mut table = Table::new(&[
        ("piece", Align::Left),
        ("serial", Align::Left),
        ("standing", Align::Left),
        ("score", Align::Right),
        ("why", Align::Left),
    ]);
    for piece in &report.pieces {
        let score = piece.assessment.score_shown();
        let why = match piece.doubts.as_slice() {
            [] => String::new(),
            [only] => hold_text(only),
            [first, rest @ ..] => format!("{} (and {} more)", hold_text(first), rest.len()),
        };
        let serial = piece.serial.as_deref().unwrap_or("-");
        table.row([piece.number.as_str(), serial, piece.standing.word(), &score, &why]);
    }
    let number = |standing: Standing| report.pieces.iter().filter(|piece| piece.standing == standing).count();
    let verb = if report.dry_run { "would be logged" } else { "logged" };
    let mut summary = format!(
        "{} {verb}: {} clear, {} on hold, {} to refuse\n",
        count(report.pieces.len(), "piece", "pieces"),
        number(Standing::Clear),
        number(Standing::Hold),
        number(Standing::Refuse),
    );
    if let Some(path) = written {
        summary.push_str(&format!("rejected rows are in {}\n", clean(&path.display().to_string())));
    }
    if table.is_empty() { summary } else { table.text() + "\n" + &summary }
}

/// Returns the file for rejected rows: beside the list, or in the working folder for standard input.
fn rejected_name(readings: &Path) -> PathBuf {
    if readings == Path::new("-") {
        PathBuf::from("rejected.csv")
    } else {
        readings.with_extension("rejected.csv")
    }
}

fn write_new(path: &Path, text: &str) -> Result<(), AppError> {
    let written =
        create_new(path).and_then(|mut file| file.write_all(text.as_bytes()).and_then(|()| file.sync_all()));
    written.map_err(|error| {
        let message =
            format!("the good rows are logged, but `{}` cannot be written: {error}", path.display());
        AppError::new(ErrorKind::Io, message)
    })
}
