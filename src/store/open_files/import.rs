//! A book made again from open files, beside its place; only one that is whole and without fault gets there.

use super::super::audit::{AuditFault, RowsAgainstSeals};
use super::super::backup::{create_private, sync_folder};
use super::super::connection::{APPLICATION_ID, Store};
use super::super::error::StoreError;
use super::super::migrate::{MIGRATIONS, made_in_memory};
use super::super::progress::Progress;
use super::super::row_image::hex;
use super::super::tables::{Table, tables};
use super::cell::value;
use super::{FORMAT, KIND, MANIFEST, Manifest};
use rusqlite::types::{Value, ValueRef};
use rusqlite::{Connection, params_from_iter};
use sha2::{Digest, Sha256};
use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};
use thiserror::Error;

/// First version of the book that has seals; no earlier one was ever exported.
const FIRST_VERSION: i64 = 7;
/// Rows named one by one.
const MOST_ROWS: usize = 20;

/// Why files were not taken.
#[derive(Debug, Error)]
pub enum ImportError {
    /// The book that they were to become cannot be written, or a file cannot be read.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// `book.json` is missing, or is not one.
    #[error("`{}` does not say what belongs together: {detail}", path.display())]
    NoManifest {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        detail: String,
    },
    /// A newer program wrote them.
    #[error("the files are of {what} {found}, this program knows {what}s up to {known}")]
    Newer {
        /// Of what: form or book version.
        what: &'static str,
        /// What is written there.
        found: i64,
        /// What this program knows.
        known: i64,
    },
    /// A file is missing, or there is none for a table.
    #[error("file `{file}` is missing")]
    Missing {
        /// The file.
        file: String,
    },
    /// A line of a file cannot be taken.
    #[error("file `{file}`, row {row}, column `{column}`: found `{found}`, allowed is {allowed}")]
    Cell {
        /// The file.
        file: String,
        /// The line on which the row begins; the line of names is the first.
        row: u64,
        /// The column.
        column: String,
        /// What is there.
        found: String,
        /// What is allowed.
        allowed: String,
    },
    /// A file or a row is not what was exported.
    #[error("the files are not those that were exported; no book was made")]
    Altered {
        /// File, row where one is to blame, and what is wrong.
        rows: Vec<String>,
    },
}

impl From<rusqlite::Error> for ImportError {
    fn from(error: rusqlite::Error) -> Self {
        ImportError::Store(error.into())
    }
}

impl From<std::io::Error> for ImportError {
    fn from(error: std::io::Error) -> Self {
        ImportError::Store(error.into())
    }
}

/// A book that was made again, or would be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Imported {
    /// Its head: the one that the files name.
    pub head: String,
    /// Its rows in all tables.
    pub rows: u64,
    /// Its tables.
    pub tables: u64,
}

/// Makes a book again from a folder of open files, at `to`; without a place the files are only checked.
///
/// # Errors
/// `Store` with `Exists` when a file stands there; `Altered` names every file and row that is not what was exported.
pub fn import(folder: &Path, to: Option<&Path>, progress: &Progress) -> Result<Imported, ImportError> {
    let manifest = read_manifest(folder)?;
    if let Some(to) = to.filter(|to| to.exists()) {
        return Err(StoreError::Exists { path: to.to_owned() }.into());
    }
    let made = match to {
        Some(to) => {
            let name = to.file_name().unwrap_or_default().to_string_lossy();
            to.with_file_name(format!(".{name}.{}.imported", std::process::id()))
        }
        None => std::env::temp_dir().join(format!("scruple-import-{}.book", std::process::id())),
    };
    create_private(&made)?;
    let imported = fill(folder, &manifest, &made, progress).and_then(|imported| {
        if let Some(to) = to {
            File::open(&made)?.sync_all()?;
            fs::rename(&made, to)?;
            sync_folder(to)?;
        }
        Ok(imported)
    });
    if imported.is_err() || to.is_none() {
        // Nothing half-made stays behind; that it may be gone already is no second error.
        let _ = fs::remove_file(&made);
    }
    imported
}

fn read_manifest(folder: &Path) -> Result<Manifest, ImportError> {
    let path = folder.join(MANIFEST);
    let wrong = |detail: String| ImportError::NoManifest { path: path.clone(), detail };
    let text = fs::read_to_string(&path).map_err(|error| wrong(error.to_string()))?;
    let manifest: Manifest = serde_json::from_str(&text).map_err(|error| wrong(error.to_string()))?;
    if manifest.kind != KIND {
        return Err(wrong(format!("its kind is not `{KIND}`")));
    }
    if manifest.format > FORMAT {
        let (found, known) = (i64::from(manifest.format), i64::from(FORMAT));
        return Err(ImportError::Newer { what: "form", found, known });
    }
    let known = i64::try_from(MIGRATIONS.len()).unwrap_or(i64::MAX);
    if manifest.schema_version > known {
        return Err(ImportError::Newer { what: "version", found: manifest.schema_version, known });
    }
    if manifest.schema_version < FIRST_VERSION || manifest.format == 0 {
        return Err(wrong(format!("it is of version {}", manifest.schema_version)));
    }
    Ok(manifest)
}

/// Fills a new file with everything and checks it against the manifest and its own seals.
fn fill(
    folder: &Path,
    manifest: &Manifest,
    made: &Path,
    progress: &Progress,
) -> Result<Imported, ImportError> {
    let of_version = usize::try_from(manifest.schema_version).unwrap_or(0);
    let pattern = made_in_memory(&MIGRATIONS[..of_version.min(MIGRATIONS.len())])?;
    let wanted = tables(&pattern)?;
    let mut connection = Connection::open(made)?;
    progress.attach(&mut connection)?;
    connection
        .execute_batch("PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF; PRAGMA foreign_keys = OFF;")?;
    let mut altered = Vec::new();
    let mut suspects: Vec<&Table> = Vec::new();
    let mut rows = 0;
    {
        let transaction = connection.transaction()?;
        make_schema(&transaction, &pattern, true)?;
        for table in &wanted {
            let loaded = load(&transaction, folder, table, (rows, progress))?;
            rows += loaded.rows;
            let said = manifest.tables.iter().find(|file| file.table == table.name);
            if said.is_none_or(|said| said.sha256 != loaded.sha256 || said.rows != loaded.rows) {
                suspects.push(table);
            }
        }
        make_schema(&transaction, &pattern, false)?;
        transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
        transaction.pragma_update(None, "user_version", manifest.schema_version)?;
        transaction.commit()?;
    }
    connection.close().map_err(|(_, error)| error)?;

    let store = Store::open_to_read_watched(made, progress.clone())?;
    let report = store.read().audit(progress)?;
    for fault in &report.faults {
        altered.push(named(fault));
    }
    if report.fault_count() > 0 {
        let by_row = RowsAgainstSeals::new(store.read(), progress)?;
        let faulty = |table: &&Table| report.faults.iter().any(|fault| fault.table == table.name);
        let mut lines = Vec::new();
        for table in wanted.iter().filter(faulty) {
            lines.extend(faulty_rows(folder, table, &by_row)?);
        }
        if !lines.is_empty() {
            lines.append(&mut altered);
            altered = lines;
        }
    }
    for table in &suspects {
        altered.push(format!(
            "file `{}`: it is not the one that `{MANIFEST}` names by its SHA-256",
            file_of(table)
        ));
    }
    if report.head != manifest.head {
        altered.push(format!("file `{MANIFEST}`: the head it names is not the last seal of `seal.csv`"));
    }
    if report.journal_rows != manifest.journal_rows {
        altered.push(format!("file `{MANIFEST}`: the journal has another number of rows"));
    }
    if altered.is_empty() {
        return Ok(Imported { head: report.head, rows, tables: wanted.len() as u64 });
    }
    Err(ImportError::Altered { rows: altered })
}

/// Makes tables first, everything that hangs on them after the rows: no trigger fires, and indices are built at once.
fn make_schema(connection: &Connection, pattern: &Connection, tables_first: bool) -> Result<(), StoreError> {
    let mut statement = pattern.prepare(
        "SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\'
         AND (type = 'table') = ?1 ORDER BY rowid",
    )?;
    let mut rows = statement.query([tables_first])?;
    while let Some(row) = rows.next()? {
        connection.execute_batch(&row.get::<_, String>(0)?)?;
    }
    Ok(())
}

/// What a file came to.
struct Loaded {
    rows: u64,
    sha256: String,
}

fn file_of(table: &Table) -> String {
    format!("{}.csv", table.name)
}

fn load(
    connection: &Connection,
    folder: &Path,
    table: &Table,
    (before, progress): (u64, &Progress),
) -> Result<Loaded, ImportError> {
    let mut statement = connection.prepare(&table.insert())?;
    let mut rows = 0;
    let sha256 = each_row(folder, table, |line, values| {
        rows += 1;
        progress.step("rows read", before + rows, None)?;
        statement.execute(params_from_iter(values)).map_err(StoreError::from).map_err(|error| {
            if matches!(error, StoreError::Stopped) {
                return error.into();
            }
            let key: Vec<String> = table.key_names().map(str::to_owned).collect();
            ImportError::Cell {
                file: file_of(table),
                row: line,
                column: key.join(", "),
                found: shown(table, values),
                allowed: format!("a row that the table takes: {}", error),
            }
        })?;
        Ok(())
    })?;
    Ok(Loaded { rows, sha256 })
}

fn shown(table: &Table, values: &[Value]) -> String {
    let shown = table.key.iter().map(|at| match &values[*at] {
        Value::Null => "nothing".to_owned(),
        Value::Integer(number) => number.to_string(),
        Value::Real(number) => number.to_string(),
        Value::Text(text) => text.clone(),
        Value::Blob(bytes) => hex(bytes),
    });
    shown.collect::<Vec<_>>().join(", ")
}

/// Calls with each row of a file and its line; returns the SHA-256 of the file.
fn each_row(
    folder: &Path,
    table: &Table,
    mut call: impl FnMut(u64, &[Value]) -> Result<(), ImportError>,
) -> Result<String, ImportError> {
    let name = file_of(table);
    let file = match File::open(folder.join(&name)) {
        Ok(file) => file,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            return Err(ImportError::Missing { file: name });
        }
        Err(error) => return Err(error.into()),
    };
    let mut reader =
        csv::ReaderBuilder::new().has_headers(false).from_reader(Hashed { file, hash: Sha256::new() });
    let broken = |error: csv::Error, row: u64| ImportError::Cell {
        file: name.clone(),
        row,
        column: "all".to_owned(),
        found: "a line that cannot be read".to_owned(),
        allowed: format!("a row of {} cells in UTF-8 ({error})", table.columns.len()),
    };
    let mut record = csv::StringRecord::new();
    let mut line = 1;
    if !reader.read_record(&mut record).map_err(|error| broken(error, line))?
        || record.iter().ne(&table.columns)
    {
        return Err(ImportError::Cell {
            file: name,
            row: 1,
            column: "all".to_owned(),
            found: record.iter().collect::<Vec<_>>().join(","),
            allowed: format!("the line of names `{}`", table.columns.join(",")),
        });
    }
    // The reader's own count is one line short where lines end in two characters.
    line += 1;
    while reader.read_record(&mut record).map_err(|error| broken(error, line))? {
        let mut values = Vec::with_capacity(record.len());
        for (at, cell) in record.iter().enumerate() {
            values.push(value(cell, &table.kinds[at]).map_err(|allowed| ImportError::Cell {
                file: name.clone(),
                row: line,
                column: table.columns[at].clone(),
                found: cell.to_owned(),
                allowed: allowed.to_owned(),
            })?);
        }
        call(line, &values)?;
        line += 1 + record.iter().map(|cell| cell.matches('\n').count() as u64).sum::<u64>();
    }
    Ok(hex(&reader.into_inner().hash.finalize()))
}

/// Names the lines of a file whose rows are not those that were sealed.
fn faulty_rows(folder: &Path, table: &Table, by_row: &RowsAgainstSeals) -> Result<Vec<String>, ImportError> {
    let mut lines = Vec::new();
    each_row(folder, table, |line, values| {
        let refs: Vec<ValueRef<'_>> = values.iter().map(ValueRef::from).collect();
        if let Some(wrong) = by_row.wrong(table, &refs)?
            && lines.len() < MOST_ROWS
        {
            lines.push(format!("file `{}`, row {line}: {wrong}", file_of(table)));
        }
        Ok(())
    })?;
    Ok(lines)
}

fn named(fault: &AuditFault) -> String {
    match fault.table.as_str() {
        "file" | "schema" => format!("the book that they make: {}: {}", fault.row, fault.wrong),
        table => format!("file `{table}.csv`: {}: {}", fault.row, fault.wrong),
    }
}

/// Hashes what is read.
struct Hashed {
    file: File,
    hash: Sha256,
}

impl Read for Hashed {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let read = self.file.read(buffer)?;
        self.hash.update(&buffer[..read]);
        Ok(read)
    }
}
