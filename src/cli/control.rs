//! `scruple control`, `scruple controls` and `scruple recall`.

use super::{Printed, input, json};
use crate::desk::{AppError, ControlOutcome, ControlRequest, ControlSeries, Desk, InstrumentRow, RecallView};
use crate::evidence::Amount;
use crate::evidence::control::{ControlReason, ControlState};
use crate::intake::ControlId;
use crate::present::instruments::{compared_text, instrument_rows, state_reason, state_text};
use crate::present::spectrum::Marks;
use crate::present::table::{Align, Table};
use crate::present::words::{count, minute};
use crate::store::ControlRow;
use chrono::{FixedOffset, Local, Offset};
use clap::Args;
use serde_json::{Value, json};
use uuid::Uuid;

/// Columns and lines of a chart.
const COLUMNS: usize = 100;
const LINES: usize = 11;

/// Arguments of `scruple control`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple control '100 g weight' 100.00
  scruple control 'silver block' 61.5 --instrument 'meter one' --probe flat --temperature 21.4")]
pub(super) struct ControlArgs {
    /// Name of the reference piece
    #[arg(required_unless_present = "withdraw")]
    reference: Option<String>,
    /// The value that the instrument shows
    #[arg(required_unless_present = "withdraw")]
    value: Option<String>,
    /// The instrument [else the one in use that is checked on the piece]
    #[arg(long, value_name = "NAME")]
    instrument: Option<String>,
    /// The probe, for a conductivity
    #[arg(long, value_name = "NAME")]
    probe: Option<String>,
    /// Temperature of the reference piece
    #[arg(long, value_name = "VALUE")]
    temperature: Option<String>,
    /// Why: start-of-day, probe-change, zero-change, temperature-moved, questionable-reading [else as it follows]
    #[arg(long, value_name = "WORDS", value_parser = reason, conflicts_with = "withdraw")]
    reason: Option<ControlReason>,
    /// Withdraw a failed control that was entered by mistake, by its id
    #[arg(long, value_name = "ID", requires = "why", conflicts_with_all = ["reference", "value"])]
    withdraw: Option<Uuid>,
    /// Why it is withdrawn
    #[arg(long, value_name = "TEXT", requires = "withdraw")]
    why: Option<String>,
    /// Sign with your PIN from the first line of standard input
    #[arg(long, requires = "withdraw")]
    pin_stdin: bool,
    /// Exit with 3 when the control fails
    #[arg(long)]
    check: bool,
}

fn reason(words: &str) -> Result<ControlReason, String> {
    ControlReason::named(words).ok_or_else(|| {
        let allowed: Vec<String> = ControlReason::ALL
            .iter()
            .map(|reason| format!("`{}`", reason.words().replace(' ', "-")))
            .collect();
        format!("allowed are {}", allowed.join(", "))
    })
}

pub(super) fn record(args: &ControlArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    if let Some(id) = args.withdraw {
        let pin = input::pin(args.pin_stdin)?;
        let why = args.why.as_deref().unwrap_or_default();
        let row = desk.withdraw_control(ControlId::new(id), why, pin.as_deref())?;
        if json {
            return Ok(Printed::done(json::document(json!({ "control": control_json(&row) }))));
        }
        return Ok(Printed::done(format!(
            "withdrew the control of {} on {}\n",
            row.instrument, row.reference
        )));
    }
    let outcome = desk.record_control(&ControlRequest {
        reference: args.reference.clone().unwrap_or_default(),
        value: args.value.clone().unwrap_or_default(),
        instrument: args.instrument.clone(),
        probe: args.probe.clone(),
        temperature: args.temperature.clone(),
        reason: args.reason,
    })?;
    let data = if json { json::document(outcome_json(&outcome)) } else { outcome_text(&outcome) };
    Ok(Printed::checked(data, args.check, !outcome.control.passed))
}

fn outcome_text(outcome: &ControlOutcome) -> String {
    let control = &outcome.control;
    let probe = control.probe.as_ref().map_or_else(String::new, |probe| format!(", {probe}"));
    let word = if control.passed { "passed" } else { "FAILED" };
    let mut data =
        format!("{}{probe} on {}: {word}, {}\n", control.instrument, control.reference, control.finding);
    let mut list = |what: &str, pieces: &[String]| {
        if !pieces.is_empty() {
            let counted = count(pieces.len(), "piece", "pieces");
            data.push_str(&format!("{counted} {what}: {}\n", pieces.join(", ")));
        }
    };
    list("back on hold", &outcome.held);
    list("in stock, now on the recall list", &outcome.recalled);
    list("had left the desk", &outcome.gone);
    data
}

fn outcome_json(outcome: &ControlOutcome) -> Value {
    let measurand = outcome.control.measurand;
    let lines: Vec<Value> = outcome
        .verdict
        .budget
        .iter()
        .map(|line| json!({ "name": line.name, "u": line.u.value(), "source": line.source }))
        .collect();
    json!({
        "control": control_json(&outcome.control),
        "budget": lines,
        "unit": Amount { measurand, base: 0 }.unit().symbol,
        "limits": outcome.verdict.limits.map(|limits| {
            json!({ "centre": limits.centre, "lower": limits.lower, "upper": limits.upper })
        }),
        "earlier_controls": outcome.earlier,
        "held": outcome.held,
        "recalled": outcome.recalled,
        "gone": outcome.gone,
    })
}

fn control_json(control: &ControlRow) -> Value {
    let value = |base: i64| Amount { measurand: control.measurand, base }.value();
    json!({
        "id": control.id.to_string(),
        "instrument": control.instrument,
        "reference": control.reference,
        "quantity": control.measurand.name(),
        "unit": Amount { measurand: control.measurand, base: 0 }.unit().symbol,
        "probe": control.probe,
        "reason": control.reason.words(),
        "text": control.text,
        "temperature_c": control.temperature.map(|temperature| temperature.as_celsius()),
        "compared": value(control.compared),
        "expanded_k2": value(control.expanded),
        "assigned": value(control.assigned),
        "assigned_expanded_k2": value(control.assigned_expanded),
        "e_n": control.e_n,
        "passed": control.passed,
        "finding": control.finding,
        "at": json::time(control.at),
        "operator": control.operator,
        "withdrawn": control.withdrawn,
    })
}

/// Arguments of `scruple controls`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple controls
  scruple controls 'meter one' --chart")]
pub(super) struct ControlsArgs {
    /// Only this instrument
    name: Option<String>,
    /// Show state, charts and drift of each instrument
    #[arg(long)]
    chart: bool,
}

pub(super) fn list(args: &ControlsArgs, desk: &Desk, json: bool) -> Result<Printed, AppError> {
    let controls = desk.controls(args.name.as_deref())?;
    let mut view = desk.instruments_view()?;
    if let Some(name) = &args.name {
        let wanted = name.trim().to_lowercase();
        view.rows.retain(|row| row.instrument.name.to_lowercase() == wanted);
    }
    if json {
        let rows: Vec<Value> = view.rows.iter().map(row_json).collect();
        let controls: Vec<Value> = controls.iter().map(control_json).collect();
        return Ok(Printed::done(json::document(json!({ "instruments": rows, "controls": controls }))));
    }
    let offset = Local::now().offset().fix();
    if args.chart {
        let mut data = String::new();
        for row in view.rows.iter().filter(|row| !row.series.is_empty() || args.name.is_some()) {
            for line in instrument_rows(row, COLUMNS, LINES, Marks::Ascii, offset) {
                data.push_str(line.text().trim_end());
                data.push('\n');
            }
            data.push('\n');
        }
        return Ok(Printed::done(data));
    }
    let mut table = Table::new(&[("instrument", Align::Left), ("state", Align::Left), ("why", Align::Left)]);
    for row in &view.rows {
        table.row([row.name().as_str(), &state_text(&row.state), &state_reason(&row.state, offset)]);
    }
    let mut data = table.text();
    if !controls.is_empty() {
        data.push_str(&format!("\n{}", controls_table(&controls, offset).text()));
    }
    data.push_str(&format!("\n{}\n", count(controls.len(), "control", "controls")));
    Ok(Printed::done(data))
}

fn controls_table(controls: &[ControlRow], offset: FixedOffset) -> Table {
    let mut table = Table::new(&[
        ("taken", Align::Left),
        ("instrument", Align::Left),
        ("reference piece", Align::Left),
        ("compared", Align::Right),
        ("E_n", Align::Right),
        ("", Align::Left),
        ("reason", Align::Left),
    ]);
    for control in controls {
        let name = match &control.probe {
            Some(probe) => format!("{}, {probe}", control.instrument),
            None => control.instrument.clone(),
        };
        let outcome = match (&control.withdrawn, control.passed) {
            (Some(_), _) => "withdrawn",
            (None, true) => "passed",
            (None, false) => "FAILED",
        };
        table.row([
            minute(control.at, offset).as_str(),
            &name,
            &control.reference,
            &compared_text(control),
            &format!("{:.2}", control.e_n),
            outcome,
            control.reason.words(),
        ]);
    }
    table
}

fn row_json(row: &InstrumentRow) -> Value {
    let (since, why) = match &row.state {
        ControlState::InControl { since } => (Some(json::time(*since)), None),
        ControlState::Failed { at, why } => (Some(json::time(*at)), Some(why.clone())),
        ControlState::Due { why } => (None, Some(why.clone())),
        ControlState::NotAsked | ControlState::Missing => (None, None),
    };
    json!({
        "instrument": row.instrument.name,
        "kind": row.instrument.kind.word(),
        "probe": row.probe,
        "state": row.state.word(),
        "in_order": row.state.is_in_order(),
        "since": since,
        "why": why,
        "due": row.due.map(|due| json!({ "day": due.day.to_string(), "by_drift": due.by_drift })),
        "past_due": row.instrument.past_due,
        "series": row.series.iter().map(series_json).collect::<Vec<_>>(),
    })
}

fn series_json(series: &ControlSeries) -> Value {
    let chart = &series.chart;
    let limits = |limits: Option<crate::metrology::control::ControlLimits>| {
        limits.map(|limits| json!({ "centre": limits.centre, "lower": limits.lower, "upper": limits.upper }))
    };
    json!({
        "reference": series.reference,
        "unit": series.assigned.unit().symbol,
        "assigned": series.assigned.value(),
        "permitted": series.permitted.value(),
        "controls": series.controls.len(),
        "limits": limits(chart.limits),
        "limits_trusted": chart.trusted,
        "moving_ranges": chart.ranges,
        "moving_range_upper": chart.range_upper,
        "moving_averages": chart.averages,
        "moving_average_limits": limits(chart.average_limits),
        "cusum": chart.sums.iter().map(|sum| json!({ "high": sum.high, "low": sum.low, "signal": sum.signal })).collect::<Vec<_>>(),
        "cusum_decision": chart.decision,
        "drift": chart.drift.map(|line| json!({
            "per_day": line.slope, "u_per_day": line.u_slope, "significant": line.drifts(),
        })),
        "leaves": series.leaves.map(|day| day.to_string()),
    })
}

/// Arguments of `scruple recall`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple recall
  scruple recall S-0001/3-07 --reason 'back from the vault'")]
pub(super) struct RecallArgs {
    /// Piece that came back: it goes from stock to the desk, on hold
    #[arg(requires = "reason")]
    piece: Option<String>,
    /// Why it comes back
    #[arg(long, value_name = "TEXT", requires = "piece")]
    reason: Option<String>,
    /// Sign with your PIN from the first line of standard input
    #[arg(long, requires = "piece")]
    pin_stdin: bool,
    /// Exit with 3 when anything is recalled
    #[arg(long)]
    check: bool,
}

pub(super) fn recall(args: &RecallArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    if let (Some(piece), Some(reason)) = (&args.piece, &args.reason) {
        let pin = input::pin(args.pin_stdin)?;
        let piece = desk.take_back_recalled(piece, reason, pin.as_deref())?;
        if json {
            return Ok(Printed::done(json::document(json!({ "piece": json::piece(&piece) }))));
        }
        return Ok(Printed::done(format!(
            "{} is back at the desk: {}\n",
            piece.number,
            piece.standing.word()
        )));
    }
    let recalls = desk.recalls()?;
    let open = !recalls.is_empty();
    let data = if json {
        let list: Vec<Value> = recalls.iter().map(recall_json).collect();
        json::document(json!({ "recalls": list }))
    } else if recalls.is_empty() {
        "nothing is recalled\n".to_owned()
    } else {
        let offset = Local::now().offset().fix();
        let mut table = Table::new(&[
            ("piece", Align::Left),
            ("recalled", Align::Left),
            ("product", Align::Left),
            ("serial", Align::Left),
            ("why", Align::Left),
        ]);
        for recall in &recalls {
            table.row([
                recall.piece.as_str(),
                &minute(recall.at, offset),
                &recall.product_name,
                recall.serial.as_deref().unwrap_or("-"),
                &recall.why,
            ]);
        }
        table.text()
    };
    Ok(Printed::checked(data, args.check, open))
}

fn recall_json(recall: &RecallView) -> Value {
    json!({
        "piece": recall.piece,
        "product_name": recall.product_name,
        "serial": recall.serial,
        "why": recall.why,
        "recalled_at": json::time(recall.at),
        "released_at": json::time(recall.released_at),
    })
}
