//! A desk for the tests: a book in a folder of its own, the built-in rules, a clock that stands still.

use chrono::{DateTime, Utc};
use scruple::desk::{AppError, Desk, Draft, Field, PieceView, Settings};
use scruple::evidence::Measurand;
use scruple::intake::LotId;
use scruple::quantity::Money;
use scruple::reference::Metal;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// One dollar silver coin, fine silver: 31.103 g, 40.6 mm (31 U.S.C. 5112(e)).
pub const SILVER: &str = "us-5112-e";
/// Gold bar of one troy ounce, 999.9.
pub const GOLD_BAR: &str = "bar-gold-9999-1ozt";

/// Returns the moment at which the clock of every test stands.
pub fn noon() -> DateTime<Utc> {
    "2026-03-04T12:00:00Z".parse().unwrap()
}

/// A desk with its folder.
pub struct Bench {
    folder: TempDir,
    desk: Desk,
}

impl Bench {
    /// Opens a new book; gold costs 2400, silver 30.
    pub fn new() -> Self {
        let mut bench = Self::without_prices();
        for (metal, price) in [(Metal::Gold, "2400"), (Metal::Silver, "30")] {
            // Prices are not what the tests count: they are entered by somebody else.
            let mut other = bench.other_desk("OWNER");
            other.set_price(metal, Money::parse(price, other.policy().currency).unwrap()).unwrap();
        }
        bench.desk = bench.other_desk("MIRA");
        bench
    }

    /// Opens a new book without prices.
    pub fn without_prices() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let desk =
            Desk::open(&folder.path().join("a.book"), Settings::built_in("MIRA").with_clock(noon)).unwrap();
        Bench { folder, desk }
    }

    /// Opens the same book for another operator.
    pub fn other_desk(&self, operator: &str) -> Desk {
        Desk::open(&self.book(), Settings::built_in(operator).with_clock(noon)).unwrap()
    }

    pub fn desk(&mut self) -> &mut Desk {
        &mut self.desk
    }

    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    pub fn book(&self) -> PathBuf {
        self.folder.path().join("a.book")
    }

    /// Closes the desk and leaves the book; the folder stays until the process ends.
    pub fn close(self) -> PathBuf {
        drop(self.desk);
        self.folder.keep().join("a.book")
    }

    /// Dies without closing: no destructor runs.
    pub fn die(self) -> TempDir {
        std::mem::forget(self.desk);
        self.folder
    }

    /// Receives a packing list and returns the number of the shipment.
    pub fn receive(&mut self, list: &str) -> String {
        self.desk.receive("Moonpond Bullion (invented)", "list.csv", list, false).unwrap().number
    }

    /// Receives one line and returns its lot.
    pub fn lot(&mut self, product: &str, quantity: u32, serials: &str) -> LotId {
        let list = format!("line,product,quantity,serials\n1,{product},{quantity},{serials}\n");
        let number = self.receive(&list);
        self.desk.shipment(&number).unwrap().lots[0].id
    }

    /// Logs a piece with everything in order except what is given.
    pub fn log(&mut self, lot: LotId, changes: &[(Field, &str)]) -> PieceView {
        let draft = self.filled(lot, changes);
        self.desk.log_piece(&draft).unwrap()
    }

    /// Fills the form of a lot with good values except what is given.
    pub fn filled(&self, lot: LotId, changes: &[(Field, &str)]) -> Draft {
        filled_form(&self.desk, lot, changes).unwrap()
    }
}

/// Fills the form of a lot with good values except what is given.
pub fn filled_form(desk: &Desk, lot: LotId, changes: &[(Field, &str)]) -> Result<Draft, AppError> {
    let mut draft = desk.new_draft(lot)?;
    let product = desk.lot(lot)?.product;
    draft.probe = Some(if product.as_str() == GOLD_BAR { "pencil" } else { "flat" }.to_owned());
    for field in &mut draft.fields {
        field.text = good(product.as_str(), field.field).to_owned();
        field.accepted = true;
        if let Some((_, text)) = changes.iter().find(|(changed, _)| *changed == field.field) {
            (*text).clone_into(&mut field.text);
        }
    }
    Ok(draft)
}

/// Returns a field of a reading by what it measures.
pub fn reading(measurand: Measurand) -> Field {
    Field::Reading(measurand, 1)
}

/// Values that a desk may read on a piece in order; common practice, no source.
pub fn good(product: &str, field: Field) -> &'static str {
    let Field::Reading(measurand, _) = field else { return "" };
    match (product, measurand) {
        (GOLD_BAR, Measurand::Mass) => "31.12",
        (GOLD_BAR, Measurand::Length) => "46.99",
        (GOLD_BAR, Measurand::Width) => "27.01",
        (GOLD_BAR, Measurand::Thickness) => "1.38",
        (GOLD_BAR, Measurand::Conductivity) => "45.0",
        (_, Measurand::Mass) => "31.10",
        (_, Measurand::Diameter) => "40.60",
        (_, Measurand::Thickness) => "2.98",
        (_, Measurand::Conductivity) => "61.9",
        (_, Measurand::Temperature) => "21.3",
        (_, Measurand::Length | Measurand::Width) => "-",
    }
}
