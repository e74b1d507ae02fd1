//! Products: legal or customary specifications of coins and bars.

use super::material::{MaterialId, Metal};
use super::source::{Bounds, Mark, SourceId, Sourced, Specified, id, words};
use crate::quantity::{Fineness, Length, Mass};
use std::fmt;
use std::sync::Arc;

id! {
    /// Names a product, for instance `us-5112-a7` or `bar-gold-9999-100g`.
    ProductId
}

words! {
    /// Whether a product is money or metal.
    Kind {
        /// Struck under a law that gives it a denomination.
        Coin = "coin",
        /// Metal sold by weight.
        Bar = "bar",
    }
}

words! {
    /// The outline of a product.
    Shape {
        /// A disc; it has a diameter.
        Round = "round",
        /// A struck or cut plate with parallel faces; it has length and width.
        Rectangular = "rectangular",
        /// Poured into a mould, with undercut sides; length and width are those of the top.
        Cast = "cast",
    }
}

words! {
    /// Who brought a product into the catalogue.
    Origin {
        /// It came with the program.
        Embedded = "embedded",
        /// The dealer's own file added or overrode it.
        Dealer = "dealer",
    }
}

/// A specification against which pieces are scored.
#[derive(Debug, Clone, PartialEq)]
pub struct Product {
    /// Name by which packing lists refer to it.
    pub id: ProductId,
    /// Coin or bar.
    pub kind: Kind,
    /// Legal denomination or description by weight.
    pub name: String,
    /// Who sets the specification.
    pub authority: String,
    /// Year of the law or of the first issue, where one is known.
    pub year: Option<u16>,
    /// Year in which pieces for circulation were last struck, where that is over and known.
    pub last_struck: Option<u16>,
    /// How the specification as a whole is known.
    pub mark: Mark,
    /// Where the specification as a whole comes from.
    pub sources: Vec<SourceId>,
    /// Who brought it into the catalogue.
    pub origin: Origin,
    /// The metal of worth.
    pub metal: Metal,
    /// The outline.
    pub shape: Shape,
    /// Fineness; basis `Minimum` where the law says "not less than".
    pub fineness: Specified<Fineness>,
    /// The material it is made of; it exists in the same catalogue.
    pub alloy: Sourced<MaterialId>,
    /// Gross mass, where one is set.
    pub mass: Option<Specified<Mass>>,
    /// Gross mass of a product that is weighed bar by bar.
    pub mass_range: Option<Bounds<Mass>>,
    /// Fine content that the law guarantees or states.
    pub fine_content: Option<Specified<Mass>>,
    /// Fine content of a product that is weighed bar by bar.
    pub fine_content_range: Option<Bounds<Mass>>,
    /// Step to which the gross mass of such a bar is rounded down.
    pub weighing_step: Option<Sourced<Mass>>,
    /// Least mass at which a worn piece still passes by law.
    pub least_current_mass: Option<Sourced<Mass>>,
    /// Diameter of a round product.
    pub diameter: Option<Specified<Length>>,
    /// Thickness over the rim, or height of a bar.
    pub thickness: Option<Specified<Length>>,
    /// Length of a bar or of a rectangular coin.
    pub length: Option<Specified<Length>>,
    /// Width of a bar or of a rectangular coin.
    pub width: Option<Specified<Length>>,
    /// What a reader of the numbers should know.
    pub notes: String,
}

/// A type last struck in this year or before comes from circulation unless somebody says otherwise: two generations ago.
/// Common practice, no source.
const STRUCK_GENERATIONS_AGO: u16 = 1970;

impl Product {
    /// Tells whether pieces of this type come from circulation unless somebody says otherwise.
    pub fn is_circulated_by_default(&self) -> bool {
        self.last_struck.is_some_and(|year| year <= STRUCK_GENERATIONS_AGO)
    }

    /// Returns the fine content to expect of a piece of nominal mass.
    ///
    /// The stated content where the specification has one, otherwise mass times fineness, rounded once to a nanogram;
    /// `None` for a product without a mass of its own.
    pub fn nominal_fine_mass(&self) -> Option<Mass> {
        match (&self.fine_content, &self.mass) {
            (Some(stated), _) => Some(stated.nominal.value),
            (None, Some(mass)) => Some(self.fineness.nominal.value.fine_mass(mass.nominal.value)),
            (None, None) => None,
        }
    }
}
