//! Lines that instruments send: where one ends, what it says, and when it has said a value for good.
//!
//! What it is for: turning the bytes of a scale, a calliper or a meter into at most one value for each piece, by a profile
//! that a dealer writes. What it must never do: guess a unit, mend a garbled line, open a port, or panic on any bytes. Read
//! next: [`DeviceProfile`], then [`DeviceFeed`], which puts the parts together.

mod bytes;
mod feed;
mod line;
mod pattern;
mod profile;
mod profile_error;
mod profile_text;
mod settle;

pub use bytes::{Ending, LineCutter, RawLine, escape, unescape};
pub use feed::{Captured, DeviceFeed, DeviceNews, DeviceNote};
pub use line::{DeviceValue, Garbage, LineReading};
pub use pattern::{LinePattern, PatternError};
pub use profile::{
    DeviceProfile, LineSettings, MarkWords, Parity, Request, Settling, WithoutMark, WithoutUnit,
};
pub use profile_error::{ProfileError, ProfileMistake};
pub use settle::StableFilter;
