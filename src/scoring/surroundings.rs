//! What lies around a product on a plot of a lot: its own limits, and where pieces of other materials would lie.
//!
//! It draws the same limits that a piece is checked against, but it judges nothing: a plot is looked at, the assessment
//! decides. Everything follows from the specification, so that a plot has its axes before the first piece is logged.

use super::policy::Policy;
use super::window;
use crate::evidence::Measurand;
use crate::physics::density::{
    box_volume_mm3, disc_volume_mm3, envelope_density_g_cm3, flat_equivalent_thickness_mm,
    flat_equivalent_thickness_of_box_mm,
};
use crate::quantity::Length;
use crate::reference::{Catalogue, Kind, Magnetism, Material, MaterialId, Product, Shape, Specified};
use std::sync::Arc;

/// Most materials of other metals that are near in density and conductivity, most of the metal itself, and most besides that
/// are near in density alone.
const MOST_OTHERS: usize = 4;
const MOST_ALLOYS: usize = 4;
const MOST_AS_DENSE: usize = 3;
/// How many widths of its own window a material may lie off and is still a neighbour.
const NEAR: f64 = 1.0;
/// Share of the envelope that a bar can fill at most: all of it.
const BAR_FILLS_AT_MOST: f64 = 1.0;

/// Limits of a quantity in its first unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlotLimits {
    /// What is limited.
    pub measurand: Measurand,
    /// Lower limit.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
}

/// A material that a piece could be taken for, and where a solid piece of it would lie.
#[derive(Debug, Clone, PartialEq)]
pub struct Neighbour {
    /// The material.
    pub material: MaterialId,
    /// Its name in words.
    pub name: Arc<str>,
    /// Mass over the volume of the envelope in the shape of the product, in g/cm³.
    pub density: (f64, f64),
    /// Conductivity at 20 °C, in MS/m.
    pub conductivity: (f64, f64),
    /// Thickness with the mass and the outline of the product, in mm; `None` where one of them is not known.
    pub thickness: Option<(f64, f64)>,
}

/// What lies around a product.
#[derive(Debug, Clone, PartialEq)]
pub struct Surroundings {
    /// Limits of the readings, in the order in which a desk takes them.
    pub limits: Vec<PlotLimits>,
    /// Mass over the volume of the envelope that pieces of the product have, in g/cm³.
    pub density: (f64, f64),
    /// Conductivity of pieces of the product at 20 °C, in MS/m.
    pub conductivity: (f64, f64),
    /// Thickness that follows from mass, outline and alloy, in mm, where no limit is specified.
    pub thickness_to_expect: Option<(f64, f64)>,
    /// What is near, the nearest first.
    pub neighbours: Vec<Neighbour>,
    shape: Shape,
    diameter: Option<f64>,
    length: Option<f64>,
    width: Option<f64>,
}

impl Surroundings {
    /// Finds what lies around a product.
    pub fn of(product: &Product, catalogue: &Catalogue, policy: &Policy) -> Self {
        let alloy = catalogue.alloy_of(product);
        let mut limits = Vec::new();
        for measurand in Measurand::ALL {
            let window = match measurand {
                Measurand::Mass => window::mass(product, false, policy),
                Measurand::Conductivity => Some(window::conductivity(product, alloy, catalogue)),
                _ => window::dimension(product, measurand, policy),
            };
            limits.extend(window.map(|window| PlotLimits {
                measurand,
                lower: window.lower,
                upper: window.upper,
            }));
        }
        let nominal = |specified: &Option<Specified<Length>>| {
            specified.as_ref().map(|s| s.nominal.value.as_millimetres())
        };
        let own = density_of(alloy);
        let mut around = Surroundings {
            limits,
            density: own,
            conductivity: range(&alloy.conductivity, |value| value.as_ms_per_m()),
            thickness_to_expect: None,
            neighbours: Vec::new(),
            shape: product.shape,
            diameter: nominal(&product.diameter),
            length: nominal(&product.length),
            width: nominal(&product.width),
        };
        if let Some(PlotLimits { lower: Some(lower), upper: Some(upper), .. }) =
            around.limits_of(Measurand::Conductivity)
        {
            around.conductivity = (lower, upper);
        }
        let fill = around.fill_from_limits(own).unwrap_or(match product.kind {
            Kind::Coin => (policy.fill_least, policy.fill_greatest),
            Kind::Bar => (policy.fill_least, BAR_FILLS_AT_MOST),
        });
        around.density = filled(own, fill);
        if around.limits_of(Measurand::Thickness).is_none() {
            around.thickness_to_expect = around.thickness_with(own, fill);
        }
        around.neighbours = around.near(catalogue, alloy, fill);
        around
    }

    /// Returns the limits of a reading, where the specification has any.
    pub fn limits_of(&self, measurand: Measurand) -> Option<PlotLimits> {
        self.limits.iter().find(|limits| limits.measurand == measurand).copied()
    }

    /// Returns mass over the volume of the envelope of a piece, in g/cm³; `None` where a reading is missing.
    ///
    /// `value_of`: readings in g and mm. The outline is completed by the specification, the thickness never.
    pub fn envelope_density(&self, value_of: impl Fn(Measurand) -> Option<f64>) -> Option<f64> {
        let of =
            |measurand, nominal: Option<f64>| value_of(measurand).or(nominal).filter(|value| *value > 0.0);
        let thickness = of(Measurand::Thickness, None)?;
        let volume = match self.shape {
            Shape::Round => disc_volume_mm3(of(Measurand::Diameter, self.diameter)?, thickness),
            Shape::Rectangular | Shape::Cast => box_volume_mm3(
                of(Measurand::Length, self.length)?,
                of(Measurand::Width, self.width)?,
                thickness,
            ),
        };
        Some(envelope_density_g_cm3(of(Measurand::Mass, None)?, volume))
    }

    /// Returns the share of its envelope that a piece fills, from limits of mass and of every dimension.
    fn fill_from_limits(&self, density: (f64, f64)) -> Option<(f64, f64)> {
        let both = |measurand| {
            let limits = self.limits_of(measurand)?;
            limits.lower.zip(limits.upper).filter(|(lower, _)| *lower > 0.0)
        };
        let mass = both(Measurand::Mass)?;
        let thickness = both(Measurand::Thickness)?;
        let volume = |least: bool| {
            let end = |(lower, upper): (f64, f64)| if least { lower } else { upper };
            Some(match self.shape {
                Shape::Round => disc_volume_mm3(end(both(Measurand::Diameter)?), end(thickness)),
                Shape::Rectangular | Shape::Cast => box_volume_mm3(
                    end(both(Measurand::Length)?),
                    end(both(Measurand::Width)?),
                    end(thickness),
                ),
            })
        };
        let least = envelope_density_g_cm3(mass.0, volume(false)?) / density.1;
        let greatest = envelope_density_g_cm3(mass.1, volume(true)?) / density.0;
        Some((least.min(1.0), greatest.min(1.0)))
    }

    /// Returns the thickness of a piece of a density with the mass and the outline of the product, in mm.
    fn thickness_with(&self, density: (f64, f64), fill: (f64, f64)) -> Option<(f64, f64)> {
        let mass = self.limits_of(Measurand::Mass)?;
        let flat = |mass: f64, density: f64| {
            let flat = match self.shape {
                Shape::Round => flat_equivalent_thickness_mm(mass, self.diameter?, density),
                Shape::Rectangular | Shape::Cast => {
                    flat_equivalent_thickness_of_box_mm(mass, self.length?, self.width?, density)
                }
            };
            Some(flat)
        };
        Some((flat(mass.lower?, density.1)? / fill.1, flat(mass.upper?, density.0)? / fill.0))
    }

    /// Returns the materials that lie near the product: other metals that neither mass and outline nor conductivity tell from
    /// it at once, then such alloys of its own metal, then what mass and outline do not tell; each time the nearest first.
    fn near(&self, catalogue: &Catalogue, alloy: &Material, fill: (f64, f64)) -> Vec<Neighbour> {
        let middle = |span: (f64, f64)| (span.0 + span.1) / 2.0;
        let apart = |own: (f64, f64), its: (f64, f64)| (middle(its) / middle(own)).ln().abs();
        let (mut others, mut alloys, mut as_dense) = (Vec::new(), Vec::new(), Vec::new());
        for material in catalogue.materials().filter(|material| material.id != alloy.id) {
            // A meter's reading of an attracted metal means nothing, so it lies nowhere.
            if material.magnetism.value == Magnetism::Ferromagnetic {
                continue;
            }
            let density = density_of(material);
            let neighbour = Neighbour {
                material: material.id.clone(),
                name: material.name.clone(),
                density: filled(density, fill),
                conductivity: range(&material.conductivity, |value| value.as_ms_per_m()),
                thickness: self.thickness_with(density, fill),
            };
            let by_density = apart(self.density, neighbour.density);
            if gap(self.density, neighbour.density) > NEAR {
                continue;
            }
            if gap(self.conductivity, neighbour.conductivity) > NEAR {
                as_dense.push((by_density, neighbour));
                continue;
            }
            let group = if material.metal == alloy.metal { &mut alloys } else { &mut others };
            group.push((by_density + apart(self.conductivity, neighbour.conductivity), neighbour));
        }
        let nearest = |mut found: Vec<(f64, Neighbour)>, most: usize| {
            found.sort_by(|(a, _), (b, _)| a.total_cmp(b));
            found.into_iter().take(most).map(|(_, neighbour)| neighbour)
        };
        nearest(others, MOST_OTHERS)
            .chain(nearest(alloys, MOST_ALLOYS))
            .chain(nearest(as_dense, MOST_AS_DENSE))
            .collect()
    }
}

/// Returns the density of a material, in g/cm³.
fn density_of(material: &Material) -> (f64, f64) {
    range(&material.density, |value| value.as_g_per_cm3())
}

fn range<T: Copy>(ranged: &crate::reference::Ranged<T>, number: impl Fn(T) -> f64) -> (f64, f64) {
    (number(ranged.low), number(ranged.high))
}

/// Returns the envelope density of bodies of a density that fill a share of their envelope.
fn filled(density: (f64, f64), fill: (f64, f64)) -> (f64, f64) {
    (density.0 * fill.0, density.1 * fill.1)
}

/// Returns how far a span lies from another, in widths of that other; 0 where they meet.
fn gap(own: (f64, f64), its: (f64, f64)) -> f64 {
    let width = (own.1 - own.0).max(f64::MIN_POSITIVE);
    ((its.0 - own.1).max(own.0 - its.1) / width).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn around(id: &str) -> Surroundings {
        let catalogue = Catalogue::embedded();
        let product = catalogue.product(id).expect("a product of the reference");
        Surroundings::of(product, catalogue, &Policy::built_in())
    }

    #[test]
    fn the_limits_are_those_that_a_piece_is_checked_against() {
        // 31 U.S.C. 5112(a)(7): 33.931 g and 32.7 mm; half a percent is allowed by policy.
        let around = around("us-5112-a7");
        let mass = around.limits_of(Measurand::Mass).unwrap();
        assert!((mass.lower.unwrap() - 33.931 * 0.995).abs() < 0.002);
        assert!(33.931 < mass.upper.unwrap());
        let diameter = around.limits_of(Measurand::Diameter).unwrap();
        assert!(diameter.lower.unwrap() < 32.7 && 32.7 < diameter.upper.unwrap());
        assert_eq!(around.limits_of(Measurand::Temperature), None);
    }

    #[test]
    fn the_envelope_density_is_mass_over_the_disc_around_the_piece() {
        let around = around("us-5112-a7");
        // 33.93 g over π/4 · 32.7² · 2.87 mm³ = 2410.3 mm³: 14.077 g/cm³.
        let value_of = |measurand| match measurand {
            Measurand::Mass => Some(33.93),
            Measurand::Diameter => Some(32.7),
            Measurand::Thickness => Some(2.87),
            _ => None,
        };
        let density = around.envelope_density(value_of).unwrap();
        assert!((density - 14.077).abs() < 0.001, "{density}");
        // The diameter may come from the statute, the thickness never.
        let without = |left: Measurand| {
            around.envelope_density(|measurand| value_of(measurand).filter(|_| measurand != left))
        };
        assert!((without(Measurand::Diameter).unwrap() - 14.077).abs() < 0.001);
        assert_eq!(without(Measurand::Thickness), None);
        assert_eq!(without(Measurand::Mass), None);
    }

    #[test]
    fn what_is_as_dense_and_conducts_as_well_is_near_and_the_rest_is_not() {
        let around = around("us-5112-a7");
        assert!(
            !around.neighbours.is_empty()
                && around.neighbours.len() <= MOST_OTHERS + MOST_ALLOYS + MOST_AS_DENSE
        );
        for neighbour in &around.neighbours {
            assert!(gap(around.density, neighbour.density) <= NEAR, "{}", neighbour.name);
        }
        let ids: Vec<&str> = around.neighbours.iter().map(|neighbour| neighbour.material.as_str()).collect();
        // Aluminium is a seventh as dense.
        assert!(!ids.contains(&"Al"), "{ids:?}");
        // Tungsten is as dense as gold and conducts otherwise: no scale tells it from a gold bar.
        let bar = self::around("bar-gold-9999-1ozt");
        assert!(bar.neighbours.iter().any(|neighbour| neighbour.material.as_str() == "W"));
    }

    #[test]
    fn a_lighter_metal_of_the_same_mass_and_outline_is_thicker() {
        for product in Catalogue::embedded().products() {
            let around = Surroundings::of(product, Catalogue::embedded(), &Policy::built_in());
            assert!(around.density.0 > 0.0 && around.density.0 < around.density.1, "{}", product.id);
            assert!(around.conductivity.0 < around.conductivity.1, "{}", product.id);
            let mut by_density: Vec<_> = around.neighbours.iter().collect();
            by_density.sort_by(|a, b| a.density.0.total_cmp(&b.density.0));
            for pair in by_density.windows(2) {
                if let [Some(lighter), Some(denser)] = [pair[0].thickness, pair[1].thickness] {
                    assert!(lighter.1 >= denser.1, "{}: {} {}", product.id, pair[0].name, pair[1].name);
                }
            }
        }
    }
}
