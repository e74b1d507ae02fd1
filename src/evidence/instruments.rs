//! What the instruments of a desk can do: the figures from which a reading gets its uncertainty.
//!
//! A file is either a register of named instruments ([`super::register_file`]) or the short form read here: one scale,
//! one calliper, one meter, one thermometer without names, and the probes.

use super::register::Register;
use super::register_file;
use super::{
    Calliper, Coil, InstrumentKind, Measurand, Meter, Observation, PieceEvidence, Probe, Scale, Standardised,
    Thermometer, Unproved,
};
use crate::quantity::entry::{EntryError, parse};
use crate::quantity::{Frequency, Length, Quantity};
use crate::reference::Mistakes;
use serde::Deserialize;
use thiserror::Error;

/// The instruments in use at a desk, and everything it registered.
#[derive(Debug, Clone, PartialEq)]
pub struct Instruments {
    /// The scale in use.
    pub scale: Scale,
    /// The calliper in use for every length that [`Instruments::only_for`] does not name.
    pub calliper: Calliper,
    /// Instruments in use for one length only, such as a micrometer for the thickness.
    pub only_for: Vec<(Measurand, Calliper)>,
    /// The conductivity meter in use.
    pub meter: Meter,
    /// The thermometer in use.
    pub thermometer: Thermometer,
    /// Probes by name.
    pub probes: Vec<Probe>,
    /// Every registered instrument and reference piece; empty where nothing was registered by name.
    pub register: Register,
}

/// A file of instruments that cannot be used.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum InstrumentsError {
    /// Mistakes of a register, each with file, line and field.
    #[error("{0}")]
    Mistakes(#[from] Mistakes),
    /// The text is not TOML of the expected form; the message names line and column.
    #[error("{file}: {message}")]
    Form {
        /// Name of the file.
        file: String,
        /// What the reader found.
        message: String,
    },
    /// A value breaks the grammar.
    #[error("{file}: `{field}`: {source}")]
    Value {
        /// Name of the file.
        file: String,
        /// The field.
        field: String,
        /// What is wrong with it.
        source: EntryError,
    },
    /// A word is not one of the words allowed.
    #[error("{file}: `{field}`: `{found}` is not one of {allowed}")]
    Word {
        /// Name of the file.
        file: String,
        /// The field.
        field: String,
        /// What was found.
        found: String,
        /// What is allowed.
        allowed: &'static str,
    },
    /// The radii of a coil are not in order.
    #[error(
        "{file}: probe `{probe}`: coil_inner must be above zero and below coil_outer, and both must be given"
    )]
    CoilOrder {
        /// Name of the file.
        file: String,
        /// The probe.
        probe: String,
    },
    /// A coil or an edge distance is not above zero, or a length stands without radii.
    #[error(
        "{file}: probe `{probe}`: {field} must be above zero, and a coil_length needs coil_inner and coil_outer"
    )]
    ProbeMeasure {
        /// Name of the file.
        file: String,
        /// The probe.
        probe: String,
        /// The field.
        field: &'static str,
    },
    /// A probe states its frequency in two ways, or several in no list of different ones.
    #[error(
        "{file}: probe `{probe}`: give `frequency`, or `frequencies` as a list of different ones, not both"
    )]
    Frequencies {
        /// Name of the file.
        file: String,
        /// The probe.
        probe: String,
    },
    /// Two probes have one name.
    #[error("{file}: probe `{probe}` is there twice")]
    Twice {
        /// Name of the file.
        file: String,
        /// The probe.
        probe: String,
    },
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileText {
    scale: LimitsText,
    calliper: LimitsText,
    meter: MeterText,
    thermometer: ThermometerText,
    #[serde(default)]
    probe: Vec<ProbeText>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LimitsText {
    repeatability: String,
    limit_of_error: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MeterText {
    repeatability_percent: String,
    compared_with_same_alloy: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ThermometerText {
    standard_uncertainty: String,
}

/// A probe as typed.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ProbeText {
    pub(super) name: String,
    pub(super) frequency: Option<String>,
    pub(super) frequencies: Option<Vec<String>>,
    pub(super) coil_inner: Option<String>,
    pub(super) coil_outer: Option<String>,
    pub(super) coil_length: Option<String>,
    pub(super) lift_off_range: Option<String>,
    pub(super) edge_distance: Option<String>,
    pub(super) standardised: Option<String>,
}

/// The file shipped with the program.
const BUILT_IN: &str = include_str!("../../assets/desk/instruments.toml");

impl Instruments {
    /// Returns the assumed instruments that are shipped with the program.
    pub fn built_in() -> Self {
        Self::parse("assets/desk/instruments.toml", BUILT_IN)
            .expect("the shipped instruments are well formed")
    }

    /// Reads a file of instruments: a register, or the short form.
    ///
    /// # Errors
    /// Every mistake of a register with file, line and field; of the short form the first, with file and field.
    pub fn parse(file: &str, text: &str) -> Result<Self, InstrumentsError> {
        if register_file::is_register(text) {
            Self::parse_register(file, text)
        } else {
            Self::parse_short(file, text)
        }
    }

    /// Reads a register; a kind of which it names none stays as assumed.
    fn parse_register(file: &str, text: &str) -> Result<Self, InstrumentsError> {
        let (register, probes) = register_file::read(file, text)?;
        let assumed = Self::built_in();
        let instruments = Instruments { probes, register, ..assumed };
        Ok(instruments.using(&[]))
    }

    /// Reads the short form.
    fn parse_short(file: &str, text: &str) -> Result<Self, InstrumentsError> {
        let form = |error: toml::de::Error| InstrumentsError::Form {
            file: file.to_owned(),
            message: error.to_string().trim_end().to_owned(),
        };
        let parsed: FileText = toml::from_str(text).map_err(form)?;
        let probes = parsed.probe.into_iter().map(|probe| read_probes(file, probe));
        let probes: Vec<Probe> = probes.collect::<Result<Vec<_>, _>>()?.into_iter().flatten().collect();
        for (index, probe) in probes.iter().enumerate() {
            if probes[..index].iter().any(|earlier| earlier.name == probe.name) {
                return Err(InstrumentsError::Twice { file: file.to_owned(), probe: probe.name.clone() });
            }
        }
        let percent = value::<crate::quantity::Fineness>(
            file,
            "meter.repeatability_percent",
            &format!("{} %", parsed.meter.repeatability_percent.trim_end_matches('%').trim_end()),
        )?;
        let scale = Scale::assumed(
            InstrumentKind::Scale,
            value(file, "scale.repeatability", &parsed.scale.repeatability)?,
            value(file, "scale.limit_of_error", &parsed.scale.limit_of_error)?,
        );
        let calliper = Calliper::assumed(
            InstrumentKind::Calliper,
            value(file, "calliper.repeatability", &parsed.calliper.repeatability)?,
            value(file, "calliper.limit_of_error", &parsed.calliper.limit_of_error)?,
        );
        let meter = Meter {
            name: None,
            repeatability_ppm: u32::try_from(percent.base() / 1000).unwrap_or(u32::MAX),
            digit_step: None,
            compared_with_same_alloy: parsed.meter.compared_with_same_alloy,
            certificate: None,
            limit: None,
            keeps_standardisation: false,
            due: None,
        };
        let thermometer = Thermometer {
            name: None,
            standard_uncertainty: value(
                file,
                "thermometer.standard_uncertainty",
                &parsed.thermometer.standard_uncertainty,
            )?,
            due: None,
        };
        let (only_for, register) = (Vec::new(), Register::default());
        Ok(Instruments { scale, calliper, only_for, meter, thermometer, probes, register })
    }

    /// Returns the instruments with those in use that a choice names; what it does not name is in use as the file says, else
    /// the first of its kind.
    ///
    /// A name that the register does not know changes nothing.
    pub fn using(&self, choice: &[(Measurand, String)]) -> Self {
        let register = &self.register;
        let wanted = |measurand: Measurand| {
            let named = |list: &[(Measurand, String)]| {
                let found = list.iter().find(|(of, _)| *of == measurand);
                found.and_then(|(_, name)| register.instrument(name)).map(|one| one.name)
            };
            named(choice).or_else(|| named(&register.in_use_for))
        };
        let mut instruments = self.clone();
        let scale =
            wanted(Measurand::Mass).and_then(|name| register.scale(&name)).or(register.scales.first());
        if let Some(scale) = scale {
            instruments.scale = scale.clone();
        }
        let of_kind = |kind| register.lengths.iter().find(|one| one.kind == kind);
        let first = of_kind(InstrumentKind::Calliper).or(of_kind(InstrumentKind::Micrometer));
        if let Some(first) = first {
            instruments.calliper = first.clone();
        }
        instruments.only_for = InstrumentKind::Calliper
            .measurands()
            .iter()
            .filter_map(|of| Some((*of, register.length(&wanted(*of)?)?.clone())))
            .collect();
        let meter = wanted(Measurand::Conductivity)
            .and_then(|name| register.meter(&name))
            .or(register.meters.first());
        if let Some(meter) = meter {
            instruments.meter = meter.clone();
        }
        let thermometer = wanted(Measurand::Temperature)
            .and_then(|name| register.thermometer(&name))
            .or(register.thermometers.first());
        if let Some(thermometer) = thermometer {
            instruments.thermometer = thermometer.clone();
        }
        instruments
    }

    /// Returns the instrument that takes a length.
    pub fn for_length(&self, measurand: Measurand) -> &Calliper {
        let only = self.only_for.iter().find(|(of, _)| *of == measurand);
        only.map_or(&self.calliper, |(_, instrument)| instrument)
    }

    /// Returns the readings for which their instrument cannot vouch: beyond what it measures, or where no limit of error is
    /// known.
    pub fn cannot_vouch(&self, evidence: &PieceEvidence) -> Vec<Unproved> {
        let length = |measurand, observation: &Option<Observation<Length>>| {
            let reason = self.for_length(measurand).cannot_vouch(observation.as_ref()?.value)?;
            Some(Unproved { measurand, reason })
        };
        let mass = evidence.mass.as_ref().and_then(|mass| self.scale.cannot_vouch(mass.value));
        let mass = mass.map(|reason| Unproved { measurand: Measurand::Mass, reason });
        let lengths = [
            length(Measurand::Diameter, &evidence.diameter),
            length(Measurand::Length, &evidence.length),
            length(Measurand::Width, &evidence.width),
            length(Measurand::Thickness, &evidence.thickness),
        ];
        mass.into_iter().chain(lengths.into_iter().flatten()).collect()
    }

    /// Returns the name of the instrument in use for a reading; `None` where nobody registered one.
    pub fn name_for(&self, measurand: Measurand) -> Option<&str> {
        match measurand {
            Measurand::Mass => self.scale.name.as_deref(),
            Measurand::Conductivity => self.meter.name.as_deref(),
            Measurand::Temperature => self.thermometer.name.as_deref(),
            length => self.for_length(length).name.as_deref(),
        }
    }

    /// Returns the ultrasound gauge of the desk, the first of the register.
    pub fn gauge(&self) -> Option<&Calliper> {
        self.register.lengths.iter().find(|one| one.kind == InstrumentKind::Ultrasound)
    }

    /// Returns the probe with the given name.
    pub fn probe(&self, name: &str) -> Option<&Probe> {
        self.probes.iter().find(|probe| probe.name.eq_ignore_ascii_case(name.trim()))
    }
}

/// Reads one value, naming file and field when it is wrong.
fn value<Q: Quantity>(file: &str, field: &str, text: &str) -> Result<Q, InstrumentsError> {
    parse::<Q>(text).map(|entry| entry.value).map_err(|source| InstrumentsError::Value {
        file: file.to_owned(),
        field: field.to_owned(),
        source,
    })
}

/// Reads one probe; one that works at several frequencies becomes one probe for each, called by name and frequency, because
/// each looks to another depth and is kept in control by itself.
pub(super) fn read_probes(file: &str, mut text: ProbeText) -> Result<Vec<Probe>, InstrumentsError> {
    let Some(frequencies) = text.frequencies.take() else { return Ok(vec![read_probe(file, text)?]) };
    let wrong = || InstrumentsError::Frequencies { file: file.to_owned(), probe: text.name.clone() };
    if text.frequency.is_some() || frequencies.is_empty() {
        return Err(wrong());
    }
    let name = text.name.clone();
    let base = read_probe(file, text)?;
    let mut probes: Vec<Probe> = Vec::with_capacity(frequencies.len());
    for typed in frequencies {
        let frequency = value::<Frequency>(file, &format!("probe {name}: frequencies"), &typed)?;
        if probes.iter().any(|probe| probe.frequency == Some(frequency)) {
            return Err(InstrumentsError::Frequencies { file: file.to_owned(), probe: name });
        }
        let name = format!("{name} {}", typed.trim());
        probes.push(Probe { name, frequency: Some(frequency), ..base.clone() });
    }
    Ok(probes)
}

/// Reads one probe of one frequency.
fn read_probe(file: &str, text: ProbeText) -> Result<Probe, InstrumentsError> {
    let name = text.name;
    let length = |field: &str, text: Option<String>| {
        text.map(|text| value::<Length>(file, &format!("probe {name}: {field}"), &text)).transpose()
    };
    let inner = length("coil_inner", text.coil_inner)?;
    let outer = length("coil_outer", text.coil_outer)?;
    let length_of_coil = length("coil_length", text.coil_length)?;
    let coil = match (inner, outer) {
        (None, None) => None,
        (Some(inner), Some(outer)) if inner.base() > 0 && inner < outer => {
            Some(Coil { inner, outer, length: length_of_coil })
        }
        _ => return Err(InstrumentsError::CoilOrder { file: file.to_owned(), probe: name }),
    };
    let edge_distance = length("edge_distance", text.edge_distance)?;
    let measure =
        |field| InstrumentsError::ProbeMeasure { file: file.to_owned(), probe: name.clone(), field };
    if length_of_coil.is_some_and(|length| length.base() <= 0 || coil.is_none()) {
        return Err(measure("coil_length"));
    }
    if edge_distance.is_some_and(|distance| distance.base() <= 0) {
        return Err(measure("edge_distance"));
    }
    let standardised = match text.standardised {
        None => Standardised::Unknown,
        Some(word) => Standardised::named(&word).ok_or_else(|| InstrumentsError::Word {
            file: file.to_owned(),
            field: format!("probe {name}: standardised"),
            found: word,
            allowed: "`at-temperature`, `to-20C`, `unknown`",
        })?,
    };
    let lift_off_range = length("lift_off_range", text.lift_off_range)?;
    let frequency = text
        .frequency
        .map(|text| value::<Frequency>(file, &format!("probe {name}: frequency"), &text))
        .transpose()?;
    Ok(Probe { frequency, coil, lift_off_range, edge_distance, standardised, name })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shipped_instruments_are_read() {
        let desk = Instruments::built_in();
        assert_eq!(desk.probes.len(), 4);
        assert_eq!(desk.meter.repeatability_ppm, 3000);
        assert_eq!(desk.probe("PENCIL").unwrap().coil.unwrap().mean_radius(), Length::from_millimetres(3.0));
    }

    #[test]
    fn a_wrong_unit_names_file_and_field() {
        let text = BUILT_IN.replace("0.01 g", "0.01 mm");
        let error = Instruments::parse("mine.toml", &text).unwrap_err();
        assert!(
            error.to_string().starts_with("mine.toml: `scale.limit_of_error`: mass `0.01 mm`"),
            "{error}"
        );
    }

    #[test]
    fn a_coil_is_two_radii_in_order() {
        assert_eq!(Coil::parse("2mm,4mm").unwrap().outer, Length::from_millimetres(4.0));
        assert!(matches!(Coil::parse("4mm,2mm"), Err(super::super::CoilError::NotInOrder { .. })));
        assert!(matches!(Coil::parse("4mm"), Err(super::super::CoilError::NotTwoRadii { .. })));
        assert_eq!(Coil::parse("2mm,4mm,1.5mm").unwrap().length, Some(Length::from_millimetres(1.5)));
        assert!(matches!(Coil::parse("2mm,4mm,0mm"), Err(super::super::CoilError::NoLength { .. })));
    }
}
