//! Devices on real lines: one end of a pseudo terminal plays the instrument, the other is the port that the desk opens.
//!
//! `SCRUPLE_LINES_PER_SECOND=10 cargo test --test it a_scale_plays -- --nocapture` plays the long test at the pace of a real
//! scale and prints how long the slowest key waited; without it the lines come as fast as the desk reads them.

use super::bench::{Bench, SILVER};
use super::screens::data::facts;
use portable_pty::{MasterPty, PtySize, native_pty_system};
use scruple::desk::devices::{Devices, Heard, HeardFrom, profiles};
use scruple::desk::{Field, PieceView};
use scruple::evidence::Measurand;
use scruple::intake::LotId;
use scruple::intake::device::{DeviceNews, DeviceProfile};
use scruple::tui::devices::Device;
use scruple::tui::effect::Effect;
use scruple::tui::keymap::Key;
use scruple::tui::message::{Logged, Message, Opened};
use scruple::tui::state::{Moment, State};
use scruple::tui::update::{press, update};
use std::collections::VecDeque;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

/// Longest wait for anything.
const PATIENCE: Duration = Duration::from_secs(120);
/// Pieces that are put on the scale, and lines for each.
const PIECES: usize = 25;
const LINES: usize = 40;

const SCALE: &str = include_str!("../../assets/desk/devices/scale.toml");

/// The scale's end of a line.
struct Scale {
    port: PathBuf,
    _master: Box<dyn MasterPty + Send>,
    writer: Box<dyn Write + Send>,
}

impl Drop for Scale {
    /// Pulls the plug: first the name goes, so that nobody opens a line that another test has by then, then the line.
    fn drop(&mut self) {
        std::fs::remove_file(&self.port).unwrap();
    }
}

impl Scale {
    /// Plugs a scale in: makes a line and lets `port` lead to it.
    fn plug_in(port: &Path) -> Scale {
        let size = PtySize { rows: 24, cols: 80, pixel_width: 0, pixel_height: 0 };
        let pair = native_pty_system().openpty(size).unwrap();
        let end = pair.master.tty_name().unwrap();
        let new = port.with_extension("new");
        std::os::unix::fs::symlink(end, &new).unwrap();
        std::fs::rename(&new, port).unwrap();
        let writer = pair.master.take_writer().unwrap();
        Scale { port: port.to_owned(), _master: pair.master, writer }
    }

    fn send(&mut self, bytes: &[u8]) {
        self.writer.write_all(bytes).unwrap();
        self.writer.flush().unwrap();
    }
}

/// What reaches the loop of the desk.
enum Incoming {
    Key(Key, Instant),
    Device,
}

/// The bench with its book, its state and its devices, driven as the shell drives it.
struct Desk {
    bench: Bench,
    lot: LotId,
    state: State,
    devices: Devices,
    incoming: Receiver<Incoming>,
    keys: Sender<Incoming>,
    port: PathBuf,
    pieces: Vec<String>,
    clock: u64,
    slowest: Duration,
    news: usize,
}

impl Desk {
    fn new(pieces: u32, serials: &str) -> Desk {
        let mut bench = Bench::new();
        let lot = bench.lot(SILVER, pieces, serials);
        let port = bench.folder().join("port");
        let folder = bench.folder().join("devices");
        std::fs::create_dir(&folder).unwrap();
        let text = SCALE.replace("speed = 9600", &format!("port = \"{}\"\nspeed = 9600", port.display()));
        std::fs::write(folder.join("scale.toml"), text).unwrap();
        let profiles: Vec<DeviceProfile> = profiles(Some(bench.folder())).unwrap();
        let (keys, incoming) = channel();
        let bell = keys.clone();
        let mut state = State::new(facts());
        state.devices = profiles.iter().cloned().map(Device::new).collect();
        let devices = Devices::listen(&profiles, move || drop(bell.send(Incoming::Device)));
        let mut desk = Desk {
            bench,
            lot,
            state,
            devices,
            incoming,
            keys,
            port,
            pieces: Vec::new(),
            clock: 1000,
            slowest: Duration::ZERO,
            news: 0,
        };
        let view = desk.bench.desk().lot(lot).unwrap();
        let draft = desk.bench.desk().new_draft(lot).unwrap();
        let opened = Opened { lot: view, pieces: Vec::new(), draft, echoes: Vec::new() };
        desk.message(Message::LotOpened(Box::new(opened)));
        desk
    }

    fn message(&mut self, message: Message) {
        let effects = update(&mut self.state, message);
        self.carry_out(effects);
    }

    fn carry_out(&mut self, effects: Vec<Effect>) {
        let mut queue: VecDeque<Effect> = effects.into();
        while let Some(effect) = queue.pop_front() {
            let desk = self.bench.desk();
            let answer = match effect {
                Effect::Echo { lot, index, field, text } => {
                    Message::Echoed { index, echo: desk.echo(lot, field, &text).unwrap() }
                }
                Effect::KeepDraft(draft) | Effect::SaveDraft(draft) => {
                    desk.save_draft(&draft).unwrap();
                    Message::DraftSaved
                }
                Effect::Log(draft) => {
                    let piece = desk.log_piece(&draft).unwrap();
                    self.pieces.push(piece.number.clone());
                    let (lot, draft) = (desk.lot(draft.lot).unwrap(), desk.new_draft(draft.lot).unwrap());
                    Message::Logged(Box::new(Logged { piece, lot, draft }))
                }
                _ => continue,
            };
            queue.extend(update(&mut self.state, answer));
        }
    }

    /// Takes what comes until `done` says so.
    #[track_caller]
    fn until(&mut self, done: impl Fn(&Desk, &[HeardFrom]) -> bool) {
        loop {
            let mut heard = Vec::new();
            match self.incoming.recv_timeout(PATIENCE).expect("something comes") {
                Incoming::Key(key, sent) => {
                    self.clock += 200;
                    let effects = press(&mut self.state, key, Moment(self.clock));
                    self.carry_out(effects);
                    self.slowest = self.slowest.max(sent.elapsed());
                }
                Incoming::Device => {
                    heard = self.devices.heard();
                    self.news += heard.len();
                    for heard in heard.clone() {
                        self.message(Message::Device(heard));
                    }
                }
            }
            if done(self, &heard) {
                return;
            }
        }
    }

    #[track_caller]
    fn until_heard(&mut self, wanted: impl Fn(&Heard) -> bool) {
        self.until(|_, heard| heard.iter().any(|heard| wanted(&heard.heard)));
    }

    fn field(&self, measurand: Measurand) -> (String, bool) {
        let work = self.state.bench.work.as_ref().unwrap();
        let field =
            work.draft.fields.iter().find(|field| field.field == Field::Reading(measurand, 1)).unwrap();
        (field.text.clone(), field.accepted)
    }

    /// Sends keys as a typist does: from another thread, so that they wait in the queue like any.
    fn keys(&self, text: &str) {
        type_into(&self.keys, text);
    }
}

fn type_into(keys: &Sender<Incoming>, text: &str) {
    for c in text.chars() {
        let key = match c {
            '↓' => Key::Down,
            '\r' => Key::Enter,
            c => Key::Char(c),
        };
        keys.send(Incoming::Key(key, Instant::now())).unwrap();
    }
}

/// The mass of a piece, as the scale shows it.
fn mass(piece: usize) -> String {
    format!("31.{:02}", 4 + (piece * 7) % 13)
}

/// The lines of one piece: an empty pan, the piece coming to rest among noise, a tap on the pan, the empty pan again. The
/// second part follows when the piece was logged.
fn lines_of(piece: usize) -> (Vec<Vec<u8>>, Vec<Vec<u8>>) {
    let text = |text: &str| text.as_bytes().to_vec();
    let at_rest = text(&format!("ok +   {} g", mass(piece)));
    let mut on = vec![text("ok +    0.00 g"); 3];
    for step in 0..8 {
        on.push(match (piece + step) % 8 {
            0 => text("high"),
            1 => vec![0xff, 0x00, 0x91, b'k', 0x07, b'9'],
            2 => text("ok +   1.0002 ozt"),
            3 => text("ok +   31.1"),
            4 => text("low"),
            _ => text(&format!("move +   {}.{} g", 3 * step + 1, piece % 10)),
        });
    }
    for last in ["31.3", "31.2", "31.0"] {
        on.push(text(&format!("ok +   {last}{} g", piece % 10)));
    }
    on.extend(vec![at_rest.clone(); 10]);
    on.extend([text("move +   44.1 g"), text("high")]);
    on.extend(vec![at_rest; 4]);
    let mut off: Vec<Vec<u8>> = [25, 14, 6, 2].map(|grams| text(&format!("move +   {grams}.5 g"))).to_vec();
    off.extend((0..6).map(|line| text(if line % 3 == 2 { "ok -    0.01 g" } else { "ok +    0.00 g" })));
    assert_eq!(on.len() + off.len(), LINES);
    (on, off)
}

/// What a line of a piece looks like in the book.
fn sent_line(piece: usize) -> String {
    format!("ok +   {} g", mass(piece))
}

#[test]
fn a_scale_plays_a_thousand_lines_and_each_piece_gives_one_reading() {
    let pace = std::env::var("SCRUPLE_LINES_PER_SECOND").ok().and_then(|pace| pace.parse::<f64>().ok());
    let mut desk = Desk::new(PIECES as u32, "");
    let mut scale = Scale::plug_in(&desk.port);
    desk.until_heard(|heard| *heard == Heard::Connected);
    let (may_go_on, next) = channel::<()>();
    let player = std::thread::spawn(move || {
        let mut lines = 0;
        let mut play = |batch: Vec<Vec<u8>>| {
            for line in batch {
                scale.send(&[line.as_slice(), b"\r\n"].concat());
                lines += 1;
                if let Some(pace) = pace {
                    std::thread::sleep(Duration::from_secs_f64(1.0 / pace));
                }
            }
        };
        for piece in 0..PIECES {
            let (on, off) = lines_of(piece);
            // A person puts a piece on while the other hand types, and takes it off when it is logged.
            next.recv().unwrap();
            play(on);
            next.recv().unwrap();
            play(off);
        }
        (lines, scale)
    });
    let started = Instant::now();
    for piece in 0..PIECES {
        // Somebody types all the time: half the diameter while the piece comes to rest, the rest and more when it has.
        desk.keys("↓40");
        desk.until(|desk, _| desk.field(Measurand::Diameter).0 == "40");
        may_go_on.send(()).unwrap();
        desk.keys(".");
        desk.until(|desk, _| desk.field(Measurand::Mass).1 && desk.field(Measurand::Diameter).0 == "40.");
        assert_eq!(desk.field(Measurand::Mass), (format!("{} g", mass(piece)), true));
        desk.keys("60\r2.98\r61.9\r21.3\r");
        desk.until(|desk, _| desk.pieces.len() > piece);
        may_go_on.send(()).unwrap();
    }
    let (lines, scale) = player.join().unwrap();
    drop(scale);
    desk.until_heard(|heard| matches!(heard, Heard::Gone(_)));
    assert_eq!((lines, desk.pieces.len()), (PIECES * LINES, PIECES));
    if pace.is_some() {
        println!(
            "{lines} lines in {:.1} s, {} readings, {} news, slowest key {} ms",
            started.elapsed().as_secs_f64(),
            desk.pieces.len(),
            desk.news,
            desk.slowest.as_millis()
        );
    }
    let lot = desk.lot;
    let pieces = desk.bench.desk().pieces(lot).unwrap();
    for (at, piece) in pieces.iter().enumerate() {
        let reading =
            |measurand| piece.readings.iter().find(|reading| reading.measurand == measurand).unwrap();
        let weighed = reading(Measurand::Mass);
        assert_eq!(weighed.text, format!("{} g", mass(at)), "piece {at}");
        assert_eq!(weighed.device_line, Some(sent_line(at)));
        let typed = reading(Measurand::Diameter);
        assert_eq!((typed.text.as_str(), &typed.device_line), ("40.60", &None));
    }
}

#[test]
fn a_scale_pulled_out_in_mid_piece_loses_nothing_and_comes_back() {
    let mut desk = Desk::new(2, "");
    let mut scale = Scale::plug_in(&desk.port);
    desk.until_heard(|heard| *heard == Heard::Connected);
    desk.keys("↓40.");
    scale.send(b"ok + 0.00 g\r\nmove + 1.0 g\r\nok + 31.10 g\r\nok + 31.10 g\r\nok + 31.10 g\r\nok + 31.");
    desk.until(|desk, heard| {
        let rest = |heard: &HeardFrom| matches!(&heard.heard, Heard::News(DeviceNews::Note(note)) if note.to_string() == "at rest");
        desk.field(Measurand::Diameter).0 == "40." && heard.iter().any(rest)
    });
    drop(scale);
    desk.until_heard(|heard| matches!(heard, Heard::Gone(_)));
    let shown = desk.state.devices[0].words().unwrap().1;
    assert!(shown.starts_with("! scale is not connected ("), "{shown}");
    // Typing goes on, and what was half typed is still there, on disk too.
    desk.keys("6");
    desk.until(|desk, _| desk.field(Measurand::Diameter).0 == "40.6");
    let disk = desk.bench.desk().draft().unwrap().unwrap();
    assert!(disk.fields.iter().any(|field| field.text == "40.6"));
    assert_eq!(
        desk.field(Measurand::Mass),
        (String::new(), false),
        "three lines and a piece of one are no value"
    );
    let mut scale = Scale::plug_in(&desk.port);
    desk.until_heard(|heard| *heard == Heard::Connected);
    scale.send(b"10 g\r\n");
    scale.send(&b"ok + 31.10 g\r\n".repeat(4));
    desk.until(|desk, _| desk.field(Measurand::Mass).1);
    assert_eq!(desk.field(Measurand::Mass).0, "31.10 g");
    assert_eq!(desk.field(Measurand::Diameter).0, "40.6");
}

#[test]
fn keys_are_taken_while_a_device_never_stops_talking() {
    let mut desk = Desk::new(1, "");
    let mut scale = Scale::plug_in(&desk.port);
    desk.until_heard(|heard| *heard == Heard::Connected);
    let stop = Arc::new(AtomicBool::new(false));
    let stopped = Arc::clone(&stop);
    let player = std::thread::spawn(move || {
        // Each line says something else than the one before, so that every one is news.
        while !stopped.load(Ordering::SeqCst) {
            scale.send(&b"move + 1.0 g\r\nhigh\r\nok + 2 ozt\r\n\x01\r\n".repeat(20));
        }
    });
    for digit in "40.6".chars() {
        desk.keys(&digit.to_string());
        desk.until(|desk, _| desk.field(Measurand::Mass).0.ends_with(digit) || desk.news > 0);
    }
    desk.until(|desk, _| desk.field(Measurand::Mass).0 == "40.6" && desk.news > 1000);
    stop.store(true, Ordering::SeqCst);
    // The scale may be waiting for room on its line.
    while !player.is_finished() {
        desk.devices.heard();
        std::thread::yield_now();
    }
    assert_eq!(desk.field(Measurand::Mass), ("40.6".to_owned(), false));
}

#[test]
fn a_correction_has_no_line_of_a_device_and_taken_back_it_has_it_again() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 1, "");
    let mut draft = bench.filled(lot, &[]);
    draft.fields[0].device_line = Some("ok +  31.10 g".to_owned());
    let piece = bench.desk().log_piece(&draft).unwrap();
    let sent = |piece: &PieceView| piece.readings[0].device_line.clone();
    assert_eq!(sent(&piece).as_deref(), Some("ok +  31.10 g"));
    let field = Field::Reading(Measurand::Mass, 1);
    let corrected = bench.desk().correct(piece.id, field, "31.11", "misread").unwrap();
    assert_eq!(sent(&corrected), None);
    bench.desk().undo().unwrap();
    let again = bench.desk().piece(piece.id).unwrap();
    assert_eq!((again.readings[0].text.as_str(), sent(&again).as_deref()), ("31.10", Some("ok +  31.10 g")));
}

#[test]
fn profiles_are_read_by_name_and_two_devices_do_not_share_a_line() {
    let folder = tempfile::tempdir().unwrap();
    assert!(profiles(None).unwrap().is_empty());
    assert!(profiles(Some(folder.path())).unwrap().is_empty());
    let devices = folder.path().join("devices");
    std::fs::create_dir(&devices).unwrap();
    std::fs::write(devices.join("notes.txt"), "not a profile").unwrap();
    for name in ["scale", "other scale"] {
        std::fs::write(devices.join(format!("{name}.toml")), SCALE).unwrap();
    }
    let names: Vec<String> =
        profiles(Some(folder.path())).unwrap().into_iter().map(|profile| profile.name).collect();
    assert_eq!(names, ["other scale", "scale"]);
    for name in ["scale", "other scale"] {
        let text = SCALE.replace("# port = \"/dev/serial/by-id/...\"", "port = \"/dev/ttyUSB0\"");
        std::fs::write(devices.join(format!("{name}.toml")), text).unwrap();
    }
    let error = profiles(Some(folder.path())).unwrap_err();
    let said =
        "devices `other scale` and `scale` have the same port `/dev/ttyUSB0`; one line reaches one device";
    assert_eq!(error.message, said);
    std::fs::write(devices.join("scale.toml"), SCALE.replace("lines = 4", "lines = 0")).unwrap();
    let error = profiles(Some(folder.path())).unwrap_err();
    let line = SCALE.lines().position(|line| line == "lines = 4").unwrap() + 1;
    let said = format!("scale.toml:{line}: `stable.lines`: 0 is out of range; allowed is 2 to 100");
    assert!(error.message.ends_with(&said), "{}", error.message);
}
