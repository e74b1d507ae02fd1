//! Fire assay or ICP by a laboratory: the fineness of what was taken from the piece.

use super::content::content;
use super::examine::{Examined, Judged};
use super::prediction::{Build, Predicts, Range};
use super::report::Figure;
use crate::evidence::{AssaySample, AssayTest};
use crate::metrology::Uncertain;
use crate::metrology::evaluation::resolution;
use crate::quantity::Density;
use crate::reference::{Metal, Ranged};
use crate::scoring::doubt::Method;
use crate::scoring::trial::Trial;

/// Standard uncertainty of a laboratory's fineness that states none, in ‰ (assumed).
const UNSTATED_PER_MILLE: f64 = 0.5;

/// Fineness of what was taken from any build, in ‰.
struct Taken {
    metal: Metal,
    sample: AssaySample,
    /// What the specification of the product allows.
    declared: Range,
    density: Ranged<Density>,
}

impl Predicts for Taken {
    fn range(&self, build: &Build<'_>) -> Option<Range> {
        let own = content(build.material, self.metal);
        let core_volume = match (build.core, self.sample) {
            (None, _) => return Some(Range { low: 1000.0 * own.low, high: 1000.0 * own.high }),
            // Scrapings of the skin say nothing about a core.
            (Some(_), AssaySample::Surface) => return None,
            (Some(core), AssaySample::ThroughMiddle) => core.linear,
            (Some(core), AssaySample::Melt) => core.share,
        };
        // The core's share of the sample's mass, at either end of the densities.
        let mass_share =
            |core: f64, skin: f64| core_volume * core / (core_volume * core + (1.0 - core_volume) * skin);
        let (core, skin) = (&build.material.density, &self.density);
        let least = mass_share(core.low.as_g_per_cm3(), skin.high.as_g_per_cm3());
        let most = mass_share(core.high.as_g_per_cm3(), skin.low.as_g_per_cm3());
        let mixed = |skin: f64, core: f64, share: f64| skin * (1.0 - share) + 1000.0 * core * share;
        let ends = [
            mixed(self.declared.low, own.low, least),
            mixed(self.declared.low, own.low, most),
            mixed(self.declared.high, own.high, least),
            mixed(self.declared.high, own.high, most),
        ];
        Some(Range {
            low: ends.iter().copied().fold(f64::INFINITY, f64::min),
            high: ends.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        })
    }

    fn declared(&self, _declared: &Build<'_>) -> Option<Range> {
        Some(self.declared)
    }
}

const RESULT: &str = "result of the laboratory";

/// Judges a result.
pub(crate) fn examine(trial: &Trial<'_>, test: &AssayTest) -> Examined {
    let sample = match test.sample {
        AssaySample::Surface => "scrapings of the surface",
        AssaySample::ThroughMiddle => "drillings through the middle",
        AssaySample::Melt => "the whole piece melted",
    };
    let how = format!(
        "{} on {sample}: {}, document {}",
        test.laboratory,
        Figure::Fineness(test.fineness.value).show(1),
        test.document
    );
    let step = resolution(test.fineness.step.as_per_mille());
    let u = test.fineness.stated.map_or(UNSTATED_PER_MILLE.hypot(step), |u| u.as_per_mille().max(step));
    let value = match Uncertain::new(test.fineness.value.as_per_mille(), u, RESULT) {
        Ok(value) => value,
        Err(error) => return Examined::unusable(Method::Assay, how, error.to_string()),
    };
    let specified = &trial.product.fineness;
    let minus = specified.minus.as_ref().map_or(0.0, |minus| minus.value.as_per_mille());
    // Fineness is a minimum: only a lower one speaks against the piece.
    let declared = Range { low: specified.nominal.value.as_per_mille() - minus, high: 1000.0 };
    Judged {
        method: Method::Assay,
        how,
        predicts: Box::new(Taken {
            metal: trial.product.metal,
            sample: test.sample,
            declared,
            density: trial.alloy.density.clone(),
        }),
        value,
        figure: Figure::fineness,
        sources: &[(RESULT, "as stated by the laboratory, else 0.5 ‰ assumed")],
    }
    .examined(trial)
}
