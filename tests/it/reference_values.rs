//! The numbers of the reference against physics, against what its sources print, and against the desk that uses them.

use super::reach::{desk, with};
use scruple::evidence::{Measurand, Probe};
use scruple::metrology::seeded::SplitMix64;
use scruple::physics::elastic::Elastic;
use scruple::physics::temperature::alloy_alpha;
use scruple::physics::wear::worn_off_g;
use scruple::quantity::{Mass, Quantity};
use scruple::reference::catalogue::EMBEDDED_FILES;
use scruple::reference::gaps::{Field, gaps};
use scruple::reference::{Basis, Catalogue, Kind, Mark, Material, Metal, Product, Ranged, Shape};
use scruple::scoring::{Assessment, Exemplar, GoodPieces, Outcome, PieceSize, assess};
use std::f64::consts::PI;

/// Returns the share of its envelope that a product of nominal mass and sizes fills; `None` where a size is not given or only
/// bounded by law.
fn fill(product: &Product) -> Option<f64> {
    let mm = |size: &Option<scruple::reference::Specified<scruple::quantity::Length>>| {
        let size = size.as_ref().filter(|size| size.basis == Basis::Nominal)?;
        Some(size.nominal.value.as_millimetres())
    };
    let face = match product.shape {
        Shape::Round => PI / 4.0 * mm(&product.diameter)?.powi(2),
        _ => mm(&product.length)? * mm(&product.width)?,
    };
    let grams = product.mass.as_ref()?.nominal.value.as_grams();
    let density = Catalogue::embedded().alloy_of(product).density.value.as_g_per_cm3();
    Some(1000.0 * grams / (face * mm(&product.thickness)? * density))
}

#[test]
fn nominal_sizes_hold_the_metal_of_the_nominal_mass() {
    // A coin fills 0.60 to 0.97 of the box of its rim, a bar 0.90 to 1.00. Common practice, no source.
    let mut coins = 0;
    for product in Catalogue::embedded().products() {
        let Some(fill) = fill(product) else { continue };
        let (least, greatest) = if product.kind == Kind::Coin { (0.60, 0.97) } else { (0.90, 1.00) };
        assert!((least..=greatest).contains(&fill), "{}: {fill:.3}", product.id);
        coins += usize::from(product.kind == Kind::Coin);
    }
    assert!(coins >= 110, "only {coins} coins of known size");
}

/// Returns the ideal density of a metal of a fineness with copper for the rest and, of gold, with silver, in g/cm³.
///
/// Densities of the pure metals: pymatgen 2026.10.24 (10.49, 8.92, 19.32, 21.09, 12.02); platinum 21.45 from memory.
fn ideal(metal: Metal, share: f64) -> (f64, f64) {
    let (pure, least, most) = match metal {
        Metal::Gold => (19.3, 8.92, 10.49),
        Metal::Silver => (10.49, 8.92, 8.92),
        Metal::Platinum => (21.45, 8.92, 8.92),
        _ => (12.02, 8.92, 8.92),
    };
    let mixed = |other: f64| 1.0 / (share / pure + (1.0 - share) / other);
    (mixed(least), mixed(most))
}

#[test]
fn the_alloy_of_a_product_is_as_dense_as_its_fineness_makes_it() {
    // Ideal mixing of volumes (from memory); real alloys with copper are up to 1 % lighter.
    let catalogue = Catalogue::embedded();
    for product in catalogue.products() {
        let alloy = catalogue.alloy_of(product);
        let (least, most) = ideal(product.metal, product.fineness.nominal.value.as_share());
        let (low, high) = (alloy.density.low.as_g_per_cm3(), alloy.density.high.as_g_per_cm3());
        assert!(low <= most && 0.99 * least <= high, "{}: {least:.2} to {most:.2}, {}", product.id, alloy.id);
        if product.metal == Metal::Silver {
            assert!(low <= least && least <= high, "{}: {least:.2} in {low} to {high}", product.id);
        }
    }
}

#[test]
fn no_product_has_the_nearest_alloy_in_the_place_of_its_own() {
    let catalogue = Catalogue::embedded();
    for product in catalogue.products() {
        let covered = catalogue.alloy_of(product).fineness.as_ref().unwrap();
        let fineness = product.fineness.nominal.value.as_per_mille();
        let (low, high) = (covered.low.as_per_mille() - 0.5, covered.high.as_per_mille() + 0.5);
        assert!(low <= fineness && fineness <= high, "{}: {fineness} in {low} to {high}", product.id);
    }
}

#[test]
fn ring_and_ultrasound_of_one_material_agree() {
    // Isotropic elasticity (ASTM E494, from memory): velocity follows from modulus, Poisson's ratio and density.
    for material in Catalogue::embedded().materials() {
        let elastic = Elastic {
            young_gpa: material.youngs_modulus.value.as_gigapascals(),
            poisson: material.poisson_ratio.value,
            density_g_cm3: material.density.value.as_g_per_cm3(),
        };
        let found = elastic.longitudinal_velocity_m_s();
        let velocity = &material.sound_velocity;
        let (low, high) = (velocity.low.as_m_per_s(), velocity.high.as_m_per_s());
        assert!(low <= found && found <= high, "{}: {found:.0} m/s in {low} to {high}", material.id);
        let off = found / velocity.value.as_m_per_s() - 1.0;
        assert!(off.abs() < 0.05, "{}: {found:.0} m/s, {:+.1} %", material.id, 100.0 * off);
    }
}

#[test]
fn silver_copper_alloys_have_the_temperature_coefficient_of_the_rule() {
    let catalogue = Catalogue::embedded();
    let pure = catalogue.material("Ag").unwrap();
    let alpha =
        |material: &Material| material.temperature_coefficient.as_ref().unwrap().value.as_per_kelvin();
    let mut checked = 0;
    for material in catalogue.materials().filter(|m| m.metal == Metal::Silver && m.id.as_str() != "Ag") {
        let conductivity = |material: &Material| material.conductivity.value.as_ms_per_m();
        let rule = alloy_alpha(alpha(pure), conductivity(material), conductivity(pure));
        // Written with four decimals.
        assert!((alpha(material) - rule).abs() <= 0.000_051, "{}: {rule:.5}", material.id);
        checked += 1;
    }
    assert_eq!(checked, 15);
}

/// Returns the numbers that stand in a text.
fn numbers(text: &str) -> Vec<f64> {
    text.split(|c: char| !(c.is_ascii_digit() || c == '.'))
        .filter_map(|part| part.trim_matches('.').parse().ok())
        .collect()
}

/// Tells whether a value as written is one of the figures, rounded to its own digits.
fn stands_in(written: &str, figures: &[f64]) -> bool {
    let decimals = written.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    figures.iter().any(|figure| format!("{figure:.decimals$}") == written)
}

#[test]
fn what_is_marked_as_read_is_printed_in_the_source() {
    // 100 %IACS is 58 MS/m (IEC 60028).
    let mut checked = 0;
    for (file, text) in EMBEDDED_FILES.iter().filter(|(file, _)| file.starts_with("materials/")) {
        let parsed: toml::Table = text.parse().unwrap();
        for material in parsed["material"].as_array().unwrap() {
            let Some(found) = material.get("found").and_then(|found| found.as_array()) else { continue };
            for field in [
                "density",
                "conductivity",
                "temperature_coefficient",
                "sound_velocity",
                "youngs_modulus",
                "poisson_ratio",
            ] {
                let Some(value) = material.get(field).filter(|value| value["mark"].as_str() == Some("read"))
                else {
                    continue;
                };
                let written = match &value["value"] {
                    toml::Value::String(text) => text.split(' ').next().unwrap().to_owned(),
                    number => number.to_string(),
                };
                // Poisson's ratio is printed beside the modulus.
                let printed = found.iter().filter(|found| {
                    found["mark"].as_str() == Some("read")
                        && (found["field"].as_str() == Some(field)
                            || field == "poisson_ratio" && found["field"].as_str() == Some("youngs_modulus"))
                });
                let mut figures = Vec::new();
                for found in printed {
                    let text = found["printed"].as_str().unwrap();
                    figures.extend(numbers(text));
                    if text.contains("%IACS") {
                        figures.extend(numbers(text).into_iter().map(|iacs| 0.58 * iacs));
                    }
                }
                assert!(
                    stands_in(&written, &figures),
                    "{file}, {}, {field}: {written} is not among {figures:?}",
                    material["id"]
                );
                checked += 1;
            }
        }
    }
    assert!(checked > 60, "only {checked} values are marked as read");
}

#[test]
fn the_british_gold_pounds_keep_the_proportions_of_their_schedule() {
    // Coinage Act 1870, First Schedule (from memory): 123.27447 and 122.5 grains a pound, in proportion for the others.
    let product = |id: &str| Catalogue::embedded().product(id).unwrap();
    let grams = |mass: &Mass| mass.as_grams();
    let nominal = |id: &str| grams(&product(id).mass.as_ref().unwrap().nominal.value);
    let least = |id: &str| grams(&product(id).least_current_mass.as_ref().unwrap().value);
    for (id, pounds) in [
        ("uk-1870-5pound", 5.0),
        ("uk-1870-2pound", 2.0),
        ("uk-1870-pound", 1.0),
        ("uk-1870-10shilling", 0.5),
    ] {
        assert!((nominal(id) - pounds * 7.98805).abs() < 6e-5, "{id}");
        assert!((least(id) - pounds * 7.93787).abs() < 0.02, "{id}: {}", least(id));
    }
    assert!(product("uk-1870-pound").is_circulated_by_default());
    assert!(!product("us-5112-a7").is_circulated_by_default());
}

#[test]
fn wear_lies_between_the_two_rates_that_were_observed() {
    // W. S. Jevons 1868 (from memory): 0.043 grain a year from a pound, 0.069 grain from a half.
    let grain = 0.064_798_91;
    assert!(worn_off_g(22.05, 1.52, 1.0) > 0.043 * grain);
    assert!(worn_off_g(19.30, 0.99, 1.0) < 0.069 * grain);
}

#[test]
fn gaps_count_every_record_once() {
    let catalogue = Catalogue::embedded();
    let found = gaps(catalogue);
    let of = |field| found.iter().find(|gaps| gaps.field == field).unwrap();
    let coins = catalogue.products().filter(|product| product.kind == Kind::Coin).count();
    let thickness = of(Field::CoinThickness);
    assert_eq!(thickness.records(), coins);
    assert!(coins - thickness.missing.len() >= 110);
    assert_eq!(thickness.known[Mark::Assumed as usize], thickness.assumed.len());
    assert_eq!(of(Field::Density).records(), catalogue.materials().len());
    assert_eq!(of(Field::Alloy).records(), catalogue.products().len());
}

/// Products that miss the target, 5 of 321: of the dollar of 1873 a third, of the 2 g bar of platinum all are undecided, because the
/// coil is large for the piece or the metal thin for the frequency; the other three miss by one or two of a hundred. The figures
/// are of readings drawn from the uncertainties that scoring itself states: they say that limits and instruments fit each other,
/// not what a desk will see. The assumed low end of the conductivity of 999.9 gold (44 MS/m) bears on them.
const MISSES: [&str; 5] =
    ["us-1873-gold-dollar", "ca-gold-1", "mx-gold-2", "au-gold-15", "bar-platinum-9995-2g"];
/// Pieces drawn of each product.
const PIECES: u32 = 400;

/// Tells whether mass, sizes and, where it can be used, conductivity are inside.
fn inside(found: &Assessment) -> bool {
    found.checks.iter().all(|check| {
        check.outcome == Outcome::Inside
            || check.negligible
            || (check.measurand == Measurand::Conductivity && check.outcome == Outcome::NotUsable)
            || (check.outcome == Outcome::Missing)
    })
}

#[test]
fn good_pieces_of_every_product_are_inside_their_own_limits() {
    // The shipped desk, its meter compared with a piece of the alloy; the probe of the smallest uncertainty.
    // 97 of 100 new pieces and 95 of 100 circulated ones: the project's own target.
    let instruments = desk(true);
    let mut misses = Vec::new();
    let mut judged = 0;
    for product in Catalogue::embedded().products() {
        with(&instruments, product.id.as_str(), "100", |rules, declared| {
            let Ok(exemplar) = Exemplar::of(rules, product, &PieceSize::default()) else { return };
            let of_probe = |probe: &Probe| {
                let mut evidence = exemplar.evidence.clone();
                evidence.probe = Some(probe.clone());
                assess(rules, declared, &evidence)
            };
            // The smallest uncertainty of the conductivity; the largest number where it cannot be used.
            let u = |probe: &Probe| {
                let found = of_probe(probe);
                let mut checks = found.checks.iter();
                let check = checks.find(|check| check.measurand == Measurand::Conductivity);
                let usable = check.filter(|check| check.outcome != Outcome::NotUsable);
                usable.and_then(|check| check.u).map_or(f64::MAX, |u| u.value())
            };
            let best = instruments.probes.iter().min_by(|a, b| u(a).total_cmp(&u(b)));
            let probe = best.unwrap();
            if !inside(&of_probe(probe)) {
                let found = of_probe(probe);
                let checks: Vec<String> = found
                    .checks
                    .iter()
                    .map(|check| format!("{} {:?} {}", check.measurand, check.outcome, check.reason))
                    .collect();
                misses.push(format!(
                    "{}: a piece at its nominal measures: {}",
                    product.id,
                    checks.join(", ")
                ));
            }
            let good = GoodPieces::of(rules, product, &exemplar);
            let mut noise = SplitMix64::new(20_270_115);
            let mut within = 0;
            let mut reasons = std::collections::BTreeMap::<String, u32>::new();
            for _ in 0..PIECES {
                let piece = good.draw(&mut noise);
                let found = assess(rules, declared, &piece.read(rules, product, Some(probe), 1, &mut noise));
                within += u32::from(inside(&found));
                for check in &found.checks {
                    if check.outcome != Outcome::Inside && !check.negligible {
                        *reasons.entry(format!("{} {:?}", check.measurand, check.outcome)).or_default() += 1;
                    }
                }
            }
            judged += 1;
            let asked = if product.is_circulated_by_default() { 95 } else { 97 };
            if 100 * within < asked * PIECES {
                misses.push(format!("{}: {within} of {PIECES} inside, {reasons:?}", product.id));
            }
        });
    }
    println!("{judged} products judged, {} misses", misses.len());
    for miss in &misses {
        println!("  {miss}");
    }
    assert!(judged > 250, "only {judged} products could be judged");
    let missed: std::collections::BTreeSet<&str> =
        misses.iter().filter_map(|miss| miss.split(':').next()).collect();
    assert_eq!(missed, MISSES.into(), "{misses:#?}");
}

/// Tells whether a range holds a value.
fn holds<T: PartialOrd + Copy>(range: &Ranged<T>, value: T) -> bool {
    range.low <= value && value <= range.high
}

#[test]
fn fourteen_carat_gold_is_as_dense_as_its_recipes() {
    // Ideal mixing of volumes of customary recipes (recipes from memory); densities of the pure metals as in the catalogue.
    let catalogue = Catalogue::embedded();
    let density = |id: &str| catalogue.material(id).unwrap().density.value.as_g_per_cm3();
    let check = |id: &str, parts: &[(&str, f64)]| {
        let volume: f64 = parts.iter().map(|(metal, percent)| percent / density(metal)).sum();
        let ideal = scruple::quantity::Density::from_g_per_cm3(100.0 / volume);
        assert!(holds(&catalogue.material(id).unwrap().density, ideal), "{id}: {}", ideal.show(2));
    };
    check("Au585Y", &[("Au", 58.5), ("Ag", 20.5), ("Cu", 21.0)]);
    check("Au585Y", &[("Au", 58.5), ("Ag", 4.0), ("Cu", 31.2), ("Zn", 6.3)]);
    check("Au585R", &[("Au", 58.5), ("Cu", 41.5)]);
    check("Au585R", &[("Au", 58.5), ("Ag", 9.0), ("Cu", 32.5)]);
    check("Au585W", &[("Au", 58.5), ("Ni", 11.0), ("Cu", 22.0), ("Zn", 8.5)]);
    check("Au585W", &[("Au", 58.5), ("Pd", 14.0), ("Ag", 27.5)]);
}
