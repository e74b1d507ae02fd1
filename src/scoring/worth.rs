//! What a core or a lower fineness displaces in money, and whom that concerns.

use super::assessment::Scope;
use super::policy::Policy;
use crate::quantity::Mass;
use crate::reference::{Material, Product};

/// Share of the volume below which a core counts for nothing while no price is known.
const LEAST_SHARE: f64 = 0.05;

/// What decides whom a displaced value concerns.
pub(super) struct Limits {
    /// Above it, in the policy's currency, the value concerns the piece.
    piece: f64,
    /// Above it, over all pieces, it concerns the lot.
    lot: f64,
    pieces: f64,
}

impl Limits {
    pub(super) fn of(policy: &Policy, lot_size: u32) -> Self {
        Limits {
            piece: policy.displaced_piece.as_f64(),
            lot: policy.displaced_lot.as_f64(),
            pieces: f64::from(lot_size),
        }
    }

    /// Returns whom a displaced value concerns; without a price it concerns the piece.
    pub(super) fn concerns(&self, displaced: Option<f64>) -> Option<Scope> {
        let Some(displaced) = displaced else { return Some(Scope::Piece) };
        if displaced > self.piece {
            Some(Scope::Piece)
        } else if displaced * self.pieces > self.lot {
            Some(Scope::Lot)
        } else {
            None
        }
    }

    /// Returns whom a surviving core concerns: unpriced, every core that is not negligible concerns the piece.
    pub(super) fn concerns_core(&self, displaced: Option<f64>, share: f64) -> Option<Scope> {
        match displaced {
            Some(_) => self.concerns(displaced),
            None => (share >= LEAST_SHARE).then_some(Scope::Piece),
        }
    }
}

/// What a body with some share of one material displaces.
pub(super) struct Displacement {
    /// Mass of the piece in grams.
    pub(super) mass: f64,
    /// Densities in g/cm³.
    pub(super) core: f64,
    pub(super) skin: f64,
    /// Fineness that a body of the other material lacks, as a share.
    pub(super) missing: f64,
    /// Price of a troy ounce of fine metal.
    pub(super) price: f64,
}

impl Displacement {
    /// Prepares the sum for one material; `mass` in grams, `price` of a troy ounce of fine metal.
    pub(super) fn of(
        mass: f64,
        price: f64,
        product: &Product,
        alloy: &Material,
        material: &Material,
    ) -> Self {
        let own = if material.metal == product.metal {
            material.fineness.as_ref().map_or(0.0, |fineness| fineness.value.as_share())
        } else {
            0.0
        };
        Displacement {
            mass,
            core: material.density.value.as_g_per_cm3(),
            skin: alloy.density.value.as_g_per_cm3(),
            missing: (product.fineness.nominal.value.as_share() - own).max(0.0),
            price,
        }
    }

    /// Returns the value that a share of the volume displaces, in the price's currency.
    pub(super) fn at(&self, share: f64) -> f64 {
        let core = self.core * share;
        let skin = self.skin * (1.0 - share);
        self.mass * core / (core + skin) * self.missing / Mass::TROY_OUNCE.as_grams() * self.price
    }
}
