//! The findings of an audit in words.

use super::text::clean;
use crate::desk::audit::AuditView;
use crate::store::{AuditFault, Passed};

/// Returns one fault as a line.
pub fn fault(fault: &AuditFault) -> String {
    let written = fault.written_by.as_ref().map(|act| format!("; written last by {act}")).unwrap_or_default();
    clean(&format!("{}: {}: {}{written}", fault.table, fault.row, fault.wrong))
}

/// Returns where the chain passed through a hash.
pub fn passed(passed: &Passed) -> String {
    let at = passed.at.format("%Y-%m-%d %H:%M:%S UTC");
    match passed.seal {
        Some(seal) => {
            format!("the chain passed through it at seal {seal}, row {} of the journal, {at}", passed.journal)
        }
        None => format!("the chain passed through it at row {} of the journal, {at}", passed.journal),
    }
}

/// Returns the whole report, faults first, as lines.
pub fn report(view: &AuditView) -> Vec<String> {
    let report = &view.report;
    let mut lines: Vec<String> = report.faults.iter().map(fault).collect();
    if report.more > 0 {
        lines.push(format!("and {} more faults", report.more));
    }
    let rows: u64 = report.tables.iter().map(|(_, rows)| rows).sum();
    lines.push(format!(
        "{rows} rows in {} tables compared, {} rows of the journal and {} seals walked",
        report.tables.len(),
        report.journal_rows,
        report.seals
    ));
    match &view.recomputed {
        None => lines.push("assessments: not computed again, as asked".to_owned()),
        Some(again) => {
            lines.push(format!("assessments: {} computed again, the same to the last digit", again.same));
            if again.older_engine > 0 {
                lines.push(format!(
                    "assessments: {} made by an older engine: sealed, not computed again",
                    again.older_engine
                ));
            }
            for (reason, count, first) in &again.not_possible {
                lines.push(clean(&format!(
                    "assessments: {count} could not be computed again: {reason}; the first is the {first}"
                )));
            }
        }
    }
    lines.extend(view.passed.as_ref().map(passed));
    let verdict = match report.fault_count() {
        0 => "no fault".to_owned(),
        1 => "1 fault".to_owned(),
        more => format!("{more} faults"),
    };
    lines.push(format!("{verdict}, head {}", report.head));
    lines
}
