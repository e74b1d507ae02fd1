//! How deep each method sees into a piece.

use super::scale::{axis_name, range_of};
use super::{LINE, Sheet, WORDS};
use crate::present::scale::{Scale, Ticks};
use crate::report::drawing::{Anchor, Dash, Ink, Place};
use crate::report::metrics::{Face, width, wrap};
use crate::report::plot::{Reach, ReachRow, SpanKind};

/// Height of a bar, in points.
const BAR: f64 = 9.0;

pub(super) fn draw(reach: &Reach, sheet: &mut Sheet) {
    let spans = reach.rows.iter().flat_map(|row| &row.spans);
    let ends = spans.flat_map(|span| [span.from, span.to]).chain(reach.bottom.iter().map(|bottom| bottom.0));
    let (from, to) = range_of(&reach.depth, ends.chain([0.0]));
    let from = if reach.depth.range.is_some() { from } else { 0.0 };
    let total = sheet.drawing.width;
    let left = (0.28 * total).min(150.0);
    let right = total - 14.0;
    let depth = Scale { from, to: to.max(from + 1e-9), start: left, end: right };
    if let Some((at, text)) = &reach.bottom
        && depth.holds(*at)
    {
        let length = width(text, Face::Regular, WORDS);
        let start = (depth.place(*at) - length / 2.0).clamp(0.0, (total - length).max(0.0));
        sheet.drawing.words(text.as_str(), (start, sheet.y + 7.0), WORDS, Anchor::Start, Ink::Rust);
        sheet.y += LINE + 2.0;
    }
    let top = sheet.y;
    let mut kinds = Vec::new();
    let mut words = Vec::new();
    for row in &reach.rows {
        draw_row(row, sheet, &depth, left, &mut words);
        row.spans.iter().for_each(|span| {
            if !kinds.contains(&span.kind) {
                kinds.push(span.kind);
            }
        });
    }
    let bottom = sheet.y;
    let ticks = Ticks::between(depth.from, depth.to, 7);
    for &value in &ticks.values {
        let at = depth.place(value);
        sheet.drawing.line(vec![(at, bottom), (at, bottom + 3.0)], 0.6, Dash::Solid, Ink::Black);
        sheet.drawing.words(ticks.text(value), (at, bottom + 11.0), WORDS, Anchor::Middle, Ink::Black);
    }
    let corner = vec![(left, top), (left, bottom), (right, bottom)];
    sheet.drawing.line(corner, 0.8, Dash::Solid, Ink::Black);
    if let Some((at, text)) = &reach.bottom {
        if depth.holds(*at) {
            let x = depth.place(*at);
            sheet.drawing.line(vec![(x, top - 2.0), (x, bottom)], 0.9, Dash::Dashed, Ink::Rust);
        } else {
            sheet.notes.push(format!("Beyond the plot: {text}."));
        }
    }
    // Words come last, so that no line runs through them.
    for (text, at, place) in words {
        sheet.drawing.rectangle(place, Some(Ink::White), None);
        sheet.drawing.words(text, at, WORDS, Anchor::Start, Ink::Black);
    }
    sheet.y = bottom + 23.0;
    sheet.drawing.words(axis_name(&reach.depth), (right, sheet.y - 2.0), WORDS, Anchor::End, Ink::Black);
    sheet.y += 5.0;
    let mut x = 0.0;
    for kind in kinds {
        let text = meaning(kind);
        let length = 34.0 + width(text, Face::Regular, WORDS);
        if x > 0.0 && x + length > total {
            x = 0.0;
            sheet.y += LINE + 1.0;
        }
        bar(sheet, kind, Place { left: x, right: x + 16.0, top: sheet.y + 1.0, bottom: sheet.y + 8.0 });
        sheet.drawing.words(text, (x + 20.0, sheet.y + 7.0), WORDS, Anchor::Start, Ink::Black);
        x += length;
    }
    sheet.y += LINE + 2.0;
}

/// Returns what a bar says.
pub(in crate::report) fn meaning(kind: SpanKind) -> &'static str {
    match kind {
        SpanKind::Seen => "tested by the method",
        SpanKind::Open => "something could still hide here",
        SpanKind::Blind => "the method cannot tell",
    }
}

/// Words, where they start, and the place that they cover.
type Label<'a> = (&'a str, (f64, f64), Place);

/// Draws the bars of one row and collects the words above them.
fn draw_row<'a>(row: &'a ReachRow, sheet: &mut Sheet, depth: &Scale, left: f64, words: &mut Vec<Label<'a>>) {
    let mut lines: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut places = Vec::new();
    for span in row.spans.iter().filter(|span| !span.label.is_empty()) {
        let length = width(&span.label, Face::Regular, WORDS);
        let mut start = (depth.place_within(span.from) + 1.5).min(depth.end - length).max(depth.start + 1.5);
        // Words may move along their own bar to stand behind the ones before.
        let behind = lines.first().and_then(|line| line.last()).map_or(start, |last| start.max(last.1 + 7.0));
        if behind + length <= depth.place_within(span.to) {
            start = behind;
        }
        let free =
            |line: &Vec<(f64, f64)>| line.iter().all(|&(a, b)| start > b + 5.0 || start + length + 5.0 < a);
        let line = lines.iter().position(free).unwrap_or(lines.len());
        if line == lines.len() {
            lines.push(Vec::new());
        }
        lines[line].push((start, start + length));
        places.push((span.label.as_str(), start, length, line));
    }
    let count = lines.len();
    let names = wrap(&row.label, Face::Regular, WORDS, left - 8.0);
    let above = 4.0 + LINE * count as f64;
    let height = (above + BAR + 2.0).max(LINE * names.len() as f64 + 4.0);
    for (text, start, length, line) in places {
        let base = sheet.y + above - 3.0 - LINE * line as f64;
        let place =
            Place { left: start - 1.0, right: start + length + 1.0, top: base - 6.5, bottom: base + 1.8 };
        words.push((text, (start, base), place));
    }
    let bar_top = sheet.y + above;
    let first = (bar_top + BAR / 2.0 + 2.6 - LINE * (names.len() - 1) as f64 / 2.0).max(sheet.y + 8.0);
    for (index, name) in names.iter().enumerate() {
        let at = (left - 6.0, first + LINE * index as f64);
        sheet.drawing.words(name.as_str(), at, WORDS, Anchor::End, Ink::Black);
    }
    let last = first + LINE * (names.len() - 1) as f64 + 3.0;
    for span in row.spans.iter().filter(|span| span.from.is_finite() && span.to.is_finite()) {
        let from = depth.place_within(span.from.min(span.to));
        // What is thinner than a line is still shown.
        let to = depth.place_within(span.to.max(span.from)).max(from + 1.6);
        bar(sheet, span.kind, Place { left: from, right: to, top: bar_top, bottom: bar_top + BAR });
    }
    sheet.y = (sheet.y + height).max(last);
}

/// Draws a bar.
fn bar(sheet: &mut Sheet, kind: SpanKind, place: Place) {
    match kind {
        SpanKind::Seen => sheet.drawing.rectangle(place, Some(Ink::Slate), Some(Ink::Slate)),
        SpanKind::Open => {
            sheet.drawing.rectangle(place, Some(Ink::White), None);
            sheet.drawing.hatch(place, 3.5, Ink::Rust);
            sheet.drawing.rectangle(place, None, Some(Ink::Rust));
        }
        SpanKind::Blind => sheet.drawing.rectangle(place, Some(Ink::White), Some(Ink::Grey)),
    }
}
