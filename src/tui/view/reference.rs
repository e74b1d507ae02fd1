//! Reference: the products that pieces are scored against.
//!
//! ```text
//! Products, 214                                    title or filter
//!   id             name                     metal
//! > us-1873-dollar one dollar               silver 900
//! ```
//!
//! Panes: list; from 110 columns on, the selected product beside it.

use super::super::dialog::product_rows;
use super::super::state::State;
use super::canvas::{Canvas, window};
use super::columns::{Column, Columns};
use super::{list_title, nothing_passes};
use crate::present::tone::{Row, Tone};
use ratatui::layout::Position;

/// From this width on, the selected product stands beside the list.
const WIDE: usize = 108;

const PRODUCTS: &[Column] =
    &[Column::text("id", 24, 1), Column::growing("name", 20, 0), Column::text("metal", 16, 2)];

/// Draws the products and returns where the cursor belongs.
pub(super) fn draw(state: &State, canvas: &mut Canvas) -> Option<Position> {
    let (width, height) = (canvas.width(), canvas.height());
    let wide = width >= WIDE;
    let left = if wide { width * 3 / 5 } else { width };
    let visible = state.visible_products();
    let mut list = canvas.part(0, 0, left, height);
    let cursor = list_title(state, &format!("Products, {}", state.facts.products.len()), &mut list);
    let columns = Columns::fit(PRODUCTS, left);
    list.row(1, &columns.titles());
    let rows = height.saturating_sub(2);
    let first = window(state.reference.selected, visible.len(), rows);
    for (line, (index, product)) in visible.iter().enumerate().skip(first).take(rows).enumerate() {
        let cells = [
            (Tone::Plain, product.id.clone()),
            (Tone::Plain, product.name.clone()),
            (Tone::Quiet, product.metal.clone()),
        ];
        list.row(2 + line, &columns.row(&cells, index == state.reference.selected));
    }
    if visible.is_empty() {
        list.row(2, &Row::of(Tone::Quiet, nothing_passes(state)));
    }
    if let Some(product) = visible.get(state.reference.selected).filter(|_| wide) {
        let right = width - left - 3;
        let rows = product_rows(state, &product.id, right);
        canvas.part(left + 3, 2, right, height.saturating_sub(2)).rows(0, &rows);
    }
    cursor
}
