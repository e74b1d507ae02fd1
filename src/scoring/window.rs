//! The limits of a specification: what the law, a rule of the trade or the policy allows each reading to be.

use super::policy::Policy;
use crate::evidence::Measurand;
use crate::physics::skin::IACS_100_MS_M;
use crate::quantity::{Conductivity, Fineness, Length, Mass, Quantity};
use crate::reference::{Basis, Catalogue, Mark, Material, Metal, Product, Specified};

/// Fineness from which an alloy counts as fine metal: its upper limit is that of the pure metal.
const FINE_PER_MILLE: f64 = 995.0;
/// What the upper limit of fine metal stands above the pure metal's conductivity.
pub(super) const FINE_METAL_MARGIN: f64 = 0.03;

/// Limits of one measurand in its first unit, with where they come from.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Window {
    pub(super) lower: Option<f64>,
    pub(super) upper: Option<f64>,
    pub(super) mark: Mark,
    pub(super) from: String,
    /// How the lower and the upper limit follow from the specification.
    pub(super) ways: [Option<Way>; 2],
}

/// How a limit follows from the specification, in the first unit of its measurand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Way {
    /// It is written as it is.
    Stated(f64),
    /// The least weight at which the law lets a worn piece pass.
    LeastCurrent(f64),
    /// Nominal less the deviation allowed below.
    Below { nominal: f64, deviation: f64 },
    /// Nominal and the deviation allowed above.
    Above { nominal: f64, deviation: f64 },
    /// Guaranteed fine content, less its deviation, over the fineness.
    FineContent { content: f64, deviation: f64, fineness: f64 },
    /// The pure metal and 3 %, unless the alloy's own range ends higher.
    PureMetal { pure: f64, own: f64 },
}

impl Way {
    /// Returns the limit.
    pub(super) fn limit(self) -> f64 {
        match self {
            Way::Stated(limit) | Way::LeastCurrent(limit) => limit,
            Way::Below { nominal, deviation } => nominal - deviation,
            Way::Above { nominal, deviation } => nominal + deviation,
            Way::FineContent { content, deviation, fineness } => (content - deviation) / fineness,
            Way::PureMetal { pure, own } => own.max(pure * (1.0 + FINE_METAL_MARGIN)),
        }
    }
}

impl Window {
    /// Makes limits from the ways that lead to them.
    pub(super) fn of(lower: Option<Way>, upper: Option<Way>, mark: Mark, from: String) -> Self {
        Window {
            lower: lower.map(Way::limit),
            upper: upper.map(Way::limit),
            mark,
            from,
            ways: [lower, upper],
        }
    }
}

/// Returns the limits of the gross mass, in grams; `None` for a product that is weighed piece by piece.
pub(super) fn mass(product: &Product, circulated: bool, policy: &Policy) -> Option<Window> {
    if let Some(range) = &product.mass_range {
        let [low, high] = [range.low, range.high].map(|end| Some(Way::Stated(end.as_grams())));
        return Some(Window::of(low, high, range.mark, "range of the rule".to_owned()));
    }
    let mass = product.mass.as_ref()?;
    let nominal = mass.nominal.value.as_grams();
    let assumed = nominal * policy.mass_share;
    let mut mark = mass.nominal.mark;
    let mut from = Vec::new();
    let mut limit =
        |deviation: &Option<crate::reference::Sourced<Mass>>, side: &str, mark: &mut Mark| match deviation {
            Some(deviation) => {
                *mark = (*mark).max(deviation.mark);
                from.push(format!("{side} tolerance {}", deviation.mark));
                deviation.value.as_grams()
            }
            None => {
                *mark = (*mark).max(Mark::Assumed);
                from.push(format!("{side} tolerance assumed: {:.2} % by policy", 100.0 * policy.mass_share));
                assumed
            }
        };
    let upper = Way::Above { nominal, deviation: limit(&mass.plus, "upper", &mut mark) };
    let worn = product.least_current_mass.as_ref().filter(|_| circulated);
    let guaranteed = product.fine_content.as_ref().filter(|_| mass.minus.is_none());
    let lower = if let Some(least) = worn {
        mark = mark.max(least.mark);
        from.push(format!("legal least weight {}", least.mark));
        Way::LeastCurrent(least.value.as_grams())
    } else if let Some(content) = guaranteed {
        let deviation = content.minus.as_ref().map_or(0.0, |minus| minus.value.as_grams());
        mark = mark.max(content.nominal.mark);
        from.push(format!("lower limit: guaranteed fine content ÷ fineness, {}", content.nominal.mark));
        let (content, fineness) =
            (content.nominal.value.as_grams(), product.fineness.nominal.value.as_share());
        Way::FineContent { content, deviation, fineness }
    } else {
        Way::Below { nominal, deviation: limit(&mass.minus, "lower", &mut mark) }
    };
    Some(Window::of(Some(lower), Some(upper), mark, from.join("; ")))
}

/// Returns the limits of a dimension, in millimetres; `None` where the specification has none.
pub(super) fn dimension(product: &Product, measurand: Measurand, policy: &Policy) -> Option<Window> {
    let (specified, absolute, share) = match measurand {
        Measurand::Diameter => (&product.diameter, policy.diameter, policy.diameter_share),
        Measurand::Length => (&product.length, policy.diameter, policy.diameter_share),
        Measurand::Width => (&product.width, policy.diameter, policy.diameter_share),
        Measurand::Thickness => (&product.thickness, policy.thickness, policy.thickness_share),
        _ => return None,
    };
    let specified: &Specified<Length> = specified.as_ref()?;
    let nominal = specified.nominal.value.as_millimetres();
    let assumed = absolute.as_millimetres() + share * nominal;
    let mut mark = specified.nominal.mark;
    let mut deviation = |sourced: &Option<crate::reference::Sourced<Length>>| match sourced {
        Some(sourced) => {
            mark = mark.max(sourced.mark);
            sourced.value.as_millimetres()
        }
        None => {
            mark = Mark::Assumed;
            assumed
        }
    };
    let (lower, upper) = match specified.basis {
        Basis::Nominal => {
            let lower = Way::Below { nominal, deviation: deviation(&specified.minus) };
            (Some(lower), Some(Way::Above { nominal, deviation: deviation(&specified.plus) }))
        }
        Basis::Maximum => {
            let deviation = specified.plus.as_ref().map_or(0.0, |plus| plus.value.as_millimetres());
            (None, Some(Way::Above { nominal, deviation }))
        }
        Basis::Minimum => {
            let deviation = specified.minus.as_ref().map_or(0.0, |minus| minus.value.as_millimetres());
            (Some(Way::Below { nominal, deviation }), None)
        }
    };
    let from = if mark == Mark::Assumed {
        format!("nominal {}; tolerance assumed by policy", specified.nominal.mark)
    } else {
        format!("nominal {}; tolerance {mark}", specified.nominal.mark)
    };
    Some(Window::of(lower, upper, mark, from))
}

/// Returns the limits of the conductivity at 20 °C, in MS/m, from the range of the alloy.
///
/// Fineness is a minimum: a fine-metal window reaches up to the pure metal plus 3 %, so a 999 piece that reads like 999.9
/// is inside.
pub(super) fn conductivity(product: &Product, alloy: &Material, catalogue: &Catalogue) -> Window {
    let range = &alloy.conductivity;
    let low = range.low.as_ms_per_m();
    let high = range.high.as_ms_per_m();
    let pure = is_fine(product.fineness.nominal.value)
        .then(|| pure_conductivity(product.metal, catalogue))
        .flatten();
    let upper = match pure {
        Some(pure) => Way::PureMetal { pure: pure.as_ms_per_m(), own: high },
        None => Way::Stated(high),
    };
    let from = match pure {
        Some(_) => format!("{}: range {}; upper limit pure metal + 3 %", alloy.name, range.range_mark),
        None => format!("{}: range {}", alloy.name, range.range_mark),
    };
    let limit = upper.limit();
    debug_assert!(low <= limit && limit < 2.0 * IACS_100_MS_M, "a conductivity window of metal");
    Window::of(Some(Way::Stated(low)), Some(upper), range.mark.max(range.range_mark), from)
}

/// Tells whether a fineness counts as fine metal.
pub(super) fn is_fine(fineness: Fineness) -> bool {
    fineness >= Fineness::from_per_mille(FINE_PER_MILLE)
}

/// Returns the conductivity of the pure metal.
fn pure_conductivity(metal: Metal, catalogue: &Catalogue) -> Option<Conductivity> {
    let id = match metal {
        Metal::Gold => "Au",
        Metal::Silver => "Ag",
        Metal::Platinum => "Pt",
        Metal::Palladium => "Pd",
        Metal::Other => return None,
    };
    catalogue.material(id).map(|material| material.conductivity.value).filter(|value| value.base() > 0)
}
