//! The false pieces: what a forger makes, of what, and which words of the first reason name it.

use super::products::Spec;
use super::truth::{Aim, Inside, Metal, Piece, Scatter};
use scruple::evidence::Measurand;
use scruple::metrology::seeded::SplitMix64;

/// What a false piece is made of.
#[derive(Debug, Clone, Copy)]
pub enum Stuff {
    /// Another metal throughout.
    Throughout(Metal),
    /// A core under a skin of the declared metal from and to so many mm.
    Core(Metal, f64, f64),
    /// Rods of so many mm across, taking a share of the volume from and to.
    Rods(Metal, f64, f64, f64),
    /// The declared metal, lighter by a share.
    Light(f64),
}

/// One kind of false pieces.
pub struct Kind {
    pub name: &'static str,
    pub of: &'static Spec,
    pub stuff: Stuff,
    /// Materials of its family, and readings that give it away by themselves.
    pub materials: &'static [&'static str],
    pub readings: &'static [Measurand],
    /// Whether it costs more to make than it brings, so that the desk does not watch for it.
    pub pays: bool,
}

const TUNGSTEN: &[&str] = &["W", "WHA", "WCu", "WC-Co", "Ta"];
const COPPER: &[&str] = &["Cu", "CuLow", "CuSn6"];
const BRASS: &[&str] = &["CuZn30", "CuZn37", "CuSn6", "NickelSilver"];
const LEAD: &[&str] = &["Pb", "PbSn", "Bi"];
const SILVERS: &[&str] = &["Ag", "Ag958", "Ag925Cu", "Ag900Cu", "Ag835Cu", "Ag800Cu", "Ag720Cu", "Ag500"];
const LOWER_GOLD: &[&str] =
    &["Au585Y", "Au585R", "Au585W", "Au750Y", "Au750R", "Au750G", "Au750W", "Au900Cu"];
use Measurand::{Conductivity, Diameter, Mass, Thickness};
const SIZE_OR_READING: &[Measurand] = &[Mass, Diameter, Thickness, Conductivity];

/// Every kind of the table.
pub fn kinds() -> Vec<Kind> {
    let core = |name, of, metal: Metal, from, to, materials, readings| Kind {
        name,
        of: Spec::named(of),
        stuff: Stuff::Core(metal, from, to),
        materials,
        readings,
        pays: true,
    };
    let solid = |name, of, metal: Metal, materials| Kind {
        name,
        of: Spec::named(of),
        stuff: Stuff::Throughout(metal),
        materials,
        readings: SIZE_OR_READING,
        pays: true,
    };
    let of = Metal::of;
    vec![
        core("W under 0.05-0.3 mm, gold ounce", "ca-gold-50", of("W"), 0.05, 0.3, TUNGSTEN, &[Conductivity]),
        core("W under 0.3-0.8 mm, gold ounce", "ca-gold-50", of("W"), 0.3, 0.8, TUNGSTEN, &[Conductivity]),
        core(
            "W under 0.3-1.2 mm, 10 oz bar",
            "bar-gold-9999-10ozt",
            of("W"),
            0.3,
            1.2,
            TUNGSTEN,
            &[Conductivity],
        ),
        core(
            "W under 0.5-1.2 mm, kilobar",
            "bar-gold-9999-1kg",
            of("W"),
            0.5,
            1.2,
            TUNGSTEN,
            &[Conductivity],
        ),
        core("W under 1.2-3 mm, kilobar", "bar-gold-9999-1kg", of("W"), 1.2, 3.0, TUNGSTEN, &[Conductivity]),
        core(
            "W plated 5-20 um, 1 oz bar",
            "bar-gold-9999-1ozt",
            of("W"),
            0.005,
            0.02,
            TUNGSTEN,
            &[Conductivity],
        ),
        core(
            "heavy alloy 0.1-0.6 mm, 22 ct ounce",
            "us-5112-a7",
            of("WHA"),
            0.1,
            0.6,
            TUNGSTEN,
            &[Conductivity],
        ),
        core(
            "heavy alloy 0.1-0.4 mm, 22 ct half",
            "us-5112-a8",
            of("WHA"),
            0.1,
            0.4,
            TUNGSTEN,
            &[Conductivity],
        ),
        core("WC 0.1-0.5 mm, 22 ct ounce", "us-5112-a7", of("WC-Co"), 0.1, 0.5, TUNGSTEN, SIZE_OR_READING),
        core("copper plated, 20 francs", "lmu-gold-20", of("Cu"), 0.005, 0.02, COPPER, SIZE_OR_READING),
        core("brass plated, gold pound", "uk-1870-pound", of("CuZn30"), 0.005, 0.02, BRASS, SIZE_OR_READING),
        core("copper plated, silver ounce", "us-5112-e", of("Cu"), 0.005, 0.02, COPPER, SIZE_OR_READING),
        core("lead plated, silver dollar", "us-1837-dollar", of("Pb"), 0.01, 0.05, LEAD, SIZE_OR_READING),
        core(
            "silver under gold, 1 oz bar",
            "bar-gold-9999-1ozt",
            of("Ag"),
            0.02,
            0.2,
            SILVERS,
            SIZE_OR_READING,
        ),
        solid("14 ct as 22 ct, gold pound", "uk-1870-pound", of("Au585Y"), LOWER_GOLD),
        solid("18 ct as 22 ct, half ounce", "us-5112-a8", of("Au750Y"), LOWER_GOLD),
        solid("900 as 999, silver ounce", "us-5112-e", of("Ag900Cu"), SILVERS),
        solid("925 as 999, silver kilobar", "bar-silver-999-1kg", of("Ag925Cu"), SILVERS),
        core(
            "lead 0.3-2 mm, silver kilobar",
            "bar-silver-999-1kg",
            of("Pb"),
            0.3,
            2.0,
            LEAD,
            SIZE_OR_READING,
        ),
        core(
            "tin-lead 0.3-2 mm, silver kilobar",
            "bar-silver-999-1kg",
            of("PbSn"),
            0.3,
            2.0,
            LEAD,
            SIZE_OR_READING,
        ),
        Kind {
            name: "W rods 6 mm, gold kilobar, off the rods",
            of: Spec::named("bar-gold-9999-1kg"),
            stuff: Stuff::Rods(of("W"), 6.0, 0.05, 0.35),
            materials: TUNGSTEN,
            readings: &[],
            pays: true,
        },
        // Tin with a third of zinc: 7.2 g/cm³, about 11 MS/m (mixing; from memory).
        core(
            "tin-zinc 0.3-2 mm, silver kilobar",
            "bar-silver-999-1kg",
            Metal::mixed("Sn", "Zn", 0.33, 11.0),
            0.3,
            2.0,
            // What no list names can only be called by the base metals that are met.
            &["Sn", "Zn", "ZnAlloy", "PbSn", "CuZn30", "CuZn37", "Cu", "Pb"],
            SIZE_OR_READING,
        ),
        // Lead with a fifth of tin by volume weighs nearly as silver does: 10.5 g/cm³, about 5.2 MS/m (from memory).
        core(
            "lead-tin 80:20 (no listed), silver kilobar",
            "bar-silver-999-1kg",
            Metal::mixed("Pb", "Sn", 0.20, 5.2),
            0.3,
            2.0,
            LEAD,
            SIZE_OR_READING,
        ),
        // Tungsten with a tenth of silver, sintered: 18.4 g/cm³, about 21 MS/m (contact materials, from memory).
        core(
            "tungsten-silver (no listed), 22 ct ounce",
            "us-5112-a7",
            Metal::mixed("W", "Ag", 0.10, 21.0),
            0.1,
            0.6,
            TUNGSTEN,
            SIZE_OR_READING,
        ),
        // Tungsten with a fifth of lead by volume weighs as 22 ct gold does and carries sound more like it: 17.8 g/cm³, about
        // 12 MS/m (mixing; from memory).
        core(
            "tungsten-lead (no listed), 22 ct ounce",
            "us-5112-a7",
            Metal::mixed("W", "Pb", 0.19, 12.0),
            0.4,
            0.9,
            TUNGSTEN,
            SIZE_OR_READING,
        ),
        // Tungsten with a seventh of copper: 17.7 g/cm³, about 21 MS/m (contact materials, from memory).
        core(
            "tungsten-copper 85:15, 10 oz bar",
            "bar-gold-9999-10ozt",
            Metal::mixed("W", "Cu", 0.15, 21.0),
            0.4,
            1.5,
            TUNGSTEN,
            SIZE_OR_READING,
        ),
        // An ounce of silver is worth half of what a built core costs to make by the shipped policy.
        Kind {
            pays: false,
            ..core(
                "tungsten-copper 0.5-1 mm, silver ounce",
                "us-5112-e",
                of("WCu26"),
                0.5,
                1.0,
                &["WCu26"],
                SIZE_OR_READING,
            )
        },
        Kind {
            name: "2 % light, gold ounce",
            of: Spec::named("ca-gold-50"),
            stuff: Stuff::Light(0.02),
            materials: &[],
            readings: &[Mass],
            pays: true,
        },
        Kind {
            name: "2 % light, silver ounce",
            of: Spec::named("us-5112-e"),
            stuff: Stuff::Light(0.02),
            materials: &[],
            readings: &[Mass],
            pays: true,
        },
    ]
}

/// Density difference above which weight and size cannot both be right.
const TELLING: f64 = 0.01;

impl Kind {
    /// Returns the skins between which it is made, in mm.
    pub fn skins(&self) -> (f64, f64) {
        match self.stuff {
            Stuff::Core(_, from, to) => (from, to),
            _ => (0.0, 0.0),
        }
    }

    /// Draws one.
    pub fn drawn(&self, noise: &mut SplitMix64) -> Piece {
        let own = self.of.metal();
        let between = |from: f64, to: f64, noise: &mut SplitMix64| from * (to / from).powf(noise.uniform());
        let skin = own.drawn(&self.of.scatter, noise);
        let (metal, inside, other) = match self.stuff {
            Stuff::Throughout(metal) => (metal.drawn(&Scatter::ALLOY, noise), Inside::Same, metal),
            Stuff::Core(core, from, to) => {
                let thick = between(from, to, noise);
                (skin, Inside::Core(core.drawn(&Scatter::FORGED, noise), thick), core)
            }
            Stuff::Rods(rod, across, from, to) => {
                let share = between(from, to, noise);
                (skin, Inside::Rods(rod.drawn(&Scatter::FORGED, noise), across, share), rod)
            }
            Stuff::Light(_) => (skin, Inside::Same, own),
        };
        // Who cannot have both aims at the weight or at the size.
        let one = (other.density / own.density - 1.0).abs() < TELLING || noise.uniform() < 0.5;
        let aim = if one { Aim::Weight } else { Aim::Size };
        let mut made = self.of.made(metal, inside, aim, noise);
        if let Stuff::Light(share) = self.stuff {
            made.mass *= 1.0 - share;
        }
        Piece::make(&made)
    }
}
