//! `scruple holding`: until when a shipment is held for its source.

use super::{Printed, json};
use crate::desk::{AppError, Desk, HoldingView};
use clap::Args;
use serde_json::{Value, json};

/// Arguments of `scruple holding`.
#[derive(Debug, Args)]
#[command(after_help = "\
Local law decides how long; the kinds and their days stand in the policy under `[review.holding_days]`.

Examples:
  scruple holding S-0001
  scruple holding S-0001 --kind private --json")]
pub(super) struct HoldingArgs {
    /// Number of the shipment
    #[arg(value_name = "SHIPMENT")]
    shipment: String,
    /// Say what kind of source sent it
    #[arg(long, value_name = "KIND")]
    kind: Option<String>,
}

pub(super) fn run(args: &HoldingArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    let holding = match &args.kind {
        Some(kind) => Some(desk.set_source_kind(&args.shipment, kind)?),
        None => desk.holding(&args.shipment)?,
    };
    if json {
        return Ok(Printed::done(json::document(json!({ "holding": holding.as_ref().map(value) }))));
    }
    Ok(Printed::done(match holding {
        None => format!("shipment {} has no holding period\n", args.shipment.trim()),
        Some(held) => format!(
            "shipment {}: source `{}`, {} until {}\n",
            held.shipment,
            held.source_kind,
            if held.is_over { "was held" } else { "nothing is released" },
            held.until.format("%Y-%m-%d %H:%M UTC")
        ),
    }))
}

fn value(held: &HoldingView) -> Value {
    json!({
        "shipment": held.shipment,
        "source_kind": held.source_kind,
        "until": json::time(held.until),
        "is_over": held.is_over,
    })
}
