//! The reference against statutes and handbooks, and the mistakes a dealer's own file can have.

use scruple::quantity::{Density, Fineness, Mass, Quantity, entry};
use scruple::reference::catalogue::{DEALER_EXAMPLE, EMBEDDED_FILES};
use scruple::reference::{
    Basis, BuiltAs, Catalogue, Mark, MaterialId, Metal, Mistakes, Origin, Practice, Product, Ranged,
    SourceId, Sourced, Specified,
};
use std::collections::BTreeSet;
use std::path::Path;

/// One grain in nanograms: 64.798 91 mg exactly.
///
/// Source: NIST Special Publication 811 (2008), Appendix B.8.
const GRAIN: i64 = 64_798_910;
/// One gram in nanograms.
const GRAM: i64 = 1_000_000_000;

fn product(id: &str) -> &'static Product {
    Catalogue::embedded().product(id).unwrap_or_else(|| panic!("no product `{id}`"))
}

fn nominal(id: &str) -> i64 {
    product(id).mass.as_ref().unwrap_or_else(|| panic!("no mass of `{id}`")).nominal.value.base()
}

/// Checks a nominal mass against an exact ratio of nanograms, rounded half up.
#[track_caller]
fn check_mass(id: &str, numerator: i64, denominator: i64) {
    let expected = (2 * i128::from(numerator) + i128::from(denominator)) / (2 * i128::from(denominator));
    assert_eq!(i128::from(nominal(id)), expected, "{id}");
}

/// Checks a nominal mass against grains written with one decimal.
#[track_caller]
fn check_grains(id: &str, tenths: i64) {
    check_mass(id, tenths * GRAIN, 10);
}

#[test]
fn united_states_gold_and_silver_weigh_their_statutory_grains() {
    // Coinage Act of 1873, 17 Stat. 424, sec. 14: 516, 258, 129, 77.4, 64.5 and 25.8 grains.
    check_grains("us-1873-double-eagle", 5160);
    check_grains("us-1873-eagle", 2580);
    check_grains("us-1873-half-eagle", 1290);
    check_grains("us-1873-three-dollar", 774);
    check_grains("us-1873-quarter-eagle", 645);
    check_grains("us-1873-gold-dollar", 258);
    // Sec. 15: trade-dollar 420 grains, half-dollar 12.5 g, quarter-dollar one half, dime one fifth of it.
    check_grains("us-1873-trade-dollar", 4200);
    check_mass("us-1873-half-dollar", 125 * GRAM, 10);
    check_mass("us-1873-quarter-dollar", 125 * GRAM, 20);
    check_mass("us-1873-dime", 125 * GRAM, 50);
    // Act of 18 January 1837, 5 Stat. 136, sec. 9: 412.5 grains.
    check_grains("us-1837-dollar", 4125);
}

#[test]
fn united_states_deviations_are_those_of_single_pieces() {
    // Coinage Act of 1873, secs. 36 and 37: half a grain, a quarter of a grain, one grain and a half.
    for (id, numerator, denominator) in [
        ("us-1873-double-eagle", 1, 2),
        ("us-1873-eagle", 1, 2),
        ("us-1873-half-eagle", 1, 4),
        ("us-1873-gold-dollar", 1, 4),
        ("us-1837-dollar", 3, 2),
        ("us-1873-dime", 3, 2),
    ] {
        let mass = product(id).mass.as_ref().unwrap();
        let deviation = (numerator * GRAIN + denominator / 2) / denominator;
        assert_eq!(mass.minus.as_ref().unwrap().value.base(), deviation, "{id}");
        assert_eq!(mass.plus.as_ref().unwrap().value.base(), deviation, "{id}");
    }
}

#[test]
fn latin_union_gold_is_cut_from_the_kilogram_and_prints_as_the_convention_does() {
    // 155 pieces of 20 francs to the kilogram; Monetary Convention of 23 December 1865, art. 2, prints the grams.
    for (francs, printed) in
        [(100, "32.25806"), (50, "16.12903"), (20, "6.45161"), (10, "3.22580"), (5, "1.61290")]
    {
        let id = format!("lmu-gold-{francs}");
        check_mass(&id, 1000 * GRAM * francs, 155 * 20);
        let printed = entry::parse::<Mass>(printed).unwrap();
        // The convention cuts the digits off; it does not round them.
        let cut = nominal(&id) - printed.value.base();
        assert!((0..printed.step).contains(&cut), "{id}: {cut} ng");
    }
    // The same convention, arts. 3 and 4: 25, 10, 5, 2.5 and 1 g of silver.
    for (id, milligrams) in [
        ("lmu-silver-5", 25_000),
        ("lmu-silver-2", 10_000),
        ("lmu-silver-1", 5_000),
        ("lmu-silver-050", 2_500),
        ("lmu-silver-020", 1_000),
    ] {
        check_mass(id, milligrams * GRAM, 1000);
    }
}

#[test]
fn german_scandinavian_and_austrian_gold_is_cut_from_the_kilogram() {
    // Reich law of 4 December 1871, sec. 1: 139.5 pieces of 10 mark from a pound (500 g) of fine gold, 900/1000.
    for mark in [20, 10, 5] {
        check_mass(&format!("de-gold-{mark}"), 500 * GRAM * mark * 10 * 10, 1395 * 10 * 9);
    }
    // Coinage Act of 9 July 1873, art. 3: 100 mark from a pound of fine silver, 900/1000.
    for (id, pfennig) in
        [("de-silver-5", 500), ("de-silver-3", 300), ("de-silver-2", 200), ("de-silver-1", 100)]
    {
        check_mass(id, 500 * GRAM * pfennig * 10, 10_000 * 9);
    }
    // Scandinavian convention of 1872/73, art. II: 124 pieces of 20 kronor from a kilogram of fine gold, 900/1000.
    for kronor in [20, 10, 5] {
        check_mass(&format!("sc-gold-{kronor}"), 1000 * GRAM * kronor * 10, 124 * 20 * 9);
    }
    // Law of 2 August 1892: 2952 corona from a kilogram of gold of 900/1000.
    for corona in [100, 20, 10] {
        check_mass(&format!("at-1892-{corona}"), 1000 * GRAM * corona, 2952);
    }
    // Coinage treaty of 24 January 1857, art. 18: 45 Kronen weigh a pound.
    check_mass("de-at-1857-krone", 500 * GRAM, 45);
}

#[test]
fn the_irish_gold_pound_weighs_its_grains_and_prints_as_the_british_schedule_does() {
    // Currency Act 1927 (Ireland), sec. 4: 123.27447 grains. Coinage Act 1870, First Schedule: 7.98805 g.
    check_mass("ie-1927-gold-pound", 12_327_447 * GRAIN, 100_000);
    let printed = entry::parse::<Mass>("7.98805 g").unwrap();
    assert!((nominal("ie-1927-gold-pound") - printed.value.base()).abs() <= printed.step / 2);
    // Least current weight in the same schedule: 122.5 grains, printed as 7.93787 g.
    let least = product("ie-1927-gold-pound").least_current_mass.as_ref().unwrap().value;
    assert_eq!(least.show(5), "7.93787 g");
}

#[test]
fn mexican_gold_weighs_its_fractions_of_a_gram() {
    // Decree of 14 September 1921: 41 2/3 g, 37.5 g fine. Decree of 1 August 1917: 16 2/3 g. Law of 1905: 0.75 g a peso.
    check_mass("mx-gold-50", 125 * GRAM, 3);
    check_mass("mx-gold-20", 50 * GRAM, 3);
    check_mass("mx-gold-10", 25 * GRAM, 3);
    check_mass("mx-gold-5", 25 * GRAM, 6);
    for (id, milligrams) in [("mx-gold-50", 37_500), ("mx-gold-20", 15_000), ("mx-gold-10", 7_500)] {
        let coin = product(id);
        let fine = coin.fineness.nominal.value.fine_mass(coin.mass.as_ref().unwrap().nominal.value);
        assert_eq!(fine.show(6), format!("{}.{:03}000 g", milligrams / 1000, milligrams % 1000), "{id}");
        assert_eq!(coin.nominal_fine_mass().unwrap().show(6), fine.show(6), "{id}");
    }
}

#[test]
fn stated_fine_content_agrees_with_mass_and_fineness() {
    // 31 U.S.C. 5112(a)(7) to (10): one, a half, a quarter and a tenth of a troy ounce of fine gold.
    for (id, divisor) in [("us-5112-a7", 1), ("us-5112-a8", 2), ("us-5112-a9", 4), ("us-5112-a10", 10)] {
        let coin = product(id);
        let stated = coin.fine_content.as_ref().unwrap();
        assert_eq!(stated.nominal.value.base(), 480 * GRAIN / divisor, "{id}");
        assert_eq!(stated.minus.as_ref().unwrap().value.base(), 0, "31 U.S.C. 5113(a), {id}");
        // The statute rounds the mass to a milligram, so the products agree to half of that.
        let derived = coin.fineness.nominal.value.fine_mass(coin.mass.as_ref().unwrap().nominal.value);
        assert!((derived.base() - stated.nominal.value.base()).abs() <= GRAM / 2000, "{id}");
    }
}

#[test]
fn the_nominal_mass_of_a_generic_bar_is_exact_in_its_unit() {
    // Troy ounce 480 grains, tola 180 grains (NIST SP 811, App. B.8, and from memory); Hong Kong tael 37.429 g (from memory).
    check_mass("bar-gold-9999-1ozt", 480 * GRAIN, 1);
    check_mass("bar-gold-9999-0.1ozt", 48 * GRAIN, 1);
    check_mass("bar-silver-999-100ozt", 48_000 * GRAIN, 1);
    check_mass("bar-gold-999-10tola", 1800 * GRAIN, 1);
    check_mass("bar-gold-995-5tael", 5 * 37_429 * GRAM, 1000);
    check_mass("bar-platinum-9995-2.5g", 25 * GRAM, 10);
    check_mass("bar-palladium-9995-1kg", 1000 * GRAM, 1);
}

#[test]
fn generic_bars_have_the_deviations_of_common_practice_and_say_that_they_are_assumed() {
    // Common practice, no source: minus the larger of 0.02 g and 0.1 %, plus the larger of 0.05 g and 0.5 %.
    let catalogue = Catalogue::embedded();
    let bars: Vec<&Product> =
        catalogue.products().filter(|product| product.authority == "common practice").collect();
    // Seven kinds of metal in 15 sizes each, and 7 more sizes for each of the three kinds of gold.
    assert_eq!(bars.len(), 7 * 15 + 3 * 7);
    for bar in bars {
        let mass = bar.mass.as_ref().unwrap();
        let (minus, plus) = (mass.minus.as_ref().unwrap(), mass.plus.as_ref().unwrap());
        let share = mass.nominal.value.base() / 1000;
        // The file writes tolerances to a tenth of a milligram.
        let half_a_digit = GRAM / 20_000;
        assert!((minus.value.base() - share.max(GRAM / 50)).abs() <= half_a_digit, "{}", bar.id);
        assert!((plus.value.base() - (5 * share).max(GRAM / 20)).abs() <= half_a_digit, "{}", bar.id);
        assert_eq!((minus.mark, plus.mark), (Mark::Assumed, Mark::Assumed), "{}", bar.id);
        assert_eq!(bar.fineness.basis, Basis::Minimum, "{}", bar.id);
    }
}

#[test]
fn silver_alloys_have_the_density_of_their_mixture() {
    // Ideal mixing of volumes (from memory; real alloys of silver and copper are up to 0.7 % lighter), with the densities
    // of the pure metals in pymatgen 2026.10.24: silver 10.49, copper 8.92 g/cm3.
    let catalogue = Catalogue::embedded();
    let mut checked = 0;
    for material in catalogue.materials().filter(|m| m.metal == Metal::Silver && m.id.as_str() != "Ag") {
        let silver = material.fineness.as_ref().unwrap().value.as_share();
        let ideal = Density::from_g_per_cm3(1.0 / (silver / 10.49 + (1.0 - silver) / 8.92));
        assert!(within(&material.density, ideal), "{}: {}", material.id, ideal.show(3));
        checked += 1;
    }
    assert_eq!(checked, 15);
}

fn within<T: Copy + PartialOrd>(range: &Ranged<T>, value: T) -> bool {
    range.low <= value && value <= range.high
}

#[test]
fn conductivities_hold_the_figures_of_standards_and_handbooks() {
    let conductivity = |id: &str, typed: &str| {
        let material = Catalogue::embedded().material(id).unwrap();
        let value = entry::parse(typed).unwrap().value;
        assert!(within(&material.conductivity, value), "{id}: {typed}");
    };
    // IEC 60028 (1925): annealed copper is 58 MS/m at 20 °C.
    conductivity("Cu", "58 MS/m");
    // Platinum Metals Review 16 (1972) 59: 10.62, 10.68 and 4.73 microhm cm at 20 °C, reduced from 0 °C.
    conductivity("Pt", "9.42 MS/m");
    conductivity("Pd", "9.36 MS/m");
    conductivity("Rh", "21.1 MS/m");
    // Materials database, pages for ASTM B617 and B628: 83 and 84 %IACS.
    conductivity("Ag900Cu", "83 %IACS");
    conductivity("Ag720Cu", "84 %IACS");
    // Electromagnetic Testing, Table 5.1: tungsten 18.2 MS/m; silver 105 %IACS.
    conductivity("W", "18.2 MS/m");
    conductivity("Ag", "105 %IACS");
}

/// Collects the sources of every value of a product.
fn product_sources(product: &Product) -> Vec<(&'static str, &[SourceId])> {
    fn specified<'a, T>(
        name: &'static str,
        field: Option<&'a Specified<T>>,
        all: &mut Vec<(&'static str, &'a [SourceId])>,
    ) {
        let Some(field) = field else { return };
        let values = [Some(&field.nominal), field.minus.as_ref(), field.plus.as_ref()];
        all.extend(values.into_iter().flatten().map(|value: &Sourced<T>| (name, value.sources.as_slice())));
    }
    let mut all = vec![("product", product.sources.as_slice()), ("alloy", product.alloy.sources.as_slice())];
    specified("fineness", Some(&product.fineness), &mut all);
    specified("mass", product.mass.as_ref(), &mut all);
    specified("fine_content", product.fine_content.as_ref(), &mut all);
    for (name, dimension) in [
        ("diameter", &product.diameter),
        ("thickness", &product.thickness),
        ("length", &product.length),
        ("width", &product.width),
    ] {
        specified(name, dimension.as_ref(), &mut all);
    }
    for bounds in [&product.mass_range, &product.fine_content_range].into_iter().flatten() {
        all.push(("range", &bounds.sources));
    }
    for value in [&product.weighing_step, &product.least_current_mass].into_iter().flatten() {
        all.push(("mass", &value.sources));
    }
    all
}

#[test]
fn every_value_has_a_source_that_is_listed_and_every_listed_source_is_used() {
    let catalogue = Catalogue::embedded();
    let mut used: BTreeSet<&str> = BTreeSet::new();
    let mut check = |record: &str, field: &str, sources: &'static [SourceId]| {
        assert!(!sources.is_empty(), "{record}, {field}");
        for id in sources {
            assert!(catalogue.source(id.as_str()).is_some(), "{record}, {field}: {id}");
            used.insert(id.as_str());
        }
    };
    for product in catalogue.products() {
        for (field, sources) in product_sources(product) {
            check(product.id.as_str(), field, sources);
        }
    }
    for material in catalogue.materials() {
        let id = material.id.as_str();
        check(id, "density", &material.density.sources);
        check(id, "conductivity", &material.conductivity.sources);
        check(id, "sound_velocity", &material.sound_velocity.sources);
        check(id, "youngs_modulus", &material.youngs_modulus.sources);
        check(id, "poisson_ratio", &material.poisson_ratio.sources);
        check(id, "magnetism", &material.magnetism.sources);
        for found in &material.found {
            check(id, &found.field, std::slice::from_ref(&found.source));
        }
        if let Some(fineness) = &material.fineness {
            check(id, "fineness", &fineness.sources);
        }
        if let Some(coefficient) = &material.temperature_coefficient {
            check(id, "temperature_coefficient", &coefficient.sources);
        }
        if let Some(susceptibility) = &material.susceptibility {
            check(id, "susceptibility", &susceptibility.sources);
        }
    }
    for entry in catalogue.practice_entries() {
        check(entry.material.as_str(), "practice", &entry.sources);
    }
    for worth in catalogue.worth_entries() {
        check(worth.material.as_str(), "worth", &worth.per_kg.sources);
    }
    let idle: Vec<&str> =
        catalogue.sources().map(|source| source.id.as_str()).filter(|id| !used.contains(id)).collect();
    assert!(idle.is_empty(), "nothing names {idle:?}");
}

#[test]
fn every_product_has_an_alloy_of_its_metal_at_about_its_fineness() {
    let catalogue = Catalogue::embedded();
    for product in catalogue.products() {
        let alloy = catalogue.alloy_of(product);
        assert_eq!(alloy.metal, product.metal, "{}", product.id);
        let fineness = product.fineness.nominal.value.as_per_mille();
        let covered = alloy.fineness.as_ref().unwrap();
        let (low, high) = (covered.low.as_per_mille(), covered.high.as_per_mille());
        let close = low - 0.5 <= fineness && fineness <= high + 0.5;
        assert!(
            close || product.alloy.mark == Mark::Assumed,
            "{}: {fineness} in {low} to {high}",
            product.id
        );
    }
}

#[test]
fn the_folder_holds_nothing_that_is_not_embedded() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("assets/reference");
    let mut found = BTreeSet::new();
    for (prefix, folder) in [
        ("", folder.clone()),
        ("materials/", folder.join("materials")),
        ("products/", folder.join("products")),
    ] {
        for entry in std::fs::read_dir(folder).unwrap() {
            let name = entry.unwrap().file_name().into_string().unwrap();
            if name.ends_with(".toml") && name != "dealer-example.toml" {
                found.insert(format!("{prefix}{name}"));
            }
        }
    }
    let embedded: BTreeSet<String> = EMBEDDED_FILES.iter().map(|(name, _)| (*name).to_owned()).collect();
    assert_eq!(found, embedded);
}

#[test]
fn a_material_is_compared_by_metal_and_fineness() {
    let catalogue = Catalogue::embedded();
    let check = |material: &str, metal, fineness: &str, expected: bool| {
        let fineness = entry::parse::<Fineness>(fineness).unwrap().value;
        let material = catalogue.material(material).unwrap();
        assert_eq!(material.is_at_least(metal, fineness), expected, "{} and {fineness:?}", material.id);
    };
    check("Ag", Metal::Silver, "999", true);
    check("Ag", Metal::Silver, "999.9", true);
    check("Ag925Cu", Metal::Silver, "900", true);
    check("Ag900Cu", Metal::Silver, "999", false);
    check("Au9999", Metal::Gold, "22 ct", true);
    check("Au9167Cu", Metal::Gold, "22 ct", true);
    check("Au900Cu", Metal::Gold, "22 ct", false);
    check("Au", Metal::Silver, "900", false);
    check("W", Metal::Other, "900", false);
}

#[test]
fn the_watch_list_tells_what_has_been_met_from_what_has_not() {
    // Common practice, no source.
    let catalogue = Catalogue::embedded();
    let check = |metal, built, material: &str, expected| {
        assert_eq!(
            catalogue.practice(metal, built, &MaterialId::new(material)),
            expected,
            "{metal} {material}"
        );
    };
    check(Metal::Gold, BuiltAs::Core, "W", Practice::Met);
    check(Metal::Gold, BuiltAs::Core, "Ta", Practice::Feasible);
    check(Metal::Gold, BuiltAs::Core, "U-DU", Practice::Remote);
    check(Metal::Gold, BuiltAs::Solid, "Au585Y", Practice::Met);
    check(Metal::Silver, BuiltAs::Core, "PbSn", Practice::Met);
    check(Metal::Platinum, BuiltAs::Core, "Au", Practice::Remote);
    // What is in no list is feasible.
    check(Metal::Palladium, BuiltAs::Core, "Ti", Practice::Feasible);
    check(Metal::Gold, BuiltAs::Core, "no-such-material", Practice::Feasible);
    // A pure metal under a piece that is declared poorer would cost the forger more than the piece.
    for material in catalogue.materials().filter(|material| material.metal == Metal::Gold) {
        assert_eq!(catalogue.practice(Metal::Gold, BuiltAs::Core, &material.id), Practice::Remote);
    }
}

#[test]
fn base_materials_have_a_price_and_precious_ones_have_none() {
    let catalogue = Catalogue::embedded();
    for material in catalogue.materials() {
        let expected = material.metal == Metal::Other;
        assert_eq!(catalogue.worth_per_kg(&material.id).is_some(), expected, "{}", material.id);
    }
}

#[test]
fn a_desk_moves_an_entry_of_the_watch_list_and_changes_the_version() {
    let embedded = Catalogue::embedded();
    let entry = "[[practice]]\nmetal = \"gold\"\nbuilt = \"core\"\nmaterial = \"Ta\"\nclass = \"met\"\n\
                 mark = \"assumed\"\nsources = [\"common-practice\"]\n";
    let own = embedded.with_dealer("own.toml", entry).unwrap();
    let tantalum = MaterialId::new("Ta");
    assert_eq!(own.practice(Metal::Gold, BuiltAs::Core, &tantalum), Practice::Met);
    assert_eq!(embedded.practice(Metal::Gold, BuiltAs::Core, &tantalum), Practice::Feasible);
    assert_eq!(own.practice_entries().len(), embedded.practice_entries().len());
    assert_ne!(own.version(), embedded.version());
    let own = embedded.with_dealer("example", DEALER_EXAMPLE).unwrap();
    assert_eq!(own.practice(Metal::Silver, BuiltAs::Core, &MaterialId::new("Mo")), Practice::Met);
    assert_eq!(own.worth_per_kg(&MaterialId::new("Mo")), Some(52.0));
}

#[test]
fn mistakes_of_a_watch_list_are_named_with_their_place() {
    let text = "[[practice]]\nmetal = \"other\"\nbuilt = \"rod\"\nmaterial = \"Wo\"\nclass = \"seen\"\n\
                mark = \"assumed\"\nsources = [\"common-practice\"]\n\
                [[worth]]\nmaterial = \"Agg\"\nper_kg = 1\nmark = \"assumed\"\nsources = [\"common-practice\"]\n\
                [[worth]]\nmaterial = \"Ag\"\nper_kg = 1\nmark = \"assumed\"\nsources = [\"common-practice\"]\n\
                [[worth]]\nmaterial = \"Ag\"\nper_kg = 2\nmark = \"assumed\"\nsources = [\"common-practice\"]\n";
    let mistakes = Catalogue::embedded().with_dealer("own.toml", text).unwrap_err().to_string();
    for part in [
        "own.toml:2:9: `metal`: `other` is not one of `gold`, `silver`, `platinum`, `palladium`",
        "own.toml:3:9: `built`: `rod` is not one of `solid`, `core`",
        "own.toml:5:9: `class`: `seen` is not one of `met`, `feasible`, `remote`",
        "own.toml:9:12: `material`: material `Agg` is not known; closest: `Ag`",
        "the worth of `Ag` does not take `per_kg`: a material of a precious metal is valued by the price",
        "worth of `Ag` stands already at own.toml:14:12",
    ] {
        assert!(mistakes.contains(part), "{part}\n{mistakes}");
    }
}

#[test]
fn a_misspelled_product_finds_its_neighbours() {
    let catalogue = Catalogue::embedded();
    assert_eq!(catalogue.closest_products("us-5121-a7").first(), Some(&"us-5112-a7"));
    assert_eq!(catalogue.closest_products("bar-gold-9999-100gr").first(), Some(&"bar-gold-9999-100g"));
    assert!(catalogue.closest_products("qqqqqqqqqqqq").is_empty());
    assert_eq!(catalogue.closest_materials("ag925cu").first(), Some(&"Ag925Cu"));
}

#[test]
fn the_dealers_example_adds_one_product_and_overrides_another_in_its_place() {
    let embedded = Catalogue::embedded();
    let own = embedded.with_dealer("dealer-example.toml", DEALER_EXAMPLE).unwrap();
    assert!(embedded.product("own-pond-medal").is_none());
    assert_eq!(own.product("own-pond-medal").unwrap().origin, Origin::Dealer);
    assert_eq!(own.products().len(), embedded.products().len() + 1);
    let place = |catalogue: &Catalogue| {
        catalogue.products().position(|product| product.id.as_str() == "bar-gold-9999-100g")
    };
    assert_eq!(place(&own), place(embedded));
    let bar = own.product("bar-gold-9999-100g").unwrap();
    assert_eq!(bar.mass.as_ref().unwrap().plus.as_ref().unwrap().value.show(2), "0.05 g");
    assert_ne!(own.version(), embedded.version());
    assert_eq!(own.version().len(), 12);
}

fn mistakes(text: &str) -> Vec<(usize, usize, String)> {
    let Err(Mistakes(list)) = Catalogue::embedded().with_dealer("own.toml", text) else {
        panic!("the file was accepted:\n{text}")
    };
    list.into_iter().map(|m| (m.place.line, m.place.column, m.reason.to_string())).collect()
}

/// Checks lines and reasons of all mistakes; a reason is checked by a part of it.
#[track_caller]
fn check_mistakes(text: &str, expected: &[(usize, &str)]) {
    let found = mistakes(text);
    let lines: Vec<usize> = found.iter().map(|(line, ..)| *line).collect();
    assert_eq!(lines, expected.iter().map(|(line, _)| *line).collect::<Vec<_>>(), "{found:#?}");
    for ((_, _, reason), (_, part)) in found.iter().zip(expected) {
        assert!(reason.contains(part), "`{reason}` does not say `{part}`");
    }
}

const FAULTY: &str = r#"[[product]]
id = "own-a"
kind = "coyn"
name = "invented piece"
authority = "nobody"
mark = "read"
sources = ["common-practise"]
metal = "silver"
shape = "round"
colour = "grey"
fineness.nominal = { value = "925", mark = "memory", sources = ["from-memory"] }
alloy = { value = "Ag952Cu", mark = "assumed", sources = ["from-memory"] }
mass.nominal = { value = "40 pounds", mark = "read", sources = ["from-memory"] }
diameter.nominal = { value = "45", mark = "read", sources = [] }
length.nominal = { value = "45 mm", mark = "read", sources = ["from-memory"] }
"#;

#[test]
fn every_mistake_of_a_dealers_file_is_reported_with_its_line() {
    check_mistakes(
        FAULTY,
        &[
            (3, "`kind`: `coyn` is not one of `coin`, `bar`"),
            (7, "`sources`: source `common-practise` is not known; closest: `common-practice`"),
            (10, "`colour` is not a field here; allowed are `id`, `kind`"),
            (13, "`mass.nominal.value`: mass `40 pounds`: unit `pounds` is not one of `g`"),
            (14, "`diameter.nominal.value`: `45` has no unit"),
            (14, "`diameter.nominal.sources` names no source"),
            (15, "a round product has no `length`"),
        ],
    );
    assert_eq!(mistakes(FAULTY)[3].1, 26, "the column of the value itself");
}

#[test]
fn mistakes_between_records_are_found_too() {
    let alloy = FAULTY
        .replace("coyn", "bar")
        .replace("practise", "practice")
        .replace("colour = \"grey\"\n", "")
        .replace("40 pounds", "40 g")
        .replace(
            "\"45\", mark = \"read\", sources = []",
            "\"45 mm\", mark = \"read\", sources = [\"from-memory\"]",
        )
        .replace("length", "thickness");
    check_mistakes(&alloy, &[(11, "material `Ag952Cu` is not known; closest: `Ag925Cu`")]);
    let gold = alloy.replace("Ag952Cu", "Au9999");
    check_mistakes(&gold, &[(11, "product `own-a` is of silver, but its alloy `Au9999` is of gold")]);
    let twice = alloy.replace("Ag952Cu", "Ag925Cu").repeat(2);
    check_mistakes(&twice, &[(16, "product `own-a` stands already at own.toml:2:6")]);
    let heavy = alloy.replace("Ag952Cu", "Ag925Cu")
        + "fine_content.nominal = { value = \"41 g\", mark = \"read\", sources = [\"from-memory\"] }\n";
    check_mistakes(&heavy, &[(15, "fine content `41 g` is larger than the gross mass `40 g`")]);
}

#[test]
fn a_material_with_a_value_outside_its_range_is_refused() {
    let material = r#"[[material]]
id = "OwnAlloy"
name = "invented alloy"
family = "silver-alloy"
metal = "silver"
density = { value = "10.6 g/cm3", low = "10.1 g/cm3", high = "10.5 g/cm3", mark = "read", sources = ["from-memory"] }
conductivity = { value = "50 MS/m", low = "48 MS/m", mark = "red", sources = ["from-memory"] }
sound_velocity = { value = "3650 m/s", low = "3600 m/s", high = "3700 m/s", mark = "read", sources = ["from-memory"] }
youngs_modulus = { value = "80 kg", low = "78 GPa", high = "82 GPa", mark = "read", sources = ["from-memory"] }
poisson_ratio = { value = 0.7, low = 0.36, high = 0.38, mark = "read", sources = ["from-memory"] }
magnetism = "non-magnetic"
"#;
    check_mistakes(
        material,
        &[
            (1, "material `OwnAlloy` is of silver: fineness is required"),
            (6, "`density`: value `10.6 g/cm3` is not between low `10.1 g/cm3` and high `10.5 g/cm3`"),
            (7, "`conductivity` has no field `high`"),
            (
                7,
                "`conductivity.mark`: `red` is not one of `read`, `derived`, `calculated`, `memory`, `assumed`",
            ),
            (9, "unit `kg` is not one of `GPa`, `MPa`"),
            (10, "`poisson_ratio.value`: 0.7 is out of range; allowed is 0 to 0.5"),
            (11, "`magnetism` is a string, expected a table"),
        ],
    );
}

#[test]
fn a_syntax_mistake_is_named_and_hides_no_other() {
    let text = FAULTY.replace("name = \"invented piece\"", "name = invented piece");
    let found = mistakes(&text);
    assert!(
        found.iter().any(|(line, _, reason)| *line == 4 && reason.starts_with("not valid TOML")),
        "{found:#?}"
    );
    assert!(found.iter().any(|(line, _, reason)| *line == 3 && reason.contains("coyn")), "{found:#?}");
    assert!(!found.iter().any(|(_, _, reason)| reason.contains("has no field")), "{found:#?}");
}

#[test]
fn a_damaged_file_gives_mistakes_inside_the_text_or_a_smaller_catalogue() {
    let lines = DEALER_EXAMPLE.lines().count();
    let ends = DEALER_EXAMPLE.char_indices().map(|(at, _)| at).step_by(97);
    for end in ends {
        match Catalogue::embedded().with_dealer("own.toml", &DEALER_EXAMPLE[..end]) {
            Ok(catalogue) => {
                assert!(catalogue.products().len() <= Catalogue::embedded().products().len() + 1)
            }
            Err(Mistakes(list)) => {
                assert!(!list.is_empty());
                assert!(list.iter().all(|m| (1..=lines).contains(&m.place.line) && m.place.column >= 1));
            }
        }
    }
}

#[test]
fn a_dealer_can_make_a_material_wrong_for_products_that_use_it() {
    let file = EMBEDDED_FILES.iter().find(|(name, _)| *name == "materials/silver-alloys.toml").unwrap().1;
    let start = file.find("[[material]]\nid = \"Ag925Cu\"").unwrap();
    let end = start + file[start..].find("\n]\n").unwrap() + 3;
    let changed = file[start..end].replace("metal = \"silver\"", "metal = \"gold\"");
    let found = mistakes(&changed);
    assert!(found.len() > 5 && found.iter().all(|(line, ..)| *line == 2), "{found:#?}");
    assert!(found[0].2.contains("its alloy `Ag925Cu` is of gold"), "{}", found[0].2);
}
