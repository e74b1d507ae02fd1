//! One test binary; each module checks one part of the house from outside.

mod attacks;
mod audit;
mod backups;
mod bench;
mod bench_plots;
mod capability;
mod cli;
mod coil_model;
mod controls;
mod dependencies;
mod desk;
mod desk_day;
mod device_cli;
mod device_screens;
mod devices;
mod doctor;
mod explain;
mod false_alarms;
mod faults;
mod find;
mod first_run;
mod full_day;
mod install;
mod instrument_screens;
mod instruments;
mod intake;
mod lot_screen;
mod lots;
mod metrology;
mod open_files;
mod physics;
mod pictures;
mod plain;
mod reach;
mod readme;
mod real_screens;
mod recording;
mod reference;
mod reference_values;
mod release;
mod report;
mod review;
mod review_cli;
mod review_screens;
mod scoring;
mod screen_settings;
mod screens;
mod second_tests;
mod stopping;
mod store;
mod terminal;
mod tidy;
mod type_book;
mod undo_list;
mod walked_pages;

/// Returns a cause in words, as people read it.
fn cause(cause: &scruple::scoring::Cause) -> String {
    scruple::present::causes::cause_text(cause)
}

/// Returns why a method can do what it can, in words.
fn because(because: &scruple::scoring::Because) -> String {
    scruple::present::causes::because_text(because)
}

/// Returns a remark in words.
fn remark(remark: &scruple::scoring::Remark) -> String {
    scruple::present::causes::remark_text(remark)
}
