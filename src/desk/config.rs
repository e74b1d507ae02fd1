//! What a desk brings along: its own products, policy, instruments, and where its book is.
//!
//! The config folder is `SCRUPLE_CONFIG`, else `scruple` in the XDG config folder; in it `products.toml`, `policy.toml` and
//! `instruments.toml`, each optional, and the folder `devices` with a profile of each device. How the screens look stands in
//! `screen.toml` there; see [`super::screen`].

use super::error::{AppError, ErrorKind};
use super::instruments::check_register;
use crate::evidence::Instruments;
use crate::reference::Catalogue;
use crate::scoring::Policy;
use crate::store::{Progress, digest};
use chrono::{DateTime, Utc};
use etcetera::{BaseStrategy, choose_base_strategy};
use std::fmt;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Says what time it is; tests bring their own.
pub type Clock = Box<dyn Fn() -> DateTime<Utc> + Send>;

/// Name of the program's folders and of its book.
const NAME: &str = "scruple";
/// Hexadecimal digits of a version.
const VERSION_DIGITS: usize = 12;

/// The policy and the instruments shipped with the program, as texts, so that the book can keep what it was scored with.
const POLICY: &str = include_str!("../../assets/desk/policy.toml");
const INSTRUMENTS: &str = include_str!("../../assets/desk/instruments.toml");

/// What a desk works with.
pub struct Settings {
    /// Materials and products, the dealer's own among them.
    pub catalogue: Catalogue,
    /// The instruments in use.
    pub instruments: Instruments,
    /// What the desk holds and what it lets pass.
    pub policy: Policy,
    /// Who works.
    pub operator: String,
    pub(super) clock: Clock,
    pub(super) patience: Option<Duration>,
    pub(super) progress: Progress,
    pub(super) texts: RuleTexts,
}

/// The texts that scoring rests on, with their versions.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct RuleTexts {
    pub(super) policy: String,
    pub(super) instruments: String,
    pub(super) instruments_version: String,
    pub(super) products: Option<String>,
}

impl fmt::Debug for Settings {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let versions = (self.catalogue.version(), self.policy.version(), &self.texts.instruments_version);
        f.debug_struct("Settings").field("operator", &self.operator).field("versions", &versions).finish()
    }
}

pub(super) fn short_version(text: &str) -> String {
    digest(text).chars().take(VERSION_DIGITS).collect()
}

impl Settings {
    /// Returns the settings shipped with the program, with the clock of the machine.
    pub fn built_in(operator: &str) -> Self {
        Settings {
            catalogue: Catalogue::embedded().clone(),
            instruments: Instruments::built_in(),
            policy: Policy::built_in(),
            operator: operator.to_owned(),
            clock: Box::new(Utc::now),
            patience: None,
            progress: Progress::default(),
            texts: RuleTexts {
                policy: POLICY.to_owned(),
                instruments: INSTRUMENTS.to_owned(),
                instruments_version: short_version(INSTRUMENTS),
                products: None,
            },
        }
    }

    /// Returns the settings with the files of a config folder laid over those shipped; a folder that is not there is
    /// no mistake.
    ///
    /// # Errors
    /// A file that cannot be read or has mistakes, every mistake of the products with its line.
    pub fn read(folder: Option<&Path>, operator: &str) -> Result<Self, AppError> {
        let mut settings = Self::built_in(operator);
        let Some(folder) = folder else { return Ok(settings) };
        if let Some((file, text)) = optional(folder, "products.toml")? {
            settings = settings.with_products(&file, &text)?;
        }
        if let Some((file, text)) = optional(folder, "policy.toml")? {
            settings = settings.with_policy(&file, &text)?;
        }
        if let Some((file, text)) = optional(folder, "instruments.toml")? {
            settings = settings.with_instruments(&file, &text)?;
        }
        Ok(settings)
    }

    /// Returns the settings with a dealer's products.
    ///
    /// # Errors
    /// Every mistake of the text, with its line.
    pub fn with_products(mut self, file: &str, text: &str) -> Result<Self, AppError> {
        let checked = Catalogue::embedded().with_dealer(file, text);
        self.catalogue = checked.map_err(|mistakes| AppError::failed(mistakes.to_string()))?;
        self.texts.products = Some(text.to_owned());
        Ok(self)
    }

    /// Returns the settings with another policy.
    ///
    /// # Errors
    /// The first mistake of the text, with its field.
    pub fn with_policy(mut self, file: &str, text: &str) -> Result<Self, AppError> {
        self.policy = Policy::parse(file, text).map_err(|error| AppError::failed(error.to_string()))?;
        text.clone_into(&mut self.texts.policy);
        Ok(self)
    }

    /// Returns the settings with other instruments.
    ///
    /// # Errors
    /// Every mistake of a register with line and field, materials that the reference does not have among them; the first of
    /// the short form.
    pub fn with_instruments(mut self, file: &str, text: &str) -> Result<Self, AppError> {
        self.instruments = check_register(file, text, &self.catalogue)?;
        text.clone_into(&mut self.texts.instruments);
        self.texts.instruments_version = short_version(text);
        Ok(self)
    }

    /// Returns the settings with another clock.
    pub fn with_clock(mut self, clock: impl Fn() -> DateTime<Utc> + Send + 'static) -> Self {
        self.clock = Box::new(clock);
        self
    }

    /// Returns the settings with somebody who is told how far long acts are, and may stop them.
    pub fn with_progress(mut self, progress: Progress) -> Self {
        self.progress = progress;
        self
    }

    /// Returns the settings with another wait for a book that another program holds.
    pub fn with_patience(mut self, patience: Duration) -> Self {
        self.patience = Some(patience);
        self
    }
}

/// Reads a file of the config folder, when it is there.
pub(super) fn optional(folder: &Path, name: &str) -> Result<Option<(String, String)>, AppError> {
    let path = folder.join(name);
    match std::fs::read_to_string(&path) {
        Ok(text) => Ok(Some((path.display().to_string(), text))),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(unreadable(&path, &error)),
    }
}

/// Makes the error of a file that cannot be read.
pub(super) fn unreadable(path: &Path, error: &std::io::Error) -> AppError {
    AppError::new(ErrorKind::Io, format!("`{}` cannot be read: {error}", path.display()))
}

/// Returns the config folder: `SCRUPLE_CONFIG`, else the XDG config folder; `None` without a home.
pub fn config_folder() -> Option<PathBuf> {
    named_by("SCRUPLE_CONFIG").or_else(|| Some(choose_base_strategy().ok()?.config_dir().join(NAME)))
}

/// Returns the folder of the logs, `scruple` in the XDG state folder; `None` without a home.
pub fn state_folder() -> Option<PathBuf> {
    let strategy = choose_base_strategy().ok()?;
    Some(strategy.state_dir().unwrap_or_else(|| strategy.data_dir()).join(NAME))
}

/// Returns where the book is: the file given, else `SCRUPLE_BOOK`, else `scruple.book` in the XDG data folder. Nothing is made.
///
/// # Errors
/// When there is no home.
pub fn book_place(given: Option<&Path>) -> Result<PathBuf, AppError> {
    if let Some(path) = given.map(Path::to_path_buf).or_else(|| named_by("SCRUPLE_BOOK")) {
        return Ok(path);
    }
    let no_home = || {
        AppError::failed("there is no home folder to keep the book in").with_hint("name a file with `--book`")
    };
    Ok(choose_base_strategy().map_err(|_| no_home())?.data_dir().join(NAME).join("scruple.book"))
}

/// Returns the book as [`book_place`] does; its folder in the XDG data folder is made.
///
/// # Errors
/// When there is no home, or the folder cannot be made.
pub fn book_path(given: Option<&Path>) -> Result<PathBuf, AppError> {
    let path = book_place(given)?;
    if given.is_some() || named_by("SCRUPLE_BOOK").is_some() {
        return Ok(path);
    }
    let folder = path.parent().unwrap_or(Path::new("."));
    let mut builder = std::fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::DirBuilderExt;
        builder.mode(0o700);
    }
    builder.create(folder).map_err(|error| {
        AppError::new(ErrorKind::Io, format!("folder `{}` cannot be made: {error}", folder.display()))
    })?;
    Ok(path)
}

fn named_by(variable: &str) -> Option<PathBuf> {
    std::env::var_os(variable).filter(|value| !value.is_empty()).map(PathBuf::from)
}
