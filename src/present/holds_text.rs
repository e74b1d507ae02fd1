//! Everything that is on hold as text for a terminal: by lot, then by piece, and what many pieces share told once.

use super::causes::cause_text;
use super::ranges::{differ_in_numbers_only, ranged};
use super::text::{fit, wrap};
use super::words::{count, money_text, short_number, standing_text};
use crate::desk::views::{HoldView, LotView};
use crate::quantity::Money;
use crate::scoring::{Power, Standing};

/// Columns below which nothing is wrapped tighter.
const LEAST_COLUMNS: usize = 40;

/// The open doubts of one piece, or of a lot itself.
struct Owner<'a> {
    number: &'a str,
    of_lot: bool,
    standing: Standing,
    at_risk: Option<Money>,
    doubts: Vec<&'a HoldView>,
}

/// Pieces of a lot whose doubts differ in nothing but numbers.
struct Alike<'a> {
    owners: Vec<Owner<'a>>,
}

/// Returns the open doubts as text, lots in the order given; no line is wider than `columns`, at least 40.
///
/// Doubts of several pieces of a lot that differ in their numbers only are told once, each number as its range.
pub fn holds_text(holds: &[HoldView], columns: usize) -> String {
    let columns = columns.max(LEAST_COLUMNS);
    let mut text = String::new();
    for lot in lots(holds) {
        if !text.is_empty() {
            text.push('\n');
        }
        let first = lot[0];
        let head = format!("{}: {}, from {}", first.lot, first.product_name, first.source);
        push(&mut text, "", "  ", &head, columns);
        for group in groups(&lot) {
            push_group(&mut text, &group, columns);
        }
    }
    text
}

/// Returns short counts as lines, one a lot.
pub fn short_counts_text(short: &[LotView], columns: usize) -> String {
    let mut text = String::new();
    for lot in short {
        let head = format!(
            "short count: {}, {} of {} logged, {} ({})",
            lot.number, lot.logged, lot.expected, lot.product, lot.product_name
        );
        push(&mut text, "", "  ", &head, columns.max(LEAST_COLUMNS));
    }
    text
}

/// Adds a paragraph, broken at blanks, its first line after `first` and the others after `rest`.
fn push(text: &mut String, first: &str, rest: &str, words: &str, columns: usize) {
    for (index, line) in
        wrap(words, columns.saturating_sub(rest.len().max(first.len()))).into_iter().enumerate()
    {
        let lead = if index == 0 { first } else { rest };
        text.push_str(fit(&format!("{lead}{line}"), columns).trim_end());
        text.push('\n');
    }
}

/// Returns the doubts lot by lot, in the order in which the lots come first.
fn lots(holds: &[HoldView]) -> Vec<Vec<&HoldView>> {
    let mut lots: Vec<Vec<&HoldView>> = Vec::new();
    for hold in holds {
        match lots.iter_mut().find(|lot| lot[0].lot == hold.lot) {
            Some(lot) => lot.push(hold),
            None => lots.push(vec![hold]),
        }
    }
    lots
}

/// Returns the owners of the doubts of a lot, the lot itself first, those alike together.
fn groups<'a>(lot: &[&'a HoldView]) -> Vec<Alike<'a>> {
    let mut owners: Vec<Owner<'a>> = Vec::new();
    for hold in lot {
        let number = hold.piece.as_deref().unwrap_or(&hold.lot);
        match owners.iter_mut().find(|owner| owner.number == number) {
            Some(owner) => owner.doubts.push(hold),
            None => owners.push(Owner {
                number,
                of_lot: hold.piece.is_none(),
                standing: hold.standing,
                at_risk: hold.at_risk,
                doubts: vec![hold],
            }),
        }
    }
    owners.sort_by_key(|owner| !owner.of_lot);
    let mut groups: Vec<Alike<'a>> = Vec::new();
    for owner in owners {
        match groups.iter_mut().find(|group| alike(&group.owners[0], &owner)) {
            Some(group) => group.owners.push(owner),
            None => groups.push(Alike { owners: vec![owner] }),
        }
    }
    groups
}

fn alike(one: &Owner<'_>, other: &Owner<'_>) -> bool {
    let same = |(a, b): (&&HoldView, &&HoldView)| {
        a.kind == b.kind
            && settled_by(a) == settled_by(b)
            && differ_in_numbers_only(&cause_text(&a.cause), &cause_text(&b.cause))
    };
    one.of_lot == other.of_lot
        && one.standing == other.standing
        && one.doubts.len() == other.doubts.len()
        && one.doubts.iter().zip(&other.doubts).all(same)
}

fn push_group(text: &mut String, group: &Alike<'_>, columns: usize) {
    let first = &group.owners[0];
    let mut numbers = if first.of_lot { "the whole lot".to_owned() } else { first.number.to_owned() };
    for owner in &group.owners[1..] {
        numbers.push(' ');
        numbers.push_str(short_number(owner.number));
    }
    let several = group.owners.len() > 1;
    let pieces =
        if several { format!("  {}", count(group.owners.len(), "piece", "pieces")) } else { String::new() };
    let risk = risk(&group.owners).map_or_else(
        || "no price".to_owned(),
        |risk| format!("{risk} at risk{}", if several { " each" } else { "" }),
    );
    let standing = format!("{}  {risk}{pieces}", standing_text(first.standing));
    let line = format!("{numbers}  {standing}");
    if super::text::width(&line) + 2 <= columns {
        text.push_str(&format!("  {line}\n"));
    } else {
        push(text, "  ", "    ", &numbers, columns);
        push(text, "    ", "    ", &standing, columns);
    }
    for (place, doubt) in first.doubts.iter().enumerate() {
        let texts: Vec<String> =
            group.owners.iter().map(|owner| cause_text(&owner.doubts[place].cause)).collect();
        let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
        let words = format!("{}: {}", doubt.kind.label(), ranged(&texts));
        push(text, "    ", "      ", &words, columns);
        push(text, "      ", "        ", &format!("settled by {}", settled_by(doubt)), columns);
    }
}

/// Returns the methods whose own numbers settle a doubt.
fn settled_by(hold: &HoldView) -> String {
    let methods: Vec<&str> = hold
        .offers
        .iter()
        .filter(|offer| offer.power == Power::Settles)
        .map(|offer| offer.method.label())
        .collect();
    if methods.is_empty() { "nothing alone".to_owned() } else { methods.join(", ") }
}

/// Returns the money at risk of one piece, or its range over several; `None` without a price.
fn risk(owners: &[Owner<'_>]) -> Option<String> {
    let risks: Vec<Money> = owners.iter().map(|owner| owner.at_risk).collect::<Option<_>>()?;
    let least = risks.iter().min_by_key(|money| money.amount)?;
    let greatest = risks.iter().max_by_key(|money| money.amount)?;
    if least.amount == greatest.amount {
        return Some(money_text(*least));
    }
    Some(format!("{} to {}", money_text(*least), money_text(*greatest)))
}
