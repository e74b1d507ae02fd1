//! The arithmetic of measurement: what a reading is worth, and what may be concluded from it.
//!
//! What it is for: uncertainty ([`uncertain`], [`budget`], [`evaluation`]), conformity with limits ([`conformity`],
//! [`risk`]), odd pieces in a lot ([`outliers`], [`robust`], [`lot`]), what pieces teach
//! about the next ([`population`], [`huber`], [`components`], [`trend`]), sampling a lot ([`sampling`], [`seeded`]), keeping
//! an instrument honest ([`control`], [`drift`], [`permissible`]), rounding ([`rounding`]).
//! What it must never do: read a clock, a file or a source of randomness, or know what a coin is. Everything is a pure
//! function of plain numbers in the caller's unit; random selection takes its seed from the caller.
//! [`combine`] and the tables of [`sampling_tables`] are for explanation and comparison only: nothing may be cleared with
//! them.
//! Clause and table numbers are cited from memory except where a case in `tests/checks/metrology.json` was read.
//! Read next: [`uncertain`], then [`conformity`].

pub mod budget;
pub mod combine;
pub mod components;
pub mod conformity;
pub mod control;
pub mod drift;
pub mod evaluation;
pub mod huber;
mod integral;
pub mod lot;
pub mod normal;
pub mod outliers;
pub mod permissible;
pub mod population;
pub mod risk;
pub mod robust;
pub mod rounding;
pub mod sampling;
pub mod sampling_tables;
pub mod seeded;
pub mod trend;
pub mod uncertain;

pub use budget::{Budget, BudgetLine};
pub use conformity::{
    Conformance, ConformityError, Judgement, Limits, Outcome, Thresholds, conformance, judge,
};
pub use uncertain::{InputId, Uncertain, UncertainError};
