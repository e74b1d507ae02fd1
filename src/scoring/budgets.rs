//! The uncertainty budget of every reading of a piece, whatever scoring may do with the reading.

use super::assess::{Declared, Rules};
use super::assessment::BudgetLine;
use super::budget::{self, Budget};
use super::conductivity::{self, Verdict};
use super::geometry::Geometry;
use crate::evidence::{Amount, Measurand, PieceEvidence};

/// The budget of one reading; of conductivities that of their mean at 20 °C.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadingBudget {
    /// What was read.
    pub measurand: Measurand,
    /// The value that the uncertainty belongs to.
    pub value: Amount,
    /// The combined standard uncertainty, k = 1: the root of the sum of the squares of the lines.
    pub u: Amount,
    /// The lines, in the order in which they were added.
    pub lines: Vec<BudgetLine>,
    /// The instrument, where it is registered.
    pub instrument: Option<String>,
    /// Why the reading counts for nothing, when it does.
    pub void: Option<String>,
}

/// Returns the budgets of all readings in the order in which a desk takes them.
///
/// # Source
/// JCGM 100:2008, 5.1.2 (combination).
pub fn reading_budgets(
    rules: &Rules<'_>,
    declared: &Declared<'_>,
    evidence: &PieceEvidence,
) -> Vec<ReadingBudget> {
    let instruments = rules.instruments;
    let void = |measurand: Measurand| {
        let unproved = evidence.unproved.iter().find(|reading| reading.measurand == measurand);
        unproved.map(|reading| reading.reason.clone())
    };
    let made = |measurand: Measurand, value: f64, budget: Budget| ReadingBudget {
        measurand,
        value: Amount::of(measurand, value),
        u: Amount::of(measurand, budget.u()),
        lines: budget.lines,
        instrument: instruments.name_for(measurand).map(str::to_owned),
        void: void(measurand),
    };
    let mut budgets = Vec::new();
    if let Some(mass) = &evidence.mass {
        let budget = budget::weighing(mass, &instruments.scale);
        budgets.push(made(Measurand::Mass, mass.value.as_grams(), budget));
    }
    let lengths = [
        (Measurand::Diameter, &evidence.diameter),
        (Measurand::Length, &evidence.length),
        (Measurand::Width, &evidence.width),
        (Measurand::Thickness, &evidence.thickness),
    ];
    for (measurand, observation) in lengths {
        let Some(observation) = observation else { continue };
        let budget = budget::length(measurand, observation, instruments.for_length(measurand));
        budgets.push(made(measurand, observation.value.as_millimetres(), budget));
    }
    if !evidence.conductivity.is_empty() {
        let alloy = rules.catalogue.alloy_of(declared.product);
        let geometry =
            Geometry::of(evidence, declared.product, alloy.density.value.as_g_per_cm3(), instruments);
        let reading = conductivity::judge(evidence, alloy, &geometry.outline(), instruments);
        let (usable, reason) = match reading {
            Verdict::Usable(usable) => (usable, None),
            other => {
                let reason = if let Verdict::NotUsable(reason) = other { Some(reason) } else { None };
                (conductivity::measure(evidence, alloy, instruments, Vec::new(), &[]), reason)
            }
        };
        let mut budget = made(Measurand::Conductivity, usable.at_20, usable.budget);
        budget.void = budget.void.or(reason);
        budgets.push(budget);
    }
    if let Some(temperature) = &evidence.temperature {
        let mut budget = Budget::new(Measurand::Temperature);
        let thermometer = &instruments.thermometer;
        let who =
            thermometer.name.as_ref().map_or_else(|| "thermometer".to_owned(), |name| format!("`{name}`"));
        budget.add("thermometer", thermometer.standard_uncertainty.as_kelvin(), &who);
        budgets.push(made(Measurand::Temperature, temperature.value.as_celsius(), budget));
    }
    budgets
}
