//! `scruple journal verify`: the chain of the journal walked.

use super::{Printed, json};
use crate::desk::{AppError, Desk, ErrorKind};
use clap::{Args, Subcommand};
use serde_json::json;

/// Arguments of `scruple journal`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple journal verify
  scruple journal verify --json")]
pub(super) struct JournalArgs {
    #[command(subcommand)]
    act: JournalAct,
}

#[derive(Debug, Subcommand)]
enum JournalAct {
    /// Recompute every hash; exit with 6 when a row was altered, removed or put in
    #[command(after_help = "\
Examples:
  scruple journal verify
  scruple journal verify --book day.book --json")]
    Verify,
}

pub(super) fn run(args: &JournalArgs, desk: &Desk, json: bool) -> Result<Printed, AppError> {
    let JournalAct::Verify = args.act;
    let report = desk.verify_journal()?;
    let damaged = ErrorKind::Damaged.exit_code();
    let code = if report.faults.is_empty() { 0 } else { damaged };
    if json {
        let faults: Vec<_> = report
            .faults
            .iter()
            .map(|fault| json!({ "sequence": fault.sequence, "finding": fault.finding }))
            .collect();
        let data = json::document(json!({ "rows": report.rows, "head": report.head, "faults": faults }));
        return Ok(Printed { data, code });
    }
    let mut data = String::new();
    for fault in &report.faults {
        data.push_str(&format!("row {}: {}\n", fault.sequence, fault.finding));
    }
    let verdict = match report.faults.len() {
        0 => "the chain is unbroken".to_owned(),
        1 => "1 fault".to_owned(),
        more => format!("{more} faults"),
    };
    data.push_str(&format!("{} rows, {verdict}, head {}\n", report.rows, report.head));
    Ok(Printed { data, code })
}
