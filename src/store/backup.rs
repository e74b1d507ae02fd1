//! Backups: a copy of one state of the book, checked, synced and only then given its name.

use super::connection::{APPLICATION_ID, Header, Store};
use super::error::StoreError;
use super::migrate::{MIGRATIONS, version};
use super::progress::Progress;
use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags};
use std::fs::{self, File, OpenOptions};
use std::path::{Path, PathBuf};

/// Pages copied between two words to whoever waits: a megabyte.
const PAGES: i32 = 256;
/// What is told while a copy is checked.
const CHECKED: &str = "the pages of the copy are checked";

impl Store {
    /// Writes a backup of the book as a file of its own, readable by its owner only.
    ///
    /// The copy is made of one state of the book under a temporary name, checked, synced to disk, and only then renamed.
    ///
    /// # Errors
    /// `Exists` when a file stands there, `Damaged` when the copy fails its check, or what the file system says.
    pub fn backup_to(&self, path: &Path) -> Result<(), StoreError> {
        copy_to(&self.connection, path, &self.progress)
    }
}

/// What a book was brought back from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Restored {
    /// Version of the backup; opening the book brings it to the newest.
    pub version: i64,
    /// Where the book that stood there before is kept now.
    pub kept: Option<PathBuf>,
}

/// Brings a backup to a place as a book of its own; a book that stands there is kept as `aside` first.
///
/// The backup itself is only read. What it says is checked by the caller: see [`Store::open_to_read`].
///
/// # Errors
/// `NotABook`, `Newer` and `Damaged` for a backup that cannot be one; `Exists` when something stands in the place and no
/// `aside` is given; `Busy` while another program has that book open; or what the file system says.
pub fn restore(
    backup: &Path,
    to: &Path,
    aside: Option<&Path>,
    progress: &Progress,
) -> Result<Restored, StoreError> {
    let (connection, version) = open_any_version(backup, progress)?;
    if to.exists() && aside.is_none() {
        return Err(StoreError::Exists { path: to.to_owned() });
    }
    let name = to.file_name().unwrap_or_default().to_string_lossy();
    let made = to.with_file_name(format!(".{name}.restored"));
    if made.exists() {
        // Left by a try that was cut short.
        fs::remove_file(&made)?;
    }
    copy_to(&connection, &made, progress)?;
    let mut kept = None;
    if let Some(aside) = aside.filter(|_| to.exists()) {
        let moved = put_aside(to, aside);
        if moved.is_err() {
            let _ = fs::remove_file(&made);
        }
        moved?;
        kept = Some(aside.to_owned());
    }
    fs::rename(&made, to)?;
    sync_folder(to)?;
    Ok(Restored { version, kept })
}

/// Opens a book of this or an older version to read it; returns its version.
fn open_any_version(path: &Path, progress: &Progress) -> Result<(Connection, i64), StoreError> {
    let application = match Header::read(path)? {
        Header::Marked { application, .. } => application,
        Header::Absent => {
            return Err(StoreError::Io { detail: format!("there is no file `{}`", path.display()) });
        }
        Header::Empty | Header::Foreign => return Err(StoreError::NotABook { path: path.to_owned() }),
    };
    if application != APPLICATION_ID {
        return Err(StoreError::NotABook { path: path.to_owned() });
    }
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut connection = Connection::open_with_flags(path, flags)?;
    progress.attach(&mut connection)?;
    progress.step(CHECKED, 0, None)?;
    let (found, known) = (version(&connection)?, i64::try_from(MIGRATIONS.len()).unwrap_or(i64::MAX));
    if found > known {
        return Err(StoreError::Newer { path: path.to_owned(), found, known });
    }
    let verdict: String = connection.pragma_query_value(None, "integrity_check", |row| row.get(0))?;
    if verdict != "ok" {
        return Err(StoreError::Damaged {
            detail: format!("`{}` fails its check: {verdict}", path.display()),
        });
    }
    Ok((connection, found))
}

/// Gives a book another name, together with its log, when no program has it open.
fn put_aside(book: &Path, aside: &Path) -> Result<(), StoreError> {
    if aside.exists() {
        return Err(StoreError::Exists { path: aside.to_owned() });
    }
    // Leaving the write-ahead log needs the file for oneself: it fails while anybody else has it open. Whatever else is
    // wrong with that file is no reason not to put it aside.
    let mode = Connection::open_with_flags(
        book,
        OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX,
    )
    .and_then(|connection| {
        connection.pragma_update_and_check(None, "journal_mode", "DELETE", |row| row.get::<_, String>(0))
    });
    if mode.is_err_and(|error| matches!(StoreError::from(error), StoreError::Busy)) {
        return Err(StoreError::Busy);
    }
    for suffix in ["-wal", "-shm", "-journal", ""] {
        let named = |path: &Path| {
            let name = path.file_name().unwrap_or_default().to_string_lossy();
            path.with_file_name(format!("{name}{suffix}"))
        };
        if named(book).exists() {
            fs::rename(named(book), named(aside))?;
        }
    }
    Ok(())
}

/// Copies an open database to a new file.
pub(super) fn copy_to(connection: &Connection, path: &Path, progress: &Progress) -> Result<(), StoreError> {
    if path.exists() {
        return Err(StoreError::Exists { path: path.to_owned() });
    }
    let temporary = temporary_name(path);
    let made = write_copy(connection, &temporary, progress).and_then(|()| {
        File::open(&temporary)?.sync_all()?;
        fs::rename(&temporary, path)?;
        sync_folder(path)
    });
    if made.is_err() {
        // Nothing half-made stays behind; that it may be gone already is no second error.
        let _ = fs::remove_file(&temporary);
    }
    made
}

fn write_copy(connection: &Connection, temporary: &Path, progress: &Progress) -> Result<(), StoreError> {
    create_private(temporary)?;
    let mut copy = Connection::open(temporary)?;
    {
        // One state of the book is held while its pages are copied: an entry made meanwhile is not in the copy.
        let held = connection.unchecked_transaction()?;
        held.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get::<_, i64>(0))?;
        let backup = Backup::new(connection, &mut copy)?;
        loop {
            match backup.step(PAGES)? {
                StepResult::Done => break,
                StepResult::More => {
                    let (all, left) = (backup.progress().pagecount, backup.progress().remaining);
                    let done = u64::try_from(all - left).unwrap_or(0);
                    progress.step("pages copied", done, u64::try_from(all).ok())?;
                }
                _ => return Err(StoreError::Busy),
            }
        }
    }
    progress.attach(&mut copy)?;
    progress.step(CHECKED, 0, None)?;
    // A backup is one file: no write-ahead log stands beside it.
    let _mode: String = copy.pragma_update_and_check(None, "journal_mode", "DELETE", |row| row.get(0))?;
    let verdict: String = copy.pragma_query_value(None, "integrity_check", |row| row.get(0))?;
    if verdict != "ok" {
        return Err(StoreError::Damaged { detail: format!("the copy fails its check: {verdict}") });
    }
    copy.close().map_err(|(_, error)| error.into())
}

/// Creates an empty file that only its owner may read and write; `Exists` when one is there.
pub(super) fn create_private(path: &Path) -> Result<(), StoreError> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o600);
    }
    match options.open(path) {
        Ok(_) => Ok(()),
        Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {
            Err(StoreError::Exists { path: path.to_owned() })
        }
        Err(error) => Err(error.into()),
    }
}

fn temporary_name(path: &Path) -> PathBuf {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    path.with_file_name(format!(".{name}.{}.part", std::process::id()))
}

/// Makes the new name itself durable.
pub(super) fn sync_folder(path: &Path) -> Result<(), StoreError> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    #[cfg(unix)]
    File::open(folder)?.sync_all()?;
    Ok(())
}
