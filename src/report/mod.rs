//! Reports: one description of what is said, and the files that are made of it.
//!
//! What it is for: the day sheet, the piece record, labels and exports. A report is built once as a
//! [`document::Document`] and written as HTML, PDF or plain text; a plot is described once and drawn by every back
//! end; a table also goes out as CSV or as a workbook. What it must never do: read a clock, a file or the book,
//! compute a physical value, or say that a piece is what it is declared to be. Read next: [`document`], then
//! [`plot`].

mod binding;
pub mod chart;
pub mod codes;
pub mod day_sheet;
pub mod document;
pub mod drawing;
pub mod html;
pub mod labels;
pub mod metrics;
pub mod pdf;
pub mod piece_record;
pub mod plain;
pub mod plot;
pub mod reach_plot;
mod second_tests;
pub mod sheet;
pub mod stock_sheet;
pub mod svg;
