//! How far a long act is, told to whoever waits, who may stop it.
//!
//! What it is for: every act that takes longer than a glance says what it does and how much is done, and asks whether to go
//! on. A stop is an error like any other: the transaction is taken back, and nothing was written. What it must never do:
//! read a clock or decide how often something is shown; whoever watches does.
//!
//! Two things tell: the loops of an act, with their counts, and the database itself within a long statement, with what was
//! told last.

use super::error::StoreError;
use rusqlite::Connection;
use std::fmt;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, TryLockError};

/// Instructions of the database between two words: some milliseconds.
const INSTRUCTIONS: i32 = 50_000;

/// How far a long act is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    /// What is done, in the plural.
    pub what: &'static str,
    /// How many are done; 0 where nothing is counted.
    pub done: u64,
    /// Of how many, where that is known.
    pub of: Option<u64>,
}

/// Whether an act goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Go {
    /// It goes on.
    On,
    /// It stops; nothing of it is written.
    Stop,
}

/// Is told each step, and says whether to go on.
pub type Watcher = Box<dyn FnMut(Step) -> Go + Send>;

/// Tells a watcher how far the act at work is. Clones tell the same watcher.
#[derive(Clone, Default)]
pub struct Progress(Arc<Mutex<Told>>);

#[derive(Default)]
struct Told {
    watcher: Option<Watcher>,
    last: Option<Step>,
    stopped: bool,
}

impl Told {
    fn ask(&mut self, step: Step) -> Go {
        if self.stopped {
            return Go::Stop;
        }
        self.last = Some(step);
        let go = self.watcher.as_mut().map_or(Go::On, |watcher| watcher(step));
        self.stopped = go == Go::Stop;
        go
    }
}

impl fmt::Debug for Progress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Progress")
    }
}

impl Progress {
    /// Makes one that tells a watcher.
    pub fn told_to(watcher: Watcher) -> Self {
        let progress = Progress::default();
        progress.watch(Some(watcher));
        progress
    }

    /// Tells another watcher from now on, or nobody. A stop asked for before no longer counts.
    pub fn watch(&self, watcher: Option<Watcher>) {
        *self.lock() = Told { watcher, last: None, stopped: false };
    }

    /// Tells a step.
    ///
    /// # Errors
    /// `Stopped` when the watcher says so, and from then on.
    pub fn step(&self, what: &'static str, done: u64, of: Option<u64>) -> Result<(), StoreError> {
        match self.lock().ask(Step { what, done, of }) {
            Go::On => Ok(()),
            Go::Stop => Err(StoreError::Stopped),
        }
    }

    /// Tells a step of a list: so many of it are done.
    ///
    /// # Errors
    /// As [`Progress::step`].
    pub fn step_of(&self, what: &'static str, done: usize, of: usize) -> Result<(), StoreError> {
        let wide = |count: usize| u64::try_from(count).unwrap_or(u64::MAX);
        self.step(what, wide(done), Some(wide(of)))
    }

    /// Makes sure that nobody has stopped the act, for what takes errors for findings.
    ///
    /// # Errors
    /// `Stopped` when somebody has.
    pub fn check(&self) -> Result<(), StoreError> {
        if self.lock().stopped { Err(StoreError::Stopped) } else { Ok(()) }
    }

    /// Lets a connection tell, and stop, within its long statements.
    pub(super) fn attach(&self, connection: &mut Connection) -> Result<(), StoreError> {
        let progress = self.clone();
        Ok(connection.progress_handler(INSTRUCTIONS, Some(move || progress.is_stopped_within()))?)
    }

    /// Tells the last step again from within a statement; `true` ends the statement.
    fn is_stopped_within(&self) -> bool {
        let mut told = match self.0.try_lock() {
            Ok(told) => told,
            Err(TryLockError::Poisoned(poisoned)) => poisoned.into_inner(),
            Err(TryLockError::WouldBlock) => return false,
        };
        let last = told.last.unwrap_or(Step { what: "the book is read", done: 0, of: None });
        told.ask(last) == Go::Stop
    }

    fn lock(&self) -> MutexGuard<'_, Told> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A watcher that stops at a step, counted from 1.
    fn stopping_at(step: u64) -> Watcher {
        let mut seen = 0;
        Box::new(move |_| {
            seen += 1;
            if seen >= step { Go::Stop } else { Go::On }
        })
    }

    #[test]
    fn a_stop_holds_until_somebody_else_watches() {
        let progress = Progress::told_to(stopping_at(2));
        progress.step("rows", 1, Some(9)).unwrap();
        progress.check().unwrap();
        assert!(matches!(progress.step("rows", 2, Some(9)), Err(StoreError::Stopped)));
        assert!(matches!(progress.step("rows", 3, Some(9)), Err(StoreError::Stopped)));
        assert!(matches!(progress.check(), Err(StoreError::Stopped)));
        progress.watch(None);
        progress.step("rows", 4, Some(9)).unwrap();
    }

    #[test]
    fn a_long_statement_is_stopped_from_within() {
        let mut connection = Connection::open_in_memory().unwrap();
        let progress = Progress::told_to(stopping_at(3));
        progress.attach(&mut connection).unwrap();
        let endless =
            "WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n) SELECT count(*) FROM n";
        let stopped = connection.query_row(endless, [], |row| row.get::<_, i64>(0)).map_err(StoreError::from);
        assert!(matches!(stopped, Err(StoreError::Stopped)), "{stopped:?}");
    }
}
