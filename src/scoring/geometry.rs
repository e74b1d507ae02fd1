//! What mass and outline say together: flat-equivalent thickness, envelope density, fill factor, share of a core.

use super::conductivity::Outline;
use super::second::CoreShape;
use crate::evidence::{Instruments, Measurand, Observation, PieceEvidence};
use crate::physics::density::{
    box_volume_mm3, core_share_of_box, core_share_of_disc, disc_volume_mm3, envelope_density_g_cm3,
    flat_equivalent_thickness_mm, flat_equivalent_thickness_of_box_mm,
};
use crate::quantity::Length;
use crate::reference::{Product, Shape};

/// A value with its standard uncertainty, in the unit of its name.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Measured {
    pub(super) value: f64,
    pub(super) u: f64,
}

/// The face of the piece, in millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Face {
    Disc { diameter: f64 },
    Rectangle { length: f64, width: f64 },
}

/// Mass and outline of a piece as measured, completed by the specification where a reading is missing.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Geometry {
    pub(super) face: Option<Face>,
    /// Thickness over the highest points.
    pub(super) thickness: Option<Measured>,
    /// Relative standard uncertainty of the diameter of a round piece.
    pub(super) diameter_share: f64,
    /// Whether that thickness was measured on this piece.
    pub(super) thickness_measured: bool,
    /// Mass of the piece, in grams.
    pub(super) mass: Option<Measured>,
    /// Mass over the volume of the envelope, in g/cm³: a lower bound of the true density.
    pub(super) envelope_density: Option<Measured>,
    /// Thickness of a flat plate of this mass and face made of the declared alloy, in mm.
    pub(super) flat_equivalent: Option<Measured>,
}

impl Geometry {
    /// Collects what is known of a piece; `density` is that of the declared alloy, in g/cm³.
    pub(super) fn of(
        evidence: &PieceEvidence,
        product: &Product,
        density: f64,
        instruments: &Instruments,
    ) -> Self {
        let measured_length = |measurand, observation: &Option<Observation<Length>>| {
            observation.as_ref().map(|o| Measured {
                value: o.value.as_millimetres(),
                u: super::budget::length(measurand, o, instruments.for_length(measurand)).u(),
            })
        };
        let nominal = |specified: &Option<crate::reference::Specified<Length>>| {
            specified.as_ref().map(|s| Measured { value: s.nominal.value.as_millimetres(), u: 0.0 })
        };
        let mass = evidence.mass.as_ref().map(|o| Measured {
            value: o.value.as_grams(),
            u: super::budget::weighing(o, &instruments.scale).u(),
        });
        let thickness = measured_length(Measurand::Thickness, &evidence.thickness);
        let diameter =
            measured_length(Measurand::Diameter, &evidence.diameter).or(nominal(&product.diameter));
        let length = measured_length(Measurand::Length, &evidence.length).or(nominal(&product.length));
        let width = measured_length(Measurand::Width, &evidence.width).or(nominal(&product.width));
        let positive = |m: &Measured| m.value > 0.0;
        let (face, relative_u) = match product.shape {
            Shape::Round => {
                let diameter = diameter.filter(positive);
                (
                    diameter.map(|d| Face::Disc { diameter: d.value }),
                    diameter.map_or(0.0, |d| 2.0 * d.u / d.value),
                )
            }
            Shape::Rectangular | Shape::Cast => match (length.filter(positive), width.filter(positive)) {
                // One calliper measures both sides: its error counts as one input, so the shares add.
                (Some(l), Some(w)) => (
                    Some(Face::Rectangle { length: l.value.max(w.value), width: l.value.min(w.value) }),
                    l.u / l.value + w.u / w.value,
                ),
                _ => (None, 0.0),
            },
        };
        let thickness_measured = thickness.is_some();
        let thickness = thickness.filter(positive).or(nominal(&product.thickness));
        let diameter_share = match face {
            Some(Face::Disc { .. }) => relative_u / 2.0,
            _ => 0.0,
        };
        let envelope_density = match (face, thickness, mass) {
            (Some(face), Some(t), Some(m)) if thickness_measured && m.value > 0.0 => {
                let value = envelope_density_g_cm3(m.value, face.envelope(t.value));
                // The same calliper again: shares of face and thickness add, the mass is independent.
                let share = (relative_u + t.u / t.value).hypot(m.u / m.value);
                Some(Measured { value, u: value * share })
            }
            _ => None,
        };
        let flat_equivalent = match (face, mass) {
            (Some(face), Some(m)) if m.value > 0.0 => {
                let value = face.flat_equivalent(m.value, density);
                Some(Measured { value, u: value * relative_u.hypot(m.u / m.value) })
            }
            _ => None,
        };
        Geometry {
            face,
            thickness,
            diameter_share,
            thickness_measured,
            mass,
            envelope_density,
            flat_equivalent,
        }
    }

    /// Returns what the gates of a conductivity reading ask for.
    pub(super) fn outline(&self) -> Outline {
        let metal = match (self.flat_equivalent, self.thickness) {
            (Some(flat), Some(over_all)) => Some(flat.value.min(over_all.value)),
            (flat, over_all) => flat.or(over_all).map(|t| t.value),
        };
        Outline { inscribed_radius: self.face.map(Face::inscribed_radius), metal_thickness: metal }
    }

    /// Returns the thickness of solid metal in which a skin and a core have to fit, in mm: the rim of a struck piece stands above it.
    pub(super) fn whole_thickness(&self) -> Option<f64> {
        self.outline().metal_thickness
    }

    /// Returns the size of the core under a skin of the given thickness on all sides.
    pub(super) fn core_shape(&self, thickness: f64, skin: f64) -> CoreShape {
        CoreShape {
            skin,
            share: self.core_share(thickness, skin),
            linear: (1.0 - 2.0 * skin / thickness).max(0.0),
        }
    }

    /// Returns the volume share of a core under a skin of the given thickness on all sides.
    pub(super) fn core_share(&self, thickness: f64, skin: f64) -> f64 {
        match self.face {
            Some(Face::Disc { diameter }) => core_share_of_disc(diameter, thickness, skin),
            Some(Face::Rectangle { length, width }) => core_share_of_box(length, width, thickness, skin),
            None => (1.0 - 2.0 * skin / thickness).max(0.0),
        }
    }
}

impl Face {
    fn envelope(self, thickness: f64) -> f64 {
        match self {
            Face::Disc { diameter } => disc_volume_mm3(diameter, thickness),
            Face::Rectangle { length, width } => box_volume_mm3(length, width, thickness),
        }
    }

    fn flat_equivalent(self, mass: f64, density: f64) -> f64 {
        match self {
            Face::Disc { diameter } => flat_equivalent_thickness_mm(mass, diameter, density),
            Face::Rectangle { length, width } => {
                flat_equivalent_thickness_of_box_mm(mass, length, width, density)
            }
        }
    }

    fn inscribed_radius(self) -> f64 {
        match self {
            Face::Disc { diameter } => diameter / 2.0,
            Face::Rectangle { width, .. } => width / 2.0,
        }
    }

    /// Returns the area of one face, in mm².
    pub(super) fn area(self) -> f64 {
        self.envelope(1.0)
    }
}
