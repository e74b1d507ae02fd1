//! The genuine pieces: measures, and how they scatter. Sizes and blanks as such pieces are met (common practice, no source); the
//! legal figures that they are scored against stand in the reference.

use super::truth::{Aim, Face, Inside, Made, Metal, Piece, Scatter};
use scruple::metrology::seeded::SplitMix64;
use scruple::quantity::Length;
use scruple::reference::{Catalogue, Product};
use scruple::scoring::PieceSize;

/// One product as it is made.
#[derive(Debug, Clone, Copy)]
pub struct Spec {
    pub id: &'static str,
    pub name: &'static str,
    /// Price of a troy ounce of the fine metal, in euro.
    pub price: &'static str,
    pub worn: bool,
    pub face: Face,
    /// Thickness over the highest points in mm.
    pub rim: f64,
    /// Weight aimed at, or left after wear, and its standard deviation, in g.
    pub mass: (f64, f64),
    /// Standard deviations of the outline and of the thickness over a flat plate, in mm: dies and rims of coins 0.02 to 0.03, wear
    /// 0.04, poured bars 0.3 and 0.1.
    pub outline: f64,
    pub thickness: f64,
    /// Conductivity of the metal as it is worked over its central value.
    pub worked: f64,
    pub scatter: Scatter,
}

/// Price of a troy ounce in euro; round figures of the order of the day.
const GOLD: &str = "2400";
const SILVER: &str = "30";
const PLATINUM: &str = "950";
const PALLADIUM: &str = "950";

/// A new coin of fine metal; the strike hardens the annealed blank a little.
const COIN: Spec = Spec {
    id: "",
    name: "",
    price: GOLD,
    worn: false,
    face: Face::Disc(0.0),
    rim: 0.0,
    mass: (0.0, 0.0),
    outline: 0.02,
    thickness: 0.03,
    worked: 0.997,
    scatter: Scatter::FINE,
};
/// A coin that has been in circulation: rims are rubbed.
const WORN: Spec = Spec { worn: true, outline: 0.04, thickness: 0.04, scatter: Scatter::ALLOY, ..COIN };
/// A bar that is cut and struck.
const STRUCK_BAR: Spec = Spec { outline: 0.05, thickness: 0.01, worked: 1.0, ..COIN };
/// A bar that is poured.
const POURED_BAR: Spec = Spec { outline: 0.3, thickness: 0.1, worked: 1.0, ..COIN };

/// Every product of the table.
pub const PRODUCTS: [Spec; 17] = [
    Spec {
        id: "ca-gold-50",
        name: "gold ounce, 999.9",
        face: Face::Disc(30.0),
        rim: 2.87,
        mass: (31.12, 0.008),
        ..COIN
    },
    Spec {
        id: "us-5112-a7",
        name: "gold ounce, 22 ct",
        face: Face::Disc(32.7),
        rim: 2.87,
        mass: (33.96, 0.012),
        scatter: Scatter::ALLOY,
        ..COIN
    },
    Spec {
        id: "us-5112-a8",
        name: "gold half ounce, 22 ct",
        face: Face::Disc(27.0),
        rim: 2.24,
        mass: (16.985, 0.008),
        scatter: Scatter::ALLOY,
        ..COIN
    },
    Spec {
        id: "us-5112-a10",
        name: "gold tenth, 22 ct",
        face: Face::Disc(16.5),
        rim: 1.26,
        mass: (3.402, 0.004),
        thickness: 0.02,
        scatter: Scatter::ALLOY,
        ..COIN
    },
    Spec {
        id: "lmu-gold-20",
        name: "20 francs, worn",
        face: Face::Disc(21.0),
        rim: 1.28,
        mass: (6.437, 0.008),
        ..WORN
    },
    Spec {
        id: "uk-1870-pound",
        name: "gold pound 7.99 g, worn",
        face: Face::Disc(22.05),
        rim: 1.52,
        mass: (7.970, 0.010),
        ..WORN
    },
    Spec {
        id: "bar-gold-9999-1g",
        name: "gold bar 1 g",
        face: Face::Plate(15.0, 8.7),
        rim: 0.405,
        mass: (1.004, 0.002),
        ..STRUCK_BAR
    },
    Spec {
        id: "bar-gold-9999-1ozt",
        name: "gold bar 1 oz",
        face: Face::Plate(41.0, 24.0),
        rim: 1.68,
        mass: (31.112, 0.004),
        ..STRUCK_BAR
    },
    Spec {
        id: "bar-gold-9999-10ozt",
        name: "gold bar 10 oz",
        face: Face::Plate(72.0, 35.0),
        rim: 6.60,
        mass: (311.10, 0.03),
        ..POURED_BAR
    },
    Spec {
        id: "bar-gold-9999-1kg",
        name: "gold bar 1 kg",
        face: Face::Plate(115.0, 52.0),
        rim: 8.95,
        mass: (1000.04, 0.02),
        ..POURED_BAR
    },
    Spec {
        id: "us-5112-e",
        name: "silver ounce, 999",
        price: SILVER,
        face: Face::Disc(40.6),
        rim: 2.98,
        mass: (31.15, 0.025),
        worked: 0.98,
        ..COIN
    },
    Spec {
        id: "ca-silver-5",
        name: "silver ounce, 999.9",
        price: SILVER,
        face: Face::Disc(38.0),
        rim: 3.29,
        mass: (31.15, 0.025),
        worked: 0.985,
        ..COIN
    },
    Spec {
        id: "us-1837-dollar",
        name: "silver dollar 900, worn",
        price: SILVER,
        face: Face::Disc(38.1),
        rim: 2.80,
        mass: (26.68, 0.03),
        scatter: Scatter::SILVER_ALLOY,
        ..WORN
    },
    Spec {
        id: "bar-silver-999-100ozt",
        name: "silver bar 100 oz",
        price: SILVER,
        face: Face::Plate(180.0, 80.0),
        rim: 21.0,
        mass: (3113.0, 1.0),
        worked: 0.99,
        ..POURED_BAR
    },
    Spec {
        id: "bar-silver-999-1kg",
        name: "silver bar 1 kg",
        price: SILVER,
        face: Face::Plate(118.0, 80.0),
        rim: 10.4,
        mass: (1000.8, 0.4),
        worked: 0.99,
        ..POURED_BAR
    },
    Spec {
        id: "ca-plat-50",
        name: "platinum ounce, 999.5",
        price: PLATINUM,
        face: Face::Disc(30.0),
        rim: 2.52,
        mass: (31.12, 0.008),
        ..COIN
    },
    Spec {
        id: "bar-palladium-9995-1ozt",
        name: "palladium ounce, 999.5",
        price: PALLADIUM,
        face: Face::Plate(41.0, 24.0),
        rim: 2.70,
        mass: (31.112, 0.004),
        ..STRUCK_BAR
    },
];

/// No face is flatter than this share of what its kind has.
const FLATTEST: f64 = 0.3;

impl Spec {
    /// Returns the product with an id.
    pub fn named(id: &str) -> &'static Spec {
        PRODUCTS.iter().find(|spec| spec.id == id).unwrap_or_else(|| panic!("no spec {id}"))
    }

    /// Returns what the reference says of it.
    pub fn product(&self) -> &'static Product {
        Catalogue::embedded().product(self.id).unwrap_or_else(|| panic!("no product {}", self.id))
    }

    /// Returns its metal as it is worked.
    pub fn metal(&self) -> Metal {
        let metal = Metal::of(self.product().alloy.value.as_str());
        Metal { conductivity: metal.conductivity * self.worked, ..metal }
    }

    /// Returns how far its highest points stand above a flat plate of its volume, in mm.
    pub fn bump(&self) -> f64 {
        self.rim - 1000.0 * self.mass.0 / self.metal().density / self.face.area()
    }

    /// Returns its measures as a desk would state them to choose a probe.
    pub fn size(&self) -> PieceSize {
        let mm = |value: f64| Some(Length::from_millimetres(value));
        let size = PieceSize { thickness: mm(self.rim), ..PieceSize::default() };
        match self.face {
            Face::Disc(diameter) => PieceSize { diameter: mm(diameter), ..size },
            Face::Plate(length, width) => PieceSize { length: mm(length), width: mm(width), ..size },
        }
    }

    /// Draws what a maker, honest or not, aims at with some metal.
    pub fn made(&self, metal: Metal, inside: Inside, aim: Aim, noise: &mut SplitMix64) -> Made {
        // A coin's dies and rims, a bar's mould or cut: how far the highest points stand out is off by itself.
        let bump = self.bump() + self.thickness * noise.standard_normal();
        Made {
            metal,
            inside,
            face: self.face.drawn(self.outline, noise),
            mass: self.mass.0 + self.mass.1 * noise.standard_normal(),
            rim: self.rim,
            bump: bump.max(FLATTEST * self.bump()),
            aim,
        }
    }

    /// Draws a genuine piece.
    pub fn genuine(&self, noise: &mut SplitMix64) -> Piece {
        let metal = self.metal().drawn(&self.scatter, noise);
        Piece::make(&self.made(metal, Inside::Same, Aim::Weight, noise))
    }
}
