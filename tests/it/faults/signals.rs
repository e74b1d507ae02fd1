//! Signals and a terminal that goes away: the terminal is given back, and the half-typed piece is kept.

use super::super::terminal::{Session, book, open_first_lot, screens};
use super::{Tally, open};
use portable_pty::{PtySize, native_pty_system};
use std::io::{Read, Write};
use std::path::Path;

/// Returns what is typed of the diameter in the piece that a book keeps.
fn kept(book: &Path) -> Option<String> {
    let draft = open(book).unwrap().draft().unwrap()?;
    draft.fields.into_iter().find(|field| field.field.label() == "diameter").map(|field| field.text)
}

fn typed(screen: &str) -> bool {
    screen.lines().any(|line| line.contains("> diameter") && line.contains("32."))
}

/// Ends a session by a signal in the middle of a piece.
fn ends_by(name: &str, tally: &mut Tally) {
    let home = tempfile::tempdir().unwrap();
    let book = book(home.path(), 2);
    let mut session = Session::start(home.path(), &book);
    open_first_lot(&mut session);
    session.send("XB-0002\r33.93\r32.");
    session.wait("the half-typed diameter", typed);
    let raw = session.master.get_termios().expect("the terminal has modes");
    session.signal(name);
    let (status, written) = session.ended();
    // POSIX: a program that a signal ended is reported so, and a shell makes 128 and the signal's number of it.
    assert!(status.signal().is_some(), "{name}: {status:?}");
    let given_back = session.master.get_termios().expect("the terminal has modes");
    assert_ne!(raw.local_flags, given_back.local_flags, "{name}: raw mode is off again");
    // xterm control sequences, DECRST and DECSET: 1049 alternate screen, 2004 bracketed paste, 25 cursor.
    for (last, taken) in [("[?1049l", "[?1049h"), ("[?2004l", "[?2004h"), ("[?25h", "[?25l")] {
        let at = |text: &str| written.windows(text.len()).rposition(|bytes| bytes == text.as_bytes());
        assert!(at(last) > at(taken), "{name}: {last}");
    }
    tally.faults += 1;
    tally.acknowledged += 3;
    tally.lost += usize::from(kept(&book).as_deref() != Some("32."));
}

/// Ends a session by taking its terminal away.
fn ends_without_terminal(tally: &mut Tally) {
    let home = tempfile::tempdir().unwrap();
    let book = book(home.path(), 2);
    let size = PtySize { rows: 24, cols: 80, pixel_width: 0, pixel_height: 0 };
    let pair = native_pty_system().openpty(size).unwrap();
    let mut child = pair.slave.spawn_command(screens(home.path(), &book)).unwrap();
    drop(pair.slave);
    let mut reader = pair.master.try_clone_reader().unwrap();
    let mut keys = pair.master.take_writer().unwrap();
    let mut screen = vt100::Parser::new(24, 80, 0);
    let mut wait_until = |ready: &dyn Fn(&str) -> bool| {
        let mut bytes = [0; 4096];
        while !ready(&screen.screen().contents()) {
            let got = reader.read(&mut bytes).unwrap();
            assert!(got > 0, "the program ended early");
            screen.process(&bytes[..got]);
        }
    };
    for (text, key) in [("Moonpond", "\r"), ("line  product", "\r"), ("> serial", "XB-0002\r33.93\r32.")] {
        wait_until(&|screen| screen.contains(text));
        keys.write_all(key.as_bytes()).unwrap();
    }
    wait_until(&typed);
    // Every hand on the other end lets go: the window was closed.
    drop((reader, keys, pair.master));
    let status = child.wait().unwrap();
    assert!(status.signal().is_some(), "{status:?}");
    tally.faults += 1;
    tally.acknowledged += 3;
    tally.lost += usize::from(kept(&book).as_deref() != Some("32."));
}

#[test]
fn every_end_from_outside_gives_the_terminal_back_and_keeps_the_piece() {
    let mut tally = Tally::new("signals and a closed terminal");
    for name in ["-TERM", "-HUP", "-INT"] {
        ends_by(name, &mut tally);
    }
    ends_without_terminal(&mut tally);
    tally.check();
}
