//! What one full assessment costs with warm tables: every check, every candidate, doubts, offers, words.

use criterion::{Criterion, criterion_group, criterion_main};
use scruple::evidence::Instruments;
use scruple::metrology::seeded::SplitMix64;
use scruple::quantity::{Currency, Money};
use scruple::reference::Catalogue;
use scruple::scoring::{Declared, Exemplar, GoodPieces, PieceSize, Policy, Rules, Scans, assess};
use std::hint::black_box;

/// Product, probe and price of an ounce.
const CASES: [(&str, &str, &str); 3] = [
    ("us-5112-e", "flat", "30 EUR"),
    ("ca-gold-50", "pencil", "2400 EUR"),
    ("bar-gold-9999-1kg", "deep", "2400 EUR"),
];

fn assessments(criterion: &mut Criterion) {
    let catalogue = Catalogue::embedded();
    let mut instruments = Instruments::built_in();
    instruments.meter.compared_with_same_alloy = true;
    let (policy, scans) = (Policy::built_in(), Scans::default());
    let rules = Rules { catalogue, instruments: &instruments, policy: &policy, scans: &scans };
    let euro = Currency::parse("EUR").expect("a currency");
    for (id, probe, price) in CASES {
        let declared = Declared {
            product: catalogue.product(id).expect("a product of the reference"),
            price: Some(Money::parse(price, euro).expect("a price")),
            lot_size: 20,
            source: None,
            type_book: None,
        };
        let mut noise = SplitMix64::new(1);
        let probe = instruments.probe(probe).expect("a probe of the desk");
        let exemplar = Exemplar::of(&rules, declared.product, &PieceSize::default()).expect("a size");
        let good = GoodPieces::of(&rules, declared.product, &exemplar);
        let read = |_| good.draw(&mut noise).read(&rules, declared.product, Some(probe), 1, &mut noise);
        let pieces: Vec<_> = (0..64).map(read).collect();
        let mut next = 0;
        criterion.bench_function(id, |bench| {
            bench.iter(|| {
                next = (next + 1) % pieces.len();
                black_box(assess(&rules, &declared, black_box(&pieces[next])))
            });
        });
    }
}

criterion_group!(benches, assessments);
criterion_main!(benches);
