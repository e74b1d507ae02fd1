//! What a set of instruments would do to a product: whether it can decide its windows at all, and how many good pieces it would
//! hold.
//!
//! Two numbers must not be mixed. *Held by own readings*: something about this piece's readings asks for an act on this piece, so
//! an instrument that is up to the job holds few of them. *Shared doubt*: the probe cannot see deeper and says so of every piece
//! alike; it is settled on a sample of the lot, and a better scale or meter does not change it.

use super::assess::{Declared, Rules, assess};
use super::assessment::{Assessment, Check, Construction, Outcome, Scope, Standing};
use super::cause::Cause;
use super::doubt::{Doubt, DoubtKind};
use super::exemplar::{Exemplar, ExemplarError, PieceSize};
use super::reach::{SolidReach, reach};
use super::simulated::GoodPieces;
use super::type_book::{Taught, TypeBook, TypeBookEntry, entries};
use crate::evidence::{Amount, Measurand, Probe};
use crate::metrology::conformity::{acceptance_zone, is_capable};
use crate::metrology::seeded::SplitMix64;
use crate::metrology::{Limits, Thresholds};
use crate::quantity::Quantity;
use crate::reference::{MaterialId, ProductId};
use std::collections::{BTreeMap, BTreeSet};

/// What is simulated.
#[derive(Clone, Copy)]
pub struct Simulation<'a> {
    /// The probe that reads the conductivity.
    pub probe: &'a Probe,
    /// Measures that the specification leaves open.
    pub size: PieceSize,
    /// Good pieces to draw.
    pub pieces: u32,
    /// Spots of conductivity on each, at least 1.
    pub spots: u32,
    /// Where the draws start.
    pub seed: u64,
    /// Good pieces that are released before and teach a type book; 0 for none.
    pub teach: u32,
}

/// Whether one window can be decided.
#[derive(Debug, Clone, PartialEq)]
pub struct WindowCapability {
    /// What is read.
    pub measurand: Measurand,
    /// Limits.
    pub lower: Option<Amount>,
    /// Limits.
    pub upper: Option<Amount>,
    /// Standard uncertainty of the reading; `None` when it cannot be used.
    pub u: Option<Amount>,
    /// Share of the window in which a reading is accepted; 0 when none is. `None` for a window with one limit.
    pub accepted_share: Option<f64>,
    /// Whether a reading at the centre is inside.
    pub capable: bool,
    /// Why not, in words.
    pub why: Option<String>,
}

/// What happened to the good pieces.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Held {
    /// Pieces drawn.
    pub pieces: u32,
    /// Pieces with nothing against them.
    pub clear: u32,
    /// Pieces held or refused by their own readings.
    pub own: u32,
    /// Of these, pieces that were refused: a good piece called bad.
    pub refused: u32,
    /// Pieces with a doubt that the whole lot shares, whatever else they have.
    pub shared: u32,
    /// Of these, pieces of which a core of some material is open that is not open on a piece exactly as specified: their readings lie
    /// to one side. A sample has to ask for those materials too.
    pub other_core: u32,
    /// Pieces held by their own readings, by the kind of the doubt; a piece with two kinds counts in both.
    pub by_kind: BTreeMap<DoubtKind, u32>,
}

impl Held {
    /// Returns the share of good pieces held by their own readings.
    pub fn own_share(&self) -> f64 {
        f64::from(self.own) / f64::from(self.pieces.max(1))
    }
}

/// What a set of instruments would do to a product.
#[derive(Debug, Clone, PartialEq)]
pub struct Capability {
    /// The product.
    pub product: ProductId,
    /// Name of the probe.
    pub probe: String,
    /// Measures of the piece in words, and what was assumed of them.
    pub size: String,
    /// What had to be assumed of it.
    pub assumed: Vec<String>,
    /// One entry for each window.
    pub windows: Vec<WindowCapability>,
    /// The doubts that a piece exactly as specified leaves open: what no reading by this probe can settle.
    pub shared: Vec<Cause>,
    /// Solids of another worth that accepted readings leave open: over their readings the instruments cannot tell the alloy.
    pub solids: Vec<SolidReach>,
    /// Where the draws started.
    pub seed: u64,
    /// What happened to the good pieces.
    pub held: Held,
}

impl Capability {
    /// Tells whether every window can be decided, and the reading to expect excludes every solid of less worth.
    pub fn is_capable(&self) -> bool {
        self.why_not().is_empty()
    }

    /// Returns why the instruments are not capable, a sentence each; empty when they are.
    pub fn why_not(&self) -> Vec<String> {
        let windows = self
            .windows
            .iter()
            .filter_map(|window| window.why.as_ref().map(|why| format!("{}: {why}", window.measurand)));
        let solids = self.solids.iter().filter(|solid| solid.always && solid.concerns == Scope::Piece);
        let solids = solids.map(|solid| {
            format!(
                "conductivity: even the reading to expect leaves solid {} open, as readings from {} to {} do",
                solid.name,
                solid.between.0.show(2),
                solid.between.1.show(2)
            )
        });
        windows.chain(solids).collect()
    }
}

/// Simulates good pieces of a product through the real assessment.
///
/// Pure: the same seed gives the same numbers.
///
/// # Errors
/// [`ExemplarError`] when no size follows.
///
/// # Source
/// JCGM 106:2012, 8.3 (guarded acceptance); the scatter of good pieces is assumed, see [`GoodPieces`].
pub fn capability(
    rules: &Rules<'_>,
    declared: &Declared<'_>,
    simulation: &Simulation<'_>,
) -> Result<Capability, ExemplarError> {
    let product = declared.product;
    let exemplar = Exemplar::of(rules, product, &simulation.size)?;
    let mut evidence = exemplar.evidence.clone();
    evidence.probe = Some(simulation.probe.clone());
    evidence.conductivity = vec![evidence.conductivity[0]; simulation.spots.max(1) as usize];
    let reach = reach(rules, declared, simulation.probe, &simulation.size, None)?;
    let ideal = assess(rules, declared, &evidence);
    let known = Shared::of(&ideal);
    let good = GoodPieces::of(rules, product, &exemplar);
    let book = (simulation.teach > 0).then(|| type_book(rules, declared, simulation, &good));
    let taught = Declared { type_book: book.as_ref().or(declared.type_book), ..*declared };
    let mut noise = SplitMix64::new(simulation.seed);
    let mut held = Held { pieces: simulation.pieces, ..Held::default() };
    for _ in 0..simulation.pieces {
        let piece = good.draw(&mut noise);
        let readings = piece.read(rules, product, Some(simulation.probe), simulation.spots, &mut noise);
        count(&mut held, &known, &assess(rules, &taught, &readings));
    }
    Ok(Capability {
        product: product.id.clone(),
        probe: simulation.probe.name.clone(),
        size: exemplar.size_in_words(),
        assumed: exemplar.assumed.clone(),
        windows: ideal.checks.iter().filter_map(|check| window(check, rules)).collect(),
        shared: ideal
            .doubts
            .iter()
            .filter(|doubt| known.holds(doubt))
            .map(|doubt| doubt.cause.clone())
            .collect(),
        solids: reach.solids,
        seed: simulation.seed,
        held,
    })
}

/// Pieces of a lot that teach a type book.
const LOT_THAT_TEACHES: u32 = 10;

/// Returns the type book that good pieces teach, in lots of ten from one source.
fn type_book(
    rules: &Rules<'_>,
    declared: &Declared<'_>,
    simulation: &Simulation<'_>,
    good: &GoodPieces,
) -> TypeBook {
    // Other pieces than the ones that are judged by it.
    let mut noise = SplitMix64::new(!simulation.seed);
    let mut taught: Vec<Vec<Taught>> = Vec::new();
    for index in 0..simulation.teach {
        let readings = good.draw(&mut noise).read(
            rules,
            declared.product,
            Some(simulation.probe),
            simulation.spots,
            &mut noise,
        );
        let assessment = assess(rules, declared, &readings);
        for entry in entries(rules, declared.product, &readings, &assessment) {
            let key = |entry: &TypeBookEntry| (entry.quantity, entry.instrument.clone());
            let place = taught.iter().position(|known| key(&known[0].entry) == key(&entry));
            let lot = (index / LOT_THAT_TEACHES) as usize;
            let piece = Taught { entry, lot, source: String::new(), released_ms: i64::from(index) };
            match place {
                Some(place) => taught[place].push(piece),
                None => taught.push(vec![piece]),
            }
        }
    }
    TypeBook::learn(declared.product.id.clone(), &taught)
}

/// The doubts that every piece of a lot shares because of what the readings cannot see.
struct Shared {
    solids: BTreeSet<MaterialId>,
    cores: BTreeSet<MaterialId>,
}

impl Shared {
    /// Takes them from a piece exactly as specified.
    fn of(ideal: &Assessment) -> Self {
        let open = |construction: Construction| {
            ideal
                .survivors()
                .filter(|candidate| candidate.construction == construction)
                .map(|candidate| candidate.material.clone())
                .collect()
        };
        Shared { solids: open(Construction::Solid), cores: open(Construction::Core) }
    }

    /// Tells whether a doubt is one of them: any core that the probe cannot see, a solid that it cannot tell from the alloy, a
    /// strike, and whatever concerns the lot.
    fn holds(&self, doubt: &Doubt) -> bool {
        match doubt.kind {
            DoubtKind::HiddenCore => !doubt.about.is_empty(),
            DoubtKind::WrongAlloy => {
                !doubt.about.is_empty() && doubt.about.iter().all(|material| self.solids.contains(material))
            }
            DoubtKind::CounterfeitStrike => true,
            _ => doubt.scope == Scope::Lot,
        }
    }
}

/// Counts one piece.
fn count(held: &mut Held, known: &Shared, found: &Assessment) {
    let (shared, own): (Vec<&Doubt>, Vec<&Doubt>) = found.doubts.iter().partition(|doubt| known.holds(doubt));
    let kinds: BTreeSet<DoubtKind> =
        own.iter().filter(|doubt| doubt.scope == Scope::Piece).map(|doubt| doubt.kind).collect();
    let other = |doubt: &&Doubt| {
        doubt.kind == DoubtKind::HiddenCore
            && doubt.about.iter().any(|material| !known.cores.contains(material))
    };
    held.shared += u32::from(!shared.is_empty());
    held.other_core += u32::from(shared.iter().any(other));
    held.own += u32::from(!kinds.is_empty());
    held.refused += u32::from(found.standing == Standing::Refuse);
    held.clear += u32::from(found.standing == Standing::Clear && kinds.is_empty());
    for kind in kinds {
        *held.by_kind.entry(kind).or_default() += 1;
    }
}

/// Says whether the window of a check can be decided; `None` for a check without limits.
fn window(check: &Check, rules: &Rules<'_>) -> Option<WindowCapability> {
    if check.lower.is_none() && check.upper.is_none() {
        return None;
    }
    let value = |amount: Option<Amount>| amount.map(Amount::value);
    let limits = Limits::new(value(check.lower), value(check.upper)).ok()?;
    let thresholds = Thresholds::new(rules.policy.inside, rules.policy.outside).ok()?;
    let usable = check.outcome != Outcome::NotUsable;
    let u = value(check.u).filter(|_| usable);
    let capable = u.is_some_and(|u| is_capable(u, &limits, &thresholds));
    let zone = u.and_then(|u| acceptance_zone(u, &limits, rules.policy.inside));
    let accepted = zone.and_then(|zone| zone.width());
    let why = if !usable {
        Some(check.reason.clone())
    } else if capable {
        None
    } else {
        Some("even a reading at the centre of the window would not be inside".to_owned())
    };
    Some(WindowCapability {
        measurand: check.measurand,
        lower: check.lower,
        upper: check.upper,
        u: check.u.filter(|_| usable),
        accepted_share: limits.width().map(|width| accepted.unwrap_or(0.0) / width),
        capable,
        why,
    })
}
