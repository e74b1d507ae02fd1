//! Rows as bytes in one form only, so that equal rows have equal hashes and different rows different ones.
//!
//! A value is its kind, one byte, and its bytes: integers and reals in eight bytes, texts and blobs with their length in front.
//! A row is the name of its table and, in the order of the table, name and value of each column that is not NULL: a column
//! that a later version adds changes no row until it is filled.

use super::error::StoreError;
use rusqlite::types::{Value, ValueRef};
use sha2::{Digest, Sha256};

/// A SHA-256.
pub(super) type Hash = [u8; 32];

/// Keeps the hash of a row apart from every other hash of the book.
const ROW: &[u8] = b"scruple row 1";

const NULL: u8 = 0;
const INTEGER: u8 = 1;
const REAL: u8 = 2;
const TEXT: u8 = 3;
const BLOB: u8 = 4;

/// Adds one value.
pub(super) fn push_value(bytes: &mut Vec<u8>, value: ValueRef<'_>) {
    match value {
        ValueRef::Null => bytes.push(NULL),
        ValueRef::Integer(number) => {
            bytes.push(INTEGER);
            bytes.extend(number.to_be_bytes());
        }
        ValueRef::Real(number) => {
            bytes.push(REAL);
            bytes.extend(number.to_bits().to_be_bytes());
        }
        ValueRef::Text(text) => push_long(bytes, TEXT, text),
        ValueRef::Blob(blob) => push_long(bytes, BLOB, blob),
    }
}

fn push_long(bytes: &mut Vec<u8>, kind: u8, content: &[u8]) {
    bytes.push(kind);
    bytes.extend((content.len() as u64).to_be_bytes());
    bytes.extend(content);
}

/// Reads values back; `None` when the bytes are not whole values.
pub(super) fn values(mut bytes: &[u8]) -> Option<Vec<Value>> {
    let mut values = Vec::new();
    while let Some((kind, rest)) = bytes.split_first() {
        bytes = rest;
        values.push(match *kind {
            NULL => Value::Null,
            INTEGER => Value::Integer(i64::from_be_bytes(take(&mut bytes, 8)?.try_into().ok()?)),
            REAL => Value::Real(f64::from_bits(u64::from_be_bytes(take(&mut bytes, 8)?.try_into().ok()?))),
            TEXT => Value::Text(String::from_utf8(long(&mut bytes)?.to_vec()).ok()?),
            BLOB => Value::Blob(long(&mut bytes)?.to_vec()),
            _ => return None,
        });
    }
    Some(values)
}

fn long<'b>(bytes: &mut &'b [u8]) -> Option<&'b [u8]> {
    let length = u64::from_be_bytes(take(bytes, 8)?.try_into().ok()?);
    take(bytes, usize::try_from(length).ok()?)
}

/// Splits off the first bytes.
pub(super) fn take<'b>(bytes: &mut &'b [u8], length: usize) -> Option<&'b [u8]> {
    let (first, rest) = bytes.split_at_checked(length)?;
    *bytes = rest;
    Some(first)
}

/// Returns the hash of a row as a statement gives it: `columns` are its columns in the order of the table, from the first on.
pub(super) fn row_hash(table: &str, columns: &[String], row: &rusqlite::Row<'_>) -> Result<Hash, StoreError> {
    let values = (0..columns.len()).map(|at| row.get_ref(at)).collect::<rusqlite::Result<Vec<_>>>()?;
    Ok(values_hash(table, columns, values.into_iter()))
}

/// Returns the hash of a row by its values, one for each column.
pub(super) fn values_hash<'v>(
    table: &str,
    columns: &[String],
    values: impl Iterator<Item = ValueRef<'v>>,
) -> Hash {
    let mut bytes = Vec::with_capacity(512);
    bytes.extend(ROW);
    push_value(&mut bytes, ValueRef::Text(table.as_bytes()));
    for (column, value) in columns.iter().zip(values) {
        if value != ValueRef::Null {
            push_value(&mut bytes, ValueRef::Text(column.as_bytes()));
            push_value(&mut bytes, value);
        }
    }
    Sha256::digest(&bytes).into()
}

/// Returns the hash of the half-filled piece, which is sealed by itself.
pub(super) fn draft_digest(at_ms: i64, body: &str) -> Hash {
    let mut bytes = ROW.to_vec();
    push_value(&mut bytes, ValueRef::Text(b"draft"));
    push_value(&mut bytes, ValueRef::Integer(at_ms));
    push_value(&mut bytes, ValueRef::Text(body.as_bytes()));
    Sha256::digest(&bytes).into()
}

/// Returns bytes in hexadecimal digits.
pub(super) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn any_value() -> impl Strategy<Value = Value> {
        prop_oneof![
            Just(Value::Null),
            any::<i64>().prop_map(Value::Integer),
            (-1e9..1e9).prop_map(Value::Real),
            ".{0,8}".prop_map(Value::Text),
            proptest::collection::vec(any::<u8>(), 0..8).prop_map(Value::Blob),
        ]
    }

    fn bytes(values: &[Value]) -> Vec<u8> {
        let mut bytes = Vec::new();
        values.iter().for_each(|value| push_value(&mut bytes, value.into()));
        bytes
    }

    proptest! {
        #[test]
        fn values_come_back_from_their_bytes(list in proptest::collection::vec(any_value(), 0..5)) {
            prop_assert_eq!(values(&bytes(&list)), Some(list));
        }

        #[test]
        fn bytes_cut_short_are_never_values(list in proptest::collection::vec(any_value(), 1..4)) {
            let whole = bytes(&list);
            let last = bytes(&list[list.len() - 1..]).len();
            for cut in whole.len() - last + 1..whole.len() {
                prop_assert_eq!(values(&whole[..cut]), None);
            }
        }
    }

    #[test]
    fn a_value_moved_from_one_column_to_the_next_is_another_row() {
        let connection = rusqlite::Connection::open_in_memory().unwrap();
        let columns = ["a".to_owned(), "b".to_owned()];
        let hash = |sql: &str| {
            connection.query_row(sql, [], |row| Ok(row_hash("t", &columns, row).unwrap())).unwrap()
        };
        let rows = ["SELECT 'x', NULL", "SELECT NULL, 'x'", "SELECT x'78', NULL", "SELECT '', 'x'"];
        let hashes: std::collections::BTreeSet<Hash> = rows.into_iter().map(hash).collect();
        assert_eq!(hashes.len(), rows.len());
    }
}
