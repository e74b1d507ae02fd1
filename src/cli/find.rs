//! `scruple find`: shipments, lots, pieces and expected serials by what one remembers of them.

use super::{Printed, json};
use crate::desk::{AppError, Desk, Hit};
use crate::present::table::{Align, Table};
use clap::Args;
use serde_json::{Value, json};

/// Arguments of `scruple find`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple find 4711
  scruple find 'geese' --limit 5 --json")]
pub(super) struct FindArgs {
    /// Start of a number or a serial, the last four or more characters of a serial, or words of a source or a product
    text: String,
    /// Most rows
    #[arg(long, value_name = "N", default_value_t = 30)]
    limit: usize,
}

pub(super) fn run(args: &FindArgs, desk: &Desk, json: bool) -> Result<Printed, AppError> {
    let hits = desk.search(&args.text, args.limit)?;
    if json {
        let hits: Vec<Value> = hits.iter().map(hit_json).collect();
        return Ok(Printed::done(json::document(json!({ "text": args.text, "hits": hits }))));
    }
    let mut table = Table::new(&[
        ("number", Align::Left),
        ("is", Align::Left),
        ("serial", Align::Left),
        ("standing", Align::Left),
        ("where", Align::Left),
        ("what", Align::Left),
    ]);
    for hit in &hits {
        table.row([
            hit.number.as_str(),
            hit.kind.word(),
            hit.serial.as_deref().unwrap_or("-"),
            hit.standing.map_or("-", |standing| standing.word()),
            &hit.place,
            &hit.what,
        ]);
    }
    if table.is_empty() {
        return Err(AppError::failed(format!("nothing in the book fits `{}`", args.text)).with_hint(
            "it may be the start of a number or a serial, the last four characters of a serial, or a word of a source or a product",
        ));
    }
    Ok(Printed::done(table.text()))
}

fn hit_json(hit: &Hit) -> Value {
    json!({
        "kind": hit.kind.word(),
        "number": hit.number,
        "serial": hit.serial,
        "what": hit.what,
        "standing": hit.standing.map(|standing| standing.word()),
        "where": hit.place,
        "exact": hit.exact,
        "at": json::time(hit.at),
    })
}
