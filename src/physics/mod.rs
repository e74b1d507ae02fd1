//! The physics of a piece of metal under the desk's instruments, as pure functions of plain numbers.
//!
//! What it is for: eddy currents, density, immersion, ultrasound, ring, X-ray reach and mixtures, each in one
//! file, so that the floors above can predict what a reading would be for every thing a piece could still be.
//!
//! What it must never do: read a clock, a file or the reference, or decide anything; a value outside a model's
//! range is said so in the function's doc comment and is for the caller to keep away from.
//!
//! Units stand in the names: conductivity in MS/m, lengths in mm, masses in g, density in g/cm³, frequency in
//! Hz unless a name says otherwise. Arguments that are not numbers give results that are not numbers or
//! `None`; nothing panics.
//!
//! Read next: [`skin`], then [`layered`].

pub mod attenuation;
pub mod bessel;
pub mod coil;
pub mod coil_response;
pub mod coverage;
pub mod density;
pub mod edge;
pub mod elastic;
pub mod immersion;
pub mod layered;
pub mod quadrature;
pub mod recording;
pub mod ring;
pub mod skin;
pub mod temperature;
pub mod ultrasound;
pub mod water;
pub mod wear;
pub mod xray;
