//! Decisions of people told as acts: what was decided of many pieces at once is told once.

use super::words::{minute, short_number};
use crate::desk::DecisionView;
use chrono::FixedOffset;

/// Returns decisions as the acts that they were, in the order given.
pub fn acts(decisions: &[DecisionView], desk: FixedOffset) -> impl Iterator<Item = &[DecisionView]> {
    decisions.chunk_by(move |one, next| is_same_act(one, next, desk))
}

/// Names the pieces of an act, `S-0012/3-01 -02 -03 (3 pieces)`.
pub fn about(act: &[DecisionView]) -> String {
    let mut about = act.first().map_or_else(String::new, |decision| decision.about.clone());
    for other in act.iter().skip(1) {
        about.push(' ');
        about.push_str(short_number(&other.about));
    }
    if act.len() > 1 {
        about.push_str(&format!(" ({} pieces)", act.len()));
    }
    about
}

/// Tells whether two decisions are one act on pieces of one lot: a release, an ending, or a lot settled on its sample.
fn is_same_act(one: &DecisionView, next: &DecisionView, desk: FixedOffset) -> bool {
    let lot = |about: &str| about.rsplit_once('-').map(|(lot, _)| lot.to_owned());
    one.evidence == next.evidence
        && one.about != next.about
        && one.about.contains('/')
        && lot(&one.about) == lot(&next.about)
        && one.what == next.what
        && one.reason == next.reason
        && one.operator == next.operator
        && minute(one.at, desk) == minute(next.at, desk)
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::{DateTime, Utc};

    fn decision(about: &str, what: &str, minute: i64) -> DecisionView {
        DecisionView {
            about: about.to_owned(),
            what: what.to_owned(),
            reason: "no doubt is open".to_owned(),
            evidence: None,
            hold: None,
            operator: "MIRA".to_owned(),
            at: DateTime::<Utc>::from_timestamp(60 * minute, 0).unwrap(),
        }
    }

    #[test]
    fn pieces_of_one_lot_and_minute_are_one_act() {
        let made = [
            decision("S-0001/2-01", "released", 1),
            decision("S-0001/2-02", "released", 1),
            decision("S-0001/3-01", "released", 1),
            decision("S-0001/3-02", "sent back", 1),
            decision("S-0001/3-03", "sent back", 2),
        ];
        let utc = FixedOffset::east_opt(0).unwrap();
        let told: Vec<String> = acts(&made, utc).map(about).collect();
        assert_eq!(told, ["S-0001/2-01 -02 (2 pieces)", "S-0001/3-01", "S-0001/3-02", "S-0001/3-03"]);
    }
}
