//! The catalogue: the embedded files, and a dealer's own file laid over them.

use super::caution::Caution;
use super::closest::closest;
use super::material::{Material, MaterialId, Metal};
use super::mistake::{Mistake, Mistakes, Place, Reason, Suggestion};
use super::parse::{self, Parsed, Placed, PlacedProduct};
use super::practice::{BuiltAs, Practice, PracticeEntry, WatchList, WorthEntry};
use super::product::{Origin, Product, ProductId};
use super::source::{Citation, SourceId};
use sha2::{Digest, Sha256};
use std::borrow::Borrow;
use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::hash::Hash;
use std::sync::OnceLock;

/// Most ids that are suggested for a misspelled one.
const SUGGESTIONS: usize = 3;
/// Hexadecimal digits of a version.
const VERSION_DIGITS: usize = 12;

/// Names a file of `assets/reference` and holds its text.
macro_rules! embedded {
    ($($name:literal),+ $(,)?) => {
        &[$(($name, include_str!(concat!("../../assets/reference/", $name)))),+]
    };
}

/// The embedded files, by their names below `assets/reference`, in reading order.
pub const EMBEDDED_FILES: &[(&str, &str)] = embedded![
    "sources.toml",
    "materials/elements.toml",
    "materials/gold-alloys.toml",
    "materials/silver-alloys.toml",
    "materials/platinum-alloys.toml",
    "materials/base-metals.toml",
    "products/united-states.toml",
    "products/latin-monetary-union.toml",
    "products/german-states.toml",
    "products/austria.toml",
    "products/scandinavian-monetary-union.toml",
    "products/united-kingdom.toml",
    "products/ireland.toml",
    "products/netherlands.toml",
    "products/france.toml",
    "products/ottoman-empire.toml",
    "products/canada.toml",
    "products/mexico.toml",
    "products/south-africa.toml",
    "products/china.toml",
    "products/south-america.toml",
    "products/australia.toml",
    "products/good-delivery-bars.toml",
    "products/generic-bars.toml",
    "products/customary-bars.toml",
    "cautions.toml",
    "practice.toml",
];

/// A dealer's own file as an example: an added product and an overridden one, all of it invented.
pub const DEALER_EXAMPLE: &str = include_str!("../../assets/reference/dealer-example.toml");

/// Records of one kind in a stable order, found by id.
#[derive(Debug, Clone)]
struct Shelf<I, T> {
    records: Vec<T>,
    index: HashMap<I, usize>,
}

impl<I: Clone + Eq + Hash + Borrow<str>, T> Shelf<I, T> {
    fn new() -> Self {
        Shelf { records: Vec::new(), index: HashMap::new() }
    }

    fn get(&self, id: &str) -> Option<&T> {
        self.index.get(id).map(|at| &self.records[*at])
    }

    /// Puts a record in the place of the one with the same id, or at the end.
    fn put(&mut self, id: I, record: T) {
        match self.index.get(id.borrow()) {
            Some(at) => self.records[*at] = record,
            None => {
                self.index.insert(id, self.records.len());
                self.records.push(record);
            }
        }
    }
}

/// Every source, material, product and caution the program knows.
///
/// Whatever is in it has been checked: every value has a source that exists, every product an alloy of its own metal
/// that exists, every range holds its value.
#[derive(Debug, Clone)]
pub struct Catalogue {
    sources: Shelf<SourceId, Citation>,
    materials: Shelf<MaterialId, Material>,
    products: Shelf<ProductId, Product>,
    cautions: Vec<Caution>,
    watch_list: WatchList,
    version: String,
}

impl Catalogue {
    /// Returns the catalogue that came with the program; it is read once.
    pub fn embedded() -> &'static Catalogue {
        static EMBEDDED: OnceLock<Catalogue> = OnceLock::new();
        EMBEDDED.get_or_init(|| match Catalogue::empty().with(EMBEDDED_FILES, Origin::Embedded) {
            Ok(catalogue) => catalogue,
            Err(mistakes) => unreachable!("the embedded reference has mistakes:\n{mistakes}"),
        })
    }

    /// Returns a copy of this catalogue with a dealer's own file laid over it.
    ///
    /// A product, material or source with the id of an existing one takes its place; the others are added at the end.
    /// `file_name` only appears in mistakes.
    ///
    /// # Errors
    /// Every mistake of the file, with line, column and reason; nothing is taken over then.
    pub fn with_dealer(&self, file_name: &str, text: &str) -> Result<Catalogue, Mistakes> {
        self.clone().with(&[(file_name, text)], Origin::Dealer)
    }

    fn empty() -> Catalogue {
        Catalogue {
            sources: Shelf::new(),
            materials: Shelf::new(),
            products: Shelf::new(),
            cautions: Vec::new(),
            watch_list: WatchList::default(),
            version: String::new(),
        }
    }

    fn with(mut self, files: &[(&str, &str)], origin: Origin) -> Result<Catalogue, Mistakes> {
        let mut parsed: Vec<Parsed> =
            files.iter().map(|(name, text)| parse::file(name, text, origin)).collect();
        let mut late = Vec::new();
        doubles(parsed.iter().flat_map(|p| &p.sources), "source", |s| s.id.to_string(), &mut late);
        doubles(parsed.iter().flat_map(|p| &p.materials), "material", |m| m.id.to_string(), &mut late);
        let products = parsed.iter().flat_map(|p| &p.products).map(|product| &product.placed);
        doubles(products, "product", |p| p.id.to_string(), &mut late);
        doubles(parsed.iter().flat_map(|p| &p.practices), "practice of", PracticeEntry::label, &mut late);
        doubles(parsed.iter().flat_map(|p| &p.worths), "worth of", |w| w.material.to_string(), &mut late);

        let mut places = Places::default();
        for file in &mut parsed {
            for source in file.sources.drain(..) {
                self.sources.put(source.record.id.clone(), source.record);
            }
            for Placed { record, place } in file.materials.drain(..) {
                places.materials.insert(record.id.clone(), place);
                self.materials.put(record.id.clone(), record);
            }
            for PlacedProduct { placed: Placed { record, .. }, alloy_place } in file.products.drain(..) {
                places.alloys.insert(record.id.clone(), alloy_place);
                self.products.put(record.id.clone(), record);
            }
            self.cautions.append(&mut file.cautions);
            for Placed { record, place } in file.practices.drain(..) {
                places.watched.push((record.material.clone(), place));
                self.watch_list.put(record);
            }
            for Placed { record, place } in file.worths.drain(..) {
                places.valued.push((record.material.clone(), place));
                self.watch_list.put_worth(record);
            }
        }
        self.check_sources(&parsed, &mut late);
        self.check_alloys(&parsed, &places, &mut late);
        self.check_watched(&parsed, &places, &mut late);

        let mistakes = in_order(files, parsed, late);
        if !mistakes.is_empty() {
            return Err(Mistakes(mistakes));
        }
        self.version = version(&self.version, files);
        Ok(self)
    }

    /// Returns the product with an id.
    pub fn product(&self, id: &str) -> Option<&Product> {
        self.products.get(id)
    }

    /// Returns the material with an id.
    pub fn material(&self, id: &str) -> Option<&Material> {
        self.materials.get(id)
    }

    /// Returns the source with an id.
    pub fn source(&self, id: &str) -> Option<&Citation> {
        self.sources.get(id)
    }

    /// Returns the material a product of this catalogue is made of.
    pub fn alloy_of(&self, product: &Product) -> &Material {
        self.material(product.alloy.value.as_str())
            .expect("a catalogue holds the alloy of each of its products")
    }

    /// Returns every product: the embedded ones in the order of the files, then the dealer's additions.
    pub fn products(&self) -> impl ExactSizeIterator<Item = &Product> {
        self.products.records.iter()
    }

    /// Returns every material: the embedded ones in the order of the files, then the dealer's additions.
    pub fn materials(&self) -> impl ExactSizeIterator<Item = &Material> {
        self.materials.records.iter()
    }

    /// Returns every material by its place in the order of the files.
    pub fn all_materials(&self) -> &[Material] {
        &self.materials.records
    }

    /// Returns every source in the order of the files.
    pub fn sources(&self) -> impl ExactSizeIterator<Item = &Citation> {
        self.sources.records.iter()
    }

    /// Returns every caution in the order of the file.
    pub fn cautions(&self) -> impl ExactSizeIterator<Item = &Caution> {
        self.cautions.iter()
    }

    /// Returns what is known of pieces declared to be of a metal and built of or round a material.
    ///
    /// What is in no list is feasible. A rod or plug let into a bar counts as a core.
    pub fn practice(&self, metal: Metal, built: BuiltAs, material: &MaterialId) -> Practice {
        self.watch_list.entry(metal, built, material).map_or(Practice::Feasible, |entry| entry.class)
    }

    /// Returns every entry of the watch list in the order of the files, each with its mark and its sources.
    pub fn practice_entries(&self) -> impl ExactSizeIterator<Item = &PracticeEntry> {
        self.watch_list.entries()
    }

    /// Returns what a kilogram of a base material costs: an order of magnitude, in the desk's currency.
    ///
    /// `None` for a material of a precious metal, which is valued by its metal, and for one without a market.
    pub fn worth_per_kg(&self, material: &MaterialId) -> Option<f64> {
        self.watch_list.worth(material).map(|worth| worth.per_kg.value)
    }

    /// Returns what every base material costs, in the order of the files.
    pub fn worth_entries(&self) -> impl ExactSizeIterator<Item = &WorthEntry> {
        self.watch_list.worths()
    }

    /// Returns up to three product ids that somebody may have meant, the closest first.
    pub fn closest_products(&self, typed: &str) -> Vec<&str> {
        closest(typed, self.products().map(|product| product.id.as_str()), SUGGESTIONS)
    }

    /// Returns up to three material ids that somebody may have meant, the closest first.
    pub fn closest_materials(&self, typed: &str) -> Vec<&str> {
        closest(typed, self.materials().map(|material| material.id.as_str()), SUGGESTIONS)
    }

    /// Returns the version: the first twelve hexadecimal digits of a SHA-256 over the names and texts of all files.
    pub fn version(&self) -> &str {
        &self.version
    }

    /// Reports every source that a field names and nobody lists.
    fn check_sources(&self, parsed: &[Parsed], late: &mut Vec<Mistake>) {
        for named in parsed.iter().flat_map(|file| &file.uses) {
            let id = named.id.as_str();
            if self.source(id).is_none() && !declared(parsed, id) {
                let near = closest(id, self.sources().map(|source| source.id.as_str()), SUGGESTIONS);
                let reason = Reason::UnknownSource {
                    field: named.field.clone(),
                    id: id.to_owned(),
                    closest: Suggestion(near.into_iter().map(str::to_owned).collect()),
                };
                late.push(Mistake { place: named.place.clone(), reason });
            }
        }
    }

    /// Reports every material that the watch list names and nobody lists, and a worth of a precious metal.
    fn check_watched(&self, parsed: &[Parsed], places: &Places, late: &mut Vec<Mistake>) {
        for (id, place) in places.watched.iter().chain(&places.valued) {
            if self.material(id.as_str()).is_none() && !declared(parsed, id.as_str()) {
                let reason = self.unknown_material("material", id.as_str());
                late.push(Mistake { place: place.clone(), reason });
            }
        }
        for (id, place) in &places.valued {
            let found = self.material(id.as_str());
            if found.is_some_and(|material| material.metal != Metal::Other) {
                let reason = Reason::DoesNotGo {
                    record: format!("the worth of `{id}`"),
                    field: "per_kg".to_owned(),
                    why: "a material of a precious metal is valued by the price of its metal",
                };
                late.push(Mistake { place: place.clone(), reason });
            }
        }
    }

    fn unknown_material(&self, field: &str, id: &str) -> Reason {
        Reason::UnknownMaterial {
            field: field.to_owned(),
            id: id.to_owned(),
            closest: Suggestion(self.closest_materials(id).into_iter().map(str::to_owned).collect()),
        }
    }

    /// Reports every product whose alloy does not exist or is of another metal.
    ///
    /// A product that is not in the files just read can only have become wrong by its material, which then is.
    fn check_alloys(&self, parsed: &[Parsed], places: &Places, late: &mut Vec<Mistake>) {
        for product in self.products() {
            let id = product.alloy.value.as_str();
            let place = places.alloys.get(&product.id).or_else(|| places.materials.get(&product.alloy.value));
            let Some(place) = place.cloned() else { continue };
            let reason = match self.material(id) {
                Some(material) if material.metal != product.metal => Reason::AlloyOfOtherMetal {
                    product: product.id.to_string(),
                    metal: product.metal.as_str(),
                    alloy: id.to_owned(),
                    found: material.metal.as_str(),
                },
                None if !declared(parsed, id) => self.unknown_material("alloy", id),
                _ => continue,
            };
            late.push(Mistake { place, reason });
        }
    }
}

/// Where the ids of a load stand that a later check may have to point at.
#[derive(Default)]
struct Places {
    alloys: HashMap<ProductId, Place>,
    materials: HashMap<MaterialId, Place>,
    /// The materials that the watch list names.
    watched: Vec<(MaterialId, Place)>,
    /// The materials whose price a kilogram is given.
    valued: Vec<(MaterialId, Place)>,
}

/// Tells whether a source or material of that id was begun in the files, be it with mistakes of its own.
fn declared(parsed: &[Parsed], id: &str) -> bool {
    parsed.iter().any(|file| file.declared.iter().any(|declared| declared == id))
}

/// Reports every id that stands a second time in one load.
fn doubles<'a, T: 'a>(
    placed: impl Iterator<Item = &'a Placed<T>>,
    kind: &'static str,
    id: fn(&T) -> String,
    late: &mut Vec<Mistake>,
) {
    let mut first: HashMap<String, &Place> = HashMap::new();
    for Placed { record, place } in placed {
        match first.entry(id(record)) {
            Entry::Occupied(before) => {
                let (id, first) = (before.key().clone(), (*before.get()).clone());
                late.push(Mistake { place: place.clone(), reason: Reason::DuplicateId { kind, id, first } });
            }
            Entry::Vacant(free) => {
                free.insert(place);
            }
        }
    }
}

/// Returns every mistake in the order of the files and, within one, of the places.
fn in_order(files: &[(&str, &str)], parsed: Vec<Parsed>, late: Vec<Mistake>) -> Vec<Mistake> {
    let mut all: Vec<Mistake> = parsed.into_iter().flat_map(|file| file.mistakes).chain(late).collect();
    let rank = |place: &Place| files.iter().position(|(name, _)| *name == &*place.file);
    all.sort_by_key(|mistake| (rank(&mistake.place), mistake.place.line, mistake.place.column));
    all
}

/// Returns the version of a load laid over the version before.
fn version(before: &str, files: &[(&str, &str)]) -> String {
    let mut hash = Sha256::new();
    for part in std::iter::once(before).chain(files.iter().flat_map(|(name, text)| [*name, *text])) {
        // The length in front keeps two different lists of parts from giving the same bytes.
        hash.update((part.len() as u64).to_le_bytes());
        hash.update(part.as_bytes());
    }
    let mut digits: String = hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect();
    digits.truncate(VERSION_DIGITS);
    digits
}
