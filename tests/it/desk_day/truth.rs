//! What is true of a piece: metal, build, measures and weight, from densities and plain geometry alone.
//!
//! Central values of the metals are those of the reference; how much pieces scatter about them stands in [`Scatter`] and in
//! `products`. Nothing here knows what scoring excludes.

use scruple::metrology::seeded::SplitMix64;
use scruple::physics::density::{
    core_share_of_box, core_share_of_disc, density_of_clad, density_of_volume_shares,
};
use scruple::physics::ultrasound::{acoustic_impedance_mrayl, pressure_reflection};
use scruple::reference::{Catalogue, Magnetism};
use std::f64::consts::PI;

/// The properties of one metal that an instrument can feel.
#[derive(Debug, Clone, Copy)]
pub struct Metal {
    /// In g/cm³.
    pub density: f64,
    /// In MS/m at 20 °C.
    pub conductivity: f64,
    /// Temperature coefficient of the resistivity, in 1/K.
    pub coefficient: f64,
    /// Longitudinal, in m/s.
    pub velocity: f64,
    /// In GPa.
    pub young: f64,
    pub poisson: f64,
    pub ferromagnetic: bool,
    /// Atomic number of its main element, for X-rays, and the share of the mass that it makes up.
    pub element: u8,
    pub share: f64,
}

/// Temperature coefficient of a pure metal where the reference gives none (copper, IEC 60028).
const PURE_COEFFICIENT: f64 = 0.003_93;

impl Metal {
    /// Returns the central values of a material of the reference.
    pub fn of(id: &str) -> Self {
        let material = Catalogue::embedded().material(id).unwrap_or_else(|| panic!("no material {id}"));
        let coefficient = material.temperature_coefficient.as_ref();
        Metal {
            density: material.density.value.as_g_per_cm3(),
            conductivity: material.conductivity.value.as_ms_per_m(),
            coefficient: coefficient.map_or(PURE_COEFFICIENT, |c| c.value.as_per_kelvin()),
            velocity: material.sound_velocity.value.as_m_per_s(),
            young: material.youngs_modulus.value.as_gigapascals(),
            poisson: material.poisson_ratio.value,
            ferromagnetic: material.magnetism.value == Magnetism::Ferromagnetic,
            element: element(id),
            share: material.fineness.as_ref().map_or(1.0, |fineness| fineness.value.as_share()),
        }
    }

    /// Returns a mixture of two materials by volume, of a conductivity in MS/m; sound crosses grains of both in turn, stiffness
    /// lies midway between the bounds of Voigt and Reuss (handbooks of composites, from memory).
    pub fn mixed(one: &str, other: &str, share_of_other: f64, conductivity: f64) -> Self {
        let (one, other) = (Metal::of(one), Metal::of(other));
        let (a, b) = (1.0 - share_of_other, share_of_other);
        let voigt = a * one.young + b * other.young;
        let reuss = 1.0 / (a / one.young + b / other.young);
        Metal {
            density: density_of_volume_shares(&[(a, one.density), (b, other.density)]).unwrap(),
            conductivity,
            velocity: 1.0 / (a / one.velocity + b / other.velocity),
            young: f64::midpoint(voigt, reuss),
            poisson: a * one.poisson + b * other.poisson,
            ..one
        }
    }

    /// Draws the metal of one piece.
    pub fn drawn(&self, scatter: &Scatter, noise: &mut SplitMix64) -> Self {
        let mut off = |share: f64| 1.0 + share * noise.standard_normal().clamp(-3.5, 3.5);
        Metal {
            density: self.density * off(scatter.density),
            conductivity: self.conductivity * off(scatter.conductivity),
            velocity: self.velocity * off(scatter.velocity),
            young: self.young * off(scatter.young),
            ..*self
        }
    }
}

/// Returns the atomic number of the main element of a material that X-rays are asked about.
fn element(id: &str) -> u8 {
    match id {
        id if id.starts_with("Au") => 79,
        id if id.starts_with("Ag") => 47,
        id if id.starts_with("Pt") => 78,
        id if id.starts_with("Pd") => 46,
        id if id.starts_with("Pb") => 82,
        id if id.starts_with("Sn") => 50,
        id if id.starts_with("Cu") => 29,
        id if id.starts_with("Zn") => 30,
        id if id.starts_with("Mo") => 42,
        id if id.starts_with('W') => 74,
        _ => 28,
    }
}

/// Standard deviations between pieces of one metal, as shares of its central values.
#[derive(Debug, Clone, Copy)]
pub struct Scatter {
    pub density: f64,
    pub conductivity: f64,
    pub velocity: f64,
    pub young: f64,
}

impl Scatter {
    /// Fine metal differs by its state alone: cast, rolled, annealed (common practice, no source).
    pub const FINE: Scatter = Scatter { density: 0.0004, conductivity: 0.003, velocity: 0.005, young: 0.02 };
    /// An alloy differs by its make-up too; two parts in a thousand of copper move the conductivity of a gold alloy by about a
    /// fiftieth (common practice, no source).
    pub const ALLOY: Scatter = Scatter { density: 0.0015, conductivity: 0.02, velocity: 0.006, young: 0.02 };
    /// Silver and copper: annealed, hard, or aged, which moves the conductivity most (common practice, no source).
    pub const SILVER_ALLOY: Scatter =
        Scatter { density: 0.0012, conductivity: 0.028, velocity: 0.007, young: 0.02 };
    /// Metal of a forger, who buys what is to be had.
    pub const FORGED: Scatter = Scatter { density: 0.003, conductivity: 0.02, velocity: 0.008, young: 0.03 };
}

/// The outline of a face, in mm.
#[derive(Debug, Clone, Copy)]
pub enum Face {
    Disc(f64),
    Plate(f64, f64),
}

impl Face {
    /// Returns its area in mm².
    pub fn area(self) -> f64 {
        match self {
            Face::Disc(diameter) => PI / 4.0 * diameter * diameter,
            Face::Plate(length, width) => length * width,
        }
    }

    /// Returns the radius of the largest circle on it, in mm.
    pub fn inscribed_radius(self) -> f64 {
        match self {
            Face::Disc(diameter) => diameter / 2.0,
            Face::Plate(length, width) => length.min(width) / 2.0,
        }
    }

    /// Draws a face with each measure off by a standard deviation in mm.
    pub fn drawn(self, deviation: f64, noise: &mut SplitMix64) -> Self {
        match self {
            Face::Disc(diameter) => Face::Disc(diameter + deviation * noise.standard_normal()),
            Face::Plate(length, width) => Face::Plate(
                length + deviation * noise.standard_normal(),
                width + deviation * noise.standard_normal(),
            ),
        }
    }

    /// Returns the share of the volume inside a skin, in mm, of a flat piece.
    fn inside(self, thickness: f64, skin: f64) -> f64 {
        match self {
            Face::Disc(diameter) => core_share_of_disc(diameter, thickness, skin),
            Face::Plate(length, width) => core_share_of_box(length, width, thickness, skin),
        }
    }
}

/// What lies inside.
#[derive(Debug, Clone, Copy)]
pub enum Inside {
    /// The same metal throughout.
    Same,
    /// A core under a skin of so many mm.
    Core(Metal, f64),
    /// Rods along the bar, of so many mm across, which take a share of the volume; no spot of a first reading lies over one.
    Rods(Metal, f64, f64),
}

/// What a maker aims at when his metal is too light for weight and size together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Aim {
    Weight,
    Size,
}

/// A piece as it is.
#[derive(Debug, Clone, Copy)]
pub struct Piece {
    pub metal: Metal,
    pub inside: Inside,
    pub face: Face,
    /// Thickness over the highest points, in mm.
    pub rim: f64,
    /// Thickness of a flat plate of its volume, in mm: where a gauge or a coil stands.
    pub field: f64,
    /// In grams.
    pub mass: f64,
}

/// What a piece is made to.
#[derive(Debug, Clone, Copy)]
pub struct Made {
    pub metal: Metal,
    pub inside: Inside,
    pub face: Face,
    /// Weight aimed at, in grams.
    pub mass: f64,
    /// Thickness over the highest points aimed at, in mm, and how far they stand above a flat plate of the volume.
    pub rim: f64,
    pub bump: f64,
    pub aim: Aim,
}

impl Piece {
    /// Makes a piece: of the weight aimed at and as thick as it then gets, or of the thickness aimed at and as heavy as it gets.
    pub fn make(made: &Made) -> Self {
        let Made { metal, inside, face, .. } = *made;
        let density = |field: f64| match inside {
            Inside::Same => metal.density,
            Inside::Core(core, skin) => {
                density_of_clad(metal.density, core.density, face.inside(field, skin))
            }
            Inside::Rods(rod, _, share) => density_of_clad(metal.density, rod.density, share),
        };
        let mut field = made.rim - made.bump;
        if made.aim == Aim::Weight {
            for _ in 0..12 {
                field = 1000.0 * made.mass / density(field) / face.area();
            }
        }
        let rim = field + made.bump;
        let mass = 0.001 * density(field) * field * face.area();
        Piece { metal, inside, face, rim, field, mass }
    }

    /// Returns its volume in cm³.
    pub fn volume(&self) -> f64 {
        0.001 * self.field * self.face.area()
    }

    /// Tells whether a magnet pulls at it.
    pub fn is_attracted(&self) -> bool {
        match self.inside {
            Inside::Same => self.metal.ferromagnetic,
            Inside::Core(other, _) | Inside::Rods(other, ..) => {
                self.metal.ferromagnetic || other.ferromagnetic
            }
        }
    }

    /// Returns the share of the sound's pressure that comes back from inside, and from how deep in mm; a rod lies in the middle.
    pub fn echo(&self, over: bool) -> Option<(f64, f64)> {
        let reflects = |other: &Metal| {
            let impedance = |metal: &Metal| acoustic_impedance_mrayl(metal.density, metal.velocity);
            pressure_reflection(impedance(&self.metal), impedance(other)).abs()
        };
        match &self.inside {
            Inside::Core(core, skin) => Some((reflects(core), *skin)),
            Inside::Rods(rod, across, _) if over => Some((reflects(rod), (self.field - across) / 2.0)),
            _ => None,
        }
    }

    /// Returns the velocity of sound through its thickness in m/s: on the skin and core, or through a rod where `over` one.
    pub fn velocity(&self, over: bool) -> f64 {
        let through = |other: &Metal, of_other: f64| {
            let of_other = of_other.clamp(0.0, self.field);
            self.field / ((self.field - of_other) / self.metal.velocity + of_other / other.velocity)
        };
        match &self.inside {
            Inside::Core(core, skin) => through(core, self.field - 2.0 * skin),
            Inside::Rods(rod, across, _) if over => through(rod, *across),
            _ => self.metal.velocity,
        }
    }
}
