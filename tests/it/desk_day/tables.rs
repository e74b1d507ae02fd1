//! Counting, and the two tables.

use super::adapter::{self, House, LOT, Stands};
use super::kinds::{Kind, Stuff};
use super::products::Spec;
use super::run::{Line, Passed};
use super::truth::Aim;
use scruple::metrology::seeded::SplitMix64;
use scruple::quantity::Money;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// What became of the pieces of one product or kind.
#[derive(Default)]
pub struct Row {
    pub name: String,
    probe: String,
    pieces: usize,
    pub clear: usize,
    pub waits: usize,
    pub own_hold: usize,
    pub refused: usize,
    pub cleared: usize,
    ended_refused: usize,
    /// Tests that waiting and that held pieces took.
    tests_waiting: usize,
    tests_held: usize,
    /// False pieces whose first reason names the family.
    pub named: usize,
    /// False pieces that end clear when nobody sweeps.
    pub one_spot: usize,
    /// Whether making such pieces pays; and the most that the program says they could displace where it does not watch for them.
    pub pays: bool,
    unwatched: Option<Money>,
    /// What the program says beforehand that its plan leaves.
    pub beforehand: Option<String>,
    held_for: Counts,
    refused_for: Counts,
    left_for: Counts,
    named_for: Counts,
    /// An example of a piece that waits or is held at the end: what is left, and what its tests came to.
    example: Option<String>,
}

/// How often something was said.
#[derive(Default)]
struct Counts(BTreeMap<String, usize>);

impl Counts {
    fn add(&mut self, what: String) {
        *self.0.entry(what).or_default() += 1;
    }

    fn most(&self) -> String {
        let mut all: Vec<(&String, &usize)> = self.0.iter().collect();
        all.sort_by(|a, b| b.1.cmp(a.1));
        all.iter().take(4).map(|(what, count)| format!("{count} x {what}")).collect::<Vec<_>>().join(" | ")
    }
}

impl Row {
    pub fn share(&self, count: usize) -> f64 {
        count as f64 / self.pieces as f64
    }

    pub fn why_held(&self) -> String {
        self.held_for.most()
    }

    pub fn why_refused(&self) -> String {
        self.refused_for.most()
    }

    pub fn why_left(&self) -> String {
        self.left_for.most()
    }

    pub fn why_named(&self) -> String {
        self.named_for.most()
    }

    fn count(&mut self, passed: &Passed) {
        self.pieces += 1;
        match passed.began {
            Stands::Clear => self.clear += 1,
            Stands::Waits => {
                self.waits += 1;
                self.tests_waiting += passed.tests;
            }
            Stands::Held => {
                self.own_hold += 1;
                self.tests_held += passed.tests;
                self.held_for.add(adapter::reasons(&passed.first).join(" + "));
            }
            Stands::Refused => {
                self.refused += 1;
                self.refused_for.add(adapter::first_words(&passed.first));
            }
        }
        match passed.ended {
            Stands::Clear => self.cleared += 1,
            Stands::Refused => self.ended_refused += 1,
            Stands::Held | Stands::Waits => {}
        }
        if passed.ended != Stands::Clear {
            let tests: Vec<&str> = passed.last.second_tests.iter().map(|test| test.method.word()).collect();
            let next = adapter::next(&passed.last).map_or("no plan", |step| step.method.word());
            let reasons = adapter::reasons(&passed.last).join(" + ");
            self.left_for.add(format!(
                "{:?} after {}, next {next}: {reasons}",
                passed.ended,
                tests.join(",")
            ));
            if self.example.is_none() && passed.tests > 0 {
                self.example =
                    Some(format!("{} | {}", adapter::left(&passed.last), adapter::tested(&passed.last)));
            }
        }
        if self.beforehand.is_none() {
            self.beforehand = adapter::beforehand(&passed.first);
        }
    }

    /// Returns tests for 100 pieces from a new, a known and a trusted source: of those that wait, a sample of each lot.
    fn tests(&self) -> [f64; 3] {
        let per_hundred = 100.0 / self.pieces as f64;
        adapter::samples().map(|sample| {
            let drawn = f64::from(sample) / f64::from(LOT);
            per_hundred * (drawn * self.tests_waiting as f64 + self.tests_held as f64)
        })
    }
}

/// Takes genuine pieces of a product through the desk.
pub fn genuine(house: &House, spec: &'static Spec, pieces: usize, seed: u64) -> Row {
    let mut noise = SplitMix64::new(seed);
    let quiet = spec.metal();
    let like = super::truth::Piece::make(&super::truth::Made {
        metal: quiet,
        inside: super::truth::Inside::Same,
        face: spec.face,
        mass: spec.mass.0,
        rim: spec.rim,
        bump: spec.bump(),
        aim: Aim::Weight,
    });
    let line = Line::of(house, spec, like, (0.0, 0.0));
    let mut row = Row { name: spec.name.to_owned(), probe: line.probe_name().to_owned(), ..Row::default() };
    for _ in 0..pieces {
        let piece = spec.genuine(&mut noise);
        row.count(&line.pass(&piece, true, &mut noise));
    }
    row
}

/// Takes false pieces of a kind through the desk.
pub fn false_kind(house: &House, kind: &Kind, pieces: usize, seed: u64) -> Row {
    let mut noise = SplitMix64::new(seed);
    let like = kind.drawn(&mut noise);
    let line = Line::of(house, kind.of, like, kind.skins());
    let mut row = Row {
        name: kind.name.to_owned(),
        probe: line.probe_name().to_owned(),
        pays: kind.pays,
        ..Row::default()
    };
    let rods = matches!(kind.stuff, Stuff::Rods(..));
    for _ in 0..pieces {
        let piece = kind.drawn(&mut noise);
        let passed = line.pass(&piece, true, &mut noise);
        if adapter::first_is(&passed.first, kind.materials, kind.readings) {
            row.named += 1;
        } else {
            row.named_for.add(format!("{:?}: {}", passed.began, adapter::first_words(&passed.first)));
        }
        row.count(&passed);
        let unwatched = adapter::unwatched(&passed.first, kind.materials);
        row.unwatched = row.unwatched.into_iter().chain(unwatched).max_by_key(|money| money.amount);
        if rods && line.pass(&piece, false, &mut noise).ended == Stands::Clear {
            row.one_spot += 1;
        }
    }
    row
}

/// How pieces and instruments scatter, as standard deviations unless said otherwise; by whom, see `truth`, `products`, `instruments`.
const STATED: &str = "
pieces: fine metal density 0.04 %, conductivity 0.3 %, sound 0.5 %; gold alloys 0.15 %, 2 %, 0.6 %; silver 900 0.12 %, 2.8 %, 0.7 %;
  coins' outline 0.02 mm, thickness 0.03 mm, worn 0.04 mm; struck bars 0.05 and 0.01 mm, poured bars 0.3 and 0.1 mm
instruments: scale 4 mg and even within OIML R 76-1 table 6 (II, e = 0.01 g), calliper 5 um and even within 0.02 mm, meter compared 0.3 % and
  0.1 %, thermometer 0.3 K; gauge with a screen 0.3 % and 4 ns; beaker 3 mg, thread 2 mg; ring within 3 % of plate theory; X-ray 0.3 %
";

/// Prints the table of genuine pieces.
pub fn genuine_text(rows: &[Row]) -> String {
    let mut text = STATED.to_owned();
    let _ = write!(
        text,
        "\n{:<26} {:<7} {:>6} {:>6} {:>6} {:>8}  {:>5} {:>5} {:>5}  {:>6}\n",
        "genuine, of 1000", "probe", "clear", "waits", "held", "refused", "new", "known", "trust", "after"
    );
    for row in rows {
        let [new, known, trusted] = row.tests();
        let _ = writeln!(
            text,
            "{:<26} {:<7} {:>6} {:>6} {:>6} {:>8}  {new:>5.0} {known:>5.0} {trusted:>5.0}  {:>6}{}",
            row.name,
            row.probe,
            row.clear,
            row.waits,
            row.own_hold,
            row.refused,
            row.cleared,
            if row.beforehand.is_some() { " *" } else { "" },
        );
    }
    let _ = writeln!(
        text,
        "clear, waits with its lot, held by its own readings, refused: at once; new, known, trusted: tests for 100 pieces in lots \
         of {LOT}; after: clear after the plan; *: the program says before the first test what its plan leaves."
    );
    for row in rows {
        if let Some(said) = &row.beforehand {
            let _ = writeln!(text, "* {}: {said}", row.name);
        }
    }
    for row in rows.iter().filter(|row| row.cleared < row.pieces) {
        let _ = writeln!(text, "  {} not clear: {}", row.name, row.why_left());
        if let Some(example) = &row.example {
            let _ = writeln!(text, "    such as {example}");
        }
    }
    text
}

/// Prints the table of false pieces.
pub fn false_text(rows: &[Row]) -> String {
    let mut text = format!(
        "\n{:<46} {:<7} {:>6} {:>6} {:>6} {:>8}  {:>6} {:>8} {:>7}\n",
        "false, of 500", "probe", "clear", "waits", "held", "refused", "after", "refused", "named"
    );
    for row in rows {
        let _ = writeln!(
            text,
            "{:<46} {:<7} {:>6} {:>6} {:>6} {:>8}  {:>6} {:>8} {:>6.1}%{}",
            row.name,
            row.probe,
            row.clear,
            row.waits,
            row.own_hold,
            row.refused,
            row.cleared,
            row.ended_refused,
            100.0 * row.share(row.named),
            row.unwatched.filter(|_| !row.pays).map_or(String::new(), |sum| {
                format!("  does not pay: not watched, up to {sum} of metal")
            }),
        );
    }
    let _ = writeln!(
        text,
        "clear, waits, held, refused: at once; after: clear after the plan was carried out; named: the first reason names the family."
    );
    for row in rows {
        if let Some(said) = &row.beforehand {
            let _ = writeln!(text, "* {}: {said}", row.name);
        }
    }
    text
}
