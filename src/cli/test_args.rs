//! The options of a second test: what was read, typed by the one grammar of quantities.

use super::input;
use crate::desk::{AppError, Desk};
use crate::evidence::{
    AssaySample, AssayTest, ConductivityTest, Content, Element, ExpertTest, Finding, ImmersionTest,
    InterfaceEcho, MagnetTest, MassShare, Observation, RingTest, RingingBody, SecondTest, Sound,
    StrongMagnet, TakeOff, TravelTime, UltrasoundTest, UnderWater, XRayTest,
};
use crate::physics::recording::{RingRecording, ring_of_recording};
use crate::quantity::entry::{parse, parse_in};
use crate::quantity::{Fineness, Frequency, Length, Mass, Quantity, Velocity};
use crate::scoring::Method;
use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// The methods of a second test, as they are typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum TestMethod {
    Immersion,
    Ultrasound,
    Ring,
    #[value(name = "xray", alias = "x_ray")]
    XRay,
    Magnet,
    Assay,
    Expert,
    Conductivity,
}

/// What was read in a second test.
#[derive(Debug, Args)]
pub(super) struct TestArgs {
    /// What a magnet did: none, attracted or slid-slow
    #[arg(value_name = "ANSWER", requires = "method")]
    answer: Option<String>,
    /// The method
    #[arg(long, value_name = "METHOD", value_enum)]
    method: Option<TestMethod>,
    /// Standard uncertainty (k = 1) of the result where somebody states one
    #[arg(long, value_name = "Q", help_heading = "Every method")]
    u: Option<String>,
    /// Reading in air, such as `31.11g`
    #[arg(long, value_name = "Q", help_heading = "Immersion")]
    in_air: Option<String>,
    /// Reading in water: the piece hung from the balance, or the gain of a beaker on the pan
    #[arg(long, value_name = "Q", help_heading = "Immersion")]
    in_water: Option<String>,
    /// Temperature of the water
    #[arg(long, value_name = "Q", help_heading = "Immersion")]
    water_temperature: Option<String>,
    /// The water stood in a tared beaker on the pan
    #[arg(long, help_heading = "Immersion")]
    beaker: bool,
    /// Thickness by calliper where the probe stood
    #[arg(long, value_name = "Q", help_heading = "Ultrasound")]
    thickness: Option<String>,
    /// Time to the far face and back, such as `1.77us`
    #[arg(long, value_name = "Q", help_heading = "Ultrasound")]
    time_of_flight: Option<String>,
    /// Thickness that the gauge showed
    #[arg(long, value_name = "Q", help_heading = "Ultrasound")]
    gauge: Option<String>,
    /// Velocity that the gauge was set to, such as `3240m/s`
    #[arg(long, value_name = "Q", help_heading = "Ultrasound")]
    gauge_velocity: Option<String>,
    /// An echo from inside: none, seen, or `at 0.4mm` [else nobody looked]
    #[arg(long, value_name = "WHAT", help_heading = "Ultrasound")]
    echo: Option<String>,
    /// The whole face was swept, and the readings are those that differ most
    #[arg(long, help_heading = "Ultrasound")]
    swept: bool,
    /// Frequency of the lowest ring, such as `5480Hz`
    #[arg(long, value_name = "Q", help_heading = "Ring and conductivity")]
    frequency: Option<String>,
    /// A recording of the ring, WAV; its lowest partial is taken
    #[arg(long, value_name = "FILE.wav", help_heading = "Ring and conductivity")]
    recording: Option<PathBuf>,
    /// The partial of the recording to take, by its letter
    #[arg(long, value_name = "LETTER", help_heading = "Ring and conductivity")]
    partial: Option<String>,
    /// Lowest ring of an exemplar of the same product
    #[arg(long, value_name = "Q", help_heading = "Ring and conductivity")]
    exemplar: Option<String>,
    /// The piece is a flat disc, not a struck coin
    #[arg(long, help_heading = "Ring and conductivity")]
    flat: bool,
    /// Share of an element by mass in percent, `Au=91.6`; once for each element found
    #[arg(long, value_name = "EL=SHARE", help_heading = "X-ray")]
    element: Vec<String>,
    /// Take-off angle of the instrument in whole degrees [else 45]
    #[arg(long, value_name = "DEGREES", help_heading = "X-ray")]
    take_off: Option<u8>,
    /// Fineness found, such as `916.7`
    #[arg(long, value_name = "Q", help_heading = "Assay and expert")]
    fineness: Option<String>,
    /// The laboratory
    #[arg(long, value_name = "NAME", help_heading = "Assay and expert")]
    laboratory: Option<String>,
    /// Number or name of the document
    #[arg(long, value_name = "NAME", help_heading = "Assay and expert")]
    document: Option<String>,
    /// What was taken: surface, through (the middle) or melt
    #[arg(long, value_name = "WHAT", help_heading = "Assay and expert")]
    drilled: Option<String>,
    /// Who examined the piece
    #[arg(long, value_name = "NAME", help_heading = "Assay and expert")]
    who: Option<String>,
    /// What came out: agrees, disagrees or cannot-tell
    #[arg(long, value_name = "WHAT", help_heading = "Assay and expert")]
    finding: Option<String>,
    /// The probe of the desk by name
    #[arg(long, value_name = "NAME", help_heading = "Ring and conductivity")]
    probe: Option<String>,
    /// Conductivity, such as `44.9MS/m`; once for each spot
    #[arg(long, value_name = "Q", help_heading = "Ring and conductivity")]
    conductivity: Vec<String>,
    /// Temperature of the piece [else that of the first readings]
    #[arg(long, value_name = "Q", allow_hyphen_values = true, help_heading = "Ring and conductivity")]
    temperature: Option<String>,
}

/// A ring that was heard in a recording.
#[derive(Debug)]
pub(super) struct Heard {
    pub(super) recording: RingRecording,
    /// Places of the partials by rising frequency.
    pub(super) order: Vec<usize>,
    /// Which of them was taken, counted in that order.
    pub(super) taken: usize,
}

/// A second test as it was typed.
#[derive(Debug)]
pub(super) struct Typed {
    pub(super) test: SecondTest,
    pub(super) heard: Option<Heard>,
}

impl TestMethod {
    pub(super) fn method(self) -> Method {
        match self {
            TestMethod::Immersion => Method::Immersion,
            TestMethod::Ultrasound => Method::Ultrasound,
            TestMethod::Ring => Method::Ring,
            TestMethod::XRay => Method::XRay,
            TestMethod::Magnet => Method::Magnet,
            TestMethod::Assay => Method::Assay,
            TestMethod::Expert => Method::Expert,
            TestMethod::Conductivity => Method::Conductivity,
        }
    }

    fn word(self) -> String {
        self.to_possible_value().map_or_else(String::new, |value| value.get_name().to_owned())
    }

    /// Returns the options that this method takes.
    fn options(self) -> &'static [&'static str] {
        match self {
            TestMethod::Immersion => &["u", "in-air", "in-water", "water-temperature", "beaker"],
            TestMethod::Ultrasound => {
                &["u", "thickness", "time-of-flight", "gauge", "gauge-velocity", "echo", "swept"]
            }
            TestMethod::Ring => &["u", "frequency", "recording", "partial", "exemplar", "flat"],
            TestMethod::XRay => &["u", "element", "take-off"],
            TestMethod::Magnet => &["ANSWER"],
            TestMethod::Assay => &["u", "fineness", "laboratory", "document", "drilled"],
            TestMethod::Expert => &["who", "document", "finding"],
            TestMethod::Conductivity => &["u", "probe", "conductivity", "temperature"],
        }
    }
}

impl TestArgs {
    /// Returns the method, when one was named.
    pub(super) fn method(&self) -> Option<TestMethod> {
        self.method
    }

    /// Reads what was typed; `None` without a method, or when nothing was read with it.
    pub(super) fn read(&self, desk: &Desk) -> Result<Option<Typed>, AppError> {
        let given = self.given();
        let Some(method) = self.method else {
            return match given.first() {
                None => Ok(None),
                Some(option) => Err(usage(format!("`--{option}` needs a `--method`"))),
            };
        };
        if let Some(option) = given.iter().find(|option| !method.options().contains(option)) {
            let allowed: Vec<String> = method.options().iter().map(|name| named(name)).collect();
            let (found, word) = (named(option), method.word());
            return Err(usage(format!(
                "{found} says nothing about `{word}`; allowed are {}",
                allowed.join(", ")
            )));
        }
        if given.is_empty() {
            return Ok(None);
        }
        let mut heard = None;
        let test = match method {
            TestMethod::Immersion => self.immersion()?,
            TestMethod::Ultrasound => self.ultrasound()?,
            TestMethod::Ring => {
                heard = self.recording.as_deref().map(|path| self.hear(path)).transpose()?;
                self.ring(heard.as_ref())?
            }
            TestMethod::XRay => self.x_ray()?,
            TestMethod::Magnet => self.magnet()?,
            TestMethod::Assay => self.assay()?,
            TestMethod::Expert => self.expert()?,
            TestMethod::Conductivity => self.another_conductivity(desk)?,
        };
        Ok(Some(Typed { test, heard }))
    }

    /// Returns the options that were given, without `--method`.
    fn given(&self) -> Vec<&'static str> {
        let options = [
            ("ANSWER", self.answer.is_some()),
            ("u", self.u.is_some()),
            ("in-air", self.in_air.is_some()),
            ("in-water", self.in_water.is_some()),
            ("water-temperature", self.water_temperature.is_some()),
            ("beaker", self.beaker),
            ("thickness", self.thickness.is_some()),
            ("time-of-flight", self.time_of_flight.is_some()),
            ("gauge", self.gauge.is_some()),
            ("gauge-velocity", self.gauge_velocity.is_some()),
            ("echo", self.echo.is_some()),
            ("swept", self.swept),
            ("frequency", self.frequency.is_some()),
            ("recording", self.recording.is_some()),
            ("partial", self.partial.is_some()),
            ("exemplar", self.exemplar.is_some()),
            ("flat", self.flat),
            ("element", !self.element.is_empty()),
            ("take-off", self.take_off.is_some()),
            ("fineness", self.fineness.is_some()),
            ("laboratory", self.laboratory.is_some()),
            ("document", self.document.is_some()),
            ("drilled", self.drilled.is_some()),
            ("who", self.who.is_some()),
            ("finding", self.finding.is_some()),
            ("probe", self.probe.is_some()),
            ("conductivity", !self.conductivity.is_empty()),
            ("temperature", self.temperature.is_some()),
        ];
        options.into_iter().filter(|(_, given)| *given).map(|(name, _)| name).collect()
    }

    fn immersion(&self) -> Result<SecondTest, AppError> {
        let u = self.stated::<Mass>()?;
        let in_air = needed::<Mass>("in-air", self.in_air.as_deref())?.with_stated(u);
        let wet = needed::<Mass>("in-water", self.in_water.as_deref())?.with_stated(u);
        let under_water = if self.beaker { UnderWater::Beaker(wet) } else { UnderWater::Suspended(wet) };
        let water = needed("water-temperature", self.water_temperature.as_deref())?;
        Ok(SecondTest::Immersion(ImmersionTest { in_air, under_water, water }))
    }

    fn ultrasound(&self) -> Result<SecondTest, AppError> {
        let thickness = needed("thickness", self.thickness.as_deref())?;
        let sound = match (&self.time_of_flight, &self.gauge) {
            (Some(_), Some(_)) => {
                return Err(usage("give `--time-of-flight` or `--gauge`, not both".to_owned()));
            }
            (Some(time), None) => {
                Sound::TimeOfFlight(value::<TravelTime>("time-of-flight", time)?.with_stated(self.stated()?))
            }
            (None, Some(shown)) => Sound::Gauge {
                set_to: needed::<Velocity>("gauge-velocity", self.gauge_velocity.as_deref())?.value,
                shown: value::<Length>("gauge", shown)?.with_stated(self.stated()?),
            },
            (None, None) => {
                return Err(usage("`--time-of-flight` or `--gauge` is missing for `ultrasound`".to_owned()));
            }
        };
        let echo = match self.echo.as_deref().map(str::trim) {
            None => InterfaceEcho::NotLooked,
            Some("none") => InterfaceEcho::NotSeen,
            Some("seen") => InterfaceEcho::Seen,
            Some(text) => match text.strip_prefix("at ") {
                Some(depth) => InterfaceEcho::AtDepth(value("echo", depth)?),
                None => return Err(word("echo", text, "`none`, `seen`, `at 0.4mm`")),
            },
        };
        Ok(SecondTest::Ultrasound(UltrasoundTest { thickness, sound, echo, swept: self.swept }))
    }

    fn ring(&self, heard: Option<&Heard>) -> Result<SecondTest, AppError> {
        let frequency = match (&self.frequency, heard) {
            (Some(_), Some(_)) => {
                return Err(usage("give `--frequency` or `--recording`, not both".to_owned()));
            }
            (Some(frequency), None) => {
                value::<Frequency>("frequency", frequency)?.with_stated(self.stated()?)
            }
            (None, Some(heard)) => heard.observation(),
            (None, None) => {
                return Err(usage("`--frequency` or `--recording` is missing for `ring`".to_owned()));
            }
        };
        let exemplar = self.exemplar.as_deref().map(|text| value("exemplar", text)).transpose()?;
        let body = if self.flat { RingingBody::Flat } else { RingingBody::Struck };
        Ok(SecondTest::Ring(RingTest { frequency, exemplar, body }))
    }

    fn hear(&self, path: &std::path::Path) -> Result<Heard, AppError> {
        let wav = input::bytes(path)?;
        let recording = ring_of_recording(&wav.bytes)
            .map_err(|error| AppError::failed(format!("`{}`: {error}", wav.name)))?;
        let mut order: Vec<usize> = (0..recording.partials.len()).collect();
        let frequency = |place: usize| recording.partials[place].frequency_hz;
        order.sort_by(|a, b| frequency(*a).total_cmp(&frequency(*b)));
        let letters: Vec<String> = (0..order.len()).map(|place| letter(place).to_string()).collect();
        let taken = match &self.partial {
            None => 0,
            Some(wanted) => letters
                .iter()
                .position(|known| known.eq_ignore_ascii_case(wanted.trim()))
                .ok_or_else(|| {
                    let allowed: Vec<String> = letters.iter().map(|letter| format!("`{letter}`")).collect();
                    word("partial", wanted, &allowed.join(", "))
                })?,
        };
        Ok(Heard { recording, order, taken })
    }

    fn x_ray(&self) -> Result<SecondTest, AppError> {
        let u = self.stated::<MassShare>()?;
        let mut composition: Vec<Content> = Vec::new();
        for text in &self.element {
            let (symbol, share) = text
                .split_once('=')
                .ok_or_else(|| usage(format!("`--element`: `{text}` is not a share such as `Au=91.6`")))?;
            let element = Element::parse(symbol).map_err(|error| usage(format!("`--element`: {error}")))?;
            if composition.iter().any(|known| known.element == element) {
                return Err(usage(format!("`--element`: `{element}` is given twice")));
            }
            let share = value::<MassShare>("element", share)?.with_stated(u);
            composition.push(Content { element, share });
        }
        if composition.is_empty() {
            return Err(usage("`--element` is missing for `xray`".to_owned()));
        }
        let take_off = self
            .take_off
            .map(TakeOff::from_degrees)
            .transpose()
            .map_err(|error| usage(format!("`--take-off`: {error}")))?;
        Ok(SecondTest::XRay(XRayTest { composition, take_off }))
    }

    fn magnet(&self) -> Result<SecondTest, AppError> {
        let response = match self.answer.as_deref() {
            Some("none") => StrongMagnet::None,
            Some("attracted") => StrongMagnet::Attracted,
            Some("slid-slow") => StrongMagnet::SlidSlow,
            Some(found) => {
                return Err(usage(format!(
                    "answer `{found}` of the magnet is not one of `none`, `attracted`, `slid-slow`"
                )));
            }
            None => return Err(missing("ANSWER", "magnet")),
        };
        Ok(SecondTest::Magnet(MagnetTest { response }))
    }

    fn assay(&self) -> Result<SecondTest, AppError> {
        let sample = match text("drilled", self.drilled.as_deref())?.as_str() {
            "surface" => AssaySample::Surface,
            "through" => AssaySample::ThroughMiddle,
            "melt" => AssaySample::Melt,
            found => return Err(word("drilled", found, "`surface`, `through`, `melt`")),
        };
        Ok(SecondTest::Assay(AssayTest {
            fineness: needed::<Fineness>("fineness", self.fineness.as_deref())?
                .with_stated(self.stated_per_mille()?),
            laboratory: text("laboratory", self.laboratory.as_deref())?,
            document: text("document", self.document.as_deref())?,
            sample,
        }))
    }

    fn expert(&self) -> Result<SecondTest, AppError> {
        let finding = match text("finding", self.finding.as_deref())?.as_str() {
            "agrees" => Finding::Agrees,
            "disagrees" => Finding::Disagrees,
            "cannot-tell" => Finding::CannotTell,
            found => return Err(word("finding", found, "`agrees`, `disagrees`, `cannot-tell`")),
        };
        Ok(SecondTest::Expert(ExpertTest {
            who: text("who", self.who.as_deref())?,
            document: text("document", self.document.as_deref())?,
            finding,
        }))
    }

    fn another_conductivity(&self, desk: &Desk) -> Result<SecondTest, AppError> {
        let name = text("probe", self.probe.as_deref())?;
        let probes = &desk.instruments().probes;
        let probe = probes.iter().find(|probe| probe.name == name).ok_or_else(|| {
            let allowed: Vec<String> = probes.iter().map(|probe| format!("`{}`", probe.name)).collect();
            word("probe", &name, &allowed.join(", "))
        })?;
        let u = self.stated()?;
        let read = |text: &String| Ok(value("conductivity", text)?.with_stated(u));
        let readings = self.conductivity.iter().map(read).collect::<Result<Vec<_>, AppError>>()?;
        if readings.is_empty() {
            return Err(missing("conductivity", "conductivity"));
        }
        let temperature = self.temperature.as_deref().map(|text| value("temperature", text)).transpose()?;
        Ok(SecondTest::Conductivity(ConductivityTest { probe: probe.clone(), readings, temperature }))
    }

    /// Reads the stated uncertainty of a fineness: a share, in parts per thousand unless a unit says otherwise.
    fn stated_per_mille(&self) -> Result<Option<Fineness>, AppError> {
        let per_mille =
            MassShare::unit("permille").expect("a share by mass is typed in parts per thousand too");
        let read = |text: &str| parse_in::<MassShare>(text, per_mille);
        let share = self.u.as_deref().map(read).transpose();
        let share = share.map_err(|error| usage(format!("`--u`: {error}")))?;
        // Both count parts per billion.
        Ok(share.map(|share| Fineness::from_base(share.value.base())))
    }

    /// Reads the stated uncertainty in the quantity of the method.
    fn stated<Q: Quantity>(&self) -> Result<Option<Q>, AppError> {
        Ok(self
            .u
            .as_deref()
            .map(|text| value::<Q>("u", text))
            .transpose()?
            .map(|observation| observation.value))
    }
}

impl Heard {
    /// Returns the partial that was taken, with its uncertainty.
    fn observation(&self) -> Observation<Frequency> {
        let partial = &self.recording.partials[self.order[self.taken]];
        Observation {
            value: Frequency::from_hertz(partial.frequency_hz),
            step: Frequency::from_base(1),
            stated: Some(Frequency::from_hertz(partial.uncertainty_hz)),
        }
    }
}

/// Returns the letter of the partial at a place, from 0; a recording has at most twelve.
pub(super) fn letter(place: usize) -> char {
    char::from(b'A' + u8::try_from(place.min(25)).unwrap_or(25))
}

fn usage(message: String) -> AppError {
    AppError::usage(message, Vec::new())
}

fn named(option: &str) -> String {
    if option == "ANSWER" { "`ANSWER`".to_owned() } else { format!("`--{option}`") }
}

fn missing(option: &str, method: &str) -> AppError {
    usage(format!("{} is missing for `{method}`", named(option)))
}

fn word(option: &str, found: &str, allowed: &str) -> AppError {
    usage(format!("`--{option}`: `{found}` is not one of {allowed}"))
}

fn value<Q: Quantity>(option: &str, text: &str) -> Result<Observation<Q>, AppError> {
    let entry = parse::<Q>(text).map_err(|error| usage(format!("`--{option}`: {error}")))?;
    Ok(Observation::of(&entry))
}

fn needed<Q: Quantity>(option: &str, given: Option<&str>) -> Result<Observation<Q>, AppError> {
    value(option, given.ok_or_else(|| usage(format!("`--{option}` is missing")))?)
}

fn text(option: &str, given: Option<&str>) -> Result<String, AppError> {
    let text = crate::quantity::entry::clean(given.ok_or_else(|| usage(format!("`--{option}` is missing")))?);
    let length = text.chars().count();
    if (1..=200).contains(&length) {
        return Ok(text);
    }
    Err(usage(format!("`--{option}` has {length} characters; allowed are 1 to 200")))
}
