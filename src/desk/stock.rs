//! Stock: what may be sold, with the value it had at release.

use super::review_views::{NewestStock, StockFilter, StockView};
use super::{AppError, Desk, Setup};
use crate::reference::Metal;
use crate::store::StockRow;

impl Desk {
    /// Returns the pieces in stock that a filter lets through, released last first.
    ///
    /// # Errors
    /// What the book says.
    pub fn stock(&self, filter: &StockFilter) -> Result<Vec<StockView>, AppError> {
        let rows = self.store.read().stock()?.into_iter();
        let wanted = filter.text.as_deref().map(|text| text.trim().to_lowercase()).unwrap_or_default();
        Ok(rows
            .map(|row| self.setup.show_stock(row))
            .filter(|view| filter.metal.is_none_or(|metal| metal == view.metal))
            .filter(|view| wanted.is_empty() || words_of(view).iter().any(|words| words.contains(&wanted)))
            .collect())
    }
}

/// Pieces that a screen lists: what one looks through. However full the stock is, they are there at once.
const LISTED: u32 = 500;

impl Desk {
    /// Returns the newest pieces in stock, for a screen, and how many there are in all.
    ///
    /// # Errors
    /// What the book says.
    pub fn newest_stock(&self) -> Result<NewestStock, AppError> {
        let reader = self.store.read();
        let pieces = reader.newest_stock(LISTED)?.into_iter().map(|row| self.setup.show_stock(row)).collect();
        let in_all = reader.product_totals()?.iter().map(|total| total.released.0).sum();
        Ok(NewestStock { pieces, in_all })
    }
}

impl Setup {
    /// Returns a piece in stock.
    pub(super) fn show_stock(&self, row: StockRow) -> StockView {
        StockView {
            id: row.piece,
            piece: row.number.to_string(),
            source: row.source,
            product_name: self.product_name(&row.product),
            metal: self.catalogue.product(row.product.as_str()).map_or(Metal::Other, |product| product.metal),
            product: row.product,
            serial: row.serial,
            gross: row.gross,
            fine: row.fine,
            value: row.value,
            price: row.price,
            released_at: row.released_at,
            released_by: row.released_by,
            recalled: row.recalled,
        }
    }
}

fn words_of(view: &StockView) -> [String; 5] {
    let serial = view.serial.as_deref().unwrap_or_default();
    [&view.piece, &view.product_name, view.product.as_str(), &view.source, serial].map(str::to_lowercase)
}
