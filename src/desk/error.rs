//! What a use case says when it does not do what was asked.

use crate::intake::{Refusal, RowError};
use crate::store::StoreError;
use thiserror::Error;

/// What kind of failure it is; each has its exit code.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ErrorKind {
    /// What was asked cannot be done.
    Failed,
    /// It was asked in a form that cannot be read.
    Usage,
    /// An import had bad rows, and nothing was written.
    BadRows,
    /// Another program holds the book.
    Busy,
    /// The book is damaged, or newer than this program.
    Damaged,
    /// The disk is full or cannot be read or written.
    Io,
    /// It is not permitted.
    NotPermitted,
    /// Somebody stopped it; nothing was written.
    Stopped,
}

impl ErrorKind {
    /// Returns the exit code of the command line.
    pub fn exit_code(self) -> u8 {
        match self {
            ErrorKind::Failed => 1,
            ErrorKind::Usage => 2,
            ErrorKind::BadRows => 4,
            ErrorKind::Busy => 5,
            ErrorKind::Damaged => 6,
            ErrorKind::Io => 7,
            ErrorKind::NotPermitted => 8,
            // As a shell says of a program that Ctrl-C ended: 128 and the number of the signal.
            ErrorKind::Stopped => 130,
        }
    }
}

/// Why a use case did not do what was asked, in words for people.
#[derive(Debug, Error)]
#[error("{message}")]
pub struct AppError {
    /// What kind of failure it is.
    pub kind: ErrorKind,
    /// What went wrong: lower-case start, no final stop, found and allowed.
    pub message: String,
    /// What may help.
    pub hints: Vec<String>,
    /// Every bad row, when an import was refused.
    pub rows: Vec<RowError>,
    /// What the book said, when the book failed.
    #[source]
    pub source: Option<StoreError>,
}

impl AppError {
    /// Makes an error of a kind.
    pub fn new(kind: ErrorKind, message: impl Into<String>) -> Self {
        AppError { kind, message: message.into(), hints: Vec::new(), rows: Vec::new(), source: None }
    }

    /// Makes an error of something that cannot be done.
    pub fn failed(message: impl Into<String>) -> Self {
        Self::new(ErrorKind::Failed, message)
    }

    /// Makes an error of a form that cannot be read.
    pub fn usage(message: impl Into<String>, hints: Vec<String>) -> Self {
        AppError { hints, ..Self::new(ErrorKind::Usage, message) }
    }

    /// Makes the error of a refused import.
    pub fn bad_rows(file: &str, rows: Vec<RowError>) -> Self {
        let cells = if rows.len() == 1 { "cell" } else { "cells" };
        let message =
            format!("`{file}` has {} {cells} that cannot be taken; nothing was written", rows.len());
        AppError { rows, ..Self::new(ErrorKind::BadRows, message) }
    }

    /// Adds a hint.
    pub fn with_hint(mut self, hint: impl Into<String>) -> Self {
        self.hints.push(hint.into());
        self
    }

    /// Makes the error of a refused step of a life cycle; `whose` names shipment, lot or piece.
    pub fn refused(whose: &str, refusal: &Refusal) -> Self {
        let (kind, hint) = match refusal {
            Refusal::LotFull { .. } => {
                (ErrorKind::Failed, Some("add a line for pieces that are not on the packing list"))
            }
            Refusal::NotPutByHand => (ErrorKind::NotPermitted, None),
            Refusal::NoReason => (ErrorKind::Usage, Some("say in a few words why")),
            Refusal::LotEmpty | Refusal::PieceVoided | Refusal::HoldClosed => (ErrorKind::Failed, None),
        };
        let error = AppError::new(kind, format!("{whose}: {refusal}"));
        match hint {
            Some(hint) => error.with_hint(hint),
            None => error,
        }
    }
}

impl From<StoreError> for AppError {
    fn from(error: StoreError) -> Self {
        let (kind, hint) = match &error {
            StoreError::Busy => (ErrorKind::Busy, Some("close the other program, or try again in a moment")),
            StoreError::NotABook { .. } => {
                (ErrorKind::Damaged, Some("nothing was changed; name another file with `--book`"))
            }
            StoreError::Newer { .. } => {
                (ErrorKind::Damaged, Some("it was written by a newer release; nothing was changed"))
            }
            StoreError::Older { .. } => (
                ErrorKind::Failed,
                Some(
                    "open it once with this program, as `scruple journal verify` does; a backup is kept beside it",
                ),
            ),
            StoreError::MigrationChanged { .. } => (ErrorKind::Damaged, Some("nothing was changed")),
            StoreError::Damaged { .. } | StoreError::Strange { .. } => {
                (ErrorKind::Damaged, Some("keep the file as it is and go on with a copy of the last backup"))
            }
            StoreError::Full => (ErrorKind::Io, Some("make room and enter it again")),
            StoreError::ReadOnly { .. } => (ErrorKind::Io, Some("file and folder must be yours to write")),
            StoreError::NoWriteAheadLog { .. } => (ErrorKind::Io, Some("keep the book on a local disk")),
            StoreError::Io { .. } => {
                (ErrorKind::Io, Some("nothing of this entry was saved; see to the disk and enter it again"))
            }
            StoreError::Exists { .. } => (ErrorKind::Io, None),
            StoreError::Stopped => (ErrorKind::Stopped, None),
            StoreError::Refused { .. } => (ErrorKind::NotPermitted, None),
            StoreError::NotJournaled | StoreError::Answer { .. } => (ErrorKind::Failed, None),
        };
        let hints = hint.map(str::to_owned).into_iter().collect();
        AppError { hints, source: Some(error), ..AppError::new(kind, String::new()) }.with_message_of_source()
    }
}

impl AppError {
    fn with_message_of_source(mut self) -> Self {
        self.message = self.source.as_ref().map_or_else(String::new, ToString::to_string);
        self
    }
}
