//! The real program on a real terminal: bursts, a hard kill, a scale. Everything waits for text on the screen; signals
//! and more kills stand with the faults.

use portable_pty::{Child, CommandBuilder, ExitStatus, MasterPty, PtySize, native_pty_system};
use std::fmt::Write as _;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::{Arc, Condvar, Mutex};
use std::time::{Duration, Instant};

/// Longest wait for a text; a debug build on a busy machine scores a hundred pieces in less.
const PATIENCE: Duration = Duration::from_secs(120);

/// What the program has written so far.
pub(super) struct Output {
    pub(super) screen: vt100::Parser,
    pub(super) raw: Vec<u8>,
    pub(super) ended: bool,
}

/// The program on a terminal of 80 columns and 24 rows.
pub(super) struct Session {
    child: Box<dyn Child + Send + Sync>,
    pub(super) master: Box<dyn MasterPty + Send>,
    writer: Box<dyn Write + Send>,
    output: Arc<(Mutex<Output>, Condvar)>,
}

impl Session {
    pub(super) fn start(home: &Path, book: &Path) -> Session {
        let size = PtySize { rows: 24, cols: 80, pixel_width: 0, pixel_height: 0 };
        let pair = native_pty_system().openpty(size).expect("a pseudo terminal");
        let command = screens(home, book);
        let mut reader = pair.master.try_clone_reader().expect("a reader");
        let writer = pair.master.take_writer().expect("a writer");
        let output = Output { screen: vt100::Parser::new(24, 80, 0), raw: Vec::new(), ended: false };
        let output = Arc::new((Mutex::new(output), Condvar::new()));
        let child = pair.slave.spawn_command(command).expect("the program starts");
        drop(pair.slave);
        let shared = Arc::clone(&output);
        std::thread::spawn(move || {
            let mut bytes = [0; 4096];
            loop {
                let got = reader.read(&mut bytes).unwrap_or(0);
                let mut output = shared.0.lock().expect("nobody panics while holding it");
                output.screen.process(&bytes[..got]);
                output.raw.extend_from_slice(&bytes[..got]);
                output.ended = got == 0;
                shared.1.notify_all();
                if got == 0 {
                    break;
                }
            }
        });
        Session { child, master: pair.master, writer, output }
    }

    pub(super) fn send(&mut self, keys: &str) {
        self.writer.write_all(keys.as_bytes()).expect("the terminal takes keys");
        self.writer.flush().expect("the terminal takes keys");
    }

    /// Waits until the screen satisfies a condition and returns it.
    #[track_caller]
    pub(super) fn wait(&self, what: &str, ready: impl Fn(&str) -> bool) -> String {
        let deadline = Instant::now() + PATIENCE;
        let (lock, changed) = &*self.output;
        let mut output = lock.lock().expect("the reader does not panic");
        loop {
            let screen = output.screen.screen().contents();
            if ready(&screen) {
                return screen;
            }
            let left = deadline.saturating_duration_since(Instant::now());
            assert!(!left.is_zero() && !output.ended, "waited for {what}; the screen is\n{screen}");
            output = changed.wait_timeout(output, left).expect("the reader does not panic").0;
        }
    }

    #[track_caller]
    pub(super) fn wait_for(&self, text: &str) -> String {
        self.wait(text, |screen| screen.contains(text))
    }

    /// Waits until the program has ended and everything it wrote is read.
    pub(super) fn ended(&mut self) -> (ExitStatus, Vec<u8>) {
        let status = self.child.wait().expect("the program can be waited for");
        let (lock, changed) = &*self.output;
        let mut output = lock.lock().expect("the reader does not panic");
        while !output.ended {
            output = changed.wait_timeout(output, PATIENCE).expect("the reader does not panic").0;
        }
        (status, output.raw.clone())
    }

    /// Waits until the program has written so many bytes in all, or a condition holds for the screen, or it has ended.
    pub(super) fn wait_for_bytes(&self, bytes: usize, or: impl Fn(&str) -> bool) {
        let deadline = Instant::now() + PATIENCE;
        let (lock, changed) = &*self.output;
        let mut output = lock.lock().expect("the reader does not panic");
        while output.raw.len() < bytes && !output.ended && !or(&output.screen.screen().contents()) {
            let left = deadline.saturating_duration_since(Instant::now());
            assert!(!left.is_zero(), "waited for {bytes} bytes");
            output = changed.wait_timeout(output, left).expect("the reader does not panic").0;
        }
    }

    /// Returns how many bytes the program has written, and what the screen shows.
    pub(super) fn shown(&self) -> (usize, String) {
        let output = self.output.0.lock().expect("the reader does not panic");
        (output.raw.len(), output.screen.screen().contents())
    }

    /// Waits until the program is stopped, as a shell's job is.
    fn wait_until_stopped(&self) {
        let id = self.child.process_id().expect("the program runs").to_string();
        let deadline = Instant::now() + PATIENCE;
        loop {
            let told = Command::new("ps").args(["-o", "stat=", "-p", &id]).output().expect("`ps` runs");
            if told.stdout.starts_with(b"T") {
                return;
            }
            assert!(Instant::now() < deadline, "the program is not stopped");
        }
    }

    /// Tells whether the program has the terminal's second screen, and its keys one by one.
    fn has_terminal(&self) -> bool {
        let output = self.output.0.lock().expect("the reader does not panic");
        output.screen.screen().alternate_screen() && output.screen.screen().bracketed_paste()
    }

    pub(super) fn signal(&self, name: &str) {
        let id = self.child.process_id().expect("the program runs").to_string();
        let sent = Command::new("kill").args([name, &id]).status().expect("`kill` runs");
        assert!(sent.success());
    }
}

/// Returns the call that opens the screens on a book.
pub(super) fn screens(home: &Path, book: &Path) -> CommandBuilder {
    let mut command = CommandBuilder::new(env!("CARGO_BIN_EXE_scruple"));
    command.args(["--book".as_ref(), book.as_os_str()]);
    command.cwd(home);
    for (name, value) in environment(home) {
        command.env(name, value);
    }
    command.env("TERM", "xterm-256color");
    command
}

pub(super) fn environment(home: &Path) -> [(&'static str, PathBuf); 4] {
    [
        ("HOME", home.to_owned()),
        ("XDG_DATA_HOME", home.join("data")),
        ("XDG_CONFIG_HOME", home.join("config")),
        ("XDG_STATE_HOME", home.join("state")),
    ]
}

pub(super) fn scruple(home: &Path, book: &Path, args: &[&str]) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_scruple"));
    command.arg("--book").arg(book).args(args).current_dir(home).envs(environment(home));
    let output = command.output().expect("the program runs");
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{args:?}: {errors}");
    String::from_utf8(output.stdout).expect("output is UTF-8")
}

/// Makes a book with one shipment of `pieces` coins with serials.
pub(super) fn book(home: &Path, pieces: usize) -> PathBuf {
    let serials: Vec<String> = (1..=pieces).map(|number| format!("XB-{number:04}")).collect();
    let list = format!("line,product,quantity,serials\n1,us-5112-a7,{pieces},{}\n", serials.join(" "));
    std::fs::write(home.join("list.csv"), list).expect("a file can be written");
    let book = home.join("book.db");
    scruple(home, &book, &["receive", "list.csv", "--source", "Moonpond Bullion (invented)"]);
    book
}

/// Opens the first lot of the newest shipment.
pub(super) fn open_first_lot(session: &mut Session) {
    session.wait_for("Moonpond");
    session.send("\r");
    session.wait_for("line  product");
    session.send("\r");
    session.wait_for("> serial");
}

#[test]
fn two_hundred_entries_at_the_speed_of_the_terminal_are_all_taken() {
    let home = tempfile::tempdir().expect("a folder");
    let book = book(home.path(), 100);
    let mut session = Session::start(home.path(), &book);
    open_first_lot(&mut session);
    // Serial and mass of a hundred pieces; Ctrl-K scores each with what was measured.
    let mut keys = String::new();
    for number in 1..=100 {
        write!(keys, "XB-{number:04}\r33.93\r\u{b}").expect("a string takes text");
    }
    session.send(&keys);
    session.wait_for("100 of 100");
    session.wait_for("S-0001/1-100");
    session.send("\u{11}");
    let (status, written) = session.ended();
    assert!(status.success());
    let written = String::from_utf8_lossy(&written);
    let (_, backup) = written.rsplit_once("backed up to ").expect("the backup of the day is told");
    let backup = backup.split(';').next().expect("the file is named first");
    assert!(scruple(home.path(), Path::new(backup), &["audit"]).contains("no fault, head "), "{backup}");
    let holds = scruple(home.path(), &book, &["holds", "--json"]);
    for number in 1..=100 {
        assert!(holds.contains(&format!("\"S-0001/1-{number:02}\"")), "piece {number}");
    }
}

#[test]
fn a_stop_a_pause_and_a_hard_kill_lose_nothing() {
    let home = tempfile::tempdir().expect("a folder");
    let book = book(home.path(), 3);
    let mut session = Session::start(home.path(), &book);
    // A packing list so long that it takes a while says how far it is, and Esc stops it.
    let lines: String = (1..=80_000).map(|line| format!("{line},us-5112-a7,1\n")).collect();
    std::fs::write(home.path().join("long.csv"), format!("line,product,quantity\n{lines}")).expect("a file");
    session.wait_for("Moonpond");
    session.send("\u{e}");
    session.wait_for("who sent it");
    session.send("Three Geese (invented)\rlong.csv\r");
    session.wait_for(" of 80 000; Esc stops");
    session.send("\u{1b}");
    session.wait_for("stopped: nothing was written");
    session.send("\u{1b}");
    session.wait("the list of shipments", |screen| !screen.contains("long.csv"));
    open_first_lot(&mut session);
    session.send("XB-0002\r33.93\r32.");
    let typed = |screen: &str| screen.lines().any(|line| line.contains("> diameter") && line.contains("32."));
    session.wait("the half-typed diameter", typed);
    // Somebody stops the program from outside: the terminal is given back, and taken again when it goes on.
    session.signal("-TSTP");
    session.wait_until_stopped();
    session.wait("the screen before", |screen| !typed(screen));
    assert!(!session.has_terminal());
    session.signal("-CONT");
    session.wait("the half-typed diameter again", typed);
    assert!(session.has_terminal());
    // Stopped behind its back, it draws everything anew when it goes on.
    session.signal("-STOP");
    session.wait_until_stopped();
    let (drawn, _) = session.shown();
    session.signal("-CONT");
    session.wait_for_bytes(drawn + 500, |_| false);
    session.wait("the half-typed diameter again", typed);
    session.signal("-9");
    session.ended();
    let mut again = Session::start(home.path(), &book);
    let screen = again.wait("the half-typed diameter", typed);
    let has =
        |label: &str, text: &str| screen.lines().any(|line| line.contains(label) && line.contains(text));
    assert!(has("serial", "XB-0002") && has("mass", "33.93"), "{screen}");
    again.send("70\r");
    again.wait("the next field", |screen| screen.contains("> thickness") && screen.contains("32.70"));
    again.send("\u{11}");
    assert!(again.ended().0.success());
    assert!(scruple(home.path(), &book, &["audit"]).contains("no fault, head "));
}

#[test]
fn a_scale_on_a_line_fills_its_field_and_its_loss_is_said() {
    let home = tempfile::tempdir().expect("a folder");
    let book = book(home.path(), 1);
    let size = PtySize { rows: 24, cols: 80, pixel_width: 0, pixel_height: 0 };
    let line = native_pty_system().openpty(size).expect("a pseudo terminal");
    let port = home.path().join("port");
    std::os::unix::fs::symlink(line.master.tty_name().expect("a name"), &port).expect("a link");
    let devices = home.path().join("config/scruple/devices");
    std::fs::create_dir_all(&devices).expect("a folder can be made");
    let shipped = include_str!("../../assets/desk/devices/scale.toml");
    let asked =
        format!("port = \"{}\"\nrequest = \"?\"\nrequest_every_ms = 50\nspeed = 9600", port.display());
    std::fs::write(devices.join("scale.toml"), shipped.replace("speed = 9600", &asked)).expect("a file");
    let mut session = Session::start(home.path(), &book);
    open_first_lot(&mut session);
    // The scale answers each request; its plug is pulled when the test says so.
    let pulled = Arc::new(Mutex::new(false));
    let (plug, end) = (Arc::clone(&pulled), line);
    let scale = std::thread::spawn(move || {
        let mut asks = end.master.try_clone_reader().expect("a reader");
        let mut answers = end.master.take_writer().expect("a writer");
        let mut byte = [0; 1];
        while !*plug.lock().expect("the test does not panic holding it") {
            asks.read_exact(&mut byte).expect("the program asks");
            if byte == *b"?" {
                answers.write_all(b"ok +  33.930 g\r\n").expect("the line takes an answer");
                answers.flush().expect("the line takes an answer");
            }
        }
    });
    let filled = |screen: &str| screen.lines().any(|line| line.contains("mass") && line.contains("33.930 g"));
    session.send("XB-00");
    let screen = session.wait("the mass", filled);
    assert!(screen.contains("> serial"), "{screen}");
    session.send("01\r32.");
    let typed = |screen: &str| screen.lines().any(|line| line.contains("> diameter") && line.contains("32."));
    session.wait("the half-typed diameter", typed);
    // First the name goes, so that the program does not open a line that another test has by then.
    std::fs::remove_file(&port).expect("the link is there");
    *pulled.lock().expect("the scale does not panic holding it") = true;
    scale.join().expect("the scale ends");
    let screen = session.wait_for("scale is not connected");
    assert!(typed(&screen), "{screen}");
    session.send("70\r\u{b}");
    session.wait_for("1 of 1");
    session.send("\u{11}");
    assert!(session.ended().0.success());
    let piece = scruple(home.path(), &book, &["piece", "S-0001/1-01", "--json"]);
    assert!(piece.contains("\"device_line\": \"ok +  33.930 g\""), "{piece}");
    assert!(piece.contains("\"text\": \"32.70\""), "{piece}");
}
