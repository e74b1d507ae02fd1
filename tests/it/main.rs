//! One test binary; each module checks one part of the house from outside.

mod bench;
mod capability;
mod cli;
mod coil_model;
mod desk;
mod false_alarms;
mod intake;
mod lots;
mod metrology;
mod physics;
mod reach;
mod readme;
mod recording;
mod reference;
mod release;
mod report;
mod review;
mod review_cli;
mod review_screens;
mod scoring;
mod screens;
mod second_tests;
mod store;
mod terminal;
mod tidy;
