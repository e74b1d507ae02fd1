//! Physical quantities as newtypes over exact integers, and the one strict grammar by which people type them.
//!
//! What it is for: no floor above handles a bare number that means a mass, a length or a conductivity. Factors
//! between units are exact rationals, so a typed troy ounce and the same mass in grams are the same integer.
//! What it must never do: round twice, guess a unit, or accept thousands marks and exponents.
//! Read next: [`entry`] (the grammar), then [`Mass`] for what a quantity offers.

pub mod entry;
mod money;
mod newtype;
mod unit;

pub use entry::{Entry, EntryError, Typed};
pub use money::{Currency, Money, MoneyError};
pub use newtype::{
    Conductivity, Density, Fineness, Frequency, Length, Mass, Modulus, PerKelvin, Temperature,
    TemperatureDifference, Velocity,
};
pub use unit::{Quantity, Unit};
