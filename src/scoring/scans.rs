//! What a probe would read on every core under every skin of an alloy: computed once, then only looked up.

use crate::physics::layered::skin_on_core;
use crate::physics::skin::skin_depth_mm;
use crate::quantity::{Frequency, Quantity};
use crate::reference::{Catalogue, Magnetism, Material, MaterialId};
use std::collections::HashMap;
use std::sync::{Arc, Mutex};

/// Step of the scan in skin depths; the response is not monotonic, so it is scanned and never solved for.
const STEP_IN_SKIN_DEPTHS: f64 = 0.01;
/// Depth beyond which a core no longer shows: at 6 δ it moves the reading by less than 5 parts in a million.
const LAST_IN_SKIN_DEPTHS: f64 = 6.0;
/// Thinnest skin that is considered, in mm.
const THINNEST_MM: f64 = 0.001;
/// Stands for the conductivity over permeability of a ferromagnetic core, in MS/m: as good as an insulator.
const FERROMAGNETIC_FLOOR: f64 = 0.001;

/// Lowest and highest apparent conductivity of one core under each skin of the scan, in MS/m, over the published ranges of
/// skin and core.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Response {
    pub(super) low: Vec<f64>,
    pub(super) high: Vec<f64>,
}

/// The scan of one skin alloy at one frequency.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Table {
    /// Skin thicknesses in mm, rising.
    pub(super) skins: Vec<f64>,
    /// One response for each material, in the order of the catalogue.
    pub(super) cores: Vec<Response>,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct Key {
    alloy: MaterialId,
    frequency: i64,
    catalogue: String,
}

/// Scans computed so far, shared by all assessments of a run.
#[derive(Debug, Default)]
pub struct Scans {
    tables: Mutex<HashMap<Key, Arc<Table>>>,
}

impl Scans {
    /// Returns the scan of an alloy at a frequency, computing it at the first request.
    pub(super) fn table(&self, catalogue: &Catalogue, alloy: &Material, frequency: Frequency) -> Arc<Table> {
        let key = Key {
            alloy: alloy.id.clone(),
            frequency: frequency.base(),
            catalogue: catalogue.version().to_owned(),
        };
        let mut tables = self.tables.lock().expect("no thread panics while it holds the scans");
        Arc::clone(tables.entry(key).or_insert_with(|| Arc::new(Table::compute(catalogue, alloy, frequency))))
    }
}

impl Table {
    /// Scans every material of the catalogue as a core under the alloy.
    fn compute(catalogue: &Catalogue, alloy: &Material, frequency: Frequency) -> Self {
        let hertz = frequency.as_hertz();
        let depth = skin_depth_mm(alloy.conductivity.value.as_ms_per_m(), hertz, 1.0);
        let count = (LAST_IN_SKIN_DEPTHS / STEP_IN_SKIN_DEPTHS).round() as usize;
        let skins: Vec<f64> =
            (0..=count).map(|i| (i as f64 * STEP_IN_SKIN_DEPTHS * depth).max(THINNEST_MM)).collect();
        let skin = (alloy.conductivity.low.as_ms_per_m(), alloy.conductivity.high.as_ms_per_m());
        let cores = catalogue
            .materials()
            .map(|core| Response::compute(&skins, skin, core_range(core), hertz))
            .collect();
        Table { skins, cores }
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
