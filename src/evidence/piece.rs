//! Everything that was measured on one piece.

use super::{Measurand, Observation, Probe, SecondTest};
use crate::quantity::{Conductivity, Length, Mass, Temperature};
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// What a magnet did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MagnetResponse {
    /// The piece was attracted.
    Attracted,
    /// The piece was not attracted.
    None,
}

/// Whether the piece has a flat field under the probe.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Form {
    /// A flat field: coins, bars, rounds, wafers.
    #[default]
    Flat,
    /// No flat field: jewellery, hollow ware, grain, scrap.
    Irregular,
}

/// How the piece lay under the probe.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Presentation {
    /// Thickness of a sleeve or capsule wall between probe and metal.
    pub sleeve: Option<Length>,
    /// Distance between probe and metal from other causes (relief, dirt), where stated.
    pub lift_off: Option<Length>,
    /// Answer of a magnet, when tried.
    pub magnet: Option<MagnetResponse>,
    /// Whether the piece has been in circulation, so that legal wear counts.
    pub circulated: bool,
    /// Whether it has a flat field.
    pub form: Form,
}

/// A reading behind which no instrument stands that is known to be right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unproved {
    /// The reading.
    pub measurand: Measurand,
    /// Why, with instrument and numbers.
    pub reason: String,
}

/// The readings of one piece, each the one now in force.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PieceEvidence {
    /// Mass in air.
    pub mass: Option<Observation<Mass>>,
    /// Diameter of a round piece.
    pub diameter: Option<Observation<Length>>,
    /// Thickness over the highest points.
    pub thickness: Option<Observation<Length>>,
    /// Longer side of a rectangular piece.
    pub length: Option<Observation<Length>>,
    /// Shorter side of a rectangular piece.
    pub width: Option<Observation<Length>>,
    /// Conductivity readings, one a spot, all with the same probe.
    pub conductivity: Vec<Observation<Conductivity>>,
    /// Temperature of the piece.
    pub temperature: Option<Observation<Temperature>>,
    /// The probe that took the conductivity readings.
    pub probe: Option<Probe>,
    /// How the piece lay under it.
    pub presentation: Presentation,
    /// Second tests, each the one now in force, in the order they were made.
    pub second_tests: Vec<SecondTest>,
    /// Readings that count for nothing, because their instrument is unproved.
    pub unproved: Vec<Unproved>,
}

impl PieceEvidence {
    /// Returns the evidence without the readings that count for nothing.
    pub fn proved(&self) -> Cow<'_, PieceEvidence> {
        if self.unproved.is_empty() {
            return Cow::Borrowed(self);
        }
        let mut proved = self.clone();
        for Unproved { measurand, .. } in &self.unproved {
            match measurand {
                Measurand::Mass => proved.mass = None,
                Measurand::Diameter => proved.diameter = None,
                Measurand::Thickness => proved.thickness = None,
                Measurand::Length => proved.length = None,
                Measurand::Width => proved.width = None,
                Measurand::Conductivity => proved.conductivity.clear(),
                Measurand::Temperature => proved.temperature = None,
            }
        }
        Cow::Owned(proved)
    }
}
