//! The limits of a specification: what the law, a rule of the trade or the policy allows each reading to be.

use super::policy::Policy;
use crate::evidence::Measurand;
use crate::metrology::conformity::guard_band;
use crate::physics::skin::IACS_100_MS_M;
use crate::physics::wear::worn_off_g;
use crate::quantity::{Conductivity, Fineness, Length, Mass, Quantity};
use crate::reference::{Basis, Catalogue, Mark, Material, Metal, Product, Sourced, Specified};

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
    /// Nominal less what a piece of the type may have lost in circulation.
    Worn { nominal: f64, allowance: f64 },
    /// Nominal less the deviation allowed below.
    Below { nominal: f64, deviation: f64 },
    /// Nominal and the deviation allowed above.
    Above { nominal: f64, deviation: f64 },
    /// Nominal less the least deviation that the instrument can decide; the one allowed is smaller.
    BelowDecided { nominal: f64, deviation: f64 },
    /// Nominal and the least deviation that the instrument can decide; the one allowed is smaller.
    AboveDecided { nominal: f64, deviation: f64 },
    /// The pure metal and 3 %, unless the alloy's own range ends higher.
    PureMetal { pure: f64, own: f64 },
}

impl Way {
    /// Returns the limit.
    pub(super) fn limit(self) -> f64 {
        match self {
            Way::Stated(limit) | Way::LeastCurrent(limit) => limit,
            Way::Worn { nominal, allowance } => nominal - allowance,
            Way::Below { nominal, deviation } | Way::BelowDecided { nominal, deviation } => {
                nominal - deviation
            }
            Way::Above { nominal, deviation } | Way::AboveDecided { nominal, deviation } => {
                nominal + deviation
            }
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
///
/// Tolerance on both sides of the nominal; below it, for a circulated piece, what wear may have taken. A fine content is no
/// limit of the mass: it is judged apart, as value (see [`printed_content`]).
pub(super) fn mass(product: &Product, circulated: bool, policy: &Policy) -> Option<Window> {
    mass_on_scale(product, circulated, policy, 0.0)
}

/// Returns the limits of the gross mass on a scale, in grams: none of them narrower than the scale can decide.
///
/// `u` is the standard uncertainty of the weighing, in grams. A tolerance so narrow that the scale would hold good pieces by
/// its own errors is widened to the least that lets them pass, but never beyond the share that the policy assumes or 0.05 g:
/// a coarser scale cannot decide the window, and says so. See [`decided`].
pub(super) fn mass_on_scale(product: &Product, circulated: bool, policy: &Policy, u: f64) -> Option<Window> {
    if let Some(range) = &product.mass_range {
        let [low, high] = [range.low, range.high].map(|end| Some(Way::Stated(end.as_grams())));
        return Some(Window::of(low, high, range.mark, "range of the rule".to_owned()));
    }
    let mass = product.mass.as_ref()?;
    let nominal = mass.nominal.value.as_grams();
    let mut mark = mass.nominal.mark;
    let mut from = Vec::new();
    let mut deviation = |stated: &Option<Sourced<Mass>>, side: &str| {
        let (allowed, own) = match stated {
            Some(stated) => (stated.value.as_grams(), stated.mark),
            None => (nominal * policy.mass_share, Mark::Assumed),
        };
        mark = mark.max(own);
        from.push(match stated {
            Some(_) => format!("{side} tolerance {own}"),
            None => format!("{side} tolerance assumed: {:.2} % by policy", 100.0 * policy.mass_share),
        });
        let least = decided(u, allowed, policy).min((nominal * policy.mass_share).max(MOST_WIDENED_G));
        if least > allowed {
            from.push(format!("{side} limit as near as the scale decides"));
        }
        (allowed.max(least), least > allowed)
    };
    let upper = match deviation(&mass.plus, "upper") {
        (deviation, true) => Way::AboveDecided { nominal, deviation },
        (deviation, false) => Way::Above { nominal, deviation },
    };
    let mut lower = match deviation(&mass.minus, "lower") {
        (deviation, true) => Way::BelowDecided { nominal, deviation },
        (deviation, false) => Way::Below { nominal, deviation },
    };
    if circulated {
        let (worn, own) = match &product.least_current_mass {
            Some(least) => (Way::LeastCurrent(least.value.as_grams()), least.mark),
            None => {
                let allowance = wear(product, nominal) + guard_band(u, policy.inside).min(MOST_WIDENED_G);
                (Way::Worn { nominal, allowance }, Mark::Assumed)
            }
        };
        // Where the scale decides less than wear takes, a worn piece needs room for both.
        if let Way::BelowDecided { nominal, deviation } = lower
            && worn.limit() >= lower.limit()
        {
            lower = Way::BelowDecided { nominal, deviation: deviation + (nominal - worn.limit()).max(0.0) };
        }
        if worn.limit() < lower.limit() {
            lower = worn;
            mark = mark.max(own);
            from.push(match worn {
                Way::LeastCurrent(_) => format!("legal least weight {own}"),
                _ => "wear assumed".to_owned(),
            });
        }
    }
    Some(Window::of(Some(lower), Some(upper), mark, from.join("; ")))
}

/// Most that a limit is widened for the sake of a scale on a small piece, in grams: what a scale of 0.01 g needs (assumed).
const MOST_WIDENED_G: f64 = 0.05;
/// Good pieces that a limit may hold: 1 in 100 on each side.
const PASSES_99: f64 = 2.326;
/// Standard deviation of what a maker controls, as a share of the deviation allowed on one side: a quarter, the capability
/// index of 1.33 that is customarily asked of a process (ISO 22514, from memory).
pub(super) const SHARE_OF_DEVIATION: f64 = 0.25;

/// Returns the least deviation from the nominal that readings of a standard uncertainty `u` can decide, in their unit: 99 of
/// 100 pieces that scatter within the deviation `allowed` are read inside of it, the guard band included.
fn decided(u: f64, allowed: f64, policy: &Policy) -> f64 {
    guard_band(u, policy.inside) + PASSES_99 * u.hypot(SHARE_OF_DEVIATION * allowed)
}

/// Years that a type with unknown years passed from hand to hand, and the least and the most that count (assumed).
const YEARS: f64 = 25.0;
const LEAST_AND_MOST_YEARS: (f64, f64) = (10.0, 40.0);
/// Most that a piece is expected to lose before it is withdrawn, as a share (assumed).
const MOST_WORN: f64 = 0.05;
/// What a piece without a known outline is expected to lose, as a share (assumed).
const WORN_WITHOUT_OUTLINE: f64 = 0.01;

/// Returns what a circulated piece may have lost where no law sets a least weight, in grams: by its size and its years.
pub(super) fn wear(product: &Product, nominal: f64) -> f64 {
    let years = match (product.year, product.last_struck) {
        (Some(first), Some(last)) => {
            f64::from(last.saturating_sub(first)).clamp(LEAST_AND_MOST_YEARS.0, LEAST_AND_MOST_YEARS.1)
        }
        _ => YEARS,
    };
    let mm = |size: &Option<Specified<Length>>| size.as_ref().map(|size| size.nominal.value.as_millimetres());
    match (mm(&product.diameter), mm(&product.thickness)) {
        (Some(diameter), Some(thickness)) => worn_off_g(diameter, thickness, years).min(MOST_WORN * nominal),
        _ => WORN_WITHOUT_OUTLINE * nominal,
    }
}

/// Returns the fine content that a law or a rule prints for a product, with the deviation allowed below, both in grams.
///
/// `None` where it is only the product of nominal mass and fineness: that guarantees nothing that the mass does not.
pub(super) fn printed_content(product: &Product) -> Option<(f64, f64)> {
    let content = product.fine_content.as_ref().filter(|content| content.nominal.mark != Mark::Calculated)?;
    let below = content.minus.as_ref().map_or(0.0, |minus| minus.value.as_grams());
    Some((content.nominal.value.as_grams(), below))
}

/// Returns the limits of a dimension, in millimetres; `None` where the specification has none or says only what is customary.
///
/// A legal maximum of a diameter or of a side is a nominal with the tolerance on both sides: pieces are made as large as they
/// may be. Of a thickness it only bounds from above, and pieces may stay well below. A minimum likewise.
pub(super) fn dimension(product: &Product, measurand: Measurand, policy: &Policy) -> Option<Window> {
    let (specified, absolute, share) = match measurand {
        Measurand::Diameter => (&product.diameter, policy.diameter, policy.diameter_share),
        Measurand::Length => (&product.length, policy.diameter, policy.diameter_share),
        Measurand::Width => (&product.width, policy.diameter, policy.diameter_share),
        Measurand::Thickness => (&product.thickness, policy.thickness, policy.thickness_share),
        _ => return None,
    };
    let specified: &Specified<Length> = specified.as_ref().filter(|specified| !specified.is_customary())?;
    let nominal = specified.nominal.value.as_millimetres();
    let assumed = absolute.as_millimetres() + share * nominal;
    let mut mark = specified.nominal.mark;
    let mut deviation = |sourced: &Option<Sourced<Length>>| match sourced {
        Some(sourced) => {
            mark = mark.max(sourced.mark);
            sourced.value.as_millimetres()
        }
        None => {
            mark = Mark::Assumed;
            assumed
        }
    };
    let bounded = specified.basis != Basis::Nominal && measurand == Measurand::Thickness;
    let lower = (!bounded || specified.basis == Basis::Minimum)
        .then(|| Way::Below { nominal, deviation: deviation(&specified.minus) });
    let upper = (!bounded || specified.basis == Basis::Maximum)
        .then(|| Way::Above { nominal, deviation: deviation(&specified.plus) });
    let what = match specified.basis {
        Basis::Nominal => "nominal",
        Basis::Maximum => "greatest",
        Basis::Minimum => "least",
    };
    let from = if mark == Mark::Assumed {
        format!("{what} {}; tolerance assumed by policy", specified.nominal.mark)
    } else {
        format!("{what} {}; tolerance {mark}", specified.nominal.mark)
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
