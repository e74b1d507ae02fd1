//! The type book at work: fed when a piece is released, asked when one is scored, shown beside the published figures.

use super::settle::evidence;
use super::show::kept_assessment;
use super::{AppError, Desk, Setup};
use crate::intake::DecisionId;
use crate::reference::{Product, ProductId};
use crate::scoring::{
    ENGINE_VERSION, Learned, LotQuantity, LotValue, PublishedLimits, Taught, TypeBook, published_limits,
    teaches, type_book_entries,
};
use crate::store::{NewTaught, PieceRow, Reader, StoreError, Writer};

/// Pieces of a quantity that figures are learned from: the last ones released, so that they follow the product and the
/// instrument, and stay instant however full the book is.
const MOST_PIECES: u32 = 1000;

/// One quantity of a product as released pieces taught it, beside its published limits.
#[derive(Debug, Clone, PartialEq)]
pub struct TypeBookRow {
    /// The quantity.
    pub quantity: LotQuantity,
    /// The instrument; `None` for a quantity that no released piece taught.
    pub instrument: Option<String>,
    /// Released pieces that count.
    pub pieces: u32,
    /// Released pieces that are missing until the figures count; 0 when they do.
    pub missing: u32,
    /// What was learned; `None` until the figures count.
    pub learned: Option<Learned>,
    /// Limits within which the next piece is expected; `None` until the figures count.
    pub expected: Option<(LotValue, LotValue)>,
    /// Limits that law, rule or policy sets.
    pub published: PublishedLimits,
}

/// What released pieces of a product taught.
#[derive(Debug, Clone, PartialEq)]
pub struct TypeBookView {
    /// The product.
    pub product: ProductId,
    /// Its name.
    pub product_name: String,
    /// Version of the figures.
    pub version: String,
    /// Released pieces from which on figures count.
    pub least: u32,
    /// Chance that a good piece is doubted, all its quantities together.
    pub significance: f64,
    /// The quantities in the order of a desk.
    pub rows: Vec<TypeBookRow>,
}

impl Desk {
    /// Returns what released pieces taught about a product, or about every product that some piece taught about.
    ///
    /// # Errors
    /// `Usage` for a product that is not in the reference.
    pub fn type_book(&self, product: Option<&str>) -> Result<Vec<TypeBookView>, AppError> {
        let reader = self.store.read();
        let products: Vec<&Product> = match product {
            Some(id) => vec![self.setup.catalogue.product(id).ok_or_else(|| {
                let near: Vec<String> = self
                    .setup
                    .catalogue
                    .closest_products(id)
                    .into_iter()
                    .map(|near| format!("`{near}`"))
                    .collect();
                let found = crate::quantity::entry::clean(id);
                AppError::usage(format!("product `{found}` is not in the reference"), Vec::new())
                    .with_hint(format!("closest: {}", near.join(", ")))
            })?],
            None => {
                let taught = reader.taught_products()?;
                taught.iter().filter_map(|id| self.setup.catalogue.product(id.as_str())).collect()
            }
        };
        products.into_iter().map(|product| self.setup.show_type_book(reader, product)).collect()
    }
}

impl Setup {
    /// Writes what a piece teaches that was just released; returns in how many quantities.
    pub(super) fn teach(
        &self,
        writer: &Writer<'_>,
        row: &PieceRow,
        decision: DecisionId,
    ) -> Result<usize, AppError> {
        let reader = writer.read();
        let Some(product) = self.catalogue.product(row.product.as_str()) else { return Ok(0) };
        let assessment = kept_assessment(reader, row)?.assessment;
        if !teaches(&assessment) {
            return Ok(0);
        }
        let found = evidence(&reader.readings_in_force(row.id)?, &reader.second_tests_of(row.id)?);
        let entries = type_book_entries(&self.rules(), product, &found, &assessment);
        for entry in &entries {
            writer.insert_taught(&NewTaught {
                product: &row.product,
                piece: row.id,
                decision,
                lot: row.lot,
                entry,
            })?;
        }
        Ok(entries.len())
    }

    /// Returns the figures in force of a product; keeps them when they are new, so that an assessment can name them.
    ///
    /// `None` while no released piece taught anything.
    pub(super) fn type_book_in_force(
        &self,
        writer: &Writer<'_>,
        product: &ProductId,
    ) -> Result<Option<TypeBook>, AppError> {
        let reader = writer.read();
        let stamp = reader.type_book_stamp(product)?;
        if stamp.is_empty() {
            return Ok(None);
        }
        if let Some(text) = reader.type_book_in_force(product, stamp)? {
            let kept = read(&text)?;
            if kept.engine == ENGINE_VERSION {
                return Ok(Some(kept));
            }
        }
        let book = learn(reader, product)?;
        writer.keep_type_book(product, book.version(), stamp, &book.text())?;
        Ok(Some(book))
    }

    fn show_type_book(&self, reader: Reader<'_>, product: &Product) -> Result<TypeBookView, AppError> {
        let book = learn(reader, &product.id)?;
        let rules = self.policy.type_book;
        let published = published_limits(&self.rules(), product);
        let counts = |learned: &&Learned| learned.pieces >= rules.least;
        let compared = published
            .iter()
            .filter(|(quantity, _)| {
                book.learned.iter().filter(counts).any(|learned| learned.quantity == *quantity)
            })
            .count();
        let significance = rules.significance / compared.max(1) as f64;
        let mut rows = Vec::new();
        for (quantity, published) in published {
            let of = book.learned.iter().filter(|learned| learned.quantity == quantity);
            let before = rows.len();
            rows.extend(of.map(|learned| {
                let counting = Some(learned).filter(counts);
                TypeBookRow {
                    quantity,
                    instrument: Some(learned.instrument.clone()),
                    pieces: learned.pieces,
                    missing: rules.least.saturating_sub(learned.pieces),
                    expected: counting.and_then(|learned| learned.expected(significance, None)),
                    learned: counting.cloned(),
                    published,
                }
            }));
            if rows.len() == before {
                rows.push(TypeBookRow {
                    quantity,
                    instrument: None,
                    pieces: 0,
                    missing: rules.least,
                    learned: None,
                    expected: None,
                    published,
                });
            }
        }
        Ok(TypeBookView {
            product: product.id.clone(),
            product_name: product.name.clone(),
            version: book.version().to_owned(),
            least: rules.least,
            significance: rules.significance,
            rows,
        })
    }
}

/// Returns the figures that an assessment used; `None` when it used none.
pub(super) fn type_book_of(
    reader: Reader<'_>,
    product: &ProductId,
    version: Option<&str>,
) -> Result<Option<TypeBook>, AppError> {
    let text = version.map(|version| reader.type_book_version(product, version)).transpose()?.flatten();
    text.as_deref().map(read).transpose()
}

fn read(text: &str) -> Result<TypeBook, AppError> {
    TypeBook::read(text).ok_or_else(|| {
        StoreError::Strange { column: "type_book_version.text", found: "no type book".to_owned() }.into()
    })
}

fn learn(reader: Reader<'_>, product: &ProductId) -> Result<TypeBook, AppError> {
    let mut taught: Vec<Vec<Taught>> = Vec::new();
    for of in reader.taught_counts(product)?.iter().filter(|of| of.pieces > 0) {
        taught.push(reader.taught(product, of, MOST_PIECES)?);
    }
    Ok(TypeBook::learn(product.clone(), &taught))
}
