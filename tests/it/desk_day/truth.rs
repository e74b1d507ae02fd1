//! What is true of a piece, good or false, by physics alone: never by the masks of scoring.
//!
//! Sources: mixing by volume for density; two-layer time of flight for sound; bending of a clad plate for the ring; the analytic coil
//! over a layered half-space for conductivity (each tested against published values in `tests/checks`). Central values of materials
//! are those of the reference, with their sources there.

use scruple::evidence::Probe;
use scruple::metrology::seeded::SplitMix64;
use scruple::physics::coil::Coil;
use scruple::physics::coil_response::CoilResponse;
use scruple::physics::density::{core_share_of_box, core_share_of_disc, density_of_clad};
use scruple::physics::ring::{Mode, plate_lambda_squared};
use scruple::physics::ultrasound::{acoustic_impedance_mrayl, pressure_reflection, velocity_ratio_of_clad};
use scruple::quantity::{Conductivity, Length, Mass};
use scruple::reference::{Catalogue, Material};
use scruple::scoring::{TrueFace, TruePiece};
use std::f64::consts::PI;

/// One metal of a piece, at its own place in what the reference says of it.
#[derive(Debug, Clone, Copy)]
pub struct Metal {
    /// g/cm³.
    pub density: f64,
    /// MS/m at 20 °C.
    pub sigma: f64,
    /// m/s.
    pub velocity: f64,
    /// GPa.
    pub young: f64,
    pub poisson: f64,
}

impl Metal {
    /// Draws a metal about its published value: a sixth of the range is one standard deviation, cut at the range.
    pub fn draw(material: &Material, noise: &mut SplitMix64) -> Self {
        let mut about = |value: f64, low: f64, high: f64| {
            let off = noise.standard_normal().clamp(-2.8, 2.8) / 6.0;
            (value + off * (high - low)).clamp(low, high)
        };
        let (d, s, v, e) =
            (&material.density, &material.conductivity, &material.sound_velocity, &material.youngs_modulus);
        Metal {
            density: about(d.value.as_g_per_cm3(), d.low.as_g_per_cm3(), d.high.as_g_per_cm3()),
            sigma: about(s.value.as_ms_per_m(), s.low.as_ms_per_m(), s.high.as_ms_per_m()),
            velocity: about(v.value.as_m_per_s(), v.low.as_m_per_s(), v.high.as_m_per_s()),
            young: about(e.value.as_gigapascals(), e.low.as_gigapascals(), e.high.as_gigapascals()),
            poisson: material.poisson_ratio.value,
        }
    }

    pub fn of(catalogue: &Catalogue, id: &str, noise: &mut SplitMix64) -> Self {
        Metal::draw(catalogue.material(id).unwrap_or_else(|| panic!("no material {id}")), noise)
    }

    fn plate(&self) -> f64 {
        self.young / (1.0 - self.poisson * self.poisson)
    }
}

/// Outline of a face in mm.
#[derive(Debug, Clone, Copy)]
pub enum Face {
    Disc(f64),
    Plate(f64, f64),
}

impl Face {
    pub fn area(self) -> f64 {
        match self {
            Face::Disc(diameter) => PI / 4.0 * diameter * diameter,
            Face::Plate(length, width) => length * width,
        }
    }
}

/// How a piece is built.
#[derive(Debug, Clone, Copy)]
pub enum Build {
    Solid,
    /// A core under a skin of the declared alloy, in mm.
    Core {
        skin: f64,
    },
    /// Rods beside the measuring points, as a share of the volume.
    Rods {
        share: f64,
    },
}

/// What is true of a piece.
#[derive(Debug, Clone, Copy)]
pub struct Truth {
    /// What the outside is of, all of it for a solid.
    pub outside: Metal,
    /// What lies inside.
    pub inside: Metal,
    pub build: Build,
    pub face: Face,
    /// Over the highest points, in mm.
    pub thickness: f64,
    /// In g.
    pub mass: f64,
    /// Symbol and percent of the metal of worth at the surface.
    pub surface_metal: &'static str,
    pub surface_percent: f64,
    pub magnetic: bool,
}

impl Truth {
    /// Share of the volume that the inside has.
    fn share(&self) -> f64 {
        match (self.build, self.face) {
            (Build::Solid, _) => 0.0,
            (Build::Core { skin }, Face::Disc(d)) => core_share_of_disc(d, self.thickness, skin),
            (Build::Core { skin }, Face::Plate(l, w)) => core_share_of_box(l, w, self.thickness, skin),
            (Build::Rods { share }, _) => share,
        }
    }

    pub fn density(&self) -> f64 {
        density_of_clad(self.outside.density, self.inside.density, self.share())
    }

    /// Gives the piece the thickness that its mass asks for when it fills a share of its envelope; a core is sized with it.
    pub fn filling(mut self, fill: f64) -> Self {
        for _ in 0..20 {
            self.thickness = 1000.0 * self.mass / (self.density() * self.face.area() * fill);
        }
        self
    }

    /// Apparent conductivity under a probe, in MS/m.
    pub fn apparent(&self, probe: &Probe) -> f64 {
        let Build::Core { skin } = self.build else { return self.outside.sigma };
        let (Some(coil), Some(frequency)) = (probe.coil, probe.frequency) else { return self.outside.sigma };
        let mean = coil.mean_radius().as_millimetres();
        let winding =
            Coil::new(coil.inner.as_millimetres(), coil.outer.as_millimetres(), 0.5 * mean, 1.0).unwrap();
        let response = CoilResponse::of(&winding, self.outside.sigma, 0.1 * mean, frequency.as_hertz());
        let core = if self.magnetic { 0.01 } else { self.inside.sigma };
        response.core(core).apparent(skin)
    }

    /// Velocity of sound through the thickness, at the place where it differs most for a sweep.
    pub fn velocity(&self, swept: bool) -> f64 {
        match self.build {
            Build::Solid => self.outside.velocity,
            Build::Core { skin } => {
                let fraction = (1.0 - 2.0 * skin / self.thickness).clamp(0.0, 1.0);
                let ratio = velocity_ratio_of_clad(self.outside.velocity, self.inside.velocity, fraction);
                self.outside.velocity * ratio
            }
            Build::Rods { .. } if swept => {
                let ratio = velocity_ratio_of_clad(self.outside.velocity, self.inside.velocity, 0.6);
                self.outside.velocity * ratio
            }
            Build::Rods { .. } => self.outside.velocity,
        }
    }

    /// Whether a gauge shows an echo from inside: from a fiftieth of the pressure on, under a skin of a wavelength or more.
    pub fn echo(&self, swept: bool) -> bool {
        let z = |metal: &Metal| acoustic_impedance_mrayl(metal.density, metal.velocity);
        let strong = pressure_reflection(z(&self.outside), z(&self.inside)).abs() >= 0.02;
        strong
            && match self.build {
                Build::Solid => false,
                Build::Core { skin } => skin >= 0.4,
                Build::Rods { .. } => swept,
            }
    }

    /// Lowest ring of the free disc as struck, in Hz; `None` for what is no disc.
    pub fn ring(&self) -> Option<f64> {
        let Face::Disc(diameter) = self.face else { return None };
        let density = self.density();
        let flat = (1000.0 * self.mass / (density * self.face.area())).min(self.thickness);
        let linear = match self.build {
            Build::Core { skin } => (1.0 - 2.0 * skin / self.thickness).max(0.0),
            _ => 0.0,
        };
        let (inner, outer) =
            (self.inside.plate() * linear.powi(3), self.outside.plate() * (1.0 - linear.powi(3)));
        let poisson = (inner * self.inside.poisson + outer * self.outside.poisson) / (inner + outer);
        let lambda_squared = plate_lambda_squared(Mode::LOWEST, poisson, 2.0 * flat / diameter)?;
        let speed = (1e6 * (inner + outer) / (12.0 * density)).sqrt();
        let radius = 0.5e-3 * diameter;
        Some(lambda_squared / (2.0 * PI * radius * radius) * 1e-3 * flat * speed)
    }

    /// The piece as the first readings see it.
    pub fn seen_by(&self, probe: &Probe) -> TruePiece {
        let mm = Length::from_millimetres;
        TruePiece {
            mass: Mass::from_grams(self.mass),
            face: match self.face {
                Face::Disc(diameter) => TrueFace::Disc { diameter: mm(diameter) },
                Face::Plate(length, width) => TrueFace::Plate { length: mm(length), width: mm(width) },
            },
            thickness: mm(self.thickness),
            conductivity: Conductivity::from_ms_per_m(self.apparent(probe)),
        }
    }
}
