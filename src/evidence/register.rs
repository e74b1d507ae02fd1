//! The register of a desk: its instruments by name, and the reference pieces they are checked on.

use super::accuracy::{Calliper, Certificate, Scale, plain};
use super::reference_piece::{ReferencePiece, same};
use super::{Instruments, Limit, Measurand};
use crate::quantity::{Conductivity, Quantity, TemperatureDifference};
use crate::reference::mistake::{Place, Suggestion};
use crate::reference::{Catalogue, MaterialId, Mistake, Reason};
use chrono::NaiveDate;
use std::fmt;

/// What an instrument is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum InstrumentKind {
    /// A scale.
    Scale,
    /// A calliper.
    Calliper,
    /// A micrometer.
    Micrometer,
    /// A conductivity meter.
    Meter,
    /// An ultrasound gauge.
    Ultrasound,
    /// A thermometer.
    Thermometer,
}

impl InstrumentKind {
    /// All kinds in the order of the desk.
    pub const ALL: [InstrumentKind; 6] = [
        InstrumentKind::Scale,
        InstrumentKind::Calliper,
        InstrumentKind::Micrometer,
        InstrumentKind::Meter,
        InstrumentKind::Ultrasound,
        InstrumentKind::Thermometer,
    ];
    /// The words for them.
    pub const WORDS: &'static [&'static str] =
        &["scale", "calliper", "micrometer", "meter", "ultrasound", "thermometer"];

    /// Returns the word for it.
    pub fn word(self) -> &'static str {
        Self::WORDS[self as usize]
    }

    /// Returns the kind with the given word.
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }

    /// Returns the readings of a piece that it takes; an ultrasound gauge serves second tests only.
    pub fn measurands(self) -> &'static [Measurand] {
        match self {
            InstrumentKind::Scale => &[Measurand::Mass],
            InstrumentKind::Calliper | InstrumentKind::Micrometer => {
                &[Measurand::Diameter, Measurand::Length, Measurand::Width, Measurand::Thickness]
            }
            InstrumentKind::Meter => &[Measurand::Conductivity],
            InstrumentKind::Ultrasound => &[],
            InstrumentKind::Thermometer => &[Measurand::Temperature],
        }
    }
}

impl fmt::Display for InstrumentKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// A share of the value with its coverage factor, as certificates of conductivity meters state it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct SharePpm(pub u32);

impl SharePpm {
    /// Returns the share as a number.
    pub fn as_share(self) -> f64 {
        f64::from(self.0) * 1e-6
    }
}

impl fmt::Display for SharePpm {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} %", f64::from(self.0) / 1e4)
    }
}

/// A conductivity meter.
#[derive(Debug, Clone, PartialEq)]
pub struct Meter {
    /// Name on the desk; `None` for one that nobody registered.
    pub name: Option<String>,
    /// Standard deviation of repeated readings on one spot, as a share of the value, times one million.
    pub repeatability_ppm: u32,
    /// One step of its last digit.
    pub digit_step: Option<Conductivity>,
    /// Whether it was compared with a reference piece of the same alloy.
    pub compared_with_same_alloy: bool,
    /// Its certificate; where there is one it counts instead of the limit of error.
    pub certificate: Option<Certificate<SharePpm>>,
    /// Its limit of error, as a share of the value.
    pub limit: Option<SharePpm>,
    /// Whether it keeps what it was set to for each probe, so that a probe change asks for no control.
    pub keeps_standardisation: bool,
    /// When the next calibration is due.
    pub due: Option<NaiveDate>,
}

impl Meter {
    /// Returns the name on the desk, else the word for its kind.
    pub fn called(&self) -> &str {
        self.name.as_deref().unwrap_or(InstrumentKind::Meter.word())
    }
}

/// A thermometer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Thermometer {
    /// Name on the desk; `None` for one that nobody registered.
    pub name: Option<String>,
    /// Standard uncertainty of the piece's temperature.
    pub standard_uncertainty: TemperatureDifference,
    /// When the next calibration is due.
    pub due: Option<NaiveDate>,
}

/// The instruments of a desk by name, and its reference pieces; empty for a desk that registered nothing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Register {
    /// Scales.
    pub scales: Vec<Scale>,
    /// Callipers, micrometers and ultrasound gauges.
    pub lengths: Vec<Calliper>,
    /// Conductivity meters.
    pub meters: Vec<Meter>,
    /// Thermometers.
    pub thermometers: Vec<Thermometer>,
    /// Reference pieces.
    pub references: Vec<ReferencePiece>,
    /// Which instrument takes which reading, where the file says so.
    pub(super) in_use_for: Vec<(Measurand, String)>,
    /// Where the material of each reference piece stands.
    pub(super) materials: Vec<(MaterialId, Place)>,
}

/// An instrument of the register in short.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Registered {
    /// Its name.
    pub name: String,
    /// What it is.
    pub kind: InstrumentKind,
    /// When the next calibration is due.
    pub due: Option<NaiveDate>,
}

impl Register {
    /// Returns every instrument in short, kind by kind in the order of the file.
    pub fn instruments(&self) -> Vec<Registered> {
        let direct = |name: &Option<String>, kind, due| Registered {
            name: name.clone().unwrap_or_default(),
            kind,
            due,
        };
        let mut all: Vec<Registered> =
            self.scales.iter().map(|one| direct(&one.name, one.kind, one.due)).collect();
        all.extend(self.lengths.iter().map(|one| direct(&one.name, one.kind, one.due)));
        all.extend(self.meters.iter().map(|one| direct(&one.name, InstrumentKind::Meter, one.due)));
        all.extend(
            self.thermometers.iter().map(|one| direct(&one.name, InstrumentKind::Thermometer, one.due)),
        );
        all.sort_by_key(|one| one.kind);
        all
    }

    /// Returns the instrument with a name.
    pub fn instrument(&self, name: &str) -> Option<Registered> {
        self.instruments().into_iter().find(|one| same(&one.name, name))
    }

    /// Returns the reference piece with a name.
    pub fn reference(&self, name: &str) -> Option<&ReferencePiece> {
        self.references.iter().find(|piece| same(&piece.name, name))
    }

    /// Returns the reference pieces that an instrument is checked on; none means that no control is asked of it.
    pub fn references_for(&self, kind: InstrumentKind, name: &str) -> Vec<&ReferencePiece> {
        self.references.iter().filter(|piece| piece.is_for(kind, name)).collect()
    }

    /// Tells whether a meter keeps what it was set to for each probe.
    pub fn keeps_standardisation(&self, name: &str) -> bool {
        self.meter(name).is_some_and(|meter| meter.keeps_standardisation)
    }

    /// Returns the scale with a name.
    pub(super) fn scale(&self, name: &str) -> Option<&Scale> {
        self.scales.iter().find(|one| same(one.called(), name))
    }

    /// Returns the calliper, micrometer or gauge with a name.
    pub(super) fn length(&self, name: &str) -> Option<&Calliper> {
        self.lengths.iter().find(|one| same(one.called(), name))
    }

    /// Returns the meter with a name.
    pub(super) fn meter(&self, name: &str) -> Option<&Meter> {
        self.meters.iter().find(|one| same(one.called(), name))
    }

    /// Returns the thermometer with a name.
    pub(super) fn thermometer(&self, name: &str) -> Option<&Thermometer> {
        self.thermometers.iter().find(|one| one.name.as_deref().is_some_and(|own| same(own, name)))
    }

    /// Returns the materials of reference pieces that a catalogue does not have, as mistakes with their places.
    pub fn unknown_materials(&self, catalogue: &Catalogue) -> Vec<Mistake> {
        let unknown = self.materials.iter().filter(|(id, _)| catalogue.material(id.as_str()).is_none());
        unknown
            .map(|(id, place)| Mistake {
                place: place.clone(),
                reason: Reason::UnknownMaterial {
                    field: "material".to_owned(),
                    id: id.to_string(),
                    closest: Suggestion(
                        catalogue.closest_materials(id.as_str()).into_iter().map(str::to_owned).collect(),
                    ),
                },
            })
            .collect()
    }

    /// Says in words what is on record about an instrument, one line a fact.
    pub fn facts(&self, name: &str) -> Vec<(&'static str, String)> {
        if let Some(one) = self.scale(name) {
            return direct_facts(one);
        }
        if let Some(one) = self.length(name) {
            return direct_facts(one);
        }
        if let Some(one) = self.meter(name) {
            return meter_facts(one);
        }
        self.thermometer(name).map(thermometer_facts).unwrap_or_default()
    }
}

/// Kind, readings taken, and facts of an instrument that nobody registered.
pub type Assumed = (InstrumentKind, Vec<Measurand>, Vec<(&'static str, String)>);

impl Instruments {
    /// Returns what is assumed about the instruments in use that nobody registered.
    pub fn assumed_facts(&self) -> Vec<Assumed> {
        let unnamed = |kind: InstrumentKind| {
            let of = kind.measurands().iter().copied().filter(|of| self.name_for(*of).is_none());
            of.collect::<Vec<Measurand>>()
        };
        let all = [
            (InstrumentKind::Scale, direct_facts(&self.scale)),
            (InstrumentKind::Calliper, direct_facts(&self.calliper)),
            (InstrumentKind::Meter, meter_facts(&self.meter)),
            (InstrumentKind::Thermometer, thermometer_facts(&self.thermometer)),
        ];
        let shown = all.into_iter().map(|(kind, facts)| (kind, unnamed(kind), facts));
        shown.filter(|(_, of, _)| !of.is_empty()).collect()
    }
}

fn direct_facts<Q: Quantity>(one: &super::Direct<Q>) -> Vec<(&'static str, String)> {
    let mut facts = vec![("repeatability", plain(one.repeatability))];
    facts.extend(one.digit_step.map(|step| ("digit step", plain(step))));
    facts.extend(
        one.certificate
            .as_ref()
            .map(|c| ("certificate", format!("{}: U = {}, k = {}", c.named(), plain(c.expanded), c.k))),
    );
    facts.extend(one.limit.as_ref().map(|limit| {
        let words = match limit {
            Limit::Stated(limit) => plain(*limit),
            Limit::Standard(standard) => standard.words(),
        };
        ("limit of error", words)
    }));
    facts.extend(one.greatest.map(|greatest| ("measures up to", plain(greatest))));
    facts
}

fn meter_facts(one: &Meter) -> Vec<(&'static str, String)> {
    let mut facts = vec![("repeatability", format!("{} of the value", SharePpm(one.repeatability_ppm)))];
    facts.extend(one.digit_step.map(|step| ("digit step", plain(step))));
    facts.extend(
        one.certificate
            .as_ref()
            .map(|c| ("certificate", format!("{}: U = {} of the value, k = {}", c.named(), c.expanded, c.k))),
    );
    facts.extend(one.limit.map(|limit| ("limit of error", format!("{limit} of the value"))));
    let compared = if one.compared_with_same_alloy {
        "with a reference piece of the same alloy"
    } else {
        "never with the same alloy: u is at least 1 % of the value"
    };
    facts.push(("compared", compared.to_owned()));
    if one.keeps_standardisation {
        facts.push(("probe change", "keeps what each probe was set to".to_owned()));
    }
    facts
}

fn thermometer_facts(one: &Thermometer) -> Vec<(&'static str, String)> {
    vec![("standard uncertainty", plain(one.standard_uncertainty))]
}
