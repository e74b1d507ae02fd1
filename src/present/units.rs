//! Values in the units of a desk: what is stored in grams may be shown in troy ounces.
//!
//! Only numbers are shown in another unit. Texts that scoring has written keep the unit they were written in.

use crate::desk::screen::Units;
use crate::evidence::{Amount, Measurand};
use crate::intake::TypedField;
use crate::intake::typed::read;
use crate::metrology::rounding::decimals_of;
use crate::quantity::Unit;

/// Returns the unit in which a desk sees a measurand.
pub fn unit_of(measurand: Measurand, units: &Units) -> &'static Unit {
    units.other_than_stored(measurand).unwrap_or(&measurand.units()[0])
}

/// Returns how many steps of the stored unit make one of another; 1 for the stored unit itself.
fn per_unit(measurand: Measurand, unit: &Unit) -> f64 {
    let stored = &measurand.units()[0];
    let numerator = unit.numerator as f64 * stored.denominator as f64;
    numerator / (unit.denominator as f64 * stored.numerator as f64)
}

/// Returns an amount in a unit of the desk with its symbol, at least as fine as with `decimals` in the stored unit.
pub fn shown(amount: Amount, decimals: u32, units: &Units) -> String {
    let unit = unit_of(amount.measurand, units);
    format!("{} {}", digits(amount, decimals, units), unit.symbol)
}

/// Returns an amount in a unit of the desk without its symbol; as [`shown`].
pub fn digits(amount: Amount, decimals: u32, units: &Units) -> String {
    let unit = unit_of(amount.measurand, units);
    amount.digits_in(unit, decimals_in(amount.measurand, decimals, unit))
}

/// Returns the decimals in a unit that are as fine as some in the stored unit.
fn decimals_in(measurand: Measurand, decimals: u32, unit: &Unit) -> u32 {
    let finer = per_unit(measurand, unit).log10() + f64::from(decimals);
    // The subtraction keeps a factor of one from becoming a decimal more.
    (finer - 1e-9).ceil().clamp(0.0, 9.0) as u32
}

/// Returns a value with its expanded uncertainty (k = 2), `27.210 ± 0.016 g`: the uncertainty with two significant digits.
///
/// `u`: the standard uncertainty, of the same measurand and above zero.
pub fn with_expanded(value: Amount, u: Amount, units: &Units) -> String {
    let unit = unit_of(value.measurand, units);
    // A temperature has a zero of its own, which no difference has; it is shown in its stored unit only.
    let expanded = u.value() * 2.0 / per_unit(value.measurand, unit);
    let decimals = decimals_of(expanded, 2);
    let figures = decimals as usize;
    format!("{} ± {expanded:.figures$} {}", value.digits_in(unit, decimals), unit.symbol)
}

/// Returns what was accepted in the unit of the desk; `None` where that is the stored one, and for what is no value.
///
/// A number without a unit was accepted in the stored one: any other was put behind it.
pub fn echo(measurand: Measurand, text: &str, units: &Units) -> Option<String> {
    let unit = units.other_than_stored(measurand)?;
    let Ok(TypedField::Value(reading)) = read(measurand, text, None) else { return None };
    let step = Amount { measurand, base: reading.step }.value() / per_unit(measurand, unit);
    let decimals = (-step.log10() - 1e-9).ceil().clamp(0.0, 9.0) as u32;
    Some(format!("{} {}", reading.amount.digits_in(unit, decimals), unit.symbol))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::screen::ScreenSettings;

    fn other() -> Units {
        let text = "[units]\nmass = \"ozt\"\nlength = \"in\"\nconductivity = \"%IACS\"\n";
        ScreenSettings::parse("screen.toml", text).unwrap().units
    }

    #[test]
    fn a_value_is_shown_in_the_unit_of_the_desk_and_as_fine_as_before() {
        let mass = Amount::of(Measurand::Mass, 31.103_476_8);
        assert_eq!(shown(mass, 2, &Units::default()), "31.10 g");
        // NIST SP 811 App. B.8: 1 ozt = 31.1034768 g; 0.01 g is 0.0003 ozt, so four decimals.
        assert_eq!(shown(mass, 2, &other()), "1.0000 ozt");
        // 1 in = 25.4 mm exactly.
        assert_eq!(shown(Amount::of(Measurand::Diameter, 38.1), 1, &other()), "1.500 in");
        // IEC 60028: 100 %IACS = 58 MS/m.
        assert_eq!(shown(Amount::of(Measurand::Conductivity, 58.0), 1, &other()), "100.0 %IACS");
        assert_eq!(shown(Amount::of(Measurand::Temperature, 21.5), 1, &other()), "21.5 C");
    }

    #[test]
    fn an_uncertainty_keeps_two_digits_in_either_unit() {
        let (value, u) = (Amount::of(Measurand::Mass, 33.931), Amount::of(Measurand::Mass, 0.008));
        assert_eq!(with_expanded(value, u, &Units::default()), "33.931 ± 0.016 g");
        // 0.016 g / 31.1034768 = 0.00051 ozt; 33.931 g / 31.1034768 = 1.09091 ozt.
        assert_eq!(with_expanded(value, u, &other()), "1.09091 ± 0.00051 ozt");
    }

    #[test]
    fn what_was_accepted_is_echoed_in_the_unit_of_the_desk() {
        assert_eq!(echo(Measurand::Mass, "31.10", &Units::default()), None);
        assert_eq!(echo(Measurand::Mass, "1.05 ozt", &other()).unwrap(), "1.05 ozt");
        assert_eq!(echo(Measurand::Mass, "31.10 g", &other()).unwrap(), "0.9999 ozt");
        assert_eq!(echo(Measurand::Mass, "31.10", &other()).unwrap(), "0.9999 ozt");
        assert_eq!(echo(Measurand::Diameter, "1.5 in", &other()).unwrap(), "1.5 in");
        assert_eq!(echo(Measurand::Mass, "-", &other()), None);
        assert_eq!(echo(Measurand::Temperature, "21.5", &other()), None);
    }
}
