//! What scoring costs with warm tables: full assessments (checks, grid, doubts, plan, standing), a lot of 500 scored again after a
//! change of policy, and what the instruments would do to 10,000 simulated pieces. Beside it numpy over a grid of the same size,
//! where python3 has it.
//!
//! The figures to hold, on one core: 200,000 assessments a second of a silver ounce and 100,000 of a gold ounce; 50 ms for the lot;
//! 1 s for the simulation.

mod good_pieces;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use good_pieces::Desk;
use scruple::reference::Catalogue;
use scruple::scoring::{
    Assessment, LotDeclared, LotPiece, PieceKey, PieceSize, Simulation, SourceRecord, assess, assess_lot,
    capability,
};
use std::hint::black_box;
use std::process::Command;
use std::time::Duration;

/// Product, probe and price of an ounce.
const CASES: [(&str, &str, &str); 3] =
    [("us-5112-e", "flat", "30"), ("ca-gold-50", "flat", "2400"), ("bar-gold-9999-1kg", "deep", "2400")];
/// Pieces of the lot that is scored again, and of the simulation.
const LOT: u32 = 500;
const SIMULATED: u32 = 10_000;

fn assessments(criterion: &mut Criterion) {
    let desk = Desk::new();
    let mut group = criterion.benchmark_group("assess");
    group.throughput(Throughput::Elements(1));
    for (id, probe, price) in CASES {
        let declared = Desk::declared(id, price);
        let pieces = desk.read(&declared, probe, 64);
        let mut next = 0;
        group.bench_function(id, |bench| {
            bench.iter(|| {
                next = (next + 1) % pieces.len();
                black_box(assess(&desk.rules(), &declared, black_box(&pieces[next])))
            });
        });
    }
    group.finish();
}

/// Every piece and the lot as a whole, by a policy that nobody has scored with yet.
fn rescoring(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("lot of 500 after a change of policy");
    group.sample_size(20).measurement_time(Duration::from_secs(5));
    for (id, probe, price) in CASES {
        let mut desk = Desk::new();
        let declared = Desk::declared(id, price);
        let pieces = desk.read(&declared, probe, LOT as usize);
        let mut changes = 0_u32;
        group.bench_with_input(BenchmarkId::from_parameter(id), &pieces, |bench, pieces| {
            bench.iter(|| {
                changes += 1;
                desk.change_policy(changes);
                let rules = desk.rules();
                let scored: Vec<Assessment> =
                    pieces.iter().map(|piece| assess(&rules, &declared, piece)).collect();
                let lot: Vec<LotPiece<'_>> = pieces
                    .iter()
                    .zip(&scored)
                    .zip(1..)
                    .map(|((piece, scored), number)| (PieceKey(number), piece, scored))
                    .collect();
                let declared =
                    LotDeclared { product: declared.product, quantity: LOT, record: SourceRecord::default() };
                black_box(assess_lot(&rules, &declared, &lot))
            });
        });
    }
    group.finish();
}

fn simulating(criterion: &mut Criterion) {
    let desk = Desk::new();
    let mut group = criterion.benchmark_group("capability of 10000 pieces");
    group.sample_size(10).measurement_time(Duration::from_secs(5));
    for (id, probe, price) in CASES {
        let declared = Desk::declared(id, price);
        let probe = desk.probe(probe);
        let simulation =
            Simulation { probe, size: PieceSize::default(), pieces: SIMULATED, spots: 1, seed: 1, teach: 0 };
        group.bench_function(id, |bench| {
            bench.iter(|| black_box(capability(&desk.rules(), &declared, &simulation)));
        });
    }
    group.finish();
}

/// One piece over a grid of that many cells, with arrays: the masks of a conductivity, of the envelope and of the fill of its type,
/// what is left, what of it is watched and in no good piece, and the four checks.
const SCRIPT: &str = r#"
import math, sys, time
import numpy as np
rng = np.random.default_rng(1)
materials, skins = int(sys.argv[1]), 72
solids, cells = materials, materials * (1 + skins)
centre = rng.uniform(1.0, 63.0, cells)
low, high = centre * 0.97, centre * 1.03
model = np.where(np.arange(cells) < solids, 0.0, 0.05)
weigh = rng.uniform(2.7, 22.0, cells)
light, heavy = weigh * 0.995, weigh * 1.005
watched, ordinary = rng.random(cells) < 0.5, rng.random(cells) < 0.5
share = rng.random(cells)
half = lambda x: 0.5 * math.erfc(-x / math.sqrt(2))

def ends(value, u, model):
    rest = 1.0 - model * model
    root = np.sqrt(model * model * value * value + rest * (3.29 * u) ** 2)
    return (value - root) / rest, (value + root) / rest

def piece(mass, diameter, thickness, sigma):
    checks = [half((mass - 31.05) / 0.01), half((diameter - 40.4) / 0.02), half((thickness - 2.9) / 0.02),
              half((65.0 - sigma) / 0.3) - half((60.0 - sigma) / 0.3)]
    below, above = ends(sigma, 0.3, 0.0)
    under, over = ends(sigma, 0.3, 0.05)
    out = np.empty(cells, bool)
    out[:solids] = (low[:solids] >= above) | (high[:solids] <= below)
    out[solids:] = (low[solids:] >= over) | (high[solids:] <= under)
    rho = mass / (math.pi / 4 * diameter ** 2 * thickness) * 1e3
    typed, u = rho / 0.78, rho / 0.78 * 0.022
    out |= (heavy < rho - 0.2) | (0.5 * light > rho + 0.2)
    out |= (light >= typed + 3.29 * u) | (heavy <= typed - 3.29 * u)
    open_ = ~out & watched
    odd = open_ & ~ordinary
    return checks, (~out).any(), odd.any(), share[open_].max(initial=0.0)

began, made = time.perf_counter(), 0
while time.perf_counter() - began < 3.0:
    piece(31.1 + 0.01 * rng.standard_normal(), 40.6, 2.98, 62.0 + 0.3 * rng.standard_normal())
    made += 1
print(made / (time.perf_counter() - began))
"#;

/// Prints what numpy does of the same grid, where it is there.
fn numpy(_criterion: &mut Criterion) {
    let materials = Catalogue::embedded().materials().count().to_string();
    let output = Command::new("python3").args(["-c", SCRIPT, &materials]).output();
    let rate = output.ok().and_then(|output| {
        String::from_utf8_lossy(&output.stdout).trim().parse::<f64>().ok().filter(|_| output.status.success())
    });
    match rate {
        Some(rate) => {
            println!("numpy, masks of the same grid without doubts, plan or words: {rate:.0} a second\n")
        }
        None => println!("numpy: python3 with numpy is not here\n"),
    }
}

criterion_group!(benches, assessments, rescoring, simulating, numpy);
criterion_main!(benches);
