//! Conductivity once more, with another probe: what it reads at another depth.

use super::examine::{Examined, Judged};
use super::prediction::{Build, Plan, Predicts, Range};
use super::report::Figure;
use crate::evidence::{ConductivityTest, PieceEvidence, Probe};
use crate::metrology::Uncertain;
use crate::physics::skin::{frequency_for_depth_hz, skin_depth_mm};
use crate::quantity::{Frequency, Quantity};
use crate::scoring::conductivity::{self, RADIUS_FREE, THICKNESS_FREE, Verdict, frequency_words};
use crate::scoring::doubt::Method;
use crate::scoring::tables::{MODEL_SHARE, Table, core_range};
use crate::scoring::trial::{OUTER_OVER_MEAN, PLANE_WAVE_FROM, Trial};
use crate::scoring::window;
use std::sync::Arc;

/// Relative standard uncertainty that a reading is planned with: a meter that was never compared, and one that was.
const PLANNED_SHARE: f64 = 0.01;
const COMPARED_SHARE: f64 = 0.005;
/// How much deeper a probe must reach than the last one to be worth the time.
const WORTH_A_PROBE: f64 = 1.2;

/// Apparent conductivity of any build with one probe, in MS/m at 20 °C.
struct Apparent {
    /// What each core reads; `None` where no model serves the probe: then no core is excluded.
    table: Option<Arc<Table>>,
    /// Skin depth in the declared alloy in mm.
    depth: f64,
    declared: Range,
}

impl Predicts for Apparent {
    fn range(&self, build: &Build<'_>) -> Option<Range> {
        match build.core {
            None => {
                let (low, high) = core_range(build.material);
                Some(Range { low, high })
            }
            Some(core) => Some(self.table.as_ref()?.at(build.index, core.skin / self.depth)),
        }
    }

    fn declared(&self, _declared: &Build<'_>) -> Option<Range> {
        Some(self.declared)
    }

    fn tolerance(&self, build: &Build<'_>) -> f64 {
        if build.core.is_some() { MODEL_SHARE } else { 0.0 }
    }
}

/// Returns what the declared alloy shows, in MS/m.
fn declared(trial: &Trial<'_>) -> Range {
    let range = &trial.alloy.conductivity;
    Range { low: range.low.as_ms_per_m(), high: range.high.as_ms_per_m() }
}

/// The deepest reading that a piece has room for: with a probe of the desk, or with any where the desk names none.
pub(crate) struct Deepest<'t> {
    /// The probe; `None` where the desk names none at all.
    pub(crate) probe: Option<&'t Probe>,
    /// Its frequency, or the lowest that the piece admits.
    pub(crate) frequency: Frequency,
    /// Skin depth of the declared alloy in mm.
    depth: f64,
}

impl<'t> Deepest<'t> {
    /// Returns the reading to plan.
    ///
    /// Thickness allows 2.6 skin depths, and the face must hold the coil.
    ///
    /// # Errors
    /// Why no reading goes deeper than the ones there are.
    pub(crate) fn of(trial: &Trial<'t>) -> Result<Self, String> {
        let outline = trial.geometry.outline();
        let thickness = outline.metal_thickness.ok_or("the thickness is not known")?;
        let sigma = trial.alloy.conductivity.value.as_ms_per_m();
        let lowest = frequency_for_depth_hz(sigma, thickness / THICKNESS_FREE);
        let at = |frequency: Frequency| skin_depth_mm(sigma, frequency.as_hertz(), 1.0);
        let current = trial.lowest_frequency();
        let deeper = |hertz: f64| current.is_none_or(|current| current > WORTH_A_PROBE * hertz);
        if trial.instruments.probes.is_empty() {
            let by_face = outline
                .inscribed_radius
                .map_or(f64::INFINITY, |radius| radius / RADIUS_FREE / OUTER_OVER_MEAN / PLANE_WAVE_FROM);
            let hertz = lowest.max(frequency_for_depth_hz(sigma, by_face));
            let frequency = Frequency::from_hertz(hertz);
            return if deeper(hertz) {
                Ok(Deepest { probe: None, frequency, depth: at(frequency) })
            } else {
                Err(format!("the reading at {} is as deep as the piece admits", frequency_words(hertz)))
            };
        }
        let fits = |probe: &&Probe| {
            let room = outline.inscribed_radius.unwrap_or(f64::INFINITY);
            let holds = probe.coil.is_some_and(|coil| room / coil.outer.as_millimetres() >= RADIUS_FREE);
            probe.frequency.is_some_and(|f| f.as_hertz() >= lowest && deeper(f.as_hertz())) && holds
        };
        let probe = trial.instruments.probes.iter().filter(fits).min_by_key(|probe| probe.frequency);
        let found = probe.and_then(|probe| Some((probe, probe.frequency?)));
        let (probe, frequency) = found.ok_or_else(|| {
            format!(
                "no other probe of this desk looks deeper and fits: the piece can be read down to {}",
                frequency_words(lowest)
            )
        })?;
        Ok(Deepest { probe: Some(probe), frequency, depth: at(frequency) })
    }
}

/// Plans a reading as deep as piece and desk allow.
pub(crate) fn plan(trial: &Trial<'_>) -> Result<Plan, String> {
    let deepest = Deepest::of(trial)?;
    let declared = declared(trial);
    let table = match deepest.probe {
        Some(probe) => trial.table_of(probe)?,
        // Whatever coil will be used is as wide as the plane wave needs.
        None => trial.tables.plane_wave(trial.catalogue, trial.alloy),
    };
    let compared = trial.instruments.meter.compared_with_same_alloy;
    let share = if compared { COMPARED_SHARE } else { PLANNED_SHARE };
    Ok(Plan {
        u: share * declared.high,
        predicts: Box::new(Apparent { table: Some(table), depth: deepest.depth, declared }),
        declared,
        good: trial.alloy.conductivity.value.as_ms_per_m(),
    })
}

const READING: &str = "reading at 20 °C";

/// Judges readings that were made.
pub(crate) fn examine(trial: &Trial<'_>, test: &ConductivityTest) -> Examined {
    let frequency = test.probe.frequency;
    let at = frequency.map_or("unknown frequency".to_owned(), |f| frequency_words(f.as_hertz()));
    let shown: Vec<String> = test.readings.iter().map(|reading| reading.value.show(2)).collect();
    let how = format!("probe {} at {at}: {}", test.probe.name, shown.join(", "));
    let again = PieceEvidence {
        conductivity: test.readings.clone(),
        probe: Some(test.probe.clone()),
        temperature: test.temperature.or(trial.evidence.temperature),
        presentation: trial.evidence.presentation,
        ..PieceEvidence::default()
    };
    let outline = trial.geometry.outline();
    let unusable = |reason: String| Examined::unusable(Method::Conductivity, how.clone(), reason);
    let usable = match conductivity::judge(&again, trial.alloy, &outline, trial.instruments) {
        Verdict::Usable(usable) => usable,
        Verdict::NotUsable(reason) => return unusable(reason),
        Verdict::Missing => return unusable("no reading".to_owned()),
    };
    let value = match Uncertain::new(usable.at_20, usable.u_with_spread(), READING) {
        Ok(value) => value,
        Err(error) => return unusable(error.to_string()),
    };
    let table = trial.table_of(&test.probe);
    let depth = trial.skin_depth(&test.probe).unwrap_or(f64::INFINITY);
    let limits = window::conductivity(trial.product, trial.alloy, trial.catalogue);
    let own = declared(trial);
    let mut examined = Judged {
        method: Method::Conductivity,
        how,
        predicts: Box::new(Apparent {
            table: table.as_ref().ok().cloned(),
            depth,
            declared: Range { low: limits.lower.unwrap_or(own.low), high: limits.upper.unwrap_or(own.high) },
        }),
        value,
        figure: Figure::conductivity,
        sources: &[(
            READING,
            "meter, digit step, temperature and spread of the spots, as for the first readings",
        )],
    }
    .examined(trial);
    if let Err(reason) = table {
        examined.report.cautions.push(format!("outside model: {reason}; it excluded no core"));
    }
    examined.report.cautions.extend(usable.notes);
    examined
}
