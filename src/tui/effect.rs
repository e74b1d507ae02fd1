//! What a screen wants done. Only the shell does it.

use crate::desk::ControlRequest;
use crate::desk::review_views::Ending;
use crate::desk::views::{Draft, Field};
use crate::evidence::SecondTest;
use crate::intake::{HoldId, LotId, PieceId, SecondTestId, ShipmentId};
use crate::scoring::{DoubtKind, Thing};
use chrono::NaiveDate;
use std::fmt;

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
    /// Choose the method of a second test.
    Test,
    /// Ask which doubt is settled by decision.
    Settle,
    /// Show it anew where it is shown already.
    Refresh,
}

/// A PIN as typed; it is never printed.
#[derive(Clone, PartialEq, Eq)]
pub struct Pin(pub String);

impl fmt::Debug for Pin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Pin(not shown)")
    }
}

/// Which files of a day sheet are wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Files {
    /// A page for a browser.
    pub html: bool,
    /// Pages for paper.
    pub pdf: bool,
}

/// A wish of the screens to the shell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Effect {
    /// Read the shipments.
    LoadShipments,
    /// Read the open doubts by piece and lot.
    LoadHolds,
    /// Read the pieces in stock.
    LoadStock,
    /// Read where the instruments stand.
    LoadInstruments,
    /// Read the uncertainty budgets of a piece.
    LoadBudget {
        /// Its number.
        number: String,
    },
    /// Say where something about a piece comes from.
    Explain {
        /// Its number.
        number: String,
        /// The thing.
        thing: Thing,
    },
    /// Say what a probe, or each of them, would do to a product.
    LoadReach {
        /// Id of the product.
        product: String,
        /// The probe.
        probe: Option<String>,
    },
    /// Record a control.
    RecordControl(Box<ControlRequest>),
    /// Read the account of a day; `None` is today.
    LoadDay(Option<NaiveDate>),
    /// Read the policy in force.
    LoadPolicy,
    /// Read what released pieces taught about their products.
    LoadTypeBook,
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
    /// Set a new desk up.
    SetUp {
        /// Its name.
        name: String,
        /// Code of its currency.
        currency: String,
        /// Path of a register of instruments; empty for those assumed.
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
    /// Look up what fits a text, while it is typed.
    Search {
        /// The text.
        text: String,
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
    /// Read this operator's last acts.
    LoadActs,
    /// Undo an act.
    Undo {
        /// Its number in the journal.
        act: i64,
    },
    /// Do an undone act again.
    Redo {
        /// Its number in the journal.
        act: i64,
        /// The PIN, once it was asked for.
        pin: Option<Pin>,
    },
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
    /// Record a second test.
    RecordTest {
        /// Number of the piece.
        piece: String,
        /// The test.
        test: Box<SecondTest>,
    },
    /// Read the recording of a ring.
    ReadRecording {
        /// The row of the form that waits for it.
        row: usize,
        /// Path of the file.
        path: String,
    },
    /// Settle a doubt by decision.
    Settle {
        /// The doubt.
        hold: HoldId,
        /// Why.
        reason: String,
        /// The second test it rests on.
        evidence: Option<SecondTestId>,
        /// The PIN, once it was asked for.
        pin: Option<Pin>,
    },
    /// Read the samples of a lot.
    LoadSamples {
        /// Its number.
        lot: String,
    },
    /// Draw a sample of a lot.
    DrawSample {
        /// Its number.
        lot: String,
        /// The seed; `None` lets the desk choose.
        seed: Option<u64>,
    },
    /// Settle the doubts of a kind on the sample of a lot.
    SettleOnSample {
        /// Its number.
        lot: String,
        /// The kind.
        kind: DoubtKind,
        /// Why.
        reason: String,
        /// The PIN, once it was asked for.
        pin: Option<Pin>,
    },
    /// Send pieces back or surrender them.
    PartWith {
        /// Which of the two; never released.
        ending: Ending,
        /// Their numbers.
        pieces: Vec<String>,
        /// Why.
        reason: String,
        /// The PIN, once it was asked for.
        pin: Option<Pin>,
    },
    /// Release pieces.
    Release {
        /// Their numbers; the number of a lot stands for all its clear pieces.
        pieces: Vec<String>,
        /// The PIN, once it was asked for.
        pin: Option<Pin>,
    },
    /// Write the day sheet to files.
    WriteDay {
        /// The day.
        day: NaiveDate,
        /// Path of the files without their ending.
        path: String,
        /// Which files.
        files: Files,
    },
    /// Ring so many times: 1 look up, 2 refuse.
    Bell(u8),
    /// Leave this book for an invented day.
    Demo,
    /// Draw everything again.
    Redraw,
    /// End.
    Quit,
}

impl Effect {
    /// Returns the act with a PIN, where it takes one.
    pub fn with_pin(self, typed: Pin) -> Self {
        let mut effect = self;
        match &mut effect {
            Effect::Settle { pin, .. }
            | Effect::SettleOnSample { pin, .. }
            | Effect::PartWith { pin, .. }
            | Effect::Redo { pin, .. }
            | Effect::Release { pin, .. } => *pin = Some(typed),
            _ => {}
        }
        effect
    }
}
