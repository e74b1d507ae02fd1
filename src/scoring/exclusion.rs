//! What excluded a candidate: kept as numbers, put into words only when somebody reads them.

use super::doubt::Method;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;

/// What excluded a candidate. The numbers are in the units of the words; distances in standard uncertainties.
#[derive(Debug, Clone)]
pub enum Exclusion {
    /// Mass and outline ask for more than the material weighs, in g/cm³.
    TooLight {
        /// Least density of the piece.
        least: f64,
        /// Greatest density of the material.
        greatest: f64,
    },
    /// It would fill too little of the envelope.
    TooHeavy {
        /// Share of the envelope that it would fill.
        fill: f64,
    },
    /// Mass and size ask for another density, by the share of the envelope that such pieces fill, in g/cm³.
    TypeDensity {
        /// Density of the piece by its size.
        value: f64,
        /// Its standard uncertainty.
        u: f64,
        /// How far it lies outside.
        distance: f64,
        /// Lowest density of such a body.
        low: f64,
        /// Highest density of such a body.
        high: f64,
    },
    /// It is ferromagnetic and no magnet attracted the piece.
    Magnet,
    /// A solid reads otherwise, in MS/m.
    Conductivity {
        /// The reading at 20 °C.
        value: f64,
        /// How far it lies outside.
        distance: f64,
        /// Lowest conductivity of the material.
        low: f64,
        /// Highest conductivity of the material.
        high: f64,
    },
    /// A core reads otherwise under every skin.
    UnderAnySkin {
        /// How far the reading lies from the nearest of them.
        distance: f64,
    },
    /// No skin that conductivity leaves gives this mass.
    NoSkin,
    /// A second test excluded it; an infinite distance is a sign that was looked for.
    SecondTest {
        /// The method.
        method: Method,
        /// How far the result lies outside.
        distance: f64,
    },
    /// As it was said when it was kept.
    Said(Box<str>),
}

impl fmt::Display for Exclusion {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Exclusion::TooLight { least, greatest } => {
                write!(f, "mass and outline: at least {least:.2} g/cm³, it has at most {greatest:.2}")
            }
            Exclusion::TooHeavy { fill } => write!(
                f,
                "mass and outline: it would fill {:.0} % of the envelope, a struck piece fills more",
                100.0 * fill
            ),
            Exclusion::TypeDensity { value, distance, low, high, .. } => write!(
                f,
                "mass and size: {value:.2} g/cm³ is {distance:.1} u from its {low:.2} to {high:.2} g/cm³"
            ),
            Exclusion::Magnet => f.write_str("magnet: not attracted, it is ferromagnetic"),
            Exclusion::Conductivity { value, distance, low, high } => write!(
                f,
                "conductivity: {value:.1} MS/m is {distance:.1} u from its {low:.1} to {high:.1} MS/m"
            ),
            Exclusion::UnderAnySkin { distance } => {
                write!(f, "conductivity: at least {distance:.1} u from all it can read under any skin")
            }
            Exclusion::NoSkin => {
                f.write_str("mass and outline: no skin that conductivity leaves gives this mass")
            }
            Exclusion::SecondTest { method, distance } if distance.is_finite() => {
                write!(f, "{}: at least {distance:.1} u from all that it can show", method.label())
            }
            Exclusion::SecondTest { method, .. } => {
                write!(f, "{}: it would have given itself away", method.label())
            }
            Exclusion::Said(words) => f.write_str(words),
        }
    }
}

/// Two exclusions are the same when they say the same: what was kept comes back as words.
impl PartialEq for Exclusion {
    fn eq(&self, other: &Self) -> bool {
        self.to_string() == other.to_string()
    }
}

impl Serialize for Exclusion {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Exclusion {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Ok(Exclusion::Said(String::deserialize(deserializer)?.into_boxed_str()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_exclusion_is_kept_as_words_and_is_the_same_when_it_comes_back() {
        let all = [
            Exclusion::TooLight { least: 18.94, greatest: 17.2 },
            Exclusion::Conductivity { value: 45.1, distance: 12.34, low: 17.5, high: 19.0 },
            Exclusion::SecondTest { method: Method::Ring, distance: f64::INFINITY },
        ];
        for exclusion in all {
            let kept = serde_json::to_string(&exclusion).unwrap();
            assert_eq!(serde_json::from_str::<Exclusion>(&kept).unwrap(), exclusion, "{kept}");
        }
    }
}
