//! A reading as typed, whatever it measures: exact integer, unit, step and text side by side.

use crate::evidence::{Amount, Measurand};
use crate::quantity::entry::{EntryError, Typed, parse_field};
use crate::quantity::{Conductivity, Entry, Length, Mass, Quantity, Temperature, Unit};

/// A value of a measurand as somebody typed it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TypedReading {
    /// The value.
    pub amount: Amount,
    /// One unit of the last digit typed, in base integers; at least 1.
    pub step: i64,
    /// Symbol of the unit that was typed or assumed.
    pub unit: &'static str,
    /// The text as typed.
    pub text: String,
}

/// What a field for a reading holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TypedField {
    /// Nothing at all.
    Nothing,
    /// `-`: deliberately not measured.
    NotMeasured,
    /// `=`: the last piece's value again.
    Repeat,
    /// A value.
    Value(TypedReading),
}

impl TypedReading {
    /// Prints the value in its first unit with the decimals that the typed digits carry.
    pub fn stored(&self) -> String {
        self.amount.show(decimals_of_step(self.amount.measurand, self.step))
    }
}

/// Returns the decimals, in the first unit of a measurand, that a step of base integers carries.
pub fn decimals_of_step(measurand: Measurand, step: i64) -> u32 {
    let unit = &measurand.units()[0];
    let mut decimals = 0;
    let mut step = i128::from(step.max(1)) * i128::from(unit.denominator);
    while step < i128::from(unit.numerator) && decimals < 9 {
        step *= 10;
        decimals += 1;
    }
    decimals
}

/// Reads what was typed for a measurand, in the assumed unit or a unit of its own.
///
/// # Errors
/// As [`crate::quantity::entry::parse`].
pub fn read(
    measurand: Measurand,
    text: &str,
    assumed: Option<&'static Unit>,
) -> Result<TypedField, EntryError> {
    let assumed = assumed.unwrap_or(&measurand.units()[0]);
    match measurand {
        Measurand::Mass => field::<Mass>(measurand, text, assumed),
        Measurand::Conductivity => field::<Conductivity>(measurand, text, assumed),
        Measurand::Temperature => field::<Temperature>(measurand, text, assumed),
        Measurand::Diameter | Measurand::Thickness | Measurand::Length | Measurand::Width => {
            field::<Length>(measurand, text, assumed)
        }
    }
}

fn field<Q: Quantity>(
    measurand: Measurand,
    text: &str,
    assumed: &'static Unit,
) -> Result<TypedField, EntryError> {
    Ok(match parse_field::<Q>(text, assumed)? {
        Typed::Nothing => TypedField::Nothing,
        Typed::NotMeasured => TypedField::NotMeasured,
        Typed::Repeat => TypedField::Repeat,
        Typed::Value(entry) => TypedField::Value(of_entry(measurand, entry)),
    })
}

fn of_entry<Q: Quantity>(measurand: Measurand, entry: Entry<Q>) -> TypedReading {
    let Entry { value, step, unit, text } = entry;
    TypedReading { amount: Amount { measurand, base: value.base() }, step, unit, text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(measurand: Measurand, text: &str, stored: &str) {
        match read(measurand, text, None).unwrap() {
            TypedField::Value(reading) => assert_eq!(reading.stored(), stored),
            other => panic!("{text}: {other:?}"),
        }
    }

    #[test]
    fn the_echo_keeps_the_resolution_that_was_typed() {
        check(Measurand::Mass, "31.10", "31.10 g");
        check(Measurand::Mass, "33,931 g", "33.931 g");
        check(Measurand::Mass, "1.0910 ozt", "33.934 g");
        check(Measurand::Diameter, "1.520 in", "38.61 mm");
        check(Measurand::Conductivity, "105 %IACS", "60.9 MS/m");
        check(Measurand::Temperature, "68 F", "20.0 C");
        check(Measurand::Mass, "100", "100 g");
    }
}
