//! The whole book as open files, and back.

use super::{AppError, Desk, ErrorKind};
use crate::store::{self, ImportError, Imported, Manifest, Progress, StoreError};
use std::path::Path;

/// Rows of a refusal that are told one by one.
const MOST_TOLD: usize = 20;

impl Desk {
    /// Writes every table of the book as a CSV to a folder, with `book.json` beside them.
    ///
    /// # Errors
    /// `Io` when something is in the folder already, cannot be written, or the disk is full.
    pub fn export(&self, folder: &Path) -> Result<Manifest, AppError> {
        store::export(&self.store, folder).map_err(|error| match error {
            StoreError::Exists { path } => {
                let message = format!("folder `{}` is not empty; an export never overwrites", path.display());
                AppError::new(ErrorKind::Io, message)
            }
            StoreError::Full => {
                let message = format!("the disk is full: `{}` is not a whole export", folder.display());
                AppError::new(ErrorKind::Io, message)
                    .with_hint("make room, empty the folder, and export again")
            }
            error => error.into(),
        })
    }
}

/// Makes a book again from a folder of open files; without a place the files are only checked.
///
/// # Errors
/// `BadRows` for files that are not those that were exported, every file and row named; `Io` when a file stands in the place.
pub fn import(folder: &Path, to: Option<&Path>, progress: &Progress) -> Result<Imported, AppError> {
    store::import(folder, to, progress).map_err(|error| match error {
        ImportError::Store(StoreError::Exists { path }) => AppError::new(
            ErrorKind::Io,
            format!("`{}` exists already; an import never overwrites", path.display()),
        ),
        ImportError::Store(StoreError::Full) => {
            AppError::new(ErrorKind::Io, "the disk is full: no book was made")
                .with_hint("make room, and import again")
        }
        ImportError::Store(error) => error.into(),
        ImportError::Altered { ref rows } => {
            let mut refused = AppError::new(ErrorKind::BadRows, error.to_string());
            for row in rows.iter().take(MOST_TOLD) {
                refused = refused.with_hint(row.clone());
            }
            match rows.len().saturating_sub(MOST_TOLD) {
                0 => refused,
                more => refused.with_hint(format!("and {more} more")),
            }
        }
        ImportError::Newer { .. } => AppError::new(ErrorKind::Damaged, error.to_string())
            .with_hint("they were written by a newer release; no book was made"),
        other => AppError::new(ErrorKind::BadRows, other.to_string()).with_hint("no book was made"),
    })
}
