//! What a screen wants done. Only the shell does it.

use crate::desk::views::{Draft, Field};
use crate::intake::{LotId, PieceId, ShipmentId};

/// What to do with a piece once it is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Then {
    /// Show everything its standing rests on.
    ShowEvidence,
    /// Ask what to correct.
    Correct,
    /// Ask about a hold.
    Hold,
    /// Ask why it is void.
    Void,
}

/// A wish of the screens to the shell.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// Read the shipments.
    LoadShipments,
    /// Read the holds.
    LoadHolds,
    /// Read a lot with its pieces and its draft, to log into it.
    OpenLot(LotId),
    /// Read the lot on the bench and its pieces again.
    RefreshLot(LotId),
    /// Understand a typed field.
    Echo {
        /// The lot.
        lot: LotId,
        /// Place of the field in the form.
        index: usize,
        /// The field.
        field: Field,
        /// The text in it.
        text: String,
    },
    /// Put half-typed text on disk, at the latest before the next wait for a key.
    KeepDraft(Draft),
    /// Put accepted text on disk now.
    SaveDraft(Draft),
    /// Score and save a piece.
    Log(Draft),
    /// Read a packing list from a file.
    Receive {
        /// Who sent the shipment.
        source: String,
        /// Path of the file.
        path: String,
    },
    /// Start a shipment without lines.
    NewShipment {
        /// Who sent it.
        source: String,
    },
    /// Add a line to a shipment.
    AddLine {
        /// The shipment.
        shipment: ShipmentId,
        /// Id of the product.
        product: String,
        /// Pieces.
        quantity: u32,
    },
    /// Read a piece.
    OpenPiece {
        /// Its number.
        number: String,
        /// What to do with it.
        then: Then,
    },
    /// Find a shipment, lot or piece.
    Find {
        /// A number or a serial.
        text: String,
    },
    /// Correct a field of a piece.
    Correct {
        /// The piece.
        piece: PieceId,
        /// The field.
        field: Field,
        /// The new text.
        text: String,
        /// Why.
        reason: String,
    },
    /// Void a piece.
    Void {
        /// The piece.
        piece: PieceId,
        /// Why.
        reason: String,
    },
    /// Undo the last act.
    Undo,
    /// Put a piece on hold.
    Hold {
        /// The piece.
        piece: PieceId,
        /// Why.
        reason: String,
    },
    /// Take a hold back that a person set.
    TakeBack {
        /// The piece.
        piece: PieceId,
        /// Why.
        reason: String,
    },
    /// Ring so many times: 1 look up, 2 refuse.
    Bell(u8),
    /// Draw everything again.
    Redraw,
    /// End.
    Quit,
}
