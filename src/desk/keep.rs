//! Keeping the book: its journal walked, and backups.

use super::{AppError, Desk};
use crate::store::JournalReport;
use std::path::Path;

impl Desk {
    /// Walks the journal and recomputes every hash.
    ///
    /// # Errors
    /// What the book says; a broken chain is not an error but a list of faults.
    pub fn verify_journal(&self) -> Result<JournalReport, AppError> {
        Ok(self.store.read().verify_journal()?)
    }

    /// Writes a backup of the book as a file of its own.
    ///
    /// # Errors
    /// `Io` when a file stands there already or cannot be written.
    pub fn backup_to(&self, path: &Path) -> Result<(), AppError> {
        Ok(self.store.backup_to(path)?)
    }

    /// Returns the file of the book.
    pub fn book(&self) -> &Path {
        self.store.path()
    }
}
