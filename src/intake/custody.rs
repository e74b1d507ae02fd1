//! Where a piece is, and what may happen to it there: the way to stock as one pure state machine.
//!
//! What it is for: nothing becomes stock past an open hold, before its holding period is over, or after it left the desk.
//! The book refuses the same on its own; here the reasons have names.

use thiserror::Error;

/// Where a piece is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Whereabouts {
    /// At the desk.
    Here,
    /// In stock: it may be sold.
    Stock,
    /// Back at its source.
    SentBack,
    /// With the authorities.
    Surrendered,
}

/// Everything that decides what may happen to a piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Custody {
    /// Where it is.
    pub whereabouts: Whereabouts,
    /// Whether it was taken out of the account.
    pub voided: bool,
    /// Its own open doubts.
    pub open: u32,
    /// Open doubts of its lot.
    pub lot_open: u32,
    /// Until when its source is held, in milliseconds since 1970; `None` when it is not.
    pub held_until_ms: Option<i64>,
}

/// What happens to a piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CustodyAct {
    /// A doubt of the piece is opened.
    HoldOpened,
    /// A doubt of the piece is closed.
    HoldClosed,
    /// A doubt of its lot is opened.
    LotHoldOpened,
    /// A doubt of its lot is closed.
    LotHoldClosed,
    /// The holding period of its shipment is set.
    HeldUntil {
        /// Its end, in milliseconds since 1970.
        ms: i64,
    },
    /// A reading or a second test is recorded or corrected.
    Measured,
    /// It is taken out of the account.
    Voided,
    /// It becomes stock.
    Released {
        /// The time, in milliseconds since 1970.
        at_ms: i64,
    },
    /// Its release is taken back.
    ReleaseTakenBack,
    /// It is sent back; its doubts go with it.
    SentBack,
    /// Its send-back is taken back; its doubts open again.
    SendBackTakenBack {
        /// Doubts that it has when it is back.
        open: u32,
    },
    /// It is handed to the authorities; its doubts go with it.
    Surrendered,
}

/// Why something may not happen to a piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum CustodyRefusal {
    /// It is out of the account.
    #[error("the piece was voided")]
    Voided,
    /// It is in stock.
    #[error("the piece is in stock; its release can be taken back while it is here")]
    InStock,
    /// It is not in stock.
    #[error("the piece is not in stock")]
    NotInStock,
    /// It went back.
    #[error("the piece was sent back")]
    SentBack,
    /// It did not go back.
    #[error("the piece was not sent back")]
    NotSentBack,
    /// It was surrendered, and that is final.
    #[error("the piece was surrendered")]
    Surrendered,
    /// Doubts of the piece are open.
    #[error("{open} doubts of the piece are open")]
    OpenHolds {
        /// How many.
        open: u32,
    },
    /// Doubts of its lot are open.
    #[error("{open} doubts of its lot are open")]
    OpenLotHolds {
        /// How many.
        open: u32,
    },
    /// The holding period of its source is not over.
    #[error("the holding period of its source is not over")]
    HoldingPeriod {
        /// Its end, in milliseconds since 1970.
        until_ms: i64,
    },
    /// There is no open doubt to close.
    #[error("no doubt is open")]
    NothingOpen,
}

impl Whereabouts {
    /// All places.
    pub const ALL: [Whereabouts; 4] =
        [Whereabouts::Here, Whereabouts::Stock, Whereabouts::SentBack, Whereabouts::Surrendered];

    /// Returns the word kept in the book.
    pub fn word(self) -> &'static str {
        match self {
            Whereabouts::Here => "here",
            Whereabouts::Stock => "stock",
            Whereabouts::SentBack => "sent_back",
            Whereabouts::Surrendered => "surrendered",
        }
    }

    /// Returns the place with the given word.
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|place| place.word() == word)
    }
}

impl Custody {
    /// Returns the custody of a piece that was just logged.
    pub fn logged() -> Self {
        Custody { whereabouts: Whereabouts::Here, voided: false, open: 0, lot_open: 0, held_until_ms: None }
    }

    /// Returns the custody after an act.
    ///
    /// # Errors
    /// The first reason why it may not happen; what stands against a release is told in the order holds of the piece, holds
    /// of the lot, holding period.
    pub fn after(self, act: CustodyAct) -> Result<Self, CustodyRefusal> {
        use CustodyAct as Act;
        match act {
            Act::LotHoldOpened => Ok(Custody { lot_open: self.lot_open + 1, ..self }),
            Act::LotHoldClosed => {
                let lot_open = self.lot_open.checked_sub(1).ok_or(CustodyRefusal::NothingOpen)?;
                Ok(Custody { lot_open, ..self })
            }
            Act::HeldUntil { ms } => Ok(Custody { held_until_ms: Some(ms), ..self }),
            Act::ReleaseTakenBack if self.whereabouts == Whereabouts::Stock => {
                Ok(Custody { whereabouts: Whereabouts::Here, ..self })
            }
            Act::ReleaseTakenBack => Err(CustodyRefusal::NotInStock),
            Act::SendBackTakenBack { open } if self.whereabouts == Whereabouts::SentBack => {
                Ok(Custody { whereabouts: Whereabouts::Here, open, ..self })
            }
            Act::SendBackTakenBack { .. } => Err(CustodyRefusal::NotSentBack),
            act => self.here()?.after_at_the_desk(act),
        }
    }

    /// Returns the piece when it is at the desk.
    ///
    /// # Errors
    /// Where else it is.
    pub fn here(self) -> Result<Self, CustodyRefusal> {
        match self.whereabouts {
            _ if self.voided => Err(CustodyRefusal::Voided),
            Whereabouts::Here => Ok(self),
            Whereabouts::Stock => Err(CustodyRefusal::InStock),
            Whereabouts::SentBack => Err(CustodyRefusal::SentBack),
            Whereabouts::Surrendered => Err(CustodyRefusal::Surrendered),
        }
    }

    fn after_at_the_desk(self, act: CustodyAct) -> Result<Self, CustodyRefusal> {
        use CustodyAct as Act;
        match act {
            Act::HoldOpened => Ok(Custody { open: self.open + 1, ..self }),
            Act::HoldClosed => {
                let open = self.open.checked_sub(1).ok_or(CustodyRefusal::NothingOpen)?;
                Ok(Custody { open, ..self })
            }
            Act::Voided => Ok(Custody { voided: true, open: 0, ..self }),
            Act::SentBack => Ok(Custody { whereabouts: Whereabouts::SentBack, open: 0, ..self }),
            Act::Surrendered => Ok(Custody { whereabouts: Whereabouts::Surrendered, open: 0, ..self }),
            Act::Released { at_ms } => match self.held_until_ms {
                _ if self.open > 0 => Err(CustodyRefusal::OpenHolds { open: self.open }),
                _ if self.lot_open > 0 => Err(CustodyRefusal::OpenLotHolds { open: self.lot_open }),
                Some(until_ms) if until_ms > at_ms => Err(CustodyRefusal::HoldingPeriod { until_ms }),
                _ => Ok(Custody { whereabouts: Whereabouts::Stock, ..self }),
            },
            _ => Ok(self),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn acts() -> impl Strategy<Value = CustodyAct> {
        prop_oneof![
            3 => Just(CustodyAct::HoldOpened),
            3 => Just(CustodyAct::HoldClosed),
            1 => Just(CustodyAct::LotHoldOpened),
            1 => Just(CustodyAct::LotHoldClosed),
            1 => (0i64..10).prop_map(|ms| CustodyAct::HeldUntil { ms }),
            2 => Just(CustodyAct::Measured),
            1 => Just(CustodyAct::Voided),
            6 => (0i64..10).prop_map(|at_ms| CustodyAct::Released { at_ms }),
            2 => Just(CustodyAct::ReleaseTakenBack),
            1 => Just(CustodyAct::SentBack),
            2 => (0u32..3).prop_map(|open| CustodyAct::SendBackTakenBack { open }),
            1 => Just(CustodyAct::Surrendered),
        ]
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 2000, ..ProptestConfig::default() })]

        /// Beside the machine stands a plain ledger that only remembers what was accepted.
        #[test]
        fn no_sequence_of_acts_brings_a_doubtful_held_or_departed_piece_into_stock(
            acts in proptest::collection::vec(acts(), 0..40)
        ) {
            let mut custody = Custody::logged();
            let (mut open, mut lot_open, mut until) = (0i64, 0i64, 0i64);
            let (mut gone, mut final_end) = (false, false);
            for act in acts {
                let Ok(next) = custody.after(act) else { continue };
                let of_the_lot = matches!(
                    act,
                    CustodyAct::LotHoldOpened | CustodyAct::LotHoldClosed | CustodyAct::HeldUntil { .. }
                );
                prop_assert!(!final_end || of_the_lot);
                match act {
                    CustodyAct::HoldOpened => open += 1,
                    CustodyAct::HoldClosed => open -= 1,
                    CustodyAct::LotHoldOpened => lot_open += 1,
                    CustodyAct::LotHoldClosed => lot_open -= 1,
                    CustodyAct::HeldUntil { ms } => until = ms,
                    CustodyAct::Voided | CustodyAct::Surrendered => { final_end = true; open = 0; }
                    CustodyAct::SentBack => { gone = true; open = 0; }
                    CustodyAct::SendBackTakenBack { open: again } => { gone = false; open = i64::from(again); }
                    CustodyAct::Released { at_ms } => {
                        prop_assert!(open == 0 && lot_open == 0 && until <= at_ms && !gone && !final_end);
                    }
                    CustodyAct::Measured => prop_assert_eq!(custody.whereabouts, Whereabouts::Here),
                    CustodyAct::ReleaseTakenBack => prop_assert_eq!(custody.whereabouts, Whereabouts::Stock),
                }
                // Nothing opens a doubt of a piece in stock, so what is in stock stays without one.
                prop_assert!(next.whereabouts != Whereabouts::Stock || next.open == 0);
                let stock = matches!(act, CustodyAct::Released { .. });
                prop_assert!(next.whereabouts != Whereabouts::Stock || stock || custody.whereabouts == Whereabouts::Stock);
                custody = next;
            }
        }
    }

    #[test]
    fn what_stands_against_a_release_is_told_in_order() {
        let piece = Custody { open: 2, lot_open: 1, held_until_ms: Some(9), ..Custody::logged() };
        let release = CustodyAct::Released { at_ms: 8 };
        assert_eq!(piece.after(release), Err(CustodyRefusal::OpenHolds { open: 2 }));
        let piece = Custody { open: 0, ..piece };
        assert_eq!(piece.after(release), Err(CustodyRefusal::OpenLotHolds { open: 1 }));
        let piece = Custody { lot_open: 0, ..piece };
        assert_eq!(piece.after(release), Err(CustodyRefusal::HoldingPeriod { until_ms: 9 }));
        let stock = piece.after(CustodyAct::Released { at_ms: 9 }).unwrap();
        assert_eq!(stock.after(CustodyAct::SentBack), Err(CustodyRefusal::InStock));
        assert_eq!(stock.after(CustodyAct::Measured), Err(CustodyRefusal::InStock));
        assert_eq!(stock.after(CustodyAct::ReleaseTakenBack), Ok(piece));
        let gone = piece.after(CustodyAct::Surrendered).unwrap();
        assert_eq!(gone.after(release), Err(CustodyRefusal::Surrendered));
        assert_eq!(gone.after(CustodyAct::SendBackTakenBack { open: 0 }), Err(CustodyRefusal::NotSentBack));
    }
}
