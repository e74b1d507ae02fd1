//! What there is to know of machine and book before the work begins. Nothing is made, changed or brought to another version.

use super::backups::{NewestBackup, newest};
use super::config::Settings;
use super::screen::{self, ScreenSettings};
use super::{AppError, Desk, ErrorKind, PolicyOrigin, devices};
use crate::evidence::control::ControlState;
use crate::store::{MIGRATIONS, Store, StoreError, is_held};
use chrono::{DateTime, FixedOffset, Utc};
use std::path::{Path, PathBuf};

/// Everything that is judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Facts {
    /// The terminal.
    pub terminal: TerminalFacts,
    /// The language setting in force, such as `en_GB.UTF-8`.
    pub language: Option<String>,
    /// What time the machine says it is, in its zone.
    pub now: DateTime<FixedOffset>,
    /// The disk where the book lies.
    pub disk: DiskFacts,
    /// The book.
    pub book: BookFacts,
    /// The instruments.
    pub instruments: InstrumentFacts,
    /// The files of the configuration.
    pub config: ConfigFacts,
    /// The newest backup, or why the list of backups cannot be read.
    pub backup: Result<Option<NewestBackup>, String>,
}

/// The terminal as the machine describes it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TerminalFacts {
    /// Whether keys and screen are both a terminal.
    pub is_terminal: bool,
    /// The variable `TERM`.
    pub term: Option<String>,
    /// Columns and rows.
    pub size: Option<(u16, u16)>,
    /// Whether colours are used.
    pub colored: bool,
}

/// The disk where the book lies.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DiskFacts {
    /// The folder, or the nearest one above it that is there.
    pub folder: PathBuf,
    /// Bytes that are free for the user; `None` where the machine does not say.
    pub free: Option<u64>,
    /// Why the folder cannot be written; `None` when it can.
    pub not_writable: Option<String>,
}

/// The book as it lies there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BookFacts {
    /// The file.
    pub path: PathBuf,
    /// What it is.
    pub state: BookState,
    /// Who may read and write it, as the last nine bits of its mode; `None` where there is no file.
    pub mode: Option<u32>,
    /// Whether another program has it open; `None` when that cannot be told.
    pub held: Option<bool>,
}

/// What the file of a book is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BookState {
    /// There is none yet.
    Absent,
    /// A book of this version.
    Ready {
        /// Its version.
        version: i64,
        /// What its pages have wrong, if anything.
        damage: Option<String>,
        /// Rows of its journal.
        rows: u64,
        /// Its head: the hash that stands for everything in it.
        head: String,
        /// When its last row was written.
        last_entry: Option<DateTime<Utc>>,
    },
    /// A book of an older version, which the next start brings to this one.
    Older {
        /// Its version.
        found: i64,
        /// The version of this program.
        needed: i64,
    },
    /// Anything else.
    Unusable {
        /// Why.
        why: String,
        /// What to do.
        advice: String,
    },
}

/// The instruments as a book and a config folder give them.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct InstrumentFacts {
    /// Whether they could be read at all; with a reason when not.
    pub unread: Option<String>,
    /// Where the register comes from; `None` while there is no book.
    pub origin: Option<PolicyOrigin>,
    /// Names of those that nobody registered.
    pub assumed: Vec<String>,
    /// Those that a control is due for, with the reason.
    pub due: Vec<(String, String)>,
    /// Those whose last control failed, with the reason.
    pub failed: Vec<(String, String)>,
    /// Names of those whose calibration is past its day.
    pub past_due: Vec<String>,
}

/// The configuration.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ConfigFacts {
    /// The folder; `None` without a home.
    pub folder: Option<PathBuf>,
    /// The files that are there, each with its first mistake.
    pub files: Vec<(PathBuf, Option<String>)>,
    /// How the screens look; `None` when the file for it has a mistake.
    pub screen: Option<ScreenSettings>,
}

impl ConfigFacts {
    /// Tells whether a file of some name is there.
    pub fn has(&self, name: &str) -> bool {
        self.files.iter().any(|(path, _)| path.file_name().is_some_and(|found| found == name))
    }
}

/// Looks at a book without changing it.
pub fn look_at_book(path: &Path) -> BookFacts {
    let state = match state(path) {
        Ok(state) => state,
        Err(StoreError::Older { found, needed, .. }) => BookState::Older { found, needed },
        Err(error) => {
            let error = AppError::from(error);
            BookState::Unusable { why: error.message, advice: error.hints.join("; ") }
        }
    };
    let (mode, held) = match state {
        BookState::Absent => (None, None),
        _ => (mode(path), is_held(path).ok()),
    };
    BookFacts { path: path.to_owned(), state, mode, held }
}

fn state(path: &Path) -> Result<BookState, StoreError> {
    match std::fs::metadata(path) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(BookState::Absent),
        // The next start makes an empty file a book.
        Ok(found) if found.is_file() && found.len() == 0 => return Ok(BookState::Absent),
        _ => {}
    }
    let store = Store::open_to_read(path)?;
    let version = store.version()?;
    let needed = newest_version();
    if version < needed {
        return Ok(BookState::Older { found: version, needed });
    }
    let _look = store.look()?;
    let reader = store.read();
    let damage = reader.quick_check()?;
    let (rows, _) = reader.journal_head()?;
    Ok(BookState::Ready { version, damage, rows, head: reader.head()?, last_entry: reader.last_entry_at()? })
}

fn newest_version() -> i64 {
    i64::try_from(MIGRATIONS.len()).unwrap_or(i64::MAX)
}

fn mode(path: &Path) -> Option<u32> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        Some(std::fs::metadata(path).ok()?.permissions().mode() & 0o777)
    }
    #[cfg(not(unix))]
    {
        let _ = path;
        None
    }
}

/// Looks at where the instruments of a book and a config folder stand; without a book at those that a new one begins with.
pub fn look_at_instruments(book: &BookFacts, settings: Settings) -> InstrumentFacts {
    let found = match book.state {
        BookState::Ready { .. } => in_book(&book.path, settings),
        _ => {
            let assumed = settings.instruments.assumed_facts().into_iter();
            let assumed = assumed.map(|(kind, ..)| kind.word().to_owned()).collect();
            Ok(InstrumentFacts { assumed, ..InstrumentFacts::default() })
        }
    };
    found
        .unwrap_or_else(|error| InstrumentFacts { unread: Some(error.message), ..InstrumentFacts::default() })
}

fn in_book(path: &Path, settings: Settings) -> Result<InstrumentFacts, AppError> {
    let desk = Desk::of(Store::open_to_read(path)?, settings)?;
    let mut facts =
        InstrumentFacts { origin: Some(desk.register_view()?.origin), ..InstrumentFacts::default() };
    for row in desk.instruments_view()?.rows {
        if row.instrument.assumed {
            facts.assumed.push(row.name());
        }
        if row.instrument.past_due && !facts.past_due.contains(&row.instrument.name) {
            facts.past_due.push(row.instrument.name.clone());
        }
        match &row.state {
            ControlState::Failed { why, .. } => facts.failed.push((row.name(), why.clone())),
            ControlState::Due { why } => facts.due.push((row.name(), why.clone())),
            ControlState::Missing => facts.due.push((row.name(), "no control is on record".to_owned())),
            ControlState::InControl { .. } | ControlState::NotAsked => {}
        }
    }
    Ok(facts)
}

/// Looks at the files of a config folder, each for itself, so that one mistake does not hide another.
pub fn look_at_config(
    folder: Option<&Path>,
    check: impl Fn(&ScreenSettings) -> Result<(), AppError>,
) -> ConfigFacts {
    let Some(folder) = folder else {
        return ConfigFacts { screen: Some(ScreenSettings::built_in()), ..ConfigFacts::default() };
    };
    let mut files = Vec::new();
    // Instruments may name materials of the products, so they are read with them.
    let mut with_products = Settings::built_in("");
    for name in ["products.toml", "policy.toml", "instruments.toml"] {
        let path = folder.join(name);
        let text = match std::fs::read_to_string(&path) {
            Ok(text) => Ok(text),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => continue,
            Err(error) => Err(AppError::new(ErrorKind::Io, format!("it cannot be read: {error}"))),
        };
        let shown = path.display().to_string();
        let read = text.and_then(|text| {
            let settings = Settings { catalogue: with_products.catalogue.clone(), ..Settings::built_in("") };
            match name {
                "products.toml" => settings.with_products(&shown, &text),
                "policy.toml" => settings.with_policy(&shown, &text),
                _ => settings.with_instruments(&shown, &text),
            }
        });
        let mistake = match read {
            Ok(read) => {
                with_products.catalogue = read.catalogue;
                None
            }
            Err(error) => Some(error.message),
        };
        files.push((path, mistake));
    }
    files.extend(device_files(folder));
    let screen = ScreenSettings::read(Some(folder)).and_then(|read| check(&read).map(|()| read));
    let path = folder.join(screen::FILE);
    match &screen {
        Ok(read) if read.file.is_some() => files.push((path, None)),
        Ok(_) => {}
        Err(error) => files.push((path, Some(error.message.clone()))),
    }
    ConfigFacts { folder: Some(folder.to_owned()), files, screen: screen.ok() }
}

fn device_files(folder: &Path) -> Vec<(PathBuf, Option<String>)> {
    let folder = folder.join(devices::FOLDER);
    let mut paths: Vec<PathBuf> = match std::fs::read_dir(&folder) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Vec::new(),
        Err(error) => return vec![(folder, Some(format!("it cannot be read: {error}")))],
        Ok(entries) => entries.filter_map(|entry| Some(entry.ok()?.path())).collect(),
    };
    paths.retain(|path| path.extension().is_some_and(|kind| kind == "toml"));
    paths.sort();
    let mut files: Vec<(PathBuf, Option<String>)> = paths
        .into_iter()
        .map(|path| {
            let mistake = devices::profile(&path).err().map(|error| error.message);
            (path, mistake)
        })
        .collect();
    // What is wrong between two files that are each well formed.
    if files.iter().all(|(_, mistake)| mistake.is_none())
        && let Some(parent) = folder.parent()
        && let Err(error) = devices::profiles(Some(parent))
    {
        files.push((folder, Some(error.message)));
    }
    files
}

/// Looks at the newest backup of a book.
pub fn look_at_backup(book: &Path) -> Result<Option<NewestBackup>, String> {
    newest(book).map_err(|error| error.message)
}
