//! `scruple shipments`: shipments and their lots.

use super::{Printed, json};
use crate::desk::{AppError, Desk, LotView, ShipmentView};
use crate::present::table::{Align, Table};
use crate::present::text::clean;
use clap::Args;
use serde_json::json;

/// Arguments of `scruple shipments`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple shipments
  scruple shipments S-0001 --json")]
pub(super) struct ShipmentsArgs {
    /// Only the shipment with this number
    #[arg(value_name = "SHIPMENT")]
    number: Option<String>,
}

pub(super) fn run(args: &ShipmentsArgs, desk: &Desk, json: bool) -> Result<Printed, AppError> {
    let shipments = match &args.number {
        Some(number) => vec![desk.shipment(number)?],
        None => desk.shipments()?,
    };
    if json {
        let shipments: Vec<_> = shipments.iter().map(json::shipment).collect();
        return Ok(Printed::done(json::document(json!({ "shipments": shipments }))));
    }
    let texts: Vec<String> = shipments.iter().map(text).collect();
    Ok(Printed::done(texts.join("\n")))
}

/// Returns a shipment as text: a line about it, then its lots.
pub(super) fn text(shipment: &ShipmentView) -> String {
    let day = shipment.received_at.format("%Y-%m-%d %H:%M UTC");
    format!("{}  {}  {day}\n{}", shipment.number, clean(&shipment.source), lots_text(&shipment.lots))
}

/// Returns lots as a table; nothing without any.
pub(super) fn lots_text(lots: &[LotView]) -> String {
    let mut table = Table::new(&[
        ("lot", Align::Left),
        ("logged", Align::Right),
        ("of", Align::Right),
        ("clear", Align::Right),
        ("hold", Align::Right),
        ("refuse", Align::Right),
        ("standing", Align::Left),
        ("product", Align::Left),
    ]);
    for lot in lots {
        table.row([
            lot.number.as_str(),
            &lot.logged.to_string(),
            &lot.expected.to_string(),
            &lot.clear.to_string(),
            &lot.hold.to_string(),
            &lot.refuse.to_string(),
            lot.standing.map_or("-", |standing| standing.word()),
            &format!("{} ({})", lot.product, lot.product_name),
        ]);
    }
    if table.is_empty() { String::new() } else { table.text() }
}
