//! The full page about one piece: everything its standing rests on.

use super::causes::offer_text;
use super::text;
use super::tone::{Row, Tone};
use super::units::{digits, shown};
use super::verdict::{proved_text, reasons, survivor_text, survivors, tall_check, verdict_row};
use super::words::{construction_text, count, mark_text, minute, standing_tone};
use crate::desk::screen::Units;
use crate::desk::views::{Field, PieceView};
use crate::scoring::{Check, Power, Thing};
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

/// The page about a piece, and which of its rows can be explained.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PiecePage {
    /// The rows.
    pub rows: Vec<Row>,
    /// Place of the first row of each thing that can be explained, from the top.
    pub things: Vec<(usize, Thing)>,
}

impl PiecePage {
    /// Says what the next row is about.
    fn mark(&mut self, thing: Thing) {
        self.things.push((self.rows.len(), thing));
    }
}

/// Returns the page about a piece, `columns` wide.
pub fn piece_page(piece: &PieceView, columns: usize, desk: FixedOffset, units: &Units) -> PiecePage {
    let mut page = PiecePage::default();
    page.rows.push(Row::of(Tone::Strong, &piece.number));
    page.mark(Thing::Score);
    page.rows.extend([verdict_row(piece), Row::blank()]);
    if let Some(why) = &piece.recalled {
        labelled(
            &mut page.rows,
            "! recalled",
            Tone::Hold,
            &format!("it has to come back from stock: {why}"),
            columns,
        );
    }
    labelled(&mut page.rows, "declared as", Tone::Plain, &piece.product_name, columns);
    if let Some(serial) = &piece.serial {
        labelled(&mut page.rows, "serial", Tone::Plain, serial, columns);
    }
    let logged = format!("{} by {}", minute(piece.logged_at, desk), piece.operator);
    labelled(&mut page.rows, "logged", Tone::Plain, &logged, columns);

    doubts(&mut page, piece, columns);
    readings(&mut page.rows, piece, columns);

    heading(&mut page.rows, "Checks against the specification (expanded uncertainty, k = 2)");
    for check in &piece.assessment.checks {
        if check.tolerance_used.is_some() {
            page.mark(Thing::Tolerance(check.measurand));
        }
        page.rows.extend(tall_check(check, columns.min(76), units));
        check_details(&mut page, check, columns, units);
        page.rows.push(Row::blank());
    }
    page.rows.pop();

    candidates(&mut page, piece, columns);

    let rows = &mut page.rows;
    if !piece.assessment.remarks.is_empty() {
        heading(rows, "Remarks, which hold nothing");
        for remark in &piece.assessment.remarks {
            rows.extend(
                text::wrap(&super::causes::remark_text(remark), columns)
                    .into_iter()
                    .map(|line| Row::of(Tone::Plain, line)),
            );
        }
    }
    rows.push(Row::blank());
    let assessment = &piece.assessment;
    let versions = format!(
        "scored with rules {}, reference {}, policy {}",
        assessment.engine, assessment.reference, assessment.policy
    );
    rows.push(Row::of(Tone::Quiet, text::fit(&versions, columns)));
    page
}

/// Returns what can be explained on the page about a piece, from the top.
pub fn piece_things(piece: &PieceView) -> Vec<Thing> {
    let desk = FixedOffset::east_opt(0).expect("no offset is an offset");
    piece_page(piece, text::PAGE, desk, &Units::default())
        .things
        .into_iter()
        .map(|(_, thing)| thing)
        .collect()
}

/// Adds why the piece is not clear.
fn doubts(page: &mut PiecePage, piece: &PieceView, columns: usize) {
    let reasons = reasons(piece);
    if reasons.is_empty() {
        return;
    }
    heading(&mut page.rows, "Why it is not clear");
    for reason in &reasons {
        page.mark(reason.thing.clone());
        for line in text::wrap(&reason.text, columns) {
            page.rows.push(Row::of(standing_tone(piece.standing), line));
        }
        for offer in &reason.offers {
            let tone = if offer.power == Power::Cannot { Tone::Quiet } else { Tone::Plain };
            labelled(&mut page.rows, "", tone, &offer_text(offer), columns);
        }
    }
}

/// Adds the readings in force.
fn readings(rows: &mut Vec<Row>, piece: &PieceView, columns: usize) {
    heading(rows, "Readings in force (standard uncertainty, k = 1)");
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
        labelled(rows, &label, Tone::Plain, &words, columns);
        if let Some(line) = &reading.device_line {
            labelled(rows, "", Tone::Quiet, &format!("sent as `{line}`"), columns);
        }
        if let Some(reason) = &reading.reason {
            labelled(rows, "", Tone::Quiet, reason, columns);
        }
    }
    if piece.readings.is_empty() {
        rows.push(Row::of(Tone::Quiet, "none"));
    }
}

/// Adds limits, reason and the budget of a check.
fn check_details(page: &mut PiecePage, check: &Check, columns: usize, units: &Units) {
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
        page.mark(Thing::Limits(check.measurand));
        labelled(&mut page.rows, "  allowed", Tone::Plain, &words, columns);
    }
    if let Some(probability) = check.probability {
        page.mark(Thing::Conformance(check.measurand));
        labelled(
            &mut page.rows,
            "  conforms",
            Tone::Plain,
            &format!("probability {probability:.4}"),
            columns,
        );
    }
    if !check.reason.is_empty() && check.reason != check.outcome.label() {
        labelled(&mut page.rows, "  because", Tone::Plain, &check.reason, columns);
    }
    for (index, line) in check.budget.iter().enumerate() {
        if index == 0 {
            page.mark(Thing::Uncertainty(check.measurand));
        }
        let label = if index == 0 { "  uncertainty" } else { "" };
        let words = format!("{}  {}  ({})", line.u.show(4), line.name, line.source);
        labelled(&mut page.rows, label, Tone::Quiet, &words, columns);
    }
}

/// Adds what the piece could still be and what was excluded.
fn candidates(page: &mut PiecePage, piece: &PieceView, columns: usize) {
    let assessment = &piece.assessment;
    heading(&mut page.rows, "What it could still be");
    let still = survivors(assessment);
    if still.is_empty() {
        let words = if assessment.candidates.is_empty() {
            "not computed for this piece"
        } else {
            "nothing else in the reference fits these readings"
        };
        page.rows.push(Row::of(Tone::Quiet, words));
    }
    for candidate in &still {
        let tone = if candidate.material_doubt.is_some() { Tone::Plain } else { Tone::Quiet };
        page.mark(Thing::Candidate(candidate.material.clone(), candidate.construction));
        page.rows.extend(
            text::wrap(&survivor_text(candidate), columns).into_iter().map(|line| Row::of(tone, line)),
        );
    }
    if let Some(proved) = proved_text(assessment) {
        page.mark(Thing::Depth);
        page.rows.extend(text::wrap(&proved, columns).into_iter().map(|line| Row::of(Tone::Quiet, line)));
    }
    let excluded: Vec<_> = assessment.candidates.iter().filter(|candidate| !candidate.survives).collect();
    if !excluded.is_empty() {
        heading(&mut page.rows, &format!("Excluded: {}", count(excluded.len(), "candidate", "candidates")));
        for candidate in excluded {
            let by =
                candidate.excluded_by.as_ref().map_or_else(|| "the readings".to_owned(), ToString::to_string);
            let words = format!("{}, {}: {by}", candidate.name, construction_text(candidate));
            page.mark(Thing::Candidate(candidate.material.clone(), candidate.construction));
            page.rows.extend(text::wrap(&words, columns).into_iter().map(|line| Row::of(Tone::Quiet, line)));
        }
    }
}
