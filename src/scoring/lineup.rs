//! Which materials of a catalogue stand in the list of a product, and in which order: the same for every piece of it.

use super::trial::Trial;
use crate::reference::{Family, Material, Metal, Product};

/// Metals so rare and hard to work that nobody puts them under gold or silver for gain; they stay candidates, are listed
/// last and hold nothing (common practice, no source).
const NEVER_USED: [&str; 5] = ["Rh", "Ru", "Ir", "Os", "Re"];

/// One material of the list.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Listed {
    /// Place of the material in the catalogue.
    pub(super) index: usize,
    /// Whether somebody gains by putting it in the place of the declared metal.
    pub(super) gain: bool,
    /// Place among its like: metals that are really used before lower grades of the same metal, what nobody uses last.
    pub(super) class: u8,
    /// Distance of its density from that of the declared alloy, in g/cm³.
    pub(super) density_gap: f64,
}

/// The materials that a piece of one product could be made of instead: metals that are really used first, and in each class those
/// nearest in density, because weight and size see them least.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Lineup {
    pub(super) listed: Vec<Listed>,
}

impl Lineup {
    /// Collects the materials for a product made of an alloy.
    pub(super) fn of<'m>(
        materials: impl Iterator<Item = &'m Material>,
        product: &Product,
        alloy: &Material,
    ) -> Self {
        let own = alloy.density.value.as_g_per_cm3();
        let listed = materials.enumerate().filter(|(_, material)| is_listed(material, product, alloy));
        let listed = listed.map(|(index, material)| {
            let gain = !brings_no_gain(material, product);
            Listed {
                index,
                gain,
                class: if gain { u8::from(material.metal == product.metal) } else { 2 },
                density_gap: (material.density.value.as_g_per_cm3() - own).abs(),
            }
        });
        let mut listed: Vec<Listed> = listed.collect();
        listed.sort_by(|a, b| a.class.cmp(&b.class).then(a.density_gap.total_cmp(&b.density_gap)));
        Lineup { listed }
    }
}

impl Trial<'_> {
    /// Tells whether a material stands in the list at all: not what is declared, nor as good, nor named by another.
    pub(super) fn is_a_suspect(&self, material: &Material) -> bool {
        is_listed(material, self.product, self.alloy)
    }

    /// Tells whether nobody gains by putting the material in the place of the declared metal: it is never used, or it is a
    /// precious metal dearer than silver in the place of silver.
    pub(super) fn brings_no_gain(&self, material: &Material) -> bool {
        brings_no_gain(material, self.product)
    }
}

fn is_listed(material: &Material, product: &Product, alloy: &Material) -> bool {
    let as_good = material.is_at_least(product.metal, product.fineness.nominal.value);
    material.id != alloy.id && !as_good && !is_covered_by_element(material, product)
}

fn brings_no_gain(material: &Material, product: &Product) -> bool {
    let dearer = matches!(material.metal, Metal::Gold | Metal::Platinum | Metal::Palladium);
    NEVER_USED.contains(&material.id.as_str()) || (dearer && product.metal == Metal::Silver)
}

/// Tells whether a material is a trade grade of a pure metal that stands for itself in the list.
fn is_covered_by_element(material: &Material, product: &Product) -> bool {
    let fine = material.fineness.as_ref().is_some_and(|f| f.value.as_share() >= 0.999);
    fine && material.family != Family::Element && material.metal != product.metal
}
