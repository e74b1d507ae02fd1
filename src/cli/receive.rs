//! `scruple receive`: a shipment by its packing list.

use super::{Printed, input, json, shipments};
use crate::desk::{AppError, Desk};
use crate::present::words::count;
use clap::Args;
use serde_json::json;
use std::path::PathBuf;

/// Arguments of `scruple receive`.
#[derive(Debug, Args)]
#[command(after_help = "\
Columns: line, product, quantity; and optional declared_mass, declared_fineness, unit_cost, currency, serials.

Examples:
  scruple receive list.csv --source 'Moonpond Bullion'
  scruple receive - --source 'Three Geese Estates' --dry-run --json < list.csv")]
pub(super) struct ReceiveArgs {
    /// The packing list, CSV; `-` for standard input
    #[arg(value_name = "LIST.csv")]
    list: PathBuf,
    /// Who sent the shipment
    #[arg(long, value_name = "NAME")]
    source: String,
    /// Check everything and write nothing
    #[arg(long)]
    dry_run: bool,
}

pub(super) fn run(args: &ReceiveArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    let list = input::read(&args.list)?;
    let shipment = desk.receive(&args.source, &list.name, &list.text, args.dry_run)?;
    if json {
        let fields = json!({ "dry_run": args.dry_run, "shipment": json::shipment(&shipment) });
        return Ok(Printed::done(json::document(fields)));
    }
    let pieces: u64 = shipment.lots.iter().map(|lot| u64::from(lot.expected)).sum();
    let lots = count(shipment.lots.len(), "lot", "lots");
    let verb = if args.dry_run { "would receive" } else { "received" };
    let pieces = count(usize::try_from(pieces).unwrap_or(usize::MAX), "piece", "pieces");
    let summary = format!("{verb} {}: {lots}, {pieces} announced\n\n", shipment.number);
    Ok(Printed::done(summary + &shipments::text(&shipment)))
}
