//! Prices of the metals, as typed.

use super::{AppError, Desk};
use crate::intake::price_list;
use crate::quantity::Money;
use crate::reference::Metal;
use crate::store::{Deed, PriceRow, digest};
use serde_json::json;

impl Desk {
    /// Enters the price of one troy ounce of a fine metal; it counts for pieces scored from now on.
    ///
    /// # Errors
    /// `Usage` for an amount that is not above zero, another currency than the policy's, or a metal without a price.
    pub fn set_price(&mut self, metal: Metal, per_troy_ounce: Money) -> Result<(), AppError> {
        let currency = self.setup.policy.currency;
        if metal == Metal::Other {
            let message = "metal `other` has no price; allowed are `gold`, `silver`, `platinum`, `palladium`";
            return Err(AppError::usage(message, Vec::new()));
        }
        if per_troy_ounce.currency != currency {
            let message = format!(
                "currency `{}` is not `{currency}`, the currency of the policy",
                per_troy_ounce.currency
            );
            return Err(AppError::usage(message, Vec::new()));
        }
        if per_troy_ounce.amount.is_sign_negative() || per_troy_ounce.amount.is_zero() {
            let message = format!("price `{per_troy_ounce}` is not above 0 {currency}");
            return Err(AppError::usage(message, Vec::new()));
        }
        let act = self.act();
        self.store.write(&act, |writer| {
            writer.insert_price(metal, per_troy_ounce)?;
            let payload = json!({ "metal": metal.as_str(), "per_troy_ounce": per_troy_ounce.to_string() });
            writer.journal(Deed::PriceSet, &payload, None)?;
            Ok(())
        })
    }

    /// Enters the prices of a list, all or none; they count for pieces scored from now on.
    ///
    /// # Errors
    /// `BadRows` with every bad cell.
    pub fn import_prices(&mut self, file: &str, text: &str) -> Result<(), AppError> {
        let prices = price_list::read(text, self.setup.policy.currency)
            .map_err(|rows| AppError::bad_rows(file, rows))?;
        let act = self.act();
        self.store.write(&act, |writer| {
            for (metal, per_troy_ounce) in &prices {
                writer.insert_price(*metal, *per_troy_ounce)?;
                let payload = json!({
                    "metal": metal.as_str(),
                    "per_troy_ounce": per_troy_ounce.to_string(),
                    "list": file,
                    "list_sha256": digest(text),
                });
                writer.journal(Deed::PriceSet, &payload, None)?;
            }
            Ok(())
        })
    }

    /// Returns the last price of each metal, in the order of their names.
    ///
    /// # Errors
    /// What the book says.
    pub fn prices(&self) -> Result<Vec<PriceRow>, AppError> {
        Ok(self.store.read().prices()?)
    }
}
