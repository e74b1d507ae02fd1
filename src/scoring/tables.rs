//! What a probe would read on every core under every skin of an alloy: computed once, then only looked up.
//!
//! A probe whose coil and frequency are known is compared with the analytic coil over a layered half-space; there is one
//! table for each alloy, coil and frequency. For any other probe the plane wave has to do: it knows thickness and frequency only
//! through the skin depth, so one table of an alloy, in skin depths, serves every frequency.
//!
//! The coil is used wherever it is known, also where its mean radius is many skin depths: the two agree within 2.5 % for most
//! pairs of metals from six skin depths on, but over poor cores (lead, steel under silver) the plane wave is still 4 to 10 % off
//! there, more than the [`MODEL_SHARE`] that a prediction may be.

use super::second::{Range, planned_xray_reach};
use crate::evidence::Coil as Winding;
use crate::physics::coil::Coil;
use crate::physics::coil_response::CoilResponse;
use crate::physics::layered::skin_on_core;
use crate::physics::skin::skin_depth_mm;
use crate::quantity::Frequency;
use crate::reference::{Catalogue, Magnetism, Material, MaterialId};
use std::collections::HashMap;
use std::sync::{Arc, Mutex};

/// Step of the scan in skin depths; the response is not monotonic, so it is scanned and never solved for.
const STEP_IN_SKIN_DEPTHS: f64 = 0.01;
/// Depth beyond which a core no longer shows: at 6 δ it moves the reading by less than 5 parts in a million.
const LAST_IN_SKIN_DEPTHS: f64 = 6.0;
/// Frequency at which the table is computed; any other gives the same one.
const COMPUTED_AT_HZ: f64 = 60_000.0;
/// Error that a prediction itself may have, as a share of what it predicts, at 3.29 u: the coil's lift-off, and its length where
/// nobody states it, move what it reads by less than this (see [`COIL_LENGTH_IN_MEAN_RADII`]), and a core has rims.
pub(super) const MODEL_SHARE: f64 = 0.05;
/// Stands for the conductivity over permeability of a ferromagnetic core, in MS/m: as good as an insulator.
const FERROMAGNETIC_FLOOR: f64 = 0.001;

/// Axial length of a coil, in mean radii, where nobody states it.
///
/// Assumed. Half and double of it, and half and double of the lift-off, move a reading near its window by less than 1.5 %.
pub(super) const COIL_LENGTH_IN_MEAN_RADII: f64 = 0.5;
/// Distance of the winding from bare metal, in mean radii, through the face of the probe. Assumed, see the length.
pub(super) const COIL_LIFT_OFF_IN_MEAN_RADII: f64 = 0.1;

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

/// Lowest and highest apparent conductivity of one core under each skin of the scan, in MS/m, over the published ranges of
/// skin and core.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Response {
    low: Vec<f64>,
    high: Vec<f64>,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct Key {
    alloy: MaterialId,
    catalogue: String,
    /// Coil and frequency; `None` for the plane wave.
    coil: Option<(Winding, Frequency)>,
}

/// Tables computed so far, shared by all assessments of a run.
#[derive(Debug, Default)]
pub(super) struct Tables {
    tables: Mutex<HashMap<Key, Arc<Table>>>,
}

impl Tables {
    /// Returns the scan of an alloy by the plane wave, computing it at the first request.
    pub(super) fn plane_wave(&self, catalogue: &Catalogue, alloy: &Material) -> Arc<Table> {
        self.table(catalogue, alloy, None)
    }

    /// Returns the scan of an alloy with a coil at a frequency, computing it at the first request.
    pub(super) fn coil(
        &self,
        catalogue: &Catalogue,
        alloy: &Material,
        coil: Winding,
        frequency: Frequency,
    ) -> Arc<Table> {
        self.table(catalogue, alloy, Some((coil, frequency)))
    }

    fn table(
        &self,
        catalogue: &Catalogue,
        alloy: &Material,
        coil: Option<(Winding, Frequency)>,
    ) -> Arc<Table> {
        let key = Key { alloy: alloy.id.clone(), catalogue: catalogue.version().to_owned(), coil };
        let mut tables = self.tables.lock().expect("no thread panics while it holds the scans");
        let compute = || Arc::new(Table::compute(catalogue, alloy, coil));
        Arc::clone(tables.entry(key).or_insert_with(compute))
    }
}

/// Returns the coil of a probe as the model wants it: of the stated length, else the assumed one, one turn.
pub(super) fn model_coil(winding: Winding) -> Option<Coil> {
    let mean = winding.mean_radius().as_millimetres();
    let (inner, outer) = (winding.inner.as_millimetres(), winding.outer.as_millimetres());
    let length = winding.length.map_or(COIL_LENGTH_IN_MEAN_RADII * mean, |length| length.as_millimetres());
    Coil::new(inner, outer, length, 1.0).ok()
}

/// Returns what a coil reads on a skin over any core; `None` for measures that bound none.
pub(super) fn coil_response(winding: Winding, skin_ms_m: f64, hertz: f64) -> Option<CoilResponse> {
    let lift_off = COIL_LIFT_OFF_IN_MEAN_RADII * winding.mean_radius().as_millimetres();
    Some(CoilResponse::of(&model_coil(winding)?, skin_ms_m, lift_off, hertz))
}

impl Table {
    /// Scans every material of the catalogue as a core under the alloy.
    fn compute(catalogue: &Catalogue, alloy: &Material, coil: Option<(Winding, Frequency)>) -> Self {
        let hertz = coil.map_or(COMPUTED_AT_HZ, |(_, frequency)| frequency.as_hertz());
        let depth = skin_depth_mm(alloy.conductivity.value.as_ms_per_m(), hertz, 1.0);
        let count = (LAST_IN_SKIN_DEPTHS / STEP_IN_SKIN_DEPTHS).round() as usize;
        let depths: Vec<f64> = (0..=count).map(|i| i as f64 * STEP_IN_SKIN_DEPTHS).collect();
        let skins: Vec<f64> = depths.iter().map(|d| d * depth).collect();
        let ends = [alloy.conductivity.low.as_ms_per_m(), alloy.conductivity.high.as_ms_per_m()];
        let of_coil = coil.and_then(|(winding, _)| {
            let [low, high] = ends.map(|skin| coil_response(winding, skin, hertz));
            Some([low?, high?])
        });
        let cores = catalogue
            .materials()
            .map(|core| {
                let (poor, good) = core_range(core);
                match &of_coil {
                    Some(of_coil) => bounds(
                        &skins,
                        of_coil.iter().flat_map(|skin| {
                            [poor, good].map(|core| {
                                let response = skin.core(core);
                                move |thickness: f64| response.apparent(thickness)
                            })
                        }),
                    ),
                    None => bounds(
                        &skins,
                        ends.into_iter().flat_map(|skin| {
                            [poor, good]
                                .map(|core| move |thickness: f64| skin_on_core(skin, thickness, core, hertz))
                        }),
                    ),
                }
            })
            .collect();
        let xray_mm = catalogue.materials().map(|core| planned_xray_reach(alloy, core)).collect();
        Table { depths, cores, xray_mm }
    }

    /// Returns what a core reads under a skin given in skin depths, in MS/m: the wider of the two steps around it.
    pub(super) fn at(&self, core: usize, depths: f64) -> Range {
        let last = self.depths.len() - 1;
        let place = (depths / STEP_IN_SKIN_DEPTHS).clamp(0.0, last as f64);
        // A place is never negative, so cutting off its fraction is the floor.
        let below = place as usize;
        let above = below + usize::from(place > below as f64);
        let Response { low, high } = &self.cores[core];
        Range { low: low[below].min(low[above]), high: high[below].max(high[above]) }
    }

    /// Returns what a core reads under any skin between two, given in skin depths, in MS/m.
    pub(super) fn between(&self, core: usize, thin: f64, thick: f64) -> Range {
        let last = self.depths.len() - 1;
        let place = |depths: f64| (depths / STEP_IN_SKIN_DEPTHS).clamp(0.0, last as f64);
        let steps = place(thin) as usize..=place(thick).ceil() as usize;
        let Response { low, high } = &self.cores[core];
        Range {
            low: low[steps.clone()].iter().copied().fold(f64::INFINITY, f64::min),
            high: high[steps].iter().copied().fold(f64::NEG_INFINITY, f64::max),
        }
    }
}

/// Bounds what is read under each skin by the readings at the corners of the published ranges.
fn bounds<F: Fn(f64) -> f64>(skins: &[f64], corners: impl Iterator<Item = F>) -> Response {
    let (mut lows, mut highs) = (vec![f64::INFINITY; skins.len()], vec![f64::NEG_INFINITY; skins.len()]);
    for apparent in corners {
        for (skin, (low, high)) in skins.iter().zip(lows.iter_mut().zip(&mut highs)) {
            let value = apparent(*skin);
            *low = low.min(value);
            *high = high.max(value);
        }
    }
    Response { low: lows, high: highs }
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
        let table = Tables::default().plane_wave(catalogue, gold);
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

    #[test]
    fn the_stated_length_of_a_coil_moves_what_a_core_reads_by_little() {
        // Half and double of the assumed length, by less than the 1.5 % that it is assumed with; stated as assumed, by nothing.
        let catalogue = Catalogue::embedded();
        let gold = catalogue.material("Au9999").unwrap();
        let tungsten = catalogue.materials().position(|m| m.id.as_str() == "W").unwrap();
        let frequency = Frequency::from_hertz(60_000.0);
        let scans = Tables::default();
        let reads = |coil: &str| {
            let coil = Winding::parse(coil).unwrap();
            let table = scans.coil(catalogue, gold, coil, frequency);
            table.at(tungsten, 0.9)
        };
        let assumed = reads("2mm,4mm");
        assert_eq!(reads("2mm,4mm,1.5mm"), assumed);
        for stated in [reads("2mm,4mm,0.75mm"), reads("2mm,4mm,3mm")] {
            let moved = stated.low / assumed.low - 1.0;
            assert!(moved != 0.0 && moved.abs() < 0.015, "{moved}");
        }
    }
}
