//! What a probe would read on every core under every skin of an alloy: computed once, then only looked up.
//!
//! The layered formula knows thickness and frequency only through the skin depth, so one table of an alloy, in skin depths,
//! serves every frequency.

use super::second::{Range, planned_xray_reach};
use crate::physics::layered::skin_on_core;
use crate::physics::skin::skin_depth_mm;
use crate::reference::{Catalogue, Magnetism, Material, MaterialId};
use std::collections::HashMap;
use std::sync::{Arc, Mutex};

/// Step of the scan in skin depths; the response is not monotonic, so it is scanned and never solved for.
const STEP_IN_SKIN_DEPTHS: f64 = 0.01;
/// Depth beyond which a core no longer shows: at 6 δ it moves the reading by less than 5 parts in a million.
const LAST_IN_SKIN_DEPTHS: f64 = 6.0;
/// Frequency at which the table is computed; any other gives the same one.
const COMPUTED_AT_HZ: f64 = 60_000.0;
/// Thinnest skin that is considered, in mm.
pub(super) const THINNEST_MM: f64 = 0.001;
/// Error that the plane-wave model itself may have, as a share of what it predicts, at 3.29 u.
pub(super) const MODEL_SHARE: f64 = 0.05;
/// Stands for the conductivity over permeability of a ferromagnetic core, in MS/m: as good as an insulator.
const FERROMAGNETIC_FLOOR: f64 = 0.001;

/// Lowest and highest apparent conductivity of one core under each skin of the scan, in MS/m, over the published ranges of
/// skin and core.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Response {
    pub(super) low: Vec<f64>,
    pub(super) high: Vec<f64>,
}

/// The scan of one skin alloy.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Table {
    /// Skin thicknesses in skin depths of the alloy, rising from 0 in even steps.
    pub(super) depths: Vec<f64>,
    /// One response for each material, in the order of the catalogue.
    pub(super) cores: Vec<Response>,
    /// Skin in mm through which X-ray fluorescence sees each material, in the order of the catalogue.
    pub(super) xray_mm: Vec<f64>,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct Key {
    alloy: MaterialId,
    catalogue: String,
}

/// Scans computed so far, shared by all assessments of a run.
#[derive(Debug, Default)]
pub struct Scans {
    tables: Mutex<HashMap<Key, Arc<Table>>>,
}

impl Scans {
    /// Returns the scan of an alloy, computing it at the first request.
    pub(super) fn table(&self, catalogue: &Catalogue, alloy: &Material) -> Arc<Table> {
        let key = Key { alloy: alloy.id.clone(), catalogue: catalogue.version().to_owned() };
        let mut tables = self.tables.lock().expect("no thread panics while it holds the scans");
        Arc::clone(tables.entry(key).or_insert_with(|| Arc::new(Table::compute(catalogue, alloy))))
    }
}

impl Table {
    /// Scans every material of the catalogue as a core under the alloy.
    fn compute(catalogue: &Catalogue, alloy: &Material) -> Self {
        let depth = skin_depth_mm(alloy.conductivity.value.as_ms_per_m(), COMPUTED_AT_HZ, 1.0);
        let count = (LAST_IN_SKIN_DEPTHS / STEP_IN_SKIN_DEPTHS).round() as usize;
        let depths: Vec<f64> = (0..=count).map(|i| i as f64 * STEP_IN_SKIN_DEPTHS).collect();
        let skins: Vec<f64> = depths.iter().map(|d| d * depth).collect();
        let skin = (alloy.conductivity.low.as_ms_per_m(), alloy.conductivity.high.as_ms_per_m());
        let cores = catalogue
            .materials()
            .map(|core| Response::compute(&skins, skin, core_range(core), COMPUTED_AT_HZ))
            .collect();
        let xray_mm = catalogue.materials().map(|core| planned_xray_reach(alloy, core)).collect();
        Table { depths, cores, xray_mm }
    }

    /// Returns what a core reads under a skin given in skin depths, in MS/m: the wider of the two steps around it.
    pub(super) fn at(&self, core: usize, depths: f64) -> Range {
        let last = self.depths.len() - 1;
        let place = (depths / STEP_IN_SKIN_DEPTHS).clamp(0.0, last as f64);
        let (below, above) = (place.floor() as usize, place.ceil() as usize);
        let Response { low, high } = &self.cores[core];
        Range { low: low[below].min(low[above]), high: high[below].max(high[above]) }
    }
}

impl Response {
    fn compute(skins: &[f64], skin: (f64, f64), core: (f64, f64), hertz: f64) -> Self {
        let corners = [(skin.0, core.0), (skin.0, core.1), (skin.1, core.0), (skin.1, core.1)];
        let mut response =
            Response { low: Vec::with_capacity(skins.len()), high: Vec::with_capacity(skins.len()) };
        for &thickness in skins {
            let mut low = f64::INFINITY;
            let mut high = f64::NEG_INFINITY;
            for (skin, core) in corners {
                let apparent = skin_on_core(skin, thickness, core, hertz);
                low = low.min(apparent);
                high = high.max(apparent);
            }
            response.low.push(low);
            response.high.push(high);
        }
        response
    }
}

/// Returns the range of conductivity over relative permeability that a material shows an eddy-current probe, in MS/m.
///
/// The surface impedance goes as √(μ/σ), so a ferromagnetic metal looks like one of σ/μ_r: anything from next to nothing up
/// to its own conductivity.
pub(super) fn core_range(material: &Material) -> (f64, f64) {
    let high = material.conductivity.high.as_ms_per_m();
    match material.magnetism.value {
        Magnetism::Ferromagnetic => (FERROMAGNETIC_FLOOR, high),
        Magnetism::NonMagnetic | Magnetism::WeaklyMagnetic => (material.conductivity.low.as_ms_per_m(), high),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_table_serves_every_frequency() {
        let catalogue = Catalogue::embedded();
        let gold = catalogue.material("Au9999").unwrap();
        let table = Scans::default().table(catalogue, gold);
        let sigma = gold.conductivity.value.as_ms_per_m();
        let tungsten = catalogue.materials().position(|m| m.id.as_str() == "W").unwrap();
        for hertz in [2_000.0, 60_000.0, 480_000.0] {
            let depth = skin_depth_mm(sigma, hertz, 1.0);
            for depths in [0.3, 1.1, 2.5] {
                let exact = skin_on_core(sigma, depths * depth, 18.5, hertz);
                let range = table.at(tungsten, depths);
                assert!(
                    range.low <= exact && exact <= range.high,
                    "{hertz} Hz, {depths} δ: {exact} {range:?}"
                );
            }
        }
    }
}
