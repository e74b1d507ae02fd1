//! Good pieces to score, as a desk whose meter was compared with the alloy reads them.

use scruple::evidence::{Instruments, PieceEvidence, Probe};
use scruple::metrology::seeded::SplitMix64;
use scruple::quantity::{Currency, Money};
use scruple::reference::Catalogue;
use scruple::scoring::{Declared, Exemplar, GoodPieces, PieceSize, Policy, Rules, Standards};

/// What such a desk scores with.
pub struct Desk {
    instruments: Instruments,
    policy: Policy,
    standards: Standards,
}

impl Desk {
    pub fn new() -> Self {
        let mut instruments = Instruments::built_in();
        instruments.meter.compared_with_same_alloy = true;
        Desk { instruments, policy: Policy::built_in(), standards: Standards::default() }
    }

    /// Goes over to a policy that says the same in other words, so that nothing made by another is used again.
    #[allow(dead_code, reason = "only one of the benches that share this file changes it")]
    pub fn change_policy(&mut self, change: u32) {
        let text = format!("{}\n# change {change}\n", include_str!("../../assets/desk/policy.toml"));
        self.policy = Policy::parse("policy", &text).expect("the shipped policy");
    }

    /// Returns a shipped probe.
    #[allow(dead_code, reason = "only one of the benches that share this file asks for it")]
    pub fn probe(&self, name: &str) -> &Probe {
        self.instruments.probe(name).expect("a shipped probe")
    }

    pub fn rules(&self) -> Rules<'_> {
        let Desk { instruments, policy, standards } = self;
        Rules { catalogue: Catalogue::embedded(), instruments, policy, standards }
    }

    /// Declares a product of the reference in a lot of twenty, the price of an ounce in euros.
    pub fn declared(product: &str, price: &str) -> Declared<'static> {
        let euro = Currency::parse("EUR").expect("a currency");
        Declared {
            product: Catalogue::embedded().product(product).expect("a product of the reference"),
            price: Some(Money::parse(price, euro).expect("a price")),
            lot_size: 20,
            source: None,
            type_book: None,
        }
    }

    /// Reads so many good pieces, each with one spot of conductivity.
    pub fn read(&self, declared: &Declared<'_>, probe: &str, pieces: usize) -> Vec<PieceEvidence> {
        let rules = self.rules();
        let exemplar = Exemplar::of(&rules, declared.product, &PieceSize::default()).expect("a size");
        let good = GoodPieces::of(&rules, declared.product, &exemplar);
        let (mut noise, probe) = (SplitMix64::new(1), self.instruments.probe(probe));
        let read = |_| good.draw(&mut noise).read(&rules, declared.product, probe, 1, &mut noise);
        (0..pieces).map(read).collect()
    }
}
