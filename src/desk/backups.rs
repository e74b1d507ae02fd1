//! Backups: by hand, and one a desk day when the screens close; the newest are kept, and only its own are ever deleted.
//!
//! Beside the backups stands `list.csv`, which says which files the program made. A file that is not in it, or is not the
//! one that it names any more, is never touched.

use super::audit::{AuditRequest, audit};
use super::config::Settings;
use super::{AppError, Desk, ErrorKind};
use crate::store::{Deed, Store, StoreError, restore as restore_book};
use chrono::{DateTime, Local, NaiveDateTime, Utc};
use serde::{Deserialize, Serialize};
use serde_json::json;
use std::fs::{self, File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

/// Folder of the backups, beside the book.
const FOLDER: &str = "backups";
/// The list of what the program put there.
const LIST: &str = "list.csv";
/// Backups that are kept while nobody says otherwise. Common practice, no source: two weeks of days.
pub const USUALLY_KEPT: u32 = 14;
/// Name of the preference that says how many are kept.
const KEPT: &str = "backups_kept";
/// How the list writes a time.
const MADE_AT: &str = "%Y-%m-%d %H:%M:%S";
/// Faults of a backup that are told one by one.
const MOST_TOLD: usize = 5;

/// A backup that was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BackupView {
    /// The file.
    pub file: PathBuf,
    /// Head of the book when it was made.
    pub head: String,
    /// How many of the book's backups are kept in the folder; `None` for one in a place of its own.
    pub kept: Option<u32>,
    /// Older ones that were deleted.
    pub deleted: Vec<PathBuf>,
}

/// How the backup of the day went.
pub type DayBackup = Result<BackupView, AppError>;

/// A book that was brought back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RestoredView {
    /// The book.
    pub book: PathBuf,
    /// Its head; `None` for a book of a version that had no seals yet.
    pub head: Option<String>,
    /// Version of the backup.
    pub version: i64,
    /// Where the book that stood there before is now.
    pub kept: Option<PathBuf>,
}

/// A line of the list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Line {
    name: String,
    book: String,
    /// When it was made, by the clock of the desk.
    made_at: String,
    length: u64,
    head: String,
    /// Whether it was made for the day, not on request.
    of_day: bool,
}

impl Desk {
    /// Makes a backup: in the file given, else under a dated name in the folder of the backups, of which the newest are kept.
    /// `keep` says how many from now on.
    ///
    /// # Errors
    /// `Io` when the file stands there already, cannot be written, or the disk is full; `Usage` for keeping none.
    pub fn backup(&mut self, file: Option<&Path>, keep: Option<u32>) -> Result<BackupView, AppError> {
        if let Some(keep) = keep {
            self.keep_backups(keep)?;
        }
        match file {
            None => self.backup_in_folder(false),
            Some(file) => {
                let head = self.write_backup(file)?;
                Ok(BackupView { file: file.to_owned(), head, kept: None, deleted: Vec::new() })
            }
        }
    }

    /// Makes the backup of the day, in the place of the one made earlier the same day; `None` when nothing was written since
    /// the last backup, or ever.
    ///
    /// # Errors
    /// As [`Desk::backup`].
    pub fn backup_of_the_day(&mut self) -> Result<Option<BackupView>, AppError> {
        let (rows, head) = self.store.read().journal_head()?;
        let folder = self.backup_folder();
        let known = read_list(&folder)?;
        let own = self.book_name();
        let last = known.iter().rfind(|line| line.book == own);
        if rows == 0 || last.is_some_and(|last| last.head == head && folder.join(&last.name).exists()) {
            return Ok(None);
        }
        self.backup_in_folder(true).map(Some)
    }

    fn keep_backups(&mut self, keep: u32) -> Result<(), AppError> {
        if keep == 0 {
            return Err(AppError::usage("backups kept are `0`; allowed is 1 or more", Vec::new()));
        }
        if self.backups_kept()? == keep {
            return Ok(());
        }
        let act = self.act();
        self.store.write(&act, |writer| {
            writer.prefer(KEPT, &keep.to_string())?;
            writer.journal(Deed::BackupsKeptSet, &json!({ "kept": keep }), None)?;
            Ok::<_, AppError>(())
        })
    }

    fn backups_kept(&self) -> Result<u32, AppError> {
        let kept = self.store.read().preference(KEPT)?;
        Ok(kept.and_then(|kept| kept.parse().ok()).filter(|kept| *kept > 0).unwrap_or(USUALLY_KEPT))
    }

    fn backup_folder(&self) -> PathBuf {
        self.store.path().with_file_name(FOLDER)
    }

    fn book_name(&self) -> String {
        self.store.path().file_name().unwrap_or_default().to_string_lossy().into_owned()
    }

    fn backup_in_folder(&mut self, of_day: bool) -> Result<BackupView, AppError> {
        let folder = self.backup_folder();
        make_folder(&folder)?;
        let now = self.act().at.with_timezone(&Local);
        let name =
            free_name(&folder, &format!("{}-{}", stem(&self.book_name()), now.format("%Y-%m-%d-%H%M%S")));
        let file = folder.join(&name);
        let head = self.write_backup(&file)?;
        let made = Line {
            name,
            book: self.book_name(),
            made_at: now.format(MADE_AT).to_string(),
            length: fs::metadata(&file).map_err(|error| unwritten(&file, &error))?.len(),
            head: head.clone(),
            of_day,
        };
        let mut lines = read_list(&folder)?;
        lines.push(made.clone());
        let kept = self.backups_kept()?;
        let deleted = thin(&folder, &mut lines, &made, kept);
        write_list(&folder, &lines)?;
        let here = lines.iter().filter(|line| line.book == made.book).count();
        Ok(BackupView { file, head, kept: Some(u32::try_from(here).unwrap_or(u32::MAX)), deleted })
    }

    /// Writes a backup and returns its head, as the copy itself has it: another program may have gone on writing.
    fn write_backup(&self, file: &Path) -> Result<String, AppError> {
        self.store.backup_to(file).map_err(|error| match error {
            StoreError::Full => AppError::new(
                ErrorKind::Io,
                format!("the disk is full: the backup `{}` was not made", file.display()),
            )
            .with_hint("make room, or name a file on another disk"),
            error => error.into(),
        })?;
        Ok(Store::open_to_read(file)?.read().head()?)
    }
}

/// The newest backup that stands in the list beside a book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewestBackup {
    /// The file.
    pub file: PathBuf,
    /// When it was made, by the clock of the desk.
    pub made_at: Option<NaiveDateTime>,
    /// Head of the book in it.
    pub head: String,
    /// Whether the file is still there.
    pub is_there: bool,
}

/// Returns the newest backup of a book in the folder beside it; nothing is opened or changed.
///
/// # Errors
/// When the list of the backups cannot be read.
pub fn newest(book: &Path) -> Result<Option<NewestBackup>, AppError> {
    let folder = book.with_file_name(FOLDER);
    let name = book.file_name().unwrap_or_default().to_string_lossy();
    let newest = read_list(&folder)?.into_iter().rfind(|line| line.book == name);
    Ok(newest.map(|line| {
        let file = folder.join(&line.name);
        let made_at = NaiveDateTime::parse_from_str(&line.made_at, MADE_AT).ok();
        NewestBackup { is_there: file.exists(), file, made_at, head: line.head }
    }))
}

/// Checks a backup and brings it to a place as a book. A book that stands there already is replaced only when its file name is
/// typed again, and is kept under a dated name.
///
/// # Errors
/// `Damaged` for a backup that is no book, is newer, or has faults; `Failed` when a file stands there and `overwrite` does not
/// name it; `Busy` while another program has that book open.
pub fn restore(
    backup: &Path,
    to: &Path,
    overwrite: Option<&str>,
    settings: &Settings,
    now: DateTime<Utc>,
) -> Result<RestoredView, AppError> {
    let head = check(backup, settings)?;
    let name = to.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let mut aside = None;
    if to.exists() {
        match overwrite {
            Some(typed) if typed == name => {
                let dated = now.with_timezone(&Local).format("%Y-%m-%d-%H%M%S");
                let folder = to.parent().unwrap_or(Path::new(""));
                let free = free_name(folder, &format!("{}-before-restore-{dated}", stem(&name)));
                aside = Some(to.with_file_name(free));
            }
            Some(typed) => {
                let typed = crate::quantity::entry::clean(typed);
                let message = format!("`{typed}` is not the name of `{}`: nothing was changed", to.display());
                return Err(AppError::failed(message));
            }
            None => {
                let message = format!("`{}` exists already: nothing was changed", to.display());
                let hint = format!(
                    "to replace it, type its name again: `--overwrite {name}`; it is kept under a dated name"
                );
                return Err(AppError::failed(message).with_hint(hint));
            }
        }
    }
    let restored =
        restore_book(backup, to, aside.as_deref(), &settings.progress).map_err(|error| match error {
            StoreError::Full => {
                AppError::new(ErrorKind::Io, format!("the disk is full: `{}` was not restored", to.display()))
                    .with_hint("make room, or restore to another disk; nothing was changed")
            }
            error => error.into(),
        })?;
    Ok(RestoredView { book: to.to_owned(), head, version: restored.version, kept: restored.kept })
}

/// Audits a backup without computing its assessments again; returns its head, `None` when it is of a version without seals.
fn check(backup: &Path, settings: &Settings) -> Result<Option<String>, AppError> {
    let request = AuditRequest { against: None, rows_only: true };
    let view = match audit(backup, settings, &request) {
        Ok(view) => view,
        // What an older version kept is checked page by page when it is copied.
        Err(AppError { source: Some(StoreError::Older { .. }), .. }) => return Ok(None),
        Err(error) => return Err(error),
    };
    let faults = view.report.fault_count();
    if faults == 0 {
        return Ok(Some(view.report.head));
    }
    let what = if faults == 1 { "1 fault".to_owned() } else { format!("{faults} faults") };
    let message = format!("`{}` has {what}: nothing was restored", backup.display());
    let mut error = AppError::new(ErrorKind::Damaged, message);
    for fault in view.report.faults.iter().take(MOST_TOLD) {
        error = error.with_hint(format!("{}: {}: {}", fault.table, fault.row, fault.wrong));
    }
    Err(error.with_hint("take another backup; `scruple audit --book FILE` names every fault of this one"))
}

/// Takes out of the list what is no longer kept, and deletes it where it is still the file that the program made: earlier
/// ones of the same day, and all but the newest.
fn thin(folder: &Path, lines: &mut Vec<Line>, made: &Line, keep: u32) -> Vec<PathBuf> {
    let day = |line: &Line| line.made_at.get(..10).map(str::to_owned);
    let mut own: Vec<Line> = lines.iter().filter(|line| line.book == made.book).cloned().collect();
    let mut leave: Vec<Line> = Vec::new();
    if made.of_day {
        let same_day = |line: &Line| line.of_day && line.name != made.name && day(line) == day(made);
        leave.extend(own.iter().filter(|line| same_day(line)).cloned());
        own.retain(|line| !same_day(line));
    }
    let beyond = own.len().saturating_sub(usize::try_from(keep).unwrap_or(usize::MAX));
    leave.extend(own.drain(..beyond));
    lines.retain(|line| !leave.contains(line));
    let ours = leave.iter().filter(|line| is_still(folder, line)).map(|line| folder.join(&line.name));
    // One that cannot be deleted stays: that is no reason to fail after the backup was made.
    ours.filter(|file| fs::remove_file(file).is_ok()).collect()
}

/// Tells whether a file is still the one that the program made.
fn is_still(folder: &Path, line: &Line) -> bool {
    let file = folder.join(&line.name);
    let plain = Path::new(&line.name).components().count() == 1;
    let same_length =
        fs::symlink_metadata(&file).is_ok_and(|found| found.is_file() && found.len() == line.length);
    plain
        && same_length
        && Store::open_to_read(&file)
            .and_then(|store| store.read().head())
            .is_ok_and(|head| head == line.head)
}

/// Returns a name that no file has yet.
fn free_name(folder: &Path, wanted: &str) -> String {
    let names =
        std::iter::once(format!("{wanted}.book")).chain((2..).map(|next| format!("{wanted}-{next}.book")));
    let mut free = names.filter(|name| !folder.join(name).exists());
    free.next().expect("one of endlessly many names is free")
}

/// Returns the name of a book without its ending.
fn stem(name: &str) -> &str {
    name.rsplit_once('.').map_or(name, |(stem, _)| stem)
}

fn make_folder(folder: &Path) -> Result<(), AppError> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::DirBuilderExt;
        builder.mode(0o700);
    }
    builder.create(folder).map_err(|error| {
        AppError::new(ErrorKind::Io, format!("folder `{}` cannot be made: {error}", folder.display()))
    })
}

fn read_list(folder: &Path) -> Result<Vec<Line>, AppError> {
    let list = folder.join(LIST);
    if !list.exists() {
        return Ok(Vec::new());
    }
    let unreadable = |error: csv::Error| {
        AppError::new(ErrorKind::Io, format!("`{}` cannot be read: {error}", list.display()))
            .with_hint("put it aside: without it nothing in the folder is ever deleted")
    };
    let mut reader = csv::Reader::from_path(&list).map_err(unreadable)?;
    reader.deserialize().collect::<Result<_, _>>().map_err(unreadable)
}

/// Writes the list anew: under another name first, so that it is whole at any moment.
fn write_list(folder: &Path, lines: &[Line]) -> Result<(), AppError> {
    let (list, made) = (folder.join(LIST), folder.join(format!(".{LIST}.part")));
    let mut writer = csv::Writer::from_writer(Vec::new());
    for line in lines {
        writer.serialize(line).expect("a line of the list is made of texts and numbers");
    }
    let text = writer.into_inner().expect("a list in memory is written whole");
    let written = private_file(&made).and_then(|mut file| {
        file.write_all(&text)?;
        file.sync_all()?;
        fs::rename(&made, &list)
    });
    written.map_err(|error| unwritten(&list, &error))
}

fn private_file(path: &Path) -> std::io::Result<File> {
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o600);
    }
    options.open(path)
}

fn unwritten(path: &Path, error: &std::io::Error) -> AppError {
    AppError::new(ErrorKind::Io, format!("`{}` cannot be written: {error}", path.display()))
}
