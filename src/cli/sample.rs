//! `scruple sample`: a random sample of a lot, and doubts settled on it.

use super::settle::doubt_kind;
use super::{Printed, input, json, review_json};
use crate::desk::review_views::SampleView;
use crate::desk::{AppError, Desk, LotView};
use crate::present::text::{pad_end, wrap};
use crate::present::words::{count, standing_text};
use clap::Args;
use serde_json::json;

/// Arguments of `scruple sample`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple sample S-0001/4
  scruple sample S-0001/4 --settle hidden-core --reason 'all pieces of the sample agree'")]
pub(super) struct SampleArgs {
    /// Number of the lot, such as S-0001/4; its sample is shown, or drawn when it has none
    #[arg(value_name = "LOT")]
    lot: String,
    /// Draw with this seed; with it anyone draws the same pieces again
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Settle this kind of doubt for the whole lot on its sample
    #[arg(long, value_name = "KIND", requires = "reason", conflicts_with = "seed")]
    settle: Option<String>,
    /// Why it is settled
    #[arg(long, value_name = "TEXT", requires = "settle")]
    reason: Option<String>,
    /// Read your PIN from the first line of standard input
    #[arg(long, requires = "settle")]
    pin_stdin: bool,
}

pub(super) fn run(args: &SampleArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    if let (Some(kind), Some(reason)) = (&args.settle, &args.reason) {
        let kind = doubt_kind(kind)?;
        let pin = input::pin(args.pin_stdin)?;
        let lot = desk.settle_on_sample(&args.lot, kind, reason, pin.as_deref())?;
        if json {
            let fields = json!({ "settled": kind.word(), "reason": reason, "lot": json::lot(&lot) });
            return Ok(Printed::done(json::document(fields)));
        }
        let standing = lot.standing.map_or_else(String::new, standing_text);
        let text = format!(
            "settled {} of lot {} on its sample\n{}  {standing}, {} clear, {} on hold, {} to refuse, {} open\n",
            kind.label(),
            lot.number,
            lot.number,
            lot.clear,
            lot.hold,
            lot.refuse,
            count(lot.lot_doubts as usize, "doubt of the lot", "doubts of the lot")
        );
        return Ok(Printed::done(text));
    }
    let lot = lot_named(desk, &args.lot)?;
    let mut samples = desk.samples(lot.id)?;
    let drawn = samples.is_empty() || args.seed.is_some();
    if drawn {
        samples = vec![desk.draw_sample(&lot.number, args.seed)?];
    }
    if json {
        let samples: Vec<_> = samples.iter().map(review_json::sample).collect();
        let fields = json!({ "lot": lot.number, "drawn_now": drawn, "samples": samples });
        return Ok(Printed::done(json::document(fields)));
    }
    let texts: Vec<String> = samples.iter().map(text).collect();
    Ok(Printed::done(texts.join("\n")))
}

/// Returns the lot with a number such as `S-0001/4`.
fn lot_named(desk: &Desk, number: &str) -> Result<LotView, AppError> {
    let number = number.trim();
    let Some((shipment, _)) = number.split_once('/') else {
        let message =
            format!("lot `{}` is not a number such as `S-0012/3`", crate::present::text::clean(number));
        return Err(AppError::usage(message, Vec::new()));
    };
    let lots = desk.shipment(shipment)?.lots;
    let found = lots.into_iter().find(|lot| lot.number.eq_ignore_ascii_case(number));
    found.ok_or_else(|| {
        AppError::failed(format!("lot `{}` is not in the book", crate::present::text::clean(number)))
    })
}

fn text(sample: &SampleView) -> String {
    let untested = sample.pieces.len() as u32 - sample.agreed.min(sample.pieces.len() as u32);
    let untested = untested.saturating_sub(sample.disagreed);
    let mut text =
        format!("{}  {} of {} pieces, seed {}\n", sample.lot, sample.pieces.len(), sample.of, sample.seed);
    let mut labelled = |label: &str, words: &str| {
        for (index, line) in wrap(words, 68).into_iter().enumerate() {
            let label = if index == 0 { label } else { "" };
            text.push_str(&format!("{}{line}\n", pad_end(label, 12)));
        }
    };
    labelled("test these", &sample.pieces.join(" "));
    let counts = format!("{} agreed, {} disagreed, {untested} to be tested", sample.agreed, sample.disagreed);
    labelled("so far", &counts);
    labelled("bound", &sample.bound);
    text
}
