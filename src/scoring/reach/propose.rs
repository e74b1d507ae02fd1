//! Which probe to take: the one that can be used, decides the window and sees deepest.

use super::Reach;
use crate::quantity::Length;

/// The probe to take, with reasons.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// Place of the probe among those compared; `None` when none can be used.
    pub best: Option<usize>,
    /// Why, or why none.
    pub why: String,
}

/// Chooses among probes that were asked about one product.
///
/// Readings that cannot be used or cannot decide the window are worth nothing. Of the rest the deepest sight wins; at the same
/// depth a probe without cautions, then the one that covers the face with fewer spots. `reaches`: any order, may be empty.
pub fn propose(reaches: &[Reach]) -> Proposal {
    let depth = |reach: &Reach| reach.proved_depth.unwrap_or(Length::from_millimetres(0.0));
    let best = (0..reaches.len()).filter(|place| reaches[*place].is_capable()).max_by(|a, b| {
        let (a, b) = (&reaches[*a], &reaches[*b]);
        let spots = |reach: &Reach| std::cmp::Reverse(reach.spots.unwrap_or(u32::MAX));
        let calm = |reach: &Reach| std::cmp::Reverse(cautions(reach));
        depth(a).cmp(&depth(b)).then(calm(a).cmp(&calm(b))).then(spots(a).cmp(&spots(b)))
    });
    let Some(best) = best else {
        let why = match reaches.iter().find_map(|reach| reach.not_usable.clone()) {
            Some(reason) => format!("no probe of the desk can be used: {reason}"),
            None => "no probe of the desk can decide this window".to_owned(),
        };
        return Proposal { best: None, why };
    };
    let chosen = &reaches[best];
    let mm = depth(chosen).as_millimetres();
    let others = reaches.iter().enumerate().filter(|(place, _)| *place != best).map(|(_, reach)| reach);
    let mut same = false;
    let mut deeper = Vec::new();
    for other in others {
        if other.is_capable() && depth(other) == depth(chosen) {
            same = true;
        }
        let would_be = other.skin_depth > chosen.skin_depth;
        if would_be && !other.is_capable() {
            let reason =
                other.not_usable.clone().unwrap_or_else(|| "its window is too narrow for u".to_owned());
            deeper.push(format!("{} would see deeper and cannot be used: {reason}", other.probe.name));
        }
    }
    let mut why = format!("vouches for {mm:.2} mm, the deepest of the probes that can be used here");
    if same {
        let spots = chosen.spots.map_or(String::new(), |spots| format!(", {spots} spots for a face"));
        why =
            format!("vouches for {mm:.2} mm as others do, with the least caution and the widest spot{spots}");
    }
    for reason in deeper {
        why.push_str("; ");
        why.push_str(&reason);
    }
    Proposal { best: Some(best), why }
}

/// Counts the gates whose caution zone a probe is in.
fn cautions(reach: &Reach) -> usize {
    let thin = reach.thickness_ratio.is_some_and(|ratio| ratio < super::conductivity::THICKNESS_FREE);
    let small = reach.radius_ratio.is_some_and(|ratio| ratio < super::conductivity::RADIUS_FREE);
    usize::from(thin) + usize::from(small)
}
