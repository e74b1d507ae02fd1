//! Units as exact rationals of a quantity's base integer.

/// A unit of a quantity: one typed number `x` of it is `(x · numerator + offset) / denominator` base integers.
#[derive(Debug, PartialEq, Eq)]
pub struct Unit {
    /// Symbol as printed.
    pub symbol: &'static str,
    /// Other spellings that are accepted when typed.
    pub aliases: &'static [&'static str],
    /// Numerator of the exact factor.
    pub numerator: i64,
    /// Denominator of the exact factor, above zero.
    pub denominator: i64,
    /// Zero point in base integers times the denominator; only temperatures have one.
    pub offset: i64,
}

impl Unit {
    /// Makes a unit without a zero point.
    pub const fn new(
        symbol: &'static str,
        aliases: &'static [&'static str],
        numerator: i64,
        denominator: i64,
    ) -> Self {
        Unit { symbol, aliases, numerator, denominator, offset: 0 }
    }

    /// Makes a unit whose zero lies elsewhere than the zero of the base integer.
    pub const fn with_offset(self, offset: i64) -> Self {
        Unit { offset, ..self }
    }

    /// Tells whether a typed spelling names this unit.
    ///
    /// Case counts, except that a spelling wholly in lower case is accepted too: `ms/m` is `MS/m`, but `mS/m` is not,
    /// because millisiemens exist.
    pub fn is_spelled(&self, typed: &str) -> bool {
        let lower = |s: &str| s.to_lowercase() == typed && typed == typed.to_lowercase();
        self.symbol == typed
            || lower(self.symbol)
            || self.aliases.iter().any(|alias| *alias == typed || lower(alias))
    }
}

/// A physical quantity stored as an exact integer of a small unit.
pub trait Quantity: Copy + Ord + std::fmt::Debug + 'static {
    /// Name in the words of the trade, as it appears in messages (`mass`, `conductivity`).
    const NAME: &'static str;
    /// Units that may be typed; the first is the one assumed when none is typed and the one values are echoed in.
    const UNITS: &'static [Unit];
    /// Smallest value that may be typed, in base integers.
    const LEAST: i64;
    /// Largest value that may be typed, in base integers.
    const GREATEST: i64;

    /// Makes the quantity from its base integer.
    fn from_base(base: i64) -> Self;
    /// Returns the base integer.
    fn base(self) -> i64;

    /// Returns the value in the given unit as a binary floating number, for formulas only.
    fn value_in(self, unit: &Unit) -> f64 {
        (self.base() as f64 * unit.denominator as f64 - unit.offset as f64) / unit.numerator as f64
    }

    /// Prints the value in the given unit with a fixed number of decimals, rounded half to even, without the symbol.
    ///
    /// The arithmetic is on integers, so what is printed is the rounding of the stored value itself.
    fn digits_in(self, unit: &Unit, decimals: u32) -> String {
        let scale = 10i128.pow(decimals.min(15));
        let numerator =
            (i128::from(self.base()) * i128::from(unit.denominator) - i128::from(unit.offset)) * scale;
        let scaled = divide_half_even(numerator, i128::from(unit.numerator));
        let (sign, magnitude) = if scaled < 0 { ("-", -scaled) } else { ("", scaled) };
        if decimals == 0 {
            format!("{sign}{magnitude}")
        } else {
            let width = decimals.min(15) as usize;
            format!("{sign}{}.{:0width$}", magnitude / scale, magnitude % scale)
        }
    }

    /// Prints the value with its first unit and a fixed number of decimals.
    fn show(self, decimals: u32) -> String {
        let unit = &Self::UNITS[0];
        format!("{} {}", self.digits_in(unit, decimals), unit.symbol)
    }

    /// Returns the unit with the given spelling, if the quantity has it.
    fn unit(spelling: &str) -> Option<&'static Unit> {
        Self::UNITS.iter().find(|unit| unit.is_spelled(spelling))
    }
}

/// Divides rounding half to even; the denominator must be above zero.
///
/// # Source
/// ISO 80000-1:2009, Annex B, rule A.
pub(super) fn divide_half_even(numerator: i128, denominator: i128) -> i128 {
    let quotient = numerator.div_euclid(denominator);
    let twice = numerator.rem_euclid(denominator) * 2;
    if twice > denominator || (twice == denominator && quotient % 2 != 0) { quotient + 1 } else { quotient }
}
