//! `scruple price`: what a troy ounce of a metal costs.

use super::{Printed, input, json};
use crate::desk::{AppError, Desk};
use crate::present::table::{Align, Table};
use crate::quantity::Money;
use crate::reference::Metal;
use clap::Args;
use serde_json::json;
use std::path::PathBuf;

/// Arguments of `scruple price`.
#[derive(Debug, Args)]
#[command(after_help = "\
A list has the columns metal and price, and optional currency.

Examples:
  scruple price gold 2400
  scruple price --import prices.csv --json")]
pub(super) struct PriceArgs {
    /// gold, silver, platinum or palladium; without it the prices are listed
    #[arg(requires = "per_ozt")]
    metal: Option<String>,
    /// Price of a troy ounce of the fine metal, in the currency of the policy
    #[arg(value_name = "PER_OZT", allow_hyphen_values = true)]
    per_ozt: Option<String>,
    /// Enter the prices of a list, CSV; `-` for standard input
    #[arg(long, value_name = "PRICES.csv", conflicts_with = "metal")]
    import: Option<PathBuf>,
}

pub(super) fn run(args: &PriceArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    if let (Some(metal), Some(per_ozt)) = (&args.metal, &args.per_ozt) {
        let named = Metal::from_word(metal).filter(|metal| *metal != Metal::Other).ok_or_else(|| {
            AppError::usage(
                format!("metal `{metal}` is not one of `gold`, `silver`, `platinum`, `palladium`"),
                Vec::new(),
            )
        })?;
        let price = Money::parse(per_ozt, desk.policy().currency)
            .map_err(|error| AppError::usage(error.to_string(), Vec::new()))?;
        desk.set_price(named, price)?;
    }
    if let Some(list) = &args.import {
        let list = input::read(list)?;
        desk.import_prices(&list.name, &list.text)?;
    }
    let prices = desk.prices()?;
    if json {
        let prices: Vec<_> = prices
            .iter()
            .map(|price| {
                json!({
                    "metal": price.metal.as_str(),
                    "per_troy_ounce": json::money(price.per_troy_ounce),
                    "at": json::time(price.at),
                })
            })
            .collect();
        return Ok(Printed::done(json::document(json!({ "prices": prices }))));
    }
    if prices.is_empty() {
        return Ok(Printed::done("no price is known\n".to_owned()));
    }
    let mut table =
        Table::new(&[("metal", Align::Left), ("per troy ounce", Align::Right), ("entered", Align::Left)]);
    for price in prices {
        let at = price.at.format("%Y-%m-%d %H:%M UTC").to_string();
        table.row([price.metal.as_str(), &price.per_troy_ounce.to_string(), &at]);
    }
    Ok(Printed::done(table.text()))
}
