//! What released pieces of a product taught, quantity by quantity and instrument by instrument.

use super::entry::TypeBookEntry;
use crate::metrology::population::{Population, learn};
use crate::metrology::robust::scale_floor;
use crate::metrology::rounding::decimals_of;
use crate::metrology::trend::trend;
use crate::reference::ProductId;
use crate::scoring::assessment::ENGINE_VERSION;
use crate::scoring::lots::{LotQuantity, LotValue};
use crate::scoring::policy::short_hash;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Share of the pieces from which on one source is too much of the book.
const ONE_SOURCE: f64 = 0.8;
/// Lots from which on a drift is looked for: pieces of one lot share their day.
const LOTS_FOR_A_DRIFT: usize = 5;
/// Chance that lots without a drift are said to have one.
const DRIFT_SIGNIFICANCE: f64 = 0.001;

/// A released piece as the book remembers it.
#[derive(Debug, Clone, PartialEq)]
pub struct Taught {
    /// Its value and what the instrument behind it could tell apart.
    pub entry: TypeBookEntry,
    /// Number of its lot; pieces of one lot have the same.
    pub lot: usize,
    /// Who sent it.
    pub source: String,
    /// When it was released, in milliseconds since 1970.
    pub released_ms: i64,
}

/// Centre and scatter of a quantity.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LearnedFigures {
    /// Centre.
    pub centre: LotValue,
    /// Standard uncertainty of the centre, k = 1.
    pub centre_u: LotValue,
    /// Standard deviation of a piece of a new lot.
    pub scatter: LotValue,
    /// Effective degrees of freedom of the scatter.
    pub freedom: f64,
    /// Least scatter that the instrument allows.
    pub floor: LotValue,
}

/// What released pieces taught about one quantity, read with one instrument.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Learned {
    /// The quantity.
    pub quantity: LotQuantity,
    /// The instrument.
    pub instrument: String,
    /// Released pieces that count.
    pub pieces: u32,
    /// Lots they came in.
    pub lots: u32,
    /// Centre and scatter; `None` for fewer than three pieces.
    pub figures: Option<LearnedFigures>,
    /// How many of the pieces each source sent, most first.
    pub sources: Vec<(String, u32)>,
    /// What speaks against trusting the figures: one source, one lot, a drift.
    pub remarks: Vec<String>,
}

impl Learned {
    /// Learns from the pieces of one quantity and instrument, in the order of their release; `None` for no piece.
    fn of(pieces: &[Taught]) -> Option<Self> {
        let TypeBookEntry { quantity, instrument, .. } = &pieces.first()?.entry;
        let values: Vec<f64> = pieces.iter().map(|piece| piece.entry.value.value()).collect();
        let lots: Vec<usize> = pieces.iter().map(|piece| piece.lot).collect();
        let most = |of: fn(&TypeBookEntry) -> LotValue| {
            pieces.iter().map(|piece| of(&piece.entry).value()).fold(0.0, f64::max)
        };
        let floor = scale_floor(most(|entry| entry.repeatability), most(|entry| entry.step));
        let population = learn(&values, &lots, floor, most(|entry| entry.shared));
        let value = |number: f64| quantity.value(number);
        let figures = population.map(|found| LearnedFigures {
            centre: value(found.centre),
            centre_u: value(found.centre_u),
            scatter: value(found.scatter),
            freedom: found.freedom,
            floor: value(floor),
        });
        let count = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
        let mut by_source: BTreeMap<&str, usize> = BTreeMap::new();
        for piece in pieces {
            *by_source.entry(&piece.source).or_default() += 1;
        }
        let mut sources: Vec<(String, u32)> =
            by_source.iter().map(|(source, pieces)| ((*source).to_owned(), count(*pieces))).collect();
        sources.sort_by_key(|(_, pieces)| std::cmp::Reverse(*pieces));
        let lot_count = lots.iter().collect::<std::collections::BTreeSet<_>>().len();
        let mut remarks = Vec::new();
        if let Some((source, most)) = sources.first()
            && f64::from(*most) > ONE_SOURCE * pieces.len() as f64
        {
            let share = 100.0 * f64::from(*most) / pieces.len() as f64;
            remarks.push(format!(
                "{most} of {} pieces ({share:.0} %) came from {source}: what is wrong with them all is learned as right",
                pieces.len()
            ));
        }
        if lot_count < 3 {
            let lots = if lot_count == 1 { "one lot".to_owned() } else { format!("{lot_count} lots") };
            remarks.push(format!(
                "from {lots}: how lots differ is taken from the instrument, at {} (k = 1)",
                shown(*quantity, most(|entry| entry.shared))
            ));
        }
        remarks.extend(population.and_then(|found| drift(*quantity, pieces, &found)));
        Some(Learned {
            quantity: *quantity,
            instrument: instrument.clone(),
            pieces: count(pieces.len()),
            lots: count(lot_count),
            figures,
            sources,
            remarks,
        })
    }

    /// Returns the limits between which a new piece is expected but for a chance of `significance`; `floor` is the least
    /// scatter of the instrument that read it.
    pub fn expected(&self, significance: f64, floor: Option<LotValue>) -> Option<(LotValue, LotValue)> {
        let figures = self.figures?;
        let population = Population {
            count: self.pieces as usize,
            groups: self.lots as usize,
            centre: figures.centre.value(),
            centre_u: figures.centre_u.value(),
            scatter: figures.scatter.value(),
            freedom: figures.freedom,
            floor: figures.floor.value(),
        };
        let floor = floor.unwrap_or(figures.floor).value();
        let (low, high) = population.interval(significance, floor)?;
        Some((self.quantity.value(low), self.quantity.value(high)))
    }

    /// Returns the decimals with which values are printed, so that the scatter still shows.
    pub fn decimals(&self) -> u32 {
        self.figures.map_or(2, |figures| decimals_of(figures.scatter.value(), 1))
    }
}

fn shown(quantity: LotQuantity, number: f64) -> String {
    quantity.value(number).show(decimals_of(number, 1))
}

/// Says when the medians of the lots drift in time by more than a piece scatters.
fn drift(quantity: LotQuantity, pieces: &[Taught], population: &Population) -> Option<String> {
    let mut lots: BTreeMap<usize, Vec<&Taught>> = BTreeMap::new();
    for piece in pieces {
        lots.entry(piece.lot).or_default().push(piece);
    }
    if lots.len() < LOTS_FOR_A_DRIFT {
        return None;
    }
    let of_lots = |of: &dyn Fn(&Taught) -> f64| -> Vec<f64> {
        let median = |lot: &Vec<&Taught>| {
            let values: Vec<f64> = lot.iter().map(|piece| of(piece)).collect();
            crate::metrology::robust::median(&values).unwrap_or_default()
        };
        lots.values().map(median).collect()
    };
    const DAY_MS: f64 = 86_400_000.0;
    let days = of_lots(&|piece| piece.released_ms as f64 / DAY_MS);
    let found = trend(&days, &of_lots(&|piece| piece.entry.value.value()))?;
    let strong = found.is_significant(DRIFT_SIGNIFICANCE) && found.change.abs() > population.scatter;
    let span = days.iter().copied().fold(f64::NEG_INFINITY, f64::max)
        - days.iter().copied().fold(f64::INFINITY, f64::min);
    strong.then(|| {
        let sign = if found.change > 0.0 { "+" } else { "-" };
        format!(
            "drifts in time: {sign}{} over {span:.0} days and {} lots; was the instrument checked on a reference piece?",
            shown(quantity, found.change.abs()),
            lots.len()
        )
    })
}

/// What the released pieces of a product taught.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TypeBook {
    /// The product.
    pub product: ProductId,
    /// Version of the rules it was learned by.
    pub engine: u32,
    /// What was learned, quantity by quantity in the order of a desk, then by instrument.
    pub learned: Vec<Learned>,
    #[serde(skip)]
    version: String,
}

impl TypeBook {
    /// Learns from released pieces: for each quantity and instrument its pieces in the order of their release.
    pub fn learn(product: ProductId, taught: &[Vec<Taught>]) -> Self {
        let mut learned: Vec<Learned> = taught.iter().filter_map(|pieces| Learned::of(pieces)).collect();
        let place = |quantity| LotQuantity::ALL.iter().position(|known| *known == quantity);
        learned.sort_by(|a, b| {
            place(a.quantity).cmp(&place(b.quantity)).then_with(|| a.instrument.cmp(&b.instrument))
        });
        let book = TypeBook { product, engine: ENGINE_VERSION, learned, version: String::new() };
        let version = short_hash(&book.text());
        TypeBook { version, ..book }
    }

    /// Reads a type book that was kept; `None` for a text that is none.
    pub fn read(text: &str) -> Option<Self> {
        let book: TypeBook = serde_json::from_str(text).ok()?;
        Some(TypeBook { version: short_hash(text), ..book })
    }

    /// Returns the text by which it is kept.
    pub fn text(&self) -> String {
        serde_json::to_string(self).expect("a type book is made of words and finite numbers")
    }

    /// Returns the version kept with every assessment: the first 12 hex digits of the text's SHA-256.
    pub fn version(&self) -> &str {
        &self.version
    }

    /// Returns centre and scatter of the share of the envelope that pieces fill, once enough of them were released.
    pub(in crate::scoring) fn fill(&self, least: u32) -> Option<(f64, f64)> {
        let learned = self.learned.iter().filter(|known| known.quantity == LotQuantity::Fill);
        let known = learned.filter(|known| known.pieces >= least).max_by_key(|known| known.pieces)?;
        known.figures.map(|figures| (figures.centre.value(), figures.scatter.value()))
    }

    /// Returns what was learned of a quantity with an instrument.
    pub fn of(&self, quantity: LotQuantity, instrument: &str) -> Option<&Learned> {
        self.learned.iter().find(|learned| learned.quantity == quantity && learned.instrument == instrument)
    }
}
