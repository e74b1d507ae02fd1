//! Materials: what a product is made of, and what else a piece could be.

use super::source::{Mark, Ranged, SourceId, Sourced, id, words};
use crate::quantity::{Conductivity, Density, Fineness, Modulus, PerKelvin, Velocity};
use std::fmt;
use std::sync::Arc;

id! {
    /// Names a material, for instance `Au9167Cu`.
    MaterialId
}

words! {
    /// The metal that gives a product or a material its worth.
    Metal {
        /// Gold.
        Gold = "gold",
        /// Silver.
        Silver = "silver",
        /// Platinum.
        Platinum = "platinum",
        /// Palladium.
        Palladium = "palladium",
        /// Anything else; such a material has no fineness.
        Other = "other",
    }
}

words! {
    /// The family of a material; it decides nothing, it only orders lists.
    Family {
        /// A pure metal.
        Element = "element",
        /// An alloy of gold.
        GoldAlloy = "gold-alloy",
        /// An alloy of silver.
        SilverAlloy = "silver-alloy",
        /// An alloy or a trade grade of platinum or palladium.
        PlatinumAlloy = "platinum-alloy",
        /// An alloy without precious metal.
        BaseAlloy = "base-alloy",
        /// Grains of one phase bound by another.
        Composite = "composite",
    }
}

words! {
    /// How a material answers to a hand magnet.
    Magnetism {
        /// Never attracted.
        NonMagnetic = "non-magnetic",
        /// Some grades or states are attracted and others are not: a magnet excludes nothing.
        WeaklyMagnetic = "weakly-magnetic",
        /// Always attracted; an eddy-current reading of it means nothing.
        Ferromagnetic = "ferromagnetic",
    }
}

/// What one source prints for one field of a material.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    /// Name of the field, as in the reference file.
    pub field: String,
    /// The source.
    pub source: SourceId,
    /// The figure as printed, with the conversion if one was needed.
    pub printed: String,
    /// Whether it was read, calculated or recalled.
    pub mark: Mark,
}

/// A metal, an alloy or a composite, with every property the program reasons with.
#[derive(Debug, Clone, PartialEq)]
pub struct Material {
    /// Name by which products refer to it.
    pub id: MaterialId,
    /// Name for people.
    pub name: Arc<str>,
    /// Family, for ordering lists.
    pub family: Family,
    /// The metal of worth, or `Other`.
    pub metal: Metal,
    /// Fineness it stands for, from `low` to `high`; absent for `Other`.
    pub fineness: Option<Ranged<Fineness>>,
    /// Density at 20 °C.
    pub density: Ranged<Density>,
    /// Electrical conductivity at 20 °C.
    pub conductivity: Ranged<Conductivity>,
    /// Temperature coefficient of resistivity about 20 °C, where one is known.
    pub temperature_coefficient: Option<Ranged<PerKelvin>>,
    /// Longitudinal velocity of sound in the bulk.
    pub sound_velocity: Ranged<Velocity>,
    /// Young's modulus.
    pub youngs_modulus: Ranged<Modulus>,
    /// Poisson's ratio, without unit, 0 to 0.5.
    pub poisson_ratio: Ranged<f64>,
    /// Answer to a hand magnet.
    pub magnetism: Sourced<Magnetism>,
    /// Volume susceptibility in SI, without unit, where one is known.
    pub susceptibility: Option<Sourced<f64>>,
    /// What each source prints, field by field.
    pub found: Vec<Found>,
    /// Cautions about the numbers.
    pub notes: String,
}

impl Material {
    /// Tells whether this material is the given metal at that fineness or a higher one.
    ///
    /// Always false for `Other`: base metals have no fineness to compare.
    pub fn is_at_least(&self, metal: Metal, fineness: Fineness) -> bool {
        metal != Metal::Other
            && self.metal == metal
            && self.fineness.as_ref().is_some_and(|own| own.high >= fineness)
    }

    /// Returns what the sources print for one field, in the order of the file.
    pub fn found_for<'a>(&'a self, field: &'a str) -> impl Iterator<Item = &'a Found> {
        self.found.iter().filter(move |found| found.field == field)
    }
}
