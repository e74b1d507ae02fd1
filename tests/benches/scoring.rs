//! What one full assessment costs with warm tables: every check, every candidate, doubts, offers, words.

mod good_pieces;

use criterion::{Criterion, criterion_group, criterion_main};
use good_pieces::Desk;
use scruple::scoring::assess;
use std::hint::black_box;

/// Product, probe and price of an ounce.
const CASES: [(&str, &str, &str); 3] =
    [("us-5112-e", "flat", "30"), ("ca-gold-50", "pencil", "2400"), ("bar-gold-9999-1kg", "deep", "2400")];

fn assessments(criterion: &mut Criterion) {
    let desk = Desk::new();
    for (id, probe, price) in CASES {
        let declared = Desk::declared(id, price);
        let pieces = desk.read(&declared, probe, 64);
        let mut next = 0;
        criterion.bench_function(id, |bench| {
            bench.iter(|| {
                next = (next + 1) % pieces.len();
                black_box(assess(&desk.rules(), &declared, black_box(&pieces[next])))
            });
        });
    }
}

criterion_group!(benches, assessments);
criterion_main!(benches);
