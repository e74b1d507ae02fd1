//! Every parser on mutilated valid input: no panic, no hang, and an error that names the place.
//!
//! The mutations come from a seed, so that a failure comes again; what fails is printed with the input.

use super::super::faults::{Dice, how_many};
use scruple::desk::check_register;
use scruple::evidence::Measurand;
use scruple::intake::device::{DeviceFeed, DeviceProfile};
use scruple::intake::{RowError, Serial, packing_list, price_list, readings_list, typed};
use scruple::physics::recording::ring_of_recording;
use scruple::quantity::{Currency, Money};
use scruple::reference::Catalogue;
use scruple::scoring::Policy;
use std::panic::catch_unwind;
use std::sync::Arc;
use std::sync::mpsc::channel;
use std::time::Duration;

/// Longest wait for all mutations of one parser.
const PATIENCE: Duration = Duration::from_secs(600);
/// Name under which every text is handed over.
const FILE: &str = "mutilated.txt";

/// What breaks parsers: marks of other grammars, huge and strange numbers, characters of other lengths and directions.
const NASTY: [&str; 40] = [
    "\0",
    "\u{1b}[2J",
    "\u{9b}31m",
    "\u{202e}",
    "\u{200b}",
    "\u{feff}",
    "\u{10ffff}",
    "\u{1F4B0}",
    "\u{301}",
    "\r",
    "\n",
    "\r\n",
    "\t",
    ",",
    ";",
    "\"",
    "\"\"",
    "'",
    "=",
    "=cmd()",
    "+",
    "-",
    "@",
    "#",
    "[",
    "[[",
    "]",
    "{",
    "}",
    "\\",
    "\\u{0}",
    "e999",
    "-0",
    "0.0000000000000000000000001",
    "99999999999999999999999999",
    "NaN",
    "inf",
    "true",
    "1979-05-27",
    "%IACS",
];

/// Returns the input with some harm done to it.
fn mutilate(input: &[u8], other: &[u8], dice: &mut Dice) -> Vec<u8> {
    let mut bytes = input.to_vec();
    for _ in 0..=dice.below(6) {
        let at = dice.below(bytes.len() + 1);
        let length = dice.below(12.min(bytes.len() - at + 1));
        match dice.below(9) {
            0 => bytes.truncate(at),
            1 => drop(bytes.drain(at..at + length)),
            2 => {
                let copied = bytes[at..at + length].to_vec();
                bytes.splice(at..at, copied);
            }
            3 if at < bytes.len() => bytes[at] ^= 1 << dice.below(8),
            4 if at < bytes.len() => bytes[at] = dice.below(256) as u8,
            5 => {
                let from = dice.below(other.len() + 1);
                let piece = &other[from..(from + dice.below(80)).min(other.len())];
                bytes.splice(at..at, piece.iter().copied());
            }
            6 => {
                let again = NASTY[dice.below(NASTY.len())].repeat(1 + dice.below(300));
                bytes.splice(at..at, again.bytes());
            }
            _ => drop(bytes.splice(at..at + length, NASTY[dice.below(NASTY.len())].bytes())),
        }
    }
    bytes
}

/// What a parser says: nothing when it took the input, else every error as text.
type Says = Vec<String>;

/// Feeds a parser mutilated input; `complaint` tells what is wrong with an error.
#[track_caller]
fn attack(
    name: &'static str,
    corpus: Vec<Vec<u8>>,
    full: usize,
    parse: impl Fn(&[u8]) -> Says + Send + Sync + std::panic::RefUnwindSafe + 'static,
    complaint: fn(&str) -> Option<&'static str>,
) {
    let number = how_many(full / 20, full);
    let (answer, answered) = channel();
    std::thread::spawn(move || {
        let mut dice = Dice::new(name.len() as u64 * 31 + 5);
        let mut wrong = Vec::new();
        let (mut taken, mut refused) = (0, 0);
        for _ in 0..number {
            let input = &corpus[dice.below(corpus.len())];
            let other = &corpus[dice.below(corpus.len())];
            let bytes = mutilate(input, other, &mut dice);
            match catch_unwind(|| parse(&bytes)) {
                Err(_) => wrong.push(format!("panic on {:?}", String::from_utf8_lossy(&bytes))),
                Ok(says) if says.is_empty() => taken += 1,
                Ok(says) => {
                    refused += 1;
                    let bad =
                        says.iter().find_map(|says| complaint(says).map(|why| format!("{why}: {says}")));
                    wrong.extend(bad);
                }
            }
        }
        // Nobody waits any longer once the patience is over.
        let _ = answer.send((wrong, taken, refused));
    });
    let (wrong, taken, refused) = answered.recv_timeout(PATIENCE).unwrap_or_else(|_| panic!("{name} hangs"));
    println!("{name:<22}{number:>8} inputs{taken:>8} taken{refused:>8} refused{:>6} wrong", wrong.len());
    assert_eq!(wrong, Vec::<String>::new(), "{name}");
    assert!(refused > number / 20, "{name}: hardly anything was refused: the mutations are too tame");
}

/// Runs a parser of texts; what is not UTF-8 is refused before it.
fn on_text(parse: impl Fn(&str) -> Says) -> impl Fn(&[u8]) -> Says {
    move |bytes| parse(&String::from_utf8_lossy(bytes))
}

fn texts(corpus: &[&str]) -> Vec<Vec<u8>> {
    corpus.iter().map(|text| text.as_bytes().to_vec()).collect()
}

fn rows(errors: Vec<RowError>) -> Says {
    assert!(!errors.is_empty(), "a refusal without a reason");
    errors.iter().map(ToString::to_string).collect()
}

fn names_row(says: &str) -> Option<&'static str> {
    let placed = says.starts_with("row ") && (says.contains("column `") || says.contains("found"));
    (!placed).then_some("no row and column is named")
}

fn names_file(says: &str) -> Option<&'static str> {
    (!says.contains(FILE)).then_some("no file is named")
}

fn says_something(says: &str) -> Option<&'static str> {
    (says.trim().is_empty() || says.ends_with('.')).then_some("no error text of the house")
}

fn eur() -> Currency {
    Currency::parse("EUR").unwrap()
}

#[test]
fn typed_values_survive_mutilation() {
    let corpus = [
        "31.105 g",
        "1 ozt",
        "480 gr",
        "38,6mm",
        "1.52 in",
        "61.2 MS/m",
        "105 %IACS",
        "23 C",
        "-",
        "=",
        "AB-0041",
    ];
    let parse = |text: &str| {
        let mut says = Vec::new();
        for measurand in Measurand::ALL {
            says.extend(typed::read(measurand, text, None).err().map(|error| error.to_string()));
        }
        says.extend(Money::parse(text, eur()).err().map(|error| error.to_string()));
        says.extend(Serial::parse(text).err().map(|error| error.to_string()));
        says
    };
    attack("typed values", texts(&corpus), 40_000, on_text(parse), says_something);
}

#[test]
fn packing_lists_survive_mutilation() {
    let corpus = [
        include_str!("../../../assets/demo/moonpond-list.csv"),
        include_str!("../../../assets/demo/three-geese-list.csv"),
        include_str!("../../../assets/demo/tin-kettle-list.csv"),
    ];
    let parse = |text: &str| {
        packing_list::read(text, Catalogue::embedded(), eur()).err().map(rows).unwrap_or_default()
    };
    attack("packing list", texts(&corpus), 4000, on_text(parse), names_row);
}

#[test]
fn lists_of_readings_survive_mutilation() {
    let corpus = [
        include_str!("../../../assets/demo/moonpond-readings.csv"),
        include_str!("../../../assets/demo/three-geese-readings.csv"),
        include_str!("../../../assets/demo/tin-kettle-readings.csv"),
    ];
    let instruments = scruple::evidence::Instruments::built_in();
    let parse = move |text: &str| match readings_list::read(text, &[1, 2, 3], &instruments) {
        Ok(list) if list.rejected.is_empty() => Vec::new(),
        Ok(list) => rows(list.rejected),
        Err(errors) => rows(errors),
    };
    attack("readings list", texts(&corpus), 4000, on_text(parse), names_row);
}

#[test]
fn price_lists_survive_mutilation() {
    let corpus = ["metal,price\ngold,2400\nsilver,30.15\nplatinum,950\n", "metal;price\ngold;2400,50\n"];
    let parse = |text: &str| price_list::read(text, eur()).err().map(rows).unwrap_or_default();
    attack("price list", texts(&corpus), 20_000, on_text(parse), names_row);
}

const PROFILES: [&str; 3] = [
    include_str!("../../../assets/desk/devices/scale.toml"),
    include_str!("../../../assets/desk/devices/calliper.toml"),
    include_str!("../../../assets/desk/devices/meter.toml"),
];

#[test]
fn profiles_of_devices_survive_mutilation() {
    let parse = |text: &str| {
        let parsed = DeviceProfile::parse("scale", FILE, text);
        parsed.err().map(|error| error.to_string()).into_iter().collect()
    };
    attack("device profile", texts(&PROFILES), 6000, on_text(parse), names_file);
}

#[test]
fn lines_of_devices_survive_mutilation() {
    let profiles: Vec<Arc<DeviceProfile>> =
        PROFILES.iter().map(|text| Arc::new(DeviceProfile::parse("a", FILE, text).unwrap())).collect();
    let corpus = [
        "ok +  33.930 g\r\nok +  33.930 g\r\nok +  33.930 g\r\n",
        "?  + 12.1 g\r\n",
        "61.9 MS/m\r",
        "  40.60 mm\r\n",
    ];
    let parse = move |bytes: &[u8]| {
        let mut says = Vec::new();
        for profile in &profiles {
            let mut feed = DeviceFeed::new(Arc::clone(profile));
            for (at, part) in bytes.chunks(7).enumerate() {
                says.extend(
                    feed.take(part, Duration::from_millis(at as u64 * 10))
                        .iter()
                        .map(|news| format!("{news:?}")),
                );
            }
        }
        says
    };
    attack("device lines", texts(&corpus), 20_000, parse, says_something);
}

#[test]
fn registers_of_instruments_survive_mutilation() {
    let corpus = [
        include_str!("../../../assets/desk/instruments.toml"),
        include_str!("../../../assets/demo/instruments.toml"),
    ];
    let parse = |text: &str| {
        let checked = check_register(FILE, text, Catalogue::embedded());
        checked.err().map(|error| error.message).into_iter().collect()
    };
    attack("instruments", texts(&corpus), 4000, on_text(parse), names_file);
}

#[test]
fn policies_survive_mutilation() {
    let corpus = [include_str!("../../../assets/desk/policy.toml")];
    let parse =
        |text: &str| Policy::parse(FILE, text).err().map(|error| error.to_string()).into_iter().collect();
    attack("policy", texts(&corpus), 6000, on_text(parse), names_file);
}

#[test]
fn products_of_a_dealer_survive_mutilation() {
    let corpus = [include_str!("../../../assets/reference/dealer-example.toml")];
    let parse = |text: &str| {
        let read = Catalogue::embedded().with_dealer(FILE, text);
        read.err().map(|mistakes| mistakes.to_string()).into_iter().collect()
    };
    attack("dealer's products", texts(&corpus), 1500, on_text(parse), names_file);
}

/// A short recording: a tone that fades (RIFF WAVE, 16 bits, one channel).
fn recording() -> Vec<u8> {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 44_100,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut bytes = std::io::Cursor::new(Vec::new());
    let mut writer = hound::WavWriter::new(&mut bytes, spec).unwrap();
    for step in 0..22_050_u32 {
        let after = f64::from(step) / 44_100.0 - 0.1;
        let ring = if after < 0.0 { 0.0 } else { (-after / 0.1).exp() * (after * 32_000.0).sin() };
        writer.write_sample((ring * 20_000.0) as i16 + (step % 7) as i16).unwrap();
    }
    writer.finalize().unwrap();
    bytes.into_inner()
}

#[test]
fn recordings_survive_mutilation() {
    let whole = recording();
    // Half of the harm goes to the head, where lengths and rates stand.
    let head = whole[..200].to_vec();
    let parse =
        |bytes: &[u8]| ring_of_recording(bytes).err().map(|error| error.to_string()).into_iter().collect();
    attack("recording", vec![head, whole], 400, parse, says_something);
}

#[test]
fn heads_of_recordings_that_promise_too_much_are_refused() {
    let whole = recording();
    // RIFF WAVE: chunk size at 4, channels at 22, rate at 24, bits at 34, data size at 40 in the plain form.
    for (at, length) in [(4, 4), (16, 4), (22, 2), (24, 4), (28, 4), (32, 2), (34, 2), (40, 4)] {
        for value in [0x00, 0xff, 0x7f] {
            let mut bytes = whole.clone();
            bytes[at..at + length].fill(value);
            // Taken or refused, but neither a panic nor memory without end.
            let _ = ring_of_recording(&bytes).map_err(|error| assert!(!error.to_string().is_empty()));
        }
    }
}
