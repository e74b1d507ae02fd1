//! How deep X-ray fluorescence looks: which overlayer hides a line, and where a layer's own line saturates.
//!
//! First order only: one incident energy, no secondary fluorescence. Fluorescence is a surface test; thin
//! plate is what it finds and what deceives it.

use std::f64::consts::FRAC_PI_4;

use crate::physics::attenuation::mixture_attenuation_cm2_g;

/// A characteristic line by which an element is recognised.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Element and line in the notation of Siegbahn.
    pub name: &'static str,
    /// Atomic number of the element.
    pub atomic_number: u8,
    /// Energy in keV; of a doublet the stronger line.
    pub energy_kev: f64,
}

/// The lines of the metals of the trade between 2.5 and 100 keV.
///
/// # Source
/// Tables of xraylib 4.3 (Kα1, Lα1, Lβ1); they agree with the X-ray Data Booklet (from memory).
pub const LINES: [Line; 22] = [
    line("Ni Ka", 28, 7.4781),
    line("Cu Ka", 29, 8.0478),
    line("Zn Ka", 30, 8.6389),
    line("Mo Ka", 42, 17.4793),
    line("Rh Ka", 45, 20.2161),
    line("Pd Ka", 46, 21.177),
    line("Pd La", 46, 2.8386),
    line("Ag Ka", 47, 22.1629),
    line("Ag La", 47, 2.9844),
    line("Sn Ka", 50, 25.2713),
    line("Sn La", 50, 3.444),
    line("W Ka", 74, 59.3182),
    line("W La", 74, 8.3976),
    line("W Lb1", 74, 9.6724),
    line("Pt La", 78, 9.4427),
    line("Pt Lb1", 78, 11.0711),
    line("Au Ka", 79, 68.8062),
    line("Au La", 79, 9.713),
    line("Au Lb1", 79, 11.4425),
    line("Pb Ka", 82, 74.9693),
    line("Pb La", 82, 10.5512),
    line("Pb Lb1", 82, 12.6144),
];

/// A layer that X-rays pass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Overlayer<'a> {
    /// (Atomic number, mass fraction) of its elements; fractions add up to 1.
    pub parts: &'a [(u8, f64)],
    /// Density in g/cm³.
    pub density_g_cm3: f64,
}

/// The paths of an instrument: incident energy and the angles to the surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Geometry {
    /// Energy of the incident rays in keV.
    pub incident_kev: f64,
    /// Angle between incident rays and surface in radians.
    pub incidence_rad: f64,
    /// Angle between emitted rays and surface in radians.
    pub takeoff_rad: f64,
}

impl Geometry {
    /// Makes the usual geometry, 45° in and 45° out, for an incident energy in keV.
    pub fn symmetric(incident_kev: f64) -> Geometry {
        Geometry { incident_kev, incidence_rad: FRAC_PI_4, takeoff_rad: FRAC_PI_4 }
    }
}

/// Returns the line of that name from [`LINES`].
pub fn line_named(name: &str) -> Option<Line> {
    LINES.into_iter().find(|line| line.name == name)
}

/// Returns the thickness of an overlayer that leaves a given share of a line from below, in micrometres.
///
/// t = ln(1/q)/(ρ(μin/sin ψin + μout/sin ψout)); `share` q is strictly between 0 and 1, 0.01 for "cut to 1
/// %". `None` where an element or energy has no table.
pub fn hiding_thickness_um(
    layer: Overlayer<'_>,
    line_kev: f64,
    geometry: Geometry,
    share: f64,
) -> Option<f64> {
    let incoming =
        mixture_attenuation_cm2_g(layer.parts, geometry.incident_kev)? / geometry.incidence_rad.sin();
    let outgoing = mixture_attenuation_cm2_g(layer.parts, line_kev)? / geometry.takeoff_rad.sin();
    Some(-share.ln() / (layer.density_g_cm3 * (incoming + outgoing)) * 1e4)
}

/// Returns the thickness from which a layer's own line is no longer told from that of a thick piece, in
/// micrometres.
///
/// The thickness that gives 99 % of the line. An instrument reports a thicker plate as solid. `None` as for
/// [`hiding_thickness_um`].
pub fn saturation_thickness_um(layer: Overlayer<'_>, line_kev: f64, geometry: Geometry) -> Option<f64> {
    hiding_thickness_um(layer, line_kev, geometry, 0.01)
}

/// Makes a line.
const fn line(name: &'static str, atomic_number: u8, energy_kev: f64) -> Line {
    Line { name, atomic_number, energy_kev }
}
