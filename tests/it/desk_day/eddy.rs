//! What an eddy-current meter reads on a piece: the analytic coil on the whole stack of skin, core, skin and air.
//!
//! The inversion is dear, so it is made once for a product, a core and a probe, on a ladder of skins; in between, and for each
//! piece's own metals, the exact plane wave is scaled by how much the coil differs from it there.

use super::truth::{Face, Inside, Metal, Piece};
use scruple::evidence::Probe;
use scruple::physics::coil::Coil;
use scruple::physics::edge::disc_reading_ratio;
use scruple::physics::layered::{Backing, Layer, apparent_conductivity, clad_plate, skin_on_core};

/// Axial length of a winding and its distance from the metal in mm, where a probe states neither (assumed).
const LENGTH_MM: f64 = 1.5;
const LIFT_OFF_MM: f64 = 0.1;
/// Skins of the ladder.
const STEPS: usize = 10;
const THINNEST_MM: f64 = 0.003;

/// How one probe reads pieces of one build.
pub struct Eddy {
    hertz: f64,
    /// ln(coil/plane) by skin, on a geometric ladder; one entry for a piece of one metal.
    ladder: Vec<(f64, f64)>,
    /// What the edge of the face takes off.
    edge: f64,
}

impl Eddy {
    /// Prepares a probe for pieces like one, with a core under any skin from `skins` where it has one.
    pub fn of(probe: &Probe, like: &Piece, skins: (f64, f64)) -> Self {
        let hertz = probe.frequency.expect("a probe of known frequency").as_hertz();
        let winding = probe.coil.expect("a probe of known radii");
        let length = winding.length.map_or(LENGTH_MM, |length| length.as_millimetres());
        let coil =
            Coil::new(winding.inner.as_millimetres(), winding.outer.as_millimetres(), length, 1.0).unwrap();
        let factor = |stack: &[Layer], plane: f64| {
            let found = coil.apparent_half_space(stack, Backing::Air, LIFT_OFF_MM, hertz);
            found.map(|found| (found.conductivity_ms_m / plane).ln())
        };
        let own = like.metal.conductivity;
        let ladder = match like.inside {
            Inside::Core(core, _) => {
                let (thin, thick) = (skins.0.max(THINNEST_MM), skins.1.min(0.499 * like.field));
                let mut last = 0.0;
                (0..=STEPS)
                    .rev()
                    .map(|step| {
                        let skin = thin * (thick / thin).powf(step as f64 / STEPS as f64);
                        let plane = clad_plate(own, skin, core.conductivity, like.field, hertz);
                        last =
                            factor(&stack(own, skin, core.conductivity, like.field), plane).unwrap_or(last);
                        (skin, last)
                    })
                    .collect::<Vec<_>>()
                    .into_iter()
                    .rev()
                    .collect()
            }
            _ => {
                let plane = skin_on_core(own, like.field, 0.0, hertz);
                let layer = Layer { conductivity_ms_m: own, thickness_mm: like.field };
                vec![(0.0, factor(&[layer], plane).unwrap_or(0.0))]
            }
        };
        let radius = like.face.inscribed_radius();
        let edge = match like.face {
            Face::Disc(_) => disc_reading_ratio(&coil, radius, own, LIFT_OFF_MM, hertz).unwrap_or(1.0),
            // Beside a straight edge the same distance takes off less than a rim all around.
            Face::Plate(..) => 1.0,
        };
        Eddy { hertz, ladder, edge }
    }

    /// Returns what a meter without error shows on a piece at 20 °C, in MS/m.
    pub fn reads(&self, piece: &Piece) -> f64 {
        let own = piece.metal.conductivity;
        let plane = match piece.inside {
            Inside::Core(core, skin) => clad_plate(own, skin, core.conductivity, piece.field, self.hertz),
            _ => {
                let layer = Layer { conductivity_ms_m: own, thickness_mm: piece.field };
                apparent_conductivity(&[layer], Backing::Air, self.hertz)
            }
        };
        let skin = if let Inside::Core(_, skin) = piece.inside { skin } else { 0.0 };
        plane * self.factor(skin).exp() * self.edge
    }

    /// Returns ln(coil/plane) under a skin.
    fn factor(&self, skin: f64) -> f64 {
        let place = self.ladder.partition_point(|(at, _)| *at < skin);
        match (place.checked_sub(1).map(|below| self.ladder[below]), self.ladder.get(place)) {
            (Some((thin, one)), Some((thick, other))) => {
                one + (other - one) * (skin / thin).ln() / (thick / thin).ln()
            }
            (Some((_, last)), None) => last,
            (None, first) => first.map_or(0.0, |(_, factor)| *factor),
        }
    }
}

fn stack(own: f64, skin: f64, core: f64, field: f64) -> [Layer; 3] {
    let skin = skin.min(0.499 * field);
    let layer = |conductivity_ms_m: f64, thickness_mm: f64| Layer { conductivity_ms_m, thickness_mm };
    [layer(own, skin), layer(core, field - 2.0 * skin), layer(own, skin)]
}

/// Returns the lowest ring of a piece by plate theory in Hz, `lambda_squared` being that of its form; `None` where it does not ring.
pub fn ring(piece: &Piece, lambda_squared: Option<f64>) -> Option<f64> {
    let Face::Disc(diameter) = piece.face else { return None };
    let plate = |metal: &Metal| metal.young / (1.0 - metal.poisson * metal.poisson);
    let stiffness = match &piece.inside {
        Inside::Core(core, skin) => {
            let inner = (1.0 - 2.0 * skin / piece.field).max(0.0).powi(3);
            inner * plate(core) + (1.0 - inner) * plate(&piece.metal)
        }
        _ => plate(&piece.metal),
    };
    let density = piece.mass / piece.volume();
    let radius = 0.5e-3 * diameter;
    // GPa over g/cm³ is 1e6 m²/s².
    let speed = (1e6 * stiffness / (12.0 * density)).sqrt();
    Some(lambda_squared? / (std::f64::consts::TAU * radius * radius) * 1e-3 * piece.field * speed)
}
