//! The products of the day, how their pieces are measured where the reference states no size, and the kinds of false pieces.

use super::truth::{Build, Face, Metal, Truth};
use scruple::metrology::seeded::SplitMix64;
use scruple::reference::{Catalogue, Magnetism, Product};
use scruple::scoring::DoubtKind;

/// A product as pieces of it lie on the desk.
#[derive(Debug, Clone, Copy)]
pub struct Line {
    pub label: &'static str,
    pub product: &'static str,
    /// Price of a troy ounce in euro.
    pub price: &'static str,
    pub face: Face,
    /// Thickness in mm: what pieces have, stated by the reference or by common practice.
    pub thickness: f64,
    pub circulated: bool,
}

const fn line(
    label: &'static str,
    product: &'static str,
    price: &'static str,
    face: Face,
    thickness: f64,
    circulated: bool,
) -> Line {
    Line { label, product, price, face, thickness, circulated }
}

const GOLD: &str = "2400";
const SILVER: &str = "30";
const PLATINUM: &str = "1000";

/// Sizes of bars and of older coins: common practice, no source.
pub const LINES: [Line; 17] = [
    line("fine gold ounce coin", "us-5112-a11", GOLD, Face::Disc(32.7), 2.95, false),
    line("22 ct ounce coin", "us-5112-a7", GOLD, Face::Disc(32.7), 2.87, false),
    line("22 ct half ounce coin", "us-5112-a8", GOLD, Face::Disc(27.0), 2.24, false),
    line("22 ct tenth ounce coin", "us-5112-a10", GOLD, Face::Disc(16.5), 1.26, false),
    line("900 gold 20 francs, worn", "lmu-gold-20", GOLD, Face::Disc(21.0), 1.28, true),
    line("22 ct 7.99 g pound, worn", "uk-1870-pound", GOLD, Face::Disc(22.05), 1.52, true),
    line("gold bar 1 g", "bar-gold-9999-1g", GOLD, Face::Plate(15.0, 8.7), 0.41, false),
    line("gold bar 1 oz", "bar-gold-9999-1ozt", GOLD, Face::Plate(41.0, 24.0), 1.70, false),
    line("gold bar 10 oz", "bar-gold-9999-10ozt", GOLD, Face::Plate(82.0, 47.0), 4.3, false),
    line("gold bar 1 kg", "bar-gold-9999-1kg", GOLD, Face::Plate(115.0, 52.0), 9.0, false),
    line("silver ounce coin 999", "us-5112-e", SILVER, Face::Disc(40.6), 2.98, false),
    line("silver ounce coin 999.9", "ca-silver-5", SILVER, Face::Disc(38.0), 3.29, false),
    line("900 silver dollar, worn", "us-1837-dollar", SILVER, Face::Disc(38.1), 2.6, true),
    line("silver bar 100 oz", "bar-silver-999-100ozt", SILVER, Face::Plate(180.0, 80.0), 21.5, false),
    line("silver bar 1 kg", "bar-silver-999-1kg", SILVER, Face::Plate(115.0, 62.0), 14.0, false),
    line("platinum ounce coin", "us-5112-k-100", PLATINUM, Face::Disc(32.7), 2.39, false),
    line("palladium ounce bar", "bar-palladium-9995-1ozt", PLATINUM, Face::Plate(41.0, 24.0), 2.70, false),
];

/// Returns the line of a product.
pub fn line_of(product: &str) -> &'static Line {
    LINES.iter().find(|line| line.product == product).expect("a line of the day")
}

/// Draws a good piece: metal about the published values, fill of its envelope 1 % (bars 0.4 %), size 0.1 %, mass 0.05 % and never below
/// the lower limit of bars; worn pieces have lost 0.15 % on average (common practice, no source).
pub fn good(line: &Line, catalogue: &Catalogue, noise: &mut SplitMix64) -> Truth {
    let product = catalogue.product(line.product).unwrap_or_else(|| panic!("no {}", line.product));
    let alloy = catalogue.alloy_of(product);
    let outside = Metal::draw(alloy, noise);
    let truth = Truth {
        outside,
        inside: outside,
        build: Build::Solid,
        face: sized(line.face, noise),
        thickness: line.thickness,
        mass: mass(line, product, noise),
        surface_metal: match product.metal {
            scruple::reference::Metal::Gold => "Au",
            scruple::reference::Metal::Silver => "Ag",
            scruple::reference::Metal::Platinum => "Pt",
            _ => "Pd",
        },
        surface_percent: 100.0 * product.fineness.nominal.value.as_share(),
        magnetic: false,
    };
    truth.filling(fill(line, product, catalogue, noise))
}

fn sized(face: Face, noise: &mut SplitMix64) -> Face {
    let mut size = |value: f64| value * (1.0 + 0.001 * noise.standard_normal().clamp(-2.5, 2.5));
    match face {
        Face::Disc(diameter) => Face::Disc(size(diameter)),
        Face::Plate(length, width) => Face::Plate(size(length), size(width)),
    }
}

fn mass(line: &Line, product: &Product, noise: &mut SplitMix64) -> f64 {
    let nominal = product.mass.as_ref().expect("products of the day have a mass").nominal.value.as_grams();
    if line.circulated {
        let lost = -0.0015 * (1.0 - noise.uniform()).ln();
        return nominal * (1.0 - lost.min(0.0055));
    }
    let off = 0.0005 * noise.standard_normal().clamp(-2.5, 2.5);
    // Bars are made not to be light.
    if line.product.starts_with("bar-") { nominal * (1.0 + off.abs()) } else { nominal * (1.0 + off) }
}

fn fill(line: &Line, product: &Product, catalogue: &Catalogue, noise: &mut SplitMix64) -> f64 {
    let density = catalogue.alloy_of(product).density.value.as_g_per_cm3();
    let nominal = product.mass.as_ref().expect("as above").nominal.value.as_grams();
    let mean = 1000.0 * nominal / (density * line.face.area() * line.thickness);
    let scatter = if matches!(line.face, Face::Disc(_)) { 0.01 } else { 0.004 };
    (mean * (1.0 + scatter * noise.standard_normal().clamp(-2.5, 2.5))).min(0.995)
}

/// A kind of false piece.
#[derive(Clone, Copy)]
pub struct Kind {
    pub label: &'static str,
    pub product: &'static str,
    /// What lies inside, or the whole of a solid.
    pub material: Inside,
    /// Thinnest and thickest skin in mm; both 0 for a solid; negative for rods, with their share.
    pub skin: (f64, f64),
    /// Mass over that of a good piece.
    pub mass: f64,
    /// Kinds of doubts that name the right family.
    pub family: &'static [DoubtKind],
}

/// What a false piece is made of.
#[derive(Clone, Copy)]
pub enum Inside {
    Material(&'static str),
    /// A mixture of two by volume, the first with this share, which no list names.
    Mixture(&'static str, &'static str, f64),
    /// The declared alloy itself.
    Declared,
}

use DoubtKind::{HiddenCore, ThinPlate, Uneven, WeightOrSize, WrongAlloy};

const CORE: &[DoubtKind] = &[HiddenCore, ThinPlate, WrongAlloy];
const SOLID: &[DoubtKind] = &[WrongAlloy, ThinPlate];
const BY_WEIGHT: &[DoubtKind] = &[WeightOrSize, WrongAlloy, ThinPlate, HiddenCore];

const fn kind(
    label: &'static str,
    product: &'static str,
    material: Inside,
    skin: (f64, f64),
    mass: f64,
    family: &'static [DoubtKind],
) -> Kind {
    Kind { label, product, material, skin, mass, family }
}

use Inside::{Declared, Material as Of, Mixture};

pub const KINDS: [Kind; 20] = [
    kind("tungsten under 0.05-1.2 mm gold", "us-5112-a11", Of("W"), (0.05, 1.2), 1.0, CORE),
    kind("tungsten under 0.05-0.6 mm, bar", "bar-gold-9999-1ozt", Of("W"), (0.05, 0.6), 1.0, CORE),
    kind("heavy alloy in 22 ct", "us-5112-a7", Of("WHA"), (0.05, 1.0), 1.0, CORE),
    kind("tungsten carbide in 22 ct", "us-5112-a7", Of("WC-Co"), (0.05, 0.8), 1.0, BY_WEIGHT),
    kind("plated copper as gold", "us-5112-a11", Of("Cu"), (0.003, 0.02), 1.0, BY_WEIGHT),
    kind("plated brass as 22 ct", "us-5112-a7", Of("CuZn37"), (0.003, 0.02), 1.0, BY_WEIGHT),
    kind("plated lead as gold", "us-5112-a11", Of("Pb"), (0.003, 0.02), 1.0, BY_WEIGHT),
    kind("silver under gold", "us-5112-a11", Of("Ag"), (0.02, 0.5), 1.0, BY_WEIGHT),
    kind("14 ct as 22 ct", "us-5112-a7", Of("Au585Y"), (0.0, 0.0), 1.0, BY_WEIGHT),
    kind("18 ct as 22 ct", "us-5112-a7", Of("Au750Y"), (0.0, 0.0), 1.0, BY_WEIGHT),
    kind("900 as 999 silver", "us-5112-e", Of("Ag900Cu"), (0.0, 0.0), 1.0, SOLID),
    kind("925 as 999 silver", "us-5112-e", Of("Ag925Cu"), (0.0, 0.0), 1.0, SOLID),
    kind("lead in a silver kilobar", "bar-silver-999-1kg", Of("Pb"), (0.5, 3.0), 1.0, CORE),
    kind("tin-lead in a silver kilobar", "bar-silver-999-1kg", Of("PbSn"), (0.5, 3.0), 1.0, CORE),
    kind("gold kilobar with rods", "bar-gold-9999-1kg", Of("W"), (-0.15, -0.45), 1.0, &[HiddenCore, Uneven]),
    kind(
        "tin-zinc in a silver kilobar",
        "bar-silver-999-1kg",
        Mixture("Sn", "Zn", 0.5),
        (0.5, 3.0),
        1.0,
        CORE,
    ),
    kind("W-Pb mixture in 22 ct", "us-5112-a7", Mixture("W", "Pb", 0.75), (0.4, 0.9), 1.0, CORE),
    kind(
        "W-Cu mixture in a gold bar",
        "bar-gold-9999-10ozt",
        Mixture("W", "Cu", 0.85),
        (0.4, 1.5),
        1.0,
        CORE,
    ),
    kind("2 % light, gold", "us-5112-a7", Declared, (0.0, 0.0), 0.98, BY_WEIGHT),
    kind("2 % light, silver", "us-5112-e", Declared, (0.0, 0.0), 0.98, BY_WEIGHT),
];

/// Draws a false piece: of the mass of a good one, and as thick as that asks for.
pub fn false_piece(kind: &Kind, catalogue: &Catalogue, noise: &mut SplitMix64) -> Truth {
    let line = line_of(kind.product);
    let product = catalogue.product(line.product).expect("a product of the day");
    let mut truth = good(line, catalogue, noise);
    truth.mass *= kind.mass;
    let mut magnetic = false;
    let inside = match kind.material {
        Inside::Declared => truth.outside,
        Inside::Material(id) => {
            let material = catalogue.material(id).unwrap_or_else(|| panic!("no material {id}"));
            magnetic = material.magnetism.value == Magnetism::Ferromagnetic;
            Metal::draw(material, noise)
        }
        Inside::Mixture(first, second, share) => {
            let (a, b) = (Metal::of(catalogue, first, noise), Metal::of(catalogue, second, noise));
            let mixed = |a: f64, b: f64| share * a + (1.0 - share) * b;
            Metal {
                density: mixed(a.density, b.density),
                // Poorer than either, as mixtures of two phases are.
                sigma: 0.8 * a.sigma.min(b.sigma),
                velocity: 1.0 / mixed(1.0 / a.velocity, 1.0 / b.velocity),
                young: 1.0 / mixed(1.0 / a.young, 1.0 / b.young),
                poisson: mixed(a.poisson, b.poisson),
            }
        }
    };
    let (from, to) = kind.skin;
    let at = from + (to - from) * noise.uniform();
    truth.inside = inside;
    truth.magnetic = magnetic;
    truth.build = match at {
        0.0 => Build::Solid,
        share if share < 0.0 => Build::Rods { share: -share },
        skin => Build::Core { skin },
    };
    if matches!(truth.build, Build::Solid) {
        truth.outside = inside;
        if let Inside::Material(id) = kind.material {
            let fineness = catalogue.material(id).and_then(|material| material.fineness.as_ref());
            truth.surface_percent = fineness.map_or(0.0, |fineness| 100.0 * fineness.value.as_share());
        }
    }
    truth.filling(fill(line, product, catalogue, noise))
}
