//! The screens: a bench for the terminal.
//!
//! What it is for: everything a receiving desk does by keyboard. A key becomes a message by the one table in
//! [`keymap`]; [`update`](mod@update) changes the [`state`] and returns effects; the shell carries them out through
//! the desk and answers with messages; the views draw the state. What it must never do: compute a verdict, speak SQL,
//! or hold a value that is not on disk before the next key. Read next: [`keymap`], then the file of a screen in
//! [`view`].

pub mod devices;
pub mod dialog;
pub mod effect;
mod face;
pub mod finder;
mod help;
pub mod holds;
mod input;
pub mod keymap;
pub mod keys;
pub mod message;
mod perform;
mod perform_review;
mod plots;
pub mod reference;
pub mod second_test;
pub mod session;
mod shell;
pub mod state;
mod terminal;
pub mod update;
pub mod view;

pub use shell::{Invent, Options, run_with};
