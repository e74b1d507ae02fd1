//! One test binary; each module checks one part of the house from outside.

mod false_alarms;
mod metrology;
mod physics;
mod reference;
mod scoring;
mod screens;
mod terminal;
