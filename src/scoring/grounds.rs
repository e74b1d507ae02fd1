//! What an assessment starts from: the readings that count, the declared alloy, the outline, and the conductivity made ready.

use super::assess::{Declared, Rules};
use super::conductivity::{self, Verdict};
use super::geometry::Geometry;
use super::trial::Trial;
use crate::evidence::PieceEvidence;
use crate::quantity::Money;
use crate::reference::Material;
use std::borrow::Cow;

/// What an assessment starts from.
pub(super) struct Grounds<'a> {
    /// The readings behind which a proved instrument stands.
    pub(super) evidence: Cow<'a, PieceEvidence>,
    /// The alloy of the product.
    pub(super) alloy: &'a Material,
    /// Place of the alloy in the catalogue.
    alloy_index: usize,
    pub(super) geometry: Geometry,
    /// What became of the conductivity readings.
    pub(super) reading: Verdict,
    /// Price of a troy ounce of fine metal, where it is one in the currency of the policy.
    pub(super) price: Option<Money>,
}

impl<'a> Grounds<'a> {
    /// Takes what counts of a piece.
    ///
    /// What no instrument stands behind counts for nothing: it neither clears, nor excludes, nor refuses.
    pub(super) fn of(rules: &Rules<'a>, declared: &Declared<'a>, given: &'a PieceEvidence) -> Self {
        let evidence = given.proved();
        let alloy = rules.catalogue.alloy_of(declared.product);
        let alloy_index =
            rules.catalogue.materials().position(|material| material.id == alloy.id).unwrap_or_default();
        let density = alloy.density.value.as_g_per_cm3();
        let geometry = Geometry::of(&evidence, declared.product, density, rules.instruments);
        let reading = conductivity::judge(&evidence, alloy, &geometry.outline(), rules.instruments);
        let price = declared.price.filter(|price| price.currency == rules.policy.currency);
        Grounds { evidence, alloy, alloy_index, geometry, reading, price }
    }

    /// Returns everything that candidates are compared with.
    pub(super) fn trial<'t>(&'t self, rules: &Rules<'t>, declared: &Declared<'t>) -> Trial<'t> {
        Trial {
            catalogue: rules.catalogue,
            product: declared.product,
            alloy: self.alloy,
            policy: rules.policy,
            tables: &rules.standards.tables,
            evidence: &self.evidence,
            geometry: &self.geometry,
            instruments: rules.instruments,
            alloy_index: self.alloy_index,
            conductivity: self.reading.measured(),
            lot_size: declared.lot_size.max(1),
        }
    }
}
