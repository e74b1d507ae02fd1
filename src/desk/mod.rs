//! The use cases of a desk: receive, log, review, correct. One use case is one transaction.
//!
//! What it is for: every face asks here and gets plain views back. What it must never do: draw, print, or let a face see
//! the database. Read next: [`Desk`], then [`views`].

pub mod audit;
pub mod backups;
mod bench;
pub mod capability;
mod clock;
pub mod config;
mod controls;
mod correct;
mod custody;
mod day;
pub mod demo;
pub mod devices;
pub mod doctor;
mod endings;
mod error;
mod explain;
mod find;
mod first_run;
mod holds;
mod identity;
mod instrument_views;
mod instruments;
mod keep;
mod log;
mod lot_screen;
mod lot_work;
pub mod open_files;
mod operators;
mod policy;
mod prices;
pub mod private_file;
mod proof;
pub mod reach;
mod recalls;
mod receive;
mod recompute;
mod record;
mod release;
mod review;
pub mod review_views;
mod samples;
pub mod score;
pub mod screen;
mod second_tests;
mod settle;
mod settled;
mod show;
mod stock;
mod take_back;
pub mod type_book;
mod undo_list;
pub mod views;

pub use config::Settings;
pub use controls::{ControlOutcome, ControlRequest};
pub use endings::SURRENDER_CAUTIONS;
pub use error::{AppError, ErrorKind};
pub use explain::Explained;
pub use find::{Hit, HitKind};
pub use first_run::FirstAnswers;
pub use instrument_views::{ControlSeries, Due, InstrumentRow, InstrumentsView};
pub use instruments::{InstrumentView, ReferencePieceView, RegisterView, check_register};
pub use policy::{HoldingView, PolicyOrigin, PolicyView};
pub use recalls::RecallView;
pub use review_views::{
    DayLot, DayView, DecisionView, Ending, NewestStock, OpenGroup, OperatorView, PieceRecord, Role,
    SampleView, SecondTestOutcome, SecondTestView, StockFilter, StockView, Worth,
};
pub use type_book::{TypeBookRow, TypeBookView};
pub use undo_list::{ActState, ActView, Redone};
pub use views::{
    Draft, DraftField, Echo, Field, HoldView, LogReport, LotView, PieceView, ReadingView, ShipmentView,
};

use crate::evidence::Instruments;
use crate::reference::{Catalogue, Product, ProductId};
use crate::scoring::{Policy, Rules, Standards};
use crate::store::{Act, Store};
pub use crate::store::{Go, Progress, Step, Watcher};
use chrono::{DateTime, SubsecRound, Utc};
use config::RuleTexts;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use uuid::{Timestamp, Uuid};

/// A desk at work: a book, and what its pieces are scored with.
pub struct Desk {
    store: Store,
    setup: Setup,
    operator: String,
    clock: config::Clock,
    /// The policy of this machine: it counts while the book sets none.
    own_policy: (Policy, String),
    /// The instruments of this machine, with text and version: they count while the book sets none.
    own_instruments: (Instruments, String, String),
    /// Whether the operator signed in for acts of the owner.
    signed_in: bool,
}

/// What pieces are scored with.
struct Setup {
    catalogue: Catalogue,
    instruments: Instruments,
    policy: Policy,
    standards: Standards,
    texts: RuleTexts,
}

impl Desk {
    /// Opens a book, creating it when there is none.
    ///
    /// # Errors
    /// `Damaged` for a file that is no book, is damaged or newer (it stays as it is), `Busy`, or `Io`.
    pub fn open(book: &Path, settings: Settings) -> Result<Desk, AppError> {
        let progress = settings.progress.clone();
        let store = Store::open_watched(book, (settings.clock)(), settings.patience, progress)?;
        Self::of(store, settings)
    }

    /// Sits down at a book that is open.
    fn of(store: Store, settings: Settings) -> Result<Desk, AppError> {
        let Settings { catalogue, instruments, policy, operator, clock, texts, .. } = settings;
        let own_policy = (policy.clone(), texts.policy.clone());
        let (policy, text) = policy::policy_of(store.read())?.unwrap_or_else(|| own_policy.clone());
        let own_instruments = (instruments, texts.instruments.clone(), texts.instruments_version.clone());
        let (instruments, register, version) =
            instruments::in_force(store.read(), &own_instruments, &catalogue)?;
        let texts = RuleTexts { policy: text, instruments: register, instruments_version: version, ..texts };
        let setup = Setup { catalogue, instruments, policy, standards: Standards::default(), texts };
        Ok(Desk { store, setup, operator, clock, own_policy, own_instruments, signed_in: false })
    }

    /// Returns what tells how far the act at work is, and who is told.
    pub fn progress(&self) -> &Progress {
        self.store.progress()
    }

    /// Returns the instruments in use.
    pub fn instruments(&self) -> &Instruments {
        &self.setup.instruments
    }

    /// Returns materials and products.
    pub fn catalogue(&self) -> &Catalogue {
        &self.setup.catalogue
    }

    /// Returns the policy in force.
    pub fn policy(&self) -> &Policy {
        &self.setup.policy
    }

    /// Returns who works.
    pub fn operator(&self) -> &str {
        &self.operator
    }

    /// Returns who works and what time it is, to the millisecond that the book keeps.
    fn act(&self) -> Act {
        Act { operator: self.operator.clone(), at: (self.clock)().trunc_subsecs(3) }
    }
}

impl Setup {
    fn rules(&self) -> Rules<'_> {
        Rules {
            catalogue: &self.catalogue,
            instruments: &self.instruments,
            policy: &self.policy,
            standards: &self.standards,
        }
    }

    /// Returns a product that the book names.
    fn product(&self, id: &ProductId) -> Result<&Product, AppError> {
        self.catalogue.product(id.as_str()).ok_or_else(|| {
            AppError::failed(format!("product `{id}` of the book is not in the reference"))
                .with_hint("was it taken out of `products.toml`? put it back to log or correct such pieces")
        })
    }

    /// Returns the name of a product, or its id when the reference has it no longer.
    fn product_name(&self, id: &ProductId) -> String {
        self.catalogue.product(id.as_str()).map_or_else(|| id.to_string(), |product| product.name.clone())
    }
}

/// Draws a new identity: the time given, a counter that keeps the order within a millisecond, and random bits.
fn new_uuid(at: DateTime<Utc>) -> Uuid {
    static DRAWN: AtomicU64 = AtomicU64::new(0);
    let counter = DRAWN.fetch_add(1, Ordering::Relaxed) & 0xffff_ffff;
    let seconds = u64::try_from(at.timestamp()).unwrap_or(0);
    Uuid::new_v7(Timestamp::from_unix_time(seconds, at.timestamp_subsec_nanos(), u128::from(counter), 32))
}

/// Returns a text for the book, without control characters and outer blanks; it may not be empty.
fn said(what: &str, text: &str) -> Result<String, AppError> {
    let text = crate::quantity::entry::clean(text);
    let length = text.chars().count();
    if (1..=LONGEST_TEXT).contains(&length) {
        return Ok(text);
    }
    let found = if length == 0 { "is empty".to_owned() } else { format!("has {length} characters") };
    Err(AppError::usage(format!("{what} {found}; allowed are 1 to {LONGEST_TEXT} characters"), Vec::new()))
}

/// Most characters of a source, a reason or an operator's name.
const LONGEST_TEXT: usize = 200;
