//! X-ray fluorescence: the composition of the surface, and how far through a skin it sees.

use super::content::{content, is_foreign, main_element, symbol};
use super::examine::{Examined, Judged};
use super::prediction::{Build, EXCLUDES_AT, Plan, Predicts, Range};
use super::report::Figure;
use crate::evidence::{Content, TakeOff, XRayTest};
use crate::metrology::Uncertain;
use crate::metrology::evaluation::resolution;
use crate::physics::xray::{Geometry, LINES, Line, Overlayer, hiding_thickness_um};
use crate::reference::{Material, Metal};
use crate::scoring::assessment::{Outcome, Scope};
use crate::scoring::cause::{Cause, Rule};
use crate::scoring::doubt::{Doubt, DoubtKind, Method, Offer, Power};
use crate::scoring::tables::Table;
use crate::scoring::trial::Trial;
use std::sync::Arc;

/// Energy of the incident rays that an instrument of a dealer has, in keV: a 50 kV tube with most of it below 40 (assumed).
const INCIDENT_KEV: f64 = 40.0;
/// Share of its line that a core must still give to be noticed, when nobody stated how good the instrument is.
const NOTICED_SHARE: f64 = 0.01;
/// Skin of which no instrument sees the underside, in mm.
const OPAQUE_MM: f64 = 0.2;
/// Skins through which the line of a core without a table is seen, in mm: gold 8 µm, silver 13 µm, the least of the
/// published figures (surface methods).
const THROUGH_GOLD_MM: f64 = 0.008;
const THROUGH_SILVER_MM: f64 = 0.013;
/// Standard uncertainty of a share that states none, in percent (common practice, hand-held instrument).
const UNSTATED_PERCENT: f64 = 0.5;

/// Share of the product's metal at the surface of any build, in percent, and the lines of what lies below.
struct Surface {
    metal: Metal,
    declared: Range,
    /// Atomic number of the skin's main metal.
    skin: Option<u8>,
    skin_g_cm3: f64,
    geometry: Geometry,
    /// Elements found, when the test was made.
    found: Option<Vec<Found>>,
    /// How far it sees to each material of the catalogue, when the test is only planned.
    planned: Option<Arc<Table>>,
}

/// An element that was found, in percent.
struct Found {
    symbol: String,
    percent: f64,
    u: f64,
}

impl Surface {
    fn of(alloy: &Material, metal: Metal, take_off: Option<TakeOff>, found: Option<Vec<Found>>) -> Self {
        let mut geometry = Geometry::symmetric(INCIDENT_KEV);
        if let Some(angle) = take_off {
            geometry.takeoff_rad = angle.as_radians();
        }
        Surface {
            metal,
            declared: Range { low: 100.0 * content(alloy, metal).low, high: 100.0 },
            skin: symbol(metal).and_then(atomic_number),
            skin_g_cm3: alloy.density.value.as_g_per_cm3(),
            geometry,
            found,
            planned: None,
        }
    }

    /// Returns the skin in mm that leaves the given share of a core's most penetrating line.
    fn sees_through(&self, core: &Material, share: f64) -> f64 {
        let fallback = if self.metal == Metal::Silver { THROUGH_SILVER_MM } else { THROUGH_GOLD_MM };
        let (Some(element), Some(skin)) = (main_element(core), self.skin) else { return fallback };
        let parts = [(skin, 1.0)];
        let layer = Overlayer { parts: &parts, density_g_cm3: self.skin_g_cm3 };
        lines_of(element)
            .filter(|line| line.energy_kev < self.geometry.incident_kev)
            .filter_map(|line| hiding_thickness_um(layer, line.energy_kev, self.geometry, share))
            .reduce(f64::max)
            .map_or(fallback, |micrometres| micrometres / 1000.0)
    }

    /// Returns the share of an element found, with its uncertainty, in percent.
    fn percent_of(&self, element: &str) -> (f64, f64) {
        let mut found = self.found.iter().flatten();
        found.find(|found| found.symbol == element).map_or((0.0, UNSTATED_PERCENT), |f| (f.percent, f.u))
    }

    /// Tells whether a core under a skin gives itself away by its line.
    fn shows(&self, build: &Build<'_>, share: f64) -> bool {
        build.core.is_some_and(|core| {
            core.skin < OPAQUE_MM
                && main_element(build.material) != symbol(self.metal)
                && core.skin
                    <= match &self.planned {
                        Some(table) => table.xray_mm[build.index],
                        None => self.sees_through(build.material, share),
                    }
        })
    }
}

impl Predicts for Surface {
    fn range(&self, build: &Build<'_>) -> Option<Range> {
        let own = content(build.material, self.metal);
        // Through a skin it sees the declared alloy, and a core only as a line.
        build.core.is_none().then_some(Range { low: 100.0 * own.low, high: 100.0 * own.high })
    }

    fn declared(&self, _declared: &Build<'_>) -> Option<Range> {
        Some(self.declared)
    }

    fn sign(&self, build: &Build<'_>) -> bool {
        self.shows(build, NOTICED_SHARE)
    }

    fn sign_excludes(&self, build: &Build<'_>) -> bool {
        let Some(element) = main_element(build.material).filter(|_| build.core.is_some()) else {
            return false;
        };
        let (percent, u) = self.percent_of(element);
        // Not seen: less than its uncertainty would let through; then the core lies deeper than its line reaches.
        let not_seen = percent < EXCLUDES_AT * u;
        let noticed = (EXCLUDES_AT * u / 100.0).clamp(NOTICED_SHARE, 0.5);
        self.found.is_some() && not_seen && self.shows(build, noticed)
    }
}

/// Returns the lines of an element.
fn lines_of(element: &str) -> impl Iterator<Item = Line> {
    LINES.into_iter().filter(move |line| line.name.split(' ').next() == Some(element))
}

/// Returns the atomic number of an element that has lines.
fn atomic_number(element: &str) -> Option<u8> {
    lines_of(element).next().map(|line| line.atomic_number)
}

/// Returns the skin in mm through which an ordinary instrument still notices a core.
pub(crate) fn planned_reach(alloy: &Material, core: &Material) -> f64 {
    Surface::of(alloy, alloy.metal, None, None).sees_through(core, NOTICED_SHARE)
}

/// Plans a measurement.
pub(crate) fn plan(trial: &Trial<'_>) -> Plan {
    let table = trial.tables.plane_wave(trial.catalogue, trial.alloy);
    let surface =
        Surface { planned: Some(table), ..Surface::of(trial.alloy, trial.product.metal, None, None) };
    // What is declared to be of a fineness shows that fineness.
    let good = 100.0 * trial.product.fineness.nominal.value.as_share();
    Plan { u: UNSTATED_PERCENT, declared: surface.declared, predicts: Box::new(surface), good }
}

const SHARE: &str = "share by the instrument";

/// Judges a measurement that was made.
pub(crate) fn examine(trial: &Trial<'_>, test: &XRayTest) -> Examined {
    let list = test
        .composition
        .iter()
        .map(|content| format!("{} {}", content.element, Figure::MassShare(content.share.value).show(2)));
    let how = format!("surface: {}", list.collect::<Vec<_>>().join(", "));
    let Some(metal) = symbol(trial.product.metal).filter(|_| !test.composition.is_empty()) else {
        return Examined::unusable(
            Method::XRay,
            how,
            "no element of the declared alloy to compare".to_owned(),
        );
    };
    let found: Vec<Found> = test.composition.iter().map(found).collect();
    let foreign = foreign(&found, trial.product.metal);
    let surface = Surface::of(trial.alloy, trial.product.metal, test.take_off, Some(found));
    let (percent, u) = surface.percent_of(metal);
    let value = match Uncertain::new(percent, u, SHARE) {
        Ok(value) => value,
        Err(error) => return Examined::unusable(Method::XRay, how, error.to_string()),
    };
    let mut examined = Judged {
        method: Method::XRay,
        how,
        predicts: Box::new(surface),
        value,
        figure: Figure::mass_share,
        sources: &[(SHARE, "as stated, else 0.5 % of the mass (hand-held instrument, common practice)")],
    }
    .examined(trial);
    if !foreign.is_empty() {
        if examined.report.outcome == Outcome::Inside {
            examined.report.outcome = Outcome::Marginal;
            let list = foreign.iter().map(|(symbol, percent)| format!("{symbol} {percent:.2} %"));
            examined.report.reason = format!(
                "{}; {} has no place in an alloy of {}",
                examined.report.reason,
                list.collect::<Vec<_>>().join(", "),
                trial.product.metal
            );
        }
        examined.doubts.push(Doubt::new(
            DoubtKind::ThinPlate,
            Scope::Piece,
            Cause::Foreign { elements: foreign },
            vec![Offer::always(Method::Assay, Power::Settles, Rule::Laboratory)],
        ));
    }
    examined
}

/// Reads one line of a composition.
fn found(content: &Content) -> Found {
    let step = resolution(content.share.step.as_percent());
    let u = content.share.stated.map_or(UNSTATED_PERCENT.hypot(step), |u| u.as_percent().max(step));
    Found { symbol: content.element.symbol().to_owned(), percent: content.share.value.as_percent(), u }
}

/// Returns the elements that are there beyond doubt and have no place in a trade alloy of the metal, with their percent.
fn foreign(found: &[Found], metal: Metal) -> Vec<(String, f64)> {
    found
        .iter()
        .filter(|found| is_foreign(&found.symbol, metal) && found.percent >= EXCLUDES_AT * found.u)
        .map(|found| (found.symbol.clone(), found.percent))
        .collect()
}
