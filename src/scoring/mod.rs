//! From readings to an assessment: checks, what a piece could still be, doubts, what would settle them, standing.
//!
//! What it is for: `evidence + reference + policy in, assessment out`. What it must never do: read a clock or a file, clear
//! a piece on a diagnostic, or call anything genuine or fake. Read next: [`assess()`] for the order of things, then
//! [`Assessment`] for what comes out.

mod assess;
mod assessment;
mod budget;
mod budgets;
mod candidates;
mod capability;
mod cause;
mod cells;
mod check;
mod checks;
mod conductivity;
mod control;
mod density;
mod doubt;
mod doubts;
mod exclusion;
mod exemplar;
mod explain;
mod geometry;
mod grid;
mod grounds;
mod lots;
mod method_costs;
mod plan;
mod policy;
mod reach;
mod review_rules;
mod second;
mod simulated;
mod standard;
mod surroundings;
mod survey;
mod tables;
mod trial;
mod type_book;
mod watch;
mod window;

pub use assess::{Declared, Rules, assess};
pub use assessment::{
    Assessment, BudgetLine, Candidate, Check, Construction, ENGINE_VERSION, Outcome, Scope, Standing,
};
pub use budgets::{ReadingBudget, reading_budgets};
pub use capability::{Capability, Held, Simulation, WindowCapability, capability};
pub use cause::{Because, Cause, LearnedValue, OddValue, Remark, Rule};
pub use control::{ControlChart, ControlReading, ControlVerdict, TRUSTED_FROM, control_chart, judge_control};
pub use doubt::{Cost, Damage, Doubt, DoubtKind, Method, Offer, Power};
pub use exclusion::Exclusion;
pub use exemplar::{Exemplar, ExemplarError, PieceSize};
pub use explain::{Explanation, Known, Source, Step, Thing, explain};
pub use lots::{
    Bound, LotAssessment, LotDeclared, LotGap, LotPiece, LotQuantity, LotScreen, LotValue, OddOne, PieceKey,
    Sample, SamplePlan, SharedDoubt, SourcePast, SourceRecord, assess_lot,
};
pub use method_costs::MethodCosts;
pub use plan::{OtherReading, Plan, PlanStep, Remainder};
pub use policy::{Policy, PolicyError, Sampling};
pub use reach::{CoreReach, Model, Proposal, Reach, SolidReach, propose, reach};
pub use review_rules::ReviewRules;
pub use second::{Excluded, Figure, FigureLine, NotToldApart, SecondTestReport};
pub use simulated::{GoodPieces, TrueFace, TruePiece};
pub use standard::Standards;
pub use surroundings::{Neighbour, PlotLimits, Surroundings};
pub use type_book::{
    Compared, Learned, LearnedFigures, PublishedLimits, Taught, TypeBook, TypeBookEntry, TypeBookRules,
    TypeBookUse, entries as type_book_entries, published as published_limits, teaches,
};
pub use watch::WatchRules;
