//! What a piece could still be: every solid and every skin-on-core construction that no usable reading excludes.

use super::assessment::{Candidate, Construction, Scope};
use super::doubt::Method;
use super::exclusion::Exclusion;
use super::lineup::{Lineup, Listed};
use super::response::{Excluded, Response};
use super::scans::{MODEL_SHARE, Table, core_range};
use super::second::{Build, CoreShape, EXCLUDES_AT, Look, Range, distance, why_excluded};
use super::skins::Scan;
use super::trial::Trial;
use super::worth::{Displacement, Limits};
use crate::evidence::MagnetResponse;
use crate::physics::density::density_of_clad;
use crate::quantity::{Length, Money};
use crate::reference::{Kind, Magnetism, Material};
use std::ops::Range as Steps;
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
    lineup: Arc<Lineup>,
    table: Option<Arc<Table>>,
    /// What the reading excludes of all that a core can show; `None` where there is no usable one.
    excluded: Option<Excluded>,
    looks: &'t [(Method, &'t Look)],
    limits: Limits,
    /// Mass in g and price of a troy ounce, where both are known.
    worth: Option<(f64, f64)>,
}

/// What mass and outline allow of one material, in g/cm³.
pub(super) struct DensityBounds {
    /// Densest skin and core.
    pub(super) high: (f64, f64),
    /// Lightest skin and core.
    pub(super) low: (f64, f64),
    pub(super) at_least: f64,
    pub(super) at_most: f64,
    pub(super) fill_impossible: f64,
}

impl DensityBounds {
    /// Tells whether a body with this share of the material is possible.
    pub(super) fn allow(&self, share: f64) -> bool {
        let densest = density_of_clad(self.high.0, self.high.1, share);
        let lightest = density_of_clad(self.low.0, self.low.1, share);
        self.at_least <= densest && self.at_most >= self.fill_impossible * lightest
    }

    /// Returns those of the first `end` steps of a scan that mass and outline allow: what they ask of a share is linear in it, so
    /// one run.
    fn steps(&self, scan: &Scan<'_>, end: usize) -> Steps<usize> {
        if end == 0 {
            return 0..0;
        }
        let (first, last) = (scan.share(0), scan.share(end - 1));
        let rule = |rule: &dyn Fn(f64) -> bool| match (rule(first), rule(last)) {
            (true, true) => 0..end,
            (false, false) => 0..0,
            (true, false) => 0..scan.holds_to(0..end, rule),
            (false, true) => scan.holds_to(0..end, |share| !rule(share))..end,
        };
        let dense = rule(&|share| self.at_least <= density_of_clad(self.high.0, self.high.1, share));
        let full = rule(&|share| {
            self.at_most >= self.fill_impossible * density_of_clad(self.low.0, self.low.1, share)
        });
        dense.start.max(full.start)..dense.end.min(full.end)
    }
}

impl<'a> Trial<'a> {
    /// Returns every candidate of the catalogue: doubts of the piece, of the lot, remarks, excluded, in each in the order of the
    /// [`Lineup`]; `looks` are the second tests that count.
    pub(super) fn suspects(&self, looks: &[(Method, &Look)]) -> Vec<Suspect<'a>> {
        let tried = Tried {
            lineup: self.scans.lineup(self.catalogue, self.product, self.alloy),
            table: self.table(),
            excluded: self.conductivity.map(Excluded::by),
            looks,
            limits: Limits::of(self.policy, self.lot_size),
            worth: self.piece_mass().zip(self.price.map(Money::as_f64)),
        };
        let scan = self.scan(tried.table.as_deref());
        let with_core = scan.as_ref().map_or(0, Scan::with_core);
        let materials = self.catalogue.all_materials();
        let most = 2 * tried.lineup.listed.len();
        // The list is in order but for whom a survivor concerns; what is excluded is most of it.
        let [mut piece, mut lot, mut remarks] = [const { Vec::new() }; 3];
        let mut excluded: Vec<Suspect<'a>> = Vec::with_capacity(most);
        let mut put =
            |suspect: Suspect<'a>| match (suspect.candidate.survives, suspect.candidate.material_doubt) {
                (true, Some(Scope::Piece)) => piece.push(suspect),
                (true, Some(Scope::Lot)) => lot.push(suspect),
                (true, None) => remarks.push(suspect),
                (false, _) => excluded.push(suspect),
            };
        for listed in &tried.lineup.listed {
            let material = &materials[listed.index];
            put(self.solid(*listed, material, &tried));
            if let Some(scan) = &scan {
                put(self.core(*listed, material, &tried, scan, with_core));
            }
        }
        let mut suspects = Vec::with_capacity(most);
        for part in [piece, lot, remarks, excluded] {
            suspects.extend(part);
        }
        suspects
    }

    /// Compares a solid of one material.
    fn solid(&self, listed: Listed, material: &'a Material, tried: &Tried<'_>) -> Suspect<'a> {
        let index = listed.index;
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
        let displaced = || self.displacement_in(tried, material).map(|displacement| displacement.at(1.0));
        let material_doubt = survives.then(|| self.solid_concerns(material, &tried.limits)).flatten();
        Suspect {
            candidate: Candidate {
                material: material.id.clone(),
                name: material.name.clone(),
                construction: Construction::Solid,
                survives,
                skins: Vec::new(),
                hidden_share: survives.then_some(1.0),
                displaced: survives.then(displaced).flatten().map(|value| self.money(value)),
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
    fn core(
        &self,
        listed: Listed,
        material: &'a Material,
        tried: &Tried<'_>,
        scan: &Scan<'_>,
        with_core: usize,
    ) -> Suspect<'a> {
        let index = listed.index;
        let magnet = self.excluded_by_magnet(material);
        let response = tried.table.as_ref().map(|table| &table.cores[index]);
        let displacement = self.displacement_in(tried, material);
        let mut left = Left::default();
        if magnet.is_none() {
            let allowed = self.density_bounds(material).steps(scan, with_core);
            let concerns = |share: f64| {
                let worth = displacement.as_ref().map(|displacement| displacement.at(share));
                tried.limits.concerns_core(worth, share).is_some()
            };
            // What a core displaces falls with its share, and so with every further step.
            let matters_to = match listed.gain {
                true => scan.holds_to(0..allowed.end, concerns),
                false => 0,
            };
            let mut run = |run: Steps<usize>| match tried.looks {
                [] => left.run(scan, run, matters_to),
                looks => left.looked_at(scan, run, matters_to, looks, |core| Build { material, index, core }),
            };
            match tried.excluded.zip(response) {
                Some((excluded, response)) => response.left(excluded, allowed, run),
                None if !allowed.is_empty() => run(allowed),
                None => {}
            }
        }
        let Left { skins, material_skins, hidden_share, seen_by } = left;
        let survives = !skins.is_empty();
        let excluded_by = (!survives).then(|| {
            magnet.unwrap_or_else(|| {
                let nearest = self.nearest(response, scan);
                match seen_by {
                    _ if nearest >= EXCLUDES_AT => Exclusion::UnderAnySkin { distance: nearest },
                    Some((method, distance)) => why_excluded(method, distance),
                    None => Exclusion::NoSkin,
                }
            })
        });
        let displaced = displacement.filter(|_| survives).map(|displacement| displacement.at(hidden_share));
        let length = |mm: f64| Length::from_millimetres(mm);
        Suspect {
            candidate: Candidate {
                material: material.id.clone(),
                name: material.name.clone(),
                construction: Construction::Core,
                survives,
                skins: skins.iter().map(|(from, to)| (length(*from), length(*to))).collect(),
                hidden_share: survives.then_some(hidden_share),
                displaced: displaced.map(|value| self.money(value)),
                material_doubt: (survives && listed.gain)
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
    fn nearest(&self, response: Option<&Response>, scan: &Scan<'_>) -> f64 {
        let Some((measured, response)) = self.conductivity.zip(response) else { return 0.0 };
        let Some((below, above)) = response.around(measured.value, scan.len()) else { return 0.0 };
        let to = |at: f64| match at.is_finite() {
            true => distance(measured, Range { low: at, high: at }, MODEL_SHARE),
            false => f64::INFINITY,
        };
        to(below).min(to(above))
    }

    /// Tells why a solid cannot give the conductivity reading.
    fn solid_excluded_by_conductivity(&self, material: &Material) -> Option<Exclusion> {
        let measured = self.conductivity?;
        let (low, high) = core_range(material);
        let distance = distance(measured, Range { low, high }, 0.0);
        let value = measured.value;
        (distance >= EXCLUDES_AT).then_some(Exclusion::Conductivity { value, distance, low, high })
    }

    /// Tells why mass and outline rule out a solid of the material.
    fn excluded_by_density(&self, material: &Material) -> Option<Exclusion> {
        if self.density_bounds(material).allow(1.0) {
            return None;
        }
        let envelope = self.geometry.envelope_density?;
        let least = envelope.value - EXCLUDES_AT * envelope.u;
        let high = material.density.high.as_g_per_cm3();
        Some(if least > high {
            Exclusion::TooLight { least, greatest: high }
        } else {
            Exclusion::TooHeavy { fill: envelope.value / material.density.low.as_g_per_cm3() }
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
    fn excluded_by_magnet(&self, material: &Material) -> Option<Exclusion> {
        let tried = self.evidence.presentation.magnet == Some(MagnetResponse::None);
        (tried && material.magnetism.value == Magnetism::Ferromagnetic).then_some(Exclusion::Magnet)
    }

    /// Returns what a material displaces by its share; `None` without a price or a mass.
    pub(super) fn displacement(&self, material: &Material) -> Option<Displacement> {
        let (mass, price) = (self.piece_mass()?, self.price?);
        Some(Displacement::of(mass, price.as_f64(), self.product, self.alloy, material))
    }

    /// Returns the same from the mass and the price that all materials of the list share.
    fn displacement_in(&self, tried: &Tried<'_>, material: &Material) -> Option<Displacement> {
        let (mass, price) = tried.worth?;
        Some(Displacement::of(mass, price, self.product, self.alloy, material))
    }

    pub(super) fn money(&self, value: f64) -> Money {
        Money::estimate(value, self.policy.currency)
    }
}

/// Share of the volume below which there is no core to speak of.
pub(super) const NO_CORE: f64 = 0.001;

/// What is left of one core.
#[derive(Default)]
struct Left {
    skins: Vec<(f64, f64)>,
    material_skins: Vec<(f64, f64)>,
    /// Largest share of the volume.
    hidden_share: f64,
    /// The second test that saw it under the thickest of the skins that readings leave, and how far off it was.
    seen_by: Option<(Method, f64)>,
}

impl Left {
    /// Adds a run of steps that everything leaves; it matters under those before `matters_to`.
    fn run(&mut self, scan: &Scan<'_>, run: Steps<usize>, matters_to: usize) {
        let skin = |step: usize| scan.skin(step);
        self.hidden_share = self.hidden_share.max(scan.share(run.start));
        self.skins.push((skin(run.start), skin(run.end - 1)));
        if run.start < matters_to {
            self.material_skins.push((skin(run.start), skin(run.end.min(matters_to) - 1)));
        }
    }

    /// Asks second tests about each step of a run that the readings leave.
    fn looked_at<'a>(
        &mut self,
        scan: &Scan<'_>,
        run: Steps<usize>,
        matters_to: usize,
        looks: &[(Method, &Look)],
        build: impl Fn(Option<CoreShape>) -> Build<'a>,
    ) {
        let mut start = None;
        for step in run.clone() {
            let build = build(Some(scan.shape(step)));
            match looks.iter().find(|(_, look)| look.excludes(&build)) {
                Some((method, look)) => {
                    self.seen_by = Some((*method, look.distance(&build)));
                    if let Some(start) = start.take() {
                        self.run(scan, start..step, matters_to);
                    }
                }
                None => start = start.or(Some(step)),
            }
        }
        if let Some(start) = start {
            self.run(scan, start..run.end, matters_to);
        }
    }
}
