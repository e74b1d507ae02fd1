//! Explanations in words: what comes out, how it is reckoned with the numbers put in, where the figures come from, and what would
//! change it.

use super::table::{Align, Table};
use super::text;
use super::tone::{Row, Tone};
use super::words::mark_text;
use crate::desk::Explained;
use crate::scoring::{Explanation, Known};
use serde_json::{Value, json};

/// Columns that lines below another stand in.
const INDENT: usize = 2;

/// Returns how a figure is known, in words.
pub fn known_text(known: Known) -> &'static str {
    match known {
        Known::Reference(mark) => mark_text(mark),
        Known::Measured => "measured on this piece",
        Known::Instrument => "of the instrument",
        Known::Policy => "set by the policy",
        Known::Person => "entered by a person",
        Known::Book => "kept in the book",
    }
}

/// Returns how a figure is known as a word of JSON.
fn known_word(known: Known) -> &'static str {
    match known {
        Known::Reference(mark) => mark.as_str(),
        Known::Measured => "measured",
        Known::Instrument => "instrument",
        Known::Policy => "policy",
        Known::Person => "person",
        Known::Book => "book",
    }
}

/// Adds a text, wrapped, `indent` columns in.
fn put(rows: &mut Vec<Row>, tone: Tone, indent: usize, words: &str, columns: usize) {
    let room = columns.saturating_sub(indent).max(1);
    rows.extend(
        text::wrap(words, room)
            .into_iter()
            .map(|line| Row::of(tone, format!("{}{line}", " ".repeat(indent)))),
    );
}

/// Adds an entry of a list, its further lines under its first word.
fn entry(rows: &mut Vec<Row>, tone: Tone, words: &str, columns: usize) {
    for (index, line) in text::wrap(words, columns.saturating_sub(INDENT).max(1)).into_iter().enumerate() {
        rows.push(Row::of(Tone::Quiet, if index == 0 { "- " } else { "  " }).with(tone, line));
    }
}

/// Returns the page of one explanation, `columns` wide.
pub fn explanation_page(number: &str, explanation: &Explanation, columns: usize) -> Vec<Row> {
    let mut rows = Vec::new();
    put(&mut rows, Tone::Strong, 0, &explanation.title, columns);
    put(&mut rows, Tone::Quiet, 0, &format!("of {number}"), columns);
    rows.push(Row::blank());
    put(&mut rows, Tone::Plain, 0, &result_text(explanation), columns);
    if !explanation.steps.is_empty() {
        rows.push(Row::blank());
        rows.push(Row::of(Tone::Strong, "How it comes about"));
    }
    for step in &explanation.steps {
        entry(&mut rows, Tone::Plain, &step.words, columns);
        if !step.formula.is_empty() {
            put(&mut rows, Tone::Accent, 2 * INDENT, &step.formula, columns);
        }
        if !step.numbers.is_empty() {
            put(&mut rows, Tone::Strong, 2 * INDENT, &step.numbers, columns);
        }
    }
    if !explanation.sources.is_empty() {
        rows.push(Row::blank());
        rows.push(Row::of(Tone::Strong, "Where the figures come from"));
    }
    for source in &explanation.sources {
        entry(&mut rows, Tone::Plain, &format!("{} ({})", source.text, known_text(source.known)), columns);
    }
    let changes = changes(explanation);
    if !changes.is_empty() {
        rows.push(Row::blank());
        rows.push(Row::of(Tone::Strong, "What would change it"));
    }
    for words in &changes {
        entry(&mut rows, Tone::Plain, words, columns);
    }
    rows
}

/// Returns the list of what can be explained, numbered.
pub fn explained_list(explained: &Explained) -> String {
    let mut table = Table::new(&[("no", Align::Right), ("word", Align::Left), ("what", Align::Left)]);
    for (place, one) in explained.things.iter().enumerate() {
        table.row([(place + 1).to_string(), one.thing.word(), one.title.clone()]);
    }
    format!("What can be explained of {}\n\n{}", explained.number, table.text())
}

/// Returns an explanation as JSON.
pub fn explanation_json(explanation: &Explanation) -> Value {
    let step = |step: &crate::scoring::Step| json!({ "words": step.words, "formula": step.formula, "numbers": step.numbers });
    let source =
        |source: &crate::scoring::Source| json!({ "text": source.text, "known": known_word(source.known) });
    json!({
        "what": explanation.thing.word(),
        "title": explanation.title,
        "steps": explanation.steps.iter().map(step).collect::<Vec<_>>(),
        "result": result_text(explanation),
        "sources": explanation.sources.iter().map(source).collect::<Vec<_>>(),
        "changes": changes(explanation),
    })
}

/// Returns what comes out, in words.
fn result_text(explanation: &Explanation) -> String {
    match &explanation.cause {
        Some((cause, _)) => super::causes::cause_text(cause),
        None => explanation.result.clone(),
    }
}

/// Returns what would change it: for a doubt its methods.
fn changes(explanation: &Explanation) -> Vec<String> {
    let offers = explanation.cause.iter().flat_map(|(_, offers)| super::causes::offers_text(offers));
    let said = explanation.changes.iter().filter(|words| !words.is_empty()).cloned();
    offers.chain(said).collect()
}
