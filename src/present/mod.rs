//! Words, numbers, margins and tables as text, shared by every face.
//!
//! What it is for: the command line and the screens say the same thing in the same words. What it must never do: open
//! a file, read a clock, draw on a terminal, or say that a piece is what it is declared to be. Read next: [`verdict`].

pub mod assessment_json;
pub mod assessment_text;
pub mod audit;
pub mod bar;
pub mod budget;
pub mod capability_json;
pub mod capability_text;
pub mod causes;
pub mod colors;
pub mod control_chart;
pub mod day;
pub mod decimal_mark;
pub mod decisions;
pub mod device_text;
pub mod doctor;
pub mod evidence;
pub mod explain;
pub mod holds;
pub mod holds_text;
pub mod in_short;
pub mod instruments;
pub mod lot_plot;
pub mod plain;
pub mod progress_text;
pub mod prospect;
pub mod ranges;
pub mod reach_json;
pub mod reach_text;
pub mod reference_gaps;
pub mod scale;
pub mod scatter;
pub mod second_test;
pub mod second_test_json;
pub mod second_test_text;
pub mod spectrum;
pub mod stock;
pub mod table;
pub mod text;
pub mod tone;
pub mod trend;
pub mod type_book;
pub mod units;
pub mod verdict;
pub mod words;
