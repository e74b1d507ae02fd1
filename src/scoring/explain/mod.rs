//! Where each number and word of an assessment comes from: the formula, the numbers put in, the sources, in plain words.
//!
//! What it is for: one [`Explanation`] for each thing on the page about a piece, by the very functions that scored it. What it
//! must never do: judge anew, or hold a formula of its own. Read next: [`Thing`], then one kind, such as `checks`.

mod candidates;
mod checks;
mod doubts;
mod limits;

use super::assess::{Declared, Rules};
use super::assessment::{Assessment, Construction};
use super::cause::Cause;
use super::doubt::{Method, Offer};
use super::grounds::Grounds;
use super::second::{self, Examined, Look};
use super::standard::Standard;
use super::trial::Trial;
use crate::evidence::{Measurand, PieceEvidence};
use crate::reference::{Catalogue, Mark, MaterialId, SourceId, Sourced};

/// Something on the page about a piece that can be explained.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Thing {
    /// An open doubt of the record, by its place from 0.
    Hold(usize),
    /// A doubt that the assessment raises, by its place from 0.
    Doubt(usize),
    /// What a check may lie between.
    Limits(Measurand),
    /// The uncertainty of a check's value.
    Uncertainty(Measurand),
    /// The conformance probability of a check, and what it comes to.
    Conformance(Measurand),
    /// The share of the tolerance that a value uses.
    Tolerance(Measurand),
    /// The score.
    Score,
    /// The depth for which the conductivity reading vouches.
    Depth,
    /// A candidate, surviving or excluded.
    Candidate(MaterialId, Construction),
    /// The price that money is reckoned with.
    Price,
}

impl Thing {
    /// Returns the word by which it is asked for, such as `mass-limits` or `doubt-1`.
    pub fn word(&self) -> String {
        match self {
            Thing::Hold(place) => format!("hold-{}", place + 1),
            Thing::Doubt(place) => format!("doubt-{}", place + 1),
            Thing::Limits(measurand) => format!("{measurand}-limits"),
            Thing::Uncertainty(measurand) => format!("{measurand}-uncertainty"),
            Thing::Conformance(measurand) => format!("{measurand}-probability"),
            Thing::Tolerance(measurand) => format!("{measurand}-tolerance"),
            Thing::Score => "score".to_owned(),
            Thing::Depth => "depth".to_owned(),
            Thing::Candidate(material, Construction::Solid) => format!("solid-{material}"),
            Thing::Candidate(material, Construction::Core) => format!("core-{material}"),
            Thing::Candidate(material, Construction::Insert) => format!("insert-{material}"),
            Thing::Price => "price".to_owned(),
        }
    }
}

/// How a figure is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Known {
    /// As the reference says.
    Reference(Mark),
    /// Measured on this piece.
    Measured,
    /// Of the instrument: its register, certificate or data sheet.
    Instrument,
    /// Set by the policy.
    Policy,
    /// Said or entered by a person.
    Person,
    /// Kept in the book.
    Book,
}

/// Where a figure comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// The figure and its source.
    pub text: String,
    /// How it is known.
    pub known: Known,
}

impl Source {
    /// Makes a source.
    pub fn new(text: impl Into<String>, known: Known) -> Self {
        Source { text: text.into(), known }
    }
}

/// One step of an explanation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// What is reckoned, in words.
    pub words: String,
    /// The formula in symbols; empty where words are all there is.
    pub formula: String,
    /// The same with the numbers put in; empty likewise.
    pub numbers: String,
}

impl Step {
    /// Makes a step.
    pub fn new(words: impl Into<String>, formula: impl Into<String>, numbers: impl Into<String>) -> Self {
        Step { words: words.into(), formula: formula.into(), numbers: numbers.into() }
    }

    /// Makes a step that is said in words alone.
    pub fn said(words: impl Into<String>) -> Self {
        Step::new(words, "", "")
    }
}

/// Where one thing comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct Explanation {
    /// The thing.
    pub thing: Thing,
    /// What it is, in a line.
    pub title: String,
    /// How it is reckoned, step by step.
    pub steps: Vec<Step>,
    /// What comes out; empty where [`Explanation::cause`] says it.
    pub result: String,
    /// The cause of a doubt, and its methods: whoever shows it puts them into words.
    pub cause: Option<(Cause, Vec<Offer>)>,
    /// Where the figures come from.
    pub sources: Vec<Source>,
    /// What would change it.
    pub changes: Vec<String>,
}

/// Explains everything in an assessment: doubts first, then each check, the score, the depth, and the candidates in their order.
///
/// `assessment` is what [`super::assess()`] gives for the same rules, declaration and readings, or what was kept of it: of an
/// assessment kept without its excluded candidates only the others are explained.
pub fn explain(
    rules: &Rules<'_>,
    declared: &Declared<'_>,
    evidence: &PieceEvidence,
    assessment: &Assessment,
) -> Vec<Explanation> {
    let grounds = Grounds::of(rules, declared, evidence);
    let trial = grounds.trial(rules, declared);
    let examined: Vec<Examined> =
        trial.evidence.second_tests.iter().map(|test| second::examine(&trial, test)).collect();
    let looks = examined.iter().filter_map(|test| Some((test.report.method, test.look.as_ref()?))).collect();
    let standard = rules.standards.of(rules, declared, trial.evidence);
    let case =
        Case { rules, declared, grounds: &grounds, trial: &trial, standard: &standard, looks, assessment };
    let mut all = doubts::all(&case);
    for check in &assessment.checks {
        all.push(limits::of(&case, check));
        all.extend(checks::uncertainty(check));
        all.extend(checks::conformance(&case, check));
        all.extend(checks::tolerance(check));
    }
    all.push(checks::score(assessment));
    all.extend(checks::depth(&case));
    all.extend(candidates::price(&case));
    all.extend(candidates::all(&case));
    all
}

/// Everything that an explanation is made from.
struct Case<'a> {
    rules: &'a Rules<'a>,
    declared: &'a Declared<'a>,
    grounds: &'a Grounds<'a>,
    trial: &'a Trial<'a>,
    standard: &'a Standard,
    looks: Vec<(Method, &'a Look)>,
    assessment: &'a Assessment,
}

impl Case<'_> {
    fn catalogue(&self) -> &Catalogue {
        self.rules.catalogue
    }

    /// Returns a figure of the reference with its sources.
    fn cited(&self, figure: &str, mark: Mark, sources: &[SourceId]) -> Source {
        let named = |id: &SourceId| {
            self.catalogue().source(id.as_str()).map_or_else(|| id.to_string(), |source| source.text.clone())
        };
        let names: Vec<String> = sources.iter().map(named).collect();
        Source::new(format!("{figure}: {}", names.join("; ")), Known::Reference(mark))
    }

    /// Returns a figure of the reference with its sources, worded by its value.
    fn sourced<T>(&self, figure: &str, value: &Sourced<T>) -> Source {
        self.cited(figure, value.mark, &value.sources)
    }

    /// Returns the policy in force as a source.
    fn policy(&self, figure: &str) -> Source {
        Source::new(format!("{figure}: policy {}", self.rules.policy.version()), Known::Policy)
    }
}

/// Prints a number in a formula: four significant digits, and never an exponent where a person would write none.
fn figure(value: f64) -> String {
    let size = value.abs();
    if !value.is_finite() {
        return if value > 0.0 { "∞".to_owned() } else { "−∞".to_owned() };
    }
    let decimals = match size {
        0.0 => 0,
        _ if size >= 1000.0 => 0,
        _ if size >= 1e-6 => (3 - size.log10().floor() as i32).clamp(0, 9) as usize,
        _ => return format!("{value:.1e}"),
    };
    format!("{value:.decimals$}").replace('-', "−")
}
