//! Rounding for display and for settlement: decimal, to a step, once.
//!
//! Binary numbers break ties wrongly (2.675 is stored as 2.674 999…), so money and settled masses are rounded as decimals.

use rust_decimal::Decimal;

/// What becomes of a value exactly half-way between two multiples of the step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Ties {
    /// To the even multiple: rule A.
    HalfEven,
    /// To the multiple of larger magnitude: rule B.
    HalfUp,
}

/// Rounds a decimal to a multiple of a step.
///
/// `step` above zero, such as 0.01, 0.005 or 10. `None` for another step, or when the result has more digits than a
/// decimal can hold.
///
/// # Source
/// ISO 80000-1:2009, annex B, rules A and B.
pub fn round_to_step(value: Decimal, step: Decimal, ties: Ties) -> Option<Decimal> {
    round_ratio(value, Decimal::ONE, step, ties)
}

/// Rounds a quotient to a multiple of a step without rounding the division first.
///
/// `divisor` and `step` above zero; `None` otherwise or on overflow.
pub fn round_ratio(dividend: Decimal, divisor: Decimal, step: Decimal, ties: Ties) -> Option<Decimal> {
    if divisor <= Decimal::ZERO || step <= Decimal::ZERO {
        return None;
    }
    let unit = exact_product(divisor, step)?;
    // The remainder is exact, so a tie is seen as a tie.
    let remainder = dividend.checked_rem(unit)?;
    let whole = dividend.checked_sub(remainder)?.checked_div(unit)?.round();
    let twice = exact_product(remainder.abs(), Decimal::TWO)?;
    let odd = !whole.checked_rem(Decimal::TWO)?.is_zero();
    let away = twice > unit || (twice == unit && (ties == Ties::HalfUp || odd));
    let one = if dividend.is_sign_negative() { Decimal::NEGATIVE_ONE } else { Decimal::ONE };
    let steps = if away { whole.checked_add(one)? } else { whole };
    let mut rounded = exact_product(steps, step)?;
    if rounded.is_zero() {
        rounded.set_sign_positive(true);
    }
    Some(rounded)
}

/// Returns the fine mass in a gross mass, rounded once.
///
/// gross·fineness/1000 per `unit`: `gross`, `unit` in one unit of mass (a troy ounce is 31.1034768 g), `fineness` in parts
/// per thousand from 0 to 1000, `step` in multiples of `unit`. `None` outside these ranges or on overflow.
pub fn fine_mass(
    gross: Decimal,
    fineness: Decimal,
    unit: Decimal,
    step: Decimal,
    ties: Ties,
) -> Option<Decimal> {
    if gross < Decimal::ZERO || fineness < Decimal::ZERO || fineness > Decimal::ONE_THOUSAND {
        return None;
    }
    round_ratio(exact_product(gross, fineness)?, exact_product(unit, Decimal::ONE_THOUSAND)?, step, ties)
}

/// A value and its uncertainty, both rounded to the same digit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Displayed {
    /// The value.
    pub value: Decimal,
    /// The uncertainty.
    pub uncertainty: Decimal,
}

/// Rounds a value and its uncertainty for display: the uncertainty to `digits` significant digits, the value to match.
///
/// Half to even, on the shortest decimals that stand for the binary numbers. `digits` is 1 or 2 as a rule; `uncertainty`
/// above zero. `None` for other uncertainties, for no digits, for numbers that are not finite or have more digits than a
/// decimal can hold.
///
/// # Source
/// JCGM 100:2008, 7.2.6: at most two significant digits of an uncertainty, and the value rounded to be consistent.
pub fn for_display(value: f64, uncertainty: f64, digits: u32) -> Option<Displayed> {
    if !(uncertainty.is_finite() && uncertainty > 0.0) || digits == 0 || digits > 15 {
        return None;
    }
    let (value, uncertainty) = (shortest(value)?, shortest(uncertainty)?);
    let mut step = last_digit(uncertainty, digits)?;
    let mut rounded = round_to_step(uncertainty, step, Ties::HalfEven)?;
    // 0.0996 with two digits becomes 0.100, which is one digit too many.
    if last_digit(rounded, digits)? > step {
        step = last_digit(rounded, digits)?;
        rounded = round_to_step(uncertainty, step, Ties::HalfEven)?;
    }
    Some(Displayed { value: round_to_step(value, step, Ties::HalfEven)?, uncertainty: rounded })
}

/// Returns the decimals that show an uncertainty with `digits` significant digits, from 0 to 9; 3 where there is none.
///
/// For values printed from exact integers; [`for_display`] rounds value and uncertainty together.
///
/// # Source
/// JCGM 100:2008, 7.2.6.
pub fn decimals_of(uncertainty: f64, digits: u32) -> u32 {
    if !(uncertainty.is_finite() && uncertainty > 0.0) {
        return 3;
    }
    (f64::from(digits) - 1.0 - uncertainty.log10().floor()).clamp(0.0, 9.0) as u32
}

/// Returns one unit of the last of `digits` significant digits of a decimal above zero.
fn last_digit(number: Decimal, digits: u32) -> Option<Decimal> {
    let mantissa = number.mantissa().unsigned_abs();
    let length = mantissa.checked_ilog10()? as i32 + 1;
    let exponent = length - number.scale() as i32 - digits as i32;
    if exponent >= 0 {
        10_i128
            .checked_pow(exponent as u32)
            .and_then(|power| Decimal::try_from_i128_with_scale(power, 0).ok())
    } else {
        Decimal::try_from_i128_with_scale(1, exponent.unsigned_abs()).ok()
    }
}

/// Returns the decimal that is printed for a binary number, which is the shortest that reads back as the same.
fn shortest(number: f64) -> Option<Decimal> {
    if number.is_finite() { Decimal::from_str_exact(&format!("{number}")).ok() } else { None }
}

/// Multiplies two decimals; `None` when the product does not fit with all its digits.
fn exact_product(a: Decimal, b: Decimal) -> Option<Decimal> {
    let product = a.mantissa().checked_mul(b.mantissa())?;
    Decimal::try_from_i128_with_scale(product, a.scale() + b.scale()).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn decimal(text: &str) -> Decimal {
        text.parse().unwrap()
    }

    #[test]
    fn decimals_show_the_digits_of_an_uncertainty_and_no_more() {
        // JCGM 100:2008, 7.2.6: an uncertainty is quoted with one or two significant digits.
        let shown = |u, digits| decimals_of(u, digits);
        assert_eq!([shown(0.0076, 1), shown(0.0076, 2)], [3, 4]);
        assert_eq!([shown(0.01, 1), shown(0.1, 2), shown(12.0, 2), shown(250.0, 2)], [2, 2, 0, 0]);
        assert_eq!([shown(0.0, 2), shown(f64::NAN, 2), shown(1e-30, 2)], [3, 3, 9]);
    }

    #[track_caller]
    fn check(value: &str, step: &str, ties: Ties, expected: &str) {
        assert_eq!(round_to_step(decimal(value), decimal(step), ties).unwrap().to_string(), expected);
    }

    #[test]
    fn negative_values_round_like_their_magnitude() {
        // ISO 80000-1:2009, annex B, rule B: the multiple of larger magnitude.
        check("-12.25", "0.1", Ties::HalfUp, "-12.3");
        check("-12.25", "0.1", Ties::HalfEven, "-12.2");
        check("-0.04", "0.1", Ties::HalfEven, "0.0");
    }

    #[test]
    fn any_step_above_zero_will_do() {
        check("0.0074", "0.005", Ties::HalfEven, "0.005");
        check("0.0076", "0.005", Ties::HalfEven, "0.010");
        check("1", "0.3", Ties::HalfEven, "0.9");
        assert_eq!(round_to_step(Decimal::ONE, Decimal::ZERO, Ties::HalfEven), None);
        assert_eq!(round_to_step(Decimal::MAX, decimal("0.0001"), Ties::HalfEven), None);
    }

    #[test]
    fn a_quotient_is_rounded_once() {
        // 1/3 to 0.1, and a tie that a rounded division could miss: 0.35/1 and 1.05/3.
        let ratio =
            |a, b| round_ratio(decimal(a), decimal(b), decimal("0.1"), Ties::HalfEven).unwrap().to_string();
        assert_eq!(ratio("1", "3"), "0.3");
        assert_eq!(ratio("1.05", "3"), "0.4");
        assert_eq!(ratio("0.75", "3"), "0.2");
        assert_eq!(round_ratio(Decimal::ONE, Decimal::ZERO, Decimal::ONE, Ties::HalfUp), None);
    }

    #[test]
    fn fine_mass_needs_a_fineness_of_at_most_one_thousand() {
        let fine = |fineness| {
            fine_mass(decimal("100"), decimal(fineness), Decimal::ONE, decimal("0.01"), Ties::HalfEven)
        };
        assert_eq!(fine("999.9"), Some(decimal("99.99")));
        assert_eq!(fine("1000.1"), None);
        assert_eq!(fine("-1"), None);
    }

    #[track_caller]
    fn shows(value: f64, uncertainty: f64, digits: u32, expected: (&str, &str)) {
        let shown = for_display(value, uncertainty, digits).unwrap();
        assert_eq!((shown.value.to_string().as_str(), shown.uncertainty.to_string().as_str()), expected);
    }

    #[test]
    fn a_result_is_shown_to_the_digits_of_its_uncertainty() {
        // JCGM 100:2008, 7.2.6: 10.057 62 Ω with u = 27 mΩ is shown as 10.058 Ω.
        shows(10.057_62, 0.027, 2, ("10.058", "0.027"));
        shows(10.474_94, 0.023_904, 2, ("10.475", "0.024"));
        shows(10.31, 0.0996, 2, ("10.31", "0.10"));
        shows(12_345.0, 123.0, 1, ("12300", "100"));
        shows(0.0, 0.005, 1, ("0.000", "0.005"));
        assert_eq!(for_display(1.0, 0.0, 2), None);
        assert_eq!(for_display(f64::NAN, 0.1, 2), None);
        assert_eq!(for_display(1.0, 0.1, 0), None);
    }
}
