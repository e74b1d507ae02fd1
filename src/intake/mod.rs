//! Shipments, packing lists, lots, pieces and holds as pure data and pure rules.
//!
//! What it is for: reading the lists a desk is handed, and saying what may follow what. What it must never do: open a
//! file, read a clock, or take half of a bad list in silence. Read next: [`packing_list`], [`lifecycle`],
//! [`device`] and [`Custody`].

mod custody;
pub mod device;
mod ids;
pub mod lifecycle;
mod number;
pub mod packing_list;
pub mod price_list;
pub mod readings_list;
mod row_error;
mod serial;
mod sheet;
pub mod typed;

pub use custody::{Custody, CustodyAct, CustodyRefusal, Whereabouts};
pub use ids::{
    AssessmentId, ControlId, DecisionId, HoldId, LotId, PieceId, ReadingId, SampleId, SecondTestId,
    ShipmentId,
};
pub use lifecycle::{HoldOrigin, PieceState, Refusal};
pub use number::{LotNumber, NumberError, PieceNumber, ShipmentNumber};
pub use packing_list::PackingLine;
pub use readings_list::{ReadingsList, ReadingsRow};
pub use row_error::RowError;
pub use serial::{Serial, SerialError};
pub use typed::{TypedField, TypedReading};
