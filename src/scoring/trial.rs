//! Everything the candidates of one piece are compared with.

use super::conductivity::{RADIUS_LEAST, frequency_words};
use super::geometry::{Geometry, Measured};
use super::policy::Policy;
use super::second::Build;
use super::tables::{Table, Tables};
use crate::evidence::{Instruments, PieceEvidence, Probe, SecondTest};
use crate::physics::skin::skin_depth_mm;
use crate::quantity::{Frequency, Money};
use crate::reference::{Catalogue, Material, Product};
use std::sync::Arc;

/// Mean coil radius in skin depths from which the plane wave agrees with the coil within 2.5 % for most pairs of metals.
pub(super) const PLANE_WAVE_FROM: f64 = 6.0;
/// Mean coil radius in skin depths below which the plane wave says nothing about a core of strong contrast.
const PLANE_WAVE_LEAST: f64 = 4.0;
/// A coil's outer radius over its mean radius, at the least (the assumed probes have 1.27 to 1.4).
pub(super) const OUTER_OVER_MEAN: f64 = 1.27;

/// Everything a candidate is compared with.
pub(super) struct Trial<'a> {
    pub(super) catalogue: &'a Catalogue,
    pub(super) product: &'a Product,
    pub(super) alloy: &'a Material,
    pub(super) policy: &'a Policy,
    pub(super) tables: &'a Tables,
    pub(super) evidence: &'a PieceEvidence,
    pub(super) geometry: &'a Geometry,
    pub(super) instruments: &'a Instruments,
    /// Place of the declared alloy in the catalogue.
    pub(super) alloy_index: usize,
    /// Conductivity at 20 °C in MS/m with its standard uncertainty, when it is usable.
    pub(super) conductivity: Option<Measured>,
    /// Pieces of the lot.
    pub(super) lot_size: u32,
}

impl<'a> Trial<'a> {
    /// Returns the declared piece as a build.
    pub(super) fn declared(&self) -> Build<'a> {
        Build { material: self.alloy, index: self.alloy_index, core: None }
    }

    /// Returns what every core reads under every skin, where the readings can be used and a model serves their probe.
    pub(super) fn table(&self) -> Option<Arc<Table>> {
        self.conductivity?;
        self.table_of(self.evidence.probe.as_ref()?).ok()
    }

    /// Returns what every core reads with a probe, or why no model can tell.
    pub(super) fn table_of(&self, probe: &Probe) -> Result<Arc<Table>, String> {
        let Some(frequency) = probe.frequency else {
            return Err("the probe's frequency is not known: no depth can be stated".to_owned());
        };
        match probe.coil {
            Some(coil) => Ok(self.tables.coil(self.catalogue, self.alloy, coil, frequency)),
            None => match self.too_small_for_any_coil(frequency) {
                Some(reason) => Err(reason),
                None => Ok(self.tables.plane_wave(self.catalogue, self.alloy)),
            },
        }
    }

    /// Tells why the plane wave cannot be used with a coil that nobody states: the largest coil that the face admits would be
    /// too small.
    fn too_small_for_any_coil(&self, frequency: Frequency) -> Option<String> {
        let radius = self.geometry.outline().inscribed_radius? / RADIUS_LEAST / OUTER_OVER_MEAN;
        let hertz = frequency.as_hertz();
        let depth = skin_depth_mm(self.alloy.conductivity.value.as_ms_per_m(), hertz, 1.0);
        (radius < PLANE_WAVE_LEAST * depth).then(|| {
            format!(
                "the coil is not stated, and the largest that this face admits has a mean radius of {radius:.1} mm, {:.1} skin \
                 depths at {}; the plane wave needs {PLANE_WAVE_LEAST}: state the coil's radii",
                radius / depth,
                frequency_words(hertz)
            )
        })
    }

    /// Tells why no model can say what a core reads, when none can.
    pub(super) fn outside_model(&self) -> Option<String> {
        self.table_of(self.evidence.probe.as_ref()?).err()
    }

    /// Returns the skin depth in the declared alloy, in mm.
    pub(super) fn skin_depth(&self, probe: &Probe) -> Option<f64> {
        probe.frequency.map(|f| skin_depth_mm(self.alloy.conductivity.value.as_ms_per_m(), f.as_hertz(), 1.0))
    }

    /// Returns the lowest frequency, in hertz, at which the piece gave a usable reading.
    pub(super) fn lowest_frequency(&self) -> Option<f64> {
        let first = self.evidence.probe.as_ref().filter(|_| self.conductivity.is_some());
        let again = self.evidence.second_tests.iter().filter_map(|test| match test {
            SecondTest::Conductivity(test) => Some(&test.probe),
            _ => None,
        });
        let frequencies = first.into_iter().chain(again).filter_map(|probe| probe.frequency);
        frequencies.min().map(|frequency| frequency.as_hertz())
    }

    /// Returns the mass of the piece in grams, the nominal one while it was not weighed.
    pub(super) fn piece_mass(&self) -> Option<f64> {
        self.geometry
            .mass
            .map(|mass| mass.value)
            .or_else(|| self.product.mass.as_ref().map(|mass| mass.nominal.value.as_grams()))
    }

    /// Makes an amount of the desk's currency.
    pub(super) fn money(&self, value: f64) -> Money {
        Money::estimate(value, self.policy.currency)
    }
}
