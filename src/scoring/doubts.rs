//! From checks and suspects to doubts: what is open, and what would settle it.

use super::assessment::{Check, Construction, Outcome, Scope};
use super::doubt::{Doubt, DoubtKind, Method, Offer, Power};
use super::methods::offers;
use super::power::{Powers, Seen, groups};
use super::suspects::Suspect;
use super::trial::Trial;
use crate::evidence::{Measurand, Unproved};
use crate::quantity::Money;

/// Skins, in mm, that a reading outside its window makes look like plating.
pub(super) const PLATE_UP_TO_MM: f64 = 0.25;

/// Returns the doubt that a check raises; `None` when it is inside.
pub(super) fn of_check(check: &Check) -> Option<Doubt> {
    if check.outcome == Outcome::Inside {
        return None;
    }
    let repeat = repeat(check.measurand);
    let kind = match (check.measurand, check.outcome) {
        (Measurand::Conductivity, Outcome::NotCapable | Outcome::NotUsable) => DoubtKind::UnprovedInstrument,
        (Measurand::Conductivity, _) => DoubtKind::WrongAlloy,
        _ => DoubtKind::WeightOrSize,
    };
    let again = |why: &str| Offer::new(repeat, Power::Settles, why);
    let mut list = match check.outcome {
        Outcome::Missing => vec![again("take the reading")],
        Outcome::NotUsable => vec![again(&check.reason)],
        Outcome::NotCapable => vec![again("with an instrument of smaller uncertainty")],
        Outcome::Marginal => {
            vec![again("with an instrument of smaller uncertainty, or the mean of more readings")]
        }
        _ => vec![Offer::new(repeat, Power::Narrows, "only rules out a slip of the first reading")],
    };
    if kind == DoubtKind::WrongAlloy {
        list.push(Offer::new(
            Method::XRay,
            Power::Settles,
            "names the alloy of the surface; trained operator",
        ));
        list.push(Offer::new(Method::Assay, Power::Settles, "accredited laboratory; destroys a part"));
    }
    Some(Doubt::new(
        kind,
        Scope::Piece,
        format!("{} {}: {}", check.measurand, outcome_words(check.outcome), check.reason),
        list,
    ))
}

/// Returns the doubts of readings behind which no proved instrument stands, one for each reason.
pub(super) fn unproved(readings: &[Unproved]) -> Vec<Doubt> {
    let mut reasons: Vec<&str> = Vec::new();
    for reading in readings {
        if !reasons.contains(&reading.reason.as_str()) {
            reasons.push(&reading.reason);
        }
    }
    let about = |reason: &str| {
        let of = readings.iter().filter(|reading| reading.reason == reason).map(|reading| reading.measurand);
        of.collect::<Vec<Measurand>>()
    };
    let doubt = |reason: &str| {
        let of = about(reason);
        let names = of.iter().map(|measurand| measurand.name()).collect::<Vec<_>>().join(", ");
        let mut offers: Vec<Offer> = Vec::new();
        for measurand in of {
            let method = repeat(measurand);
            if offers.iter().all(|offer| offer.method != method) {
                let why = "a control that passes, then take the reading again";
                offers.push(Offer::new(method, Power::Settles, why));
            }
        }
        Doubt::new(DoubtKind::UnprovedInstrument, Scope::Piece, format!("{names} unproved: {reason}"), offers)
    };
    reasons.into_iter().map(doubt).collect()
}

/// Returns the method that takes a reading again.
fn repeat(measurand: Measurand) -> Method {
    match measurand {
        Measurand::Mass => Method::Reweigh,
        Measurand::Conductivity => Method::Conductivity,
        _ => Method::Remeasure,
    }
}

fn outcome_words(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Inside => "inside",
        Outcome::Marginal => "marginal",
        Outcome::Outside => "outside",
        Outcome::NotCapable => "undecidable",
        Outcome::NotUsable => "not usable",
        Outcome::Missing => "missing",
    }
}

/// Returns the doubts that surviving candidates raise, grouped by whom they concern and what would settle them.
pub(super) fn of_suspects(trial: &Trial<'_>, suspects: &[Suspect<'_>]) -> Vec<Doubt> {
    if suspects.iter().all(|suspect| suspect.candidate.material_doubt.is_none()) {
        return Vec::new();
    }
    let powers = Powers::of(trial);
    let mut doubts = Vec::new();
    for scope in [Scope::Piece, Scope::Lot] {
        for construction in [Construction::Solid, Construction::Core] {
            let open: Vec<Seen<'_, '_>> = suspects
                .iter()
                .filter(|s| {
                    s.candidate.material_doubt == Some(scope) && s.candidate.construction == construction
                })
                .map(|suspect| powers.see(trial, suspect))
                .collect();
            doubts.extend(groups(open, trial.policy).into_iter().map(|group| Doubt {
                kind: match construction {
                    Construction::Solid => DoubtKind::WrongAlloy,
                    Construction::Core => DoubtKind::HiddenCore,
                },
                scope,
                text: group_text(trial, construction, scope, &group),
                about: group.iter().map(|seen| seen.suspect.candidate.material.clone()).collect(),
                offers: offers(trial, &powers, &group),
            }));
        }
    }
    doubts
}

/// Says in words what a group of suspects could be.
fn group_text(trial: &Trial<'_>, construction: Construction, scope: Scope, group: &[Seen<'_, '_>]) -> String {
    let group: Vec<&Suspect<'_>> = group.iter().map(|seen| seen.suspect).collect();
    let names = group.iter().take(4).map(|s| &*s.candidate.name).collect::<Vec<_>>().join("; ");
    let more = if group.len() > 4 { format!("; and {} more", group.len() - 4) } else { String::new() };
    let worst = group.iter().filter_map(|s| s.candidate.displaced).max_by(|a, b| a.amount.cmp(&b.amount));
    let money = worst.map_or(String::new(), |money| match scope {
        Scope::Piece => format!(", {money} of this piece"),
        Scope::Lot => {
            let count = rust_decimal::Decimal::from(trial.lot_size);
            let all = Money { amount: (money.amount * count).round_dp(2), ..money };
            format!(", {money} of each piece, {all} of the lot")
        }
    });
    match construction {
        Construction::Solid => format!("could be solid {names}{more}{money}"),
        Construction::Core => {
            let thinnest = group
                .iter()
                .filter_map(|s| s.candidate.skins.first())
                .map(|(from, _)| from.as_millimetres())
                .fold(f64::INFINITY, f64::min);
            let share = group.iter().filter_map(|s| s.candidate.hidden_share).fold(0.0, f64::max);
            // The scan starts at a micrometre: below half a hundredth no skin is too thin.
            let skin = if thinnest < 0.005 {
                "any skin".to_owned()
            } else {
                format!("{thinnest:.2} mm of skin or more")
            };
            format!(
                "a core could hide under {skin}, up to {:.0} % of the volume{money}: {names}{more}",
                100.0 * share
            )
        }
    }
}

/// Returns the doubt that a conductivity outside its window looks like plating, when some core under a thin skin fits it.
pub(super) fn thin_plate(checks: &[Check], suspects: &[Suspect<'_>]) -> Option<Doubt> {
    let outside = checks
        .iter()
        .any(|check| check.measurand == Measurand::Conductivity && check.outcome == Outcome::Outside);
    let fits: Vec<(&str, f64, f64)> = suspects
        .iter()
        .filter(|s| s.candidate.construction == Construction::Core && !s.candidate.outside_model)
        .filter_map(|s| {
            let (from, to) = s.candidate.skins.first()?;
            (from.as_millimetres() < PLATE_UP_TO_MM)
                .then(|| (&*s.candidate.name, from.as_millimetres(), to.as_millimetres()))
        })
        .collect();
    if !outside || fits.is_empty() {
        return None;
    }
    let list = fits
        .iter()
        .take(3)
        .map(|(name, from, to)| format!("{name} under {from:.3} to {to:.3} mm"))
        .collect::<Vec<_>>()
        .join("; ");
    let offers = vec![
        Offer::new(
            Method::XRay,
            Power::Settles,
            "sees the core's lines through a thin plate; trained operator",
        ),
        Offer::new(Method::Assay, Power::Settles, "accredited laboratory; destroys a part"),
    ];
    Some(Doubt::new(
        DoubtKind::ThinPlate,
        Scope::Piece,
        format!("reads like a thin skin of the declared alloy over {list}"),
        offers,
    ))
}

/// Returns the doubt that spots differ more than the meter repeats.
pub(super) fn uneven(spread: f64, limit: f64) -> Doubt {
    Doubt::new(
        DoubtKind::Uneven,
        Scope::Piece,
        format!("spots differ by {spread:.2} MS/m, the meter repeats within {limit:.2} MS/m"),
        vec![
            Offer::new(Method::Conductivity, Power::Settles, "more spots on both faces and both ends"),
            Offer::new(Method::Ultrasound, Power::Settles, "a sweep over the whole face finds inserts"),
        ],
    )
}

/// Returns the doubt that the body fills its envelope as no struck coin does.
pub(super) fn fill(fill: f64, least: f64, greatest: f64) -> Doubt {
    Doubt::new(
        DoubtKind::WeightOrSize,
        Scope::Piece,
        format!(
            "flat metal of this mass is {:.0} % of the thickness over the rim; struck coins have {:.0} to {:.0} %",
            100.0 * fill,
            100.0 * least,
            100.0 * greatest
        ),
        vec![Offer::new(Method::Remeasure, Power::Settles, "measure thickness and diameter again")],
    )
}

/// Returns the doubt of a strike that matters for a reason.
pub(super) fn strike(why: &str) -> Doubt {
    Doubt::new(
        DoubtKind::CounterfeitStrike,
        Scope::Piece,
        format!("{why}, and a correct metal does not prove a correct strike"),
        vec![Offer::new(
            Method::Expert,
            Power::Settles,
            "only an expert examination tells one strike from another",
        )],
    )
}

/// Returns the doubt of a piece that a magnet attracted.
pub(super) fn attracted() -> Doubt {
    Doubt::new(
        DoubtKind::WrongAlloy,
        Scope::Piece,
        "attracted by a magnet: precious metals and their trade alloys are not",
        vec![Offer::new(Method::Assay, Power::Settles, "accredited laboratory; destroys a part")],
    )
}
