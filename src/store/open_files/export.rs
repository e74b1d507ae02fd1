//! A book written as open files.

use super::super::backup::{create_private, sync_folder};
use super::super::connection::Store;
use super::super::error::StoreError;
use super::super::migrate::version;
use super::super::row_image::hex;
use super::super::tables::{Table, tables};
use super::cell::cell;
use super::{FORMAT, KIND, MANIFEST, Manifest, TableFile};
use sha2::{Digest, Sha256};
use std::fs::{self, File, OpenOptions};
use std::io::{BufWriter, Write};
use std::path::Path;

/// Writes every table of a book to a folder, in one state of the book; `book.json` comes last, so that an export that was cut
/// short is none. The same book gives the same bytes.
///
/// # Errors
/// `Exists` when something is in the folder already, `Full`, `Stopped` (the files are taken away then), or what the file system says.
pub fn export(store: &Store, folder: &Path) -> Result<Manifest, StoreError> {
    let made = make_folder(folder)?;
    let written = write_all(store, folder);
    if matches!(written, Err(StoreError::Stopped)) {
        take_away(store, folder, made);
    }
    written
}

/// Takes away what an export that was stopped has written. What cannot be taken away is no second error: without `book.json`
/// it is no export.
fn take_away(store: &Store, folder: &Path, made: bool) {
    for table in tables(&store.connection).unwrap_or_default() {
        let _ = fs::remove_file(folder.join(format!("{}.csv", table.name)));
    }
    if made {
        let _ = fs::remove_dir(folder);
    }
}

fn write_all(store: &Store, folder: &Path) -> Result<Manifest, StoreError> {
    let _look = store.look()?;
    let connection = &store.connection;
    let (journal_rows, head) = store.read().journal_head()?;
    let mut files = Vec::new();
    for table in tables(connection)? {
        files.push(write_table(store, &table, folder)?);
    }
    let manifest = Manifest {
        kind: KIND.to_owned(),
        format: FORMAT,
        schema_version: version(connection)?,
        head,
        journal_rows,
        tables: files,
    };
    let text =
        serde_json::to_string_pretty(&manifest).expect("a manifest is made of texts and numbers") + "\n";
    let mut file = new_file(&folder.join(MANIFEST))?;
    file.write_all(text.as_bytes())?;
    file.sync_all()?;
    sync_folder(&folder.join(MANIFEST))?;
    Ok(manifest)
}

fn write_table(store: &Store, table: &Table, folder: &Path) -> Result<TableFile, StoreError> {
    let name = format!("{}.csv", table.name);
    let hashed = Hashed { file: BufWriter::new(new_file(&folder.join(&name))?), hash: Sha256::new() };
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(hashed);
    let failed = |error: csv::Error| match error.into_kind() {
        csv::ErrorKind::Io(error) => StoreError::from(error),
        other => StoreError::Io { detail: format!("{other:?}") },
    };
    writer.write_record(&table.columns).map_err(failed)?;
    let mut statement = store.connection.prepare(&table.select_as_written())?;
    let mut rows = statement.query([])?;
    let mut count = 0;
    while let Some(row) = rows.next()? {
        for at in 0..table.columns.len() {
            let value = cell(row.get_ref(at)?).map_err(|_| StoreError::Damaged {
                detail: format!("a text of `{}.{}` is not UTF-8", table.name, table.columns[at]),
            })?;
            writer.write_field(value).map_err(failed)?;
        }
        writer.write_record(None::<&[u8]>).map_err(failed)?;
        count += 1;
        store.progress.step("rows written", count, None)?;
    }
    let mut hashed = writer.into_inner().map_err(|error| StoreError::from(error.into_error()))?;
    hashed.flush()?;
    let file = hashed.file.into_inner().map_err(|error| StoreError::from(error.into_error()))?;
    file.sync_all()?;
    Ok(TableFile { table: table.name.clone(), file: name, rows: count, sha256: hex(&hashed.hash.finalize()) })
}

/// Hashes what is written.
struct Hashed {
    file: BufWriter<File>,
    hash: Sha256,
}

impl Write for Hashed {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        let written = self.file.write(bytes)?;
        self.hash.update(&bytes[..written]);
        Ok(written)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.file.flush()
    }
}

/// Makes the folder for its owner only; one that is there already must be empty. Tells whether it was made.
fn make_folder(folder: &Path) -> Result<bool, StoreError> {
    if folder.exists() {
        let is_empty = folder.is_dir() && fs::read_dir(folder)?.next().is_none();
        return if is_empty { Ok(false) } else { Err(StoreError::Exists { path: folder.to_owned() }) };
    }
    let mut builder = fs::DirBuilder::new();
    #[cfg(unix)]
    {
        use std::os::unix::fs::DirBuilderExt;
        builder.mode(0o700);
    }
    builder.create(folder)?;
    Ok(true)
}

fn new_file(path: &Path) -> Result<File, StoreError> {
    create_private(path)?;
    Ok(OpenOptions::new().write(true).open(path)?)
}
