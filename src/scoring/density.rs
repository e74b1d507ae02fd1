//! Density from size: an envelope bounds it, and the type of a piece says how much of its envelope it fills.
//!
//! Pieces of one struck type share their dies, so they share their fill: with the nominal mass, diameter and thickness of the type,
//! F0 = m0 / (V0 ρ0), and a piece of mass m in an envelope V has the density m / (V F0).

use super::assess::Declared;
use super::geometry::{Geometry, Measured};
use super::policy::Policy;
use crate::physics::density::{box_volume_mm3, disc_volume_mm3, envelope_density_g_cm3};
use crate::quantity::Length;
use crate::reference::{Basis, Mark, Material, Product, Shape, Specified};

/// How much of their envelope the pieces of a type fill.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TypeFill {
    /// Share of the envelope.
    pub(super) fill: f64,
    /// Standard deviation between pieces, as a share of the fill.
    pub(super) scatter: f64,
}

/// Share within which a type book's centre of the fill counts; it replaces what is assumed between pieces.
const LEAST_SCATTER: f64 = 0.003;

impl TypeFill {
    /// Returns the fill of a type: as released pieces taught it, else from nominal sizes that somebody states.
    pub(super) fn of(declared: &Declared<'_>, alloy: &Material, policy: &Policy, worn: bool) -> Option<Self> {
        let product = declared.product;
        let watch = &policy.watch;
        let scatter = if worn { watch.fill_scatter_worn } else { watch.fill_scatter };
        if let Some((fill, learned)) = declared.type_book.and_then(|book| book.fill(policy.type_book.least)) {
            return Some(TypeFill { fill, scatter: (learned / fill).max(LEAST_SCATTER) });
        }
        let fill = nominal_fill(product, alloy.density.value.as_g_per_cm3())?;
        Some(TypeFill { fill, scatter })
    }
}

/// Returns the share of its envelope that a piece exactly as specified fills; `None` where a size is not stated, is assumed or a legal bound, or where
/// poured bars have no fixed size.
fn nominal_fill(product: &Product, density: f64) -> Option<f64> {
    if product.shape == Shape::Cast {
        return None;
    }
    let stated = |size: &Option<Specified<Length>>| {
        let Specified { nominal, basis, .. } = size.as_ref()?;
        (nominal.mark != Mark::Assumed && *basis == Basis::Nominal).then(|| nominal.value.as_millimetres())
    };
    let thickness = stated(&product.thickness)?;
    let volume = match product.shape {
        Shape::Round => disc_volume_mm3(stated(&product.diameter)?, thickness),
        Shape::Rectangular | Shape::Cast => {
            box_volume_mm3(stated(&product.length)?, stated(&product.width)?, thickness)
        }
    };
    let mass = product.mass.as_ref()?.nominal.value.as_grams();
    Some(envelope_density_g_cm3(mass, volume) / density)
}

/// Returns the density of a piece by its size and the fill of its type, in g/cm³; `None` where mass or thickness was not measured.
pub(super) fn density_of(geometry: &Geometry, fill: &TypeFill) -> Option<Measured> {
    let envelope = geometry.envelope_density?;
    let value = envelope.value / fill.fill;
    Some(Measured { value, u: value * (envelope.u / envelope.value).hypot(fill.scatter) })
}
