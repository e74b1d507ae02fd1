//! The whole book as open files: one CSV for each table, and `book.json`, which says what belongs together.
//!
//! What it is for: a book that can be read without this program, and come back without a loss. What it must never do: leave
//! a half-made book, or take files that are not the ones that were written. Read next: [`export()`], then [`import()`].
//!
//! The CSV is that of RFC 4180 with a line of names. Whole numbers and reals stand in decimal digits (a real in the shortest
//! form that reads back the same), bytes in hexadecimal digits, texts as they are. NULL is `\N`; a text that begins with a
//! backslash has one more in front, so that an empty cell is an empty text and nothing else.

mod cell;
mod export;
mod import;

pub use export::export;
pub use import::{ImportError, Imported, import};

use serde::{Deserialize, Serialize};

/// Version of the form described above.
const FORMAT: u32 = 1;
/// What the file says that belongs together.
const MANIFEST: &str = "book.json";
/// What is written there as its kind.
const KIND: &str = "scruple book as open files";

/// What `book.json` says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Manifest {
    /// What these files are.
    pub kind: String,
    /// Version of the form.
    pub format: u32,
    /// Version of the book.
    pub schema_version: i64,
    /// Head of the book.
    pub head: String,
    /// Rows of its journal.
    pub journal_rows: u64,
    /// The files, in the order of their tables.
    pub tables: Vec<TableFile>,
}

/// One file of an export.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TableFile {
    /// The table.
    pub table: String,
    /// Its file.
    pub file: String,
    /// Rows, the line of names left out.
    pub rows: u64,
    /// SHA-256 of the file, in hexadecimal digits.
    pub sha256: String,
}
