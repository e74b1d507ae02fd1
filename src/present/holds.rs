//! Open doubts in words, a piece or a lot at a time: what is wrong, what is at stake, what would settle it cheapest.

use super::causes::{hold_text, with_why};
use super::second_test::{Ranked, cost_text, ranked};
use super::text;
use super::tone::{Row, Tone};
use super::verdict::Because;
use super::words::{
    count, minute, money_text, power_text, scope_text, short_number, standing_text, standing_tone,
};
use crate::desk::review_views::OpenGroup;
use crate::desk::views::HoldView;
use crate::quantity::Money;
use crate::scoring::{Power, Scope, Thing};
use chrono::FixedOffset;
use rust_decimal::Decimal;

/// Columns of the labels.
const LABEL: usize = 14;

/// Returns doubts as reasons with the methods considered against them.
pub fn because(doubts: &[HoldView]) -> Vec<Because> {
    doubts
        .iter()
        .enumerate()
        .map(|(place, hold)| Because {
            thing: Thing::Hold(place),
            text: hold_text(hold),
            offers: hold.offers.clone(),
        })
        .collect()
}

/// Returns the kinds of the doubts, each once, `hidden core, uneven`.
pub fn kinds_text(doubts: &[HoldView]) -> String {
    let mut kinds: Vec<&str> = Vec::new();
    for doubt in doubts {
        if !kinds.contains(&doubt.kind.label()) {
            kinds.push(doubt.kind.label());
        }
    }
    kinds.join(", ")
}

/// Returns the method to try first: the first of the ranking that settles something, else that narrows it.
fn best(ranking: &[Ranked]) -> Option<&Ranked> {
    ranking.iter().find(|ranked| matches!(ranked.power, Some(Power::Settles | Power::Narrows)))
}

/// Returns what to try first in a word or two: `ring`, `conductivity 1/2` when it settles one doubt of two, `~ ultrasound`
/// when it only narrows; `decide` when no method can do anything.
pub fn best_text(doubts: &[HoldView]) -> String {
    let ranking = ranked(&because(doubts));
    let Some(best) = best(&ranking) else { return "decide".to_owned() };
    let label = best.method.label();
    match best.power {
        Some(Power::Narrows) => format!("~ {label}"),
        _ if best.settles < best.of => format!("{label} {}/{}", best.settles, best.of),
        _ => label.to_owned(),
    }
}

/// Returns the sum of what is at risk; `None` when any of it has no price or the currencies differ.
pub fn at_risk<'a>(groups: impl IntoIterator<Item = &'a OpenGroup>) -> Option<Money> {
    let mut sum: Option<Money> = None;
    for group in groups {
        let money = group.at_risk?;
        sum = match sum {
            None => Some(money),
            Some(sum) if sum.currency == money.currency => {
                Some(Money { amount: sum.amount.checked_add(money.amount).unwrap_or(Decimal::MAX), ..sum })
            }
            Some(_) => return None,
        };
    }
    sum
}

/// Returns the pieces of a folded row, `-01 to -10` or `-01, -04, -07`.
pub fn numbers_text(numbers: &[&str]) -> String {
    let short: Vec<&str> = numbers.iter().map(|number| short_number(number)).collect();
    let places: Vec<Option<u32>> =
        short.iter().map(|number| number.trim_start_matches('-').parse().ok()).collect();
    let in_a_row = places.windows(2).all(|pair| match pair {
        [Some(one), Some(next)] => one + 1 == *next,
        _ => false,
    });
    match (short.first(), short.last()) {
        (Some(first), Some(last)) if in_a_row && short.len() > 2 => format!("{first} to {last}"),
        _ => short.join(", "),
    }
}

/// Adds a text beside a label, wrapped to at most `most` lines.
fn labelled(rows: &mut Vec<Row>, label: &str, tone: Tone, words: &str, columns: usize, most: usize) {
    let room = columns.saturating_sub(LABEL).max(1);
    let lines = text::first_lines(text::wrap(words, room), most, room);
    for (index, line) in lines.into_iter().enumerate() {
        let label = if index == 0 { label } else { "" };
        rows.push(Row::of(Tone::Quiet, text::pad_end(label, LABEL.min(columns))).with(tone, line));
    }
}

/// Returns what a method can do in one sentence, `ring settles 1 of 2 in 4 min: the disc rings ...`.
fn method_text(ranked: &Ranked) -> String {
    let takes = match (ranked.power, ranked.cost) {
        (Some(Power::Settles | Power::Narrows), Some(cost)) => format!(" ({})", cost_text(cost)),
        _ => String::new(),
    };
    let why = if ranked.why().is_empty() { String::new() } else { format!(": {}", ranked.why()) };
    format!("{} {}{takes}{why}", ranked.method.label(), ranked.summary())
}

/// Returns a group in at most `lines` rows for a pane below the list: every doubt first, then what settles it.
///
/// What does not fit is cut visibly; the whole is on [`group_page`].
pub fn group_pane(group: &OpenGroup, columns: usize, lines: usize) -> Vec<Row> {
    let ranking = ranked(&because(&group.doubts));
    let able: Vec<&Ranked> = ranking
        .iter()
        .filter(|ranked| matches!(ranked.power, Some(Power::Settles | Power::Narrows)))
        .collect();
    // Two rows for the methods; the doubts share the rest, each at least one.
    let for_methods = able.len().clamp(1, 3).min(lines.saturating_sub(1));
    let for_doubts = lines.saturating_sub(for_methods);
    let mut rows = Vec::new();
    let shown = group.doubts.len().min(for_doubts);
    let room = columns.saturating_sub(LABEL).max(1);
    let wanted: Vec<usize> =
        group.doubts.iter().take(shown).map(|doubt| text::wrap(&hold_text(doubt), room).len()).collect();
    let mut share = vec![1usize; shown];
    let mut spare = for_doubts - shown;
    for (share, wanted) in share.iter_mut().zip(&wanted) {
        let more = wanted.saturating_sub(*share).min(spare);
        *share += more;
        spare -= more;
    }
    for (index, doubt) in group.doubts.iter().take(shown).enumerate() {
        let label = if index == 0 { "why" } else { "" };
        labelled(&mut rows, label, standing_tone(group.standing), &hold_text(doubt), columns, share[index]);
    }
    let hidden = group.doubts.len() - shown;
    if hidden > 0
        && let Some(last) = rows.last_mut()
    {
        let words = format!("and {} more", count(hidden + 1, "doubt", "doubts"));
        *last =
            Row::of(Tone::Quiet, " ".repeat(LABEL.min(columns))).with(standing_tone(group.standing), words);
    }
    for (index, ranked) in able.iter().take(for_methods).enumerate() {
        let words = if index + 1 == for_methods && able.len() > for_methods {
            let others: Vec<&str> = able[index..].iter().map(|ranked| ranked.method.label()).collect();
            format!("also {}", others.join(", "))
        } else {
            method_text(ranked)
        };
        // What is left after a row for each goes to those at the top.
        let left = lines.saturating_sub(rows.len() + for_methods - index - 1).max(1);
        labelled(
            &mut rows,
            if index == 0 { "settled by" } else { "" },
            Tone::Plain,
            &words,
            columns,
            left.min(2),
        );
    }
    if able.is_empty() {
        labelled(&mut rows, "settled by", Tone::Quiet, "a person's decision", columns, 1);
    }
    rows.truncate(lines);
    rows
}

/// Returns everything about the open doubts of a piece or a lot, `columns` wide.
pub fn group_page(group: &OpenGroup, columns: usize, desk: FixedOffset) -> Vec<Row> {
    let most = usize::MAX;
    let mut rows = vec![
        Row::of(Tone::Strong, &group.number)
            .with(Tone::Quiet, format!("  open doubts of the {}", scope_text(group.scope)))
            .with(Tone::Plain, "  ")
            .with(standing_tone(group.standing), standing_text(group.standing)),
    ];
    if let Some(first) = group.doubts.first() {
        labelled(&mut rows, "declared as", Tone::Plain, &first.product_name, columns, most);
        labelled(&mut rows, "source", Tone::Plain, &first.source, columns, most);
    }
    let risk = group.at_risk.map_or_else(|| "no price in the book".to_owned(), money_text);
    labelled(&mut rows, "at risk", Tone::Plain, &risk, columns, most);
    for doubt in &group.doubts {
        rows.push(Row::blank());
        let words = hold_text(doubt);
        rows.extend(
            text::wrap(&words, columns).into_iter().map(|line| Row::of(standing_tone(group.standing), line)),
        );
        let since = format!("since {}", minute(doubt.opened_at, desk));
        labelled(&mut rows, "", Tone::Quiet, &since, columns, most);
        for offer in &doubt.offers {
            let tone = if offer.power == Power::Cannot { Tone::Quiet } else { Tone::Plain };
            let words = with_why(power_text(offer.power), &offer.because);
            labelled(&mut rows, offer.method.label(), tone, &words, columns, most);
        }
        if doubt.offers.is_empty() {
            labelled(
                &mut rows,
                "",
                Tone::Quiet,
                "a person's decision; no method was considered",
                columns,
                most,
            );
        }
    }
    if group.scope == Scope::Lot {
        rows.push(Row::blank());
        let words = "A doubt that every piece of the lot shares is settled on a random sample: draw it, test each piece \
                     of it, settle. One bad piece, and every piece has to be tested.";
        rows.extend(text::wrap(words, columns).into_iter().map(|line| Row::of(Tone::Quiet, line)));
    }
    rows
}

/// Tells whether two groups look alike in a list: the same doubts of the same standing, settled by the same method.
pub fn alike(one: &OpenGroup, other: &OpenGroup) -> bool {
    one.scope == other.scope
        && one.standing == other.standing
        && kinds_text(&one.doubts) == kinds_text(&other.doubts)
        && best_text(&one.doubts) == best_text(&other.doubts)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_in_a_row_are_named_by_their_ends() {
        assert_eq!(numbers_text(&["S-0001/2-08", "S-0001/2-09", "S-0001/2-10"]), "-08 to -10");
        assert_eq!(numbers_text(&["S-0001/2-01", "S-0001/2-03", "S-0001/2-04"]), "-01, -03, -04");
        assert_eq!(numbers_text(&["S-0001/2-01", "S-0001/2-02"]), "-01, -02");
    }
}
