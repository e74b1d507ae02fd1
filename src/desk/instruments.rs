//! The register of instruments in force, and which instrument is in use.
//!
//! A register that an owner set in the book counts before the file in the config folder, and that before the one shipped, as
//! it is with the policy. Which instrument of a kind is in use is a preference of the book.

use super::config::short_version;
use super::{AppError, Desk, PolicyOrigin};
use crate::evidence::{InstrumentKind, Instruments, Measurand, ReferencePiece};
use crate::reference::{Catalogue, Mistakes};
use crate::store::{Deed, Reader, digest};
use chrono::{Local, NaiveDate};
use serde_json::json;

/// Beginning of the name of the preferences that keep which instrument takes a reading.
const IN_USE: &str = "instrument_for_";

/// An instrument of the register, or one that is only assumed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InstrumentView {
    /// Its name; the word for its kind when nobody registered one.
    pub name: String,
    /// What it is.
    pub kind: InstrumentKind,
    /// Whether nobody registered it: its figures are assumed, and no control is asked of it.
    pub assumed: bool,
    /// The readings that it takes now.
    pub in_use_for: Vec<Measurand>,
    /// What is on record about it: name of the fact, and the fact.
    pub facts: Vec<(&'static str, String)>,
    /// When its next calibration is due.
    pub due: Option<NaiveDate>,
    /// Whether that day is past.
    pub past_due: bool,
    /// Reference pieces that it is checked on; none means that no control is asked of it.
    pub checked_on: Vec<String>,
}

/// A reference piece of the register.
#[derive(Debug, Clone, PartialEq)]
pub struct ReferencePieceView {
    /// The piece as registered.
    pub piece: ReferencePiece,
    /// Names of the instruments that are checked on it.
    pub checks: Vec<String>,
}

/// The register in force.
#[derive(Debug, Clone, PartialEq)]
pub struct RegisterView {
    /// Where it comes from.
    pub origin: PolicyOrigin,
    /// Its version, the first digits of the hash of its text.
    pub version: String,
    /// Its text.
    pub text: String,
    /// The instruments.
    pub instruments: Vec<InstrumentView>,
    /// The reference pieces.
    pub references: Vec<ReferencePieceView>,
    /// Names of the probes.
    pub probes: Vec<String>,
}

/// Reads instruments, register or short form, and checks their materials against the reference.
///
/// # Errors
/// Every mistake with file, line and field.
pub fn check_register(file: &str, text: &str, catalogue: &Catalogue) -> Result<Instruments, AppError> {
    let read = Instruments::parse(file, text).map_err(|error| AppError::failed(error.to_string()))?;
    let unknown = read.register.unknown_materials(catalogue);
    if unknown.is_empty() { Ok(read) } else { Err(AppError::failed(Mistakes(unknown).to_string())) }
}

impl Desk {
    /// Returns the register in force with its instruments and reference pieces.
    ///
    /// # Errors
    /// What the book says.
    pub fn register_view(&self) -> Result<RegisterView, AppError> {
        let origin = match self.store.read().instruments_in_book()? {
            Some(_) => PolicyOrigin::Book,
            None => PolicyOrigin::Desk,
        };
        let today = self.act().at.with_timezone(&Local).date_naive();
        let own = &self.setup.instruments;
        let kinds = |piece: &ReferencePiece| {
            let all = own.register.instruments().into_iter();
            all.filter(|one| piece.is_for(one.kind, &one.name)).map(|one| one.name).collect()
        };
        let references = own.register.references.iter();
        Ok(RegisterView {
            origin,
            version: self.setup.texts.instruments_version.clone(),
            text: self.setup.texts.instruments.clone(),
            instruments: shown(own, today),
            references: references
                .map(|piece| ReferencePieceView { checks: kinds(piece), piece: piece.clone() })
                .collect(),
            probes: own.probes.iter().map(|probe| probe.name.clone()).collect(),
        })
    }

    /// Sets the register of the book from the text of a file; it counts from now on, on every machine.
    ///
    /// # Errors
    /// `NotPermitted` for anybody but an owner; every mistake of the text, with line and field.
    pub fn set_register(&mut self, file: &str, text: &str) -> Result<RegisterView, AppError> {
        self.owner_acts()?;
        check_register(file, text, &self.setup.catalogue)?;
        let version = short_version(text);
        let act = self.act();
        self.store.write(&act, |writer| {
            writer.keep_rule_text("instruments", &version, text)?;
            writer.set_instruments(Some(&version))?;
            let payload = json!({ "file": file, "version": version, "text_sha256": digest(text) });
            writer.journal(Deed::InstrumentsSet, &payload, None)?;
            Ok::<_, AppError>(())
        })?;
        self.take_up_register()?;
        self.register_view()
    }

    /// Goes back to the instruments of the desk: the file of the config folder, else those shipped.
    ///
    /// # Errors
    /// `NotPermitted` for anybody but an owner, `Failed` when the book sets none.
    pub fn unset_register(&mut self) -> Result<RegisterView, AppError> {
        self.owner_acts()?;
        if self.store.read().instruments_in_book()?.is_none() {
            return Err(AppError::failed("the book sets no instruments"));
        }
        let act = self.act();
        self.store.write(&act, |writer| {
            writer.set_instruments(None)?;
            writer.journal(Deed::InstrumentsSet, &json!({ "version": null }), None)?;
            Ok::<_, AppError>(())
        })?;
        self.take_up_register()?;
        self.register_view()
    }

    /// Takes an instrument into use for some readings, or for every reading that its kind takes.
    ///
    /// # Errors
    /// `Usage` for a name that the register does not have, and for a reading that its kind does not take.
    pub fn use_instrument(&mut self, name: &str, of: &[Measurand]) -> Result<InstrumentView, AppError> {
        let register = &self.setup.instruments.register;
        let Some(found) = register.instrument(name) else { return Err(not_registered(name, register)) };
        let takes = found.kind.measurands();
        if let Some(other) = of.iter().find(|of| !takes.contains(of)) {
            let words: Vec<String> = takes.iter().map(|of| format!("`{of}`")).collect();
            let allowed = if words.is_empty() { "second tests only".to_owned() } else { words.join(", ") };
            let message =
                format!("`{}`, a {}, does not take `{other}`; it takes {allowed}", found.name, found.kind);
            return Err(AppError::usage(message, Vec::new()));
        }
        if takes.is_empty() {
            let message = format!("`{}` takes no reading of the bench: it serves second tests", found.name);
            return Err(AppError::usage(message, Vec::new()));
        }
        let chosen: Vec<Measurand> = if of.is_empty() { takes.to_vec() } else { of.to_vec() };
        let act = self.act();
        self.store.write(&act, |writer| {
            for of in &chosen {
                writer.prefer(&format!("{IN_USE}{of}"), &found.name)?;
            }
            let words: Vec<&str> = chosen.iter().map(|of| of.name()).collect();
            let payload = json!({ "instrument": found.name, "for": words });
            writer.journal(Deed::InstrumentChosen, &payload, None)?;
            Ok::<_, AppError>(())
        })?;
        self.take_up_register()?;
        self.instrument_view(&found.name)
    }

    /// Returns one instrument of the register.
    ///
    /// # Errors
    /// `Usage` for a name that the register does not have.
    pub fn instrument_view(&self, name: &str) -> Result<InstrumentView, AppError> {
        let view = self.register_view()?;
        let wanted = name.trim().to_lowercase();
        let found = view.instruments.into_iter().find(|one| one.name.to_lowercase() == wanted);
        found.ok_or_else(|| not_registered(name, &self.setup.instruments.register))
    }

    /// Reads register and choice again after they changed.
    pub(super) fn take_up_register(&mut self) -> Result<(), AppError> {
        let (instruments, text, version) =
            in_force(self.store.read(), &self.own_instruments, &self.setup.catalogue)?;
        self.setup.instruments = instruments;
        self.setup.texts.instruments = text;
        self.setup.texts.instruments_version = version;
        Ok(())
    }
}

/// Makes the error of a name that the register does not have.
pub(super) fn not_registered(name: &str, register: &crate::evidence::Register) -> AppError {
    let names: Vec<String> = register.instruments().iter().map(|one| format!("`{}`", one.name)).collect();
    let clean = crate::quantity::entry::clean(name);
    if names.is_empty() {
        return AppError::usage(
            format!(
                "instrument `{clean}` is not known: the instruments of this desk are assumed, none has a name"
            ),
            vec!["register yours in a file and set it with `scruple instrument set FILE`".to_owned()],
        );
    }
    AppError::usage(format!("instrument `{clean}` is not one of {}", names.join(", ")), Vec::new())
}

/// Returns instruments, text and version in force, with those in use that the book prefers.
pub(super) fn in_force(
    reader: Reader<'_>,
    own: &(Instruments, String, String),
    catalogue: &Catalogue,
) -> Result<(Instruments, String, String), AppError> {
    let (instruments, text, version) = match reader.instruments_in_book()? {
        Some((version, text)) => {
            let file = format!("instruments {version} of the book");
            (check_register(&file, &text, catalogue)?, text, version)
        }
        None => own.clone(),
    };
    let mut choice = Vec::new();
    for of in Measurand::ALL {
        choice.extend(reader.preference(&format!("{IN_USE}{of}"))?.map(|name| (of, name)));
    }
    let instruments = if choice.is_empty() { instruments } else { instruments.using(&choice) };
    Ok((instruments, text, version))
}

/// Returns every instrument, those in use that nobody registered among them.
fn shown(own: &Instruments, today: NaiveDate) -> Vec<InstrumentView> {
    let taking = |name: Option<&str>| {
        let all = Measurand::ALL.into_iter().filter(|of| own.name_for(*of) == name);
        all.collect::<Vec<Measurand>>()
    };
    let mut views: Vec<InstrumentView> = Vec::new();
    for one in own.register.instruments() {
        let checked = own.register.references_for(one.kind, &one.name);
        views.push(InstrumentView {
            in_use_for: taking(Some(&one.name)),
            facts: own.register.facts(&one.name),
            checked_on: checked.into_iter().map(|piece| piece.name.clone()).collect(),
            past_due: one.due.is_some_and(|due| today > due),
            assumed: false,
            due: one.due,
            kind: one.kind,
            name: one.name,
        });
    }
    for (kind, of, facts) in own.assumed_facts() {
        views.push(InstrumentView {
            name: kind.word().to_owned(),
            kind,
            assumed: true,
            in_use_for: of,
            facts,
            due: None,
            past_due: false,
            checked_on: Vec::new(),
        });
    }
    views.sort_by_key(|view| view.kind);
    views
}
