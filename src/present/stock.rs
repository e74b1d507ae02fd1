//! Stock in words: totals by metal, and what one piece was released on.

use super::text;
use super::tone::{Row, Tone};
use super::words::{count, minute, money_text};
use crate::desk::review_views::{StockView, Worth};
use crate::quantity::{Mass, Money, Quantity};
use chrono::FixedOffset;

/// Columns of the labels.
const LABEL: usize = 14;

/// Returns fine mass and value by metal of what may be sold; a value only where every piece has one in the same currency.
pub fn totals<'a>(stock: impl IntoIterator<Item = &'a StockView>) -> Vec<Worth> {
    let mut totals: Vec<Worth> = Vec::new();
    for piece in stock.into_iter().filter(|piece| piece.recalled.is_none()) {
        match totals.iter_mut().find(|worth| worth.metal == piece.metal) {
            Some(worth) => {
                worth.pieces += 1;
                worth.fine = Mass::from_base(worth.fine.base().saturating_add(piece.fine.base()));
                worth.value = worth.value.zip(piece.value).and_then(|(sum, value)| {
                    let amount = sum.amount.checked_add(value.amount)?;
                    (sum.currency == value.currency).then_some(Money { amount, ..sum })
                });
            }
            None => {
                totals.push(Worth { metal: piece.metal, pieces: 1, fine: piece.fine, value: piece.value })
            }
        }
    }
    totals.sort_by_key(|worth| worth.metal);
    totals
}

/// Returns the worth of a group in one line, `gold    3 pieces   93.310 g fine   7200.00 EUR`; below 62 columns without the
/// count, so that no number is cut.
pub fn worth_row(worth: &Worth, columns: usize) -> Row {
    let value = worth.value.map_or_else(|| "no price".to_owned(), money_text);
    if columns < 62 {
        return Row::of(Tone::Plain, text::pad_end(&worth.metal.to_string(), 9))
            .with(Tone::Plain, text::pad_start(&worth.fine.show(3), 12))
            .with(if worth.value.is_some() { Tone::Plain } else { Tone::Hold }, text::pad_start(&value, 15));
    }
    Row::of(Tone::Plain, text::pad_end(&worth.metal.to_string(), 12))
        .with(Tone::Plain, text::pad_start(&count(worth.pieces as usize, "piece", "pieces"), 12))
        .with(Tone::Plain, text::pad_start(&format!("{} fine", worth.fine.show(3)), 20))
        .with(if worth.value.is_some() { Tone::Plain } else { Tone::Hold }, text::pad_start(&value, 18))
}

/// Returns what is kept about a piece in stock, `columns` wide.
pub fn stock_rows(piece: &StockView, columns: usize, desk: FixedOffset) -> Vec<Row> {
    let mut rows = vec![Row::of(Tone::Strong, &piece.piece), Row::blank()];
    let room = columns.saturating_sub(LABEL).max(1);
    if let Some(why) = &piece.recalled {
        let words = format!("! has to come back: {why}");
        rows.extend(text::wrap(&words, columns).into_iter().map(|line| Row::of(Tone::Hold, line)));
        rows.push(Row::blank());
    }
    let mut add = |label: &str, words: &str| {
        for (index, line) in text::wrap(words, room).into_iter().enumerate() {
            let label = if index == 0 { label } else { "" };
            rows.push(Row::of(Tone::Quiet, text::pad_end(label, LABEL.min(columns))).with(Tone::Plain, line));
        }
    };
    add("product", &piece.product_name);
    add("source", &piece.source);
    if let Some(serial) = &piece.serial {
        add("serial", serial);
    }
    if let Some(gross) = piece.gross {
        add("gross", &gross.show(3));
    }
    add("fine", &piece.fine.show(3));
    add("value", &piece.value.map_or_else(|| "no price when it was released".to_owned(), money_text));
    if let Some(price) = piece.price {
        add("price", &format!("{} a troy ounce", money_text(price)));
    }
    add("released", &format!("{} by {}", minute(piece.released_at, desk), piece.released_by));
    rows
}
