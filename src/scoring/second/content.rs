//! What a material contains, as far as its family and fineness tell: the reference keeps no full compositions.

use super::prediction::Range;
use crate::reference::{Family, Material, Metal};

/// Returns least and greatest share by mass of a precious metal in a material.
///
/// Of its own metal the published fineness; of another precious metal nothing in base metals and composites, and at most
/// the rest in the alloys of precious metals.
pub(crate) fn content(material: &Material, metal: Metal) -> Range {
    let fineness = material.fineness.as_ref();
    if material.metal == metal {
        return fineness.map_or(Range { low: 0.0, high: 1.0 }, |fineness| Range {
            low: fineness.low.as_share(),
            high: fineness.high.as_share(),
        });
    }
    match material.family {
        Family::Element | Family::BaseAlloy | Family::Composite => Range { low: 0.0, high: 0.0 },
        Family::GoldAlloy | Family::SilverAlloy | Family::PlatinumAlloy => {
            Range { low: 0.0, high: 1.0 - fineness.map_or(0.0, |fineness| fineness.low.as_share()) }
        }
    }
}

/// Returns the symbol of a precious metal.
pub(crate) fn symbol(metal: Metal) -> Option<&'static str> {
    match metal {
        Metal::Gold => Some("Au"),
        Metal::Silver => Some("Ag"),
        Metal::Platinum => Some("Pt"),
        Metal::Palladium => Some("Pd"),
        Metal::Other => None,
    }
}

/// Materials whose id does not begin with the symbol of their main metal, with that metal.
const NAMED_OTHERWISE: [(&str, &str); 5] =
    [("NickelSilver", "Cu"), ("Steel", "Fe"), ("Stainless", "Fe"), ("U-DU", "U"), ("WHA", "W")];

/// Returns the symbol of the element that makes up most of a material.
pub(crate) fn main_element(material: &Material) -> Option<&str> {
    if let Some(symbol) = symbol(material.metal) {
        return Some(symbol);
    }
    let id = material.id.as_str();
    if let Some((_, symbol)) = NAMED_OTHERWISE.iter().find(|(name, _)| *name == id) {
        return Some(symbol);
    }
    let small = id.as_bytes().get(1).is_some_and(u8::is_ascii_lowercase);
    id.get(..if small { 2 } else { 1 })
}

/// Tells whether an element has no place in the trade alloys of a metal (common practice, no source).
pub(crate) fn is_foreign(element: &str, metal: Metal) -> bool {
    let allowed: &[&str] = match metal {
        Metal::Gold => &["Au", "Ag", "Cu", "Zn", "Ni", "Pd", "Pt", "Co", "In", "Ga", "Si", "Be"],
        Metal::Silver => &["Ag", "Cu", "Zn", "Ge", "Ni", "Cd", "Sn", "In", "Au", "Pd", "Si", "Mn"],
        Metal::Platinum => &["Pt", "Pd", "Rh", "Ir", "Ru", "Cu", "Co", "W", "Au", "Ga", "In", "Ni"],
        Metal::Palladium => &["Pd", "Pt", "Ru", "Rh", "Cu", "Ag", "Au", "Ga", "In", "Ni", "Co"],
        Metal::Other => return false,
    };
    !allowed.contains(&element)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reference::Catalogue;

    #[test]
    fn the_main_element_of_every_material_is_a_symbol() {
        let symbols = [
            "Ag", "Au", "Pt", "Pd", "Rh", "Cu", "W", "Mo", "Pb", "Zn", "Sn", "Ni", "Fe", "Al", "Ti", "Ta",
            "Bi", "Re", "Ir", "Os", "U", "Ru",
        ];
        for material in Catalogue::embedded().materials() {
            let symbol = main_element(material).unwrap();
            assert!(symbols.contains(&symbol), "{}: {symbol}", material.id);
        }
        let of = |id: &str| main_element(Catalogue::embedded().material(id).unwrap()).unwrap();
        assert_eq!((of("WC-Co"), of("NiCu30"), of("Au750W"), of("CuZn37")), ("W", "Ni", "Au", "Cu"));
    }
}
