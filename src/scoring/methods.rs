//! What each second method could do about a group of suspects on this very piece, with the number why.
//!
//! A method settles when it tells every suspect of the group, at every skin that still matters, from the declared alloy;
//! it narrows when it does so for some of them. The results themselves are the business of a later floor; nothing here
//! clears anything.

use super::assessment::{Construction, Method, Offer, Power};
use super::conductivity::frequency_words;
use super::suspects::{EXCLUDES_AT, Suspect, Trial};
use crate::physics::density::density_of_clad;
use crate::physics::immersion::{self, Setup, predicted_budget, uncertainty_to_tell_apart};
use crate::physics::layered::hiding_depths;
use crate::physics::skin::{frequency_for_depth_hz, skin_depth_mm};
use crate::physics::ultrasound::{acoustic_impedance_mrayl, pressure_reflection, velocity_ratio_of_clad};
use crate::quantity::Quantity;
use crate::reference::{Magnetism, Metal, Shape};

/// Thinnest flat field on which an ultrasound echo is separate from its pulse, in mm (common practice).
const ULTRASOUND_FROM_MM: f64 = 1.5;
/// Relative standard uncertainty of a gauge's velocity setting (common practice).
const GAUGE_SHARE: f64 = 0.005;
/// Standard uncertainty of a calliper thickness, in mm.
const CALLIPER_MM: f64 = 0.012;
/// Sound pressure reflected by an interface that a gauge still shows (common practice).
const ECHO_FROM: f64 = 0.05;
/// Skin below which an interface echo drowns in the pulse, in mm: one wavelength in gold at 10 MHz.
const ECHO_SKIN_MM: f64 = 0.32;
/// Tolerance of the ring test against a calculated frequency, as a share.
const RING_TOLERANCE: f64 = 0.07;
/// Skins below which X-ray fluorescence sees the core's lines, in mm: gold 8 µm, silver 13 µm (surface methods).
const XRAY_THROUGH_GOLD_MM: f64 = 0.008;
const XRAY_THROUGH_SILVER_MM: f64 = 0.013;
/// Thickness in skin depths that a conductivity reading needs.
const THICKNESS_IN_SKIN_DEPTHS: f64 = 2.6;
/// Deviation that a lower frequency must show: 3.29 × 1 % and the model's 5 %.
const LOWER_FREQUENCY_WINDOW: f64 = 0.083;
/// Digit of the scale that an immersion weighing is planned with, in grams.
const IMMERSION_DIGIT_G: f64 = 0.01;
/// Share of either material that may fall on the wrong side of the threshold.
const IMMERSION_ERROR: f64 = 0.001;

/// What a method makes of one suspect.
enum Sight {
    /// Told apart at every skin that matters.
    All,
    /// Told apart at some skins.
    Some,
    /// Not told apart.
    None,
}

/// Returns the offers of all methods for a group of suspects that survive, best first.
pub(super) fn offers(trial: &Trial<'_>, group: &[&Suspect<'_>]) -> Vec<Offer> {
    let mut offers = vec![
        magnet(group),
        lower_frequency(trial, group),
        ring(trial, group),
        ultrasound(trial, group),
        immersion_weighing(trial, group),
        xray(trial, group),
        Offer {
            method: Method::Assay,
            power: Power::Settles,
            why: "an accredited laboratory melts or drills a sample through the middle; it destroys a part"
                .to_owned(),
        },
    ];
    sort(&mut offers);
    offers
}

/// Puts the methods that settle first, cheap before dear.
pub(super) fn sort(offers: &mut [Offer]) {
    let cost = |method: Method| Method::ALL.iter().position(|m| *m == method);
    offers.sort_by_key(|offer| {
        (
            match offer.power {
                Power::Settles => 0,
                Power::Narrows => 1,
                Power::Cannot => 2,
            },
            cost(offer.method),
        )
    });
}

/// Divides suspects into as few groups as possible such that one method settles the whole of a group; those that only an
/// assay settles come last.
///
/// Greedy: the method that settles most of what is left takes it, the cheaper one at a tie.
pub(super) fn groups<'s, 'a>(trial: &Trial<'_>, suspects: Vec<&'s Suspect<'a>>) -> Vec<Vec<&'s Suspect<'a>>> {
    let settling = |suspect: &Suspect<'_>| -> Vec<Method> {
        let settles = |offer: &Offer| offer.power == Power::Settles && offer.method != Method::Assay;
        offers(trial, &[suspect]).iter().filter(|offer| settles(offer)).map(|offer| offer.method).collect()
    };
    let mut left: Vec<(usize, &Suspect<'_>, Vec<Method>)> =
        suspects.into_iter().enumerate().map(|(rank, suspect)| (rank, suspect, settling(suspect))).collect();
    let mut groups: Vec<Vec<(usize, &Suspect<'_>)>> = Vec::new();
    while !left.is_empty() {
        let count = |method: &Method| left.iter().filter(|(_, _, methods)| methods.contains(method)).count();
        // `max_by_key` keeps the last of equals, so the dearest come first.
        let best = Method::ALL.into_iter().rev().max_by_key(count).filter(|method| count(method) > 0);
        let (group, rest): (Vec<_>, Vec<_>) =
            left.into_iter().partition(|(_, _, methods)| best.is_none_or(|best| methods.contains(&best)));
        groups.push(group.into_iter().map(|(rank, suspect, _)| (rank, suspect)).collect());
        left = rest;
    }
    // The group with the likeliest suspect comes first.
    groups.sort_by_key(|group| group.first().map(|(rank, _)| *rank));
    groups.into_iter().map(|group| group.into_iter().map(|(_, suspect)| suspect).collect()).collect()
}

/// Turns what a method sees of each suspect into an offer.
fn offer(
    method: Method,
    group: &[&Suspect<'_>],
    sight: impl Fn(&Suspect<'_>) -> Sight,
    settles: impl Fn() -> String,
    cannot: &str,
) -> Offer {
    let mut seen = 0;
    let mut partly = 0;
    let mut missed: Vec<&str> = Vec::new();
    for suspect in group {
        match sight(suspect) {
            Sight::All => seen += 1,
            Sight::Some => {
                partly += 1;
                missed.push(suspect.candidate.material.as_str());
            }
            Sight::None => missed.push(suspect.candidate.material.as_str()),
        }
    }
    let list = |names: &[&str]| {
        let shown = names.iter().take(3).copied().collect::<Vec<_>>().join(", ");
        if names.len() > 3 { format!("{shown} and {} more", names.len() - 3) } else { shown }
    };
    if missed.is_empty() && !group.is_empty() {
        Offer { method, power: Power::Settles, why: settles() }
    } else if seen + partly > 0 {
        let why = if partly > 0 && seen + partly == group.len() {
            format!("{}; small cores of {} stay possible", settles(), list(&missed))
        } else {
            format!("{}; leaves {}", settles(), list(&missed))
        };
        Offer { method, power: Power::Narrows, why }
    } else {
        Offer { method, power: Power::Cannot, why: cannot.to_owned() }
    }
}

/// Judges a suspect by a test at each skin that matters; a solid is judged once, with no skin.
fn at_each_skin(suspect: &Suspect<'_>, told_apart: impl Fn(Option<f64>) -> bool) -> Sight {
    if suspect.candidate.construction == Construction::Solid {
        return if told_apart(None) { Sight::All } else { Sight::None };
    }
    let points = suspect
        .material_skins
        .iter()
        .flat_map(|(from, to)| (0..=8).map(move |i| from + (to - from) * f64::from(i) / 8.0));
    let (mut yes, mut no) = (0, 0);
    for skin in points {
        if told_apart(Some(skin)) { yes += 1 } else { no += 1 }
    }
    match (yes, no) {
        (0, _) => Sight::None,
        (_, 0) => Sight::All,
        _ => Sight::Some,
    }
}

fn magnet(group: &[&Suspect<'_>]) -> Offer {
    let sight = |suspect: &Suspect<'_>| match suspect.material.magnetism.value {
        Magnetism::Ferromagnetic => Sight::All,
        _ => Sight::None,
    };
    offer(
        Method::Magnet,
        group,
        sight,
        || "a strong magnet attracts a ferromagnetic core".to_owned(),
        "none of what it could be is ferromagnetic",
    )
}

fn lower_frequency(trial: &Trial<'_>, group: &[&Suspect<'_>]) -> Offer {
    let is_solid = |suspect: &&Suspect<'_>| suspect.candidate.construction == Construction::Solid;
    if let (Some((_, u)), Some(compared)) = (trial.conductivity, trial.u_when_compared)
        && group.iter().all(is_solid)
    {
        let sight = |suspect: &Suspect<'_>| match trial.comparison_excludes(suspect.material) {
            true => Sight::All,
            false => Sight::None,
        };
        let comparison = format!(
            "compare the meter with a reference piece of this alloy: u {u:.2} becomes {compared:.2} MS/m"
        );
        return offer(
            Method::Conductivity,
            group,
            sight,
            || comparison.clone(),
            "the meter reads these solids alike",
        );
    }
    let cannot = |why: String| Offer { method: Method::Conductivity, power: Power::Cannot, why };
    let Some(thickness) = trial.geometry.outline().metal_thickness else {
        return cannot("the thickness is not known".to_owned());
    };
    let sigma = trial.alloy.conductivity.value.as_ms_per_m();
    let lowest = frequency_for_depth_hz(sigma, thickness / THICKNESS_IN_SKIN_DEPTHS);
    if let Some(current) = trial.evidence.probe.as_ref().and_then(|probe| probe.frequency)
        && trial.conductivity.is_some()
        && current.as_hertz() <= 1.2 * lowest
    {
        return cannot(format!(
            "{thickness:.1} mm of this alloy can be read down to {}: the reading at {} is as deep as it gets",
            frequency_words(lowest),
            frequency_words(current.as_hertz())
        ));
    }
    let depth = skin_depth_mm(sigma, lowest, 1.0);
    let shown_to = |suspect: &Suspect<'_>| {
        let core = suspect.material.conductivity.value.as_ms_per_m();
        depth * hiding_depths(sigma, core, LOWER_FREQUENCY_WINDOW).first_hidden
    };
    let sight = |suspect: &Suspect<'_>| match suspect.candidate.construction {
        Construction::Solid => Sight::None,
        Construction::Core => at_each_skin(suspect, |skin| skin.is_some_and(|skin| skin < shown_to(suspect))),
    };
    let example = group.iter().find(|suspect| suspect.candidate.construction == Construction::Core);
    let shown = example.map_or(String::new(), |suspect| {
        format!("shows {} down to about {:.2} mm of skin", suspect.candidate.material, shown_to(suspect))
    });
    offer(
        Method::Conductivity,
        group,
        sight,
        || format!("a deeper probe, down to {}, {shown}", frequency_words(lowest)),
        if example.is_some() {
            "no probe as deep as this thickness allows shows them"
        } else {
            "another frequency reads these solids alike"
        },
    )
}

fn ring(trial: &Trial<'_>, group: &[&Suspect<'_>]) -> Offer {
    let cannot = |why: &str| Offer { method: Method::Ring, power: Power::Cannot, why: why.to_owned() };
    if trial.product.shape != Shape::Round {
        return cannot("the ring test needs a round, free piece");
    }
    if trial.evidence.presentation.sleeve.is_some() {
        return cannot("a piece in a sleeve does not ring");
    }
    let Some(thickness) = trial.geometry.whole_thickness() else {
        return cannot("the thickness is not known");
    };
    let own = trial.alloy;
    let ratio = |suspect: &Suspect<'_>, skin: Option<f64>, modulus: f64| {
        let linear = skin.map_or(1.0, |skin| (1.0 - 2.0 * skin / thickness).max(0.0));
        let share = skin.map_or(1.0, |skin| trial.geometry.core_share(thickness, skin));
        let stiffness =
            own.youngs_modulus.value.as_gigapascals() * (1.0 - linear.powi(3)) + modulus * linear.powi(3);
        let density = density_of_clad(
            own.density.value.as_g_per_cm3(),
            suspect.material.density.value.as_g_per_cm3(),
            share,
        );
        ((stiffness / own.youngs_modulus.value.as_gigapascals())
            * (own.density.value.as_g_per_cm3() / density))
            .sqrt()
    };
    let sight = |suspect: &Suspect<'_>| {
        let modulus = &suspect.material.youngs_modulus;
        at_each_skin(suspect, |skin| {
            let low = ratio(suspect, skin, modulus.low.as_gigapascals());
            let high = ratio(suspect, skin, modulus.high.as_gigapascals());
            low > 1.0 + RING_TOLERANCE || high < 1.0 - RING_TOLERANCE
        })
    };
    let shown = group.first().map_or(String::new(), |suspect| {
        let skin = suspect.material_skins.first().map(|(from, _)| *from);
        let ratio = ratio(suspect, skin, suspect.material.youngs_modulus.value.as_gigapascals());
        format!("{} rings {:+.0} % off, tolerance ±7 %", suspect.candidate.material, 100.0 * (ratio - 1.0))
    });
    offer(Method::Ring, group, sight, || shown.clone(), "they ring within ±7 % of the declared alloy")
}

fn ultrasound(trial: &Trial<'_>, group: &[&Suspect<'_>]) -> Offer {
    let cannot = |why: String| Offer { method: Method::Ultrasound, power: Power::Cannot, why };
    let Some(thickness) = trial.geometry.whole_thickness() else {
        return cannot("the thickness is not known".to_owned());
    };
    if thickness < ULTRASOUND_FROM_MM {
        return cannot(format!("{thickness:.2} mm is too thin, it needs {ULTRASOUND_FROM_MM} mm"));
    }
    let own = &trial.alloy.sound_velocity;
    let (low, value, high) = (own.low.as_m_per_s(), own.value.as_m_per_s(), own.high.as_m_per_s());
    let noise = EXCLUDES_AT * GAUGE_SHARE.hypot(CALLIPER_MM / thickness);
    let impedance = acoustic_impedance_mrayl(trial.alloy.density.value.as_g_per_cm3(), value);
    let echo = |suspect: &Suspect<'_>| {
        let velocity = suspect.material.sound_velocity.value.as_m_per_s();
        let own = acoustic_impedance_mrayl(suspect.material.density.value.as_g_per_cm3(), velocity);
        pressure_reflection(impedance, own).abs()
    };
    let sight = |suspect: &Suspect<'_>| {
        let core = &suspect.material.sound_velocity;
        at_each_skin(suspect, |skin| {
            let fraction = skin.map_or(1.0, |skin| (1.0 - 2.0 * skin / thickness).max(0.0));
            let fastest = value * velocity_ratio_of_clad(value, core.high.as_m_per_s(), fraction);
            let slowest = value * velocity_ratio_of_clad(value, core.low.as_m_per_s(), fraction);
            let by_velocity = slowest > high * (1.0 + noise) || fastest < low * (1.0 - noise);
            let by_echo = skin.is_some_and(|skin| skin >= ECHO_SKIN_MM) && echo(suspect) >= ECHO_FROM;
            by_velocity || by_echo
        })
    };
    let shown = group.first().map_or(String::new(), |suspect| {
        format!(
            "sound runs at {:.0} m/s in {} and {value:.0} m/s in the declared alloy; {:.0} % of the pressure comes back from the \
             interface",
            suspect.material.sound_velocity.value.as_m_per_s(),
            suspect.candidate.material,
            100.0 * echo(suspect)
        )
    });
    offer(
        Method::Ultrasound,
        group,
        sight,
        || shown.clone(),
        "sound runs through them as through the declared alloy",
    )
}

fn immersion_weighing(trial: &Trial<'_>, group: &[&Suspect<'_>]) -> Offer {
    let cannot = |why: String| Offer { method: Method::Immersion, power: Power::Cannot, why };
    let Some(mass) = trial.piece_mass() else { return cannot("the mass is not known".to_owned()) };
    let own = &trial.alloy.density;
    let setup = Setup::water_at_room_temperature(IMMERSION_DIGIT_G);
    let Ok(budget) = predicted_budget(immersion::Method::BeakerOnPan, own.value.as_g_per_cm3(), mass, &setup)
    else {
        return cannot("a piece of this mass cannot be weighed in water".to_owned());
    };
    let expanded = budget.expanded(2.0);
    let gap = |suspect: &Suspect<'_>, skin: Option<f64>| {
        let share = skin.map_or(1.0, |skin| {
            trial
                .geometry
                .whole_thickness()
                .map_or(1.0, |thickness| trial.geometry.core_share(thickness, skin))
        });
        let other = &suspect.material.density;
        let mixed = |core: f64| density_of_clad(own.value.as_g_per_cm3(), core, share);
        let (low, high) = (mixed(other.low.as_g_per_cm3()), mixed(other.high.as_g_per_cm3()));
        (low - own.high.as_g_per_cm3()).max(own.low.as_g_per_cm3() - high).max(0.0)
    };
    let needed = |gap: f64| 2.0 * uncertainty_to_tell_apart(0.0, gap, IMMERSION_ERROR);
    let sight = |suspect: &Suspect<'_>| at_each_skin(suspect, |skin| expanded <= needed(gap(suspect, skin)));
    let widest = group
        .iter()
        .map(|suspect| gap(suspect, suspect.material_skins.first().map(|(from, _)| *from)))
        .fold(f64::INFINITY, f64::min);
    let numbers = format!(
        "U {expanded:.3} g/cm³ (k = 2) on a 0.01 g scale, least gap {widest:.2} g/cm³ needs U {:.3}",
        needed(widest)
    );
    offer(Method::Immersion, group, sight, || numbers.clone(), &numbers)
}

fn xray(trial: &Trial<'_>, group: &[&Suspect<'_>]) -> Offer {
    let through = match trial.product.metal {
        Metal::Silver => XRAY_THROUGH_SILVER_MM,
        _ => XRAY_THROUGH_GOLD_MM,
    };
    let sight = |suspect: &Suspect<'_>| match suspect.candidate.construction {
        Construction::Solid => Sight::All,
        Construction::Core => at_each_skin(suspect, |skin| skin.is_some_and(|skin| skin <= through)),
    };
    offer(
        Method::XRay,
        group,
        sight,
        || {
            format!(
                "surface only: sees through {:.0} µm of the declared alloy; trained operator",
                1000.0 * through
            )
        },
        &format!("surface only: every skin that matters is thicker than {:.0} µm", 1000.0 * through),
    )
}

/// Returns the frequency below which a probe tells a core from its skin under a given thickness, in hertz.
///
/// Skin and core in MS/m, skin thickness in mm; `window` is the relative deviation that must show. Smaller thicknesses show
/// at higher frequencies: f = f1·(d1/d)² with the first hiding depth of [`hiding_depths`].
pub fn exposing_frequency(
    skin: crate::quantity::Conductivity,
    core: crate::quantity::Conductivity,
    thickness: crate::quantity::Length,
    window: f64,
) -> Option<crate::quantity::Frequency> {
    let first = hiding_depths(skin.as_ms_per_m(), core.as_ms_per_m(), window).first_hidden;
    let depth = thickness.as_millimetres() / first;
    (first > 0.0 && thickness.base() > 0)
        .then(|| crate::quantity::Frequency::from_hertz(frequency_for_depth_hz(skin.as_ms_per_m(), depth)))
}
