//! What the instruments of a desk would do to a product, on one page: depth, core by core, then what becomes of good pieces.

use super::{capability_text, reach_text};
use crate::desk::reach::Prospect;

/// Returns the whole page; no line is longer than a page of a screen of 80 columns has room for.
pub fn prospect_text(prospect: &Prospect) -> String {
    let view = &prospect.reach;
    let reach = match (&view.proposal, view.reaches.as_slice()) {
        (Some(proposal), reaches) => reach_text::comparison(reaches, proposal, &view.product_name),
        (None, [reach]) => reach_text::account(reach, &view.product_name),
        (None, _) => String::new(),
    };
    let capability = &prospect.capability;
    let good = capability_text::account(&capability.cases, &capability.product_name);
    format!("{reach}\nWhat becomes of good pieces, simulated\n\n{good}")
}
