//! Second tests: what a build would show to each method, and what follows when it was tried.
//!
//! What it is for: one prediction a method, used before the test (is it worth the time?) and after it (what does the
//! result exclude?). What it must never do: clear a piece; a result only takes candidates away or adds doubts.
//! Read next: [`prediction`], then one method, such as `immersion`.

mod assay;
mod content;
mod deeper;
mod examine;
mod expert;
mod immersion;
mod magnet;
mod prediction;
mod report;
mod ring;
mod ultrasound;
mod xray;

pub(super) use deeper::Deepest;
pub(super) use examine::{Examined, complete};
pub(super) use prediction::{Build, CoreShape, EXCLUDES_AT, Look, Plan, Range, distance, excludes};
pub use report::{Excluded, Figure, FigureLine, NotToldApart, SecondTestReport};
pub(super) use xray::planned_reach as planned_xray_reach;

use super::doubt::Method;
use super::trial::Trial;
use crate::evidence::SecondTest;

/// The methods whose power is computed before they are used.
pub(super) const PLANNED: [Method; 6] =
    [Method::Magnet, Method::Conductivity, Method::Ring, Method::Ultrasound, Method::Immersion, Method::XRay];

/// Plans one of the [`PLANNED`] methods on a piece; the reason when it cannot be used on it at all.
pub(super) fn plan(trial: &Trial<'_>, method: Method) -> Result<Plan, String> {
    match method {
        Method::Magnet => Ok(magnet::plan()),
        Method::Conductivity => deeper::plan(trial),
        Method::Ring => ring::plan(trial),
        Method::Ultrasound => ultrasound::plan(trial),
        Method::Immersion => immersion::plan(trial),
        Method::XRay => Ok(xray::plan(trial)),
        _ => Err("it is not planned by numbers".to_owned()),
    }
}

/// Makes a figure of what a planned method shows, in its unit; `None` for a method that shows a sign and no number.
pub(super) fn figure_of(method: Method) -> Option<fn(f64) -> Figure> {
    match method {
        Method::Conductivity => Some(Figure::conductivity),
        Method::Ring => Some(Figure::frequency),
        Method::Ultrasound => Some(Figure::velocity),
        Method::Immersion => Some(Figure::density),
        Method::XRay => Some(Figure::mass_share),
        _ => None,
    }
}

/// Judges a second test that was made.
pub(super) fn examine(trial: &Trial<'_>, test: &SecondTest) -> Examined {
    match test {
        SecondTest::Immersion(test) => immersion::examine(trial, test),
        SecondTest::Ultrasound(test) => ultrasound::examine(trial, test),
        SecondTest::Ring(test) => ring::examine(trial, test),
        SecondTest::XRay(test) => xray::examine(trial, test),
        SecondTest::Magnet(test) => magnet::examine(test),
        SecondTest::Assay(test) => assay::examine(trial, test),
        SecondTest::Expert(test) => expert::examine(test),
        SecondTest::Conductivity(test) => deeper::examine(trial, test),
    }
}
