//! The audit: whether the book is what this program wrote, down to the last value of the last row.
//!
//! What it is for: triggers and checks bind this program and every polite client; the audit finds what anybody else did to
//! the file, and names table and row. What it must never do: write. Read next: [`Reader::audit`], then `seal.rs`.
//!
//! What no audit of one file can find: somebody who alters a row and then writes every later hash anew. The last hash is
//! another one then, so it is compared with one that was kept elsewhere: on a day sheet, or by `--against`.

mod chain;
mod index;
mod open;
mod rows;
mod schema;
mod states;
mod words;

use super::connection::Reader;
use super::error::StoreError;
use super::progress::Progress;
use super::row_image::hex;
use super::tables::tables;
use chrono::{DateTime, Utc};
use index::SealIndex;
pub use open::Look;
pub(super) use rows::RowsAgainstSeals;

/// Faults that are told one by one; what is beyond is counted.
const MOST_FAULTS: usize = 1000;

/// Something in the book that this program did not write that way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AuditFault {
    /// The table; the name of the journal, of the seals or of the schema where it is about them.
    pub table: String,
    /// The row, in the words of the desk where the book knows them, else by its key.
    pub row: String,
    /// What is wrong with it.
    pub wrong: String,
    /// The act that wrote the row last, in words; `None` where no seal names one.
    pub written_by: Option<String>,
}

impl AuditFault {
    fn of(table: &str, row: impl Into<String>, wrong: impl Into<String>) -> Self {
        AuditFault { table: table.to_owned(), row: row.into(), wrong: wrong.into(), written_by: None }
    }
}

/// Where the chain passed through a hash.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Passed {
    /// The row of the journal, the last one before a seal; 0 when the journal had no row yet.
    pub journal: i64,
    /// The seal, when the hash is one of a seal.
    pub seal: Option<i64>,
    /// When it was written.
    pub at: DateTime<Utc>,
}

/// What an audit of the rows found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct AuditReport {
    /// The tables with the rows in each.
    pub tables: Vec<(String, u64)>,
    /// Rows of the journal.
    pub journal_rows: u64,
    /// Seals.
    pub seals: u64,
    /// Hash of the last seal, in hexadecimal digits.
    pub head: String,
    /// What is wrong, at most a thousand faults.
    pub faults: Vec<AuditFault>,
    /// Faults beyond those.
    pub more: u64,
}

impl AuditReport {
    /// Adds a fault, or counts it when there are too many to tell.
    pub fn add(&mut self, fault: AuditFault) {
        if self.faults.len() < MOST_FAULTS { self.faults.push(fault) } else { self.more += 1 }
    }

    /// Returns how many faults there are.
    pub fn fault_count(&self) -> u64 {
        self.faults.len() as u64 + self.more
    }

    fn extend(&mut self, faults: impl IntoIterator<Item = AuditFault>) {
        faults.into_iter().for_each(|fault| self.add(fault));
    }
}

impl Reader<'_> {
    /// Compares file, schema, journal, seals and every row with what the program wrote, in one look at the book.
    ///
    /// Memory does not grow with the book: the hashes of the seals are laid out in a file that is gone afterwards.
    ///
    /// # Errors
    /// When the book cannot be read at all, and `Stopped`; what is wrong with it is no error but a list of faults.
    pub fn audit(&self, progress: &Progress) -> Result<AuditReport, StoreError> {
        let connection = self.connection;
        let mut report = AuditReport::default();
        let expected = schema::expected()?;
        report.extend(schema::file(connection, progress)?);
        report.extend(schema::compare(connection, &expected)?);
        report.extend(schema::migrations(connection));

        progress.step("rows of the journal are read", 0, None)?;
        match self.verify_journal() {
            Ok(journal) => {
                report.journal_rows = journal.rows;
                report.extend(journal.faults.into_iter().map(|fault| {
                    AuditFault::of("journal", format!("row {}", fault.sequence), fault.finding)
                }));
            }
            Err(error) => {
                report.add(AuditFault::of("journal", "every row", format!("it cannot be read: {error}")))
            }
        }

        let mut index = SealIndex::new()?;
        let wanted = tables(&expected)?;
        let walked = chain::walk(connection, &wanted, &mut index, &mut report, progress)?;
        report.seals = walked.seals;
        report.head = hex(&walked.head);

        for (at, table) in wanted.iter().enumerate() {
            rows::compare(connection, (at, table), &mut index, &mut report, progress)?;
        }
        progress.step("totals and states are compared", 0, None)?;
        states::check(connection, &mut report);
        // What a stop cut short looks like a fault of the book.
        progress.check()?;
        Ok(report)
    }

    /// Returns where the chain passed through a hash of a journal row or of a seal, in hexadecimal digits; `None` when it never
    /// did.
    ///
    /// # Errors
    /// What the database says.
    pub fn passed(&self, hash: &str) -> Result<Option<Passed>, StoreError> {
        chain::passed(self.connection, hash)
    }
}
