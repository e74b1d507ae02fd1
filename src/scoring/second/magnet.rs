//! A strong magnet: it tells ferromagnetic from the rest and nothing else.

use super::examine::Examined;
use super::prediction::{Build, Look, Plan, Predicts, Range};
use crate::evidence::{MagnetTest, StrongMagnet};
use crate::reference::Magnetism;
use crate::scoring::assessment::Outcome;
use crate::scoring::doubt::Method;
use crate::scoring::doubts;

/// Attraction of any build.
struct Attraction {
    /// Whether a magnet was tried and did not attract.
    tried: bool,
}

impl Predicts for Attraction {
    fn range(&self, _build: &Build<'_>) -> Option<Range> {
        None
    }

    fn sign(&self, build: &Build<'_>) -> bool {
        build.material.magnetism.value == Magnetism::Ferromagnetic
    }

    fn sees_inserts(&self) -> bool {
        true
    }

    fn sign_excludes(&self, build: &Build<'_>) -> bool {
        self.tried && self.sign(build)
    }
}

/// Plans a trial with a magnet.
pub(crate) fn plan() -> Plan {
    Plan {
        predicts: Box::new(Attraction { tried: false }),
        u: 0.0,
        declared: Range { low: 0.0, high: 0.0 },
        good: 0.0,
    }
}

/// Judges a trial that was made.
pub(crate) fn examine(test: &MagnetTest) -> Examined {
    let (how, outcome, reason) = match test.response {
        StrongMagnet::Attracted => (
            "attracted",
            Outcome::Outside,
            "precious metals and their trade alloys are not attracted by a magnet",
        ),
        StrongMagnet::None => ("not attracted", Outcome::Inside, "nothing ferromagnetic is in it"),
        StrongMagnet::SlidSlow => (
            "not attracted, slid slowly",
            Outcome::Inside,
            "nothing ferromagnetic is in it; a slow slide only shows that it conducts well",
        ),
    };
    let mut examined = Examined::without_number(Method::Magnet, how.to_owned(), outcome, reason.to_owned());
    examined.look = Some(Look {
        predicts: Box::new(Attraction { tried: test.response != StrongMagnet::Attracted }),
        measured: None,
    });
    if test.response == StrongMagnet::Attracted {
        examined.doubts.push(doubts::attracted());
    }
    examined
}
