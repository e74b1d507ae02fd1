//! `scruple listen`: what a device sends, so that a dealer can write its profile.

use super::{Printed, json};
use crate::desk::devices::{self, Line, not_opened};
use crate::desk::private_file::create_new;
use crate::desk::{AppError, ErrorKind};
use crate::intake::device::{DeviceProfile, LineCutter, LineSettings, RawLine, StableFilter};
use crate::present::device_text::Made;
use clap::Args;
use std::fs::File;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Arguments of `scruple listen`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple listen /dev/ttyUSB0 --speed 9600 --seconds 20 --record lines.txt
  scruple listen - --profile scale.toml < sent.bin")]
pub(super) struct ListenArgs {
    /// The port of the device; `-` for standard input
    port: PathBuf,
    /// Bits per second [else that of the profile, else 9600]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(50..=4_000_000))]
    speed: Option<u32>,
    /// A profile: shows what it makes of each line
    #[arg(long, value_name = "FILE")]
    profile: Option<PathBuf>,
    /// Listen so long [else until the device is gone, or Ctrl-C]
    #[arg(long, value_name = "N")]
    seconds: Option<u32>,
    /// Write the lines to a new file too, each with its millisecond
    #[arg(long, value_name = "FILE")]
    record: Option<PathBuf>,
}

/// What is listened to.
enum Source {
    Input(io::Stdin),
    Line(Line),
}

/// Where lines go as they come.
struct Sink {
    profile: Option<DeviceProfile>,
    filter: StableFilter,
    record: Option<(PathBuf, File)>,
    json: bool,
}

/// Listens, printing each line as it comes.
pub(super) fn run(args: &ListenArgs, json: bool) -> Result<Printed, AppError> {
    let profile = args.profile.as_deref().map(devices::profile).transpose()?;
    let mut settings = profile.as_ref().map_or_else(LineSettings::default, |profile| profile.line.clone());
    settings.speed = args.speed.unwrap_or(settings.speed);
    let record = args.record.as_deref().map(new_file).transpose()?;
    let source = if args.port == Path::new("-") {
        Source::Input(io::stdin())
    } else {
        Source::Line(Line::open(&args.port, &settings).map_err(|error| not_opened(&args.port, &error))?)
    };
    let sink = Sink { profile, filter: StableFilter::default(), record, json };
    listen(&source, &settings, args, sink)?;
    Ok(Printed::done(String::new()))
}

fn listen(
    source: &Source,
    settings: &LineSettings,
    args: &ListenArgs,
    mut sink: Sink,
) -> Result<(), AppError> {
    let started = Instant::now();
    let end = args.seconds.map(|seconds| Duration::from_secs(u64::from(seconds)));
    let mut cutter = LineCutter::new(settings.ending);
    let mut bytes = [0; 1024];
    let mut asked: Option<Instant> = None;
    while end.is_none_or(|end| started.elapsed() < end) {
        let gone = |error: io::Error| {
            AppError::new(ErrorKind::Io, format!("port `{}` is gone: {error}", args.port.display()))
        };
        let read = match source {
            Source::Input(input) => {
                let read = input.lock().read(&mut bytes).map_err(|error| {
                    AppError::new(ErrorKind::Io, format!("standard input cannot be read: {error}"))
                })?;
                if read == 0 {
                    return Ok(());
                }
                read
            }
            Source::Line(line) => {
                if let Some(request) = &settings.request
                    && asked.is_none_or(|asked| asked.elapsed() >= request.every)
                {
                    asked = Some(Instant::now());
                    line.send(&request.command).map_err(gone)?;
                }
                line.read(&mut bytes).map_err(gone)?
            }
        };
        let at = started.elapsed();
        for line in cutter.take(&bytes[..read]) {
            if !sink.take(line, at)? {
                return Ok(());
            }
        }
    }
    Ok(())
}

impl Sink {
    /// Prints and records a line; `false` when nobody reads any more.
    fn take(&mut self, line: RawLine, at: Duration) -> Result<bool, AppError> {
        let said = self.profile.as_ref().map(|profile| profile.read_line(&line));
        let taken = match (&self.profile, &said) {
            (Some(profile), Some(said)) => self.filter.take(&profile.settling, said.clone(), at).is_some(),
            _ => false,
        };
        if let Some((path, file)) = &mut self.record {
            let written = writeln!(file, "{}\t{line}", at.as_millis());
            written.map_err(|error| cannot_write(path, &error))?;
        }
        let made = Made { at, line, said, taken };
        let text = if self.json { json::row(made.json()) } else { made.text() + "\n" };
        let mut out = io::stdout().lock();
        match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
            Ok(()) => Ok(true),
            // A reader that has seen enough closes the pipe; that is no failure.
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(false),
            Err(error) => {
                Err(AppError::new(ErrorKind::Io, format!("standard output cannot be written: {error}")))
            }
        }
    }
}

fn cannot_write(path: &Path, error: &io::Error) -> AppError {
    AppError::new(ErrorKind::Io, format!("`{}` cannot be written: {error}", path.display()))
}

fn new_file(path: &Path) -> Result<(PathBuf, File), AppError> {
    match create_new(path) {
        Ok(file) => Ok((path.to_owned(), file)),
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
            Err(AppError::failed(format!("`{}` exists already", path.display()))
                .with_hint("name another file or move it away; recordings are never written over"))
        }
        Err(error) => Err(cannot_write(path, &error)),
    }
}
