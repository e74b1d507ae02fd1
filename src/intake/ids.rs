//! Typed identities: UUID version 7 behind newtypes, so that the books of several benches can be merged.
//!
//! The uuid is handed in; nothing here reads a clock or draws a random number.

use serde::{Deserialize, Serialize};
use std::fmt;
use uuid::Uuid;

macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(Uuid);

        impl $name {
            /// Makes the identity from a uuid.
            pub const fn new(uuid: Uuid) -> Self {
                $name(uuid)
            }

            /// Makes the identity from the 16 bytes that the book keeps.
            pub const fn from_bytes(bytes: [u8; 16]) -> Self {
                $name(Uuid::from_bytes(bytes))
            }

            /// Returns the 16 bytes that the book keeps.
            pub const fn bytes(&self) -> &[u8; 16] {
                self.0.as_bytes()
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }
    };
}

id! {
    /// Names a shipment.
    ShipmentId
}
id! {
    /// Names a lot.
    LotId
}
id! {
    /// Names a piece.
    PieceId
}
id! {
    /// Names a reading.
    ReadingId
}
id! {
    /// Names a hold.
    HoldId
}
id! {
    /// Names a control.
    ControlId
}
id! {
    /// Names an assessment.
    AssessmentId
}
id! {
    /// Names a second test.
    SecondTestId
}
id! {
    /// Names a decision.
    DecisionId
}
id! {
    /// Names a sample.
    SampleId
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_identity_survives_its_bytes_and_its_text() {
        let id = PieceId::new(Uuid::from_u128(0x0190_0000_0000_7000_8000_0000_0000_0001));
        assert_eq!(PieceId::from_bytes(*id.bytes()), id);
        let text = serde_json::to_string(&id).unwrap();
        assert_eq!(text, "\"01900000-0000-7000-8000-000000000001\"");
        assert_eq!(serde_json::from_str::<PieceId>(&text).unwrap(), id);
    }
}
