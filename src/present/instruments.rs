//! Where instruments stand, in words: states, controls, what is due.

use super::control_chart::{ChartPoints, chart_key, chart_rows};
use super::spectrum::Marks;
use super::text;
use super::tone::{Row, Tone};
use super::words::minute;
use crate::desk::{ControlSeries, InstrumentRow};
use crate::evidence::Amount;
use crate::evidence::control::ControlState;
use crate::metrology::rounding::decimals_of;
use crate::scoring::TRUSTED_FROM;
use crate::store::ControlRow;
use chrono::FixedOffset;

/// What to do about an instrument that nobody registered.
const ENTER_YOURS: &str = "nobody registered it: `scruple instrument set FILE` puts a register with the figures of its certificate \
                           into the book";
/// Columns of the labels.
const LABEL: usize = 16;

/// Returns sign and word of a state, `+ in control`.
pub fn state_text(state: &ControlState) -> String {
    let sign = match state {
        ControlState::InControl { .. } => '+',
        ControlState::Failed { .. } => 'x',
        ControlState::NotAsked => '-',
        ControlState::Missing | ControlState::Due { .. } => '?',
    };
    format!("{sign} {}", state.word())
}

/// Returns the tone of a state.
pub fn state_tone(state: &ControlState) -> Tone {
    match state {
        ControlState::InControl { .. } => Tone::Clear,
        ControlState::Failed { .. } => Tone::Refuse,
        ControlState::NotAsked => Tone::Quiet,
        ControlState::Missing | ControlState::Due { .. } => Tone::Hold,
    }
}

/// Says why an instrument stands where it does.
pub fn state_reason(state: &ControlState, desk: FixedOffset) -> String {
    match state {
        ControlState::InControl { since } => format!("in control since {}", minute(*since, desk)),
        ControlState::NotAsked => {
            "the register holds no reference piece for it, so no control is asked for".to_owned()
        }
        ControlState::Missing => "no control is on record: readings hold until one passes".to_owned(),
        ControlState::Failed { why, .. } | ControlState::Due { why } => why.clone(),
    }
}

/// Says when the next calibration is due, and by what.
pub fn due_text(row: &InstrumentRow) -> String {
    match row.due {
        None => "no date on record".to_owned(),
        Some(due) if due.by_drift => format!("{}, by its drift", due.day),
        Some(due) if row.instrument.past_due => format!("{}, past: its readings hold", due.day),
        Some(due) => due.day.to_string(),
    }
}

/// Returns the value that a control compared, as text.
pub fn compared_text(control: &ControlRow) -> String {
    let amount = |base: i64| Amount { measurand: control.measurand, base };
    let decimals = decimals_of(amount(control.expanded).value().max(1e-9), 2);
    amount(control.compared).show(decimals)
}

/// Returns everything about one instrument, `columns` wide: state, facts, and the charts of its controls, each `lines` high.
pub fn instrument_rows(
    row: &InstrumentRow,
    columns: usize,
    lines: usize,
    marks: Marks,
    desk: FixedOffset,
) -> Vec<Row> {
    let mut rows = vec![
        Row::of(Tone::Strong, text::fit(&row.name(), columns)),
        Row::of(state_tone(&row.state), state_text(&row.state)),
    ];
    let quiet = |words: &str| text::wrap(words, columns).into_iter().map(|line| Row::of(Tone::Quiet, line));
    rows.extend(quiet(&state_reason(&row.state, desk)));
    if row.instrument.assumed {
        rows.extend(quiet(ENTER_YOURS));
    }
    if let Some(last) = row.last() {
        labelled(&mut rows, "last control", &format!("{}  {}", minute(last.at, desk), last.finding), columns);
    }
    labelled(&mut rows, "calibration due", &due_text(row), columns);
    for series in &row.series {
        rows.push(Row::blank());
        rows.extend(series_rows(series, columns, lines, marks));
    }
    rows.push(Row::blank());
    for (name, fact) in &row.instrument.facts {
        labelled(&mut rows, name, fact, columns);
    }
    rows
}

/// Returns the chart of one series with its key and what the other charts say.
pub fn series_rows(series: &ControlSeries, columns: usize, lines: usize, marks: Marks) -> Vec<Row> {
    let value = |control: &ControlRow| {
        let amount = Amount { measurand: control.measurand, base: control.compared };
        (amount.value(), control.passed)
    };
    let points: Vec<(f64, bool)> = series.controls.iter().map(value).collect();
    let limits =
        series.chart.limits.filter(|_| series.chart.trusted).map(|limits| (limits.lower, limits.upper));
    let chart =
        ChartPoints { points: &points, assigned: series.assigned, permitted: series.permitted, limits };
    let unit = series.assigned.unit().symbol;
    let title = format!("{}, {unit}, {} controls", series.reference, series.controls.len());
    let mut rows = vec![Row::of(Tone::Strong, text::fit(&title, columns))];
    rows.extend(chart_rows(&chart, columns, lines, marks));
    rows.push(Row::of(Tone::Quiet, text::fit(chart_key(limits.is_some()), columns)));
    for line in series_words(series) {
        rows.extend(text::wrap(&line, columns).into_iter().map(|line| Row::of(Tone::Plain, line)));
    }
    rows
}

/// Says what moving range, moving average, CUSUM and drift come to.
pub fn series_words(series: &ControlSeries) -> Vec<String> {
    let chart = &series.chart;
    let decimals = decimals_of(series.permitted.value().max(1e-9), 2) + 1;
    let show = |value: f64| Amount::of(series.assigned.measurand, value).digits(decimals);
    let mut words = Vec::new();
    if !chart.trusted {
        let good = series.controls.iter().filter(|control| control.passed).count();
        words.push(format!(
            "limits of single controls count from {TRUSTED_FROM} controls that passed; there are {good}"
        ));
    }
    if let (Some(range), Some(upper)) = (chart.ranges.last(), chart.range_upper) {
        let verdict = if *range > upper { "above" } else { "within" };
        words.push(format!("moving range {}, {verdict} its limit {}", show(*range), show(upper)));
    }
    if let (Some(average), Some(limits)) = (chart.averages.last(), chart.average_limits) {
        let verdict = if limits.contains(*average) { "within" } else { "outside" };
        words.push(format!(
            "moving average {}, {verdict} {} to {}",
            show(*average),
            show(limits.lower),
            show(limits.upper)
        ));
    }
    if let Some(sum) = chart.sums.last().filter(|_| chart.decision > 0.0) {
        let verdict = if sum.signal { "signals a lasting shift" } else { "no signal" };
        words.push(format!(
            "CUSUM {} up, {} down, decision {}: {verdict}",
            show(sum.high),
            show(sum.low),
            show(chart.decision)
        ));
    }
    if let Some(line) = chart.drift {
        let per_month = 30.0 * line.slope;
        let u = 30.0 * line.u_slope;
        let what = match (line.drifts(), series.leaves) {
            (false, _) => "no drift that can be told from scatter".to_owned(),
            (true, Some(day)) => format!("leaves the permitted band about {day}"),
            (true, None) => "stays in the permitted band for years".to_owned(),
        };
        words.push(format!(
            "drift {} ± {} in 30 days (k = 1): {what}",
            show_signed(per_month, &show),
            show(u)
        ));
    }
    words
}

fn show_signed(value: f64, show: &impl Fn(f64) -> String) -> String {
    if value < 0.0 { format!("-{}", show(-value)) } else { show(value) }
}

fn labelled(rows: &mut Vec<Row>, label: &str, words: &str, columns: usize) {
    let label_width = LABEL.min(columns / 2);
    for (index, line) in text::wrap(words, columns.saturating_sub(label_width).max(1)).into_iter().enumerate()
    {
        let label = if index == 0 { text::fit(label, label_width - 1) } else { String::new() };
        rows.push(Row::of(Tone::Quiet, text::pad_end(&label, label_width)).with(Tone::Plain, line));
    }
}
