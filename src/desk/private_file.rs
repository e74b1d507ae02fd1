//! Files that the program leaves behind: new ones only, and for their owner's eyes.

use std::fs::{File, OpenOptions};
use std::io;
use std::path::Path;

/// Creates a new file that only its owner may read and write.
///
/// # Errors
/// What the file system says; `AlreadyExists` for a file that is there.
pub fn create_new(path: &Path) -> io::Result<File> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o600);
    }
    options.open(path)
}
