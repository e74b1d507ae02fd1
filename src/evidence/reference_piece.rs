//! Reference pieces: what an instrument is checked on.

use super::{Amount, InstrumentKind, Measurand};
use crate::reference::MaterialId;

/// A piece with an assigned value.
#[derive(Debug, Clone, PartialEq)]
pub struct ReferencePiece {
    /// Name on the desk.
    pub name: String,
    /// What it is made of; needed to refer a conductivity to 20 °C.
    pub material: Option<MaterialId>,
    /// The assigned value: a mass, a length or a conductivity at 20 °C.
    pub assigned: Amount,
    /// Expanded uncertainty U of the assigned value.
    pub expanded: Amount,
    /// Coverage factor k of that U.
    pub k: f64,
    /// Number of its certificate, as typed.
    pub certificate: String,
    /// Date of its certificate, as typed.
    pub date: String,
    /// Instruments that are checked on it; empty for every instrument of its quantity.
    pub checks: Vec<String>,
}

impl ReferencePiece {
    /// Tells whether an instrument is checked on this piece.
    pub fn is_for(&self, kind: InstrumentKind, name: &str) -> bool {
        let quantity = match self.assigned.measurand {
            Measurand::Mass => kind == InstrumentKind::Scale,
            Measurand::Conductivity => kind == InstrumentKind::Meter,
            _ => matches!(kind, InstrumentKind::Calliper | InstrumentKind::Micrometer),
        };
        quantity && (self.checks.is_empty() || self.checks.iter().any(|checked| same(checked, name)))
    }
}

/// Tells whether two names mean the same instrument.
pub(super) fn same(one: &str, other: &str) -> bool {
    one.trim().to_lowercase() == other.trim().to_lowercase()
}
