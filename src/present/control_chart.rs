//! The chart of an instrument's controls as rows of characters: single values with their limits.

use super::spectrum::Marks;
use super::tone::{Row, Tone};
use crate::evidence::Amount;
use crate::metrology::rounding::decimals_of;

/// What a chart shows, in the first unit, oldest first.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartPoints<'a> {
    /// Values with whether each passed.
    pub points: &'a [(f64, bool)],
    /// The assigned value.
    pub assigned: Amount,
    /// How far a value may lie from it.
    pub permitted: Amount,
    /// Lower and upper limit of single values.
    pub limits: Option<(f64, f64)>,
}

/// Columns of the scale on the left.
const SCALE: usize = 11;

/// Returns the chart, `columns` wide and `lines` high: a mark for each control, the newest at the right, `x` for one that
/// failed; lines for the assigned value, the limits of single values, and the permitted band.
pub fn chart_rows(chart: &ChartPoints<'_>, columns: usize, lines: usize, marks: Marks) -> Vec<Row> {
    let room = columns.saturating_sub(SCALE + 1).max(1);
    let lines = lines.max(3);
    let assigned = chart.assigned.value();
    let permitted = chart.permitted.value();
    let shown: Vec<(f64, bool)> = chart.points[chart.points.len().saturating_sub(room)..].to_vec();
    let mut low = assigned - permitted;
    let mut high = assigned + permitted;
    for (value, _) in &shown {
        low = low.min(*value);
        high = high.max(*value);
    }
    for limit in chart.limits.iter().flat_map(|(lower, upper)| [lower, upper]) {
        low = low.min(*limit);
        high = high.max(*limit);
    }
    let span = (high - low).max(f64::MIN_POSITIVE);
    let line_of = |value: f64| {
        let share = ((high - value) / span).clamp(0.0, 1.0);
        (share * (lines - 1) as f64).round() as usize
    };
    let dash = |mark: char| mark.to_string();
    let mut cells: Vec<Vec<(String, Tone)>> = vec![vec![(" ".to_owned(), Tone::Plain); room]; lines];
    let mut draw = |value: f64, mark: char, tone: Tone| {
        for cell in &mut cells[line_of(value)] {
            *cell = (dash(mark), tone);
        }
    };
    draw(assigned - permitted, '=', Tone::Quiet);
    draw(assigned + permitted, '=', Tone::Quiet);
    if let Some((lower, upper)) = chart.limits {
        draw(lower, '.', Tone::Quiet);
        draw(upper, '.', Tone::Quiet);
    }
    draw(assigned, '-', Tone::Quiet);
    let good = match marks {
        Marks::Braille => "\u{2836}",
        Marks::Dot => "\u{2022}",
        Marks::Ascii => "o",
    };
    let start = room - shown.len();
    for (at, (value, passed)) in shown.iter().enumerate() {
        let mark = if *passed { (good.to_owned(), Tone::Plain) } else { ("x".to_owned(), Tone::Refuse) };
        cells[line_of(*value)][start + at] = mark;
    }
    let decimals = decimals_of(permitted.max(1e-9), 2);
    let label = |line: usize| {
        let named = [high, assigned, low].into_iter().find(|value| line_of(*value) == line);
        named.map_or_else(String::new, |value| Amount::of(chart.assigned.measurand, value).digits(decimals))
    };
    cells
        .into_iter()
        .enumerate()
        .map(|(line, cells)| {
            let scale = super::text::pad_start(&label(line), SCALE);
            let mut row = Row::of(Tone::Quiet, format!("{scale} "));
            let mut run: Option<(String, Tone)> = None;
            for (mark, tone) in cells {
                run = Some(match run.take() {
                    Some((text, same)) if same == tone => (text + &mark, same),
                    Some((text, other)) => {
                        row = row.with(other, text);
                        (mark, tone)
                    }
                    None => (mark, tone),
                });
            }
            match run {
                Some((text, tone)) => row.with(tone, text),
                None => row,
            }
        })
        .collect()
}

/// Says what the marks of a chart mean.
pub fn chart_key(has_limits: bool) -> &'static str {
    if has_limits {
        "- assigned   = permitted (E_n 1)   . limits of single controls   x failed"
    } else {
        "- assigned   = permitted (E_n 1)   x failed"
    }
}
