//! Stock as a table: what may be sold, with the value it had at release.

use super::document::{Cell, Column, Table};
use crate::desk::review_views::StockView;
use crate::present::words::{minute, money_text};
use crate::quantity::{Mass, Money, Quantity};
use chrono::FixedOffset;
use rust_decimal::Decimal;

/// Decimals of the base integer of a mass, nanograms in a gram.
const NANOGRAMS: u32 = 9;

/// Returns a mass in grams with so many decimals, rounded half to even.
pub(super) fn grams(mass: Mass, decimals: u32) -> Cell {
    let mut number = Decimal::from_i128_with_scale(i128::from(mass.base()), NANOGRAMS).round_dp(decimals);
    number.rescale(decimals);
    Cell::Number(number)
}

/// Returns a mass in troy ounces with four decimals, rounded half to even.
pub(super) fn troy_ounces(mass: Mass) -> Cell {
    let ounces = Decimal::from(mass.base()) / Decimal::from(Mass::TROY_OUNCE.base());
    let mut number = ounces.round_dp(4);
    number.rescale(4);
    Cell::Number(number)
}

/// Returns an amount of money with its currency.
pub(super) fn money_cell(money: Money) -> Cell {
    Cell::Text(money_text(money))
}

/// Returns the stock list; gross mass as weighed, fine mass exact to the nanogram, value and price at release.
///
/// `desk`: the time zone in which moments are shown.
pub fn table(stock: &[StockView], desk: FixedOffset) -> Table {
    let mut table = Table::new(
        "Stock",
        [
            Column::words("piece"),
            Column::words("metal"),
            Column::words("product"),
            Column::words("product name"),
            Column::words("serial"),
            Column::words("source"),
            Column::numbers("gross mass in g"),
            Column::numbers("fine mass in g"),
            Column::numbers("value at release"),
            Column::numbers("price of 1 ozt"),
            Column::words("currency"),
            Column::words("released"),
            Column::words("released by"),
            Column::words("recalled"),
        ],
    );
    for piece in stock {
        let amount =
            |money: Option<Money>| money.map_or_else(|| "".into(), |money| Cell::Number(money.amount));
        let currency =
            piece.value.or(piece.price).map_or_else(String::new, |money| money.currency.to_string());
        table.push([
            Cell::from(piece.piece.as_str()),
            piece.metal.as_str().into(),
            piece.product.as_str().into(),
            piece.product_name.as_str().into(),
            piece.serial.as_deref().unwrap_or_default().into(),
            piece.source.as_str().into(),
            piece.gross.map_or_else(|| "".into(), exact_grams),
            exact_grams(piece.fine),
            amount(piece.value),
            amount(piece.price),
            currency.into(),
            minute(piece.released_at, desk).into(),
            piece.released_by.as_str().into(),
            piece.recalled.as_deref().unwrap_or_default().into(),
        ]);
    }
    table
}

/// Returns a mass in grams with all the digits it has.
fn exact_grams(mass: Mass) -> Cell {
    Cell::Number(Decimal::from_i128_with_scale(i128::from(mass.base()), NANOGRAMS).normalize())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::entry::parse;

    #[test]
    fn masses_are_rounded_from_what_the_book_keeps() {
        let mass = |text: &str| parse::<Mass>(text).unwrap().value;
        // NIST SP 811 App. B.8: 1 troy ounce is 31.103 476 8 g.
        assert_eq!(grams(mass("1 ozt"), 3).shown(), "31.103");
        assert_eq!(troy_ounces(mass("1 ozt")).shown(), "1.0000");
        assert_eq!(troy_ounces(mass("1 kg")).shown(), "32.1507");
        assert_eq!(exact_grams(mass("10 ozt")).shown(), "311.034768");
        // ISO 80000-1:2009 Annex B, rule A: a half goes to the even digit.
        assert_eq!(grams(mass("0.0005 g"), 3).shown(), "0.000");
        assert_eq!(grams(mass("0.0015 g"), 3).shown(), "0.002");
    }
}
