//! `scruple capability`: what the instruments would do to good pieces of a product.

use super::reach::About;
use super::{Printed, json};
use crate::desk::capability::{CapabilityRequest, capability_of};
use crate::desk::{AppError, Settings};
use crate::present::{capability_json, capability_text};
use crate::scoring::Standards;
use clap::Args;
use serde_json::{Value, json};

/// Arguments of `scruple capability`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple capability us-5112-e --price 30
  scruple capability bar-gold-9999-1kg --probe deep --pieces 200 --spots 3 --json")]
pub(super) struct CapabilityArgs {
    #[command(flatten)]
    about: About,
    /// Good pieces to simulate
    #[arg(long, value_name = "N", default_value_t = 1000, value_parser = clap::value_parser!(u32).range(1..=100_000))]
    pieces: u32,
    /// Spots of conductivity on each piece
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=20))]
    spots: u32,
    /// Where the random draws start; the same seed gives the same numbers
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
}

/// Simulates good pieces.
pub(super) fn run(args: &CapabilityArgs, settings: &Settings, json: bool) -> Result<Printed, AppError> {
    let request = CapabilityRequest {
        about: args.about.request(None),
        pieces: args.pieces,
        spots: args.spots,
        seed: args.seed,
    };
    let standards = Standards::default();
    let view =
        capability_of(&request, &settings.catalogue, &settings.instruments, &settings.policy, &standards)?;
    if json {
        let cases: Vec<Value> = view
            .cases
            .iter()
            .map(|(name, capability)| json!({ "case": name, "result": capability_json::capability(capability) }))
            .collect();
        let fields =
            json!({ "product": args.about.product, "product_name": view.product_name, "cases": cases });
        return Ok(Printed::done(json::document(fields)));
    }
    Ok(Printed::done(capability_text::account(&view.cases, &view.product_name)))
}
