//! What a second test showed: the readings as taken, with what a judgement needs to know about how they were taken.

use super::{Element, MassShare, Observation, Probe, TakeOff, TravelTime};
use crate::quantity::{Conductivity, Fineness, Frequency, Length, Mass, Temperature, Velocity};
use serde::{Deserialize, Serialize};

/// The result of one second test.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "test", rename_all = "snake_case")]
pub enum SecondTest {
    /// Weighed in air and under water.
    Immersion(ImmersionTest),
    /// Sound sent through the thickness.
    Ultrasound(UltrasoundTest),
    /// Made to ring.
    Ring(RingTest),
    /// X-ray fluorescence of the surface.
    XRay(XRayTest),
    /// A strong magnet.
    Magnet(MagnetTest),
    /// Fire assay or ICP by a laboratory.
    Assay(AssayTest),
    /// Examination by an expert.
    Expert(ExpertTest),
    /// Conductivity once more with another probe.
    Conductivity(ConductivityTest),
}

/// Weighing in air and under water, both on one balance, tared.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct ImmersionTest {
    /// Reading in air.
    pub in_air: Observation<Mass>,
    /// Reading with the piece in the water.
    pub under_water: UnderWater,
    /// Temperature of the water.
    pub water: Observation<Temperature>,
}

/// How the piece was weighed under water.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum UnderWater {
    /// Hung from the balance: what the balance shows.
    Suspended(Observation<Mass>),
    /// Held into a tared beaker on the pan: what the balance shows more.
    Beaker(Observation<Mass>),
}

/// Thickness by sound against thickness by calliper, on the same spot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct UltrasoundTest {
    /// Thickness by calliper where the probe stood.
    pub thickness: Observation<Length>,
    /// What the gauge showed.
    pub sound: Sound,
    /// Whether there was an echo from inside.
    pub echo: InterfaceEcho,
    /// Whether the whole face was swept, and the readings are those that differ most; a single spot knows nothing of rods beside it.
    #[serde(default, skip_serializing_if = "is_false")]
    pub swept: bool,
}

fn is_false(value: &bool) -> bool {
    !value
}

/// What an ultrasonic gauge shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Sound {
    /// The time to the far face and back.
    TimeOfFlight(Observation<TravelTime>),
    /// A thickness, at the velocity the gauge is set to.
    Gauge {
        /// The velocity set.
        set_to: Velocity,
        /// The thickness shown.
        shown: Observation<Length>,
    },
}

/// An echo between the near and the far face.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum InterfaceEcho {
    /// Nobody looked, or the gauge shows no echoes.
    #[default]
    NotLooked,
    /// Looked for over the whole face and not seen.
    NotSeen,
    /// Seen at an unknown depth.
    Seen,
    /// Seen at this depth.
    AtDepth(Observation<Length>),
}

/// The lowest ring of the free piece: two nodal diameters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct RingTest {
    /// Frequency of the piece.
    pub frequency: Observation<Frequency>,
    /// Frequency of an exemplar of the same product, taken the same way.
    pub exemplar: Option<Observation<Frequency>>,
    /// What rings.
    pub body: RingingBody,
}

/// The form of a ringing piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RingingBody {
    /// A struck coin: its bending thickness follows from mass and diameter.
    #[default]
    Struck,
    /// A flat disc of its measured thickness.
    Flat,
}

/// Composition of the surface by X-ray fluorescence.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct XRayTest {
    /// What was found; an element that is not named was not found.
    pub composition: Vec<Content>,
    /// Take-off angle of the instrument; 45° is taken when nobody knows it.
    pub take_off: Option<TakeOff>,
}

/// The share of one element.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Content {
    /// The element.
    pub element: Element,
    /// Its share by mass.
    pub share: Observation<MassShare>,
}

/// A strong magnet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct MagnetTest {
    /// What it did.
    pub response: StrongMagnet,
}

/// What a strong magnet did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StrongMagnet {
    /// It stuck, or pulled.
    Attracted,
    /// Nothing.
    None,
    /// It was not attracted and slid down the piece slowly.
    SlidSlow,
}

/// The result of a laboratory.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AssayTest {
    /// Fineness found.
    pub fineness: Observation<Fineness>,
    /// The laboratory.
    pub laboratory: String,
    /// Number or name of its document.
    pub document: String,
    /// What was taken from the piece.
    pub sample: AssaySample,
}

/// What a laboratory worked on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AssaySample {
    /// Scrapings of the surface.
    Surface,
    /// Drillings through the whole thickness in the middle.
    ThroughMiddle,
    /// The whole piece, melted.
    Melt,
}

/// The finding of an expert.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ExpertTest {
    /// Who examined it.
    pub who: String,
    /// Number or name of the document.
    pub document: String,
    /// What came out.
    pub finding: Finding,
}

/// Whether an expert agrees with the declaration.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Finding {
    /// The piece agrees with what it is declared to be.
    Agrees,
    /// It does not.
    Disagrees,
    /// The expert cannot tell.
    CannotTell,
}

/// Conductivity with another probe, or at another frequency.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ConductivityTest {
    /// The probe.
    pub probe: Probe,
    /// Readings, one a spot.
    pub readings: Vec<Observation<Conductivity>>,
    /// Temperature of the piece; the one of the first readings is taken when it is missing.
    pub temperature: Option<Observation<Temperature>>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::entry::parse;

    #[test]
    fn second_tests_come_back_from_json_as_they_were() {
        let mass = |text: &str| Observation::of(&parse::<Mass>(text).unwrap());
        let tests = vec![
            SecondTest::Immersion(ImmersionTest {
                in_air: mass("31.10 g"),
                under_water: UnderWater::Beaker(mass("1.61 g").with_stated(Some(Mass::from_grams(0.003)))),
                water: Observation::of(&parse("21.5 C").unwrap()),
            }),
            SecondTest::Ultrasound(UltrasoundTest {
                thickness: Observation::of(&parse("2.50 mm").unwrap()),
                sound: Sound::Gauge {
                    set_to: Velocity::from_m_per_s(3240.0),
                    shown: Observation::of(&parse("2.49 mm").unwrap()),
                },
                echo: InterfaceEcho::AtDepth(Observation::of(&parse("0.4 mm").unwrap())),
                swept: false,
            }),
            SecondTest::XRay(XRayTest {
                composition: vec![Content {
                    element: Element::parse("Au").unwrap(),
                    share: Observation::of(&parse("91.6 %").unwrap()),
                }],
                take_off: Some(TakeOff::from_degrees(60).unwrap()),
            }),
            SecondTest::Magnet(MagnetTest { response: StrongMagnet::SlidSlow }),
            SecondTest::Expert(ExpertTest {
                who: "Tin Kettle & Daughters".to_owned(),
                document: "T-7".to_owned(),
                finding: Finding::CannotTell,
            }),
        ];
        let json = serde_json::to_string(&tests).unwrap();
        assert_eq!(serde_json::from_str::<Vec<SecondTest>>(&json).unwrap(), tests);
        assert!(json.contains("\"test\":\"x_ray\""), "{json}");
        assert!(json.contains("\"value\":1610000000"), "{json}");
    }
}
