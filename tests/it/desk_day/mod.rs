//! A desk's day over many products: good pieces must get through and false ones must not. The rates are printed:
//! `cargo test desk_day -- --nocapture`.
//!
//! Every draw comes from a seed. What is true of a piece comes from physics alone ([`truth`]), what its second tests show with the
//! errors of such instruments ([`tested`]); the first readings scatter by the uncertainty that scoring states for them.

mod products;
mod tested;
mod truth;

use products::{KINDS, Kind, LINES, Line, false_piece, good, line_of};
use scruple::evidence::{Instruments, PieceEvidence, Probe};
use scruple::metrology::seeded::SplitMix64;
use scruple::quantity::{Currency, Money};
use scruple::reference::Catalogue;
use scruple::scoring::{
    Assessment, Cause, Declared, DoubtKind, Exemplar, PieceSize, Policy, Rules, Scope, Standards, Standing,
    assess, propose, reach,
};
use tested::carried_out;
use truth::{Face, Truth};

const GOOD: u32 = 1000;
const FALSE: u32 = 500;
const LOT: u32 = 20;

/// A desk with a compared meter, prices in, and all of its probes.
struct Desk {
    catalogue: &'static Catalogue,
    instruments: Instruments,
    policy: Policy,
    standards: Standards,
}

/// What became of a piece.
struct End {
    first: Assessment,
    last: Assessment,
    tests: u32,
}

impl Desk {
    fn new() -> Self {
        let mut instruments = Instruments::built_in();
        instruments.meter.compared_with_same_alloy = true;
        Desk {
            catalogue: Catalogue::embedded(),
            instruments,
            policy: Policy::built_in(),
            standards: Standards::default(),
        }
    }

    fn rules(&self) -> Rules<'_> {
        Rules {
            catalogue: self.catalogue,
            instruments: &self.instruments,
            policy: &self.policy,
            standards: &self.standards,
        }
    }

    fn declared(&self, line: &Line) -> Declared<'_> {
        let euro = Currency::parse("EUR").unwrap();
        Declared {
            product: self.catalogue.product(line.product).unwrap(),
            price: Some(Money::parse(line.price, euro).unwrap()),
            lot_size: LOT,
            source: None,
            type_book: None,
        }
    }

    /// The probe that the desk proposes for a product.
    fn probe(&self, line: &Line) -> Probe {
        let mm = |value: f64| Some(scruple::quantity::Length::from_millimetres(value));
        let size = match line.face {
            Face::Disc(diameter) => {
                PieceSize { diameter: mm(diameter), thickness: mm(line.thickness), ..PieceSize::default() }
            }
            Face::Plate(length, width) => PieceSize {
                length: mm(length),
                width: mm(width),
                thickness: mm(line.thickness),
                diameter: None,
            },
        };
        let (rules, declared) = (self.rules(), self.declared(line));
        assert!(Exemplar::of(&rules, declared.product, &size).is_ok());
        let probes = &self.instruments.probes;
        let reaches: Vec<_> =
            probes.iter().map(|probe| reach(&rules, &declared, probe, &size, None).unwrap()).collect();
        probes[propose(&reaches).best.unwrap_or(0)].clone()
    }

    /// Takes the first readings of a piece, then carries out its plan until nothing is open or nothing can be done.
    fn through(&self, line: &Line, probe: &Probe, truth: &Truth, noise: &mut SplitMix64) -> End {
        let (rules, declared) = (self.rules(), self.declared(line));
        let spots = if matches!(truth.face, Face::Disc(_)) { 2 } else { 4 };
        let mut evidence: PieceEvidence =
            truth.seen_by(probe).read(&rules, declared.product, Some(probe), spots, noise);
        evidence.presentation.circulated = line.circulated;
        let first = assess(&rules, &declared, &evidence);
        let mut last = first.clone();
        let mut tests = 0;
        // What a check asks for first is the same reading once more, with twice the spots.
        let asks_again = |found: &Assessment| {
            let again = |doubt: &scruple::scoring::Doubt| {
                matches!(doubt.cause, Cause::Check { .. } | Cause::Uneven { .. })
            };
            found.standing == Standing::Hold && found.doubts.iter().any(again)
        };
        for _ in 0..2 {
            if asks_again(&last) {
                let presentation = evidence.presentation;
                evidence = truth.seen_by(probe).read(&rules, declared.product, Some(probe), 2 * spots, noise);
                evidence.presentation = presentation;
                last = assess(&rules, &declared, &evidence);
            }
        }
        while last.standing != Standing::Refuse && tests < 6 {
            let Some(plan) = &last.plan else { break };
            let Some(step) = plan.steps.first() else { break };
            let Some(test) = carried_out(truth, step, &self.instruments.probes, noise) else { break };
            evidence.second_tests.push(test);
            tests += 1;
            last = assess(&rules, &declared, &evidence);
        }
        End { first, last, tests }
    }
}

/// Tells whether nothing at all is open.
fn is_clear(found: &Assessment) -> bool {
    found.standing == Standing::Clear && found.doubts.is_empty()
}

fn why(found: &Assessment) -> String {
    found
        .doubts
        .first()
        .map_or_else(|| found.standing.word().to_owned(), scruple::present::causes::doubt_text)
}

/// Keeps what was open most often, with an example.
#[derive(Default)]
struct Most {
    counts: std::collections::BTreeMap<String, (u32, String)>,
}

impl Most {
    fn count(&mut self, found: &Assessment) {
        let key = found.doubts.first().map_or_else(String::new, |doubt| {
            format!("{:?}/{:?}/{}", doubt.kind, doubt.scope, doubt.cause.key())
        });
        let entry = self.counts.entry(key).or_insert_with(|| (0, why(found)));
        entry.0 += 1;
    }

    fn text(&self) -> String {
        let most = self.counts.values().max_by_key(|(count, _)| *count);
        most.map_or_else(String::new, |(count, text)| format!("{count}x {text}"))
    }
}

#[test]
fn good_pieces_get_through() {
    let desk = Desk::new();
    let mut failures = Vec::new();
    println!(
        "good pieces, {GOOD} each; metals scatter by a sixth of their published range, fill 1 % (bars 0.4 %), size 0.1 %, \
         mass 0.05 %;\nmeter compared, scale 0.01 g, calliper 0.01 mm; tests an 100 pieces in lots of {LOT} from a new, known, \
         trusted source"
    );
    println!(
        "{:<26} {:>6} {:>6} {:>6} {:>7} {:>17} {:>10}",
        "product", "clear", "waits", "own", "refused", "tests/100", "after plan"
    );
    for (place, line) in LINES.iter().enumerate() {
        let probe = desk.probe(line);
        let mut noise = SplitMix64::new(7000 + place as u64);
        let [mut clear, mut waits, mut own, mut refused, mut after, mut tests] = [0u32; 6];
        let (mut held, mut stuck) = (Most::default(), Most::default());
        for _ in 0..GOOD {
            let truth = good(line, desk.catalogue, &mut noise);
            let end = desk.through(line, &probe, &truth, &mut noise);
            let first = &end.first;
            if first.standing == Standing::Refuse {
                refused += 1;
                held.count(first);
            } else if first.standing == Standing::Hold {
                own += 1;
                held.count(first);
            } else if first.waits_with_its_lot() {
                waits += 1;
            } else {
                clear += 1;
            }
            tests += end.tests;
            if is_clear(&end.last) {
                after += 1;
            } else {
                stuck.count(&end.last);
            }
        }
        let each = f64::from(tests) / f64::from(GOOD);
        let sampled: Vec<String> = desk
            .policy
            .sampling
            .samples_of(LOT)
            .into_iter()
            .map(|sample| format!("{:.0}", 100.0 * each * f64::from(sample) / f64::from(LOT)))
            .collect();
        let percent = |count: u32| 100.0 * f64::from(count) / f64::from(GOOD);
        println!(
            "{:<26} {:>6.1} {:>6.1} {:>6.1} {:>7.1} {:>17} {:>10.1}  {}",
            line.label,
            percent(clear),
            percent(waits),
            percent(own),
            percent(refused),
            sampled.join(" "),
            percent(after),
            probe.name
        );
        if percent(own) > 5.0 || percent(refused) > 0.1 {
            println!("    held: {}", held.text());
            failures.push(format!(
                "{}: own {:.1}, refused {:.1}",
                line.label,
                percent(own),
                percent(refused)
            ));
        }
        if percent(after) < 99.0 {
            println!("    stuck: {}", stuck.text());
            failures.push(format!("{}: after {:.1}", line.label, percent(after)));
        }
    }
    assert!(failures.len() <= 3, "{failures:#?}");
}

#[test]
fn false_pieces_do_not() {
    let desk = Desk::new();
    let mut failures = Vec::new();
    println!("false pieces, {FALSE} each, of the mass of a good one; same scatter and instruments");
    println!(
        "{:<34} {:>9} {:>8} {:>8} {:>11} {:>11}",
        "kind", "no plan", "refused", "held", "ends clear", "first right"
    );
    for (place, kind) in KINDS.iter().enumerate() {
        let line = line_of(kind.product);
        let probe = desk.probe(line);
        let mut noise = SplitMix64::new(9000 + place as u64);
        let [mut unplanned, mut refused, mut held, mut ends, mut right] = [0u32; 5];
        let mut through = Most::default();
        let mut wrong = Most::default();
        for _ in 0..FALSE {
            let truth = false_piece(kind, desk.catalogue, &mut noise);
            let end = desk.through(line, &probe, &truth, &mut noise);
            unplanned += u32::from(is_clear(&end.first));
            refused += u32::from(end.last.standing == Standing::Refuse);
            if is_clear(&end.last) {
                ends += 1;
                through.count(&end.first);
            } else if end.last.standing != Standing::Refuse {
                held += 1;
            }
            if names(kind, &end.first) {
                right += 1;
            } else {
                wrong.count(&end.first);
            }
        }
        let percent = |count: u32| 100.0 * f64::from(count) / f64::from(FALSE);
        println!(
            "{:<34} {:>9.1} {:>8.1} {:>8.1} {:>11.1} {:>11.1}",
            kind.label,
            percent(unplanned),
            percent(refused),
            percent(held),
            percent(ends),
            percent(right)
        );
        if unplanned > 0 || percent(ends) > 0.5 {
            println!("    through: {}", through.text());
            failures.push(format!("{}: unplanned {unplanned}, ends clear {ends}", kind.label));
        }
        if percent(right) < 95.0 {
            println!("    first reason: {}", wrong.text());
            failures.push(format!("{}: first reason right in {right}", kind.label));
        }
    }
    assert!(failures.is_empty(), "{failures:#?}");
}

/// Tells whether the first reason names the right family.
fn names(kind: &Kind, found: &Assessment) -> bool {
    let first = found.doubts.iter().min_by_key(|doubt| doubt.scope == Scope::Lot);
    first.is_some_and(|doubt| kind.family.contains(&doubt.kind) || doubt.kind == DoubtKind::Uneven)
}
