//! Where numbers come from: explanations against figures that were worked out outside the project.

use super::scoring::Bench as OnBench;
use scruple::evidence::Measurand;
use scruple::quantity::{Length, Mass, Money, entry::parse};
use scruple::reference::{Catalogue, Mark};
use scruple::scoring::{
    Construction, Declared, Explanation, Known, Rules, Standards, Thing, assess, explain,
};

/// Explains one thing about a piece on the bench.
fn explained(bench: &OnBench, thing: &Thing) -> Explanation {
    let catalogue = Catalogue::embedded();
    let standards = Standards::default();
    let rules =
        Rules { catalogue, instruments: &bench.instruments, policy: &bench.policy, standards: &standards };
    let price = bench.price.map(|text| Money::parse(text, bench.policy.currency).unwrap());
    let product = catalogue.product(bench.product).unwrap();
    let declared =
        Declared { product, price, lot_size: bench.lot_size, source: bench.source, type_book: None };
    let assessment = assess(&rules, &declared, &bench.evidence);
    let all = explain(&rules, &declared, &bench.evidence, &assessment);
    all.into_iter().find(|one| one.thing == *thing).unwrap_or_else(|| panic!("{thing:?} is not explained"))
}

/// Returns everything that an explanation reckons with, in one text.
fn numbers(explanation: &Explanation) -> String {
    explanation.steps.iter().map(|step| step.numbers.as_str()).collect::<Vec<_>>().join("\n")
}

/// A silver dollar of 412.5 grains, deviation 1.5 grains: 411 to 414 grains of 64.798 91 mg are 26.632 35 to 26.826 75 g.
fn dollar(mass: &str, u: &str) -> OnBench {
    let mut bench = OnBench::of("us-1837-dollar").mass(mass);
    bench.evidence.mass =
        bench.evidence.mass.map(|mass| mass.with_stated(Some(parse::<Mass>(u).unwrap().value)));
    bench
}

#[test]
fn limits_of_a_mass_are_those_of_the_statute_in_grains() {
    // Act of 18 January 1837, section 9 and 25: 412.5 grains, deviation 1.5 grains; the grain is 64.798 91 mg.
    let limits = explained(&dollar("26.700 g", "0.005 g"), &Thing::Limits(Measurand::Mass));
    let (least, most) = (411.0 * 0.064_798_91, 414.0 * 0.064_798_91);
    assert_eq!(limits.result, format!("{least:.3} to {most:.3} g"));
    let numbers = numbers(&limits);
    assert!(numbers.contains("26.730 g − 0.097 g = 26.632 g"), "{numbers}");
    assert!(limits.sources.iter().any(|source| source.known == Known::Reference(Mark::Read)), "{limits:?}");
    assert!(limits.sources.iter().all(|source| source.known != Known::Policy), "{limits:?}");
}

#[test]
fn a_guaranteed_ounce_of_fine_gold_is_judged_as_value_and_sets_no_least_mass() {
    // 31 U.S.C. 5112(a)(7): 33.931 g, one troy ounce of fine gold; (b): 22 parts of 24. A piece of 33.95 g holds 31.121 g.
    let limits = explained(&OnBench::of("us-5112-a7").mass("33.95 g"), &Thing::Limits(Measurand::Mass));
    assert!(limits.result.starts_with(&format!("{:.3} to ", 0.995 * 33.931)), "{}", limits.result);
    let value = "33.950 g × 0.9167 = 31.121 g, not short of it";
    assert!(numbers(&limits).contains(value), "{}", numbers(&limits));
    // Nothing says how much heavier it may be: that is the policy's.
    assert!(limits.sources.iter().any(|source| source.known == Known::Policy), "{limits:?}");
}

#[test]
fn a_conformance_probability_is_the_one_of_the_normal_table() {
    // Table of the normal distribution, Φ(1.40) = 0.9192 (Abramowitz and Stegun, table 26.1, from memory); the case is that of
    // JCGM 106:2012, 7.3.3, where y lies 1.4 u below the upper limit: 0.92 (from memory).
    let zener = explained(&dollar("26.81975 g", "0.005 g"), &Thing::Conformance(Measurand::Mass));
    assert_eq!(zener.result, "p = 0.9192, marginal");
    assert!(numbers(&zener).contains("/ 0.00500 = 1.400"), "{}", numbers(&zener));
    // JCGM 106:2012, 7.4 (from memory): y = 13.6, u = 1.8, 12.5 to 16.3 gives 0.66; here in a window of 37.9 to 38.1 mm.
    let u = 0.2 * 1.8 / 3.8;
    let value = 37.9 + u * 1.1 / 1.8;
    let mut bench = OnBench::of("nl-50g-1995").disc(&format!("{value:.6} mm"), "2.60 mm");
    bench.evidence.diameter = bench
        .evidence
        .diameter
        .map(|read| read.with_stated(Some(parse::<Length>(&format!("{u:.6} mm")).unwrap().value)));
    let oil = explained(&bench, &Thing::Conformance(Measurand::Diameter));
    assert!(oil.result.starts_with("p = 0.66"), "{}", oil.result);
}

#[test]
fn a_skin_depth_is_the_one_of_the_standard() {
    let bench = OnBench::of("bar-gold-9999-100g")
        .mass("100.00 g")
        .bar("55.0 mm", "31.0 mm", "3.05 mm")
        .coil("60 kHz", "2mm,4mm")
        .reads("45.2 MS/m")
        .at("20 C");
    let depth = explained(&bench, &Thing::Depth);
    let shown = depth.steps[0].numbers.rsplit("= ").next().unwrap().trim_end_matches(" mm");
    let shown: f64 = shown.parse().unwrap();
    // Gold of 45.2 MS/m at 60 kHz: 0.3056 mm, worked out with another program, within 0.1 %.
    assert!((shown / 0.3056 - 1.0).abs() < 0.002, "{}", depth.steps[0].numbers);
    // MIL-STD-1537C, 3.7.2, metric form (read): 656.5 / √(f %IACS) mm; its constant is 0.7 % low. 45.2 MS/m are 77.9 %IACS.
    let standard = 656.5 / (60_000.0f64 * 77.93).sqrt();
    assert!((shown / standard - 1.0).abs() < 0.01, "{shown} {standard}");
}

#[test]
fn what_a_core_hides_is_the_volume_of_the_inner_cylinder_and_its_money_that_of_the_gold_it_replaces() {
    let bench = OnBench::of("us-5112-a7")
        .mass("33.95 g")
        .disc("32.70 mm", "2.87 mm")
        .reads("11.2 MS/m")
        .probe("flat")
        .at("21 C")
        .price("2400 EUR");
    let assessment = bench.assess();
    let core = assessment
        .survivors()
        .find(|candidate| {
            candidate.construction == Construction::Core && candidate.material.as_str().starts_with('W')
        })
        .expect("tungsten survives weight and size");
    let (skin, share) = (core.skins[0].0.as_millimetres(), core.hidden_share.unwrap());
    // Volume of a cylinder, by geometry: as thick as flat metal of 33.931 g, because the rim stands above it.
    let flat = 33.931 / (catalogued("Au9167AgCu") * std::f64::consts::PI / 4.0 * 32.70f64.powi(2)) * 1000.0;
    let inner = (32.70 - 2.0 * skin).powi(2) * (flat - 2.0 * skin) / (32.70f64.powi(2) * flat);
    assert!((share - inner).abs() < 0.002, "{share} {inner}");
    let explanation = explained(&bench, &Thing::Candidate(core.material.clone(), Construction::Core));
    let all = numbers(&explanation);
    assert!(all.contains(&format!("= {share:.3}")), "{all}");
    // The coin holds one troy ounce of fine gold in 33.931 g: what a core displaces is its share of the mass of that.
    let (tungsten, alloy) = (catalogued(core.material.as_str()), catalogued("Au9167AgCu"));
    let mass = tungsten * share / (tungsten * share + alloy * (1.0 - share));
    let money = 2400.0 * mass;
    let shown = core.displaced.unwrap().as_f64();
    assert!((shown / money - 1.0).abs() < 0.001, "{shown} {money}");
    assert!(all.contains(&format!("= {}", core.displaced.unwrap())), "{all}");
    // The number the exclusion rests on, and what would settle it, are said.
    assert!(explanation.steps.iter().any(|step| step.words.contains("3.29")), "{explanation:?}");
}

fn catalogued(material: &str) -> f64 {
    Catalogue::embedded().material(material).unwrap().density.value.as_g_per_cm3()
}

mod desk {
    use crate::bench::{Bench, GOLD_BAR, SILVER, reading};
    use crate::cli::Call;
    use chrono::FixedOffset;
    use scruple::desk::screen::Units;
    use scruple::evidence::Measurand;
    use scruple::present::evidence::{piece_page, piece_things};
    use scruple::scoring::Thing;

    #[test]
    fn everything_marked_on_the_page_about_a_piece_is_explained() {
        let mut bench = Bench::new();
        let lot = bench.lot(SILVER, 3, "");
        bench.log(lot, &[]);
        let light = bench.log(lot, &[(reading(Measurand::Mass), "30.9")]);
        let held = bench.desk().hold_piece(light.id, "a scratch").unwrap();
        bench.log(lot, &[(reading(Measurand::Conductivity), "-")]);
        let gold = bench.lot(GOLD_BAR, 1, "");
        bench.log(gold, &[]);
        for number in ["S-0001/1-01", "S-0001/1-02", "S-0001/1-03", "S-0002/1-01"] {
            let piece = bench.desk().find_piece(number).unwrap();
            let explained = bench.desk().explain(number).unwrap();
            for thing in piece_things(&piece) {
                let explanation = explained.of(&thing).unwrap_or_else(|| panic!("{number}: {thing:?}"));
                assert!(
                    !explanation.title.is_empty()
                        && (explanation.cause.is_some() || !explanation.result.is_empty()),
                    "{explanation:?}"
                );
                assert!(!explanation.steps.is_empty(), "{number}: {explanation:?}");
            }
        }
        let mine = bench.desk().explain(&held.number).unwrap();
        let by_hand = mine.things.iter().find(|one| {
            let cause = one.cause.as_ref().map(|(cause, _)| cause);
            matches!(cause, Some(scruple::scoring::Cause::Said { text }) if text.contains("a scratch"))
        });
        let by_hand = by_hand.unwrap();
        assert!(by_hand.sources[0].text.starts_with("put on hold by MIRA on 2026-"), "{by_hand:?}");
    }

    #[test]
    fn the_page_says_first_why_a_piece_is_held() {
        let mut bench = Bench::new();
        let lot = bench.lot(GOLD_BAR, 1, "");
        let piece = bench.log(lot, &[]);
        let page = piece_page(&piece, 76, FixedOffset::east_opt(0).unwrap(), &Units::default());
        let (row, first) = page.things.iter().find(|(_, thing)| *thing != Thing::Score).unwrap();
        assert!(matches!(first, Thing::Hold(_)), "{first:?}");
        assert!(*row < 12, "{row}");
    }

    #[test]
    fn a_piece_scored_by_other_rules_is_explained_by_those() {
        let mut bench = Bench::new();
        let lot = bench.lot(SILVER, 1, "");
        let piece = bench.log(lot, &[]);
        let before = bench.desk().explain(&piece.number).unwrap();
        let policy = include_str!("../../assets/desk/policy.toml");
        let other = policy.replace("inside = \"0.95\"", "inside = \"0.99\"");
        assert_ne!(policy, other);
        bench.desk().set_policy("policy.toml", &other).unwrap();
        let after = bench.desk().explain(&piece.number).unwrap();
        assert_eq!(before, after);
        let shown = |what: &str| after.named(what).unwrap().steps.last().unwrap().formula.clone();
        assert!(shown("mass-probability").contains("p = 0.95"), "{}", shown("mass-probability"));
    }

    #[test]
    fn the_subcommand_lists_explains_and_refuses() {
        let folder = tempfile::tempdir().unwrap();
        Call::new(&folder, &["demo", "--book", "a.book", "--no-screen"]).done();
        let list = Call::new(&folder, &["explain", "S-0001/1-01"]).done();
        assert!(list.contains("mass-limits") && list.contains("  score"), "{list}");
        let page = Call::new(&folder, &["explain", "S-0001/1-01", "mass-limits"]).done();
        assert!(page.contains("How it comes about") && page.contains("lower limit"), "{page}");
        let number = list.lines().find(|line| line.contains(" mass-limits ")).unwrap();
        let number = number.split_whitespace().next().unwrap();
        assert_eq!(Call::new(&folder, &["explain", "S-0001/1-01", number]).done(), page);
        let json = Call::new(&folder, &["explain", "S-0001/1-01", "mass-limits", "--json"]).json(0);
        assert_eq!(json["schema"], 1);
        assert_eq!(json["explanation"]["what"], "mass-limits");
        let output = Call::new(&folder, &["explain", "S-0001/1-01", "colour"]).run();
        assert_eq!(output.status.code(), Some(2));
        let said = String::from_utf8(output.stderr).unwrap();
        assert!(
            said.contains("`colour`") && said.contains("hint: `scruple explain S-0001/1-01` lists them"),
            "{said}"
        );
    }
}
