//! Logs of the program in the state folder, never on the screen; a desk without that folder works without logs.

use crate::desk::config::state_folder;
use tracing_appender::non_blocking::WorkerGuard;
use tracing_appender::rolling::{RollingFileAppender, Rotation};
use tracing_subscriber::EnvFilter;

/// Days of logs that are kept.
const KEPT: usize = 14;

/// Starts logging; the guard writes what is left when it is dropped.
pub(super) fn start() -> Option<WorkerGuard> {
    let folder = state_folder()?;
    std::fs::create_dir_all(&folder).ok()?;
    let file = RollingFileAppender::builder()
        .rotation(Rotation::DAILY)
        .filename_prefix("scruple")
        .filename_suffix("log")
        .max_log_files(KEPT)
        .build(&folder)
        .ok()?;
    let (writer, guard) = tracing_appender::non_blocking(file);
    let filter = EnvFilter::try_from_env("SCRUPLE_LOG").unwrap_or_else(|_| EnvFilter::new("info"));
    tracing_subscriber::fmt().with_writer(writer).with_env_filter(filter).with_ansi(false).try_init().ok()?;
    Some(guard)
}
