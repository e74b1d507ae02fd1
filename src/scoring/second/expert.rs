//! Examination by an expert: the only method that tells one strike from another.

use super::examine::Examined;
use crate::evidence::{ExpertTest, Finding};
use crate::scoring::assessment::{Outcome, Scope};
use crate::scoring::cause::{Cause, Rule};
use crate::scoring::doubt::{Doubt, DoubtKind, Method, Offer, Power};

/// Judges a finding.
pub(crate) fn examine(test: &ExpertTest) -> Examined {
    let how = format!("{}, document {}", test.who, test.document);
    let (outcome, reason) = match test.finding {
        Finding::Agrees => (Outcome::Inside, "agrees with what it is declared to be; excludes no metal"),
        Finding::Disagrees => (Outcome::Marginal, "does not agree with what it is declared to be"),
        Finding::CannotTell => (Outcome::NotCapable, "the expert cannot tell"),
    };
    let mut examined = Examined::without_number(Method::Expert, how.clone(), outcome, reason.to_owned());
    if test.finding == Finding::Disagrees {
        examined.doubts.push(Doubt::new(
            DoubtKind::CounterfeitStrike,
            Scope::Piece,
            Cause::ExpertDisagrees { how },
            vec![Offer::always(Method::Expert, Power::Narrows, Rule::SecondOpinion)],
        ));
    }
    examined
}
