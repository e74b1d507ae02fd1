//! What the reference lacks: how each field is known, over every product and material.
//!
//! What it is for: telling a desk which numbers its verdicts rest on and where a document would help most. What it must
//! never do: call a number known that only stands in for one. Read next: [`super::source`].

use super::catalogue::Catalogue;
use super::material::Material;
use super::product::{Kind, Product, Shape};
use super::source::{Mark, words};
use std::fmt;

words! {
    /// A field of a product or of a material, by what its lack costs.
    Field {
        /// Gross mass of a product.
        Mass = "mass",
        /// Deviation of the mass that a source allows.
        MassTolerance = "mass tolerance",
        /// Least weight of a type that comes from circulation.
        LeastWeight = "least current weight",
        /// Diameter of a round product.
        Diameter = "diameter",
        /// Thickness of a coin.
        CoinThickness = "thickness of coins",
        /// Length, width and thickness of a bar, by the weakest of them.
        BarSize = "size of bars",
        /// The material a product is made of.
        Alloy = "alloy",
        /// Density of a material.
        Density = "density",
        /// Conductivity of a material.
        Conductivity = "conductivity",
        /// Temperature coefficient of a material.
        TemperatureCoefficient = "temperature coefficient",
        /// Velocity of sound in a material.
        SoundVelocity = "sound velocity",
        /// Young's modulus of a material.
        YoungsModulus = "young's modulus",
        /// Poisson's ratio of a material.
        PoissonRatio = "poisson's ratio",
    }
}

/// Every field, those of products first.
const FIELDS: [Field; 13] = [
    Field::Mass,
    Field::MassTolerance,
    Field::LeastWeight,
    Field::Diameter,
    Field::CoinThickness,
    Field::BarSize,
    Field::Alloy,
    Field::Density,
    Field::Conductivity,
    Field::TemperatureCoefficient,
    Field::SoundVelocity,
    Field::YoungsModulus,
    Field::PoissonRatio,
];

/// How one field is known over all records that have such a field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FieldGaps {
    /// The field.
    pub field: Field,
    /// Records by mark, in the order of [`Mark::WORDS`].
    pub known: [usize; Mark::WORDS.len()],
    /// Ids of the records in which it is missing.
    pub missing: Vec<String>,
    /// Ids of the records in which it is only assumed.
    pub assumed: Vec<String>,
}

impl FieldGaps {
    /// Returns the records that have such a field.
    pub fn records(&self) -> usize {
        self.known.iter().sum::<usize>() + self.missing.len()
    }

    /// Returns the records in which a verdict cannot rest on the field: missing or assumed.
    pub fn without(&self) -> usize {
        self.missing.len() + self.assumed.len()
    }
}

/// Counts how each field is known over the whole catalogue.
pub fn gaps(catalogue: &Catalogue) -> Vec<FieldGaps> {
    FIELDS
        .into_iter()
        .map(|field| {
            let mut gaps =
                FieldGaps { field, known: [0; Mark::WORDS.len()], missing: Vec::new(), assumed: Vec::new() };
            for product in catalogue.products() {
                if let Some(mark) = of_product(field, product) {
                    count(&mut gaps, product.id.as_str(), mark);
                }
            }
            for material in catalogue.materials() {
                if let Some(mark) = of_material(field, material) {
                    count(&mut gaps, material.id.as_str(), mark);
                }
            }
            gaps
        })
        .collect()
}

fn count(gaps: &mut FieldGaps, id: &str, mark: Option<Mark>) {
    match mark {
        Some(mark) => {
            gaps.known[mark as usize] += 1;
            if mark == Mark::Assumed {
                gaps.assumed.push(id.to_owned());
            }
        }
        None => gaps.missing.push(id.to_owned()),
    }
}

/// Returns how a field of a product is known, `Some(None)` when it is missing; `None` when the product has no such field.
fn of_product(field: Field, product: &Product) -> Option<Option<Mark>> {
    let round = product.shape == Shape::Round;
    let mass = product.mass.as_ref();
    Some(match field {
        Field::Mass => {
            mass.map(|mass| mass.nominal.mark).or(product.mass_range.as_ref().map(|range| range.mark))
        }
        Field::MassTolerance => {
            mass?.minus.as_ref().zip(mass?.plus.as_ref()).map(|(a, b)| a.mark.max(b.mark))
        }
        Field::LeastWeight => {
            product.is_circulated_by_default().then_some(())?;
            product.least_current_mass.as_ref().map(|least| least.mark)
        }
        Field::Diameter => {
            round.then_some(())?;
            product.diameter.as_ref().map(|size| size.nominal.mark)
        }
        Field::CoinThickness => {
            (product.kind == Kind::Coin).then_some(())?;
            product.thickness.as_ref().map(|size| size.nominal.mark)
        }
        Field::BarSize => {
            (product.kind == Kind::Bar && !round).then_some(())?;
            let sizes = [&product.length, &product.width, &product.thickness];
            let marks: Option<Vec<Mark>> =
                sizes.iter().map(|size| size.as_ref().map(|size| size.nominal.mark)).collect();
            marks.and_then(|marks| marks.into_iter().max())
        }
        Field::Alloy => Some(product.alloy.mark),
        _ => return None,
    })
}

/// Returns how a field of a material is known, as [`of_product`] does.
fn of_material(field: Field, material: &Material) -> Option<Option<Mark>> {
    Some(match field {
        Field::Density => Some(material.density.mark),
        Field::Conductivity => Some(material.conductivity.mark),
        Field::TemperatureCoefficient => material.temperature_coefficient.as_ref().map(|found| found.mark),
        Field::SoundVelocity => Some(material.sound_velocity.mark),
        Field::YoungsModulus => Some(material.youngs_modulus.mark),
        Field::PoissonRatio => Some(material.poisson_ratio.mark),
        _ => return None,
    })
}
