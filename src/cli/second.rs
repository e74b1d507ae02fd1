//! `scruple second`: second tests of a piece, recorded or listed.

use super::test_args::{Heard, TestArgs, letter};
use super::{Printed, json, output, review_json};
use crate::desk::review_views::{SecondTestOutcome, SecondTestView};
use crate::desk::{AppError, Desk, HoldView};
use crate::intake::SecondTestId;
use crate::present::causes::cause_text;
use crate::present::second_test_json;
use crate::present::second_test_text::report_rows;
use crate::present::text::{clean, pad_end, wrap};
use crate::present::tone::Row;
use crate::present::words::{count, minute, standing_text};
use crate::report::chart;
use crate::report::plot::{Axis, Figure, Peak, Plot, Spectrum};
use crate::report::svg;
use chrono::{Local, Offset};
use clap::Args;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use uuid::Uuid;

/// Columns of the text.
pub(super) const COLUMNS: usize = 80;
/// Columns of the labels.
const LABEL: usize = 16;
/// Width of a spectrum that is drawn, in points.
const SPECTRUM_WIDTH: f64 = 540.0;

/// Arguments of `scruple second`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple second S-0001/3-07
  scruple second S-0001/3-07 --method immersion --in-air 31.11g --in-water 29.49g --water-temperature 21C")]
pub(super) struct SecondArgs {
    /// Number or serial of the piece; without a method its second tests are listed
    #[arg(value_name = "PIECE")]
    piece: String,
    #[command(flatten)]
    test: TestArgs,
    /// Say what the test would come to, and write nothing
    #[arg(long)]
    dry_run: bool,
    /// Draw the spectrum of a recording into a new file
    #[arg(long, value_name = "FILE.svg")]
    spectrum: Option<PathBuf>,
    /// Withdraw the second test with this id, because it was entered by mistake
    #[arg(long, value_name = "ID", requires = "reason", conflicts_with_all = ["method", "dry_run"])]
    withdraw: Option<String>,
    /// Why it is withdrawn
    #[arg(long, value_name = "TEXT", requires = "withdraw")]
    reason: Option<String>,
}

pub(super) fn run(args: &SecondArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    if let (Some(id), Some(reason)) = (&args.withdraw, &args.reason) {
        return withdraw(&args.piece, id, reason, desk, json);
    }
    let typed = args.test.read(desk)?;
    let Some(typed) = typed else {
        if args.test.method().is_some() {
            let message = "the readings of the second test are missing";
            return Err(AppError::usage(
                message,
                vec!["`scruple second --help` names them by method".to_owned()],
            ));
        }
        return list(&args.piece, desk, json);
    };
    draw(args.spectrum.as_deref(), typed.heard.as_ref(), &args.piece)?;
    if args.dry_run {
        let report = desk.preview_second_test(&args.piece, typed.test)?;
        if json {
            let fields = json!({ "dry_run": true, "report": second_test_json::report(&report) });
            return Ok(Printed::done(json::document(fields)));
        }
        let head = format!("{}  would come to, nothing was written\n\n", clean(&args.piece));
        return Ok(Printed::done(
            head + &heard_text(typed.heard.as_ref()) + &lines(&report_rows(&report, COLUMNS)),
        ));
    }
    let outcome = desk.record_second_test(&args.piece, typed.test)?;
    if json {
        return Ok(Printed::done(json::document(outcome_json(&outcome, typed.heard.as_ref()))));
    }
    Ok(Printed::done(outcome_text(&outcome, typed.heard.as_ref())))
}

fn list(piece: &str, desk: &Desk, json: bool) -> Result<Printed, AppError> {
    let piece = desk.find_piece(piece)?;
    let tests = desk.second_tests(piece.id)?;
    if json {
        let tests: Vec<Value> = tests.iter().map(review_json::second_test).collect();
        let fields = json!({ "piece": piece.number, "second_tests": tests });
        return Ok(Printed::done(json::document(fields)));
    }
    if tests.is_empty() {
        return Ok(Printed::done(format!("no second test of {} is in force\n", piece.number)));
    }
    let texts: Vec<String> = tests.iter().map(test_text).collect();
    Ok(Printed::done(texts.join("\n")))
}

fn test_text(test: &SecondTestView) -> String {
    let at = minute(test.at, Local::now().offset().fix());
    let head = format!("{}  {at} by {}\nid {}\n", test.piece, clean(&test.operator), test.id);
    head + &lines(&report_rows(&test.report, COLUMNS))
}

fn withdraw(piece: &str, id: &str, reason: &str, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    let piece = desk.find_piece(piece)?;
    let tests = desk.second_tests(piece.id)?;
    let id = Uuid::parse_str(id.trim()).ok().map(SecondTestId::new);
    let Some(test) = tests.iter().find(|test| Some(test.id) == id) else {
        let message = format!("piece `{}` has no second test with that id in force", piece.number);
        return Err(AppError::failed(message).with_hint("`scruple second PIECE` lists them with their ids"));
    };
    let after = desk.withdraw_second_test(test.id, reason)?;
    if json {
        let fields = json!({ "withdrawn": test.id.to_string(), "piece": json::piece_in_short(&after) });
        return Ok(Printed::done(json::document(fields)));
    }
    let (method, standing) = (test.report.method.label(), standing_text(after.standing));
    Ok(Printed::done(format!("withdrew the {method} of {}\n{}  {standing}\n", after.number, after.number)))
}

/// Returns what a recorded test changed as JSON.
pub(super) fn outcome_json(outcome: &SecondTestOutcome, heard: Option<&Heard>) -> Value {
    json!({
        "second_test": review_json::second_test(&outcome.test),
        "closed": review_json::holds(&outcome.closed),
        "opened": review_json::holds(&outcome.opened),
        "open": review_json::holds(&outcome.piece.doubts),
        "piece": json::piece_in_short(&outcome.piece),
        "recording": heard.map(heard_json),
    })
}

/// Returns what a recorded test changed as text.
pub(super) fn outcome_text(outcome: &SecondTestOutcome, heard: Option<&Heard>) -> String {
    let mut text = format!("{}  recorded\n\n", outcome.piece.number);
    text.push_str(&heard_text(heard));
    text.push_str(&lines(&report_rows(&outcome.test.report, COLUMNS)));
    text.push('\n');
    let opened = |hold: &&HoldView| outcome.opened.iter().any(|opened| opened.id == hold.id);
    let open: Vec<&HoldView> = outcome.piece.doubts.iter().filter(|hold| !opened(hold)).collect();
    push_holds(&mut text, "closed", &outcome.closed.iter().collect::<Vec<_>>());
    push_holds(&mut text, "opened", &outcome.opened.iter().collect::<Vec<_>>());
    push_holds(&mut text, "still open", &open);
    if outcome.closed.is_empty() && !outcome.piece.doubts.is_empty() {
        text.push_str("this test settled nothing\n");
    }
    let open = count(outcome.piece.doubts.len(), "doubt", "doubts");
    text.push_str(&format!(
        "{}  {}, {open} open\n",
        outcome.piece.number,
        standing_text(outcome.piece.standing)
    ));
    text
}

/// Adds doubts in words, wrapped beside a label.
fn push_holds(text: &mut String, label: &str, holds: &[&HoldView]) {
    for (index, hold) in holds.iter().enumerate() {
        let lot = if hold.piece.is_none() { " of the lot" } else { "" };
        let words = format!("{}{lot}: {}", hold.kind.label(), cause_text(&hold.cause));
        for (line_index, line) in wrap(&words, COLUMNS - LABEL).into_iter().enumerate() {
            let label = if index == 0 && line_index == 0 { label } else { "" };
            text.push_str(&format!("{}{line}\n", pad_end(label, LABEL)));
        }
    }
}

fn lines(rows: &[Row]) -> String {
    rows.iter().map(|row| row.text().trim_end().to_owned() + "\n").collect()
}

/// Returns the partials of a recording as text: a bar a partial, 45 dB wide, by rising frequency.
fn heard_text(heard: Option<&Heard>) -> String {
    const BAR: usize = 30;
    const DEEPEST_DB: f64 = 45.0;
    let Some(heard) = heard else { return String::new() };
    let recording = &heard.recording;
    let mut text = format!(
        "recording of {:.2} s at {} Hz, {} bits; strike at {:.3} s, {:.3} s of decay used\n",
        recording.duration_s, recording.rate_hz, recording.bits, recording.strike_s, recording.decay_used_s
    );
    for (place, index) in heard.order.iter().enumerate() {
        let partial = &recording.partials[*index];
        let share = ((partial.level_db + DEEPEST_DB) / DEEPEST_DB).clamp(0.0, 1.0);
        let bar = "=".repeat(((share * BAR as f64).round() as usize).max(1));
        let taken = if place == heard.taken { "  <- taken" } else { "" };
        let frequency =
            format!("{:.1} Hz (u {:.1} Hz)", partial.frequency_hz, partial.uncertainty_hz.max(0.05));
        let line = format!("  {}  {frequency:<24} {:>6.1} dB  {bar}{taken}", letter(place), partial.level_db);
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text.push('\n');
    text
}

fn heard_json(heard: &Heard) -> Value {
    let recording = &heard.recording;
    let partials = heard.order.iter().enumerate().map(|(place, index)| {
        let partial = &recording.partials[*index];
        json!({
            "letter": letter(place).to_string(),
            "frequency_hz": partial.frequency_hz,
            "u_hz": partial.uncertainty_hz,
            "level_db": partial.level_db,
            "decay_s": partial.decay_s,
        })
    });
    json!({
        "rate_hz": recording.rate_hz,
        "duration_s": recording.duration_s,
        "strike_s": recording.strike_s,
        "decay_used_s": recording.decay_used_s,
        "taken": letter(heard.taken).to_string(),
        "partials": partials.collect::<Vec<_>>(),
    })
}

/// Draws the spectrum of a recording into a new file, when one is named.
pub(super) fn draw(file: Option<&Path>, heard: Option<&Heard>, piece: &str) -> Result<(), AppError> {
    let Some(file) = file else { return Ok(()) };
    let Some(heard) = heard else {
        return Err(AppError::usage("`--spectrum` needs a `--recording`", Vec::new()));
    };
    if file == Path::new("-") {
        return Err(AppError::usage("`--spectrum` needs the name of a file", Vec::new()));
    }
    let recording = &heard.recording;
    let axis = |quantity: &str, unit: &str| Axis {
        quantity: quantity.to_owned(),
        unit: unit.to_owned(),
        range: None,
    };
    let peaks = heard.order.iter().enumerate().map(|(place, index)| {
        let partial = &recording.partials[*index];
        let label = format!("{} {:.1} Hz", letter(place), partial.frequency_hz);
        Peak { x: partial.frequency_hz, y: partial.level_db, label }
    });
    let plot = Plot {
        title: format!("Ring of piece {}", clean(piece)),
        note: format!(
            "Level relative to the strongest partial; partial {} was taken as the lowest ring.",
            letter(heard.taken)
        ),
        figure: Figure::Spectrum(Spectrum {
            x: axis("frequency", "Hz"),
            y: axis("level", "dB"),
            curve: recording.spectrum.iter().map(|point| (point.frequency_hz, point.level_db)).collect(),
            peaks: peaks.collect(),
        }),
    };
    output::write_new(file, svg::file(&chart::draw(&plot, SPECTRUM_WIDTH)).as_bytes())
}
