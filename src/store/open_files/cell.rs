//! Values as the cells of a CSV and back.

use super::super::row_image::hex;
use rusqlite::types::{Value, ValueRef};

/// Stands for NULL.
const NULL: &str = r"\N";

/// Returns a value as a cell.
pub(super) fn cell(value: ValueRef<'_>) -> Result<String, std::str::Utf8Error> {
    Ok(match value {
        ValueRef::Null => NULL.to_owned(),
        ValueRef::Integer(number) => number.to_string(),
        ValueRef::Real(number) => format!("{number:?}"),
        ValueRef::Text(text) => {
            let text = std::str::from_utf8(text)?;
            if text.starts_with('\\') { format!("\\{text}") } else { text.to_owned() }
        }
        ValueRef::Blob(bytes) => hex(bytes),
    })
}

/// Reads a cell of a column of a kind; the error is what is allowed there.
pub(super) fn value(cell: &str, kind: &str) -> Result<Value, &'static str> {
    if cell == NULL {
        return Ok(Value::Null);
    }
    match kind {
        "INTEGER" | "INT" => cell.parse().map(Value::Integer).map_err(|_| r"a whole number or `\N`"),
        "REAL" => cell.parse().map(Value::Real).map_err(|_| r"a number or `\N`"),
        "BLOB" => bytes(cell).map(Value::Blob).ok_or(r"hexadecimal digits, two a byte, or `\N`"),
        _ => match cell.strip_prefix('\\') {
            None => Ok(Value::Text(cell.to_owned())),
            Some(rest) if rest.starts_with('\\') => Ok(Value::Text(rest.to_owned())),
            Some(_) => Err(r"a text, with `\\` where it begins with a backslash, or `\N`"),
        },
    }
}

fn bytes(digits: &str) -> Option<Vec<u8>> {
    let digits = digits.as_bytes();
    if !digits.len().is_multiple_of(2) || !digits.iter().all(u8::is_ascii_hexdigit) {
        return None;
    }
    let nibble = |digit: u8| char::from(digit).to_digit(16).and_then(|value| u8::try_from(value).ok());
    digits.chunks_exact(2).map(|pair| Some(nibble(pair[0])? << 4 | nibble(pair[1])?)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[track_caller]
    fn check(value_of: &Value, kind: &str) {
        assert_eq!(value(&cell(value_of.into()).unwrap(), kind), Ok(value_of.clone()));
    }

    #[test]
    fn nothing_and_an_empty_text_stay_apart() {
        for text in ["", r"\N", r"\\N", r"\", " ", "a,\"b\"\r\nc", "NULL"] {
            check(&Value::Text(text.to_owned()), "TEXT");
        }
        check(&Value::Null, "TEXT");
        check(&Value::Null, "BLOB");
        check(&Value::Blob(Vec::new()), "BLOB");
    }

    #[test]
    fn what_no_column_of_the_kind_holds_is_refused() {
        for (cell, kind) in [
            ("1.5", "INTEGER"),
            ("", "INTEGER"),
            ("abc", "BLOB"),
            ("+0", "BLOB"),
            ("x", "REAL"),
            (r"\x", "TEXT"),
        ] {
            assert!(value(cell, kind).is_err(), "{cell} {kind}");
        }
    }

    proptest! {
        #[test]
        fn every_value_comes_back(number in any::<i64>(), real in any::<f64>(), text in ".*", blob in proptest::collection::vec(any::<u8>(), 0..40)) {
            prop_assume!(!real.is_nan());
            for (value_of, kind) in [
                (Value::Integer(number), "INTEGER"), (Value::Real(real), "REAL"), (Value::Text(text), "TEXT"), (Value::Blob(blob), "BLOB"),
            ] {
                prop_assert_eq!(value(&cell((&value_of).into()).unwrap(), kind), Ok(value_of));
            }
        }
    }
}
