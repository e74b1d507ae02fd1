//! Devices on serial lines: their profiles in the config folder, and one thread for each that is plugged in.
//!
//! A thread reads its line, keeps what matters and puts it into a queue of fixed length. When the desk is busy the queue
//! fills and the thread waits; lines that the operating system cannot hold meanwhile are lost like any noise, while keys are
//! taken all the time, because they have a queue of their own. A line that breaks is said once and tried again quietly.

use super::config::unreadable;
use super::{AppError, ErrorKind};
use crate::intake::device::{DeviceFeed, DeviceNews, DeviceProfile, LineSettings, Parity};
use serial2::{CharSize, FlowControl, SerialPort, Settings, StopBits};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::time::{Duration, Instant};

/// Folder of the profiles in the config folder.
pub(super) const FOLDER: &str = "devices";
/// Longest wait for bytes, after which a thread looks whether it is still wanted.
const LOOK_UP: Duration = Duration::from_millis(200);
/// First and longest pause between two tries to open a line that broke.
const TRY_AGAIN: (Duration, Duration) = (Duration::from_millis(250), Duration::from_secs(4));
/// News that wait at most, of all devices together.
const QUEUE: usize = 64;
/// Bytes read at once.
const BYTES: usize = 1024;

/// Returns the profiles of a config folder in the order of their names; a folder that is not there has none.
///
/// # Errors
/// A file that cannot be read, or the first mistake of one, with its line and field.
pub fn profiles(folder: Option<&Path>) -> Result<Vec<DeviceProfile>, AppError> {
    let Some(folder) = folder.map(|folder| folder.join(FOLDER)) else { return Ok(Vec::new()) };
    let entries = match std::fs::read_dir(&folder) {
        Ok(entries) => entries,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(error) => return Err(unreadable(&folder, &error)),
    };
    let mut paths = entries
        .map(|entry| entry.map(|entry| entry.path()))
        .collect::<io::Result<Vec<PathBuf>>>()
        .map_err(|error| unreadable(&folder, &error))?;
    paths.retain(|path| path.extension().is_some_and(|kind| kind == "toml"));
    paths.sort();
    let profiles = paths.iter().map(|path| profile(path)).collect::<Result<Vec<_>, _>>()?;
    for (index, later) in profiles.iter().enumerate() {
        let same = |earlier: &&DeviceProfile| later.port.is_some() && earlier.port == later.port;
        if let (Some(earlier), Some(port)) = (profiles[..index].iter().find(same), &later.port) {
            let message = format!(
                "devices `{}` and `{}` have the same port `{}`; one line reaches one device",
                earlier.name,
                later.name,
                port.display()
            );
            return Err(AppError::failed(message).with_hint("take `port` out of one of the two files"));
        }
    }
    Ok(profiles)
}

/// Reads one profile; the device is called after its file.
///
/// # Errors
/// As [`profiles`].
pub fn profile(path: &Path) -> Result<DeviceProfile, AppError> {
    let text = std::fs::read_to_string(path).map_err(|error| unreadable(path, &error))?;
    let name = path.file_stem().unwrap_or_default().to_string_lossy();
    DeviceProfile::parse(&name, &path.display().to_string(), &text)
        .map_err(|error| AppError::failed(error.to_string()))
}

/// A serial line that is open.
#[derive(Debug)]
pub struct Line(SerialPort);

impl Line {
    /// Opens a line; what was sent before is dropped.
    ///
    /// # Errors
    /// What the operating system says, or settings that the line does not take.
    pub fn open(port: &Path, settings: &LineSettings) -> io::Result<Self> {
        let mut line = SerialPort::open(port, |mut set: Settings| {
            set.set_raw();
            set.set_baud_rate(settings.speed)?;
            set.set_char_size(if settings.data_bits == 7 { CharSize::Bits7 } else { CharSize::Bits8 });
            set.set_parity(match settings.parity {
                Parity::None => serial2::Parity::None,
                Parity::Even => serial2::Parity::Even,
                Parity::Odd => serial2::Parity::Odd,
            });
            set.set_stop_bits(if settings.stop_bits == 2 { StopBits::Two } else { StopBits::One });
            set.set_flow_control(FlowControl::None);
            Ok(set)
        })?;
        let asks = settings.request.as_ref().map(|request| request.every);
        line.set_read_timeout(asks.map_or(LOOK_UP, |every| every.min(LOOK_UP)))?;
        line.set_write_timeout(LOOK_UP)?;
        line.discard_input_buffer()?;
        Ok(Line(line))
    }

    /// Reads what has come, waiting a fifth of a second at most; returns how many bytes, 0 when none came.
    ///
    /// # Errors
    /// When the device is gone.
    pub fn read(&self, bytes: &mut [u8]) -> io::Result<usize> {
        match self.0.read(bytes) {
            Ok(0) => Err(io::Error::new(io::ErrorKind::UnexpectedEof, "the line has ended")),
            Err(error) if matches!(error.kind(), io::ErrorKind::TimedOut | io::ErrorKind::WouldBlock) => {
                Ok(0)
            }
            read => read,
        }
    }

    /// Sends a command; one that the device does not take in time is left out.
    ///
    /// # Errors
    /// When the device is gone.
    pub fn send(&self, command: &[u8]) -> io::Result<()> {
        match self.0.write_all(command) {
            Err(error) if matches!(error.kind(), io::ErrorKind::TimedOut | io::ErrorKind::WouldBlock) => {
                Ok(())
            }
            sent => sent,
        }
    }
}

/// Makes the error of a line that cannot be opened.
pub fn not_opened(port: &Path, error: &io::Error) -> AppError {
    let error = AppError::new(ErrorKind::Io, format!("port `{}` cannot be opened: {error}", port.display()));
    error.with_hint(
        "is the device plugged in, and may you use the port? some systems want a group such as `dialout`",
    )
}

/// What a device did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Heard {
    /// It can be heard.
    Connected,
    /// It cannot be heard, and why; it is tried again until it can.
    Gone(String),
    /// What it said.
    News(DeviceNews),
}

/// What a device did, and which.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HeardFrom {
    /// Place of the device among the profiles handed in.
    pub device: usize,
    /// What it did.
    pub heard: Heard,
}

/// The threads that listen; dropping it ends them.
#[derive(Debug)]
pub struct Devices {
    queue: Receiver<HeardFrom>,
    waiting: Arc<AtomicBool>,
    wanted: Arc<AtomicBool>,
}

impl Devices {
    /// Starts a thread for each device that has a port. `wake` is called when something waits that did not before.
    pub fn listen<W>(profiles: &[DeviceProfile], wake: W) -> Devices
    where
        W: Fn() + Clone + Send + 'static,
    {
        let (sender, queue) = sync_channel(QUEUE);
        let waiting = Arc::new(AtomicBool::new(false));
        let wanted = Arc::new(AtomicBool::new(true));
        for (device, profile) in profiles.iter().enumerate() {
            let Some(port) = profile.port.clone() else { continue };
            let profile = Arc::new(profile.clone());
            let feed = DeviceFeed::new(Arc::clone(&profile));
            let tell =
                Teller { device, sender: sender.clone(), waiting: Arc::clone(&waiting), wake: wake.clone() };
            let wanted = Arc::clone(&wanted);
            std::thread::spawn(move || follow(&port, &profile, feed, &tell, &wanted));
        }
        Devices { queue, waiting, wanted }
    }

    /// Returns what waits, in its order, and never waits itself; at most as much as the queue holds, so that a device that
    /// never stops talking does not keep the desk from its keys.
    pub fn heard(&self) -> Vec<HeardFrom> {
        // The flag first: what comes after it wakes anew.
        self.waiting.store(false, Ordering::SeqCst);
        self.queue.try_iter().take(QUEUE).collect()
    }
}

impl Drop for Devices {
    fn drop(&mut self) {
        self.wanted.store(false, Ordering::SeqCst);
    }
}

/// The way from a thread to the desk.
struct Teller<W> {
    device: usize,
    sender: SyncSender<HeardFrom>,
    waiting: Arc<AtomicBool>,
    wake: W,
}

impl<W: Fn()> Teller<W> {
    /// Puts something into the queue, waiting while it is full; `false` when nobody listens any more.
    fn tell(&self, heard: Heard) -> bool {
        if self.sender.send(HeardFrom { device: self.device, heard }).is_err() {
            return false;
        }
        if !self.waiting.swap(true, Ordering::SeqCst) {
            (self.wake)();
        }
        true
    }
}

/// Follows a device until nobody wants it: opens its line, reads it, and opens it again when it broke.
fn follow<W: Fn()>(
    port: &Path,
    profile: &DeviceProfile,
    mut feed: DeviceFeed,
    tell: &Teller<W>,
    wanted: &AtomicBool,
) {
    let started = Instant::now();
    let mut said_gone = false;
    let mut pause = TRY_AGAIN.0;
    while wanted.load(Ordering::SeqCst) {
        let broken = match Line::open(port, &profile.line) {
            Ok(line) => {
                if !tell.tell(Heard::Connected) {
                    return;
                }
                (said_gone, pause) = (false, TRY_AGAIN.0);
                feed.connected();
                match read_on(&line, profile, &mut feed, tell, wanted, started) {
                    Some(error) => error,
                    None => return,
                }
            }
            Err(error) => error,
        };
        if !std::mem::replace(&mut said_gone, true) && !tell.tell(Heard::Gone(broken.to_string())) {
            return;
        }
        std::thread::sleep(pause);
        pause = (pause * 2).min(TRY_AGAIN.1);
    }
}

/// Reads a line until it breaks; `None` when nobody wants it any more.
fn read_on<W: Fn()>(
    line: &Line,
    profile: &DeviceProfile,
    feed: &mut DeviceFeed,
    tell: &Teller<W>,
    wanted: &AtomicBool,
    started: Instant,
) -> Option<io::Error> {
    let mut bytes = [0; BYTES];
    let mut asked: Option<Instant> = None;
    while wanted.load(Ordering::SeqCst) {
        if let Some(request) = &profile.line.request
            && asked.is_none_or(|asked| asked.elapsed() >= request.every)
        {
            asked = Some(Instant::now());
            if let Err(error) = line.send(&request.command) {
                return Some(error);
            }
        }
        let read = match line.read(&mut bytes) {
            Ok(read) => read,
            Err(error) => return Some(error),
        };
        for news in feed.take(&bytes[..read], started.elapsed()) {
            if !tell.tell(Heard::News(news)) {
                return None;
            }
        }
    }
    None
}
