//! The book: one SQLite file, and the only SQL of the program.
//!
//! What it is for: every use case is one transaction that leaves a journal row; readings and journal rows are
//! insert-only, and the schema itself refuses what must not happen. What it must never do: judge, or open a book that
//! a newer program wrote. Read next: [`Store`], then `migrations/` in order.

mod assessments;
mod audit;
mod backup;
mod connection;
mod controls;
mod days;
mod decisions;
mod drafts;
mod endings;
mod error;
mod find;
mod health;
mod holds;
mod journal;
mod migrate;
mod open_files;
mod operators;
mod own_acts;
mod pieces;
mod pin_tries;
mod policies;
mod prices;
mod progress;
mod readings;
mod row;
mod row_image;
mod samples;
mod seal;
mod second_tests;
mod shipments;
mod stock;
mod tables;
mod totals;
mod type_books;
mod watch;

pub use assessments::{AssessmentRow, FiledAssessment, MaybeFiled, NewAssessment};
pub use audit::{AuditFault, AuditReport, Look, Passed};
pub use backup::{Restored, restore};
pub use connection::{Act, Reader, Store, Writer};
pub use controls::{ControlRow, NewControl, RecallRow};
pub use decisions::{DecisionKind, DecisionRow, NewDecision};
pub use endings::EndRow;
pub use error::StoreError;
pub use find::SERIAL_END;
pub use health::is_held;
pub use holds::{HoldRow, NewHold};
pub use journal::{Deed, Done, JournalFault, JournalReport, digest};
pub use migrate::{MIGRATIONS, Migration};
pub use open_files::{ImportError, Imported, Manifest, TableFile, export, import};
pub use operators::OperatorRow;
pub use own_acts::OwnAct;
pub use pieces::{NewPiece, PieceRow, PieceUpdate};
pub use pin_tries::{PinOutcome, WrongTries};
pub use policies::HoldingRow;
pub use prices::PriceRow;
pub use progress::{Go, Progress, Step, Watcher};
pub use readings::{NewReading, ReadingRow, Subject};
pub use samples::{NewSample, SampleRow};
pub use second_tests::{NewSecondTest, SecondTestRow};
pub use shipments::{LotRow, NewLot, ShipmentRow};
pub use stock::{NewStock, StockRow};
pub use totals::{DoubtCount, ProductTotal};
pub use type_books::{NewTaught, TaughtCount, TypeBookStamp};
