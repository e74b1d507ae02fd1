//! What a piece could still be: every solid and every skin-on-core construction that no usable reading excludes.

use super::assessment::{Candidate, Construction, Scope};
use super::conductivity::frequency_words;
use super::geometry::Geometry;
use super::policy::Policy;
use super::scans::{Response, Scans, core_range};
use crate::evidence::{MagnetResponse, PieceEvidence, Probe};
use crate::physics::density::density_of_clad;
use crate::physics::skin::skin_depth_mm;
use crate::quantity::{Length, Mass, Money};
use crate::reference::{Catalogue, Family, Kind, Magnetism, Material, Metal, Product};

/// Distance in standard uncertainties beyond which a reading excludes a candidate (two-sided 1 in 1000).
pub(super) const EXCLUDES_AT: f64 = 3.29;
/// Error that the plane-wave model itself may have, as a share of what it predicts, at the same 3.29 u.
const MODEL_SHARE: f64 = 0.05;
/// Mean coil radius in skin depths from which the plane-wave model holds.
const PLANE_WAVE_FROM: f64 = 6.0;
/// Share of the volume below which a core counts for nothing while no price is known.
const LEAST_SHARE: f64 = 0.05;

/// Everything a candidate is compared with.
pub(super) struct Trial<'a> {
    pub(super) catalogue: &'a Catalogue,
    pub(super) product: &'a Product,
    pub(super) alloy: &'a Material,
    pub(super) policy: &'a Policy,
    pub(super) scans: &'a Scans,
    pub(super) evidence: &'a PieceEvidence,
    pub(super) geometry: &'a Geometry,
    /// Conductivity at 20 °C in MS/m with its standard uncertainty, when it is usable.
    pub(super) conductivity: Option<(f64, f64)>,
    /// The standard uncertainty it would have, had the meter been compared with a piece of the same alloy.
    pub(super) u_when_compared: Option<f64>,
    /// Price of a troy ounce of fine metal.
    pub(super) price: Option<Money>,
    /// Pieces of the lot.
    pub(super) lot_size: u32,
}

/// A candidate with the material behind it and the skins at which it matters.
#[derive(Debug, Clone)]
pub(super) struct Suspect<'a> {
    pub(super) candidate: Candidate,
    pub(super) material: &'a Material,
    /// Surviving skins in mm at which the displaced value passes the limit; empty for a solid.
    pub(super) material_skins: Vec<(f64, f64)>,
}

impl<'a> Trial<'a> {
    /// Returns every candidate of the catalogue, survivors with most displaced value first.
    pub(super) fn suspects(&self) -> Vec<Suspect<'a>> {
        let mut suspects: Vec<Suspect<'a>> = Vec::new();
        let table = self
            .plane_wave_frequency()
            .map(|frequency| self.scans.table(self.catalogue, self.alloy, frequency));
        let scan = self.geometry.whole_thickness().map(|thickness| {
            Scan::of(self.geometry, thickness, table.as_ref().map(|table| table.skins.as_slice()))
        });
        for (index, material) in self.catalogue.materials().enumerate() {
            if material.id == self.alloy.id
                || self.is_as_good(material)
                || self.is_covered_by_element(material)
            {
                continue;
            }
            suspects.push(self.solid(material));
            let response = table.as_ref().map(|table| &table.cores[index]);
            suspects.extend(scan.as_ref().map(|scan| self.core(material, scan, response)));
        }
        suspects.sort_by(|a, b| {
            let (a_class, a_gap) = self.rank(a);
            let (b_class, b_gap) = self.rank(b);
            a_class.cmp(&b_class).then(a_gap.total_cmp(&b_gap))
        });
        suspects
    }

    /// Orders suspects: doubts of the piece, of the lot, remarks, excluded; in each, metals that are really used, nearest in
    /// density first, because weight and size see those least.
    fn rank(&self, suspect: &Suspect<'_>) -> ((u8, u8), f64) {
        let candidate = &suspect.candidate;
        let standing = match (candidate.survives, candidate.material_doubt) {
            (true, Some(Scope::Piece)) => 0,
            (true, Some(Scope::Lot)) => 1,
            (true, None) => 2,
            (false, _) => 3,
        };
        let class = if self.brings_no_gain(suspect.material) {
            2
        } else {
            u8::from(suspect.material.metal == self.product.metal)
        };
        let own = self.alloy.density.value.as_g_per_cm3();
        ((standing, class), (suspect.material.density.value.as_g_per_cm3() - own).abs())
    }

    /// Tells whether nobody gains by putting the material in the place of the declared metal: it is never used, or it is a
    /// precious metal dearer than silver in the place of silver.
    fn brings_no_gain(&self, material: &Material) -> bool {
        let dearer = matches!(material.metal, Metal::Gold | Metal::Platinum | Metal::Palladium);
        NEVER_USED.contains(&material.id.as_str()) || (dearer && self.product.metal == Metal::Silver)
    }

    /// Tells whether a material is a trade grade of a pure metal that stands for itself in the list.
    fn is_covered_by_element(&self, material: &Material) -> bool {
        let fine = material.fineness.as_ref().is_some_and(|f| f.value.as_share() >= 0.999);
        fine && material.family != Family::Element && material.metal != self.product.metal
    }

    /// Tells why the layered model cannot be used, when it cannot.
    pub(super) fn outside_model(&self) -> Option<String> {
        let probe = self.evidence.probe.as_ref()?;
        let Some(frequency) = probe.frequency else {
            return Some("the probe's frequency is not known: no depth can be stated".to_owned());
        };
        let radius = probe.coil?.mean_radius().as_millimetres();
        let depth = self.skin_depth(probe)?;
        (radius < PLANE_WAVE_FROM * depth).then(|| {
            format!(
                "mean coil radius {radius:.1} mm is {:.1} skin depths at {}; the layered model needs {PLANE_WAVE_FROM}, so a mean \
                 radius from {:.1} mm",
                radius / depth,
                frequency_words(frequency.as_hertz()),
                PLANE_WAVE_FROM * depth
            )
        })
    }

    /// Returns the skin depth in the declared alloy, in mm.
    pub(super) fn skin_depth(&self, probe: &Probe) -> Option<f64> {
        probe.frequency.map(|f| skin_depth_mm(self.alloy.conductivity.value.as_ms_per_m(), f.as_hertz(), 1.0))
    }

    /// Returns the frequency at which a usable reading may be compared with the layered model.
    fn plane_wave_frequency(&self) -> Option<crate::quantity::Frequency> {
        let frequency = self.evidence.probe.as_ref()?.frequency?;
        (self.conductivity.is_some() && self.outside_model().is_none()).then_some(frequency)
    }

    /// Tells whether a material is the declared metal at an equal or higher fineness.
    fn is_as_good(&self, material: &Material) -> bool {
        material.is_at_least(self.product.metal, self.product.fineness.nominal.value)
    }

    /// Compares a solid of one material.
    fn solid(&self, material: &'a Material) -> Suspect<'a> {
        let excluded_by = self
            .excluded_by_density(material)
            .or_else(|| self.excluded_by_magnet(material))
            .or_else(|| self.solid_excluded_by_conductivity(material));
        let survives = excluded_by.is_none();
        let displaced = self.displaced(material, 1.0);
        let same_metal = material.metal == self.product.metal;
        let material_doubt = if !survives || self.brings_no_gain(material) {
            None
        } else if same_metal {
            self.doubt_for(displaced)
        } else {
            Some(Scope::Piece)
        };
        Suspect {
            candidate: Candidate {
                material: material.id.clone(),
                name: material.name.clone(),
                construction: Construction::Solid,
                survives,
                skins: Vec::new(),
                hidden_share: survives.then_some(1.0),
                displaced: displaced.filter(|_| survives).map(|value| self.money(value)),
                material_doubt,
                excluded_by,
                outside_model: false,
            },
            material,
            material_skins: Vec::new(),
        }
    }

    /// Compares one core under every skin of the scan.
    fn core(&self, material: &'a Material, scan: &Scan, response: Option<&Response>) -> Suspect<'a> {
        let magnet = self.excluded_by_magnet(material);
        let mut skins = Vec::new();
        let mut material_skins = Vec::new();
        let mut nearest = f64::INFINITY;
        let mut hidden_share: f64 = 0.0;
        let gain = !self.brings_no_gain(material);
        if magnet.is_none() {
            let mut survivors = Intervals::new(&mut skins);
            let mut matters = Intervals::new(&mut material_skins);
            for (step, &(skin, share)) in scan.steps.iter().enumerate() {
                let distance = match (self.conductivity, response) {
                    (Some((value, u)), Some(response)) => {
                        let step = step.min(response.low.len() - 1);
                        model_distance(value, u, response.low[step], response.high[step])
                    }
                    _ => 0.0,
                };
                nearest = nearest.min(distance);
                let survives =
                    share > NO_CORE && distance < EXCLUDES_AT && self.density_allows(material, share);
                survivors.step(skin, survives);
                matters.step(
                    skin,
                    survives && self.core_doubt(self.displaced(material, share), share).is_some(),
                );
                if survives {
                    hidden_share = hidden_share.max(share);
                }
            }
            survivors.close();
            matters.close();
        }
        let survives = !skins.is_empty();
        let displaced = self.displaced(material, hidden_share);
        let excluded_by = (!survives).then(|| {
            magnet.unwrap_or_else(|| {
                if nearest >= EXCLUDES_AT {
                    format!("conductivity: at least {nearest:.1} u from all it can read under any skin")
                } else {
                    "mass and outline: no skin that conductivity leaves gives this mass".to_owned()
                }
            })
        });
        let length = |mm: f64| Length::from_millimetres(mm);
        Suspect {
            candidate: Candidate {
                material: material.id.clone(),
                name: material.name.clone(),
                construction: Construction::Core,
                survives,
                skins: skins.iter().map(|(from, to)| (length(*from), length(*to))).collect(),
                hidden_share: survives.then_some(hidden_share),
                displaced: displaced.filter(|_| survives).map(|value| self.money(value)),
                material_doubt: (survives && gain)
                    .then(|| self.core_doubt(displaced, hidden_share))
                    .flatten(),
                excluded_by,
                outside_model: self.conductivity.is_some() && response.is_none(),
            },
            material,
            material_skins,
        }
    }

    /// Tells whether a comparison of the meter with a piece of the alloy excludes a solid that survives now.
    pub(super) fn comparison_excludes(&self, material: &Material) -> bool {
        let (Some((value, _)), Some(u)) = (self.conductivity, self.u_when_compared) else { return false };
        let (low, high) = core_range(material);
        distance(value, u, low, high) >= EXCLUDES_AT
    }

    /// Tells why a solid cannot give the conductivity reading.
    fn solid_excluded_by_conductivity(&self, material: &Material) -> Option<String> {
        let (value, u) = self.conductivity?;
        let (low, high) = core_range(material);
        let distance = distance(value, u, low, high);
        (distance >= EXCLUDES_AT).then(|| {
            format!("conductivity: {value:.1} MS/m is {distance:.1} u from its {low:.1} to {high:.1} MS/m")
        })
    }

    /// Tells why mass and outline rule out a solid of the material.
    fn excluded_by_density(&self, material: &Material) -> Option<String> {
        if self.density_allows(material, 1.0) {
            return None;
        }
        let envelope = self.geometry.envelope_density?;
        let least = envelope.value - EXCLUDES_AT * envelope.u;
        let high = material.density.high.as_g_per_cm3();
        Some(if least > high {
            format!("mass and outline: at least {least:.2} g/cm³, it has at most {high:.2}")
        } else {
            let fill = envelope.value / material.density.low.as_g_per_cm3();
            format!(
                "mass and outline: it would fill {:.0} % of the envelope, a struck piece fills more",
                100.0 * fill
            )
        })
    }

    /// Tells whether mass and outline allow a body with this share of the material under the declared alloy.
    ///
    /// The envelope density is a lower bound of the true one; a struck piece also fills a least share of its envelope.
    fn density_allows(&self, material: &Material, share: f64) -> bool {
        let Some(envelope) = self.geometry.envelope_density else { return true };
        let (skin, own) = (&self.alloy.density, &material.density);
        let margin = EXCLUDES_AT * envelope.u;
        let high = density_of_clad(skin.high.as_g_per_cm3(), own.high.as_g_per_cm3(), share);
        let low = density_of_clad(skin.low.as_g_per_cm3(), own.low.as_g_per_cm3(), share);
        let hollow =
            self.product.kind == Kind::Coin && envelope.value + margin < self.policy.fill_impossible * low;
        envelope.value - margin <= high && !hollow
    }

    /// Tells whether a magnet that did not attract rules the material out.
    fn excluded_by_magnet(&self, material: &Material) -> Option<String> {
        let tried = self.evidence.presentation.magnet == Some(MagnetResponse::None);
        (tried && material.magnetism.value == Magnetism::Ferromagnetic)
            .then(|| "magnet: not attracted, it is ferromagnetic".to_owned())
    }

    /// Returns the value that a body with this share of the material displaces, in the policy's currency; `None` without a
    /// price or a mass.
    fn displaced(&self, material: &Material, share: f64) -> Option<f64> {
        let price = self.price?.as_f64();
        let mass = self.piece_mass()?;
        let core = material.density.value.as_g_per_cm3() * share;
        let skin = self.alloy.density.value.as_g_per_cm3() * (1.0 - share);
        let own = if material.metal == self.product.metal {
            material.fineness.as_ref().map_or(0.0, |fineness| fineness.value.as_share())
        } else {
            0.0
        };
        let missing = (self.product.fineness.nominal.value.as_share() - own).max(0.0);
        Some(mass * core / (core + skin) * missing / Mass::TROY_OUNCE.as_grams() * price)
    }

    fn money(&self, value: f64) -> Money {
        Money::estimate(value, self.policy.currency)
    }

    /// Returns the mass of the piece in grams, the nominal one while it was not weighed.
    pub(super) fn piece_mass(&self) -> Option<f64> {
        self.geometry
            .mass
            .map(|mass| mass.value)
            .or_else(|| self.product.mass.as_ref().map(|mass| mass.nominal.value.as_grams()))
    }

    /// Returns whom a surviving core concerns: unpriced, every core that is not negligible concerns the piece.
    fn core_doubt(&self, displaced: Option<f64>, share: f64) -> Option<Scope> {
        match displaced {
            Some(_) => self.doubt_for(displaced),
            None => (share >= LEAST_SHARE).then_some(Scope::Piece),
        }
    }

    /// Returns whom a displaced value concerns; without a price it concerns the piece.
    fn doubt_for(&self, displaced: Option<f64>) -> Option<Scope> {
        let Some(displaced) = displaced else { return Some(Scope::Piece) };
        if displaced > self.policy.displaced_piece.as_f64() {
            Some(Scope::Piece)
        } else if displaced * f64::from(self.lot_size) > self.policy.displaced_lot.as_f64() {
            Some(Scope::Lot)
        } else {
            None
        }
    }
}

/// The skins that are tried on a piece, each with the volume share of the core under it.
struct Scan {
    steps: Vec<(f64, f64)>,
}

impl Scan {
    /// Takes the skins of a table up to half the thickness; a piece thicker than the table gets its last step at half the
    /// thickness, where a core answers as at the table's end. Without a table, 200 even steps.
    fn of(geometry: &Geometry, thickness: f64, table: Option<&[f64]>) -> Self {
        let half = thickness / 2.0;
        let mut skins: Vec<f64> = match table {
            Some(skins) => skins.iter().copied().take_while(|skin| *skin <= half).collect(),
            None => (0..=200).map(|i| (f64::from(i) * half / 200.0).max(0.001)).collect(),
        };
        if skins.last().is_none_or(|last| *last < half) {
            skins.push(half);
        }
        Scan { steps: skins.into_iter().map(|skin| (skin, geometry.core_share(thickness, skin))).collect() }
    }
}

/// Returns how many standard uncertainties a value lies outside an interval; 0 inside.
fn distance(value: f64, u: f64, low: f64, high: f64) -> f64 {
    (low - value).max(value - high).max(0.0) / u
}

/// Returns the distance from what the layered model predicts, with the model's own error joined to the reading's.
fn model_distance(value: f64, u: f64, low: f64, high: f64) -> f64 {
    let nearest = value.clamp(low, high);
    distance(value, u.hypot(nearest * MODEL_SHARE / EXCLUDES_AT), low, high)
}

/// Share of the volume below which there is no core to speak of.
const NO_CORE: f64 = 0.001;

/// Metals so rare and hard to work that nobody puts them under gold or silver for gain; they stay candidates, are listed
/// last and hold nothing (common practice, no source).
const NEVER_USED: [&str; 5] = ["Rh", "Ru", "Ir", "Os", "Re"];

/// Collects steps into closed intervals.
struct Intervals<'v> {
    open: Option<(f64, f64)>,
    done: &'v mut Vec<(f64, f64)>,
}

impl<'v> Intervals<'v> {
    fn new(done: &'v mut Vec<(f64, f64)>) -> Self {
        Intervals { open: None, done }
    }

    fn step(&mut self, at: f64, inside: bool) {
        match (&mut self.open, inside) {
            (Some((_, end)), true) => *end = at,
            (None, true) => self.open = Some((at, at)),
            (Some(_), false) => self.done.extend(self.open.take()),
            (None, false) => {}
        }
    }

    fn close(&mut self) {
        self.done.extend(self.open.take());
    }
}
