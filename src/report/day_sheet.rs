//! The day sheet: the end-of-day account as a document, and its tables for export.
//!
//! What it is for: what came in, what is still missing, what may be sold, what is held and why, who decided what. What it
//! must never do: count anything itself that the account does not give. Read next: [`document`].

use super::document::{Block, Cell, Column, Document, Table};
use super::stock_sheet::{grams, money_cell, troy_ounces};
use crate::desk::SURRENDER_CAUTIONS;
use crate::desk::review_views::{DayLot, DayView, DecisionView, Worth};
use crate::present::decisions::{about, acts};
use crate::present::words::{count, minute, money_text, standing_text};
use crate::quantity::Money;
use crate::store::PriceRow;
use chrono::FixedOffset;
use rust_decimal::Decimal;

/// Returns the day sheet.
///
/// `prices`: the prices that the values rest on; `desk`: the time zone in which moments are shown.
pub fn document(view: &DayView, prices: &[PriceRow], desk: FixedOffset) -> Document {
    let made = minute(view.made_at, desk);
    let whose = view.desk.as_ref().map(|name| format!("{name} · ")).unwrap_or_default();
    let mut sheet = Document::new("Day sheet", format!("{whose}{} · made {made}", view.day));
    sheet.footer = format!(
        "Day sheet of {}, made {made}. Journal: {} rows, head {}.",
        view.day, view.journal_rows, view.journal_head
    );
    sheet.push(Block::key_values(summary(view)));
    if view.lots.iter().any(|lot| lot.lot.refuse > 0 || lot.surrendered > 0) {
        sheet.push(Block::caution(sentences(&SURRENDER_CAUTIONS)));
    }
    sheet.push(Block::heading("Counts against the packing lists"));
    if view.lots.is_empty() {
        sheet.push(Block::paragraph("Nothing was received, logged, tested or decided on this day."));
    } else {
        sheet.push(Block::Table(counts(view)));
        for lot in view.lots.iter().filter(|lot| !lot.lot.serials_open.is_empty()) {
            let serials = lot.lot.serials_open.join(", ");
            let words = format!("{}: serials of the list that were not logged: {serials}.", lot.lot.number);
            sheet.push(Block::paragraph(words));
        }
        sheet.push(Block::heading("Where the pieces of these lots stand"));
        sheet.push(Block::Table(standings(view)));
    }
    sheet.push(Block::heading("Fine metal and its value"));
    sheet.push(Block::paragraph(price_words(prices, desk)));
    sheet.push(Block::Table(worth(view)));
    sheet.push(Block::heading("Open doubts"));
    if view.doubts.is_empty() {
        sheet.push(Block::paragraph("No doubt is open in the whole book."));
    } else {
        sheet.push(Block::Table(doubts(view)));
    }
    sheet.push(Block::heading("Second tests of the day"));
    if view.second_tests.is_empty() {
        sheet.push(Block::paragraph("None was recorded."));
    } else {
        sheet.push(Block::Table(second_tests(view)));
    }
    sheet.push(Block::heading("Decisions of the day"));
    if view.decisions.is_empty() {
        sheet.push(Block::paragraph("Nobody settled, sent back, surrendered or released anything."));
    } else {
        let mut table = decisions(&view.decisions, desk);
        whole_moments(&mut table);
        sheet.push(Block::Table(table));
    }
    sheet.push(Block::heading("Instruments and what is assumed about them"));
    sheet.push(Block::key_values(view.instruments.iter().map(|words| {
        let (name, rest) = words.split_once(": ").unwrap_or(("instrument", words));
        (name.to_owned(), rest.to_owned())
    })));
    sheet.push(Block::heading("Record"));
    let (engine, reference, policy) = &view.versions;
    sheet.push(Block::key_values([
        ("rules of scoring", engine.to_string()),
        ("reference", reference.clone()),
        ("policy", policy.clone()),
        ("journal", count(usize::try_from(view.journal_rows).unwrap_or(usize::MAX), "row", "rows")),
        ("head of the book", view.journal_head.clone()),
    ]));
    sheet
}

/// Returns every table of the day sheet with a name, for a workbook.
pub fn tables(view: &DayView, desk: FixedOffset) -> Vec<(&'static str, Table)> {
    vec![
        ("lots", lots(view)),
        ("metal", worth(view)),
        ("open doubts", doubts(view)),
        ("second tests", second_tests(view)),
        ("decisions", decisions(&view.decisions, desk)),
    ]
}

/// Returns one table with everything about each lot, short counts first: what `--csv` writes.
pub fn lots(view: &DayView) -> Table {
    let mut table = Table::new(
        "Lots",
        [
            Column::words("lot"),
            Column::words("source"),
            Column::words("product"),
            Column::words("product name"),
            Column::numbers("on the list"),
            Column::numbers("logged"),
            Column::numbers("short"),
            Column::numbers("clear"),
            Column::numbers("on hold"),
            Column::numbers("to refuse"),
            Column::numbers("released"),
            Column::numbers("sent back"),
            Column::numbers("surrendered"),
            Column::numbers("doubts of the lot"),
            Column::words("standing"),
        ],
    );
    for lot in short_first(view) {
        table.push([
            Cell::from(lot.lot.number.as_str()),
            lot.source.as_str().into(),
            lot.lot.product.as_str().into(),
            lot.lot.product_name.as_str().into(),
            number(lot.lot.expected),
            number(lot.lot.logged),
            number(short(lot)),
            number(clear_here(lot)),
            number(lot.lot.hold),
            number(lot.lot.refuse),
            number(lot.released),
            number(lot.sent_back),
            number(lot.surrendered),
            number(lot.lot.lot_doubts),
            lot.lot.standing.map_or("-", |standing| standing.word()).into(),
        ]);
    }
    table
}

fn number(count: u32) -> Cell {
    Cell::Number(Decimal::from(count))
}

/// Returns the pieces of the packing list that were not logged.
fn short(lot: &DayLot) -> u32 {
    lot.lot.expected.saturating_sub(lot.lot.logged)
}

/// Returns the clear pieces that are still at the desk.
fn clear_here(lot: &DayLot) -> u32 {
    lot.lot.clear.saturating_sub(lot.released)
}

fn short_first(view: &DayView) -> Vec<&DayLot> {
    let mut lots: Vec<&DayLot> = view.lots.iter().collect();
    lots.sort_by_key(|lot| std::cmp::Reverse(short(lot)));
    lots
}

fn summary(view: &DayView) -> Vec<(String, String)> {
    let sum = |of: fn(&DayLot) -> u32| view.lots.iter().map(|lot| u64::from(of(lot))).sum::<u64>();
    let missing = view.lots.iter().filter(|lot| short(lot) > 0).count();
    let mut counted = format!(
        "{} of {} pieces of the packing lists",
        sum(|lot| lot.lot.logged),
        sum(|lot| lot.lot.expected)
    );
    if missing > 0 {
        let pieces = usize::try_from(sum(short)).unwrap_or(usize::MAX);
        counted.push_str(&format!(
            "; {} short by {}",
            count(missing, "lot is", "lots are"),
            count(pieces, "piece", "pieces")
        ));
    }
    let pieces = format!(
        "{} clear and not released, {} on hold, {} to refuse, {} released, {} sent back, {} surrendered",
        sum(clear_here),
        sum(|lot| lot.lot.hold),
        sum(|lot| lot.lot.refuse),
        sum(|lot| lot.released),
        sum(|lot| lot.sent_back),
        sum(|lot| lot.surrendered)
    );
    let of_pieces: u64 = view.doubts.iter().map(|(_, pieces, _)| u64::from(*pieces)).sum();
    let of_lots: u64 = view.doubts.iter().map(|(_, _, lots)| u64::from(*lots)).sum();
    let tests: u64 = view.second_tests.iter().map(|(_, tests)| u64::from(*tests)).sum();
    let mut pairs = vec![
        ("lots of the day", view.lots.len().to_string()),
        ("counted", counted),
        ("pieces of these lots", pieces),
    ];
    for (name, group) in groups(view) {
        pairs.push((name, total(group)));
    }
    pairs.push(("open doubts", format!("{of_pieces} of pieces and {of_lots} of lots, in the whole book")));
    pairs.push(("second tests", tests.to_string()));
    pairs.push(("decisions", view.decisions.len().to_string()));
    pairs.into_iter().map(|(name, words)| (name.to_owned(), words)).collect()
}

/// Returns the groups of pieces whose metal is added up, with what each is.
fn groups(view: &DayView) -> [(&'static str, &[Worth]); 5] {
    [
        ("received", &view.received),
        ("sellable", &view.sellable),
        ("recalled", &view.recalled),
        ("on hold", &view.on_hold),
        ("at risk", &view.at_risk),
    ]
}

/// Returns pieces and value of a group in words.
fn total(group: &[Worth]) -> String {
    let pieces: usize = group.iter().map(|worth| worth.pieces as usize).sum();
    if pieces == 0 {
        return "no piece".to_owned();
    }
    let value = match sum(group) {
        Some(value) => money_text(value),
        None => "of a value that is not known, for want of a price".to_owned(),
    };
    format!("{}, {value}", count(pieces, "piece", "pieces"))
}

/// Returns the value of a group; `None` where one metal has no price.
fn sum(group: &[Worth]) -> Option<Money> {
    let values: Option<Vec<Money>> = group.iter().map(|worth| worth.value).collect();
    let values = values?;
    let currency = values.first()?.currency;
    let same = values.iter().all(|value| value.currency == currency);
    same.then(|| Money { amount: values.iter().map(|value| value.amount).sum(), currency })
}

fn counts(view: &DayView) -> Table {
    let mut table = Table::new(
        "Short counts first",
        [
            Column::words("lot"),
            Column::words("source"),
            Column::words("product"),
            Column::numbers("on the list"),
            Column::numbers("logged"),
            Column::numbers("short"),
            Column::words("standing"),
        ],
    );
    for lot in short_first(view) {
        table.push([
            Cell::from(lot.lot.number.as_str()),
            lot.source.as_str().into(),
            lot.lot.product_name.as_str().into(),
            number(lot.lot.expected),
            number(lot.lot.logged),
            number(short(lot)),
            lot.lot.standing.map_or_else(|| "-".to_owned(), standing_text).into(),
        ]);
    }
    table
}

fn standings(view: &DayView) -> Table {
    let mut table = Table::new(
        "Pieces by lot: clear to surrendered add up to the pieces logged",
        [
            Column::words("lot"),
            Column::numbers("logged"),
            Column::numbers("clear"),
            Column::numbers("on hold"),
            Column::numbers("to refuse"),
            Column::numbers("released"),
            Column::numbers("sent back"),
            Column::numbers("surrendered"),
            Column::numbers("doubts of the lot"),
        ],
    );
    for lot in &view.lots {
        table.push([
            Cell::from(lot.lot.number.as_str()),
            number(lot.lot.logged),
            number(clear_here(lot)),
            number(lot.lot.hold),
            number(lot.lot.refuse),
            number(lot.released),
            number(lot.sent_back),
            number(lot.surrendered),
            number(lot.lot.lot_doubts),
        ]);
    }
    table
}

/// Says on which prices the values rest, and how they are rounded.
fn price_words(prices: &[PriceRow], desk: FixedOffset) -> String {
    let mut words = String::from(
        "Value = fine mass × price ÷ 31.1034768 g, added up by metal and rounded once, half to even, to 0.01. Fine mass is \
         kept to 1 ng and shown to 0.001 g and to 0.0001 ozt. Received: logged of the shipments of this day. As it \
         stands now, over the whole book, sellable: in stock and not recalled; recalled: in stock and has to come back; on hold: not released and doubted; at risk: proposed to \
         refuse and still here.",
    );
    let prices: Vec<String> = prices
        .iter()
        .map(|price| {
            let at = minute(price.at, desk);
            format!("{} {} (entered {at})", price.metal.as_str(), money_text(price.per_troy_ounce))
        })
        .collect();
    words.push_str(&if prices.is_empty() {
        " No price is in the book.".to_owned()
    } else {
        format!(" Price of one troy ounce: {}.", prices.join(", "))
    });
    words
}

fn worth(view: &DayView) -> Table {
    let mut table = Table::new(
        "Fine metal",
        [
            Column::words("what"),
            Column::words("metal"),
            Column::numbers("pieces"),
            Column::numbers("fine mass in g"),
            Column::numbers("fine mass in ozt"),
            Column::numbers("value"),
        ],
    );
    for (name, group) in groups(view) {
        if group.is_empty() {
            table.push([Cell::from(name), "-".into(), number(0), "-".into(), "-".into(), "-".into()]);
        }
        for worth in group {
            table.push([
                Cell::from(name),
                worth.metal.as_str().into(),
                number(worth.pieces),
                grams(worth.fine, 3),
                troy_ounces(worth.fine),
                value(worth.value),
            ]);
        }
        if group.len() > 1 {
            let pieces = group.iter().map(|worth| worth.pieces).sum();
            table.push([
                Cell::from(name),
                "all metals".into(),
                number(pieces),
                "".into(),
                "".into(),
                value(sum(group)),
            ]);
        }
    }
    table
}

fn value(value: Option<Money>) -> Cell {
    value.map_or_else(|| "no price".into(), money_cell)
}

fn doubts(view: &DayView) -> Table {
    let columns = [Column::words("doubt"), Column::numbers("of pieces"), Column::numbers("of lots")];
    let mut table = Table::new("Open doubts by kind, over the whole book", columns);
    for (kind, pieces, lots) in &view.doubts {
        table.push([Cell::from(kind.label()), number(*pieces), number(*lots)]);
    }
    table
}

fn second_tests(view: &DayView) -> Table {
    let columns = [Column::words("method"), Column::numbers("recorded")];
    let mut table = Table::new("Second tests by method", columns);
    for (method, tests) in &view.second_tests {
        table.push([Cell::from(method.label()), number(*tests)]);
    }
    table
}

/// Returns decisions as a table, in the order given.
pub(super) fn decisions(decisions: &[DecisionView], desk: FixedOffset) -> Table {
    let mut table = Table::new(
        "Decisions, newest last",
        [
            Column::words("when"),
            Column::words("piece or lot"),
            Column::words("what"),
            Column::words("why"),
            Column::words("rests on"),
            Column::words("who"),
        ],
    );
    for act in acts(decisions, desk) {
        let Some(decision) = act.first() else { continue };
        table.push([
            Cell::from(minute(decision.at, desk)),
            about(act).into(),
            decision.what.as_str().into(),
            decision.reason.as_str().into(),
            rests_on(decision).into(),
            decision.operator.as_str().into(),
        ]);
    }
    table
}

/// Keeps day and time of the first column on one line, for paper.
pub(super) fn whole_moments(table: &mut Table) {
    for row in &mut table.rows {
        if let Some(Cell::Text(moment)) = row.first_mut() {
            *moment = moment.replace(' ', "\u{A0}");
        }
    }
}

/// Says what a decision rests on; what releases and sends back settles no doubt.
fn rests_on(decision: &DecisionView) -> &'static str {
    match (decision.evidence, decision.hold) {
        (Some(_), _) => "a second test",
        (None, Some(_)) if decision.what.ends_with("on a sample") => "the sample",
        (None, Some(_)) => "the person's word",
        (None, None) => "",
    }
}

/// Returns a text with a capital letter in front.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first: String = letters.next().map_or_else(String::new, |first| first.to_uppercase().collect());
    first + letters.as_str()
}

/// Returns texts as sentences, each with a capital letter and a full stop.
pub(super) fn sentences(texts: &[&str]) -> String {
    texts.iter().map(|text| format!("{}.", capital(text))).collect::<Vec<_>>().join(" ")
}
