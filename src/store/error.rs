//! Why the book could not be opened, read or written.

use std::path::PathBuf;
use thiserror::Error;

/// Why the book could not be opened, read or written.
#[derive(Debug, Error)]
pub enum StoreError {
    /// Another program holds the book.
    #[error("the book is in use by another program")]
    Busy,
    /// The file is not a book.
    #[error("`{}` is not a book of this program", path.display())]
    NotABook {
        /// The file.
        path: PathBuf,
    },
    /// A newer program wrote the book.
    #[error("the book `{}` is of version {found}, this program knows versions up to {known}", path.display())]
    Newer {
        /// The file.
        path: PathBuf,
        /// Version of the book.
        found: i64,
        /// Newest version this program knows.
        known: i64,
    },
    /// An older program wrote the book, and what was asked reads it only.
    #[error("the book `{}` is of version {found}; version {needed} is needed for this", path.display())]
    Older {
        /// The file.
        path: PathBuf,
        /// Version of the book.
        found: i64,
        /// Version that is needed.
        needed: i64,
    },
    /// A migration that was applied is not the one this program carries.
    #[error("the book was built by another text of `{name}` than this program carries")]
    MigrationChanged {
        /// Name of the migration.
        name: String,
    },
    /// The file is damaged.
    #[error("the book is damaged: {detail}")]
    Damaged {
        /// What was found.
        detail: String,
    },
    /// The book holds a value that this program never writes.
    #[error("the book is damaged: `{column}` holds `{found}`")]
    Strange {
        /// Table and column.
        column: &'static str,
        /// What it holds.
        found: String,
    },
    /// The disk is full.
    #[error("the disk is full; the entry was not saved")]
    Full,
    /// The file system failed.
    #[error("the book cannot be read or written: {detail}")]
    Io {
        /// What the system said.
        detail: String,
    },
    /// The file or its folder may not be written.
    #[error("the book may not be written: {detail}")]
    ReadOnly {
        /// What the system said.
        detail: String,
    },
    /// The file system cannot keep a write-ahead log.
    #[error("the book cannot be kept here: journal mode is `{found}`, needed is `wal`")]
    NoWriteAheadLog {
        /// The mode that the file system allows.
        found: String,
    },
    /// A guard of the book refused the write.
    #[error("the book refused: {reason}")]
    Refused {
        /// The guard's words.
        reason: String,
    },
    /// Whoever watched the act stopped it; it was taken back.
    #[error("stopped: nothing was written")]
    Stopped,
    /// A write left no journal row; this is a mistake of the program.
    #[error("a write without a journal row was taken back")]
    NotJournaled,
    /// A file stands where a backup was to be written.
    #[error("`{}` exists already; a backup never overwrites", path.display())]
    Exists {
        /// The file.
        path: PathBuf,
    },
    /// The database answered in a way that no other variant names.
    #[error("the book answered: {detail}")]
    Answer {
        /// The answer.
        detail: String,
    },
}

/// Extended result code of a RAISE in a trigger (sqlite.org, result codes: SQLITE_CONSTRAINT_TRIGGER).
const CONSTRAINT_TRIGGER: i32 = 1811;

impl From<rusqlite::Error> for StoreError {
    fn from(error: rusqlite::Error) -> Self {
        use rusqlite::ErrorCode;
        let detail = match &error {
            rusqlite::Error::SqliteFailure(_, Some(message)) => message.clone(),
            // Its own words would show the statement.
            rusqlite::Error::SqlInputError { msg, .. } => msg.clone(),
            other => other.to_string(),
        };
        if is_strange(&error) {
            return StoreError::Damaged { detail };
        }
        match error.sqlite_error_code() {
            Some(
                ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked | ErrorCode::FileLockingProtocolFailed,
            ) => StoreError::Busy,
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => StoreError::Damaged { detail },
            Some(ErrorCode::DiskFull) => StoreError::Full,
            Some(ErrorCode::OperationInterrupted) => StoreError::Stopped,
            Some(ErrorCode::SystemIoFailure | ErrorCode::CannotOpen) => StoreError::Io { detail },
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => StoreError::ReadOnly { detail },
            Some(ErrorCode::ConstraintViolation)
                if error.sqlite_extended_error_code() == Some(CONSTRAINT_TRIGGER) =>
            {
                StoreError::Refused { reason: detail }
            }
            _ => StoreError::Answer { detail },
        }
    }
}

/// Tells whether an error shows a book that this program did not write that way: its statements and the types of its
/// columns are fixed, so a statement that does not fit the tables, or a value that does not fit its column, is damage.
fn is_strange(error: &rusqlite::Error) -> bool {
    use rusqlite::{Error, ErrorCode};
    match error {
        Error::FromSqlConversionFailure(..)
        | Error::IntegralValueOutOfRange(..)
        | Error::Utf8Error(..)
        | Error::InvalidColumnType(..)
        | Error::InvalidColumnName(_)
        | Error::QueryReturnedNoRows
        | Error::SqlInputError { .. } => true,
        Error::SqliteFailure(failure, _) => matches!(
            failure.code,
            ErrorCode::Unknown | ErrorCode::SchemaChanged | ErrorCode::TypeMismatch | ErrorCode::TooBig
        ),
        _ => false,
    }
}

impl From<std::io::Error> for StoreError {
    fn from(error: std::io::Error) -> Self {
        let detail = error.to_string();
        match error.kind() {
            std::io::ErrorKind::PermissionDenied | std::io::ErrorKind::ReadOnlyFilesystem => {
                StoreError::ReadOnly { detail }
            }
            std::io::ErrorKind::StorageFull | std::io::ErrorKind::QuotaExceeded => StoreError::Full,
            _ => StoreError::Io { detail },
        }
    }
}
