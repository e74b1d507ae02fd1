//! `scruple export` and `scruple import`: the whole book as open files, and back.

use super::{Printed, json, waiting};
use crate::desk::{AppError, Desk, open_files};
use crate::present::text::clean;
use crate::present::words::count;
use clap::Args;
use serde_json::{Value, json};
use std::path::PathBuf;

/// Arguments of `scruple export`.
#[derive(Debug, Args)]
#[command(after_help = "\
One CSV a table (RFC 4180, UTF-8): bytes in hexadecimal digits, `\\N` for nothing, one more backslash before a text that begins
with one. `book.json` names the files with their SHA-256, and the head of the book.

Examples:
  scruple export whole-book
  scruple export whole-book --json")]
pub(super) struct ExportArgs {
    /// A folder that does not exist yet, or is empty
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,
}

/// Arguments of `scruple import`.
#[derive(Debug, Args)]
#[command(after_help = "\
The book that is made has the same head as the one that was exported, or it is not made.

Examples:
  scruple import whole-book --to again.book
  scruple import whole-book --dry-run")]
pub(super) struct ImportArgs {
    /// The folder of an export
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,
    /// Where the book is to stand
    #[arg(long, value_name = "FILE", required_unless_present = "dry_run")]
    to: Option<PathBuf>,
    /// Check the files and make no book
    #[arg(long, conflicts_with = "to")]
    dry_run: bool,
}

pub(super) fn export(args: &ExportArgs, desk: &Desk, json: bool) -> Result<Printed, AppError> {
    let made = desk.export(&args.folder)?;
    let rows: u64 = made.tables.iter().map(|file| file.rows).sum();
    if json {
        let files: Vec<Value> = made
            .tables
            .iter()
            .map(|file| json!({ "table": file.table, "file": file.file, "rows": file.rows, "sha256": file.sha256 }))
            .collect();
        let fields = json!({
            "folder": args.folder.display().to_string(), "format": made.format,
            "schema_version": made.schema_version, "head": made.head, "rows": rows, "files": files,
        });
        return Ok(Printed::done(json::document(fields)));
    }
    let said = format!(
        "exported {} of {} to {}, head {}",
        count(usize::try_from(rows).unwrap_or(usize::MAX), "row", "rows"),
        count(made.tables.len(), "table", "tables"),
        args.folder.display(),
        made.head
    );
    Ok(Printed::done(clean(&said) + "\n"))
}

pub(super) fn import(args: &ImportArgs, json: bool) -> Result<Printed, AppError> {
    let made = open_files::import(&args.folder, args.to.as_deref(), &waiting::progress(false))?;
    let book = args.to.as_ref().map(|to| to.display().to_string());
    if json {
        let fields = json!({
            "dry_run": args.dry_run, "book": book, "head": made.head, "rows": made.rows, "tables": made.tables,
        });
        return Ok(Printed::done(json::document(fields)));
    }
    let rows = count(usize::try_from(made.rows).unwrap_or(usize::MAX), "row", "rows");
    let said = match book {
        Some(book) => format!("imported {rows} to {book}, head {}", made.head),
        None => format!("{rows} are as they were exported, head {}; no book was made", made.head),
    };
    Ok(Printed::done(clean(&said) + "\n"))
}
