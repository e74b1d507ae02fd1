//! `scruple stock`: what may be sold.

use super::output::{Wanted, said};
use super::{Printed, json, review_json};
use crate::desk::review_views::{StockFilter, StockView};
use crate::desk::{AppError, Desk};
use crate::present::table::{Align, Table};
use crate::present::words::{count, money_text};
use crate::quantity::{Mass, Money, Quantity};
use crate::reference::Metal;
use crate::report::stock_sheet;
use chrono::{Local, Offset};
use clap::Args;
use serde_json::json;
use std::path::PathBuf;

/// Arguments of `scruple stock`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple stock --metal gold
  scruple stock --text moonpond --csv -")]
pub(super) struct StockArgs {
    /// Only gold, silver, platinum or palladium
    #[arg(long)]
    metal: Option<String>,
    /// Only pieces with this text in number, product, source or serial
    #[arg(long, value_name = "TEXT")]
    text: Option<String>,
    /// Write the list as CSV into a new file; `-` for standard output
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write the list as a workbook into a new file
    #[arg(long, value_name = "FILE")]
    xlsx: Option<PathBuf>,
}

pub(super) fn run(args: &StockArgs, desk: &Desk, json: bool) -> Result<Printed, AppError> {
    let metal = args.metal.as_deref().map(metal_named).transpose()?;
    let wanted = Wanted { csv: args.csv.as_deref(), xlsx: args.xlsx.as_deref(), ..Wanted::default() };
    wanted.check()?;
    let stock = desk.stock(&StockFilter { metal, text: args.text.clone() })?;
    let now = Local::now();
    let tables = [("stock", stock_sheet::table(&stock, now.offset().fix()))];
    let written = wanted.tables(&tables, now.date_naive())?;
    if wanted.any() && !json {
        return Ok(Printed::done(said(&written)));
    }
    if json {
        let stock: Vec<_> = stock.iter().map(review_json::stock).collect();
        return Ok(Printed::done(json::document(json!({ "stock": stock }))));
    }
    Ok(Printed::done(text(&stock)))
}

fn metal_named(text: &str) -> Result<Metal, AppError> {
    Metal::from_word(text).filter(|metal| *metal != Metal::Other).ok_or_else(|| {
        let found = crate::present::text::clean(text);
        let message = format!("metal `{found}` is not one of `gold`, `silver`, `platinum`, `palladium`");
        AppError::usage(message, Vec::new())
    })
}

/// Returns stock as text: a line a piece, then a line a metal.
pub(super) fn text(stock: &[StockView]) -> String {
    if stock.is_empty() {
        return "nothing is in stock\n".to_owned();
    }
    let mut table = Table::new(&[
        ("piece", Align::Left),
        ("serial", Align::Left),
        ("fine g", Align::Right),
        ("value", Align::Right),
        ("product", Align::Left),
    ]);
    for piece in stock {
        table.row([
            piece.piece.as_str(),
            piece.serial.as_deref().unwrap_or("-"),
            &piece.fine.digits_in(&Mass::UNITS[0], 3),
            &piece.value.map_or_else(|| "no price".to_owned(), money_text),
            &match piece.recalled {
                Some(_) => format!("{}, recalled", piece.product),
                None => piece.product.to_string(),
            },
        ]);
    }
    let mut text = table.text() + "\n";
    for metal in [Metal::Gold, Metal::Silver, Metal::Platinum, Metal::Palladium, Metal::Other] {
        let sellable = |piece: &&StockView| piece.metal == metal && piece.recalled.is_none();
        let of_metal: Vec<&StockView> = stock.iter().filter(sellable).collect();
        if of_metal.is_empty() {
            continue;
        }
        let fine: Mass = of_metal.iter().map(|piece| piece.fine).sum();
        let pieces = count(of_metal.len(), "piece", "pieces");
        let value = sum(&of_metal).map_or_else(|| "without a price in part".to_owned(), money_text);
        let fine = fine.digits_in(&Mass::UNITS[0], 3);
        text.push_str(&format!("{}: {pieces}, {fine} g fine, {value}\n", metal.as_str()));
    }
    let away = stock.iter().filter(|piece| piece.recalled.is_some()).count();
    if away > 0 {
        let have = count(away, "piece has", "pieces have");
        text.push_str(&format!("{have} to come back: `scruple recall` says why\n"));
    }
    text
}

/// Returns the value at release of pieces together; `None` where one has none, or the currencies differ.
fn sum(stock: &[&StockView]) -> Option<Money> {
    let values: Vec<Money> = stock.iter().map(|piece| piece.value).collect::<Option<_>>()?;
    let currency = values.first()?.currency;
    let same = values.iter().all(|value| value.currency == currency);
    same.then(|| Money { amount: values.iter().map(|value| value.amount).sum(), currency })
}
