//! What the instruments of a desk show of a true piece: their own errors, drawn here and not taken from any budget of scoring.
//!
//! What each is good for, per kind of error (the limits are those of the shipped instruments, DIN 862 and the makers' usual
//! statements; the rest is common practice, no source):
//!
//! | instrument | stays with the desk | each reading | last digit |
//! |---|---|---|---|
//! | scale | even within ±0.5 e to 50 g, ±1 e to 200 g, ±1.5 e above, e = 0.01 g (OIML R 76-1, table 6, class II) | 4 mg | 0.01 g, 0.1 g above 2 kg |
//! | calliper | within ±0.020 mm, even | 5 µm | 0.01 mm |
//! | meter, compared | 0.1 % | 0.3 % | 0.1 MS/m, 0.01 below 10 |
//! | thermometer | 0.3 K | – | 0.1 K |
//! | ultrasonic gauge with a screen | 0.3 % | 4 ns; shows what reflects 8 % or more below 0.4 mm, misses 1 in 50, half of what reflects 3 to 8 % | 1 ns |
//! | beaker | water 0.3 K | 3 mg within a minute, thread and drops 2 mg | as the scale |
//! | ring | relief and rim 3 % of the calculated tone | 0.3 % | 1 Hz |
//! | X-ray | – | 0.3 % of the mass | 0.01 % |

use super::adapter::Step;
use super::eddy::{Eddy, ring};
use super::truth::{Face, Inside, Metal, Piece};
use scruple::evidence::{
    ConductivityTest, Content, Element, ImmersionTest, InterfaceEcho, MagnetTest, MassShare, Observation,
    PieceEvidence, Presentation, Probe, RingTest, RingingBody, SecondTest, Sound, StrongMagnet, TravelTime,
    UltrasoundTest, UnderWater, XRayTest,
};
use scruple::metrology::seeded::SplitMix64;
use scruple::physics::water::water_density_kg_m3;
use scruple::physics::xray::{Geometry, LINES, Overlayer, hiding_thickness_um};
use scruple::quantity::{Conductivity, Frequency, Length, Mass, Quantity, Temperature};
use scruple::scoring::Method;

/// Temperature coefficient of the copper block that the meter is set on (IEC 60028).
const BLOCK: f64 = 0.003_93;
/// Density of ordinary air in g/cm³.
const AIR: f64 = 0.001_2;
/// Spots of a sweep over a face.
const SWEPT_SPOTS: usize = 12;
/// What alloys of the trade are completed with.
const COPPER: u8 = 29;
/// Hand-held X-ray instruments run at 40 to 50 kV; most of what excites a heavy element comes from near 25 keV (from memory).
const XRAY_KEV: f64 = 25.0;

/// A desk on one day: what its instruments are off by.
pub struct Desk<'n> {
    noise: &'n mut SplitMix64,
    /// As a share of the limit at a load.
    scale: f64,
    calliper: f64,
    meter: f64,
    thermometer: f64,
    gauge: f64,
    relief: f64,
    /// Of the room, and so of piece, block and water, in °C.
    room: f64,
}

/// What the piece is read with besides.
pub struct Means<'m> {
    pub probe: &'m Probe,
    pub eddy: &'m Eddy,
    /// λ² of the lowest ring of its form.
    pub lambda_squared: Option<f64>,
    /// A coin's bending thickness follows from its weight.
    pub body: RingingBody,
    pub worn: bool,
}

/// Returns how far a verified scale of class II with e = 0.01 g may be off at a load, in g; above 2 kg e is 0.1 g.
fn limit_of_scale(grams: f64) -> f64 {
    match grams {
        ..=50.0 => 0.005,
        ..=200.0 => 0.010,
        ..=2000.0 => 0.015,
        _ => 0.05,
    }
}

fn shown<Q: Quantity>(value: Q, step: Q) -> Observation<Q> {
    let rounded = (value.base() as f64 / step.base() as f64).round() as i64 * step.base();
    Observation { value: Q::from_base(rounded), step, stated: None }
}

impl<'n> Desk<'n> {
    /// Draws a desk.
    pub fn new(noise: &'n mut SplitMix64) -> Self {
        let mut even = |limit: f64| limit * (2.0 * noise.uniform() - 1.0);
        let (scale, calliper) = (even(1.0), even(0.020));
        let mut normal = |deviation: f64| deviation * noise.standard_normal();
        let (meter, thermometer, gauge, relief) = (normal(0.001), normal(0.3), normal(0.003), normal(0.03));
        let room = 20.5 + normal(0.7);
        Desk { noise, scale, calliper, meter, thermometer, gauge, relief, room }
    }

    fn normal(&mut self, deviation: f64) -> f64 {
        deviation * self.noise.standard_normal()
    }

    /// Weighs.
    pub fn weigh(&mut self, grams: f64) -> Observation<Mass> {
        let step = if grams > 2000.0 { 0.1 } else { 0.01 };
        let shows = grams + self.scale * limit_of_scale(grams) + self.normal(0.004);
        shown(Mass::from_grams(shows), Mass::from_grams(step))
    }

    /// Measures a length.
    pub fn measure(&mut self, millimetres: f64) -> Observation<Length> {
        let shows = millimetres + self.calliper + self.normal(0.005);
        shown(Length::from_millimetres(shows), Length::from_millimetres(0.01))
    }

    /// Reads the conductivity of one spot with a probe, on a meter that was set on a block of the room's temperature.
    pub fn spot(&mut self, piece: &Piece, eddy: &Eddy) -> Observation<Conductivity> {
        let warmer = self.room - 20.0;
        let at_room = eddy.reads(piece) * (1.0 + BLOCK * warmer) / (1.0 + piece.metal.coefficient * warmer);
        let shows = at_room * (1.0 + self.meter + self.normal(0.003));
        let step = if shows >= 10.0 { 0.1 } else { 0.01 };
        shown(Conductivity::from_ms_per_m(shows), Conductivity::from_ms_per_m(step))
    }

    fn temperature(&self) -> Observation<Temperature> {
        let shows = self.room + self.thermometer;
        shown(Temperature::from_celsius(shows), Temperature::from_celsius(0.1))
    }

    /// Takes the readings of a piece as the bench asks for them.
    pub fn receive(&mut self, piece: &Piece, means: &Means<'_>) -> PieceEvidence {
        let mut evidence = PieceEvidence {
            mass: Some(self.weigh(piece.mass)),
            thickness: Some(self.measure(piece.rim)),
            conductivity: vec![self.spot(piece, means.eddy)],
            temperature: Some(self.temperature()),
            probe: Some(means.probe.clone()),
            presentation: Presentation { circulated: means.worn, ..Presentation::default() },
            ..PieceEvidence::default()
        };
        match piece.face {
            Face::Disc(diameter) => evidence.diameter = Some(self.measure(diameter)),
            Face::Plate(length, width) => {
                evidence.length = Some(self.measure(length));
                evidence.width = Some(self.measure(width));
            }
        }
        evidence
    }

    /// Carries out one step of a plan; `None` for a method that a desk does not have. `deeper` is how the probe of such a step reads.
    pub fn perform(
        &mut self,
        step: &Step,
        piece: &Piece,
        means: &Means<'_>,
        deeper: Option<(&Probe, &Eddy)>,
    ) -> Option<SecondTest> {
        Some(match step.method {
            Method::Magnet => {
                let response =
                    if piece.is_attracted() { StrongMagnet::Attracted } else { StrongMagnet::None };
                SecondTest::Magnet(MagnetTest { response })
            }
            Method::Conductivity => {
                let (probe, eddy) = deeper?;
                SecondTest::Conductivity(ConductivityTest {
                    probe: probe.clone(),
                    readings: vec![self.spot(piece, eddy)],
                    temperature: Some(self.temperature()),
                })
            }
            Method::Ring => {
                let calculated = ring(piece, means.lambda_squared)?;
                let rings = calculated * (1.0 + self.relief + self.normal(0.003));
                SecondTest::Ring(RingTest {
                    frequency: shown(Frequency::from_hertz(rings), Frequency::from_hertz(1.0)),
                    exemplar: None,
                    body: means.body,
                })
            }
            Method::Ultrasound => SecondTest::Ultrasound(self.sound(piece, step.swept)),
            Method::Immersion => SecondTest::Immersion(self.immerse(piece)),
            Method::XRay => SecondTest::XRay(self.xray(piece)),
            _ => return None,
        })
    }

    /// Sends sound through the flat field; a sweep keeps the spot that differs most from its neighbours.
    fn sound(&mut self, piece: &Piece, swept: bool) -> UltrasoundTest {
        let spots = if swept { SWEPT_SPOTS } else { 1 };
        let mut taken: Vec<(f64, UltrasoundTest)> = Vec::new();
        for spot in 0..spots {
            // A sweep comes over the rods of a drilled bar; a spot that was chosen without knowing stands beside them.
            let over = swept && spot % 4 == 3;
            let thickness = self.measure(piece.field);
            // mm over m/s is ms; there and back, in µs.
            let time = 2e3 * piece.field / piece.velocity(over);
            let shows = time * (1.0 + self.gauge) + self.normal(0.004);
            let step = TravelTime::from_microseconds(0.001);
            let sound = Sound::TimeOfFlight(shown(TravelTime::from_microseconds(shows), step));
            let echo = self.echo(piece.echo(over));
            let test = UltrasoundTest { thickness, sound, echo, swept };
            taken.push((thickness.value.as_millimetres() / shows, test));
        }
        let mut sorted: Vec<f64> = taken.iter().map(|(velocity, _)| *velocity).collect();
        sorted.sort_by(f64::total_cmp);
        let middle = sorted[sorted.len() / 2];
        let off = |(velocity, _): &(f64, UltrasoundTest)| (velocity - middle).abs();
        let echo = taken.iter().map(|(_, test)| test.echo).find(|echo| *echo == InterfaceEcho::Seen);
        let mut kept =
            taken.into_iter().max_by(|a, b| off(a).total_cmp(&off(b))).map(|(_, test)| test).unwrap();
        kept.echo = echo.unwrap_or(kept.echo);
        kept
    }

    /// Looks for an echo from inside.
    fn echo(&mut self, from: Option<(f64, f64)>) -> InterfaceEcho {
        let chance = match from {
            Some((reflects, depth)) if depth >= 0.4 && reflects >= 0.08 => 0.98,
            Some((reflects, depth)) if depth >= 0.4 && reflects >= 0.03 => 0.5,
            _ => 0.0,
        };
        if self.noise.uniform() < chance { InterfaceEcho::Seen } else { InterfaceEcho::NotSeen }
    }

    /// Weighs the piece in air and hung into a beaker on the pan, both tared.
    fn immerse(&mut self, piece: &Piece) -> ImmersionTest {
        let water = water_density_kg_m3(self.room) / 1000.0;
        let step = Mass::from_grams(if piece.mass > 2000.0 { 0.1 } else { 0.01 });
        let in_air = piece.mass - AIR * piece.volume();
        let in_air = in_air + self.scale * limit_of_scale(in_air) + self.normal(0.003);
        let gain = (water - AIR) * piece.volume();
        let gain = gain + self.normal(0.003) + self.normal(0.002);
        ImmersionTest {
            in_air: shown(Mass::from_grams(in_air), step),
            under_water: UnderWater::Beaker(shown(Mass::from_grams(gain), step)),
            water: self.temperature(),
        }
    }

    /// Reads the surface: the declared metal and, through a thin skin, the main element of the core.
    fn xray(&mut self, piece: &Piece) -> XRayTest {
        let through = match piece.inside {
            Inside::Core(core, skin) => seen_through(&piece.metal, &core, skin),
            _ => 0.0,
        };
        let own = 100.0 * (1.0 - through);
        let mut found: Vec<(u8, f64)> = vec![(piece.metal.element, own * piece.metal.share)];
        if piece.metal.share < 0.99 {
            found.push((COPPER, own * (1.0 - piece.metal.share)));
        }
        if let Inside::Core(core, _) = piece.inside {
            found.push((core.element, 100.0 * through));
        }
        let mut composition = Vec::new();
        for (element, percent) in found {
            let reads = (percent + self.normal(0.3)).clamp(0.0, 100.0);
            composition.push(Content {
                element: Element::parse(symbol(element)).unwrap(),
                share: shown(MassShare::from_percent(reads), MassShare::from_percent(0.01)),
            });
        }
        XRayTest { composition, take_off: None }
    }
}

/// Returns the share of the core's line that comes through a skin in mm.
fn seen_through(skin: &Metal, core: &Metal, thickness: f64) -> f64 {
    let parts = [(skin.element, 1.0)];
    let layer = Overlayer { parts: &parts, density_g_cm3: skin.density };
    let geometry = Geometry::symmetric(XRAY_KEV);
    let lines = LINES.iter().filter(|line| line.atomic_number == core.element && line.energy_kev < XRAY_KEV);
    lines
        .filter_map(|line| hiding_thickness_um(layer, line.energy_kev, geometry, 0.01))
        .map(|hidden| 0.01_f64.powf(1000.0 * thickness / hidden))
        .fold(0.0, f64::max)
}

fn symbol(element: u8) -> &'static str {
    match element {
        79 => "Au",
        47 => "Ag",
        78 => "Pt",
        46 => "Pd",
        82 => "Pb",
        50 => "Sn",
        29 => "Cu",
        30 => "Zn",
        42 => "Mo",
        74 => "W",
        _ => "Ni",
    }
}
