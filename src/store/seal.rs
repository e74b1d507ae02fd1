//! Seals: after each act the hash of every row that it touched, chained, so that a row altered by anybody else is found.
//!
//! Beside it stands the hash of the row as the act came upon it: a row that somebody altered does not become right because
//! the program wrote it again later.
//!
//! A hash is the whole SHA-256: half of it would save a tenth of the seals and leave it open to whoever may enter texts to
//! prepare two rows with one hash.

use super::connection::Reader;
use super::error::StoreError;
use super::progress::Progress;
use super::row_image::{Hash, draft_digest, hex, row_hash, take, values};
use super::tables::{Table, tables};
use super::watch::{Touched, Watch};
use rusqlite::{CachedStatement, Connection, OptionalExtension, Statement, params_from_iter};
use sha2::{Digest, Sha256};

/// Keeps the hash of a seal apart from every other hash of the book.
const SEAL: &[u8] = b"scruple seal 1";
/// Most rows that one seal names, so that none is huge.
const MOST_ENTRIES: usize = 2000;
/// Mark of a row that is gone, and of one that is there.
const GONE: u8 = 0;
const THERE: u8 = 1;

/// What a seal says about one row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Entry<'a> {
    pub(super) table: &'a str,
    /// Its key, as [`super::row_image`] writes values.
    pub(super) key: &'a [u8],
    /// Hash of the row before the act; `None` for one that was not there.
    pub(super) before: Option<Hash>,
    /// Hash of the row; `None` for one that is gone.
    pub(super) hash: Option<Hash>,
}

/// What the hash of a seal covers besides the entries.
pub(super) struct Sealed<'a> {
    pub(super) number: i64,
    pub(super) at_ms: i64,
    pub(super) journal: i64,
    pub(super) journal_hash: &'a Hash,
    pub(super) entries: &'a [u8],
}

impl Sealed<'_> {
    /// Hashes the seal behind the seal before.
    pub(super) fn hash(&self, previous: &Hash) -> Hash {
        let mut hash = Sha256::new();
        hash.update(SEAL);
        hash.update(previous);
        hash.update(self.number.to_be_bytes());
        hash.update(self.at_ms.to_be_bytes());
        hash.update(self.journal.to_be_bytes());
        hash.update(self.journal_hash);
        hash.update((self.entries.len() as u64).to_be_bytes());
        hash.update(self.entries);
        hash.finalize().into()
    }
}

/// Writes the entries of a seal.
fn push_entry(bytes: &mut Vec<u8>, entry: &Entry<'_>) {
    for part in [entry.table.as_bytes(), entry.key] {
        bytes.extend((part.len() as u32).to_be_bytes());
        bytes.extend(part);
    }
    for hash in [&entry.before, &entry.hash] {
        match hash {
            None => bytes.push(GONE),
            Some(hash) => {
                bytes.push(THERE);
                bytes.extend(hash);
            }
        }
    }
}

/// Reads the next entry of a seal; `None` when the bytes are no entry.
pub(super) fn next_entry<'b>(bytes: &mut &'b [u8]) -> Option<Entry<'b>> {
    let mut part = || {
        let length = u32::from_be_bytes(take(bytes, 4)?.try_into().ok()?);
        take(bytes, usize::try_from(length).ok()?)
    };
    let table = std::str::from_utf8(part()?).ok()?;
    let key = part()?;
    let mut hash = || {
        Some(match take(bytes, 1)? {
            [GONE] => None,
            [THERE] => Some(take(bytes, 32)?.try_into().ok()?),
            _ => return None,
        })
    };
    Some(Entry { table, key, before: hash()?, hash: hash()? })
}

/// Adds seals to the chain, one for each [`MOST_ENTRIES`] rows.
struct Sealer<'c> {
    connection: &'c Connection,
    at_ms: i64,
    journal: i64,
    journal_hash: Hash,
    number: i64,
    previous: Hash,
    entries: Vec<u8>,
    count: usize,
    has_written: bool,
}

impl<'c> Sealer<'c> {
    fn new(connection: &'c Connection, at_ms: i64) -> Result<Self, StoreError> {
        let (journal, journal_hash) =
            last(connection, "SELECT sequence, row_hash FROM journal ORDER BY sequence DESC LIMIT 1")?;
        let (number, previous) = last(connection, LAST_SEAL)?;
        Ok(Sealer {
            connection,
            at_ms,
            journal,
            journal_hash,
            number,
            previous,
            entries: Vec::new(),
            count: 0,
            has_written: false,
        })
    }

    fn add(&mut self, entry: &Entry<'_>) -> Result<(), StoreError> {
        push_entry(&mut self.entries, entry);
        self.count += 1;
        if self.count == MOST_ENTRIES { self.write() } else { Ok(()) }
    }

    /// Writes the last seal: of what was added since the one before, or of the journal alone.
    fn close(mut self) -> Result<(), StoreError> {
        if self.count > 0 || !self.has_written { self.write() } else { Ok(()) }
    }

    fn write(&mut self) -> Result<(), StoreError> {
        self.number += 1;
        let entries = std::mem::take(&mut self.entries);
        let sealed = Sealed {
            number: self.number,
            at_ms: self.at_ms,
            journal: self.journal,
            journal_hash: &self.journal_hash,
            entries: &entries,
        };
        let hash = sealed.hash(&self.previous);
        self.connection
            .prepare_cached(
                "INSERT INTO seal (number, at_ms, journal, entries, previous_hash, hash)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            )?
            .execute((self.number, self.at_ms, self.journal, &entries, self.previous, hash))?;
        self.previous = hash;
        self.count = 0;
        self.has_written = true;
        Ok(())
    }
}

const LAST_SEAL: &str = "SELECT number, hash FROM seal ORDER BY number DESC LIMIT 1";

fn last(connection: &Connection, sql: &str) -> Result<(i64, Hash), StoreError> {
    let found =
        connection.prepare_cached(sql)?.query_row([], |row| Ok((row.get(0)?, row.get(1)?))).optional()?;
    Ok(found.unwrap_or((0, [0; 32])))
}

/// Seals the rows that were touched, as they stand now.
pub(super) fn seal_touched(
    connection: &Connection,
    tables: &[Table],
    touched: &Touched,
    at_ms: i64,
    progress: &Progress,
) -> Result<(), StoreError> {
    let mut sealer = Sealer::new(connection, at_ms)?;
    // What was touched is in the order of the tables: each has its statement for as long as its rows last.
    let mut statement: Option<(usize, CachedStatement<'_>)> = None;
    for (done, ((place, key), before)) in touched.iter().enumerate() {
        progress.step_of("rows sealed", done, touched.len())?;
        let Some(table) = tables.get(*place) else { continue };
        let select = match &mut statement {
            Some((of, select)) if of == place => select,
            other => &mut other.insert((*place, connection.prepare_cached(&table.select_one())?)).1,
        };
        let hash = hash_by(select, table, key)?;
        sealer.add(&Entry { table: &table.name, key, before: *before, hash })?;
    }
    sealer.close()
}

/// Returns the hash of a row as it stands; `None` when it is not there.
pub(super) fn hash_now(
    connection: &Connection,
    table: &Table,
    key: &[u8],
) -> Result<Option<Hash>, StoreError> {
    let mut select = connection.prepare_cached(&table.select_one())?;
    hash_by(&mut select, table, key)
}

/// Returns the hash of a row that a statement for its table finds.
fn hash_by(select: &mut Statement<'_>, table: &Table, key: &[u8]) -> Result<Option<Hash>, StoreError> {
    let Some(key) = values(key) else { return Ok(None) };
    let mut rows = select.query(params_from_iter(key))?;
    rows.next()?.map(|row| row_hash(&table.name, &table.columns, row)).transpose()
}

/// Seals every row of some tables as they stand.
fn seal_whole(
    connection: &Connection,
    tables: &[Table],
    at_ms: i64,
    progress: &Progress,
) -> Result<(), StoreError> {
    let mut sealer = Sealer::new(connection, at_ms)?;
    let mut done = 0;
    for table in tables.iter().filter(|table| table.is_sealed()) {
        let mut statement = connection.prepare(&table.select_all())?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            progress.step("rows sealed", done, None)?;
            done += 1;
            let (key, hash) = (table.key_of(row)?, row_hash(&table.name, &table.columns, row)?);
            sealer.add(&Entry { table: &table.name, key: &key, before: None, hash: Some(hash) })?;
        }
    }
    sealer.close()
}

/// Watches a migration, so that what it changes is sealed with it.
pub(super) struct Migrating {
    /// What the book held before, in a book that has seals already.
    before: Option<(Watch, Vec<Table>)>,
}

impl Migrating {
    /// Begins before a migration; a book that has no seals yet is not watched.
    pub(super) fn start(connection: &Connection) -> Result<Self, StoreError> {
        if !has_seals(connection)? {
            return Ok(Migrating { before: None });
        }
        let watch = Watch::default();
        watch.start(connection)?;
        let before = tables(connection)?;
        Ok(Migrating { before: Some((watch, before)) })
    }

    /// Seals, inside the migration's transaction: the rows that it touched and the tables that it made; everything, when it
    /// brought the seals.
    pub(super) fn seal(
        self,
        connection: &Connection,
        at_ms: i64,
        progress: &Progress,
    ) -> Result<(), StoreError> {
        if !has_seals(connection)? {
            return Ok(());
        }
        let now = tables(connection)?;
        let Some((watch, before)) = self.before else {
            seal_draft(connection)?;
            return seal_whole(connection, &now, at_ms, progress);
        };
        let touched = watch.take();
        // A table may have new columns: it is read as it is now.
        let numbered: Vec<Table> = before
            .iter()
            .map(|old| now.iter().find(|new| new.name == old.name).unwrap_or(old).clone())
            .collect();
        let here = |at: usize| now.iter().any(|table| table.name == numbered[at].name);
        let touched: Touched =
            touched.into_iter().filter(|((at, _), _)| *at < numbered.len() && here(*at)).collect();
        seal_touched(connection, &numbered, &touched, at_ms, progress)?;
        let made: Vec<Table> =
            now.into_iter().filter(|table| before.iter().all(|old| old.name != table.name)).collect();
        seal_whole(connection, &made, at_ms, progress)?;
        watch.stop(connection)
    }
}

fn has_seals(connection: &Connection) -> Result<bool, StoreError> {
    Ok(connection
        .prepare("SELECT 1 FROM main.sqlite_schema WHERE type = 'table' AND name = 'seal'")?
        .exists([])?)
}

/// Gives the half-filled piece of an older book its digest.
fn seal_draft(connection: &Connection) -> Result<(), StoreError> {
    let draft: Option<(i64, String)> = connection
        .query_row("SELECT at_ms, body FROM draft WHERE slot = 1", [], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()?;
    if let Some((at_ms, body)) = draft {
        connection.execute("UPDATE draft SET digest = ?1 WHERE slot = 1", [draft_digest(at_ms, &body)])?;
    }
    Ok(())
}

impl Reader<'_> {
    /// Returns the hash of the last seal in hexadecimal digits: it stands for everything that is in the book.
    ///
    /// # Errors
    /// What the database says.
    pub fn head(&self) -> Result<String, StoreError> {
        Ok(hex(&last(self.connection, LAST_SEAL)?.1))
    }
}

#[cfg(test)]
mod tests {
    use super::super::connection::Store;
    use super::super::migrate::{self, MIGRATIONS, Migration};
    use super::*;
    use chrono::DateTime;
    use rusqlite::types::ValueRef;

    /// A later version, made up: it adds a column, changes a row and makes a table.
    const LATER: Migration = Migration {
        name: "9999_later.sql",
        text: "ALTER TABLE price ADD COLUMN note TEXT;
               UPDATE preference SET value = 'new' WHERE name = 'a';
               CREATE TABLE later (id INTEGER PRIMARY KEY, word TEXT NOT NULL) STRICT;
               INSERT INTO later (word) VALUES ('one'), ('two');",
    };

    #[test]
    fn a_migration_seals_what_it_changes_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.book");
        drop(Store::open(&path, DateTime::UNIX_EPOCH).unwrap());
        let mut connection = Connection::open(&path).unwrap();
        connection
            .execute_batch(
                "INSERT INTO preference VALUES ('a', 'old'), ('b', 'old');
                 INSERT INTO price (metal, per_troy_ounce, currency, at_ms, operator) VALUES ('gold', '1', 'EUR', 0, 'x');",
            )
            .unwrap();
        let before: i64 = connection.query_row("SELECT max(number) FROM seal", [], |row| row.get(0)).unwrap();
        let list: Vec<Migration> = MIGRATIONS.iter().copied().chain([LATER]).collect();
        migrate::run(&mut connection, &path, &list, DateTime::UNIX_EPOCH, &Progress::default()).unwrap();
        let blobs: Vec<Vec<u8>> = connection
            .prepare("SELECT entries FROM seal WHERE number > ?1 ORDER BY number")
            .unwrap()
            .query_map([before], |row| row.get(0))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        let mut sealed = Vec::new();
        for blob in &blobs {
            let mut rest = blob.as_slice();
            while let Some(entry) = next_entry(&mut rest) {
                let table = tables(&connection).unwrap().into_iter().find(|table| table.name == entry.table);
                assert_eq!(hash_now(&connection, &table.unwrap(), entry.key).unwrap(), entry.hash);
                sealed.push((entry.table.to_owned(), entry.key.to_vec()));
            }
        }
        let key = |value: ValueRef<'_>| super::super::tables::key_bytes([value].into_iter());
        let version = i64::try_from(list.len()).unwrap();
        assert_eq!(
            sealed,
            [
                ("migration".to_owned(), key(ValueRef::Integer(version))),
                ("preference".to_owned(), key(ValueRef::Text(b"a"))),
                ("later".to_owned(), key(ValueRef::Integer(1))),
                ("later".to_owned(), key(ValueRef::Integer(2))),
            ]
        );
    }

    #[test]
    fn a_column_that_is_added_empty_changes_no_row() {
        let connection = Connection::open_in_memory().unwrap();
        connection
            .execute_batch("CREATE TABLE t (id INTEGER PRIMARY KEY, x TEXT); INSERT INTO t VALUES (1, 'a');")
            .unwrap();
        let hash = || {
            let table = tables(&connection).unwrap().remove(0);
            hash_now(
                &connection,
                &table,
                &super::super::tables::key_bytes([ValueRef::Integer(1)].into_iter()),
            )
            .unwrap()
        };
        let before = hash();
        connection.execute_batch("ALTER TABLE t ADD COLUMN y TEXT").unwrap();
        assert_eq!(hash(), before);
        connection.execute_batch("UPDATE t SET y = 'b'").unwrap();
        assert_ne!(hash(), before);
    }

    #[test]
    fn a_row_that_an_act_wrote_by_a_trigger_is_sealed_too() {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::open(&folder.path().join("a.book"), DateTime::UNIX_EPOCH).unwrap();
        let act = super::super::Act { operator: "x".to_owned(), at: DateTime::UNIX_EPOCH };
        store
            .write(&act, |writer| {
                // A lot gets its totals by triggers, in tables without row numbers.
                writer.connection.execute_batch(
                    "INSERT INTO shipment VALUES (zeroblob(16), 1, 'x', 0, 'x');
                     INSERT INTO lot (id, shipment, line, product, expected) VALUES (zeroblob(16), zeroblob(16), 1, 'p', 1);",
                )?;
                writer.journal(super::super::Deed::ShipmentReceived, &serde_json::Value::Null, None)?;
                Ok::<_, StoreError>(())
            })
            .unwrap();
        let entries: Vec<u8> = store
            .connection
            .query_row("SELECT entries FROM seal ORDER BY number DESC LIMIT 1", [], |row| row.get(0))
            .unwrap();
        let mut rest = entries.as_slice();
        let named: Vec<String> =
            std::iter::from_fn(|| next_entry(&mut rest).map(|entry| entry.table.to_owned())).collect();
        assert_eq!(named, ["lot", "lot_total", "product_total", "shipment"]);
    }
}
