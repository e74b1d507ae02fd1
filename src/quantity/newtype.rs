//! The quantities themselves: one newtype each, with its base integer, its units and its range.

use super::unit::{Quantity, Unit};
use serde::{Deserialize, Serialize};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $label:literal, $least:expr, $greatest:expr, [$($unit:expr),+ $(,)?]) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(i64);

        impl Quantity for $name {
            const NAME: &'static str = $label;
            const UNITS: &'static [Unit] = &[$($unit),+];
            const LEAST: i64 = $least;
            const GREATEST: i64 = $greatest;
            fn from_base(base: i64) -> Self { $name(base) }
            fn base(self) -> i64 { self.0 }
        }
    };
}

macro_rules! accessors {
    ($name:ident, $from:ident, $as:ident, $unit:literal, $factor:literal) => {
        impl $name {
            #[doc = concat!("Makes the quantity from a finite number of ", $unit, ", rounded to the base integer.")]
            pub fn $from(value: f64) -> Self {
                $name((value * $factor).round() as i64)
            }
            #[doc = concat!("Returns the value in ", $unit, " as a binary floating number, for formulas only.")]
            pub fn $as(self) -> f64 {
                self.0 as f64 / $factor
            }
        }
    };
}

/// One kilogram in nanograms.
const KILOGRAM: i64 = 1_000_000_000_000;

quantity! {
    /// A mass, in whole nanograms.
    ///
    /// The grain is 64.798 91 mg exactly; troy ounce (480 grain), pennyweight (24) and tola (180) follow from it. The
    /// Hong Kong tael is 37.429 g.
    ///
    /// # Source
    /// NIST Special Publication 811 (2008), Appendix B.8, grain; Weights and Measures Ordinance (Hong Kong, Cap. 68),
    /// First Schedule, tael troy (from memory).
    Mass, "mass", 0, 100 * KILOGRAM, [
        Unit::new("g", &["gram", "grams"], 1_000_000_000, 1),
        Unit::new("kg", &[], KILOGRAM, 1),
        Unit::new("mg", &[], 1_000_000, 1),
        Unit::new("ozt", &["oz t", "troyoz", "toz"], 480 * 64_798_910, 1),
        Unit::new("gr", &["grain", "grains"], 64_798_910, 1),
        Unit::new("dwt", &["pennyweight"], 24 * 64_798_910, 1),
        Unit::new("tola", &[], 180 * 64_798_910, 1),
        Unit::new("tael", &[], 37_429_000_000, 1),
    ]
}
accessors!(Mass, from_grams, as_grams, "grams", 1e9);

quantity! {
    /// A length, in whole nanometres. One inch is 25.4 mm exactly.
    ///
    /// # Source
    /// NIST Special Publication 811 (2008), Appendix B.6, international inch.
    Length, "length", 0, 10_000_000_000, [
        Unit::new("mm", &[], 1_000_000, 1),
        Unit::new("cm", &[], 10_000_000, 1),
        Unit::new("m", &[], 1_000_000_000, 1),
        Unit::new("um", &["µm", "μm"], 1_000, 1),
        Unit::new("in", &["inch", "\""], 25_400_000, 1),
        Unit::new("thou", &["mil"], 25_400, 1),
    ]
}
accessors!(Length, from_millimetres, as_millimetres, "millimetres", 1e6);

quantity! {
    /// An electrical conductivity, in whole siemens per metre. 100 %IACS is 58 MS/m exactly.
    ///
    /// # Source
    /// IEC 60028 (1925): the annealed copper standard is 1/58 Ω·mm²/m at 20 °C; ASTM E1004, scope.
    Conductivity, "conductivity", 0, 200_000_000, [
        Unit::new("MS/m", &[], 1_000_000, 1),
        Unit::new("%IACS", &["IACS", "%iacs"], 580_000, 1),
        Unit::new("S/m", &[], 1, 1),
        Unit::new("m/ohmmm2", &["m/Ωmm²", "m/(Ωmm²)"], 1_000_000, 1),
    ]
}
accessors!(Conductivity, from_ms_per_m, as_ms_per_m, "megasiemens per metre", 1e6);

quantity! {
    /// A density, in whole micrograms per cubic centimetre.
    Density, "density", 0, 50_000_000, [
        Unit::new("g/cm3", &["g/cm³", "g/cc"], 1_000_000, 1),
        Unit::new("kg/m3", &["kg/m³"], 1_000, 1),
    ]
}
accessors!(Density, from_g_per_cm3, as_g_per_cm3, "grams per cubic centimetre", 1e6);

quantity! {
    /// A temperature, in whole microdegrees Celsius.
    Temperature, "temperature", -50_000_000, 120_000_000, [
        Unit::new("C", &["°C", "degC", "℃"], 1_000_000, 1),
        Unit::new("F", &["°F", "degF", "℉"], 5_000_000, 9).with_offset(-160_000_000),
        Unit::new("K", &[], 1_000_000, 1).with_offset(-273_150_000),
    ]
}
accessors!(Temperature, from_celsius, as_celsius, "degrees Celsius", 1e6);

quantity! {
    /// A difference of temperatures, in whole microkelvin.
    TemperatureDifference, "temperature difference", -200_000_000, 200_000_000, [
        Unit::new("K", &["C", "°C"], 1_000_000, 1),
    ]
}
accessors!(TemperatureDifference, from_kelvin, as_kelvin, "kelvin", 1e6);

impl std::ops::Sub for Temperature {
    type Output = TemperatureDifference;
    fn sub(self, other: Self) -> TemperatureDifference {
        TemperatureDifference(self.0.saturating_sub(other.0))
    }
}

quantity! {
    /// A frequency, in whole millihertz.
    Frequency, "frequency", 0, 100_000_000_000_000, [
        Unit::new("Hz", &[], 1_000, 1),
        Unit::new("kHz", &["KHz"], 1_000_000, 1),
        Unit::new("MHz", &[], 1_000_000_000, 1),
    ]
}
accessors!(Frequency, from_hertz, as_hertz, "hertz", 1e3);

quantity! {
    /// A velocity, in whole millimetres per second.
    Velocity, "velocity", 0, 20_000_000, [
        Unit::new("m/s", &[], 1_000, 1),
        Unit::new("mm/us", &["mm/µs", "km/s"], 1_000_000, 1),
    ]
}
accessors!(Velocity, from_m_per_s, as_m_per_s, "metres per second", 1e3);

quantity! {
    /// An elastic modulus, in whole kilopascals.
    Modulus, "modulus", 0, 2_000_000_000, [
        Unit::new("GPa", &[], 1_000_000, 1),
        Unit::new("MPa", &[], 1_000, 1),
    ]
}
accessors!(Modulus, from_gigapascals, as_gigapascals, "gigapascals", 1e6);

quantity! {
    /// A fineness, in whole parts per billion of fine metal by mass. Typed per mille unless a unit says otherwise.
    Fineness, "fineness", 1_000_000, 1_000_000_000, [
        Unit::new("permille", &["‰"], 1_000_000, 1),
        Unit::new("%", &["percent"], 10_000_000, 1),
        Unit::new("ct", &["karat", "carat", "kt"], 1_000_000_000, 24),
    ]
}
accessors!(Fineness, from_per_mille, as_per_mille, "parts per thousand", 1e6);

impl Fineness {
    /// Returns the fineness as a share of one.
    pub fn as_share(self) -> f64 {
        self.0 as f64 / 1e9
    }

    /// Returns the fine mass in a gross mass: one exact product, rounded once, half to even, to a nanogram.
    pub fn fine_mass(self, gross: Mass) -> Mass {
        let product = i128::from(gross.0) * i128::from(self.0);
        Mass(super::unit::divide_half_even(product, 1_000_000_000) as i64)
    }
}

quantity! {
    /// A temperature coefficient of resistivity, in billionths per kelvin.
    PerKelvin, "temperature coefficient", -100_000_000, 100_000_000, [
        Unit::new("1/K", &["/K"], 1_000_000_000, 1),
    ]
}
accessors!(PerKelvin, from_per_kelvin, as_per_kelvin, "one per kelvin", 1e9);

impl Mass {
    /// One troy ounce: 480 grains, 31.103 476 8 g exactly.
    pub const TROY_OUNCE: Mass = Mass(480 * 64_798_910);
}

impl std::ops::Mul<i64> for Mass {
    type Output = Mass;
    fn mul(self, count: i64) -> Mass {
        Mass(self.0.saturating_mul(count))
    }
}

impl std::iter::Sum for Mass {
    fn sum<I: Iterator<Item = Mass>>(masses: I) -> Mass {
        Mass(masses.fold(0i64, |sum, mass| sum.saturating_add(mass.0)))
    }
}
