//! Life cycles as pure state machines: state and event in, the next state or a refusal with its reason out.
//!
//! What it is for: no use case decides on its own what may follow what. A piece is logged, may be held any number of
//! times, and may be voided; how it leaves the desk is told by [`Custody`](super::Custody).

use thiserror::Error;

/// Where a lot stands against its line of the packing list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LotCount {
    /// Pieces on the packing list.
    pub expected: u32,
    /// Pieces logged, voided ones not counted.
    pub logged: u32,
}

/// What happens to a lot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LotEvent {
    /// A piece of it is logged.
    PieceLogged,
    /// A piece of it is voided.
    PieceVoided,
}

/// Where a piece stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PieceState {
    /// Logged, and no doubt of the piece is open.
    Logged,
    /// Set aside: at least one doubt of the piece is open.
    Held,
    /// Taken out of the account with a reason; nothing follows.
    Voided,
}

/// What happens to a piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PieceEvent {
    /// The number of its open doubts was counted anew.
    Counted {
        /// Open doubts of the piece.
        open: u32,
    },
    /// A reading or the serial is corrected.
    Corrected,
    /// Somebody puts it on hold by hand.
    HeldByHand,
    /// Somebody takes it out of the account.
    Voided,
}

/// Who opened a hold, and so who may close it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum HoldOrigin {
    /// Scoring raised the doubt; it goes when scoring does not raise it any more.
    Scoring,
    /// The record raised it (serials); it goes when the record is mended.
    Record,
    /// A person put it there; only a person takes it back.
    Person,
}

/// Where a hold stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum HoldState {
    /// Open: the piece or lot may not become stock.
    Open,
    /// Closed with a reason; nothing follows.
    Closed,
}

/// What happens to a hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HoldEvent<'a> {
    /// The doubt is not raised any more.
    NotRaised,
    /// Its piece was voided.
    PieceVoided,
    /// Its piece was sent back or surrendered.
    PieceLeft,
    /// A person takes it back.
    TakenBack {
        /// Why.
        reason: &'a str,
    },
    /// A person settles the doubt behind it.
    Settled {
        /// Why.
        reason: &'a str,
    },
}

/// Why an event may not follow.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum Refusal {
    /// The packing list has no more pieces of this line.
    #[error("all {expected} pieces of the packing list are logged")]
    LotFull {
        /// Pieces on the packing list.
        expected: u32,
    },
    /// Nothing is logged that could be voided.
    #[error("no piece of the lot is logged")]
    LotEmpty,
    /// The piece is out of the account.
    #[error("the piece was voided")]
    PieceVoided,
    /// The hold is closed already.
    #[error("the hold is closed already")]
    HoldClosed,
    /// The program opened the hold, so taking it back by hand is not enough.
    #[error("the hold was not put by hand; it closes when its doubt is settled")]
    NotPutByHand,
    /// A reason is needed.
    #[error("a reason is needed")]
    NoReason,
}

impl LotCount {
    /// Returns the count after an event.
    ///
    /// # Errors
    /// `LotFull` when one more piece than announced would be logged, `LotEmpty` when there is none to void.
    pub fn after(self, event: LotEvent) -> Result<Self, Refusal> {
        match event {
            LotEvent::PieceLogged if self.logged >= self.expected => {
                Err(Refusal::LotFull { expected: self.expected })
            }
            LotEvent::PieceLogged => Ok(LotCount { logged: self.logged + 1, ..self }),
            LotEvent::PieceVoided => {
                let logged = self.logged.checked_sub(1).ok_or(Refusal::LotEmpty)?;
                Ok(LotCount { logged, ..self })
            }
        }
    }
}

impl PieceState {
    /// All states.
    pub const ALL: [PieceState; 3] = [PieceState::Logged, PieceState::Held, PieceState::Voided];

    /// Returns the word kept in the book.
    pub fn word(self) -> &'static str {
        match self {
            PieceState::Logged => "logged",
            PieceState::Held => "held",
            PieceState::Voided => "voided",
        }
    }

    /// Returns the state with the given word.
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|state| state.word() == word)
    }

    /// Returns the state after an event.
    ///
    /// # Errors
    /// `PieceVoided`: nothing follows a void.
    pub fn after(self, event: PieceEvent) -> Result<Self, Refusal> {
        match (self, event) {
            (PieceState::Voided, _) => Err(Refusal::PieceVoided),
            (_, PieceEvent::Counted { open: 0 }) => Ok(PieceState::Logged),
            (_, PieceEvent::Counted { .. } | PieceEvent::HeldByHand) => Ok(PieceState::Held),
            (state, PieceEvent::Corrected) => Ok(state),
            (_, PieceEvent::Voided) => Ok(PieceState::Voided),
        }
    }
}

impl HoldOrigin {
    /// All origins.
    pub const ALL: [HoldOrigin; 3] = [HoldOrigin::Scoring, HoldOrigin::Record, HoldOrigin::Person];

    /// Returns the word kept in the book.
    pub fn word(self) -> &'static str {
        match self {
            HoldOrigin::Scoring => "scoring",
            HoldOrigin::Record => "record",
            HoldOrigin::Person => "person",
        }
    }

    /// Returns the origin with the given word.
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|origin| origin.word() == word)
    }
}

impl HoldState {
    /// Returns the state of a hold after an event.
    ///
    /// # Errors
    /// `HoldClosed`: nothing follows a close. `NotPutByHand`: only a hold somebody put can be taken back. `NoReason`.
    pub fn after(self, origin: HoldOrigin, event: HoldEvent<'_>) -> Result<Self, Refusal> {
        match (self, event) {
            (HoldState::Closed, _) => Err(Refusal::HoldClosed),
            (HoldState::Open, HoldEvent::NotRaised) if origin == HoldOrigin::Person => Ok(HoldState::Open),
            (HoldState::Open, HoldEvent::TakenBack { .. }) if origin != HoldOrigin::Person => {
                Err(Refusal::NotPutByHand)
            }
            (HoldState::Open, HoldEvent::TakenBack { reason } | HoldEvent::Settled { reason })
                if reason.trim().is_empty() =>
            {
                Err(Refusal::NoReason)
            }
            (HoldState::Open, _) => Ok(HoldState::Closed),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_lot_takes_no_more_pieces_than_its_line_announces() {
        let full = LotCount { expected: 2, logged: 2 };
        assert_eq!(full.after(LotEvent::PieceLogged), Err(Refusal::LotFull { expected: 2 }));
        let room = full.after(LotEvent::PieceVoided).unwrap();
        assert_eq!(room.after(LotEvent::PieceLogged), Ok(full));
    }

    #[test]
    fn only_a_person_takes_back_a_hold_and_only_one_put_by_hand() {
        let back = HoldEvent::TakenBack { reason: "looked again" };
        assert_eq!(HoldState::Open.after(HoldOrigin::Person, back), Ok(HoldState::Closed));
        assert_eq!(HoldState::Open.after(HoldOrigin::Scoring, back), Err(Refusal::NotPutByHand));
        assert_eq!(HoldState::Open.after(HoldOrigin::Person, HoldEvent::NotRaised), Ok(HoldState::Open));
        let silent = HoldEvent::TakenBack { reason: " " };
        assert_eq!(HoldState::Open.after(HoldOrigin::Person, silent), Err(Refusal::NoReason));
    }

    proptest! {
        #[test]
        fn nothing_follows_a_void(opens in proptest::collection::vec(0u32..4, 0..8)) {
            let mut state = PieceState::Logged;
            for open in &opens {
                state = state.after(PieceEvent::Counted { open: *open }).unwrap();
                prop_assert_eq!(state == PieceState::Held, *open > 0);
            }
            let voided = state.after(PieceEvent::Voided).unwrap();
            for event in [PieceEvent::Corrected, PieceEvent::HeldByHand, PieceEvent::Voided, PieceEvent::Counted { open: 0 }] {
                prop_assert_eq!(voided.after(event), Err(Refusal::PieceVoided));
            }
        }
    }
}
