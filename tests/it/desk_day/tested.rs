//! Second tests on true pieces, each with the errors that such an instrument has.
//!
//! Errors (common practice, no source): a gauge's time base 0.3 %, its calliper 0.012 mm; a balance 3 mg between air and water, water
//! ± 0.3 K; a coin's ring within 2 % of the plate theory (relief, rim, reeding); a meter's repeatability 0.3 %; shares by X-ray 0.3 %.

use super::truth::Truth;
use scruple::evidence::{
    ConductivityTest, Content, Element, ImmersionTest, InterfaceEcho, MagnetTest, MassShare, Observation,
    Probe, RingTest, RingingBody, SecondTest, Sound, StrongMagnet, TravelTime, UltrasoundTest, UnderWater,
    XRayTest,
};
use scruple::metrology::seeded::SplitMix64;
use scruple::quantity::{Conductivity, Frequency, Length, Mass, Quantity, Temperature};
use scruple::scoring::{Method, PlanStep};

/// Rounds a value to a digit step.
fn shown<Q: Quantity>(value: Q, step: Q) -> Observation<Q> {
    let base = step.base().max(1);
    let rounded = (value.base() as f64 / base as f64).round() as i64 * base;
    Observation { value: Q::from_base(rounded), step, stated: None }
}

/// Carries out a step of a plan; `None` when it cannot be done on such a piece, or its probe is not on the desk.
pub fn carried_out(
    truth: &Truth,
    step: &PlanStep,
    probes: &[Probe],
    noise: &mut SplitMix64,
) -> Option<SecondTest> {
    Some(match step.method {
        Method::Immersion => {
            let water = 998.2 / 1000.0;
            let volume = truth.mass / truth.density();
            let gram = |value: f64| shown(Mass::from_grams(value), Mass::from_grams(0.001));
            SecondTest::Immersion(ImmersionTest {
                in_air: gram(truth.mass * (1.0 - 0.0012 / truth.density()) + 0.001 * noise.standard_normal()),
                under_water: UnderWater::Beaker(gram(
                    volume * (water - 0.0012) + 0.002 * noise.standard_normal(),
                )),
                water: shown(Temperature::from_celsius(20.0), Temperature::from_base(100_000)),
            })
        }
        Method::Ultrasound => {
            // Where the sound goes the piece is as thick as where the calliper stands.
            let thickness = truth.thickness + 0.012 * noise.standard_normal();
            let time = 2000.0 * truth.thickness / truth.velocity(step.swept)
                * (1.0 + 0.003 * noise.standard_normal());
            SecondTest::Ultrasound(UltrasoundTest {
                thickness: shown(Length::from_millimetres(thickness), Length::from_millimetres(0.01)),
                sound: Sound::TimeOfFlight(shown(
                    TravelTime::from_microseconds(time),
                    TravelTime::from_microseconds(0.001),
                )),
                echo: if truth.echo(step.swept) { InterfaceEcho::Seen } else { InterfaceEcho::NotSeen },
                swept: step.swept,
            })
        }
        Method::Ring => {
            let hertz = truth.ring()? * (1.0 + 0.02 * noise.standard_normal().clamp(-2.5, 2.5));
            SecondTest::Ring(RingTest {
                frequency: shown(Frequency::from_hertz(hertz), Frequency::from_hertz(10.0)),
                exemplar: None,
                body: RingingBody::Struck,
            })
        }
        Method::Conductivity => {
            let deeper = probes.iter().find(|probe| step.probe.as_deref() == Some(&probe.name))?;
            let sigma = truth.apparent(deeper) * (1.0 + 0.004 * noise.standard_normal());
            SecondTest::Conductivity(ConductivityTest {
                probe: deeper.clone(),
                readings: vec![shown(
                    Conductivity::from_ms_per_m(sigma),
                    Conductivity::from_ms_per_m(if sigma >= 10.0 { 0.1 } else { 0.01 }),
                )],
                temperature: None,
            })
        }
        Method::XRay => {
            let fineness = truth.surface_percent + 0.3 * noise.standard_normal();
            let content = |symbol: &str, percent: f64| Content {
                element: Element::parse(symbol).unwrap(),
                share: shown(
                    MassShare::from_percent(percent.clamp(0.0, 100.0)),
                    MassShare::from_percent(0.01),
                ),
            };
            let composition = match truth.surface_metal {
                "" => return None,
                metal => vec![content(metal, fineness), content("Cu", 100.0 - fineness)],
            };
            SecondTest::XRay(XRayTest { composition, take_off: None })
        }
        Method::Magnet => SecondTest::Magnet(MagnetTest {
            response: if truth.magnetic { StrongMagnet::Attracted } else { StrongMagnet::None },
        }),
        _ => return None,
    })
}
