//! The plots of the lot on the bench.

use super::state::{Shown, State};
use crate::present::lot_plot::LotPlots;

/// Returns the plots of the lot on the bench; `None` without a lot, or where its product is not in the reference.
pub fn lot_plots(state: &State) -> Option<LotPlots> {
    let work = state.bench.work.as_ref()?;
    let id = work.lot.product.as_str();
    let product = state.facts.products.iter().find(|product| product.id == id)?;
    let here = match work.shown {
        Shown::Piece(index) => Some(index),
        // The piece in hand has no place yet: the mark stays at the one logged last.
        Shown::InHand => work.pieces.len().checked_sub(1),
    };
    Some(LotPlots::of(product.around.as_ref()?, &work.pieces, here))
}
