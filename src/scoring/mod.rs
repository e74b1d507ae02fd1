//! From readings to an assessment: checks, what a piece could still be, doubts, what would settle them, standing.
//!
//! What it is for: `evidence + reference + policy in, assessment out`. What it must never do: read a clock or a file, clear
//! a piece on a diagnostic, or call anything genuine or fake. Read next: [`assess()`] for the order of things, then
//! [`Assessment`] for what comes out.

mod assess;
mod assessment;
mod budget;
mod check;
mod conductivity;
mod doubts;
mod geometry;
mod methods;
mod policy;
mod scans;
mod suspects;
mod window;

pub use assess::{Declared, Rules, assess};
pub use assessment::{
    Assessment, BudgetLine, Candidate, Check, Construction, Doubt, DoubtKind, ENGINE_VERSION, Method, Offer,
    Outcome, Power, Scope, Standing,
};
pub use methods::exposing_frequency;
pub use policy::{Policy, PolicyError};
pub use scans::Scans;
