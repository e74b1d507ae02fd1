//! Files that a subcommand writes: never over one that is there.

use crate::desk::private_file::create_new;
use crate::desk::{AppError, ErrorKind};
use crate::report::document::{Document, Table};
use crate::report::pdf::{self, Paper};
use crate::report::{html, sheet};
use chrono::NaiveDate;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Writes a new file, or standard output for `-`; the file is on disk when this returns.
pub(super) fn write_new(path: &Path, bytes: &[u8]) -> Result<(), AppError> {
    let io = |error: &std::io::Error| {
        let message = format!("`{}` cannot be written: {error}", path.display());
        AppError::new(ErrorKind::Io, message)
    };
    if path == Path::new("-") {
        return match std::io::stdout().lock().write_all(bytes) {
            // A reader that has seen enough closes the pipe; that is no failure.
            Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => Err(io(&error)),
            _ => Ok(()),
        };
    }
    let mut file = match create_new(path) {
        Ok(file) => file,
        Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {
            return Err(exists(path));
        }
        Err(error) => return Err(io(&error)),
    };
    file.write_all(bytes).and_then(|()| file.sync_all()).map_err(|error| io(&error))
}

fn exists(path: &Path) -> AppError {
    AppError::failed(format!("`{}` exists already", path.display()))
        .with_hint("name another file or move it away; reports are never written over")
}

/// The files of a report that are asked for.
#[derive(Debug, Default)]
pub(super) struct Wanted<'a> {
    pub(super) html: Option<&'a Path>,
    pub(super) pdf: Option<&'a Path>,
    pub(super) csv: Option<&'a Path>,
    pub(super) xlsx: Option<&'a Path>,
}

impl Wanted<'_> {
    /// Tells whether any file is asked for.
    pub(super) fn any(&self) -> bool {
        [self.html, self.pdf, self.csv, self.xlsx].iter().any(Option::is_some)
    }

    /// Refuses two files on standard output, and files that are there, before anything is made.
    pub(super) fn check(&self) -> Result<(), AppError> {
        let all = [self.html, self.pdf, self.csv, self.xlsx];
        if all.iter().flatten().filter(|path| **path == Path::new("-")).count() > 1 {
            return Err(AppError::usage("only one file can go to standard output", Vec::new()));
        }
        match all.into_iter().flatten().find(|path| *path != Path::new("-") && path.exists()) {
            Some(path) => Err(exists(path)),
            None => Ok(()),
        }
    }

    /// Writes a report as a page and as PDF; returns what was written.
    pub(super) fn document(&self, document: &Document, paper: Paper) -> Result<Vec<PathBuf>, AppError> {
        let mut written = Vec::new();
        if let Some(path) = self.html {
            write_new(path, html::page(document).as_bytes())?;
            written.push(path.to_owned());
        }
        if let Some(path) = self.pdf {
            write_new(path, &pdf::report(document, paper))?;
            written.push(path.to_owned());
        }
        Ok(written)
    }

    /// Writes the first of the tables as CSV and all of them as a workbook; returns what was written.
    pub(super) fn tables(
        &self,
        tables: &[(&str, Table)],
        made_on: NaiveDate,
    ) -> Result<Vec<PathBuf>, AppError> {
        let mut written = Vec::new();
        if let (Some(path), Some((_, table))) = (self.csv, tables.first()) {
            write_new(path, sheet::csv(table).as_bytes())?;
            written.push(path.to_owned());
        }
        if let Some(path) = self.xlsx {
            let tables: Vec<(&str, &Table)> = tables.iter().map(|(name, table)| (*name, table)).collect();
            let book =
                sheet::workbook(&tables, made_on).map_err(|error| AppError::failed(error.to_string()))?;
            write_new(path, &book)?;
            written.push(path.to_owned());
        }
        Ok(written)
    }
}

/// Says what was written, a line a file; nothing about standard output, which holds the file itself.
pub(super) fn said(written: &[PathBuf]) -> String {
    let files = written.iter().filter(|path| *path != Path::new("-"));
    files
        .map(|path| format!("wrote {}\n", crate::present::text::clean(&path.display().to_string())))
        .collect()
}
