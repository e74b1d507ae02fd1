//! `scruple day`: the day sheet.

use super::output::{Wanted, said};
use super::{Printed, json, review_json};
use crate::desk::{AppError, Desk};
use crate::report::pdf::Paper;
use crate::report::{day_sheet, plain};
use chrono::{Local, NaiveDate, Offset};
use clap::Args;
use std::path::PathBuf;

/// Arguments of `scruple day`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple day
  scruple day --date 2031-03-14 --pdf day.pdf --xlsx day.xlsx")]
pub(super) struct DayArgs {
    /// The day, such as 2031-03-14 [else today]
    #[arg(long, value_name = "DATE")]
    date: Option<String>,
    /// Write it as one HTML file; `-` for standard output
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Write it as PDF
    #[arg(long, value_name = "FILE")]
    pdf: Option<PathBuf>,
    /// Write its lots as CSV
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write all its tables as a workbook
    #[arg(long, value_name = "FILE")]
    xlsx: Option<PathBuf>,
    /// Use US letter paper, not A4
    #[arg(long, requires = "pdf")]
    letter: bool,
}

pub(super) fn run(args: &DayArgs, desk: &Desk, json: bool) -> Result<Printed, AppError> {
    let date = args.date.as_deref().map(date).transpose()?;
    let wanted = Wanted {
        html: args.html.as_deref(),
        pdf: args.pdf.as_deref(),
        csv: args.csv.as_deref(),
        xlsx: args.xlsx.as_deref(),
    };
    wanted.check()?;
    let view = desk.day(date)?;
    let zone = Local::now().offset().fix();
    let document = day_sheet::document(&view, &desk.prices()?, zone);
    let paper = if args.letter { Paper::LETTER } else { Paper::A4 };
    let mut written = wanted.document(&document, paper)?;
    written.extend(wanted.tables(&day_sheet::tables(&view, zone), view.day)?);
    if json {
        return Ok(Printed::done(json::document(review_json::day(&view))));
    }
    if wanted.any() {
        return Ok(Printed::done(said(&written)));
    }
    Ok(Printed::done(plain::text(&document)))
}

fn date(text: &str) -> Result<NaiveDate, AppError> {
    NaiveDate::parse_from_str(text.trim(), "%Y-%m-%d").map_err(|_| {
        let found = crate::present::text::clean(text);
        AppError::usage(format!("date `{found}` is not a day such as `2031-03-14`"), Vec::new())
    })
}
