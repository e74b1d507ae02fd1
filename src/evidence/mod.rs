//! What was measured on a piece, with what, and how the piece was presented.
//!
//! What it is for: the typed form of readings between the book (which stores integers and texts) and scoring (which
//! needs values with uncertainty). What it must never do: judge. Read next: [`PieceEvidence`].

mod accuracy;
mod amount;
pub mod control;
mod instruments;
mod measurand;
mod observation;
mod piece;
mod probe;
mod reference_piece;
mod register;
mod register_file;
mod second_quantities;
mod second_test;

pub use accuracy::{Calliper, Certificate, Direct, Limit, Scale, Standard};
pub use amount::Amount;
pub use instruments::{Instruments, InstrumentsError};
pub use measurand::Measurand;
pub use observation::Observation;
pub use piece::{Form, MagnetResponse, PieceEvidence, Presentation, Unproved};
pub use probe::{Coil, CoilError, Probe, Standardised};
pub use reference_piece::ReferencePiece;
pub use register::{InstrumentKind, Meter, Register, Registered, SharePpm, Thermometer};
pub use second_quantities::{Element, ElementError, MassShare, TakeOff, TakeOffError, TravelTime};
pub use second_test::{
    AssaySample, AssayTest, ConductivityTest, Content, ExpertTest, Finding, ImmersionTest, InterfaceEcho,
    MagnetTest, RingTest, RingingBody, SecondTest, Sound, StrongMagnet, UltrasoundTest, UnderWater, XRayTest,
};
