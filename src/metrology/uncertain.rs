//! A measured value that carries its standard uncertainty and remembers which inputs it came from.
//!
//! A value is kept as a number plus a linear combination of its inputs' errors. Two values that share an input are
//! therefore correlated, as far as they share it: a thing minus itself is exactly zero with no uncertainty.
//! Propagation is of first order; it is good while an uncertainty is small against the curvature of the formula.

use std::cmp::Ordering;
use std::ops::{Add, Mul, Sub};
use std::sync::Arc;
use thiserror::Error;

/// A value or an uncertainty that no measurement can have.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum UncertainError {
    /// The value is infinite or not a number.
    #[error("value `{found}` is not a finite number")]
    ValueNotFinite {
        /// The value given.
        found: f64,
    },
    /// The standard uncertainty is negative, infinite or not a number, or zero where zero must be said on purpose.
    #[error(
        "standard uncertainty `{found}` is not allowed; it must be finite and above zero, or the value declared exact"
    )]
    BadUncertainty {
        /// The uncertainty given.
        found: f64,
    },
    /// A sensitivity or a number of degrees of freedom is infinite, not a number or below zero where it may not be.
    #[error(
        "{name} `{found}` of a budget line is not allowed; it must be finite or, for degrees of freedom, above zero"
    )]
    BadLine {
        /// What was given.
        name: &'static str,
        /// The number given.
        found: f64,
    },
    /// The divisor is zero.
    #[error("division by a value of `0`; the divisor must differ from zero")]
    DivisionByZero,
    /// The square root or the negative power of a value at which it has no slope or no value.
    #[error("{operation} of `{found}` is not defined; the value must be above zero")]
    OutsideDomain {
        /// The operation asked for.
        operation: &'static str,
        /// The value it was asked for.
        found: f64,
    },
}

/// The name of one source of error; two values that name the same input share its error.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct InputId(Arc<str>);

impl InputId {
    /// Returns the name.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl From<&str> for InputId {
    fn from(name: &str) -> Self {
        InputId(Arc::from(name))
    }
}

impl From<String> for InputId {
    fn from(name: String) -> Self {
        InputId(Arc::from(name))
    }
}

/// A value with the part that every input contributes to its standard uncertainty.
///
/// Neither a negative uncertainty nor one that is not a number can be constructed; a result that overflows has an
/// infinite uncertainty, which never lies inside any limit. The unit is the caller's.
///
/// # Source
/// JCGM 100:2008, clause 5.2 (correlated inputs), equation 13; clause 5.1.3 (sensitivities).
#[derive(Debug, Clone, PartialEq)]
pub struct Uncertain {
    value: f64,
    /// Sensitivity times standard uncertainty, with sign, sorted by input; no input twice.
    parts: Vec<(InputId, f64)>,
}

impl Uncertain {
    /// Makes a value with one input of its own.
    ///
    /// `standard_uncertainty` in the unit of `value`, k = 1, finite and above zero; a value without uncertainty is made by
    /// [`Uncertain::exact`]. Use the same `input` only for the very same error.
    ///
    /// # Errors
    /// `ValueNotFinite` and `BadUncertainty` repeat the number that is not allowed.
    pub fn new(
        value: f64,
        standard_uncertainty: f64,
        input: impl Into<InputId>,
    ) -> Result<Self, UncertainError> {
        if !value.is_finite() {
            return Err(UncertainError::ValueNotFinite { found: value });
        }
        if !(standard_uncertainty.is_finite() && standard_uncertainty > 0.0) {
            return Err(UncertainError::BadUncertainty { found: standard_uncertainty });
        }
        Ok(Uncertain { value, parts: vec![(input.into(), standard_uncertainty)] })
    }

    /// Makes a value without uncertainty, such as a number fixed by definition.
    ///
    /// A value that is not a finite number gets an infinite uncertainty, as every result that overflows does.
    pub fn exact(value: f64) -> Self {
        Self::linear(value, &[])
    }

    /// Returns the value.
    pub fn value(&self) -> f64 {
        self.value
    }

    /// Returns the standard uncertainty, k = 1, in the unit of the value.
    pub fn standard_uncertainty(&self) -> f64 {
        self.variance().sqrt()
    }

    /// Returns the square of the standard uncertainty.
    pub fn variance(&self) -> f64 {
        self.covariance(self)
    }

    /// Returns the expanded uncertainty U = k·u.
    pub fn expanded(&self, coverage_factor: f64) -> f64 {
        coverage_factor * self.standard_uncertainty()
    }

    /// Returns every input with its signed contribution, sensitivity times standard uncertainty, sorted by input.
    pub fn contributions(&self) -> &[(InputId, f64)] {
        &self.parts
    }

    /// Returns the signed contribution of one input; 0 for an input that the value doesn't depend on.
    pub fn contribution(&self, input: &InputId) -> f64 {
        let found = self.parts.binary_search_by(|(id, _)| id.cmp(input));
        found.map_or(0.0, |index| self.parts[index].1)
    }

    /// Returns the covariance with another value, from the inputs that both share.
    pub fn covariance(&self, other: &Self) -> f64 {
        let (mut left, mut right, mut sum) = (0, 0, 0.0);
        while let (Some((a, x)), Some((b, y))) = (self.parts.get(left), other.parts.get(right)) {
            match a.cmp(b) {
                Ordering::Less => left += 1,
                Ordering::Greater => right += 1,
                Ordering::Equal => {
                    sum += x * y;
                    left += 1;
                    right += 1;
                }
            }
        }
        sum
    }

    /// Returns the correlation coefficient with another value, from −1 to 1; `None` when either is exact.
    pub fn correlation(&self, other: &Self) -> Option<f64> {
        let product = self.standard_uncertainty() * other.standard_uncertainty();
        (product > 0.0 && product.is_finite()).then(|| (self.covariance(other) / product).clamp(-1.0, 1.0))
    }

    /// Makes the result of a formula from its value and its sensitivity to each of the values it was made from.
    ///
    /// `terms`: (sensitivity, value), any order; values may share inputs, and the same value may occur twice. A result
    /// that is not a finite number is given an infinite uncertainty.
    pub fn linear(value: f64, terms: &[(f64, &Uncertain)]) -> Self {
        let mut all: Vec<(InputId, f64)> = terms
            .iter()
            .flat_map(|(sensitivity, term)| {
                term.parts.iter().map(move |(id, part)| (id.clone(), sensitivity * part))
            })
            .collect();
        all.sort_by(|(a, _), (b, _)| a.cmp(b));
        let mut parts: Vec<(InputId, f64)> = Vec::with_capacity(all.len());
        for (id, part) in all {
            match parts.last_mut() {
                Some((last, sum)) if *last == id => *sum += part,
                _ => parts.push((id, part)),
            }
        }
        if !value.is_finite() {
            return Uncertain { value, parts: vec![(InputId::from("overflow"), f64::INFINITY)] };
        }
        for (_, part) in &mut parts {
            if part.is_nan() {
                *part = f64::INFINITY;
            }
        }
        parts.retain(|(_, part)| *part != 0.0);
        Uncertain { value, parts }
    }

    /// Returns the value times an exact number.
    pub fn scale(&self, factor: f64) -> Self {
        Self::linear(factor * self.value, &[(factor, self)])
    }

    /// Returns the value plus an exact number.
    pub fn shift(&self, offset: f64) -> Self {
        Self::linear(self.value + offset, &[(1.0, self)])
    }

    /// Returns the quotient of two values.
    ///
    /// # Errors
    /// `DivisionByZero` when the divisor's value is zero.
    pub fn div(&self, divisor: &Self) -> Result<Self, UncertainError> {
        if divisor.value == 0.0 {
            return Err(UncertainError::DivisionByZero);
        }
        let quotient = self.value / divisor.value;
        Ok(Self::linear(quotient, &[(1.0 / divisor.value, self), (-quotient / divisor.value, divisor)]))
    }

    /// Returns a whole power of the value.
    ///
    /// # Errors
    /// `OutsideDomain` for a negative power of zero.
    pub fn powi(&self, exponent: i32) -> Result<Self, UncertainError> {
        if self.value == 0.0 && exponent < 0 {
            return Err(UncertainError::OutsideDomain { operation: "negative power", found: self.value });
        }
        let slope = if exponent == 0 { 0.0 } else { f64::from(exponent) * self.value.powi(exponent - 1) };
        Ok(Self::linear(self.value.powi(exponent), &[(slope, self)]))
    }

    /// Returns the square root of the value.
    ///
    /// # Errors
    /// `OutsideDomain` unless the value is above zero: at zero the root has no slope.
    pub fn sqrt(&self) -> Result<Self, UncertainError> {
        if self.value > 0.0 {
            let root = self.value.sqrt();
            Ok(Self::linear(root, &[(0.5 / root, self)]))
        } else {
            Err(UncertainError::OutsideDomain { operation: "square root", found: self.value })
        }
    }
}

impl Add for &Uncertain {
    type Output = Uncertain;
    fn add(self, other: Self) -> Uncertain {
        Uncertain::linear(self.value + other.value, &[(1.0, self), (1.0, other)])
    }
}

impl Sub for &Uncertain {
    type Output = Uncertain;
    fn sub(self, other: Self) -> Uncertain {
        Uncertain::linear(self.value - other.value, &[(1.0, self), (-1.0, other)])
    }
}

impl Mul for &Uncertain {
    type Output = Uncertain;
    fn mul(self, other: Self) -> Uncertain {
        Uncertain::linear(self.value * other.value, &[(other.value, self), (self.value, other)])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn uncertain(value: f64, u: f64, input: &str) -> Uncertain {
        Uncertain::new(value, u, input).unwrap()
    }

    #[test]
    fn a_negative_missing_or_silent_zero_uncertainty_cannot_be_constructed() {
        for u in [0.0, -1e-300, f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert!(matches!(Uncertain::new(1.0, u, "x"), Err(UncertainError::BadUncertainty { .. })), "{u}");
        }
        assert!(matches!(Uncertain::new(f64::NAN, 1.0, "x"), Err(UncertainError::ValueNotFinite { .. })));
        assert_eq!(Uncertain::exact(2.0).standard_uncertainty(), 0.0);
        assert_eq!(Uncertain::exact(f64::NAN).standard_uncertainty(), f64::INFINITY);
    }

    #[test]
    fn an_overflow_is_infinitely_uncertain_and_never_quietly_exact() {
        let huge = uncertain(1e300, 1.0, "x");
        assert_eq!((&huge * &huge).standard_uncertainty(), f64::INFINITY);
        let zero = &(&huge * &huge) - &(&huge * &huge);
        assert_eq!(zero.standard_uncertainty(), f64::INFINITY);
        assert_eq!(huge.scale(1e300).standard_uncertainty(), f64::INFINITY);
    }

    #[test]
    fn what_has_no_result_is_refused() {
        let zero = uncertain(0.0, 0.1, "x");
        assert_eq!(zero.div(&zero), Err(UncertainError::DivisionByZero));
        assert!(matches!(zero.sqrt(), Err(UncertainError::OutsideDomain { .. })));
        assert!(matches!(zero.powi(-1), Err(UncertainError::OutsideDomain { .. })));
        assert_eq!(zero.powi(0).unwrap().standard_uncertainty(), 0.0);
    }

    #[test]
    fn one_calliper_used_twice_counts_as_one_input() {
        // JCGM 100:2008, 5.2.2, note 1: fully correlated errors add linearly, not in squares.
        let bias = uncertain(0.0, 0.02, "calliper");
        let length = &Uncertain::exact(30.0) + &bias;
        let width = &Uncertain::exact(40.0) + &bias;
        assert!(((&length + &width).standard_uncertainty() - 0.04).abs() < 1e-15);
        assert_eq!((&length - &width).standard_uncertainty(), 0.0);
        assert!((length.correlation(&width).unwrap() - 1.0).abs() < 1e-12);
        assert_eq!(length.correlation(&Uncertain::exact(1.0)), None);
    }

    proptest! {
        #[test]
        fn a_value_minus_itself_is_exactly_zero_without_uncertainty(
            x in -1e6..1e6f64, u in 1e-9..1e3f64, y in 0.1..1e3f64, v in 1e-9..10.0f64,
        ) {
            let (a, b) = (uncertain(x, u, "a"), uncertain(y, v, "b"));
            for z in [a.clone(), &a * &b, a.div(&b).unwrap(), b.sqrt().unwrap()] {
                let nothing = &z - &z;
                prop_assert_eq!(nothing.value(), 0.0);
                prop_assert_eq!(nothing.standard_uncertainty(), 0.0);
            }
        }

        #[test]
        fn analytic_sensitivities_equal_numerical_ones(x in 0.5..50.0f64, y in 0.5..50.0f64) {
            type Formula = fn(&Uncertain, &Uncertain) -> Uncertain;
            let formulas: [Formula; 6] = [
                |a, b| a + b,
                |a, b| a - b,
                |a, b| a * b,
                |a, b| a.div(b).unwrap(),
                |a, b| &a.powi(3).unwrap() * &b.powi(-2).unwrap(),
                |a, b| (a * b).sqrt().unwrap(),
            ];
            for (which, formula) in formulas.iter().enumerate() {
                let at = |x: f64, y: f64| formula(&uncertain(x, 1.0, "a"), &uncertain(y, 1.0, "b"));
                let h = 1e-5;
                let numeric = [
                    (at(x + h, y).value() - at(x - h, y).value()) / (2.0 * h),
                    (at(x, y + h).value() - at(x, y - h).value()) / (2.0 * h),
                ];
                for (input, numeric) in ["a", "b"].into_iter().zip(numeric) {
                    let analytic = at(x, y).contribution(&InputId::from(input));
                    let scale = analytic.abs().max(at(x, y).value().abs()).max(1.0);
                    prop_assert!((analytic - numeric).abs() <= 1e-5 * scale, "formula {which}, input {input}");
                }
            }
        }
    }
}
