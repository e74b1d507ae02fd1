//! What a piece could still be: every solid and every skin-on-core construction that no usable reading excludes.

use super::assessment::{Candidate, Construction, Scope};
use super::doubt::Method;
use super::scans::{MODEL_SHARE, Response, Table, core_range};
use super::second::{Build, EXCLUDES_AT, Look, Range, distance, excludes, why_excluded};
use super::skins::{Intervals, Scan};
use super::trial::Trial;
use super::worth::{Displacement, Limits};
use crate::evidence::MagnetResponse;
use crate::physics::density::density_of_clad;
use crate::quantity::{Length, Money};
use crate::reference::{Family, Kind, Magnetism, Material, Metal};
use std::sync::Arc;

/// A candidate with the material behind it and the skins at which it matters.
#[derive(Debug, Clone)]
pub(super) struct Suspect<'a> {
    pub(super) candidate: Candidate,
    pub(super) material: &'a Material,
    /// Place of the material in the catalogue.
    pub(super) index: usize,
    /// Surviving skins in mm; empty for a solid.
    pub(super) skins: Vec<(f64, f64)>,
    /// Surviving skins in mm at which the displaced value passes the limit; empty for a solid.
    pub(super) material_skins: Vec<(f64, f64)>,
}

/// What the candidates of one piece are tried with.
struct Tried<'t> {
    table: Option<Arc<Table>>,
    looks: &'t [(Method, &'t Look)],
    limits: Limits,
}

/// What mass and outline allow of one material, in g/cm³.
pub(super) struct DensityBounds {
    /// Densest skin and core.
    high: (f64, f64),
    /// Lightest skin and core.
    low: (f64, f64),
    at_least: f64,
    at_most: f64,
    fill_impossible: f64,
}

impl DensityBounds {
    /// Tells whether a body with this share of the material is possible.
    pub(super) fn allow(&self, share: f64) -> bool {
        let densest = density_of_clad(self.high.0, self.high.1, share);
        let lightest = density_of_clad(self.low.0, self.low.1, share);
        self.at_least <= densest && self.at_most >= self.fill_impossible * lightest
    }
}

impl<'a> Trial<'a> {
    /// Returns every candidate of the catalogue, survivors with most displaced value first; `looks` are the second tests
    /// that count.
    pub(super) fn suspects(&self, looks: &[(Method, &Look)]) -> Vec<Suspect<'a>> {
        let tried = Tried { table: self.table(), looks, limits: Limits::of(self.policy, self.lot_size) };
        let scan = self.scan(tried.table.as_deref());
        let mut suspects: Vec<Suspect<'a>> = Vec::new();
        for (index, material) in self.catalogue.materials().enumerate() {
            if !self.is_a_suspect(material) {
                continue;
            }
            suspects.push(self.solid((index, material), &tried));
            suspects.extend(scan.as_ref().map(|scan| self.core((index, material), &tried, scan)));
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

    /// Tells whether a material stands in the list at all: not what is declared, nor as good, nor named by another.
    pub(super) fn is_a_suspect(&self, material: &Material) -> bool {
        material.id != self.alloy.id && !self.is_as_good(material) && !self.is_covered_by_element(material)
    }

    /// Tells whether nobody gains by putting the material in the place of the declared metal: it is never used, or it is a
    /// precious metal dearer than silver in the place of silver.
    pub(super) fn brings_no_gain(&self, material: &Material) -> bool {
        let dearer = matches!(material.metal, Metal::Gold | Metal::Platinum | Metal::Palladium);
        NEVER_USED.contains(&material.id.as_str()) || (dearer && self.product.metal == Metal::Silver)
    }

    /// Tells whether a material is a trade grade of a pure metal that stands for itself in the list.
    fn is_covered_by_element(&self, material: &Material) -> bool {
        let fine = material.fineness.as_ref().is_some_and(|f| f.value.as_share() >= 0.999);
        fine && material.family != Family::Element && material.metal != self.product.metal
    }

    /// Tells whether a material is the declared metal at an equal or higher fineness.
    fn is_as_good(&self, material: &Material) -> bool {
        material.is_at_least(self.product.metal, self.product.fineness.nominal.value)
    }

    /// Compares a solid of one material.
    fn solid(&self, (index, material): (usize, &'a Material), tried: &Tried<'_>) -> Suspect<'a> {
        let build = Build { material, index, core: None };
        let by_look = || {
            let look = tried.looks.iter().find(|(_, look)| look.excludes(&build));
            look.map(|(method, look)| why_excluded(*method, look.distance(&build)))
        };
        let excluded_by = self
            .excluded_by_density(material)
            .or_else(|| self.excluded_by_magnet(material))
            .or_else(|| self.solid_excluded_by_conductivity(material))
            .or_else(by_look);
        let survives = excluded_by.is_none();
        let displaced = self.displacement(material).map(|displacement| displacement.at(1.0));
        let material_doubt = survives.then(|| self.solid_concerns(material, &tried.limits)).flatten();
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
            index,
            skins: Vec::new(),
            material_skins: Vec::new(),
        }
    }

    /// Returns whom a solid of a material concerns while it is not excluded.
    pub(super) fn solid_concerns(&self, material: &Material, limits: &Limits) -> Option<Scope> {
        if self.brings_no_gain(material) {
            None
        } else if material.metal == self.product.metal {
            limits.concerns(self.displacement(material).map(|displacement| displacement.at(1.0)))
        } else {
            Some(Scope::Piece)
        }
    }

    /// Compares one core under every skin of the scan.
    fn core(&self, (index, material): (usize, &'a Material), tried: &Tried<'_>, scan: &Scan) -> Suspect<'a> {
        let magnet = self.excluded_by_magnet(material);
        let response = tried.table.as_ref().map(|table| &table.cores[index]);
        let displacement = self.displacement(material);
        let density = self.density_bounds(material);
        let mut skins = Vec::new();
        let mut material_skins = Vec::new();
        let mut seen_by = None;
        let mut hidden_share: f64 = 0.0;
        let gain = !self.brings_no_gain(material);
        if magnet.is_none() {
            let mut survivors = Intervals::new(&mut skins);
            let mut matters = Intervals::new(&mut material_skins);
            for (step, &shape) in scan.steps.iter().enumerate() {
                let read = |response: &Response| {
                    let step = step.min(response.low.len() - 1);
                    Range { low: response.low[step], high: response.high[step] }
                };
                let excluded = match (self.conductivity, response) {
                    (Some(measured), Some(response)) => excludes(measured, read(response), MODEL_SHARE),
                    _ => false,
                };
                let mut survives = !excluded && shape.share > NO_CORE && density.allow(shape.share);
                if survives && !tried.looks.is_empty() {
                    let build = Build { material, index, core: Some(shape) };
                    let look = tried.looks.iter().find(|(_, look)| look.excludes(&build));
                    if let Some((method, look)) = look {
                        survives = false;
                        seen_by = Some((*method, look.distance(&build)));
                    }
                }
                survivors.step(shape.skin, survives);
                let concerns = || {
                    let worth = displacement.as_ref().map(|displacement| displacement.at(shape.share));
                    tried.limits.concerns_core(worth, shape.share).is_some()
                };
                matters.step(shape.skin, survives && gain && concerns());
                if survives {
                    hidden_share = hidden_share.max(shape.share);
                }
            }
            survivors.close();
            matters.close();
        }
        let survives = !skins.is_empty();
        let displaced = displacement.map(|displacement| displacement.at(hidden_share));
        let excluded_by = (!survives).then(|| {
            magnet.unwrap_or_else(|| {
                let nearest = self.nearest(response, scan);
                match seen_by {
                    _ if nearest >= EXCLUDES_AT => {
                        format!("conductivity: at least {nearest:.1} u from all it can read under any skin")
                    }
                    Some((method, distance)) => why_excluded(method, distance),
                    None => "mass and outline: no skin that conductivity leaves gives this mass".to_owned(),
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
                    .then(|| tried.limits.concerns_core(displaced, hidden_share))
                    .flatten(),
                excluded_by,
                outside_model: self.conductivity.is_some() && response.is_none(),
            },
            material,
            index,
            skins,
            material_skins,
        }
    }

    /// Returns how near the reading comes to what a core can read under any skin of the scan, in standard uncertainties.
    fn nearest(&self, response: Option<&Response>, scan: &Scan) -> f64 {
        let Some((measured, response)) = self.conductivity.zip(response) else { return 0.0 };
        let steps = (0..scan.steps.len()).map(|step| step.min(response.low.len() - 1));
        steps
            .map(|step| Range { low: response.low[step], high: response.high[step] })
            .map(|range| distance(measured, range, MODEL_SHARE))
            .fold(f64::INFINITY, f64::min)
    }

    /// Tells why a solid cannot give the conductivity reading.
    fn solid_excluded_by_conductivity(&self, material: &Material) -> Option<String> {
        let measured = self.conductivity?;
        let (low, high) = core_range(material);
        let distance = distance(measured, Range { low, high }, 0.0);
        let value = measured.value;
        (distance >= EXCLUDES_AT).then(|| {
            format!("conductivity: {value:.1} MS/m is {distance:.1} u from its {low:.1} to {high:.1} MS/m")
        })
    }

    /// Tells why mass and outline rule out a solid of the material.
    fn excluded_by_density(&self, material: &Material) -> Option<String> {
        if self.density_bounds(material).allow(1.0) {
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

    /// Returns what mass and outline allow of a material under the declared alloy.
    ///
    /// The envelope density is a lower bound of the true one; a struck piece also fills a least share of its envelope.
    pub(super) fn density_bounds(&self, material: &Material) -> DensityBounds {
        let (skin, own) = (&self.alloy.density, &material.density);
        let envelope = self.geometry.envelope_density;
        let margin = envelope.map_or(0.0, |envelope| EXCLUDES_AT * envelope.u);
        DensityBounds {
            high: (skin.high.as_g_per_cm3(), own.high.as_g_per_cm3()),
            low: (skin.low.as_g_per_cm3(), own.low.as_g_per_cm3()),
            at_least: envelope.map_or(0.0, |envelope| envelope.value - margin),
            at_most: envelope.map_or(f64::INFINITY, |envelope| envelope.value + margin),
            fill_impossible: if self.product.kind == Kind::Coin { self.policy.fill_impossible } else { 0.0 },
        }
    }

    /// Tells whether a magnet that did not attract rules the material out.
    fn excluded_by_magnet(&self, material: &Material) -> Option<String> {
        let tried = self.evidence.presentation.magnet == Some(MagnetResponse::None);
        (tried && material.magnetism.value == Magnetism::Ferromagnetic)
            .then(|| "magnet: not attracted, it is ferromagnetic".to_owned())
    }

    /// Returns what a material displaces by its share; `None` without a price or a mass.
    pub(super) fn displacement(&self, material: &Material) -> Option<Displacement> {
        let (mass, price) = (self.piece_mass()?, self.price?);
        Some(Displacement::of(mass, price.as_f64(), self.product, self.alloy, material))
    }

    pub(super) fn money(&self, value: f64) -> Money {
        Money::estimate(value, self.policy.currency)
    }
}

/// Share of the volume below which there is no core to speak of.
pub(super) const NO_CORE: f64 = 0.001;

/// Metals so rare and hard to work that nobody puts them under gold or silver for gain; they stay candidates, are listed
/// last and hold nothing (common practice, no source).
const NEVER_USED: [&str; 5] = ["Rh", "Ru", "Ir", "Os", "Re"];
