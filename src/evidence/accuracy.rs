//! What an instrument that shows its quantity directly can do: digit step, repeatability, certificate, limit of error.

use super::InstrumentKind;
use crate::metrology::permissible::{ScaleClass, calliper_error_um, micrometer_error_um, scale_error_in_e};
use crate::quantity::{Length, Mass, Quantity};
use chrono::NaiveDate;

/// In service a scale may be off by twice the limit of its verification (OIML R 76-1:2006, 3.5.2, from memory).
const IN_SERVICE: f64 = 2.0;
/// Micrometres in a millimetre.
const UM_PER_MM: f64 = 1000.0;

/// What a calibration certificate states.
#[derive(Debug, Clone, PartialEq)]
pub struct Certificate<Q> {
    /// Its number, as typed.
    pub number: String,
    /// Its date, as typed.
    pub date: String,
    /// Expanded uncertainty U.
    pub expanded: Q,
    /// Coverage factor k of that U, at least 1.
    pub k: f64,
}

impl<Q> Certificate<Q> {
    /// Names the certificate in words for people.
    pub fn named(&self) -> String {
        match (self.number.as_str(), self.date.as_str()) {
            ("", "") => "certificate".to_owned(),
            (number, "") => format!("certificate {number}"),
            ("", date) => format!("certificate of {date}"),
            (number, date) => format!("certificate {number} of {date}"),
        }
    }
}

/// A standard that limits the error of a class of instruments.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standard {
    /// A verified scale: by class, verification interval e and load, in service.
    OimlR76 {
        /// Accuracy class.
        class: ScaleClass,
        /// Verification interval.
        e: Mass,
    },
    /// A calliper with a digit step of 0.01 mm, up to 100 mm.
    Din862,
    /// An external micrometer, by the upper end of its range.
    Din863 {
        /// Upper end of the measuring range, in whole millimetres.
        range_to_mm: u32,
    },
}

impl Standard {
    /// Names the standard, with what of it applies.
    pub fn words(self) -> String {
        match self {
            Standard::OimlR76 { class, e } => {
                format!("OIML R 76-1 class {}, e = {}, in service", class_word(class), plain(e))
            }
            Standard::Din862 => "DIN 862".to_owned(),
            Standard::Din863 { range_to_mm } => format!("DIN 863-1, range to {range_to_mm} mm"),
        }
    }
}

/// The words for the accuracy classes of scales.
pub(super) const CLASS_WORDS: [&str; 4] = ["I", "II", "III", "IIII"];

/// Returns the word for an accuracy class.
pub(super) fn class_word(class: ScaleClass) -> &'static str {
    match class {
        ScaleClass::I => CLASS_WORDS[0],
        ScaleClass::II => CLASS_WORDS[1],
        ScaleClass::III => CLASS_WORDS[2],
        ScaleClass::IIII => CLASS_WORDS[3],
    }
}

/// Returns the accuracy class with the given word.
pub(super) fn class_named(word: &str) -> Option<ScaleClass> {
    [ScaleClass::I, ScaleClass::II, ScaleClass::III, ScaleClass::IIII]
        .into_iter()
        .find(|class| class_word(*class) == word)
}

/// How far an instrument may be off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Limit<Q> {
    /// As the maker or the dealer states it.
    Stated(Q),
    /// By a standard.
    Standard(Standard),
}

/// An instrument that shows a mass or a length directly.
#[derive(Debug, Clone, PartialEq)]
pub struct Direct<Q> {
    /// Name on the desk; `None` for instruments that nobody registered.
    pub name: Option<String>,
    /// What it is.
    pub kind: InstrumentKind,
    /// Standard deviation of repeated measurements.
    pub repeatability: Q,
    /// One step of its last digit.
    pub digit_step: Option<Q>,
    /// Its certificate; where there is one it counts instead of the limit of error.
    pub certificate: Option<Certificate<Q>>,
    /// Its limit of error (MPE), taken as the half width of a rectangle.
    pub limit: Option<Limit<Q>>,
    /// The most it measures.
    pub greatest: Option<Q>,
    /// When the next calibration is due.
    pub due: Option<NaiveDate>,
}

/// A scale.
pub type Scale = Direct<Mass>;
/// A calliper, a micrometer or an ultrasound gauge.
pub type Calliper = Direct<Length>;

impl<Q: Quantity> Direct<Q> {
    /// Makes an instrument that nobody registered.
    pub fn assumed(kind: InstrumentKind, repeatability: Q, limit_of_error: Q) -> Self {
        Direct {
            name: None,
            kind,
            repeatability,
            digit_step: None,
            certificate: None,
            limit: Some(Limit::Stated(limit_of_error)),
            greatest: None,
            due: None,
        }
    }

    /// Returns the name on the desk, else the word for its kind.
    pub fn called(&self) -> &str {
        self.name.as_deref().unwrap_or(self.kind.word())
    }

    /// Returns the digit step that counts for a value typed with a given step: never finer than the instrument's own.
    pub fn step_of(&self, typed: Q) -> Q {
        self.digit_step.map_or(typed, |own| if own.base() > typed.base() { own } else { typed })
    }

    /// Says why a value is beyond what the instrument measures; `None` when it is not.
    fn beyond(&self, value: Q) -> Option<String> {
        let greatest = self.greatest.filter(|greatest| value.base() > greatest.base())?;
        Some(format!("{} is above what `{}` measures, {}", plain(value), self.called(), plain(greatest)))
    }
}

impl Direct<Mass> {
    /// Returns the limit of error at a load; `None` where nothing states one.
    pub fn limit_at(&self, load: Mass) -> Option<Mass> {
        match self.limit? {
            Limit::Stated(limit) => Some(limit),
            Limit::Standard(Standard::OimlR76 { class, e }) => {
                let in_e = scale_error_in_e(class, load.as_grams() / e.as_grams())?;
                Some(Mass::from_grams(IN_SERVICE * in_e * e.as_grams()))
            }
            Limit::Standard(_) => None,
        }
    }

    /// Says why the scale cannot vouch for a load; `None` when it can.
    pub fn cannot_vouch(&self, load: Mass) -> Option<String> {
        self.beyond(load).or_else(|| no_limit(self, self.limit_at(load).is_some(), load))
    }
}

impl Direct<Length> {
    /// Returns the limit of error at a length; `None` where nothing states one.
    pub fn limit_at(&self, length: Length) -> Option<Length> {
        let um = match self.limit? {
            Limit::Stated(limit) => return Some(limit),
            Limit::Standard(Standard::Din862) => calliper_error_um(length.as_millimetres())?,
            Limit::Standard(Standard::Din863 { range_to_mm }) => {
                let within = length.as_millimetres() <= f64::from(range_to_mm);
                micrometer_error_um(range_to_mm).filter(|_| within)?
            }
            Limit::Standard(Standard::OimlR76 { .. }) => return None,
        };
        Some(Length::from_millimetres(um / UM_PER_MM))
    }

    /// Says why the instrument cannot vouch for a length; `None` when it can.
    pub fn cannot_vouch(&self, length: Length) -> Option<String> {
        self.beyond(length).or_else(|| no_limit(self, self.limit_at(length).is_some(), length))
    }
}

/// Says that neither a certificate nor a limit of error holds for a value.
fn no_limit<Q: Quantity>(instrument: &Direct<Q>, limited: bool, value: Q) -> Option<String> {
    if limited || instrument.certificate.is_some() {
        return None;
    }
    let standard = match instrument.limit {
        Some(Limit::Standard(standard)) => standard.words(),
        _ => "nothing on record".to_owned(),
    };
    Some(format!("no limit of error of `{}` is known at {}: {standard}", instrument.called(), plain(value)))
}

/// Prints a quantity in its first unit without trailing zeros.
pub(super) fn plain<Q: Quantity>(quantity: Q) -> String {
    let long = quantity.show(9);
    match long.split_once(' ') {
        Some((digits, unit)) if digits.contains('.') => {
            format!("{} {unit}", digits.trim_end_matches('0').trim_end_matches('.'))
        }
        _ => long,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scale(limit: Limit<Mass>) -> Scale {
        Direct {
            limit: Some(limit),
            ..Direct::assumed(InstrumentKind::Scale, Mass::from_grams(0.004), Mass::from_grams(1.0))
        }
    }

    #[test]
    fn a_verified_scale_is_limited_at_its_load() {
        // OIML R 76-1:2006, table 6: class II with e = 0.01 g: 0.5 e up to 50 g, 1 e up to 200 g; in service twice that.
        let scale =
            scale(Limit::Standard(Standard::OimlR76 { class: ScaleClass::II, e: Mass::from_grams(0.01) }));
        assert_eq!(scale.limit_at(Mass::from_grams(31.1)), Some(Mass::from_grams(0.01)));
        assert_eq!(scale.limit_at(Mass::from_grams(155.0)), Some(Mass::from_grams(0.02)));
        assert_eq!(scale.limit_at(Mass::from_grams(1001.0)), None);
        let why = scale.cannot_vouch(Mass::from_grams(1001.0)).unwrap();
        assert!(why.contains("class II, e = 0.01 g"), "{why}");
    }

    #[test]
    fn a_load_above_the_maximum_is_not_vouched_for() {
        let mut scale = scale(Limit::Stated(Mass::from_grams(0.01)));
        scale.greatest = Some(Mass::from_grams(200.0));
        assert_eq!(scale.cannot_vouch(Mass::from_grams(200.0)), None);
        let why = scale.cannot_vouch(Mass::from_grams(200.01)).unwrap();
        assert_eq!(why, "200.01 g is above what `scale` measures, 200 g");
    }

    #[test]
    fn a_calliper_by_its_standard_is_limited_up_to_100_mm() {
        // DIN 862: 0.02 mm up to 100 mm at a digit step of 0.01 mm; DIN 863-1: 4 µm for 0 to 25 mm.
        let calliper = |standard| Direct {
            limit: Some(Limit::Standard(standard)),
            ..Direct::assumed(
                InstrumentKind::Calliper,
                Length::from_millimetres(0.005),
                Length::from_millimetres(1.0),
            )
        };
        let by_862 = calliper(Standard::Din862);
        assert_eq!(by_862.limit_at(Length::from_millimetres(40.6)), Some(Length::from_millimetres(0.02)));
        assert_eq!(by_862.limit_at(Length::from_millimetres(100.5)), None);
        let by_863 = calliper(Standard::Din863 { range_to_mm: 25 });
        assert_eq!(by_863.limit_at(Length::from_millimetres(2.98)), Some(Length::from_millimetres(0.004)));
        assert_eq!(by_863.limit_at(Length::from_millimetres(30.0)), None);
    }
}
