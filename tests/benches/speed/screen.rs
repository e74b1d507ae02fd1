//! The program on a terminal of 120 columns and 40 rows: from a key to what it brings onto the screen.

use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, native_pty_system};
use std::io::{Read, Write};
use std::path::Path;
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

/// Longest wait for a screen.
const PATIENCE: Duration = Duration::from_secs(60);

/// The program, and what it has drawn.
pub struct Session {
    child: Box<dyn Child + Send + Sync>,
    _master: Box<dyn MasterPty + Send>,
    writer: Box<dyn Write + Send>,
    bytes: Receiver<Vec<u8>>,
    screen: vt100::Parser,
}

impl Session {
    /// Starts the screens on a book.
    pub fn start(home: &Path, book: &Path) -> Session {
        let size = PtySize { rows: 40, cols: 120, pixel_width: 0, pixel_height: 0 };
        let pair = native_pty_system().openpty(size).expect("a pseudo terminal");
        let mut command = CommandBuilder::new(env!("CARGO_BIN_EXE_scruple"));
        command.args(["--book".as_ref(), book.as_os_str()]);
        for name in ["HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME"] {
            command.env(name, home);
        }
        command.env("TERM", "xterm-256color");
        let child = pair.slave.spawn_command(command).expect("the program starts");
        let mut reader = pair.master.try_clone_reader().expect("a reader");
        let writer = pair.master.take_writer().expect("a writer");
        let (send, bytes) = channel();
        std::thread::spawn(move || {
            let mut part = [0; 65536];
            while let Ok(got @ 1..) = reader.read(&mut part) {
                if send.send(part[..got].to_vec()).is_err() {
                    break;
                }
            }
        });
        Session { child, _master: pair.master, writer, bytes, screen: vt100::Parser::new(40, 120, 0) }
    }

    /// Sends keys and returns how long it took until the screen held what is asked for.
    pub fn until(&mut self, keys: &str, ready: impl Fn(&str) -> bool) -> Duration {
        let began = Instant::now();
        self.writer.write_all(keys.as_bytes()).expect("the terminal takes keys");
        self.writer.flush().expect("the terminal takes keys");
        loop {
            let part = self.bytes.recv_timeout(PATIENCE);
            let screen = self.screen.screen();
            let part =
                part.unwrap_or_else(|_| panic!("waited in vain; the screen is\n{}", screen.contents()));
            self.screen.process(&part);
            if ready(&self.screen.screen().contents()) {
                return began.elapsed();
            }
        }
    }
}

impl Drop for Session {
    fn drop(&mut self) {
        // The book is thrown away with it.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
