//! `scruple backup` and `scruple restore`.

use super::{Printed, json};
use crate::desk::backups::{BackupView, restore};
use crate::desk::{AppError, Desk, Settings};
use crate::present::text::clean;
use crate::present::words::count;
use chrono::Utc;
use clap::Args;
use serde_json::json;
use std::path::PathBuf;

/// Arguments of `scruple backup`.
#[derive(Debug, Args)]
#[command(after_help = "\
Without a file the backup goes to the folder `backups` beside the book, and the newest are kept there. The screens do the same
once a day when they close. A file that the program did not make is never deleted.

Examples:
  scruple backup
  scruple backup /media/stick/monday.book")]
pub(super) struct BackupArgs {
    /// Where to [else a dated name in `backups` beside the book]
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
    /// How many are kept in `backups` from now on [14 while nobody says otherwise]
    #[arg(long, value_name = "N", conflicts_with = "file")]
    keep: Option<u32>,
}

/// Arguments of `scruple restore`.
#[derive(Debug, Args)]
#[command(after_help = "\
The backup is audited first and stays as it is.

Examples:
  scruple restore backups/scruple-2031-03-14-180211.book --to recovered.book
  scruple restore backups/scruple-2031-03-14-180211.book --to scruple.book --overwrite scruple.book")]
pub(super) struct RestoreArgs {
    /// The backup
    #[arg(value_name = "BACKUP")]
    backup: PathBuf,
    /// Where the book is to stand
    #[arg(long, value_name = "FILE")]
    to: PathBuf,
    /// The file name of the book that stands there, typed again: it is kept under a dated name
    #[arg(long, value_name = "NAME")]
    overwrite: Option<String>,
}

pub(super) fn run(args: &BackupArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    let made = desk.backup(args.file.as_deref(), args.keep)?;
    if json {
        let deleted: Vec<String> = made.deleted.iter().map(|file| file.display().to_string()).collect();
        let fields = json!({
            "file": made.file.display().to_string(), "head": made.head, "kept": made.kept, "deleted": deleted,
        });
        return Ok(Printed::done(json::document(fields)));
    }
    Ok(Printed::done(said(&made) + "\n"))
}

/// Says what was made.
pub(super) fn said(made: &BackupView) -> String {
    let mut words = format!("backed up to {}", made.file.display());
    if let Some(kept) = made.kept {
        let kept = usize::try_from(kept).unwrap_or(usize::MAX);
        words.push_str(&format!("; {} kept", count(kept, "backup", "backups")));
    }
    if !made.deleted.is_empty() {
        words.push_str(&format!(", {} deleted", count(made.deleted.len(), "older one", "older ones")));
    }
    clean(&words)
}

pub(super) fn bring_back(args: &RestoreArgs, settings: &Settings, json: bool) -> Result<Printed, AppError> {
    let view = restore(&args.backup, &args.to, args.overwrite.as_deref(), settings, Utc::now())?;
    let kept = view.kept.as_ref().map(|kept| kept.display().to_string());
    if json {
        let fields = json!({
            "book": view.book.display().to_string(), "version": view.version, "head": view.head, "kept": kept,
        });
        return Ok(Printed::done(json::document(fields)));
    }
    let mut words = format!("restored {}", view.book.display());
    match &view.head {
        Some(head) => words.push_str(&format!(", head {head}")),
        None => words.push_str(&format!(", of version {}: it has no seals yet", view.version)),
    }
    let kept = kept.map(|kept| format!("\nthe book that stood there is {kept}")).unwrap_or_default();
    let lines: Vec<String> = (words + &kept).lines().map(clean).collect();
    Ok(Printed::done(lines.join("\n") + "\n"))
}
