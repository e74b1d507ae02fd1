//! Everything the candidates of one piece are compared with.

use super::assessment::Construction;
use super::conductivity::frequency_words;
use super::geometry::{Geometry, Measured};
use super::policy::Policy;
use super::scans::{Scans, Table};
use super::second::{Build, CoreShape};
use super::skins::Scan;
use super::suspects::Suspect;
use crate::evidence::{Instruments, PieceEvidence, Probe, SecondTest};
use crate::physics::skin::skin_depth_mm;
use crate::quantity::Money;
use crate::reference::{Catalogue, Material, Product};

/// Mean coil radius in skin depths from which the plane-wave model holds.
pub(super) const PLANE_WAVE_FROM: f64 = 6.0;

/// Everything a candidate is compared with.
pub(super) struct Trial<'a> {
    pub(super) catalogue: &'a Catalogue,
    pub(super) product: &'a Product,
    pub(super) alloy: &'a Material,
    pub(super) policy: &'a Policy,
    pub(super) scans: &'a Scans,
    pub(super) evidence: &'a PieceEvidence,
    pub(super) geometry: &'a Geometry,
    pub(super) instruments: &'a Instruments,
    /// Place of the declared alloy in the catalogue.
    pub(super) alloy_index: usize,
    /// Conductivity at 20 °C in MS/m with its standard uncertainty, when it is usable.
    pub(super) conductivity: Option<Measured>,
    /// Price of a troy ounce of fine metal.
    pub(super) price: Option<Money>,
    /// Pieces of the lot.
    pub(super) lot_size: u32,
}

impl<'a> Trial<'a> {
    /// Returns the skins that are tried on this piece.
    pub(super) fn scan(&self, table: Option<&Table>) -> Option<Scan> {
        let thickness = self.geometry.whole_thickness()?;
        let depths = table.zip(self.plane_wave_depth());
        Some(Scan::of(
            self.geometry,
            thickness,
            depths.map(|(table, depth)| (table.depths.as_slice(), depth)),
        ))
    }

    /// Returns the declared piece as a build.
    pub(super) fn declared(&self) -> Build<'a> {
        Build { material: self.alloy, index: self.alloy_index, core: None }
    }

    /// Returns a suspect as a build, under one skin in mm for a core; `None` while no thickness is known.
    pub(super) fn build(&self, suspect: &Suspect<'a>, skin: Option<f64>) -> Option<Build<'a>> {
        let core = match suspect.candidate.construction {
            Construction::Solid => None,
            Construction::Core => Some(self.geometry.core_shape(self.geometry.whole_thickness()?, skin?)),
        };
        Some(Build { material: suspect.material, index: suspect.index, core })
    }

    /// Returns every skin that is tried on this piece, rising.
    pub(super) fn skins(&self) -> Vec<CoreShape> {
        let table = self.plane_wave_depth().map(|_| self.scans.table(self.catalogue, self.alloy));
        self.scan(table.as_deref()).map_or(Vec::new(), |scan| scan.steps)
    }

    /// Tells why the layered model cannot be used, when it cannot.
    pub(super) fn outside_model(&self) -> Option<String> {
        self.outside_model_of(self.evidence.probe.as_ref()?)
    }

    /// Tells why the layered model cannot be used with a probe, when it cannot.
    pub(super) fn outside_model_of(&self, probe: &Probe) -> Option<String> {
        let Some(frequency) = probe.frequency else {
            return Some("the probe's frequency is not known: no depth can be stated".to_owned());
        };
        let radius = probe.coil?.mean_radius().as_millimetres();
        let depth = self.skin_depth(probe)?;
        (radius < PLANE_WAVE_FROM * depth).then(|| {
            format!(
                "mean coil radius {radius:.1} mm is {:.1} skin depths at {}; the layered model needs {PLANE_WAVE_FROM}, so a mean \
                 radius from {:.1} mm",
                radius / depth,
                frequency_words(frequency.as_hertz()),
                PLANE_WAVE_FROM * depth
            )
        })
    }

    /// Returns the skin depth in the declared alloy, in mm.
    pub(super) fn skin_depth(&self, probe: &Probe) -> Option<f64> {
        probe.frequency.map(|f| skin_depth_mm(self.alloy.conductivity.value.as_ms_per_m(), f.as_hertz(), 1.0))
    }

    /// Returns the skin depth in mm at which a usable reading may be compared with the layered model.
    pub(super) fn plane_wave_depth(&self) -> Option<f64> {
        let depth = self.skin_depth(self.evidence.probe.as_ref()?)?;
        (self.conductivity.is_some() && self.outside_model().is_none()).then_some(depth)
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
}
