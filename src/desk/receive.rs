//! Shipments: taken in from a packing list or line by line.

use super::custody::named_lot;
use super::show::lot_of;
use super::views::{LotView, ShipmentView};
use super::{AppError, Desk, Setup, new_uuid, said};
use crate::intake::{LotId, NumberError, ShipmentId, ShipmentNumber, packing_list};
use crate::store::{Deed, NewLot, Reader, ShipmentRow, Writer, digest};
use serde_json::{Value, json};
use std::collections::HashMap;

impl Desk {
    /// Takes in a shipment by its packing list; on a dry run everything is checked and nothing is written.
    ///
    /// # Errors
    /// `BadRows` with every bad cell; `Usage` for a source without a name.
    pub fn receive(
        &mut self,
        source: &str,
        file: &str,
        text: &str,
        dry_run: bool,
    ) -> Result<ShipmentView, AppError> {
        let source = said("the source", source)?;
        let lines = packing_list::read(text, &self.setup.catalogue, self.setup.policy.currency)
            .map_err(|rows| AppError::bad_rows(file, rows))?;
        let act = self.act();
        let Desk { store, setup, .. } = self;
        let work = |writer: &Writer<'_>| {
            let lots: Vec<NewLot> = lines
                .iter()
                .map(|line| NewLot::of_line(LotId::new(new_uuid(act.at)), line.clone()))
                .collect();
            let about = json!({ "list": file, "list_sha256": digest(text) });
            let shipment = insert_shipment(writer, &source, &lots, about)?;
            setup.hold_known_source(writer, &shipment)?;
            setup.shipment_view(writer.read(), shipment)
        };
        if dry_run { store.rehearse(&act, work) } else { store.write(&act, work) }
    }

    /// Starts a shipment without a packing list; its lines follow one by one.
    ///
    /// # Errors
    /// `Usage` for a source without a name.
    pub fn new_shipment(&mut self, source: &str) -> Result<ShipmentView, AppError> {
        let source = said("the source", source)?;
        let act = self.act();
        let Desk { store, setup, .. } = self;
        store.write(&act, |writer| {
            let shipment = insert_shipment(writer, &source, &[], json!({}))?;
            setup.hold_known_source(writer, &shipment)?;
            setup.shipment_view(writer.read(), shipment)
        })
    }

    /// Adds a line to a shipment, with the next free line number.
    ///
    /// # Errors
    /// `Usage` for a product that is not in the reference or a quantity out of range.
    pub fn add_line(
        &mut self,
        shipment: ShipmentId,
        product: &str,
        quantity: u32,
    ) -> Result<LotView, AppError> {
        let most = packing_list::MOST_PIECES;
        if !(1..=most).contains(&quantity) {
            let message = format!("quantity `{quantity}` is out of range; allowed is 1 to {most}");
            return Err(AppError::usage(message, Vec::new()));
        }
        let product = product.trim();
        let Some(product) = self.setup.catalogue.product(product).map(|product| product.id.clone()) else {
            return Err(unknown_product(&self.setup, product));
        };
        let act = self.act();
        let Desk { store, setup, .. } = self;
        store.write(&act, |writer| {
            let Some(row) = writer.read().shipment(shipment)? else {
                return Err(AppError::failed(format!("shipment `{shipment}` is not in the book")));
            };
            let last = writer.read().lots_of(shipment)?.iter().map(|lot| lot.number.line).max().unwrap_or(0);
            let lot = NewLot {
                id: LotId::new(new_uuid(act.at)),
                line: last + 1,
                product,
                expected: quantity,
                declared_mass: None,
                declared_fineness: None,
                unit_cost: None,
                serials: Vec::new(),
            };
            writer.insert_lot(shipment, &lot)?;
            let payload = json!({ "shipment": row.number.to_string(), "lot": lot_json(&lot) });
            writer.journal(Deed::LineAdded, &payload, None)?;
            Ok(setup.show_lot(lot_of(writer.read(), lot.id)?, Vec::new()))
        })
    }

    /// Returns every shipment, newest first.
    ///
    /// # Errors
    /// What the book says.
    pub fn shipments(&self) -> Result<Vec<ShipmentView>, AppError> {
        let reader = self.store.read();
        let mut serials = open_serials(reader, None)?;
        let mut lots: HashMap<ShipmentId, Vec<_>> = HashMap::new();
        for lot in reader.lots()? {
            lots.entry(lot.shipment).or_default().push(lot);
        }
        let shipments = reader.shipments()?.into_iter();
        Ok(shipments
            .map(|shipment| {
                let lots = lots.remove(&shipment.id).unwrap_or_default();
                self.setup.show_shipment(shipment, lots, &mut serials)
            })
            .collect())
    }

    /// Returns the shipment with a number such as `S-0012`.
    ///
    /// # Errors
    /// `Usage` for a text that is no such number, `Failed` when the book has none.
    pub fn shipment(&self, number: &str) -> Result<ShipmentView, AppError> {
        let shipment = shipment_by_number(self.store.read(), number)?;
        self.setup.shipment_view(self.store.read(), shipment)
    }

    /// Returns a lot.
    ///
    /// # Errors
    /// `Failed` when the book does not have it.
    pub fn lot(&self, id: LotId) -> Result<LotView, AppError> {
        let reader = self.store.read();
        let mut serials = open_serials(reader, Some(id))?;
        Ok(self.setup.show_lot(lot_of(reader, id)?, serials.remove(&id).unwrap_or_default()))
    }

    /// Returns the lot with a number such as `S-0012/3`.
    ///
    /// # Errors
    /// `Usage` for a text that is no such number, `Failed` when the book does not have it.
    pub fn find_lot(&self, number: &str) -> Result<LotView, AppError> {
        self.lot(named_lot(self.store.read(), number)?.id)
    }

    /// Returns the lots of which fewer pieces are logged than their packing list announces, newest shipment first.
    ///
    /// # Errors
    /// What the book says.
    pub fn short_counts(&self) -> Result<Vec<LotView>, AppError> {
        let lots = self.shipments()?.into_iter().flat_map(|shipment| shipment.lots);
        Ok(lots.filter(|lot| lot.logged < lot.expected).collect())
    }
}

impl Setup {
    fn shipment_view(&self, reader: Reader<'_>, shipment: ShipmentRow) -> Result<ShipmentView, AppError> {
        let lots = reader.lots_of(shipment.id)?;
        let mut serials = HashMap::new();
        for lot in &lots {
            serials.extend(open_serials(reader, Some(lot.id))?);
        }
        Ok(self.show_shipment(shipment, lots, &mut serials))
    }
}

/// Returns the shipment with a number as typed.
pub(super) fn shipment_by_number(reader: Reader<'_>, number: &str) -> Result<ShipmentRow, AppError> {
    let number: ShipmentNumber = number.parse().map_err(not_a_number)?;
    reader.shipment_by_number(number)?.ok_or_else(|| {
        AppError::failed(format!("shipment `{number}` is not in the book"))
            .with_hint("`scruple shipments` shows every shipment")
    })
}

/// Makes the error of a text that is no number.
pub(super) fn not_a_number(error: NumberError) -> AppError {
    AppError::usage(error.to_string(), Vec::new())
}

/// Makes the error of a product that the reference does not have.
pub(super) fn unknown_product(setup: &Setup, product: &str) -> AppError {
    let near: Vec<String> =
        setup.catalogue.closest_products(product).into_iter().map(|id| format!("`{id}`")).collect();
    let hint = match near.as_slice() {
        [] => "`scruple reference list` shows every id".to_owned(),
        near => format!("closest: {}", near.join(", ")),
    };
    AppError::usage(format!("product `{product}` is not in the reference"), vec![hint])
}

/// Writes a shipment with its lots and its journal row.
fn insert_shipment(
    writer: &Writer<'_>,
    source: &str,
    lots: &[NewLot],
    mut about: Value,
) -> Result<ShipmentRow, AppError> {
    let id = ShipmentId::new(new_uuid(writer.act().at));
    let number = writer.next_shipment_number()?;
    writer.insert_shipment(id, number, source)?;
    for (done, lot) in lots.iter().enumerate() {
        writer.step_of("lines of the packing list", done, lots.len())?;
        writer.insert_lot(id, lot)?;
    }
    about["shipment"] = json!(number.to_string());
    about["id"] = json!(id.to_string());
    about["source"] = json!(source);
    about["lots"] = lots.iter().map(lot_json).collect();
    writer.journal(Deed::ShipmentReceived, &about, None)?;
    Ok(ShipmentRow { id, number, source: source.to_owned(), received_at: writer.act().at })
}

fn lot_json(lot: &NewLot) -> Value {
    json!({
        "id": lot.id.to_string(),
        "line": lot.line,
        "product": lot.product.as_str(),
        "expected": lot.expected,
        "declared_mass": lot.declared_mass.as_ref().map(|entry| format!("{} [{}]", entry.text, entry.unit)),
        "declared_fineness": lot.declared_fineness.as_ref().map(|entry| format!("{} [{}]", entry.text, entry.unit)),
        "unit_cost": lot.unit_cost.map(|cost| cost.to_string()),
        "serials": lot.serials.iter().map(|serial| serial.text()).collect::<Vec<_>>(),
    })
}

fn open_serials(reader: Reader<'_>, lot: Option<LotId>) -> Result<HashMap<LotId, Vec<String>>, AppError> {
    let mut serials: HashMap<LotId, Vec<String>> = HashMap::new();
    for (lot, serial) in reader.open_serials(lot)? {
        serials.entry(lot).or_default().push(serial);
    }
    Ok(serials)
}
