//! Logs of the program in the state folder, never on the screen; a desk without that folder works without logs.

use crate::desk::config::state_folder;
use std::io;
use std::path::Path;
use tracing_appender::non_blocking::WorkerGuard;
use tracing_appender::rolling::{RollingFileAppender, Rotation};
use tracing_subscriber::EnvFilter;

/// Days of logs that are kept.
const KEPT: usize = 14;

/// Makes the folder of the logs, for its owner only; so is what a later day's file holds, however it is created.
fn private(folder: &Path) -> io::Result<()> {
    std::fs::create_dir_all(folder)?;
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        std::fs::set_permissions(folder, std::fs::Permissions::from_mode(0o700))?;
    }
    Ok(())
}

/// Lets only their owner read the logs; one that somebody else owns is left as it is.
fn close_to_others(folder: &Path) {
    #[cfg(unix)]
    for file in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        use std::os::unix::fs::PermissionsExt;
        let _ = std::fs::set_permissions(file.path(), std::fs::Permissions::from_mode(0o600));
    }
}

/// Starts logging; the guard writes what is left when it is dropped.
pub(super) fn start() -> Option<WorkerGuard> {
    let folder = state_folder()?;
    private(&folder).ok()?;
    let file = RollingFileAppender::builder()
        .rotation(Rotation::DAILY)
        .filename_prefix("scruple")
        .filename_suffix("log")
        .max_log_files(KEPT)
        .build(&folder)
        .ok()?;
    close_to_others(&folder);
    let (writer, guard) = tracing_appender::non_blocking(file);
    let filter = EnvFilter::try_from_env("SCRUPLE_LOG").unwrap_or_else(|_| EnvFilter::new("info"));
    tracing_subscriber::fmt().with_writer(writer).with_env_filter(filter).with_ansi(false).try_init().ok()?;
    Some(guard)
}
