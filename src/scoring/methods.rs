//! What each second method could do about a group of suspects on this very piece, in words with the number why.

use super::doubt::{Method, Offer, Power};
use super::policy::Policy;
use super::power::{Powers, Seen, Sight};
use super::second::{PLANNED, words};
use super::suspects::Suspect;
use super::trial::Trial;
use crate::physics::layered::hiding_depths;
use crate::physics::skin::frequency_for_depth_hz;
use crate::quantity::{Conductivity, Frequency, Length, Quantity};

/// Returns the offers of all methods for a group of suspects that survive.
pub(super) fn offers(trial: &Trial<'_>, powers: &Powers, group: &[Seen<'_, '_>]) -> Vec<Offer> {
    let suspects: Vec<&Suspect<'_>> = group.iter().map(|seen| seen.suspect).collect();
    let mut offers: Vec<Offer> = PLANNED
        .into_iter()
        .zip(&powers.plans)
        .enumerate()
        .map(|(place, (method, plan))| match plan {
            Err(reason) => Offer::new(method, Power::Cannot, reason.clone()),
            Ok(plan) => {
                let words = words(trial, method, plan, &suspects);
                offer(method, place, group, &words.settles, words.cannot)
            }
        })
        .collect();
    offers.push(Offer::new(
        Method::Assay,
        Power::Settles,
        "an accredited laboratory melts or drills a sample through the middle; it destroys a part",
    ));
    offers
}

/// Turns what a method sees of each suspect into an offer.
fn offer(method: Method, place: usize, group: &[Seen<'_, '_>], settles: &str, cannot: String) -> Offer {
    let count = |sight: Sight| group.iter().filter(|seen| seen.sights[place] == sight).count();
    let (seen, partly) = (count(Sight::All), count(Sight::Some));
    if seen + partly == 0 {
        return Offer::new(method, Power::Cannot, cannot);
    }
    let missed: Vec<&str> = group
        .iter()
        .filter(|seen| seen.sights[place] != Sight::All)
        .map(|seen| seen.suspect.candidate.material.as_str())
        .collect();
    if missed.is_empty() {
        return Offer::new(method, Power::Settles, settles);
    }
    let shown = missed.iter().take(3).copied().collect::<Vec<_>>().join(", ");
    let list = match missed.len() {
        0..=3 => shown,
        more => format!("{shown} and {} more", more - 3),
    };
    Offer::new(
        method,
        Power::Narrows,
        if seen + partly == group.len() {
            format!("{settles}; small cores of {list} stay possible")
        } else {
            format!("{settles}; leaves {list}")
        },
    )
}

/// Fills in what each method takes and puts those that settle first, cheap before dear, what destroys last.
pub(super) fn rank(offers: &mut [Offer], policy: &Policy) {
    for offer in offers.iter_mut() {
        offer.cost = Some(policy.methods.cost(offer.method));
    }
    offers.sort_by_key(|offer| {
        let power = match offer.power {
            Power::Settles => 0,
            Power::Narrows => 1,
            Power::Cannot => 2,
        };
        (power, policy.methods.rank(offer.method))
    });
}

/// Returns the frequency below which a probe tells a core from its skin under a given thickness, in hertz.
///
/// Skin and core in MS/m, skin thickness in mm; `window` is the relative deviation that must show. Smaller thicknesses show
/// at higher frequencies: f = f1·(d1/d)² with the first hiding depth of [`hiding_depths`].
pub fn exposing_frequency(
    skin: Conductivity,
    core: Conductivity,
    thickness: Length,
    window: f64,
) -> Option<Frequency> {
    let first = hiding_depths(skin.as_ms_per_m(), core.as_ms_per_m(), window).first_hidden;
    let depth = thickness.as_millimetres() / first;
    (first > 0.0 && thickness.base() > 0)
        .then(|| Frequency::from_hertz(frequency_for_depth_hz(skin.as_ms_per_m(), depth)))
}
