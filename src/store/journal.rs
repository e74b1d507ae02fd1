//! The journal: one row for every write, each carrying the hash of the row before.

use super::connection::{Reader, Writer};
use super::error::StoreError;
use super::row::Id;
use super::row_image::{Hash, hex};
use crate::intake::PieceId;
use chrono::{DateTime, Utc};
use rusqlite::{OptionalExtension, Row};
use serde_json::Value;
use sha2::{Digest, Sha256};

/// What an act was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Deed {
    /// A shipment was taken in.
    ShipmentReceived,
    /// A line was added to a shipment.
    LineAdded,
    /// A piece was logged.
    PieceLogged,
    /// A reading or a serial was corrected.
    ReadingCorrected,
    /// A piece was taken out of the account.
    PieceVoided,
    /// Somebody put a piece on hold.
    HoldPut,
    /// Somebody took back a hold.
    HoldTakenBack,
    /// A price was entered.
    PriceSet,
    /// A lot was scored again.
    LotRescored,
    /// The pieces of a lot were compared before all of them were there.
    LotCompared,
    /// A second test was recorded.
    SecondTestRecorded,
    /// A second test was withdrawn.
    SecondTestWithdrawn,
    /// Somebody settled a doubt.
    HoldSettled,
    /// Somebody took back a settlement.
    HoldReopened,
    /// A sample was drawn.
    SampleDrawn,
    /// A lot was settled on a sample.
    LotSettled,
    /// Pieces were sent back.
    PiecesSentBack,
    /// A send-back was taken back.
    SendBackUndone,
    /// Pieces were surrendered.
    PiecesSurrendered,
    /// Pieces became stock.
    PiecesReleased,
    /// A release was taken back.
    ReleaseUndone,
    /// An operator was entered or changed.
    OperatorSet,
    /// The policy was set.
    PolicySet,
    /// The holding period of a shipment was set.
    HoldingSet,
    /// The register of instruments was set.
    InstrumentsSet,
    /// Another instrument was taken into use.
    InstrumentChosen,
    /// A control was recorded.
    ControlRecorded,
    /// A control was withdrawn.
    ControlWithdrawn,
    /// A failed control voided readings of a piece at the desk.
    PieceUnproved,
    /// A failed control voided readings of a piece in stock.
    PieceRecalled,
    /// A recalled piece came back from stock to the desk.
    RecalledPieceBack,
    /// The desk was given a name.
    DeskNamed,
    /// How many backups are kept was set.
    BackupsKeptSet,
    /// Somebody typed a PIN that was not the operator's.
    PinRefused,
    /// The PIN was right again after wrong ones.
    PinAccepted,
}

impl Deed {
    /// All deeds.
    pub const ALL: [Deed; 35] = [
        Deed::ShipmentReceived,
        Deed::LineAdded,
        Deed::PieceLogged,
        Deed::ReadingCorrected,
        Deed::PieceVoided,
        Deed::HoldPut,
        Deed::HoldTakenBack,
        Deed::PriceSet,
        Deed::LotRescored,
        Deed::LotCompared,
        Deed::SecondTestRecorded,
        Deed::SecondTestWithdrawn,
        Deed::HoldSettled,
        Deed::HoldReopened,
        Deed::SampleDrawn,
        Deed::LotSettled,
        Deed::PiecesSentBack,
        Deed::SendBackUndone,
        Deed::PiecesSurrendered,
        Deed::PiecesReleased,
        Deed::ReleaseUndone,
        Deed::OperatorSet,
        Deed::PolicySet,
        Deed::HoldingSet,
        Deed::InstrumentsSet,
        Deed::InstrumentChosen,
        Deed::ControlRecorded,
        Deed::ControlWithdrawn,
        Deed::PieceUnproved,
        Deed::PieceRecalled,
        Deed::RecalledPieceBack,
        Deed::DeskNamed,
        Deed::BackupsKeptSet,
        Deed::PinRefused,
        Deed::PinAccepted,
    ];

    /// Acts that their operator may take back.
    pub(super) const UNDOABLE: [Deed; 8] = [
        Deed::PieceLogged,
        Deed::ReadingCorrected,
        Deed::HoldPut,
        Deed::SecondTestRecorded,
        Deed::HoldSettled,
        Deed::LotSettled,
        Deed::PiecesSentBack,
        Deed::PiecesReleased,
    ];

    /// Returns the words kept in the book.
    pub fn words(self) -> &'static str {
        match self {
            Deed::ShipmentReceived => "shipment received",
            Deed::LineAdded => "line added",
            Deed::PieceLogged => "piece logged",
            Deed::ReadingCorrected => "reading corrected",
            Deed::PieceVoided => "piece voided",
            Deed::HoldPut => "hold put",
            Deed::HoldTakenBack => "hold taken back",
            Deed::PriceSet => "price set",
            Deed::LotRescored => "lot rescored",
            Deed::LotCompared => "lot compared",
            Deed::SecondTestRecorded => "second test recorded",
            Deed::SecondTestWithdrawn => "second test withdrawn",
            Deed::HoldSettled => "hold settled",
            Deed::HoldReopened => "hold reopened",
            Deed::SampleDrawn => "sample drawn",
            Deed::LotSettled => "lot settled",
            Deed::PiecesSentBack => "pieces sent back",
            Deed::SendBackUndone => "send-back undone",
            Deed::PiecesSurrendered => "pieces surrendered",
            Deed::PiecesReleased => "pieces released",
            Deed::ReleaseUndone => "release undone",
            Deed::OperatorSet => "operator set",
            Deed::PolicySet => "policy set",
            Deed::HoldingSet => "holding period set",
            Deed::InstrumentsSet => "instruments set",
            Deed::InstrumentChosen => "instrument chosen",
            Deed::ControlRecorded => "control recorded",
            Deed::ControlWithdrawn => "control withdrawn",
            Deed::PieceUnproved => "piece unproved",
            Deed::PieceRecalled => "piece recalled",
            Deed::RecalledPieceBack => "recalled piece back",
            Deed::DeskNamed => "desk named",
            Deed::BackupsKeptSet => "backups kept set",
            Deed::PinRefused => "PIN refused",
            Deed::PinAccepted => "PIN accepted",
        }
    }

    /// Returns the deed with the given words.
    pub fn named(words: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|deed| deed.words() == words)
    }
}

/// An act in the journal.
#[derive(Debug, Clone, PartialEq)]
pub struct Done {
    /// Its number.
    pub sequence: i64,
    /// What it was.
    pub deed: Deed,
    /// What was written.
    pub payload: Value,
}

/// Something in the journal that the program did not write that way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JournalFault {
    /// Number of the row.
    pub sequence: i64,
    /// What is wrong with it.
    pub finding: String,
}

/// What a walk along the journal found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JournalReport {
    /// Rows.
    pub rows: u64,
    /// Head of the book, see [`Reader::head`].
    pub head: String,
    /// Everything that is wrong, in the order of the rows.
    pub faults: Vec<JournalFault>,
}

impl Writer<'_> {
    /// Adds the journal row of this act; returns its number. `undoes` names the act that this one takes back.
    ///
    /// # Errors
    /// What the database says.
    pub fn journal(&self, deed: Deed, payload: &Value, undoes: Option<i64>) -> Result<i64, StoreError> {
        let last = self
            .connection
            .prepare_cached("SELECT sequence, row_hash FROM journal ORDER BY sequence DESC LIMIT 1")?
            .query_row([], |row| Ok((row.get::<_, i64>(0)?, row.get::<_, Hash>(1)?)))
            .optional()?;
        let (before, previous) = last.unwrap_or((0, [0; 32]));
        let sequence = before + 1;
        // An act that does an undone one again is linked to what took that back.
        let link = self.redoes.get().filter(|(redone, _)| *redone == deed && undoes.is_none());
        if link.is_some() {
            self.redoes.set(None);
        }
        let undoes = undoes.or(link.map(|(_, undo)| undo));
        let payload = match link {
            Some((_, undo)) => {
                let mut told = payload.clone();
                told["redoes"] = Value::from(undo);
                canonical(&told)
            }
            None => canonical(payload),
        };
        let payload_hash: Hash = Sha256::digest(payload.as_bytes()).into();
        let at_ms = self.at_ms();
        let operator = self.act.operator.as_str();
        let hashed =
            Hashed { sequence, at_ms, operator, what: deed.words(), undoes, payload_hash: &payload_hash };
        self.connection
            .prepare_cached(
                "INSERT INTO journal
                 (sequence, at_ms, operator, what, undoes, payload, payload_hash, previous_hash, row_hash)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
            )?
            .execute((
                sequence,
                at_ms,
                operator,
                deed.words(),
                undoes,
                payload,
                payload_hash,
                previous,
                hashed.row_hash(&previous),
            ))?;
        self.journaled.set(true);
        Ok(sequence)
    }
}

impl Reader<'_> {
    /// Walks the journal and recomputes every hash.
    ///
    /// # Errors
    /// What the database says; a broken chain is not an error but a list of faults.
    pub fn verify_journal(&self) -> Result<JournalReport, StoreError> {
        let head = self.head().unwrap_or_else(|_| hex(&[0; 32]));
        let mut report = JournalReport { rows: 0, head, faults: Vec::new() };
        let mut previous: Hash = [0; 32];
        let mut next = 1;
        let mut statement = self.connection.prepare(
            "SELECT sequence, at_ms, operator, what, undoes, payload, payload_hash, previous_hash, row_hash
             FROM journal ORDER BY sequence",
        )?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let sequence: i64 = row.get(0)?;
            // A value of the wrong kind is a fault of the row like any other.
            let findings = findings(row, sequence, next, &previous)
                .unwrap_or_else(|_| vec!["a column holds a value of the wrong kind".to_owned()]);
            report.faults.extend(findings.into_iter().map(|finding| JournalFault { sequence, finding }));
            previous = row.get(8).unwrap_or([0; 32]);
            next = sequence + 1;
            report.rows += 1;
        }
        Ok(report)
    }

    /// Returns how many rows the journal has, and the head of the book: see [`Reader::head`].
    ///
    /// # Errors
    /// What the database says.
    pub fn journal_head(&self) -> Result<(u64, String), StoreError> {
        let mut statement = self.connection.prepare_cached("SELECT max(sequence) FROM journal")?;
        let rows: Option<i64> = statement.query_row([], |row| row.get(0))?;
        Ok((u64::try_from(rows.unwrap_or(0)).unwrap_or(0), self.head()?))
    }

    /// Returns the time of the last row of the journal; `None` for an empty journal.
    ///
    /// # Errors
    /// What the database says.
    pub fn last_entry_at(&self) -> Result<Option<DateTime<Utc>>, StoreError> {
        let mut statement =
            self.connection.prepare_cached("SELECT at_ms FROM journal ORDER BY sequence DESC LIMIT 1")?;
        let mut rows = statement.query([])?;
        rows.next()?.map(|row| super::row::time(row, "at_ms")).transpose()
    }

    /// Returns the hash of the last row of the journal that tells of a piece, in hexadecimal digits.
    ///
    /// # Errors
    /// What the database says.
    pub fn journal_hash_of(&self, piece: PieceId) -> Result<Option<String>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT row_hash FROM journal WHERE at_ms IN (
                 SELECT at_ms FROM assessment WHERE piece = ?1
                 UNION SELECT opened_ms FROM hold WHERE piece = ?1
                 UNION SELECT closed_ms FROM hold WHERE piece = ?1
                 UNION SELECT at_ms FROM second_test WHERE piece = ?1
                 UNION SELECT at_ms FROM decision WHERE piece = ?1)
             AND instr(payload, ?2) > 0 ORDER BY sequence DESC LIMIT 1",
        )?;
        let hash: Option<Hash> =
            statement.query_row((piece.column(), piece.to_string()), |row| row.get(0)).optional()?;
        Ok(hash.map(|hash| hex(&hash)))
    }

    /// Returns every act of a kind with its time, oldest first.
    ///
    /// # Errors
    /// What the database says, and `Strange` for a row that cannot be read back.
    pub fn acts(&self, deed: Deed) -> Result<Vec<(DateTime<Utc>, Value)>, StoreError> {
        let mut statement = self
            .connection
            .prepare("SELECT at_ms, payload FROM journal WHERE what = ?1 ORDER BY sequence")?;
        let mut rows = statement.query([deed.words()])?;
        let mut acts = Vec::new();
        while let Some(row) = rows.next()? {
            let payload: String = row.get("payload")?;
            let payload = serde_json::from_str(&payload)
                .map_err(|_| StoreError::Strange { column: "journal.payload", found: payload })?;
            acts.push((super::row::time(row, "at_ms")?, payload));
        }
        Ok(acts)
    }

    /// Returns the last acts of an operator that can be undone and were not, newest first.
    ///
    /// # Errors
    /// What the database says.
    pub fn undoable(&self, operator: &str, most: u32) -> Result<Vec<Done>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT sequence, what, payload FROM journal AS act
             WHERE operator = ?1 AND (undoes IS NULL OR json_extract(payload, '$.redoes') IS NOT NULL) AND what IN (SELECT value FROM json_each(?2))
               AND NOT EXISTS (SELECT 1 FROM journal AS later WHERE later.undoes = act.sequence)
             ORDER BY sequence DESC LIMIT ?3",
        )?;
        let undoable = Value::from(Deed::UNDOABLE.map(Deed::words).to_vec()).to_string();
        let mut rows = statement.query((operator, undoable, most))?;
        let mut acts = Vec::new();
        while let Some(row) = rows.next()? {
            let payload: String = row.get(2)?;
            acts.push(Done {
                sequence: row.get(0)?,
                deed: super::row::word(row, "what", Deed::named)?,
                payload: serde_json::from_str(&payload)
                    .map_err(|_| StoreError::Strange { column: "journal.payload", found: payload })?,
            });
        }
        Ok(acts)
    }
}

/// Returns everything that is wrong with one row of the journal.
fn findings(row: &Row<'_>, sequence: i64, next: i64, previous: &Hash) -> Result<Vec<String>, StoreError> {
    let mut findings = Vec::new();
    if sequence != next {
        findings.push(format!("row {next} is missing"));
    }
    let operator: String = row.get(2)?;
    let what: String = row.get(3)?;
    let payload: String = row.get(5)?;
    let payload_hash: Hash = row.get(6)?;
    let previous_hash: Hash = row.get(7)?;
    let row_hash: Hash = row.get(8)?;
    if Hash::from(Sha256::digest(payload.as_bytes())) != payload_hash {
        findings.push("the payload was changed".to_owned());
    }
    if previous_hash != *previous {
        findings.push("it does not follow the row before".to_owned());
    }
    let hashed = Hashed {
        sequence,
        at_ms: row.get(1)?,
        operator: &operator,
        what: &what,
        undoes: row.get(4)?,
        payload_hash: &payload_hash,
    };
    if hashed.row_hash(&previous_hash) != row_hash {
        findings.push("the row was changed".to_owned());
    }
    Ok(findings)
}

/// What the hash of a row covers.
struct Hashed<'a> {
    sequence: i64,
    at_ms: i64,
    operator: &'a str,
    what: &'a str,
    undoes: Option<i64>,
    payload_hash: &'a Hash,
}

impl Hashed<'_> {
    /// Hashes the row behind the row before; lengths stand in front of texts, so that no two rows give the same bytes.
    fn row_hash(&self, previous: &Hash) -> Hash {
        let mut hash = Sha256::new();
        hash.update(previous);
        hash.update(self.sequence.to_be_bytes());
        hash.update(self.at_ms.to_be_bytes());
        for text in [self.operator, self.what] {
            hash.update((text.len() as u64).to_be_bytes());
            hash.update(text.as_bytes());
        }
        hash.update(self.undoes.unwrap_or(0).to_be_bytes());
        hash.update(self.payload_hash);
        hash.finalize().into()
    }
}

/// Returns the SHA-256 of a text in hexadecimal digits, as payloads name long texts kept in other tables.
pub fn digest(text: &str) -> String {
    hex(&Sha256::digest(text.as_bytes()))
}

/// Writes JSON in one form only: keys in the order of their bytes, no blanks.
fn canonical(value: &Value) -> String {
    match value {
        Value::Object(map) => {
            let mut keys: Vec<&String> = map.keys().collect();
            keys.sort();
            let members =
                keys.into_iter().map(|key| format!("{}:{}", Value::from(key.as_str()), canonical(&map[key])));
            format!("{{{}}}", members.collect::<Vec<_>>().join(","))
        }
        Value::Array(items) => format!("[{}]", items.iter().map(canonical).collect::<Vec<_>>().join(",")),
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn canonical_json_does_not_depend_on_the_order_of_keys() {
        let value = json!({ "b": [1, { "z": null, "a": "\"x\"" }], "a": true });
        assert_eq!(canonical(&value), r#"{"a":true,"b":[1,{"a":"\"x\"","z":null}]}"#);
    }

    #[test]
    fn the_digest_is_sha_256() {
        // NIST FIPS 180-4 example, "abc" (from memory).
        assert_eq!(digest("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }
}
