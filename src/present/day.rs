//! The day sheet as rows of text.

use super::decisions::{about, acts};
use super::stock::worth_row;
use super::text;
use super::tone::{Row, Tone};
use super::words::{count, minute, standing_text, standing_tone};
use crate::desk::review_views::{DayLot, DayView, Worth};
use chrono::FixedOffset;

/// Columns of the labels.
const LABEL: usize = 16;
/// From this width on, the lots are a table with their products.
const WIDE: usize = 74;

/// Adds a heading with a blank line above it.
fn heading(rows: &mut Vec<Row>, words: &str) {
    rows.push(Row::blank());
    rows.push(Row::of(Tone::Strong, words));
}

/// Adds a text beside a label, wrapped.
fn labelled(rows: &mut Vec<Row>, label: &str, tone: Tone, words: &str, columns: usize) {
    let room = columns.saturating_sub(LABEL).max(1);
    for (index, line) in text::wrap(words, room).into_iter().enumerate() {
        let label = if index == 0 { label } else { "" };
        rows.push(Row::of(Tone::Quiet, text::pad_end(label, LABEL.min(columns))).with(tone, line));
    }
}

/// Returns the number of the lot of a piece.
fn lot_number(piece: &str) -> &str {
    piece.rsplit_once('-').map_or(piece, |(lot, _)| lot)
}

/// Returns the whole day sheet, `columns` wide.
pub fn day_rows(day: &DayView, columns: usize, desk: FixedOffset) -> Vec<Row> {
    let made = format!("made {}", minute(day.made_at, desk));
    let whose = day.desk.as_ref().map(|name| format!(", {name}")).unwrap_or_default();
    let mut rows = vec![Row::of(Tone::Strong, format!("Day sheet {}{whose}", day.day)).right(
        columns.min(100),
        Tone::Quiet,
        made,
    )];
    heading(&mut rows, "Lots of the day");
    lots(&mut rows, &day.lots, columns);
    let mut groups = vec![
        ("Received", &day.received, Tone::Plain),
        ("In stock", &day.sellable, Tone::Clear),
        ("On hold", &day.on_hold, Tone::Hold),
        ("Proposed to refuse, still here", &day.at_risk, Tone::Refuse),
    ];
    if !day.recalled.is_empty() {
        groups.insert(2, ("To come back from stock", &day.recalled, Tone::Hold));
    }
    for (title, worths, tone) in groups {
        heading(&mut rows, title);
        money(&mut rows, worths, tone, columns);
    }
    heading(&mut rows, "Open doubts");
    for (kind, pieces, lots) in &day.doubts {
        let mut words = Vec::new();
        if *pieces > 0 {
            words.push(count(*pieces as usize, "doubt of a piece", "doubts of pieces"));
        }
        if *lots > 0 {
            words.push(count(*lots as usize, "doubt of a lot", "doubts of lots"));
        }
        rows.push(Row::of(Tone::Hold, text::pad_end(kind.label(), 22)).with(Tone::Plain, words.join(", ")));
    }
    none_if(&mut rows, day.doubts.is_empty());
    heading(&mut rows, "Second tests of the day");
    for (method, tests) in &day.second_tests {
        rows.push(
            Row::of(Tone::Plain, text::pad_end(method.label(), 22))
                .with(Tone::Plain, count(*tests as usize, "test", "tests")),
        );
    }
    none_if(&mut rows, day.second_tests.is_empty());
    heading(&mut rows, "Decisions of the day");
    for act in acts(&day.decisions, desk) {
        let Some(decision) = act.first() else { continue };
        let words = format!("{}; {} by {}", decision.what, minute(decision.at, desk), decision.operator);
        if act.len() == 1 {
            labelled(&mut rows, &decision.about, Tone::Plain, &words, columns);
        } else {
            labelled(&mut rows, lot_number(&decision.about), Tone::Plain, &about(act), columns);
            labelled(&mut rows, "", Tone::Plain, &words, columns);
        }
        let evidence = if decision.evidence.is_some() { ", on a second test" } else { "" };
        if !decision.reason.is_empty() {
            labelled(&mut rows, "", Tone::Quiet, &format!("{}{evidence}", decision.reason), columns);
        }
    }
    none_if(&mut rows, day.decisions.is_empty());
    heading(&mut rows, "Instruments");
    for instrument in &day.instruments {
        rows.extend(text::wrap(instrument, columns).into_iter().map(|line| Row::of(Tone::Plain, line)));
    }
    none_if(&mut rows, day.instruments.is_empty());
    heading(&mut rows, "Record");
    labelled(&mut rows, "journal", Tone::Plain, &format!("{} rows", day.journal_rows), columns);
    // Beside a label the 64 digits would not fit into 80 columns.
    rows.push(Row::of(Tone::Quiet, "head hash"));
    rows.extend(text::wrap(&day.journal_head, columns).into_iter().map(|line| Row::of(Tone::Plain, line)));
    let (engine, reference, policy) = &day.versions;
    let versions = format!("rules {engine}, reference {reference}, policy {policy}");
    labelled(&mut rows, "versions", Tone::Quiet, &versions, columns);
    rows
}

/// Adds the lots: counts against the packing list, then what became of the pieces.
fn lots(rows: &mut Vec<Row>, lots: &[DayLot], columns: usize) {
    let wide = columns >= WIDE;
    if wide && !lots.is_empty() {
        let titles = ["clear", "hold", "refuse", "stock", "back", "surr."];
        let mut row =
            Row::of(Tone::Quiet, text::pad_end("lot", 11)).with(Tone::Quiet, text::pad_start("logged", 10));
        for title in titles {
            row = row.with(Tone::Quiet, text::pad_start(title, 7));
        }
        rows.push(row.with(Tone::Quiet, "  standing"));
    }
    if lots.is_empty() {
        let next = "nothing happened on this day; Receive takes a shipment in; Left shows the day before";
        rows.extend(text::wrap(next, columns).into_iter().map(|line| Row::of(Tone::Quiet, line)));
    }
    for lot in lots {
        let view = &lot.lot;
        let logged = format!("{} of {}", view.logged, view.expected);
        let numbers = [
            (view.clear, Tone::Clear),
            (view.hold, Tone::Hold),
            (view.refuse, Tone::Refuse),
            (lot.released, Tone::Plain),
            (lot.sent_back, Tone::Plain),
            (lot.surrendered, Tone::Plain),
        ];
        let short = if view.logged < view.expected { Tone::Hold } else { Tone::Plain };
        let mut row = Row::of(Tone::Strong, text::pad_end(&view.number, 11));
        if wide {
            row = row.with(short, text::pad_start(&logged, 10));
            for (number, tone) in numbers {
                let tone = if number == 0 { Tone::Quiet } else { tone };
                row = row.with(tone, text::pad_start(&number.to_string(), 7));
            }
            if let Some(standing) = view.standing {
                row = row.with(Tone::Plain, "  ").with(standing_tone(standing), standing_text(standing));
            }
            rows.push(row);
        } else {
            rows.push(row.with(short, format!("logged {logged}")));
            let words = ["clear", "hold", "refuse", "in stock", "sent back", "surrendered"];
            let parts: Vec<String> = numbers
                .iter()
                .zip(words)
                .filter(|((number, _), _)| *number > 0)
                .map(|((number, _), word)| format!("{number} {word}"))
                .collect();
            rows.push(Row::of(Tone::Plain, format!("  {}", parts.join(", "))));
        }
        let words = format!("  {}, from {}", view.product_name, lot.source);
        rows.push(Row::of(Tone::Quiet, text::fit(&words, columns)));
        if view.lot_doubts > 0 {
            let doubts = count(view.lot_doubts as usize, "doubt of the lot", "doubts of the lot");
            rows.push(Row::of(Tone::Hold, format!("  {doubts} open")));
        }
        if !view.serials_open.is_empty() {
            let words = format!("  not seen: {}", view.serials_open.join(", "));
            rows.extend(text::wrap(&words, columns).into_iter().map(|line| Row::of(Tone::Hold, line)));
        }
    }
}

fn money(rows: &mut Vec<Row>, worths: &[Worth], tone: Tone, columns: usize) {
    for worth in worths {
        let mut row = worth_row(worth, columns);
        if let Some(first) = row.runs.first_mut() {
            first.tone = tone;
        }
        rows.push(row);
    }
    none_if(rows, worths.is_empty());
}

fn none_if(rows: &mut Vec<Row>, none: bool) {
    if none {
        rows.push(Row::of(Tone::Quiet, "none"));
    }
}
