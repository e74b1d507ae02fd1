//! One test binary; each module checks one part of the house from outside.

mod bench;
mod cli;
mod desk;
mod false_alarms;
mod intake;
mod metrology;
mod physics;
mod recording;
mod readme;
mod reference;
mod report;
mod scoring;
mod screens;
mod store;
mod terminal;
mod tidy;
