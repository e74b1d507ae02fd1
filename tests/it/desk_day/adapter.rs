//! The one place where this test touches what scoring offers: rules, probe, assessment, what to do next, sample sizes.

use super::products::Spec;
use scruple::evidence::{Instruments, Measurand, PieceEvidence, Probe};
use scruple::present::causes::{because_text, cause_text};
use scruple::quantity::{Currency, Frequency, Length, Money};
use scruple::reference::Catalogue;
use scruple::scoring::{
    Assessment, Candidate, Cause, Declared, Doubt, Method, Outcome, Policy, Power, Rules, Scope,
    SecondTestReport, Standards, Standing, assess, propose, reach,
};

/// Pieces of a lot.
pub const LOT: u32 = 20;

/// What the desk scores with: the shipped policy and instruments, the meter compared with a piece of the same alloy.
pub struct House {
    instruments: Instruments,
    policy: Policy,
    standards: Standards,
}

/// One method to carry out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    pub method: Method,
    pub swept: bool,
    pub frequency: Option<Frequency>,
}

impl House {
    pub fn new() -> Self {
        let mut instruments = Instruments::built_in();
        instruments.meter.compared_with_same_alloy = true;
        House { instruments, policy: Policy::built_in(), standards: Standards::default() }
    }

    fn rules(&self) -> Rules<'_> {
        let House { instruments, policy, standards } = self;
        Rules { catalogue: Catalogue::embedded(), instruments, policy, standards }
    }

    fn declared(spec: &Spec) -> Declared<'static> {
        let euro = Currency::parse("EUR").unwrap();
        Declared {
            product: spec.product(),
            price: Some(Money::parse(spec.price, euro).unwrap()),
            lot_size: LOT,
            source: None,
            type_book: None,
        }
    }

    /// Returns the shipped probe that is proposed for a product.
    pub fn probe(&self, spec: &Spec) -> &Probe {
        let (rules, declared) = (self.rules(), Self::declared(spec));
        let asked = |probe| reach(&rules, &declared, probe, &spec.size(), None).unwrap();
        let all: Vec<_> = self.instruments.probes.iter().map(asked).collect();
        let proposal = propose(&all);
        &self.instruments.probes[proposal.best.unwrap_or_else(|| panic!("{}: {}", spec.id, proposal.why))]
    }

    /// Assesses a piece.
    pub fn assess(&self, spec: &Spec, evidence: &PieceEvidence) -> Assessment {
        assess(&self.rules(), &Self::declared(spec), evidence)
    }
}

/// How a piece stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stands {
    Clear,
    Waits,
    Held,
    Refused,
}

pub fn stands(assessment: &Assessment) -> Stands {
    match assessment.standing {
        Standing::Refuse => Stands::Refused,
        Standing::Hold => Stands::Held,
        Standing::Clear if assessment.waits_with_its_lot() => Stands::Waits,
        Standing::Clear => Stands::Clear,
    }
}

/// Returns the first method of the plan.
pub fn next(assessment: &Assessment) -> Option<Step> {
    let step = assessment.plan.as_ref()?.steps.first()?;
    Some(Step { method: step.method, swept: step.swept, frequency: step.frequency })
}

/// Returns the readings that doubts ask to take again: marginal ones, and those that could not decide.
pub fn again(assessment: &Assessment) -> Vec<Measurand> {
    let asked = |doubt: &Doubt| match &doubt.cause {
        Cause::Check { measurand, outcome: Outcome::Marginal | Outcome::NotCapable, .. } => Some(*measurand),
        _ => None,
    };
    assessment.doubts.iter().filter_map(asked).collect()
}

/// Says in the program's words what its plan leaves, or why it can do nothing; `None` where the plan settles all that is open.
pub fn beforehand(assessment: &Assessment) -> Option<String> {
    let plan = assessment.plan.as_ref().filter(|plan| !plan.settles() || plan.steps.is_empty())?;
    let left: Vec<String> = plan
        .remainder
        .iter()
        .take(3)
        .map(|left| format!("{} ({:?})", left.name, left.construction))
        .collect();
    let sum = plan.at_risk.map_or(String::new(), |money| format!(", up to {money}"));
    let mut why: Vec<String> = assessment
        .doubts
        .iter()
        .filter(|doubt| doubt.scope == Scope::Lot || !doubt.about.is_empty())
        .flat_map(|doubt| &doubt.offers)
        .filter(|offer| offer.power == Power::Cannot && offer.method != Method::Magnet)
        .map(|offer| format!("{}: {}", offer.method.label(), because_text(&offer.because)))
        .collect();
    why.sort();
    why.dedup();
    Some(format!("leaves {} of {}{sum}; {}", left.join(", "), plan.remainder.len(), why.join("; ")))
}

/// Returns the first reason in words; empty where there is none.
pub fn first_words(assessment: &Assessment) -> String {
    assessment.doubts.first().map_or(String::new(), |doubt| cause_text(&doubt.cause))
}

/// Returns every open reason in short: scope, what was read or asked, and what is left.
pub fn reasons(assessment: &Assessment) -> Vec<String> {
    let short = |doubt: &Doubt| {
        let names: Vec<&str> = doubt.about.iter().take(4).map(|id| id.as_str()).collect();
        format!("{:?} {} {}", doubt.scope, doubt.cause.key(), names.join(","))
    };
    assessment.doubts.iter().map(short).collect()
}

/// Returns what is watched for and left, cell by cell: material, build, skins in mm, greatest share and value.
pub fn left(assessment: &Assessment) -> String {
    let (watched, _) = assessment.watched_and_not();
    let one = |candidate: &&Candidate| {
        let mm = |length: &Length| length.as_millimetres();
        let skins: Vec<String> =
            candidate.skins.iter().map(|(from, to)| format!("{:.3}-{:.3}", mm(from), mm(to))).collect();
        format!(
            "{} {:?} skins {} share {:.2} {}",
            candidate.material.as_str(),
            candidate.construction,
            skins.join(","),
            candidate.hidden_share.unwrap_or_default(),
            candidate.displaced.map_or(String::new(), |money| money.to_string()),
        )
    };
    watched.iter().map(one).collect::<Vec<_>>().join("; ")
}

/// Returns the most that one of some materials could displace in a piece although it is not watched for.
pub fn unwatched(assessment: &Assessment, materials: &[&str]) -> Option<Money> {
    let (_, not_watched) = assessment.watched_and_not();
    let of = |candidate: &&Candidate| materials.contains(&candidate.material.as_str());
    let sums = not_watched.into_iter().filter(of).filter_map(|candidate| candidate.displaced);
    sums.max_by_key(|money| money.amount)
}

/// Returns what the second tests came to, with their numbers.
pub fn tested(assessment: &Assessment) -> String {
    let one = |test: &SecondTestReport| format!("{}: {}", test.method.word(), test.reason);
    assessment.second_tests.iter().map(one).collect::<Vec<_>>().join("; ")
}

/// Tells whether the first reason shown names one of some materials among its first three, or a reading among some.
pub fn first_is(assessment: &Assessment, materials: &[&str], readings: &[Measurand]) -> bool {
    let Some(first) = assessment.doubts.first() else { return false };
    let named = || first.about.iter().take(3).any(|id| materials.contains(&id.as_str()));
    let by_name = |name: &str| {
        materials
            .iter()
            .any(|id| Catalogue::embedded().material(id).is_some_and(|material| *material.name == *name))
    };
    match &first.cause {
        Cause::Check { measurand, .. } => readings.contains(measurand),
        Cause::Fill { .. } => readings.contains(&Measurand::Thickness),
        Cause::ThinPlate { under } => under.iter().any(|(name, ..)| by_name(name)),
        Cause::Possible { unlisted: true, .. } if materials.is_empty() => true,
        Cause::Attracted => true,
        _ => named(),
    }
}

/// Returns how many of a lot's pieces a sample takes from a new, a known and a trusted source.
pub fn samples() -> [u32; 3] {
    Policy::built_in().sampling.samples_of(LOT)
}
