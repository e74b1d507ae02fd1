//! A list of prices of the metals, one row a metal.
//!
//! Columns: `metal`, `price` of a troy ounce, and optional `currency` (else the one given). What it must never do: take a list
//! in part.

use super::row_error::RowError;
use super::sheet::{Row, column_name, read as read_sheet};
use crate::quantity::{Currency, Money};
use crate::reference::Metal;

/// The metals that have a price.
const METALS: &str = "`gold`, `silver`, `platinum` or `palladium`";

/// Reads a list of prices; amounts without a currency are in the one given, and every amount has to be in it.
///
/// # Errors
/// Every bad cell: an unknown or repeated metal, an amount that is not above zero, another currency, a missing column.
pub fn read(text: &str, currency: Currency) -> Result<Vec<(Metal, Money)>, Vec<RowError>> {
    let sheet = read_sheet(text).map_err(|error| vec![error])?;
    let mut bad = sheet.surplus();
    let names: Vec<String> = sheet.header.cells.iter().map(|cell| column_name(cell)).collect();
    let place = |name: &str| names.iter().position(|known| known == name);
    let (metal, price) = (place("metal"), place("price"));
    for (name, found) in [("metal", metal), ("price", price)] {
        if found.is_none() {
            bad.push(RowError::new(sheet.header.line, name, "", format!("a column `{name}`")));
        }
    }
    let (Some(metal), Some(price)) = (metal, price) else { return Err(bad) };
    let stated = place("currency");
    let mut prices: Vec<(Metal, Money)> = Vec::new();
    for row in &sheet.rows {
        let cell = |place: usize| row.cells.get(place).map_or("", |cell| cell.trim());
        match (metal_of(row, cell(metal), &prices), price_of(row, cell(price), stated.map(cell), currency)) {
            (Ok(metal), Ok(price)) => prices.push((metal, price)),
            (metal, price) => bad.extend(metal.err().into_iter().chain(price.err())),
        }
    }
    if bad.is_empty() { Ok(prices) } else { Err(bad) }
}

fn metal_of(row: &Row, text: &str, known: &[(Metal, Money)]) -> Result<Metal, RowError> {
    let named = Metal::from_word(&text.to_lowercase()).filter(|metal| *metal != Metal::Other);
    let metal = named.ok_or_else(|| RowError::new(row.line, "metal", text, METALS))?;
    if known.iter().any(|(other, _)| *other == metal) {
        return Err(RowError::new(row.line, "metal", text, "each metal once"));
    }
    Ok(metal)
}

fn price_of(row: &Row, text: &str, stated: Option<&str>, currency: Currency) -> Result<Money, RowError> {
    let stated = stated.filter(|stated| !stated.is_empty());
    let whole = stated.map_or_else(|| text.to_owned(), |stated| format!("{text} {stated}"));
    let price = Money::parse(&whole, currency)
        .map_err(|error| RowError::of_money(row.line, "price", &whole, &error))?;
    if price.currency != currency {
        return Err(RowError::new(
            row.line,
            "currency",
            &whole,
            format!("`{currency}`, the currency of the policy"),
        ));
    }
    if price.amount.is_sign_negative() || price.amount.is_zero() {
        return Err(RowError::new(row.line, "price", &whole, format!("an amount above 0 {currency}")));
    }
    Ok(price)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn euro() -> Currency {
        Currency::parse("EUR").unwrap()
    }

    #[test]
    fn prices_are_read_with_decimal_commas_and_a_currency_of_their_own() {
        let list = "metal;price;currency\ngold;2400,50;EUR\nSilver;29,50;\n";
        let told: Vec<String> =
            read(list, euro()).unwrap().iter().map(|(metal, price)| format!("{metal} {price}")).collect();
        assert_eq!(told, ["gold 2400.50 EUR", "silver 29.50 EUR"]);
    }

    #[test]
    fn every_bad_cell_is_named_and_nothing_is_taken() {
        let list = "metal,price,currency\ngold,2400,USD\ntin,5,EUR\nsilver,0,EUR\nplatinum,1e3,\nsilver,30,\ngold,1,\n";
        let bad = read(list, euro()).unwrap_err();
        let rows: Vec<(usize, &str)> = bad.iter().map(|error| (error.row, error.column.as_str())).collect();
        assert_eq!(rows, [(2, "currency"), (3, "metal"), (4, "price"), (5, "price")]);
        assert!(bad[1].allowed.contains("`platinum`"), "{bad:?}");
        assert_eq!(read("metal,price\n", euro()), Ok(Vec::new()));
        assert_eq!(read("metal\ngold\n", euro()).unwrap_err()[0].column, "price");
    }

    #[test]
    fn a_metal_stands_once() {
        let bad = read("metal,price\ngold,1\ngold,2\n", euro()).unwrap_err();
        assert_eq!((bad[0].row, bad[0].column.as_str()), (3, "metal"));
    }
}
