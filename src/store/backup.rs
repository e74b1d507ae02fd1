//! Backups: a copy in one step, checked, synced and only then given its name.

use super::connection::Store;
use super::error::StoreError;
use rusqlite::Connection;
use rusqlite::backup::{Backup, StepResult};
use std::fs::{self, File, OpenOptions};
use std::path::{Path, PathBuf};

impl Store {
    /// Writes a backup of the book as a file of its own, readable by its owner only.
    ///
    /// The copy is made in one step under a temporary name, checked, synced to disk, and only then renamed.
    ///
    /// # Errors
    /// `Exists` when a file stands there, `Damaged` when the copy fails its check, or what the file system says.
    pub fn backup_to(&self, path: &Path) -> Result<(), StoreError> {
        copy_to(&self.connection, path)
    }
}

/// Copies an open database to a new file.
pub(super) fn copy_to(connection: &Connection, path: &Path) -> Result<(), StoreError> {
    if path.exists() {
        return Err(StoreError::Exists { path: path.to_owned() });
    }
    let temporary = temporary_name(path);
    let made = write_copy(connection, &temporary).and_then(|()| {
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

fn write_copy(connection: &Connection, temporary: &Path) -> Result<(), StoreError> {
    create_private(temporary)?;
    let mut copy = Connection::open(temporary)?;
    {
        let backup = Backup::new(connection, &mut copy)?;
        match backup.step(-1)? {
            StepResult::Done => {}
            _ => return Err(StoreError::Busy),
        }
    }
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
