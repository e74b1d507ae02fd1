//! What each second method can do about each suspect of this piece: cheap, and without words.
//!
//! A method settles when it tells every suspect of a group, at every skin that still matters, from the declared alloy; it
//! narrows when it does so for some of them. Nothing here clears anything.

use super::assessment::Construction;
use super::doubt::Method;
use super::policy::Policy;
use super::second::{Build, PLANNED, Plan, plan};
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
        let builds = builds(trial, suspect);
        for (sight, plan) in sights.iter_mut().zip(&self.plans) {
            if let Ok(plan) = plan {
                *sight = at_each_skin(&builds, plan);
            }
        }
        Seen { suspect, sights }
    }
}

/// Returns a suspect under each skin at which it is judged; a solid once, with no skin.
fn builds<'a>(trial: &Trial<'a>, suspect: &Suspect<'a>) -> Vec<Build<'a>> {
    if suspect.candidate.construction == Construction::Solid {
        return trial.build(suspect, None).into_iter().collect();
    }
    let samples = suspect.material_skins.iter().flat_map(|(from, to)| {
        (0..SAMPLES).map(move |sample| from + (to - from) * f64::from(sample) / f64::from(SAMPLES - 1))
    });
    samples.filter_map(|skin| trial.build(suspect, Some(skin))).collect()
}

/// Judges a suspect at each skin that matters.
fn at_each_skin(builds: &[Build<'_>], plan: &Plan) -> Sight {
    // The builds of a suspect are in the order of their skins.
    let ends = [builds.first(), builds.last()];
    if plan.predicts.fades_with_skin() {
        return sight(ends.into_iter().flatten().map(|build| plan.tells_apart(build)));
    }
    sight(builds.iter().map(|build| plan.tells_apart(build)))
}

/// Sums up whether a suspect is told apart under each skin.
fn sight(mut told: impl Iterator<Item = bool>) -> Sight {
    match told.next() {
        None => Sight::None,
        Some(first) if told.all(|next| next == first) => {
            if first {
                Sight::All
            } else {
                Sight::None
            }
        }
        Some(_) => Sight::Some,
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
