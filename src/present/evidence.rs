//! The full page about one piece: everything its standing rests on.

use super::text;
use super::tone::{Row, Tone};
use super::units::{digits, shown};
use super::verdict::{offer_text, proved_text, reasons, survivor_text, survivors, tall_check, verdict_row};
use super::words::{construction_text, count, mark_text, minute, outcome_text, standing_tone};
use crate::desk::screen::Units;
use crate::desk::views::{Field, PieceView};
use crate::scoring::{Check, Power};
use chrono::FixedOffset;

/// Columns of the labels.
const LABEL: usize = 16;

/// Returns a heading with a blank line above it.
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

/// Returns the page about a piece, `columns` wide.
pub fn piece_page(piece: &PieceView, columns: usize, desk: FixedOffset, units: &Units) -> Vec<Row> {
    let mut rows = vec![Row::of(Tone::Strong, &piece.number), verdict_row(piece), Row::blank()];
    if let Some(why) = &piece.recalled {
        labelled(
            &mut rows,
            "! recalled",
            Tone::Hold,
            &format!("it has to come back from stock: {why}"),
            columns,
        );
    }
    labelled(&mut rows, "declared as", Tone::Plain, &piece.product_name, columns);
    if let Some(serial) = &piece.serial {
        labelled(&mut rows, "serial", Tone::Plain, serial, columns);
    }
    let logged = format!("{} by {}", minute(piece.logged_at, desk), piece.operator);
    labelled(&mut rows, "logged", Tone::Plain, &logged, columns);

    heading(&mut rows, "Readings in force (standard uncertainty, k = 1)");
    for reading in &piece.readings {
        let mut words = reading.stored.clone();
        for part in [&reading.uncertainty, &reading.probe].into_iter().flatten() {
            words.push_str("  ");
            words.push_str(part);
        }
        if !reading.stored.starts_with(&reading.text) {
            words.push_str(&format!("  typed `{}`", reading.text));
        }
        let label = Field::Reading(reading.measurand, reading.spot).label();
        labelled(&mut rows, &label, Tone::Plain, &words, columns);
        if let Some(line) = &reading.device_line {
            labelled(&mut rows, "", Tone::Quiet, &format!("sent as `{line}`"), columns);
        }
        if let Some(reason) = &reading.reason {
            labelled(&mut rows, "", Tone::Quiet, reason, columns);
        }
    }
    if piece.readings.is_empty() {
        rows.push(Row::of(Tone::Quiet, "none"));
    }

    heading(&mut rows, "Checks against the specification (expanded uncertainty, k = 2)");
    for check in &piece.assessment.checks {
        rows.extend(tall_check(check, columns.min(76), units));
        check_details(&mut rows, check, columns, units);
        rows.push(Row::blank());
    }
    rows.pop();

    let reasons = reasons(piece);
    if !reasons.is_empty() {
        heading(&mut rows, "Why it is not clear");
        for reason in &reasons {
            for line in text::wrap(&reason.text, columns) {
                rows.push(Row::of(standing_tone(piece.standing), line));
            }
            for offer in &reason.offers {
                let tone = if offer.power == Power::Cannot { Tone::Quiet } else { Tone::Plain };
                labelled(&mut rows, "", tone, &offer_text(offer), columns);
            }
        }
    }

    candidates(&mut rows, piece, columns);

    if !piece.assessment.remarks.is_empty() {
        heading(&mut rows, "Remarks, which hold nothing");
        for remark in &piece.assessment.remarks {
            rows.extend(text::wrap(remark, columns).into_iter().map(|line| Row::of(Tone::Plain, line)));
        }
    }
    rows.push(Row::blank());
    let assessment = &piece.assessment;
    let versions = format!(
        "scored with rules {}, reference {}, policy {}",
        assessment.engine, assessment.reference, assessment.policy
    );
    rows.push(Row::of(Tone::Quiet, text::fit(&versions, columns)));
    rows
}

/// Adds limits, reason and the budget of a check.
fn check_details(rows: &mut Vec<Row>, check: &Check, columns: usize, units: &Units) {
    let limits = match (check.lower, check.upper) {
        (Some(lower), Some(upper)) => {
            Some(format!("{} to {}", digits(lower, 3, units), shown(upper, 3, units)))
        }
        (Some(lower), None) => Some(format!("at least {}", shown(lower, 3, units))),
        (None, Some(upper)) => Some(format!("at most {}", shown(upper, 3, units))),
        (None, None) => None,
    };
    if let Some(limits) = limits {
        let words = format!("{limits}; {}: {}", mark_text(check.mark), check.limits_from);
        labelled(rows, "  allowed", Tone::Plain, &words, columns);
    }
    if let Some(probability) = check.probability {
        labelled(rows, "  conforms", Tone::Plain, &format!("probability {probability:.4}"), columns);
    }
    if !check.reason.is_empty() && check.reason != outcome_text(check.outcome) {
        labelled(rows, "  because", Tone::Plain, &check.reason, columns);
    }
    for (index, line) in check.budget.iter().enumerate() {
        let label = if index == 0 { "  uncertainty" } else { "" };
        let words = format!("{}  {}  ({})", line.u.show(4), line.name, line.source);
        labelled(rows, label, Tone::Quiet, &words, columns);
    }
}

/// Adds what the piece could still be and what was excluded.
fn candidates(rows: &mut Vec<Row>, piece: &PieceView, columns: usize) {
    let assessment = &piece.assessment;
    heading(rows, "What it could still be");
    let still = survivors(assessment);
    if still.is_empty() {
        let words = if assessment.candidates.is_empty() {
            "not computed for this piece"
        } else {
            "nothing else in the reference fits these readings"
        };
        rows.push(Row::of(Tone::Quiet, words));
    }
    for candidate in &still {
        let tone = if candidate.material_doubt.is_some() { Tone::Plain } else { Tone::Quiet };
        rows.extend(
            text::wrap(&survivor_text(candidate), columns).into_iter().map(|line| Row::of(tone, line)),
        );
    }
    if let Some(proved) = proved_text(assessment) {
        rows.extend(text::wrap(&proved, columns).into_iter().map(|line| Row::of(Tone::Quiet, line)));
    }
    let excluded: Vec<_> = assessment.candidates.iter().filter(|candidate| !candidate.survives).collect();
    if !excluded.is_empty() {
        heading(rows, &format!("Excluded: {}", count(excluded.len(), "candidate", "candidates")));
        for candidate in excluded {
            let by =
                candidate.excluded_by.as_ref().map_or_else(|| "the readings".to_owned(), ToString::to_string);
            let words = format!("{}, {}: {by}", candidate.name, construction_text(candidate));
            rows.extend(text::wrap(&words, columns).into_iter().map(|line| Row::of(Tone::Quiet, line)));
        }
    }
}
