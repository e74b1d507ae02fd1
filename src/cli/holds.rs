//! `scruple holds`: open doubts, the most money at risk first.

use super::{Printed, json};
use crate::desk::{AppError, Desk, HoldView, LotView};
use crate::present::table::{Align, Table};
use crate::present::words::count;
use crate::scoring::Power;
use clap::Args;
use serde_json::json;

/// Arguments of `scruple holds`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple holds
  scruple holds --json --check")]
pub(super) struct HoldsArgs {
    /// Exit with 3 when something is on hold or refused
    #[arg(long)]
    check: bool,
}

pub(super) fn run(args: &HoldsArgs, desk: &Desk, json: bool) -> Result<Printed, AppError> {
    let holds = desk.holds()?;
    let short = desk.short_counts()?;
    let open = !holds.is_empty();
    if json {
        let fields = json!({
            "holds": holds.iter().map(json::hold).collect::<Vec<_>>(),
            "short_counts": short.iter().map(|lot| json!({
                "lot": lot.number,
                "product": lot.product.as_str(),
                "expected": lot.expected,
                "logged": lot.logged,
                "serials_open": lot.serials_open,
            })).collect::<Vec<_>>(),
        });
        return Ok(Printed::checked(json::document(fields), args.check, open));
    }
    Ok(Printed::checked(text(&holds, &short), args.check, open))
}

fn text(holds: &[HoldView], short: &[LotView]) -> String {
    let mut text = String::new();
    if holds.is_empty() {
        text.push_str("nothing is on hold\n");
    } else {
        let mut table = Table::new(&[
            ("lot or piece", Align::Left),
            ("standing", Align::Left),
            ("at risk", Align::Right),
            ("doubt", Align::Left),
            ("settled by", Align::Left),
            ("why", Align::Left),
        ]);
        for hold in holds {
            let methods: Vec<&str> =
                hold.offers.iter().filter(|o| o.power == Power::Settles).map(|o| o.method.label()).collect();
            let settled_by = if methods.is_empty() { "nothing alone".to_owned() } else { methods.join(", ") };
            table.row([
                hold.piece.as_deref().unwrap_or(&hold.lot),
                hold.standing.word(),
                &hold.at_risk.map_or_else(|| "no price".to_owned(), |money| money.to_string()),
                hold.kind.label(),
                &settled_by,
                &hold.text,
            ]);
        }
        text.push_str(&table.text());
        text.push_str(&format!("\n{} open\n", count(holds.len(), "doubt", "doubts")));
    }
    if !short.is_empty() {
        let mut table = Table::new(&[
            ("short count", Align::Left),
            ("logged", Align::Right),
            ("of", Align::Right),
            ("product", Align::Left),
        ]);
        for lot in short {
            let product = format!("{} ({})", lot.product, lot.product_name);
            table.row([lot.number.as_str(), &lot.logged.to_string(), &lot.expected.to_string(), &product]);
        }
        text.push('\n');
        text.push_str(&table.text());
    }
    text
}
