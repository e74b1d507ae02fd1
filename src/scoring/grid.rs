//! Everything that a piece of a product could be instead, as plain columns: each material throughout, as a core under each skin,
//! and let in beside the measuring points.
//!
//! What it is for: a cell is a material, how it is built, and one step of skin (or of share, for inserts). Each column bounds what
//! any body of the cell can show, over the published ranges and over the whole step, so that no skin falls between two cells. What
//! it must never do: know a reading. Read next: [`super::standard`], which adds what the desk watches for, then
//! [`super::survey`].

use super::assessment::Construction;
use super::geometry::Geometry;
use super::second::{Build, CoreShape, Range};
use super::tables::{Table, core_range};
use crate::physics::density::density_of_clad;
use crate::quantity::{Length, Mass};
use crate::reference::{BuiltAs, Catalogue, Family, Material, Metal, Practice, Product};

/// Steps of skin from a micrometre to an eighth of the thickness, each the same factor thicker than the one before, and even steps from
/// there to half the thickness, where a core has no room left.
const THIN_STEPS: usize = 80;
const THICK_STEPS: usize = 48;
/// Thinnest skin that is considered, in mm.
pub(super) const THINNEST_MM: f64 = 0.001;
/// Share of the volume below which there is no core to speak of.
const NO_CORE: f64 = 0.001;
/// Mass in grams from which a bar has room for rods beside the measuring points.
pub(super) const INSERTS_FROM_G: f64 = 100.0;
/// Shares of the volume between which inserts are asked for.
const INSERT_SHARES: [f64; 7] = [0.01, 0.02, 0.05, 0.10, 0.20, 0.35, 0.50];
/// What an ounce of fine metal costs in euro where only the price of another metal is known: an order of magnitude (assumed).
const PRECIOUS_PER_KG: [(Metal, f64); 4] = [
    (Metal::Gold, 75_000.0),
    (Metal::Silver, 1_000.0),
    (Metal::Platinum, 30_000.0),
    (Metal::Palladium, 30_000.0),
];

/// The cells of one material built in one way.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Entry {
    /// Place of the material in the catalogue.
    pub(super) material: usize,
    pub(super) built: Construction,
    /// Whether such pieces are met.
    pub(super) practice: Practice,
    pub(super) cells: std::ops::Range<usize>,
}

/// What bodies of each cell show at least and at most.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Column {
    pub(super) low: Vec<f64>,
    pub(super) high: Vec<f64>,
}

impl Column {
    fn push(&mut self, range: Range) {
        self.low.push(range.low);
        self.high.push(range.high);
    }

    pub(super) fn at(&self, cell: usize) -> Range {
        Range { low: self.low[cell], high: self.high[cell] }
    }
}

/// Anything at all: no reading excludes it.
const ANYTHING: Range = Range { low: f64::NEG_INFINITY, high: f64::INFINITY };

/// The possibilities of one product with one probe.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Grid {
    /// Solids first, then cores, then inserts; each time what is met first, then what is nearest in density.
    pub(super) entries: Vec<Entry>,
    /// Cells that are solids: they come first, and no model stands between them and a reading.
    pub(super) solids: usize,
    /// Thinnest and thickest skin of each cell in mm.
    pub(super) thin: Vec<f64>,
    pub(super) thick: Vec<f64>,
    /// Greatest share of the volume in each cell.
    pub(super) share: Vec<f64>,
    /// Apparent conductivity with the probe, in MS/m.
    pub(super) reads: Column,
    /// Density of the whole body in g/cm³.
    pub(super) density: Column,
    /// Share of the fine metal that a body of the cell lacks at most.
    pub(super) displaced: Vec<f64>,
    /// Mass of the substitute in it, as a share, and what a kilogram of it costs.
    pub(super) mass_share: Vec<f64>,
    pub(super) per_kg: Vec<f64>,
}

/// What a grid is made from.
pub(super) struct Made<'m> {
    pub(super) catalogue: &'m Catalogue,
    pub(super) product: &'m Product,
    pub(super) alloy: &'m Material,
    /// Outline and mass that pieces of the product have.
    pub(super) geometry: &'m Geometry,
    /// What cores read with the probe, and the skin depth of the declared alloy in mm.
    pub(super) table: Option<(&'m Table, f64)>,
}

impl Grid {
    /// Lays out the possibilities of a product.
    pub(super) fn of(made: &Made<'_>) -> Self {
        let mut grid = Grid::default();
        let thickness = made.geometry.whole_thickness();
        let large = made.geometry.mass.is_some_and(|mass| mass.value >= INSERTS_FROM_G);
        grid.lay(made, Construction::Solid, |grid, _index, material| {
            let (low, high) = core_range(material);
            grid.put(made, material, Span::SOLID, Range { low, high });
        });
        grid.solids = grid.thin.len();
        if let Some(thickness) = thickness {
            grid.lay(made, Construction::Core, |grid, index, material| {
                for step in 0..THIN_STEPS + THICK_STEPS {
                    let span = Span::of_skins(made.geometry, thickness, step);
                    if span.most > NO_CORE {
                        let reads = match made.table {
                            Some((table, depth)) => {
                                table.between(index, span.thin / depth, span.thick / depth)
                            }
                            None => ANYTHING,
                        };
                        grid.put(made, material, span, reads);
                    }
                }
            });
        }
        if large {
            grid.lay(made, Construction::Insert, |grid, _index, material| {
                for shares in INSERT_SHARES.windows(2) {
                    let span = Span { thin: 0.0, thick: 0.0, least: shares[0], most: shares[1] };
                    grid.put(made, material, span, ANYTHING);
                }
            });
        }
        grid
    }

    /// Adds an entry for each material that a piece could be instead.
    fn lay(
        &mut self,
        made: &Made<'_>,
        built: Construction,
        mut cells: impl FnMut(&mut Self, usize, &Material),
    ) {
        let (product, alloy) = (made.product, made.alloy);
        let own = alloy.density.value.as_g_per_cm3();
        let as_built = if built == Construction::Solid { BuiltAs::Solid } else { BuiltAs::Core };
        let mut listed: Vec<(usize, &Material, Practice)> = made
            .catalogue
            .materials()
            .enumerate()
            .filter(|(_, material)| is_listed(material, product, alloy))
            .map(|(index, material)| {
                (index, material, made.catalogue.practice(product.metal, as_built, &material.id))
            })
            .collect();
        let gap = |material: &Material| (material.density.value.as_g_per_cm3() - own).abs();
        listed.sort_by(|(_, a, first), (_, b, second)| first.cmp(second).then(gap(a).total_cmp(&gap(b))));
        for (index, material, practice) in listed {
            let from = self.thin.len();
            cells(self, index, material);
            self.entries.push(Entry { material: index, built, practice, cells: from..self.thin.len() });
        }
    }

    fn put(&mut self, made: &Made<'_>, material: &Material, span: Span, reads: Range) {
        let (skin, core) = (&made.alloy.density, &material.density);
        let mixed = |share: f64| {
            let low = density_of_clad(skin.low.as_g_per_cm3(), core.low.as_g_per_cm3(), share);
            let high = density_of_clad(skin.high.as_g_per_cm3(), core.high.as_g_per_cm3(), share);
            (low, high)
        };
        let (few, many) = (mixed(span.least), mixed(span.most));
        let (heart, around) = (core.value.as_g_per_cm3(), skin.value.as_g_per_cm3());
        let mass_share = heart * span.most / (heart * span.most + around * (1.0 - span.most));
        let fineness = made.product.fineness.nominal.value.as_share();
        let own = if material.metal == made.product.metal {
            material.fineness.as_ref().map_or(0.0, |fineness| fineness.value.as_share())
        } else {
            0.0
        };
        self.thin.push(span.thin);
        self.thick.push(span.thick);
        self.share.push(span.most);
        self.reads.push(reads);
        self.density.push(Range { low: few.0.min(many.0), high: few.1.max(many.1) });
        self.displaced.push(mass_share * (1.0 - own / fineness).max(0.0));
        self.mass_share.push(mass_share);
        self.per_kg.push(per_kg(made.catalogue, made.product, material));
    }

    /// Returns the number of cells.
    pub(super) fn len(&self) -> usize {
        self.thin.len()
    }

    /// Returns the entry that a cell belongs to.
    pub(super) fn entry_of(&self, cell: usize) -> &Entry {
        let place = self.entries.partition_point(|entry| entry.cells.end <= cell);
        &self.entries[place]
    }

    /// Returns the skins of some cells of an entry, joined where they meet; empty for what has no skin.
    pub(super) fn skins(&self, entry: &Entry, cells: &[usize]) -> Vec<(Length, Length)> {
        if entry.built != Construction::Core {
            return Vec::new();
        }
        let mut skins: Vec<(usize, usize)> = Vec::new();
        for cell in cells {
            match skins.last_mut() {
                Some((_, last)) if *last + 1 == *cell => *last = *cell,
                _ => skins.push((*cell, *cell)),
            }
        }
        let length = Length::from_millimetres;
        skins.into_iter().map(|(first, last)| (length(self.thin[first]), length(self.thick[last]))).collect()
    }

    /// Returns the two ends of a cell as bodies, the thin skin first; a solid is its own end.
    pub(super) fn ends<'m>(
        &self,
        catalogue: &'m Catalogue,
        geometry: &Geometry,
        entry: &Entry,
        cell: usize,
    ) -> Option<[Build<'m>; 2]> {
        let material = &catalogue.all_materials()[entry.material];
        let body = |core| Build { material, index: entry.material, core };
        match entry.built {
            Construction::Solid => Some([body(None); 2]),
            Construction::Core => {
                let thickness = geometry.whole_thickness()?;
                let end = |skin: f64| body(Some(geometry.core_shape(thickness, skin.min(thickness / 2.0))));
                Some([end(self.thin[cell]), end(self.thick[cell])])
            }
            // Beside the measuring points: only what takes in the whole piece knows of it.
            Construction::Insert => {
                let shape = CoreShape { skin: 0.0, share: self.share[cell], linear: 0.0 };
                Some([body(Some(shape)); 2])
            }
        }
    }
}

/// What one cell spans.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Span {
    thin: f64,
    thick: f64,
    least: f64,
    most: f64,
}

impl Span {
    const SOLID: Span = Span { thin: 0.0, thick: 0.0, least: 1.0, most: 1.0 };

    fn of_skins(geometry: &Geometry, thickness: f64, step: usize) -> Self {
        let half = (thickness / 2.0).max(8.0 * THINNEST_MM);
        let eighth = half / 4.0;
        let factor = (eighth / THINNEST_MM).powf(1.0 / THIN_STEPS as f64);
        let even = (half - eighth) / THICK_STEPS as f64;
        let skin = |step: usize| match step.checked_sub(THIN_STEPS) {
            None => THINNEST_MM * factor.powi(step as i32),
            Some(beyond) => eighth + even * beyond as f64,
        };
        let (thin, thick) = (skin(step), skin(step + 1));
        let share = |skin: f64| geometry.core_share(thickness, skin);
        Span { thin, thick, least: share(thick), most: share(thin) }
    }
}

/// Tells whether a material is something else than what is declared: not the alloy itself, not as good, nor another name of an
/// element that stands in the list.
pub(super) fn is_listed(material: &Material, product: &Product, alloy: &Material) -> bool {
    let as_good = material.is_at_least(product.metal, product.fineness.nominal.value);
    let fine = material.fineness.as_ref().is_some_and(|f| f.value.as_share() >= 0.999);
    let another_name = fine && material.family != Family::Element && material.metal != product.metal;
    material.id != alloy.id && !as_good && !another_name
}

/// Returns what a kilogram of a substitute costs in the desk's currency; of the product's own metal nothing, because what it
/// holds is not displaced.
fn per_kg(catalogue: &Catalogue, product: &Product, material: &Material) -> f64 {
    if let Some(worth) = catalogue.worth_per_kg(&material.id) {
        return worth;
    }
    let fineness = material.fineness.as_ref().map_or(1.0, |fineness| fineness.value.as_share());
    let precious =
        PRECIOUS_PER_KG.iter().find(|(metal, _)| *metal == material.metal && *metal != product.metal);
    precious.map_or(0.0, |(_, worth)| worth * fineness)
}

/// Returns the value of the fine metal in a mass in grams, at a price of a troy ounce.
pub(super) fn metal_value(product: &Product, grams: f64, price: f64) -> f64 {
    grams * product.fineness.nominal.value.as_share() / Mass::TROY_OUNCE.as_grams() * price
}
