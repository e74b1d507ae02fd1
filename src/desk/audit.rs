//! The audit of a book: whether it is what this program wrote, and whether each assessment follows from its readings.

use super::config::Settings;
use super::recompute::Recomputer;
use super::{AppError, ErrorKind};
use crate::store::{AuditFault, AuditReport, Passed, Store};
use std::path::Path;

/// What an audit looks at.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct AuditRequest {
    /// A hash that the chain must have passed through.
    pub against: Option<String>,
    /// Leaves out computing the assessments again.
    pub rows_only: bool,
}

/// The assessments computed again.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Recomputed {
    /// Computed again, the same to the last digit.
    pub same: u64,
    /// Made by an older engine: their rows are sealed, what they say is not computed again.
    pub older_engine: u64,
    /// Not computed again, by the reason why: how many, and the first of them.
    pub not_possible: Vec<(String, u64, String)>,
}

/// What an audit found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AuditView {
    /// Rows, journal and seals, and every fault.
    pub report: AuditReport,
    /// The assessments; `None` when they were left out.
    pub recomputed: Option<Recomputed>,
    /// Where the chain passed through the hash that was asked for.
    pub passed: Option<Passed>,
}

/// Audits a book; nothing of it is changed.
///
/// # Errors
/// When the file is not a book, is of another version or cannot be read, and `Usage` for a hash that is none; what is wrong
/// with the book is no error but a list of faults.
pub fn audit(book: &Path, settings: &Settings, request: &AuditRequest) -> Result<AuditView, AppError> {
    if let Some(hash) = &request.against {
        check_hash(hash)?;
    }
    let store = Store::open_to_read_watched(book, settings.progress.clone())?;
    let _look = store.look()?;
    let reader = store.read();
    let mut report = reader.audit(&settings.progress)?;
    let mut passed = None;
    if let Some(hash) = &request.against {
        passed = reader.passed(hash)?;
        if passed.is_none() {
            report.add(AuditFault {
                table: "seal".to_owned(),
                row: format!("hash {hash}"),
                wrong: "the chain never passed through it: another book, or one written anew".to_owned(),
                written_by: None,
            });
        }
    }
    let recomputed = match request.rows_only {
        true => None,
        false => Some(Recomputer::new(reader, &settings.catalogue)?.every(&mut report, &settings.progress)?),
    };
    Ok(AuditView { report, recomputed, passed })
}

/// Refuses what is not a SHA-256 in hexadecimal digits.
fn check_hash(hash: &str) -> Result<(), AppError> {
    let hash = hash.trim();
    if hash.len() == 64 && hash.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        return Ok(());
    }
    let found = crate::quantity::entry::clean(hash);
    let message =
        format!("hash `{found}` is not 64 hexadecimal digits, as day sheets print the head of the book");
    Err(AppError::new(ErrorKind::Usage, message))
}
