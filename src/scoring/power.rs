//! What each second method can do about each suspect of this piece: cheap, and without words.
//!
//! A method settles when it tells every suspect of a group, at every skin that still matters, from the declared alloy; it
//! narrows when it does so for some of them. Nothing here clears anything.

use super::assessment::Construction;
use super::doubt::Method;
use super::policy::Policy;
use super::second::{PLANNED, Plan, plan};
use super::suspects::Suspect;
use super::trial::Trial;

/// Skins of an interval at which a method is tried, the ends included.
const SAMPLES: u32 = 9;

/// What a method makes of one suspect.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sight {
    /// Told apart at every skin that matters.
    All,
    /// Told apart at some skins.
    Some,
    /// Not told apart.
    None,
}

/// A suspect with what every planned method makes of it, in the order of [`PLANNED`].
#[derive(Clone, Copy)]
pub(super) struct Seen<'s, 'a> {
    pub(super) suspect: &'s Suspect<'a>,
    pub(super) sights: [Sight; PLANNED.len()],
}

/// The planned methods on one piece, each with the reason why it cannot be used at all.
pub(super) struct Powers {
    pub(super) plans: [Result<Plan, String>; PLANNED.len()],
}

impl Powers {
    /// Plans every method on a piece.
    pub(super) fn of(trial: &Trial<'_>) -> Self {
        Powers { plans: PLANNED.map(|method| plan(trial, method)) }
    }

    /// Tries every method on a suspect.
    pub(super) fn see<'s, 'a>(&self, trial: &Trial<'a>, suspect: &'s Suspect<'a>) -> Seen<'s, 'a> {
        let mut sights = [Sight::None; PLANNED.len()];
        for (sight, plan) in sights.iter_mut().zip(&self.plans) {
            if let Ok(plan) = plan {
                *sight = at_each_skin(trial, suspect, plan);
            }
        }
        Seen { suspect, sights }
    }
}

/// Judges a suspect at each skin that matters; a solid is judged once, with no skin.
fn at_each_skin(trial: &Trial<'_>, suspect: &Suspect<'_>, plan: &Plan) -> Sight {
    let told_apart =
        |skin: Option<f64>| trial.build(suspect, skin).is_some_and(|build| plan.tells_apart(&build));
    if suspect.candidate.construction == Construction::Solid {
        return if told_apart(None) { Sight::All } else { Sight::None };
    }
    let (mut yes, mut no) = (0, 0);
    for (from, to) in &suspect.material_skins {
        for sample in 0..SAMPLES {
            let skin = from + (to - from) * f64::from(sample) / f64::from(SAMPLES - 1);
            if told_apart(Some(skin)) { yes += 1 } else { no += 1 }
        }
    }
    match (yes, no) {
        (0, _) => Sight::None,
        (_, 0) => Sight::All,
        _ => Sight::Some,
    }
}

/// Divides suspects into as few groups as possible such that one method settles the whole of a group; those that only an
/// assay settles come last.
///
/// Greedy: the method that settles most of what is left takes it, the cheaper one at a tie.
///
/// `suspects`: the likeliest first; so are the groups and the suspects in each.
pub(super) fn groups<'s, 'a>(suspects: Vec<Seen<'s, 'a>>, policy: &Policy) -> Vec<Vec<Seen<'s, 'a>>> {
    let mut by_cost: Vec<(usize, Method)> = PLANNED.into_iter().enumerate().collect();
    by_cost.sort_by_key(|(_, method)| policy.methods.rank(*method));
    let mut left: Vec<(usize, Seen<'s, 'a>)> = suspects.into_iter().enumerate().collect();
    let mut groups: Vec<Vec<(usize, Seen<'s, 'a>)>> = Vec::new();
    while !left.is_empty() {
        let count = |method: usize| left.iter().filter(|(_, seen)| seen.sights[method] == Sight::All).count();
        // `max_by_key` keeps the last of equals, so the dearest come first.
        let best = by_cost
            .iter()
            .rev()
            .map(|(method, _)| *method)
            .max_by_key(|method| count(*method))
            .filter(|method| count(*method) > 0);
        let (group, rest): (Vec<_>, Vec<_>) =
            left.into_iter().partition(|(_, seen)| best.is_none_or(|best| seen.sights[best] == Sight::All));
        groups.push(group);
        left = rest;
    }
    groups.sort_by_key(|group| group.first().map(|(rank, _)| *rank));
    groups.into_iter().map(|group| group.into_iter().map(|(_, seen)| seen).collect()).collect()
}
