//! What a probe proves in depth on a product, before any piece was read.
//!
//! What it is for: choosing a probe, and saying what an accepted reading leaves open. It asks the same gates, the same model and
//! the same rule of exclusion as the assessment of a piece, so that the two never disagree. What it must never do: clear anything.
//! Read next: [`reach()`], then [`propose()`].

mod propose;

pub use propose::{Proposal, propose};

use super::assess::{Declared, Rules};
use super::assessment::{Construction, Scope};
use super::cells::Cells;
use super::conductivity::{self, Verdict};
use super::exemplar::{Exemplar, ExemplarError, PieceSize, alloy_of};
use super::geometry::{Geometry, Measured};
use super::grid::{Entry, THINNEST_MM};
use super::second::{EXCLUDES_AT, excludes};
use super::standard::Standard;
use super::survey::by_size;
use super::tables::{MODEL_SHARE, core_range};
use super::trial::Trial;
use super::window;
use crate::evidence::Probe;
use crate::metrology::Limits;
use crate::metrology::conformity::acceptance_zone;
use crate::physics::coverage::{footprint_radius_mm, spots_for_full_cover};
use crate::physics::skin::{PROVED_DEPTH_IN_SKIN_DEPTHS, frequency_for_depth_hz};
use crate::quantity::{Conductivity, Frequency, Length, Money};
use crate::reference::{MaterialId, ProductId};

/// What is compared with what.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Model {
    /// The analytic coil over layered metal.
    Coil,
    /// The plane wave: the coil is not stated.
    PlaneWave,
}

impl Model {
    /// Returns the word used in JSON.
    pub fn word(self) -> &'static str {
        match self {
            Model::Coil => "coil",
            Model::PlaneWave => "plane_wave",
        }
    }
}

/// What a probe proves on a product.
#[derive(Debug, Clone, PartialEq)]
pub struct Reach {
    /// The product.
    pub product: ProductId,
    /// The probe.
    pub probe: Probe,
    /// The measures of the piece, in words.
    pub size: String,
    /// What had to be assumed of it, in words.
    pub assumed: Vec<String>,
    /// Half of its thickness: the depth at which the two faces meet.
    pub half: Length,
    /// Skin depth in the declared alloy; `None` while the frequency is not known.
    pub skin_depth: Option<Length>,
    /// Depth for which an accepted reading vouches, 1.1 skin depths; `None` where no reading can be used.
    pub proved_depth: Option<Length>,
    /// Thickness of metal in skin depths; at least 2.6 is free of caution.
    pub thickness_ratio: Option<f64>,
    /// Radius of the face over the coil's outer radius; at least 1.85 is free of caution.
    pub radius_ratio: Option<f64>,
    /// Why no reading of such a piece can be used, with the remedy.
    pub not_usable: Option<String>,
    /// Cautions and remarks that do not make it unusable.
    pub notes: Vec<String>,
    /// The model that says what a core reads; `None` where none can.
    pub model: Option<Model>,
    /// Why no model can, or what it assumes.
    pub outside_model: Option<String>,
    /// Limits of the conductivity at 20 °C.
    pub window: (Conductivity, Conductivity),
    /// Standard uncertainty of one reading.
    pub u: Option<Conductivity>,
    /// Readings that count as inside; `None` when the instrument cannot decide this window at all.
    pub accepted: Option<(Conductivity, Conductivity)>,
    /// Solids that an accepted reading leaves open although they are not as good, those over most of the window first.
    pub solids: Vec<SolidReach>,
    /// Every core of the reference that could displace something, most displaced first.
    pub cores: Vec<CoreReach>,
    /// Spots that cover one face; `None` while the coil is not known.
    pub spots: Option<u32>,
    /// Lowest frequency that the thickness admits without caution.
    pub lowest_frequency: Option<Frequency>,
}

/// A solid of another material that some accepted readings do not exclude.
#[derive(Debug, Clone, PartialEq)]
pub struct SolidReach {
    /// Its material.
    pub material: MaterialId,
    /// Its name in words.
    pub name: String,
    /// Accepted readings that do not exclude it.
    pub between: (Conductivity, Conductivity),
    /// Their share of all accepted readings.
    pub share: f64,
    /// Whether the reading to expect of the declared alloy is one of them: then the conductivity never tells the two apart.
    pub always: bool,
    /// Whom it concerns by the policy.
    pub concerns: Scope,
}

/// One core under a skin of the declared alloy.
#[derive(Debug, Clone, PartialEq)]
pub struct CoreReach {
    /// Its material.
    pub material: MaterialId,
    /// Its name in words.
    pub name: String,
    /// Skins under which the probe alone accepts a piece with this core, thinnest first; never empty.
    pub hides: Vec<(Length, Length)>,
    /// The thinnest of them under which mass and outline allow it too; `None` where weight and size exclude it.
    pub left_from: Option<Length>,
    /// Share of the volume that it can take there; where weight and size exclude it, under the thinnest skin that hides it.
    pub share: f64,
    /// Value that it displaces there, where a price is known.
    pub displaced: Option<Money>,
    /// Whom that concerns by the policy; `None` when nobody.
    pub concerns: Option<Scope>,
    /// Thickest skin under which it still concerns the piece or the lot.
    pub matters_to: Option<Length>,
    /// Highest frequency at which it shows under the depth asked for, else under [`CoreReach::matters_to`].
    pub frequency_needed: Option<Frequency>,
}

impl CoreReach {
    /// Returns the thinnest skin under which it hides from the probe.
    pub fn first(&self) -> Option<Length> {
        self.hides.first().map(|(thin, _)| *thin)
    }

    /// Tells whether weight and size leave it, and it displaces what concerns somebody.
    pub fn is_open(&self) -> bool {
        self.left_from.is_some() && self.concerns.is_some()
    }
}

impl Reach {
    /// Tells whether readings can be used and can decide the window.
    pub fn is_capable(&self) -> bool {
        self.not_usable.is_none() && self.accepted.is_some()
    }
}

/// Says what a probe proves on a product.
///
/// `size` completes what the specification leaves open; `depth` is where a core should show, for [`CoreReach::frequency_needed`].
/// A core hides under a skin when some reading that the window accepts would not exclude it: by 3.29 standard uncertainties
/// joined to the 5 % of the model.
///
/// # Errors
/// [`ExemplarError`] when no size follows.
pub fn reach(
    rules: &Rules<'_>,
    declared: &Declared<'_>,
    probe: &Probe,
    size: &PieceSize,
    depth: Option<Length>,
) -> Result<Reach, ExemplarError> {
    let product = declared.product;
    let exemplar = Exemplar::of(rules, product, size)?;
    let mut evidence = exemplar.evidence.clone();
    evidence.probe = Some(probe.clone());
    let alloy = alloy_of(rules, product);
    let alloy_index = rules.catalogue.materials().position(|material| material.id == alloy.id);
    let geometry = Geometry::of(&evidence, product, alloy.density.value.as_g_per_cm3(), rules.instruments);
    let outline = geometry.outline();
    let expected = alloy.conductivity.value.as_ms_per_m();
    let (u, notes, not_usable) = match conductivity::judge(&evidence, alloy, &outline, rules.instruments) {
        Verdict::Usable(usable) => (Some(usable.budget.u()), usable.notes, None),
        Verdict::NotUsable(reason) => (None, Vec::new(), Some(reason)),
        Verdict::Missing => (None, Vec::new(), Some("no reading".to_owned())),
    };
    let window = window::conductivity(product, alloy, rules.catalogue);
    let (lower, upper) = (window.lower.unwrap_or(0.0), window.upper.unwrap_or(f64::MAX));
    let limits = Limits::new(window.lower, window.upper).expect("the window of a metal is in order");
    let accepted = u
        .and_then(|u| acceptance_zone(u, &limits, rules.policy.inside))
        .map(|zone| (zone.lower().unwrap_or(lower), zone.upper().unwrap_or(upper)));
    let trial = Trial {
        catalogue: rules.catalogue,
        product,
        alloy,
        policy: rules.policy,
        tables: &rules.standards.tables,
        evidence: &evidence,
        geometry: &geometry,
        instruments: rules.instruments,
        alloy_index: alloy_index.unwrap_or_default(),
        conductivity: u.map(|u| Measured { value: expected, u }),
        lot_size: declared.lot_size.max(1),
    };
    let standard = rules.standards.of(rules, declared, &evidence);
    let asked = Asked { trial: &trial, standard: &standard, by_size: by_size(&trial, &standard) };
    let skin_depth = trial.skin_depth(probe);
    let ms_m = Conductivity::from_ms_per_m;
    let millimetres = Length::from_millimetres;
    let outside_model = trial.table_of(probe).err();
    let by_coil = if probe.coil.is_some() { Model::Coil } else { Model::PlaneWave };
    let model = outside_model.is_none().then_some(by_coil);
    let judged = u.zip(accepted);
    let mut solids = judged.map_or(Vec::new(), |(u, accepted)| solids(&asked, u, accepted));
    solids.sort_by(|a, b| b.share.total_cmp(&a.share));
    let mut cores = judged.map_or(Vec::new(), |(u, accepted)| cores(&asked, u, accepted, depth));
    cores.sort_by(|a, b| {
        let worth = |core: &CoreReach| core.displaced.map_or(core.share, Money::as_f64);
        let rank = |core: &CoreReach| (core.left_from.is_none(), core.concerns.is_none());
        rank(a).cmp(&rank(b)).then(worth(b).total_cmp(&worth(a)))
    });
    let coil = probe.coil;
    Ok(Reach {
        product: product.id.clone(),
        probe: probe.clone(),
        size: exemplar.size_in_words(),
        assumed: exemplar.assumed.clone(),
        half: millimetres(geometry.whole_thickness().unwrap_or(0.0) / 2.0),
        skin_depth: skin_depth.map(millimetres),
        proved_depth: skin_depth
            .filter(|_| u.is_some())
            .map(|depth| millimetres(PROVED_DEPTH_IN_SKIN_DEPTHS * depth)),
        thickness_ratio: outline.metal_thickness.zip(skin_depth).map(|(metal, depth)| metal / depth),
        radius_ratio: outline
            .inscribed_radius
            .zip(coil)
            .map(|(radius, coil)| radius / coil.outer.as_millimetres()),
        not_usable,
        notes,
        model,
        outside_model,
        window: (ms_m(lower), ms_m(upper)),
        u: u.map(ms_m),
        accepted: accepted.map(|(low, high)| (ms_m(low), ms_m(high))),
        solids,
        cores,
        spots: geometry.face.zip(coil).map(|(face, coil)| {
            spots_for_full_cover(face.area(), footprint_radius_mm(coil.outer.as_millimetres()))
        }),
        lowest_frequency: outline.metal_thickness.map(|metal| {
            let depth = metal / conductivity::THICKNESS_FREE;
            Frequency::from_hertz(frequency_for_depth_hz(expected, depth))
        }),
    })
}

/// What a probe is asked about.
struct Asked<'a> {
    trial: &'a Trial<'a>,
    standard: &'a Standard,
    /// What mass and size of a piece as specified exclude.
    by_size: Cells,
}

/// Asks every solid that mass and size allow and that the desk watches for.
fn solids(asked: &Asked<'_>, u: f64, accepted: (f64, f64)) -> Vec<SolidReach> {
    let Asked { trial, standard, by_size } = asked;
    let width = accepted.1 - accepted.0;
    let left = |entry: &Entry| {
        let material = &trial.catalogue.all_materials()[entry.material];
        let cell = entry.cells.start;
        let (low, high) = core_range(material);
        let from = accepted.0.max(low - EXCLUDES_AT * u);
        let to = accepted.1.min(high + EXCLUDES_AT * u);
        (from < to && standard.watched.has(cell) && !by_size.has(cell)).then(|| SolidReach {
            material: material.id.clone(),
            name: material.name.to_string(),
            between: (Conductivity::from_ms_per_m(from), Conductivity::from_ms_per_m(to)),
            share: (to - from) / width,
            always: (from..=to).contains(&trial.alloy.conductivity.value.as_ms_per_m()),
            concerns: Scope::Piece,
        })
    };
    let entries = standard.grid.entries.iter();
    entries.filter(|entry| entry.built == Construction::Solid).filter_map(left).collect()
}

/// Asks every core under every skin.
fn cores(asked: &Asked<'_>, u: f64, accepted: (f64, f64), depth: Option<Length>) -> Vec<CoreReach> {
    let Asked { trial, standard, by_size } = asked;
    let grid = &standard.grid;
    let frequency = trial.evidence.probe.as_ref().and_then(|probe| probe.frequency);
    let hides = |cell: &usize| {
        let range = grid.reads.at(*cell);
        // Of the readings that are accepted, the one nearest to what the core can read.
        let nearest = if range.high < accepted.0 {
            accepted.0
        } else if range.low > accepted.1 {
            accepted.1
        } else {
            return true;
        };
        !excludes(Measured { value: nearest, u }, range, MODEL_SHARE)
    };
    let mut found = Vec::new();
    for entry in grid.entries.iter().filter(|entry| entry.built == Construction::Core) {
        let material = &trial.catalogue.all_materials()[entry.material];
        let hidden: Vec<usize> = entry.cells.clone().filter(hides).collect();
        let Some(first) = hidden.first().copied() else { continue };
        let left = hidden.iter().copied().find(|cell| !by_size.has(*cell));
        let matters = entry.cells.clone().rfind(|cell| standard.watched.has(*cell));
        if matters.is_none() && !trial.policy.watch.holds(entry.practice) {
            continue;
        }
        let counts = left.unwrap_or(first);
        let matters_to = matters.map(|cell| grid.thick[cell]);
        let wanted = depth.map(Length::as_millimetres).or(matters_to);
        found.push(CoreReach {
            material: material.id.clone(),
            name: material.name.to_string(),
            hides: grid.skins(entry, &hidden),
            left_from: left.map(|cell| Length::from_millimetres(grid.thin[cell])),
            share: grid.share[counts],
            displaced: standard.value.map(|value| trial.money(value * grid.displaced[counts])),
            concerns: standard.watched.has(counts).then_some(Scope::Lot),
            matters_to: matters_to.map(Length::from_millimetres),
            frequency_needed: frequency.zip(wanted).and_then(|(frequency, wanted)| {
                // Depths go as the root of the frequency. A core that hides under any skin shows at none.
                let first = grid.thin[first];
                (first > THINNEST_MM && wanted > 0.0)
                    .then(|| Frequency::from_hertz(frequency.as_hertz() * (first / wanted).powi(2)))
            }),
        });
    }
    found
}
