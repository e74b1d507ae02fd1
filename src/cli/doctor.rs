//! `scruple doctor`: gathers what there is to know of machine and book, and prints what it comes to.

use super::{CheckScreen, Color, Printed, json};
use crate::desk::config::{book_place, config_folder};
use crate::desk::doctor::{
    DiskFacts, Facts, TerminalFacts, look_at_backup, look_at_book, look_at_config, look_at_instruments,
};
use crate::desk::{AppError, Settings};
use crate::present::colors::Colors;
use crate::present::doctor::{Health, judge, lines};
use chrono::Local;
use clap::Args;
use rustix::fs::{Access, access, statvfs};
use serde_json::json;
use std::io::{IsTerminal, stdin, stdout};
use std::path::Path;

/// Exit code when something is in trouble.
const IN_TROUBLE: u8 = 1;

/// Arguments of `scruple doctor`.
#[derive(Debug, Args)]
#[command(after_help = "\
Looks at terminal, locale, clock, disk, book, instruments, configuration and backups, and changes nothing. Ends with 1 when
something is in trouble.

Examples:
  scruple doctor
  scruple doctor --book /media/stick/monday.book --json")]
pub(super) struct DoctorArgs {}

pub(super) fn run(
    _args: &DoctorArgs,
    book: Option<&Path>,
    operator: &str,
    (color, check): (Color, CheckScreen),
    json: bool,
) -> Result<Printed, AppError> {
    let findings = judge(&facts(book, operator, color, check)?);
    let troubled = findings.iter().any(|one| one.health == Health::Trouble);
    let code = if troubled { IN_TROUBLE } else { 0 };
    if json {
        let findings: Vec<_> = findings
            .iter()
            .map(|one| {
                let advice = Some(&one.advice).filter(|advice| !advice.is_empty());
                json!({ "health": one.health.word(), "what": one.what, "found": one.found, "do": advice })
            })
            .collect();
        return Ok(Printed { data: json::document(json!({ "findings": findings })), code });
    }
    Ok(Printed { data: lines(&findings).join("\n") + "\n", code })
}

fn facts(book: Option<&Path>, operator: &str, color: Color, check: CheckScreen) -> Result<Facts, AppError> {
    let path = book_place(book)?;
    let config = look_at_config(config_folder().as_deref(), check);
    let book = look_at_book(&path);
    // A file with a mistake is told as such; the instruments are then those shipped.
    let settings =
        Settings::read(config.folder.as_deref(), operator).unwrap_or_else(|_| Settings::built_in(operator));
    Ok(Facts {
        terminal: terminal(color),
        language: language(),
        now: Local::now().fixed_offset(),
        disk: disk(&path),
        instruments: look_at_instruments(&book, settings),
        backup: look_at_backup(&path),
        config,
        book,
    })
}

fn set(name: &str) -> Option<String> {
    std::env::var(name).ok().filter(|value| !value.is_empty())
}

/// Returns the language setting in force (POSIX, base definitions, 8.2: LC_ALL, then the category, then LANG).
fn language() -> Option<String> {
    set("LC_ALL").or_else(|| set("LC_CTYPE")).or_else(|| set("LANG"))
}

fn terminal(color: Color) -> TerminalFacts {
    let is_terminal = stdin().is_terminal() && stdout().is_terminal();
    let (no_color, term) = (set("NO_COLOR"), set("TERM"));
    let colored = Colors::from(color).wanted(no_color.as_deref(), term.as_deref(), is_terminal);
    let size = if is_terminal { crossterm::terminal::size().ok() } else { None };
    TerminalFacts { is_terminal, term, size, colored }
}

/// Looks at the folder of the book, or the nearest above it that is there.
fn disk(book: &Path) -> DiskFacts {
    let beside = |path: &Path| match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_owned(),
        _ => Path::new(".").to_owned(),
    };
    let mut folder = beside(book);
    while !folder.exists() && folder.parent().is_some() {
        folder = beside(&folder);
    }
    let free = statvfs(&folder).ok().map(|found| found.f_bavail.saturating_mul(found.f_frsize));
    let not_writable = access(&folder, Access::WRITE_OK | Access::EXEC_OK).err();
    DiskFacts { free, not_writable: not_writable.map(|error| error.to_string()), folder }
}
