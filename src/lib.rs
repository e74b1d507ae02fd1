//! scruple: what the readings of bars and coins prove, and what the pieces could still be.
//!
//! The floors, bottom up; a file uses only floors below its own (a test watches this). A newcomer reads
//! [`scoring`] first, then the floor that a question leads to.

pub mod quantity;

pub mod metrology;

pub mod physics;

pub mod reference;

pub mod evidence;

pub mod scoring;

pub mod intake;

pub mod store;

pub mod desk;

pub mod present;

pub mod report;

pub mod cli;

pub mod tui;
