//! Files and standard input as text, and a folder that is thrown away.

use crate::desk::{AppError, ErrorKind};
use std::io::{BufRead, Read};
use std::path::{Path, PathBuf};

/// Largest text that is read, in bytes: far above any list, far below the memory of a desk.
const LARGEST: u64 = 256 * 1024 * 1024;

/// A text with the name it goes by in messages.
pub(super) struct Input {
    pub(super) name: String,
    pub(super) text: String,
}

/// Bytes with the name they go by in messages.
pub(super) struct Bytes {
    pub(super) name: String,
    pub(super) bytes: Vec<u8>,
}

/// Reads a file, or standard input for `-`.
pub(super) fn bytes(path: &Path) -> Result<Bytes, AppError> {
    let io = |name: &str, error: &std::io::Error| {
        AppError::new(ErrorKind::Io, format!("`{name}` cannot be read: {error}"))
    };
    let mut bytes = Vec::new();
    let name = if path == Path::new("-") {
        let name = "standard input".to_owned();
        std::io::stdin()
            .lock()
            .take(LARGEST + 1)
            .read_to_end(&mut bytes)
            .map_err(|error| io(&name, &error))?;
        name
    } else {
        let name = path.display().to_string();
        let file = std::fs::File::open(path).map_err(|error| io(&name, &error))?;
        file.take(LARGEST + 1).read_to_end(&mut bytes).map_err(|error| io(&name, &error))?;
        name
    };
    if bytes.len() as u64 > LARGEST {
        return Err(AppError::failed(format!("`{name}` is larger than {} MB", LARGEST / 1024 / 1024)));
    }
    Ok(Bytes { name, bytes })
}

/// Reads a file as text, or standard input for `-`.
pub(super) fn read(path: &Path) -> Result<Input, AppError> {
    let Bytes { name, bytes } = bytes(path)?;
    let text = String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        let line = error.as_bytes()[..at].iter().filter(|byte| **byte == b'\n').count() + 1;
        AppError::new(
            ErrorKind::BadRows,
            format!("`{name}` is not UTF-8 text: line {line} has a byte of another encoding"),
        )
        .with_hint("save the list as CSV in UTF-8")
    })?;
    Ok(Input { name, text })
}

/// Reads PINs from standard input, one a line, in the order asked for.
pub(super) fn pins(count: usize) -> Result<Vec<String>, AppError> {
    let mut lines = std::io::stdin().lock().lines();
    let mut pins = Vec::new();
    for number in 1..=count {
        match lines.next() {
            Some(Ok(line)) => pins.push(line.trim_end_matches(['\r', '\n']).to_owned()),
            Some(Err(error)) => {
                return Err(AppError::new(ErrorKind::Io, format!("standard input cannot be read: {error}")));
            }
            None => {
                let message = format!("standard input ends before PIN {number} of {count}");
                return Err(AppError::usage(message, vec!["type one PIN a line".to_owned()]));
            }
        }
    }
    Ok(pins)
}

/// Reads the PIN that signs an act, when it is to be read.
pub(super) fn pin(wanted: bool) -> Result<Option<String>, AppError> {
    Ok(if wanted { pins(1)?.pop() } else { None })
}

/// A private folder in the folder for temporary files; it goes when this is dropped.
pub(super) struct ThrownAway(PathBuf);

impl ThrownAway {
    pub(super) fn new() -> Result<Self, AppError> {
        let path = std::env::temp_dir().join(format!("scruple-demo-{}", uuid::Uuid::now_v7()));
        let mut builder = std::fs::DirBuilder::new();
        #[cfg(unix)]
        {
            use std::os::unix::fs::DirBuilderExt;
            builder.mode(0o700);
        }
        builder.create(&path).map_err(|error| {
            AppError::new(ErrorKind::Io, format!("folder `{}` cannot be made: {error}", path.display()))
        })?;
        Ok(ThrownAway(path))
    }

    pub(super) fn path(&self) -> &Path {
        &self.0
    }
}

impl Drop for ThrownAway {
    fn drop(&mut self) {
        // What cannot be removed now is removed with the other temporary files.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}
