//! What the instruments of a desk can do: the figures from which a reading gets its uncertainty.

use super::{Coil, Probe, Standardised};
use crate::quantity::entry::{EntryError, parse};
use crate::quantity::{Frequency, Length, Mass, Quantity, TemperatureDifference};
use serde::Deserialize;
use thiserror::Error;

/// A scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Scale {
    /// Standard deviation of repeated weighings.
    pub repeatability: Mass,
    /// Limit of error (MPE), taken as the half width of a rectangle.
    pub limit_of_error: Mass,
}

/// A calliper or micrometer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Calliper {
    /// Standard deviation of repeated measurements.
    pub repeatability: Length,
    /// Limit of error (MPE), taken as the half width of a rectangle.
    pub limit_of_error: Length,
}

/// A conductivity meter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meter {
    /// Standard deviation of repeated readings on one spot, as a share of the value, times one million.
    pub repeatability_ppm: u32,
    /// Whether it was compared with a reference piece of the same alloy.
    pub compared_with_same_alloy: bool,
}

/// A thermometer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Thermometer {
    /// Standard uncertainty of the piece's temperature.
    pub standard_uncertainty: TemperatureDifference,
}

/// The instruments of a desk.
#[derive(Debug, Clone, PartialEq)]
pub struct Instruments {
    /// The scale in use.
    pub scale: Scale,
    /// The calliper in use.
    pub calliper: Calliper,
    /// The conductivity meter in use.
    pub meter: Meter,
    /// The thermometer in use.
    pub thermometer: Thermometer,
    /// Probes by name.
    pub probes: Vec<Probe>,
}

/// A file of instruments that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum InstrumentsError {
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

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ProbeText {
    name: String,
    frequency: Option<String>,
    coil_inner: Option<String>,
    coil_outer: Option<String>,
    lift_off_range: Option<String>,
    standardised: Option<String>,
}

/// The file shipped with the program.
const BUILT_IN: &str = include_str!("../../assets/desk/instruments.toml");

impl Instruments {
    /// Returns the assumed instruments that are shipped with the program.
    pub fn built_in() -> Self {
        Self::parse("assets/desk/instruments.toml", BUILT_IN)
            .expect("the shipped instruments are well formed")
    }

    /// Reads a file of instruments.
    ///
    /// # Errors
    /// The first thing that is wrong, with file and field (and line, where the form is wrong).
    pub fn parse(file: &str, text: &str) -> Result<Self, InstrumentsError> {
        let form = |error: toml::de::Error| InstrumentsError::Form {
            file: file.to_owned(),
            message: error.to_string().trim_end().to_owned(),
        };
        let parsed: FileText = toml::from_str(text).map_err(form)?;
        let probes =
            parsed.probe.into_iter().map(|probe| read_probe(file, probe)).collect::<Result<Vec<_>, _>>()?;
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
        Ok(Instruments {
            scale: Scale {
                repeatability: value(file, "scale.repeatability", &parsed.scale.repeatability)?,
                limit_of_error: value(file, "scale.limit_of_error", &parsed.scale.limit_of_error)?,
            },
            calliper: Calliper {
                repeatability: value(file, "calliper.repeatability", &parsed.calliper.repeatability)?,
                limit_of_error: value(file, "calliper.limit_of_error", &parsed.calliper.limit_of_error)?,
            },
            meter: Meter {
                repeatability_ppm: u32::try_from(percent.base() / 1000).unwrap_or(u32::MAX),
                compared_with_same_alloy: parsed.meter.compared_with_same_alloy,
            },
            thermometer: Thermometer {
                standard_uncertainty: value(
                    file,
                    "thermometer.standard_uncertainty",
                    &parsed.thermometer.standard_uncertainty,
                )?,
            },
            probes,
        })
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

/// Reads one probe.
fn read_probe(file: &str, text: ProbeText) -> Result<Probe, InstrumentsError> {
    let name = text.name;
    let length = |field: &str, text: Option<String>| {
        text.map(|text| value::<Length>(file, &format!("probe {name}: {field}"), &text)).transpose()
    };
    let inner = length("coil_inner", text.coil_inner)?;
    let outer = length("coil_outer", text.coil_outer)?;
    let coil = match (inner, outer) {
        (None, None) => None,
        (Some(inner), Some(outer)) if inner.base() > 0 && inner < outer => Some(Coil { inner, outer }),
        _ => return Err(InstrumentsError::CoilOrder { file: file.to_owned(), probe: name }),
    };
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
    Ok(Probe { frequency, coil, lift_off_range, standardised, name })
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
    }
}
