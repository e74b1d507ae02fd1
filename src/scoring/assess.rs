//! One piece assessed: readings, reference and policy in, assessment out; no clock, no files.

use super::assessment::{Assessment, Check, Construction, ENGINE_VERSION, Outcome, Scope, Standing};
use super::candidates::{self, Openings};
use super::cause::Remark;
use super::checks::{self, conductivity_check, dimension_checks, mass_check};
use super::conductivity::Verdict;
use super::density::density_of;
use super::doubt::{Doubt, Method};
use super::doubts::{self, Found};
use super::geometry::{Face, Geometry};
use super::grounds::Grounds;
use super::plan::{self, Open};
use super::policy::Policy;
use super::second::{self, EXCLUDES_AT, Examined, Look, SecondTestReport};
use super::standard::{Standard, Standards};
use super::survey::Survey;
use super::trial::Trial;
use super::type_book::{self, TypeBook};
use crate::evidence::{
    AssaySample, Finding, Instruments, MagnetResponse, PieceEvidence, SecondTest, Unproved,
};
use crate::metrology::conformity::joint_conformance;
use crate::physics::coverage;
use crate::physics::skin::PROVED_DEPTH_IN_SKIN_DEPTHS;
use crate::quantity::{Length, Money};
use crate::reference::{Catalogue, Kind, Product};

/// What a desk scores with.
#[derive(Debug, Clone, Copy)]
pub struct Rules<'a> {
    /// Materials and products.
    pub catalogue: &'a Catalogue,
    /// The instruments behind the readings.
    pub instruments: &'a Instruments,
    /// What the desk holds and what it lets pass.
    pub policy: &'a Policy,
    /// What pieces are compared with, made so far.
    pub standards: &'a Standards,
}

/// What a piece is declared to be.
#[derive(Debug, Clone, Copy)]
pub struct Declared<'a> {
    /// The product; it is of the catalogue in the rules.
    pub product: &'a Product,
    /// Price of one troy ounce of the fine metal, in the currency of the policy; `None` makes every survivor material.
    pub price: Option<Money>,
    /// Pieces of the lot it came in, at least 1.
    pub lot_size: u32,
    /// Who sent it; `None` when nobody says, and then the source raises no doubt.
    pub source: Option<&'a str>,
    /// What released pieces of the product taught; `None` where nothing is learned.
    pub type_book: Option<&'a TypeBook>,
}

/// Assesses a piece: checks, score, what it could still be, doubts, plan, standing.
///
/// Pure: the same arguments give the same assessment to the last digit. Missing and unusable readings hold the piece; they
/// never clear and never refuse it.
///
/// # Source
/// JCGM 106:2012 (conformance probability); the coil of [`crate::physics::coil`], the plane wave of
/// [`crate::physics::layered`] where no coil is stated.
pub fn assess(rules: &Rules<'_>, declared: &Declared<'_>, evidence: &PieceEvidence) -> Assessment {
    let Rules { catalogue, policy, .. } = *rules;
    let product = declared.product;
    let given = evidence;
    let grounds = Grounds::of(rules, declared, given);
    let evidence = &*grounds.evidence;
    let checks = checks(rules, declared, &grounds, given);
    let trial = grounds.trial(rules, declared);
    let standard = rules.standards.of(rules, declared, evidence);
    let mut examined: Vec<Examined> =
        evidence.second_tests.iter().map(|test| second::examine(&trial, test)).collect();
    let survey = Survey::of(&trial, &standard, &looks(&examined));
    for test in &mut examined {
        second::complete(&trial, &standard, test, &survey.before);
    }
    let looks = looks(&examined);
    let openings = Openings::of(&standard, &survey);
    let sampled =
        evidence.second_tests.iter().zip(&examined).any(|(test, found)| samples_the_inside(test, found));
    let asked = Asked::of(&trial, &standard, &looks, sampled);
    let open = Open { cells: &openings.cells, density: !asked.density, sound: !asked.sound };
    let plan = plan::make(&trial, &standard, &open, &tested(&standard, evidence, &examined));
    let unlisted = open.density || open.sound;

    let unproved = |check: &Check| given.unproved.iter().any(|reading| reading.measurand == check.measurand);
    let mut doubts: Vec<Doubt> =
        checks.iter().filter(|check| !unproved(check)).filter_map(doubts::of_check).collect();
    doubts.extend(doubts::unproved(&given.unproved));
    if evidence.presentation.magnet == Some(MagnetResponse::Attracted) {
        doubts.push(doubts::attracted());
    }
    doubts.extend(doubts::thin_plate(&trial, &standard, &checks, &survey));
    let found = Found { openings: &openings, plan: plan.as_ref(), unlisted };
    doubts.extend(doubts::of_openings(&trial, &standard, &found));
    let mut remarks = Vec::new();
    if grounds.price.is_none() {
        remarks.push(Remark::NoPrice);
    }
    remarks.extend(checks.iter().filter(|check| check.negligible).map(|check| Remark::Negligible {
        measurand: check.measurand,
        share: checks::most_off(check).unwrap_or_default(),
    }));
    if let Verdict::Usable(usable) = &grounds.reading {
        doubts.extend(usable.uneven.map(|(spread, limit)| doubts::uneven(spread, limit)));
        remarks.extend(usable.notes.iter().map(|note| Remark::Said { text: note.clone() }));
    }
    doubts.extend(fill_doubt(product, &grounds.geometry, policy));
    if let Some(premium) = policy.wants_an_expert(product, declared.source)
        && !an_expert_agrees(evidence)
    {
        doubts.push(doubts::strike(premium));
    }
    doubts.extend(examined.iter().flat_map(|test| test.doubts.iter().cloned()));
    doubts.sort_by_key(|doubt| doubt.scope == Scope::Lot);
    for doubt in &mut doubts {
        doubts::rank(&mut doubt.offers, policy);
    }
    remarks.extend(standing_remarks(&trial, evidence));

    let candidates = candidates::all(&trial, &standard, &survey, &openings, &looks);
    let second_tests: Vec<SecondTestReport> = examined.into_iter().map(|test| test.report).collect();
    let standing = standing(&checks, &second_tests, &doubts, evidence);
    let (score, score_rests_on) = score(&checks);
    let skin_depth = evidence.probe.as_ref().and_then(|probe| trial.skin_depth(probe));
    let mut assessment = Assessment {
        product: product.id.clone(),
        standing,
        score,
        score_rests_on,
        checks,
        candidates,
        doubts,
        plan,
        second_tests,
        remarks,
        skin_depth: skin_depth.map(Length::from_millimetres),
        proved_depth: skin_depth
            .filter(|_| trial.conductivity.is_some())
            .map(|depth| Length::from_millimetres(PROVED_DEPTH_IN_SKIN_DEPTHS * depth)),
        engine: ENGINE_VERSION,
        reference: catalogue.version().to_owned(),
        policy: policy.version().to_owned(),
        type_book: None,
    };
    if let Some(book) = declared.type_book {
        type_book::beside(&mut assessment, rules, product, evidence, book);
    }
    assessment
}

/// Returns the checks of a piece in the order in which a desk takes them.
fn checks(
    rules: &Rules<'_>,
    declared: &Declared<'_>,
    grounds: &Grounds<'_>,
    given: &PieceEvidence,
) -> Vec<Check> {
    let Rules { catalogue, instruments, policy, .. } = *rules;
    let (product, evidence) = (declared.product, &*grounds.evidence);
    let mut checks: Vec<Check> = mass_check(product, evidence, instruments, policy).into_iter().collect();
    checks.extend(dimension_checks(product, evidence, instruments, policy, &grounds.geometry, grounds.alloy));
    checks.push(conductivity_check(product, grounds.alloy, catalogue, policy, &grounds.reading));
    void_unproved(&mut checks, &given.unproved);
    checks
}

/// Returns the results that candidates are compared with, with their methods.
fn looks(examined: &[Examined]) -> Vec<(Method, &Look)> {
    examined.iter().filter_map(|test| Some((test.report.method, test.look.as_ref()?))).collect()
}

/// Returns the methods from which something followed; a spot that should have been a sweep is to be done again.
fn tested(standard: &Standard, evidence: &PieceEvidence, examined: &[Examined]) -> Vec<Method> {
    let inserts = standard.grid.entries.iter().any(|entry| entry.built == Construction::Insert);
    let usable = evidence.second_tests.iter().zip(examined).filter(|(test, examined)| {
        let spot = matches!(test, SecondTest::Ultrasound(test) if inserts && !test.swept);
        examined.look.is_some() && !spot
    });
    usable.map(|(_, examined)| examined.report.method).collect()
}

/// Which of the two independent quantities were asked of a piece: only they speak about mixtures that no list names.
struct Asked {
    density: bool,
    sound: bool,
}

impl Asked {
    fn of(trial: &Trial<'_>, standard: &Standard, looks: &[(Method, &Look)], sampled: bool) -> Self {
        if sampled || !standard.asks_two_quantities(trial) {
            return Asked { density: true, sound: true };
        }
        let by = |methods: &[Method]| {
            looks.iter().any(|(method, look)| methods.contains(method) && look.measured.is_some())
        };
        let by_size = standard.fill.as_ref().and_then(|fill| density_of(trial.geometry, fill)).is_some();
        Asked { density: by_size || by(&plan::DENSITY), sound: by(&plan::SOUND) }
    }
}

/// Tells whether a laboratory found the declared fineness in metal that came from the inside too: a mixture would be in it.
fn samples_the_inside(test: &SecondTest, found: &Examined) -> bool {
    matches!(test, SecondTest::Assay(assay) if assay.sample != AssaySample::Surface)
        && found.report.outcome == Outcome::Inside
}

/// Says of each check whose reading counts for nothing why it does.
fn void_unproved(checks: &mut [Check], unproved: &[Unproved]) {
    for reading in unproved {
        let found = checks
            .iter_mut()
            .find(|check| check.measurand == reading.measurand && check.outcome == Outcome::Missing);
        if let Some(check) = found {
            check.outcome = Outcome::NotUsable;
            check.reason.clone_from(&reading.reason);
        }
    }
}

/// Returns the doubt of a struck coin that fills its envelope as none does.
pub(super) fn fill_doubt(product: &Product, geometry: &Geometry, policy: &Policy) -> Option<Doubt> {
    if product.kind != Kind::Coin || !geometry.thickness_measured {
        return None;
    }
    let (flat, thickness) = (geometry.flat_equivalent?, geometry.thickness?);
    let fill = crate::physics::density::fill_factor(flat.value, thickness.value);
    let u = fill * (flat.u / flat.value).hypot(thickness.u / thickness.value);
    let outside = fill + EXCLUDES_AT * u < policy.fill_least || fill - EXCLUDES_AT * u > policy.fill_greatest;
    outside.then(|| doubts::fill(fill, policy.fill_least, policy.fill_greatest))
}

/// Returns the cautions that hold nothing but belong beside the score.
fn standing_remarks(trial: &Trial<'_>, evidence: &PieceEvidence) -> Vec<Remark> {
    let mut remarks = Vec::new();
    remarks.extend(
        trial
            .outside_model()
            .filter(|_| trial.conductivity.is_some())
            .map(|reason| Remark::OutsideModel { reason }),
    );
    if trial.product.kind == Kind::Coin {
        remarks.push(Remark::StrikeNotProved);
    }
    if let (Some(face @ Face::Rectangle { .. }), Some(coil)) =
        (trial.geometry.face, evidence.probe.as_ref().and_then(|probe| probe.coil))
        && !evidence.conductivity.is_empty()
    {
        let spots = u32::try_from(evidence.conductivity.len()).unwrap_or(u32::MAX);
        let footprint = coverage::footprint_radius_mm(coil.outer.as_millimetres());
        let full = coverage::spots_for_full_cover(face.area(), footprint);
        if full > spots {
            let share = coverage::share_covered(spots, face.area(), footprint);
            remarks.push(Remark::Cover { spots, full, share });
        }
    }
    remarks
}

/// Tells whether an expert agrees with the declaration and none disagrees.
fn an_expert_agrees(evidence: &PieceEvidence) -> bool {
    let findings = evidence.second_tests.iter().filter_map(|test| match test {
        SecondTest::Expert(test) => Some(test.finding),
        _ => None,
    });
    let (agrees, disagrees) = findings.fold((false, false), |(agrees, disagrees), finding| {
        (agrees || finding == Finding::Agrees, disagrees || finding == Finding::Disagrees)
    });
    agrees && !disagrees
}

/// Proposes a standing.
fn standing(
    checks: &[Check],
    second_tests: &[SecondTestReport],
    open: &[Doubt],
    evidence: &PieceEvidence,
) -> Standing {
    let refused = checks.iter().any(|check| check.outcome == Outcome::Outside && !check.negligible)
        || second_tests.iter().any(|test| test.outcome == Outcome::Outside)
        || evidence.presentation.magnet == Some(MagnetResponse::Attracted);
    let held = checks.iter().any(|check| check.outcome != Outcome::Inside && !check.negligible)
        || open.iter().any(|doubt| doubt.scope == Scope::Piece);
    if refused {
        Standing::Refuse
    } else if held {
        Standing::Hold
    } else {
        Standing::Clear
    }
}

/// Returns the score and the number of checks it rests on; a check without a probability counts as 0.
fn score(checks: &[Check]) -> (f64, usize) {
    let short: Vec<f64> = checks.iter().map(|check| check.shortfall.unwrap_or(1.0)).collect();
    let rests_on = checks.iter().filter(|check| check.probability.is_some()).count();
    (joint_conformance(&short), rests_on)
}
