//! Input that means harm: mutilated files, texts that steer terminals and spreadsheets, guessed PINs, acts without right.
//!
//! The suite runs a part of the seeded mutations; all of them: `SCRUPLE_FAULTS=full cargo test --test it attacks`.

mod hostile_names;
mod mutilated;
mod permits;
