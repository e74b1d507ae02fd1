//! One value as an instrument showed it.

use crate::quantity::{Entry, Quantity};
use serde::{Deserialize, Serialize};

/// A value, the step of its last digit, and a standard uncertainty where somebody stated one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Observation<Q> {
    /// The value as shown.
    pub value: Q,
    /// One unit of the last digit shown.
    pub step: Q,
    /// Standard uncertainty (k = 1) stated by the operator; `None` lets the instrument's own data decide.
    pub stated: Option<Q>,
}

impl<Q: Quantity> Observation<Q> {
    /// Makes an observation from a typed entry.
    pub fn of(entry: &Entry<Q>) -> Self {
        Observation { value: entry.value, step: entry.step(), stated: None }
    }

    /// Makes an observation from the integers of the book.
    pub fn from_base(value: i64, step: i64) -> Self {
        Observation { value: Q::from_base(value), step: Q::from_base(step.max(1)), stated: None }
    }

    /// Adds a stated standard uncertainty.
    pub fn with_stated(self, stated: Option<Q>) -> Self {
        Observation { stated, ..self }
    }
}
