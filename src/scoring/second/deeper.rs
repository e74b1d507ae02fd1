//! Conductivity once more, with another probe: what it reads at another depth.

use super::examine::{Examined, Judged};
use super::prediction::{Build, Plan, Predicts, Range};
use super::report::Figure;
use crate::evidence::{ConductivityTest, PieceEvidence};
use crate::metrology::Uncertain;
use crate::physics::skin::{frequency_for_depth_hz, skin_depth_mm};
use crate::quantity::{Frequency, Quantity};
use crate::scoring::conductivity::{self, RADIUS_FREE, THICKNESS_FREE, Verdict, frequency_words};
use crate::scoring::doubt::Method;
use crate::scoring::tables::{MODEL_SHARE, Table, core_range};
use crate::scoring::trial::{OUTER_OVER_MEAN, PLANE_WAVE_FROM, Trial};
use crate::scoring::window;
use std::sync::Arc;

/// Relative standard uncertainty that a reading is planned with: a meter that was never compared.
const PLANNED_SHARE: f64 = 0.01;
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

/// The deepest reading that a piece has room for.
struct Deepest {
    thickness: f64,
    hertz: f64,
    depth: f64,
}

impl Deepest {
    /// Thickness allows 2.6 skin depths; the face must hold a coil whose mean radius is 6 skin depths.
    fn of(trial: &Trial<'_>) -> Option<Self> {
        let outline = trial.geometry.outline();
        let thickness = outline.metal_thickness?;
        let by_face = outline
            .inscribed_radius
            .map_or(f64::INFINITY, |radius| radius / RADIUS_FREE / OUTER_OVER_MEAN / PLANE_WAVE_FROM);
        let sigma = trial.alloy.conductivity.value.as_ms_per_m();
        let hertz = frequency_for_depth_hz(sigma, (thickness / THICKNESS_FREE).min(by_face));
        Some(Deepest { thickness, hertz, depth: skin_depth_mm(sigma, hertz, 1.0) })
    }
}

/// Plans a reading as deep as the piece allows.
pub(crate) fn plan(trial: &Trial<'_>) -> Result<Plan, String> {
    let deepest = Deepest::of(trial).ok_or("the thickness is not known")?;
    if let Some(current) = trial.lowest_frequency()
        && current <= WORTH_A_PROBE * deepest.hertz
    {
        return Err(format!(
            "{:.1} mm of this alloy and its face can be read down to {}: the reading at {} is as deep as it gets",
            deepest.thickness,
            frequency_words(deepest.hertz),
            frequency_words(current)
        ));
    }
    let declared = declared(trial);
    // Whatever coil will be used is as wide as the plane wave needs.
    let table = Some(trial.tables.plane_wave(trial.catalogue, trial.alloy));
    Ok(Plan {
        u: PLANNED_SHARE * declared.high,
        predicts: Box::new(Apparent { table, depth: deepest.depth, declared }),
        declared,
    })
}

/// Returns the frequency down to which a piece can be read.
pub(crate) fn deepest_frequency(trial: &Trial<'_>) -> Option<Frequency> {
    Deepest::of(trial).map(|deepest| Frequency::from_hertz(deepest.hertz))
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
