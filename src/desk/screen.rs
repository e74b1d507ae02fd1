//! How the screens of a desk look and sound, from `screen.toml` of the config folder.
//!
//! What it is for: choices that change what is shown and what a bare number is understood in, never what is stored. Only the
//! screens and `scruple plain` read it, so that a mistake in it stops no subcommand. What it must never do: guess. With a
//! mistake the file is refused whole, because a bare number under another unit is another mass.

use super::AppError;
use super::config::optional;
use super::views::Field;
use crate::evidence::Measurand;
use crate::quantity::entry::is_bare;
use crate::quantity::{Conductivity, Length, Mass, Quantity, Unit};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::ops::Range;
use std::path::Path;
use toml::Spanned;

/// Name of the file in the config folder.
pub const FILE: &str = "screen.toml";
/// The file shipped with the program.
const BUILT_IN: &str = include_str!("../../assets/desk/screen.toml");
/// Longest name of an act or a key that is repeated in an error, in characters.
const LONGEST_SHOWN: usize = 40;

/// How the screens are coloured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Look {
    /// The terminal's colours, with dim for what may step back.
    #[default]
    Default,
    /// Bold, underline and the terminal's bright colours; nothing dim.
    HighContrast,
    /// No colour.
    Mono,
}

/// With which marks plots are drawn, where the desk says so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Plot {
    /// Braille patterns.
    Braille,
    /// One dot a cell.
    Dot,
    /// ASCII only.
    Ascii,
}

/// What calls when an entry was not taken, or a piece is held or refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Bell {
    /// Nothing.
    Off,
    /// The terminal's bell.
    #[default]
    Sound,
    /// The line above the footer, in reverse video for a moment.
    Flash,
}

/// The mark between whole and tenths in numbers that are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DecimalMark {
    /// A point, as numbers are stored and written to files.
    #[default]
    Point,
    /// A comma.
    Comma,
}

/// The unit in which a bare number is understood and values are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Units {
    /// Of masses.
    pub mass: &'static Unit,
    /// Of lengths.
    pub length: &'static Unit,
    /// Of conductivities.
    pub conductivity: &'static Unit,
}

impl Default for Units {
    fn default() -> Self {
        Units { mass: &Mass::UNITS[0], length: &Length::UNITS[0], conductivity: &Conductivity::UNITS[0] }
    }
}

impl Units {
    /// Returns the unit for a measurand, where the desk chose another than the stored one.
    pub fn other_than_stored(&self, measurand: Measurand) -> Option<&'static Unit> {
        let (chosen, stored) = match measurand {
            Measurand::Mass => (self.mass, &Mass::UNITS[0]),
            Measurand::Conductivity => (self.conductivity, &Conductivity::UNITS[0]),
            Measurand::Diameter | Measurand::Thickness | Measurand::Length | Measurand::Width => {
                (self.length, &Length::UNITS[0])
            }
            Measurand::Temperature => return None,
        };
        (chosen != stored).then_some(chosen)
    }

    /// Returns a typed text as it is kept: with its unit behind a bare number that is understood in another unit than the
    /// stored one, so that it means the same for ever and on every desk; anything else as it is.
    pub fn kept(&self, measurand: Measurand, text: &str) -> String {
        match self.other_than_stored(measurand) {
            Some(unit) if is_bare(text) => format!("{} {}", text.trim(), unit.symbol),
            _ => text.to_owned(),
        }
    }

    /// Returns a typed text of a field as it is kept; see [`Units::kept`].
    pub fn kept_in(&self, field: Field, text: &str) -> String {
        match field {
            Field::Serial => text.to_owned(),
            Field::Reading(measurand, _) => self.kept(measurand, text),
        }
    }
}

/// Other keys for an act, as the file gives them; the screens know which acts and keys there are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyChange {
    /// Name of the act.
    pub act: String,
    /// Names of its keys.
    pub keys: Vec<String>,
    /// Line of the file, from 1.
    pub line: usize,
}

/// How the screens of a desk look and sound.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ScreenSettings {
    /// Name of the file that was read; `None` for what is shipped.
    pub file: Option<String>,
    /// Colours.
    pub look: Look,
    /// Marks of plots; `None` leaves them to the terminal.
    pub plot: Option<Plot>,
    /// The bell.
    pub bell: Bell,
    /// The mark in numbers that are shown.
    pub decimal_mark: DecimalMark,
    /// Units of bare numbers and of what is shown.
    pub units: Units,
    /// Other keys.
    pub keys: Vec<KeyChange>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileText {
    theme: Option<Spanned<String>>,
    plot: Option<Spanned<String>>,
    bell: Option<Spanned<String>>,
    decimal_mark: Option<Spanned<String>>,
    #[serde(default)]
    units: UnitsText,
    #[serde(default)]
    keys: BTreeMap<Spanned<String>, Vec<String>>,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields)]
struct UnitsText {
    mass: Option<Spanned<String>>,
    length: Option<Spanned<String>>,
    conductivity: Option<Spanned<String>>,
}

const LOOKS: [(&str, Look); 3] =
    [("default", Look::Default), ("high contrast", Look::HighContrast), ("mono", Look::Mono)];
const PLOTS: [(&str, Option<Plot>); 3] =
    [("braille", Some(Plot::Braille)), ("dot", Some(Plot::Dot)), ("ascii", Some(Plot::Ascii))];
const BELLS: [(&str, Bell); 3] = [("off", Bell::Off), ("sound", Bell::Sound), ("flash", Bell::Flash)];
const DECIMAL_MARKS: [(&str, DecimalMark); 2] = [(".", DecimalMark::Point), (",", DecimalMark::Comma)];

/// Returns the two units that a desk may choose between.
fn offered<Q: Quantity>(other: &str) -> [(&'static str, &'static Unit); 2] {
    let stored = &Q::UNITS[0];
    let other = Q::unit(other).expect("the unit is one of the quantity");
    [(stored.symbol, stored), (other.symbol, other)]
}

/// Where in a file something stands.
struct Place<'t> {
    file: &'t str,
    text: &'t str,
}

impl Place<'_> {
    /// Makes an error of a line, with what to do.
    fn wrong(&self, at: &Range<usize>, message: &str) -> AppError {
        mistake(self.file, self.line(at), message)
    }

    fn line(&self, at: &Range<usize>) -> usize {
        self.text.get(..at.start).unwrap_or(self.text).matches('\n').count() + 1
    }

    /// Reads a word that must be one of a few; left out, it is `otherwise`.
    fn word<T: Copy>(
        &self,
        field: &str,
        found: Option<&Spanned<String>>,
        allowed: &[(&str, T)],
        otherwise: T,
    ) -> Result<T, AppError> {
        let Some(found) = found else { return Ok(otherwise) };
        let value = allowed.iter().find(|(word, _)| word == found.get_ref()).map(|(_, value)| *value);
        value.ok_or_else(|| {
            let words: Vec<String> = allowed.iter().map(|(word, _)| format!("`{word}`")).collect();
            let message =
                format!("`{field}`: `{}` is not one of {}", shown(found.get_ref()), words.join(", "));
            self.wrong(&found.span(), &message)
        })
    }
}

/// Returns what was found as it may stand in an error.
fn shown(found: &str) -> String {
    let clean = crate::quantity::entry::clean(found);
    if clean.chars().count() <= LONGEST_SHOWN {
        return clean;
    }
    clean.chars().take(LONGEST_SHOWN).chain("...".chars()).collect()
}

/// Makes the error of a mistake in a line of the file.
pub fn mistake(file: &str, line: usize, message: &str) -> AppError {
    AppError::failed(format!("{file}:{line}: {message}")).with_hint(
        "mend the line or take it out; every subcommand works meanwhile, the screens open after that",
    )
}

impl ScreenSettings {
    /// Returns what is shipped with the program.
    pub fn built_in() -> Self {
        Self { file: None, ..Self::parse("assets/desk/screen.toml", BUILT_IN).unwrap_or_default() }
    }

    /// Reads the file of a config folder; what is shipped counts where there is none.
    ///
    /// # Errors
    /// A file that cannot be read, or its first mistake with line, found and allowed.
    pub fn read(folder: Option<&Path>) -> Result<Self, AppError> {
        match folder.map(|folder| optional(folder, FILE)).transpose()?.flatten() {
            Some((file, text)) => Self::parse(&file, &text),
            None => Ok(Self::built_in()),
        }
    }

    /// Reads the text of a file. Which acts and keys there are is left to the screens.
    ///
    /// # Errors
    /// The first mistake, with line, found and allowed.
    pub fn parse(file: &str, text: &str) -> Result<Self, AppError> {
        let place = Place { file, text };
        let parsed: FileText = toml::from_str(text).map_err(|error| {
            let at = error.span().unwrap_or(0..0);
            place.wrong(&at, error.message().trim_end())
        })?;
        let units = &parsed.units;
        let stored = Units::default();
        let unit = |field, found: &Option<Spanned<String>>, offered: [(&str, &'static Unit); 2], stored| {
            place.word(field, found.as_ref(), &offered, stored)
        };
        let keys = parsed.keys.into_iter().map(|(act, keys)| KeyChange {
            line: place.line(&act.span()),
            act: shown(act.get_ref()),
            keys: keys.iter().map(|key| shown(key)).collect(),
        });
        let mut keys: Vec<KeyChange> = keys.collect();
        keys.sort_by_key(|change| change.line);
        Ok(ScreenSettings {
            file: Some(file.to_owned()),
            look: place.word("theme", parsed.theme.as_ref(), &LOOKS, Look::default())?,
            plot: place.word("plot", parsed.plot.as_ref(), &PLOTS, None)?,
            bell: place.word("bell", parsed.bell.as_ref(), &BELLS, Bell::default())?,
            decimal_mark: place.word(
                "decimal_mark",
                parsed.decimal_mark.as_ref(),
                &DECIMAL_MARKS,
                DecimalMark::default(),
            )?,
            units: Units {
                mass: unit("units.mass", &units.mass, offered::<Mass>("ozt"), stored.mass)?,
                length: unit("units.length", &units.length, offered::<Length>("in"), stored.length)?,
                conductivity: unit(
                    "units.conductivity",
                    &units.conductivity,
                    offered::<Conductivity>("%IACS"),
                    stored.conductivity,
                )?,
            },
            keys,
        })
    }

    /// Returns every setting with its value in words, as the file names them.
    pub fn in_words(&self) -> Vec<(&'static str, String)> {
        fn word<T: PartialEq>(words: &[(&str, T)], value: &T) -> String {
            let found = words.iter().find(|(_, one)| one == value);
            found.map_or_else(|| "by the terminal".to_owned(), |(word, _)| (*word).to_owned())
        }
        let changed: Vec<String> =
            self.keys.iter().map(|change| format!("{}: {}", change.act, change.keys.join(", "))).collect();
        vec![
            ("theme", word(&LOOKS, &self.look)),
            ("plot", word(&PLOTS, &self.plot)),
            ("bell", word(&BELLS, &self.bell)),
            ("decimal mark", format!("`{}`", word(&DECIMAL_MARKS, &self.decimal_mark))),
            ("mass", self.units.mass.symbol.to_owned()),
            ("length", self.units.length.symbol.to_owned()),
            ("conductivity", self.units.conductivity.symbol.to_owned()),
            ("keys", if changed.is_empty() { "as shipped".to_owned() } else { changed.join("; ") }),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn refused(text: &str, expected: &str) {
        let error = ScreenSettings::parse("screen.toml", text).unwrap_err();
        assert!(error.message.starts_with(expected), "{}", error.message);
        assert_eq!(error.hints.len(), 1);
    }

    #[test]
    fn the_shipped_file_says_what_counts_without_a_file() {
        let shipped = ScreenSettings::parse("assets/desk/screen.toml", BUILT_IN).unwrap();
        assert_eq!(ScreenSettings { file: None, ..shipped }, ScreenSettings::default());
        assert_eq!(ScreenSettings::built_in(), ScreenSettings::default());
    }

    #[test]
    fn every_setting_is_read() {
        let text = "theme = \"high contrast\"\nplot = \"dot\"\nbell = \"flash\"\ndecimal_mark = \",\"\n\n[units]\n\
                    mass = \"ozt\"\nlength = \"in\"\nconductivity = \"%IACS\"\n\n[keys]\n\
                    \"new shipment\" = [\"F12\", \"Ctrl-N\"]\n\"help\" = [\"F1\", \"Ctrl-G\"]\n";
        let read = ScreenSettings::parse("screen.toml", text).unwrap();
        assert_eq!((read.look, read.plot, read.bell), (Look::HighContrast, Some(Plot::Dot), Bell::Flash));
        assert_eq!(read.decimal_mark, DecimalMark::Comma);
        let units = [read.units.mass, read.units.length, read.units.conductivity].map(|unit| unit.symbol);
        assert_eq!(units, ["ozt", "in", "%IACS"]);
        let lines: Vec<(usize, &str)> = read.keys.iter().map(|one| (one.line, one.act.as_str())).collect();
        assert_eq!(lines, [(12, "new shipment"), (13, "help")]);
        let words = read.in_words();
        assert!(
            words.contains(&("keys", "new shipment: F12, Ctrl-N; help: F1, Ctrl-G".to_owned())),
            "{words:?}"
        );
    }

    #[test]
    fn a_bare_number_is_kept_with_the_unit_it_was_understood_in() {
        let read = ScreenSettings::parse("screen.toml", "[units]\nmass = \"ozt\"\n").unwrap().units;
        assert_eq!(read.kept(Measurand::Mass, "1"), "1 ozt");
        assert_eq!(read.kept(Measurand::Mass, " 1,05 "), "1,05 ozt");
        for text in ["1 ozt", "31.1 g", "-", "", "1oz", "x"] {
            assert_eq!(read.kept(Measurand::Mass, text), text);
        }
        assert_eq!(read.kept(Measurand::Diameter, "38.1"), "38.1");
        assert_eq!(read.kept_in(Field::Serial, "1"), "1");
        assert_eq!(Units::default().kept(Measurand::Mass, "1"), "1");
    }

    #[test]
    fn a_mistake_names_line_field_found_and_allowed() {
        refused(
            "bell = \"off\"\ntheme = \"dark\"\n",
            "screen.toml:2: `theme`: `dark` is not one of `default`, `high contrast`, `mono`",
        );
        refused("[units]\nmass = \"oz\"\n", "screen.toml:2: `units.mass`: `oz` is not one of `g`, `ozt`");
        refused("[units]\nlength = \"cm\"\n", "screen.toml:2: `units.length`: `cm` is not one of `mm`, `in`");
        refused("\nthemes = \"mono\"\n", "screen.toml:2: unknown field `themes`, expected one of `theme`");
        refused("[units]\nvolume = \"l\"\n", "screen.toml:2: unknown field `volume`, expected one of `mass`");
        refused("bell = 3\n", "screen.toml:1: invalid type: integer `3`, expected a string");
        refused("[keys]\nhelp = \"F1\"\n", "screen.toml:2: invalid type: string \"F1\", expected a sequence");
        refused("theme = mono\n", "screen.toml:1: ");
        refused("theme = \"mono\"\ntheme = \"mono\"\n", "screen.toml:2: duplicate key");
    }
}
