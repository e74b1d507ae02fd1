//! `scruple audit`: whether the book is what this program wrote.

use super::{Printed, json};
use crate::desk::audit::{AuditRequest, AuditView, audit};
use crate::desk::{AppError, ErrorKind, Settings};
use crate::present::audit::report;
use clap::Args;
use serde_json::{Value, json};
use std::path::Path;

/// Arguments of `scruple audit`.
#[derive(Debug, Args)]
#[command(after_help = "\
Exits with 6 when there is a fault. The last line is the head of the book: keep it elsewhere, on a printed day sheet for
instance, and give it to `--against` later; whoever writes the whole chain anew cannot keep it the same.

Examples:
  scruple audit
  scruple audit --against 5f0c9a41d2b7e8836a1f4c0d9be27a5513c8e6f7a0b94d2e1c3f5a7689b0d1e2")]
pub(super) struct AuditArgs {
    /// A hash that the chain must have passed through, as a day sheet prints it
    #[arg(long, value_name = "HASH")]
    against: Option<String>,
    /// Leave out computing the assessments again
    #[arg(long)]
    rows_only: bool,
}

pub(super) fn run(
    args: &AuditArgs,
    book: &Path,
    settings: &Settings,
    json: bool,
) -> Result<Printed, AppError> {
    let request = AuditRequest { against: args.against.clone(), rows_only: args.rows_only };
    let view = audit(book, settings, &request)?;
    let code = if view.report.fault_count() == 0 { 0 } else { ErrorKind::Damaged.exit_code() };
    let data = match json {
        true => json::document(fields(&view)),
        false => report(&view).join("\n") + "\n",
    };
    Ok(Printed { data, code })
}

fn fields(view: &AuditView) -> Value {
    let report = &view.report;
    let faults: Vec<Value> = report
        .faults
        .iter()
        .map(|fault| {
            json!({
                "table": fault.table, "row": fault.row, "wrong": fault.wrong, "written_by": fault.written_by,
            })
        })
        .collect();
    let tables: serde_json::Map<String, Value> =
        report.tables.iter().map(|(name, rows)| (name.clone(), json!(rows))).collect();
    let again = view.recomputed.as_ref().map(|again| {
        let reasons: Vec<Value> = again
            .not_possible
            .iter()
            .map(|(reason, count, first)| json!({ "reason": reason, "count": count, "first": first }))
            .collect();
        json!({ "same": again.same, "older_engine": again.older_engine, "not_possible": reasons })
    });
    let passed = view
        .passed
        .as_ref()
        .map(|passed| json!({ "journal": passed.journal, "seal": passed.seal, "at": json::time(passed.at) }));
    json!({
        "clean": report.fault_count() == 0,
        "fault_count": report.fault_count(),
        "faults": faults,
        "tables": tables,
        "journal_rows": report.journal_rows,
        "seals": report.seals,
        "assessments": again,
        "passed": passed,
        "head": report.head,
    })
}
