//! Running totals over the whole book: no screen counts pieces.

use super::connection::Reader;
use super::error::StoreError;
use super::row::{count, word};
use crate::quantity::{Mass, Quantity};
use crate::reference::ProductId;
use crate::scoring::DoubtKind;
use rusqlite::Row;

/// Where the pieces of a product are, with their fine mass.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProductTotal {
    /// The product.
    pub product: ProductId,
    /// Pieces at the desk that are clear.
    pub clear: (u32, Mass),
    /// Pieces at the desk on hold.
    pub hold: (u32, Mass),
    /// Pieces at the desk that are proposed to refuse.
    pub refuse: (u32, Mass),
    /// Pieces in stock.
    pub released: (u32, Mass),
}

/// Open doubts of a kind: of pieces, of lots.
pub type DoubtCount = (DoubtKind, u32, u32);

fn part(row: &Row<'_>, pieces: &'static str, fine: &str) -> Result<(u32, Mass), StoreError> {
    Ok((count(row, pieces)?, Mass::from_base(row.get(fine)?)))
}

impl Reader<'_> {
    /// Returns the totals of every product that the book has seen.
    ///
    /// # Errors
    /// What the database says.
    pub fn product_totals(&self) -> Result<Vec<ProductTotal>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT product, clear, clear_ng, hold, hold_ng, refuse, refuse_ng, released, released_ng
             FROM product_total ORDER BY product",
        )?;
        let rows = statement.query_and_then([], |row| {
            Ok(ProductTotal {
                product: word(row, "product", |text| Some(ProductId::new(text)))?,
                clear: part(row, "clear", "clear_ng")?,
                hold: part(row, "hold", "hold_ng")?,
                refuse: part(row, "refuse", "refuse_ng")?,
                released: part(row, "released", "released_ng")?,
            })
        })?;
        rows.collect()
    }

    /// Returns the open doubts by kind; kinds without one are left out.
    ///
    /// # Errors
    /// What the database says.
    pub fn doubt_totals(&self) -> Result<Vec<DoubtCount>, StoreError> {
        let mut statement = self
            .connection
            .prepare_cached("SELECT kind, pieces, lots FROM doubt_total WHERE pieces > 0 OR lots > 0")?;
        let rows = statement.query_and_then([], |row| {
            Ok((word(row, "kind", DoubtKind::named)?, count(row, "pieces")?, count(row, "lots")?))
        })?;
        let mut totals: Vec<DoubtCount> = rows.collect::<Result<_, StoreError>>()?;
        totals.sort_by_key(|(kind, ..)| *kind);
        Ok(totals)
    }
}
