//! One piece scored from typed texts; no book is needed.

use super::AppError;
use crate::evidence::{
    Coil, CoilError, Form, Instruments, MagnetResponse, Measurand, Observation, PieceEvidence, Presentation,
    Probe, Standardised,
};
use crate::quantity::entry::{EntryError, parse};
use crate::quantity::{Entry, Money, MoneyError, Quantity};
use crate::reference::{Catalogue, Product};
use crate::scoring::{Assessment, Declared, ExemplarError, Policy, Rules, Standards, assess};
use thiserror::Error;

/// What somebody typed about one piece; an empty option was not given.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ScoreRequest {
    /// Product id.
    pub product: String,
    /// Mass.
    pub mass: Option<String>,
    /// Diameter.
    pub diameter: Option<String>,
    /// Thickness.
    pub thickness: Option<String>,
    /// Length.
    pub length: Option<String>,
    /// Width.
    pub width: Option<String>,
    /// Conductivity, one text a spot.
    pub conductivity: Vec<String>,
    /// Name of a probe of the desk; the options below override its data.
    pub probe: Option<String>,
    /// Test frequency.
    pub frequency: Option<String>,
    /// Coil radii, `2mm,4mm`.
    pub coil: Option<String>,
    /// Distance between probe and metal.
    pub lift_off: Option<String>,
    /// Lift-off that the meter compensates.
    pub lift_off_range: Option<String>,
    /// Temperature of the piece.
    pub temperature: Option<String>,
    /// Way of standardising.
    pub standardised: Option<String>,
    /// Thickness of a sleeve.
    pub sleeve: Option<String>,
    /// `attracted` or `none`.
    pub magnet: Option<String>,
    /// Standard uncertainty of the mass.
    pub u_mass: Option<String>,
    /// Standard uncertainty of every length.
    pub u_length: Option<String>,
    /// Standard uncertainty of the conductivity.
    pub u_conductivity: Option<String>,
    /// Price of a troy ounce of the fine metal.
    pub price: Option<String>,
    /// Whether the piece has been in circulation.
    pub circulated: bool,
    /// Whether it has no flat field.
    pub irregular: bool,
}

/// A typed request that cannot be scored.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ScoreError {
    /// The product alone does not say enough.
    #[error(transparent)]
    Size(#[from] ExemplarError),
    /// The product is not in the catalogue.
    #[error("product `{found}` is not in the reference")]
    UnknownProduct {
        /// What was typed.
        found: String,
        /// Products with a similar id.
        closest: Vec<String>,
    },
    /// The probe is not one of the desk's.
    #[error("probe `{found}` is not one of {allowed}")]
    UnknownProbe {
        /// What was typed.
        found: String,
        /// The probes of the desk.
        allowed: String,
    },
    /// A value breaks the grammar.
    #[error("`--{option}`: {source}")]
    Value {
        /// The option.
        option: &'static str,
        /// What is wrong.
        source: EntryError,
    },
    /// The coil cannot be read.
    #[error("`--coil`: {0}")]
    Coil(#[from] CoilError),
    /// The price cannot be read.
    #[error("`--price`: {0}")]
    Price(#[from] MoneyError),
    /// The price is in another currency than the policy.
    #[error("`--price`: currency `{found}` is not the policy's `{allowed}`")]
    Currency {
        /// What was typed.
        found: String,
        /// What is allowed.
        allowed: String,
    },
    /// A word is not one of those allowed.
    #[error("`--{option}`: `{found}` is not one of {allowed}")]
    Word {
        /// The option.
        option: &'static str,
        /// What was typed.
        found: String,
        /// What is allowed.
        allowed: &'static str,
    },
}

/// Scores one piece.
///
/// # Errors
/// The first thing that cannot be read, naming its option.
pub fn score(
    request: &ScoreRequest,
    catalogue: &Catalogue,
    instruments: &Instruments,
    policy: &Policy,
) -> Result<Assessment, ScoreError> {
    let product = product_of(&request.product, catalogue)?;
    let evidence = evidence(request, instruments)?;
    let price = price_of(request.price.as_deref(), policy)?;
    let standards = Standards::default();
    let rules = Rules { catalogue, instruments, policy, standards: &standards };
    Ok(assess(&rules, &Declared { product, price, lot_size: 1, source: None, type_book: None }, &evidence))
}

/// Says what to do beside what is wrong.
impl From<ScoreError> for AppError {
    fn from(error: ScoreError) -> Self {
        let hints = match &error {
            ScoreError::UnknownProduct { closest, .. } if !closest.is_empty() => {
                let closest: Vec<String> = closest.iter().map(|id| format!("`{id}`")).collect();
                vec![format!("did you mean {}?", closest.join(", "))]
            }
            ScoreError::UnknownProduct { .. } => {
                vec!["`scruple reference list` shows all products".to_owned()]
            }
            ScoreError::Size(_) => vec!["state its measures, such as `--diameter 38.6mm`".to_owned()],
            _ => Vec::new(),
        };
        AppError::usage(error.to_string(), hints)
    }
}

/// Finds a product.
pub(super) fn product_of<'a>(id: &str, catalogue: &'a Catalogue) -> Result<&'a Product, ScoreError> {
    catalogue.product(id).ok_or_else(|| ScoreError::UnknownProduct {
        found: id.to_owned(),
        closest: catalogue.closest_products(id).into_iter().map(str::to_owned).collect(),
    })
}

/// Finds a probe of the desk.
pub(super) fn probe_of<'a>(name: &str, instruments: &'a Instruments) -> Result<&'a Probe, ScoreError> {
    instruments.probe(name).ok_or_else(|| ScoreError::UnknownProbe {
        found: name.to_owned(),
        allowed: instruments.probes.iter().map(|p| format!("`{}`", p.name)).collect::<Vec<_>>().join(", "),
    })
}

/// Reads a price in the currency of the policy.
pub(super) fn price_of(text: Option<&str>, policy: &Policy) -> Result<Option<Money>, ScoreError> {
    let price = text.map(|text| Money::parse(text, policy.currency)).transpose()?;
    if let Some(price) = price.filter(|price| price.currency != policy.currency) {
        return Err(ScoreError::Currency {
            found: price.currency.to_string(),
            allowed: policy.currency.to_string(),
        });
    }
    Ok(price)
}

/// Reads all typed readings of a request.
fn evidence(request: &ScoreRequest, instruments: &Instruments) -> Result<PieceEvidence, ScoreError> {
    let u_mass = value("u-mass", &request.u_mass)?.map(|entry| entry.value);
    let u_length = value("u-length", &request.u_length)?.map(|entry| entry.value);
    let u_conductivity = value("u-conductivity", &request.u_conductivity)?.map(|entry| entry.value);
    let length = |option, text: &Option<String>| {
        Ok::<_, ScoreError>(value(option, text)?.map(|entry| Observation::of(&entry).with_stated(u_length)))
    };
    let conductivity = request
        .conductivity
        .iter()
        .map(|text| {
            let entry = read(Measurand::Conductivity.name(), text)?;
            Ok(Observation::of(&entry).with_stated(u_conductivity))
        })
        .collect::<Result<Vec<_>, ScoreError>>()?;
    let magnet = match request.magnet.as_deref() {
        None => None,
        Some("attracted") => Some(MagnetResponse::Attracted),
        Some("none") => Some(MagnetResponse::None),
        Some(found) => return Err(word("magnet", found, "`attracted`, `none`")),
    };
    let mut evidence = PieceEvidence {
        second_tests: Vec::new(),
        unproved: Vec::new(),
        mass: value("mass", &request.mass)?.map(|entry| Observation::of(&entry).with_stated(u_mass)),
        diameter: length("diameter", &request.diameter)?,
        thickness: length("thickness", &request.thickness)?,
        length: length("length", &request.length)?,
        width: length("width", &request.width)?,
        conductivity,
        temperature: value("temperature", &request.temperature)?.map(|entry| Observation::of(&entry)),
        probe: probe(request, instruments)?,
        presentation: Presentation {
            sleeve: value("sleeve", &request.sleeve)?.map(|entry| entry.value),
            lift_off: value("lift-off", &request.lift_off)?.map(|entry| entry.value),
            magnet,
            circulated: request.circulated,
            form: if request.irregular { Form::Irregular } else { Form::Flat },
        },
    };
    evidence.unproved = instruments.cannot_vouch(&evidence);
    Ok(evidence)
}

/// Puts a probe together from a probe of the desk and the options given; `None` when nothing is known of it.
fn probe(request: &ScoreRequest, instruments: &Instruments) -> Result<Option<Probe>, ScoreError> {
    let base = match &request.probe {
        None => None,
        Some(name) => Some(probe_of(name, instruments)?.clone()),
    };
    let frequency = value("frequency", &request.frequency)?.map(|entry| entry.value);
    let coil = request.coil.as_deref().map(Coil::parse).transpose()?;
    let lift_off_range = value("lift-off-range", &request.lift_off_range)?.map(|entry| entry.value);
    let standardised = match request.standardised.as_deref() {
        None => None,
        Some(found) => Some(
            Standardised::named(found)
                .ok_or_else(|| word("standardised", found, "`at-temperature`, `to-20C`, `unknown`"))?,
        ),
    };
    let told = frequency.is_some() || coil.is_some() || lift_off_range.is_some() || standardised.is_some();
    if base.is_none() && !told {
        return Ok(None);
    }
    let base = base.unwrap_or(Probe {
        name: "given".to_owned(),
        frequency: None,
        coil: None,
        lift_off_range: None,
        edge_distance: None,
        standardised: Standardised::Unknown,
    });
    Ok(Some(Probe {
        frequency: frequency.or(base.frequency),
        coil: coil.or(base.coil),
        lift_off_range: lift_off_range.or(base.lift_off_range),
        edge_distance: base.edge_distance,
        standardised: standardised.unwrap_or(base.standardised),
        name: base.name,
    }))
}

pub(super) fn value<Q: Quantity>(
    option: &'static str,
    text: &Option<String>,
) -> Result<Option<Entry<Q>>, ScoreError> {
    text.as_deref().map(|text| read(option, text)).transpose()
}

fn read<Q: Quantity>(option: &'static str, text: &str) -> Result<Entry<Q>, ScoreError> {
    parse(text).map_err(|source| ScoreError::Value { option, source })
}

fn word(option: &'static str, found: &str, allowed: &'static str) -> ScoreError {
    ScoreError::Word { option, found: found.to_owned(), allowed }
}
