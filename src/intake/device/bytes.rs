//! Bytes as they arrive: cut into lines, and written so that every byte can be read.

use std::fmt;

/// Longest line, in bytes; no instrument sends more for one value.
const LONGEST: usize = 200;
/// ASCII start of text, which some devices put before a line.
const START_OF_TEXT: u8 = 0x02;
/// ASCII end of text.
const END_OF_TEXT: u8 = 0x03;

/// What ends a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Ending {
    /// Carriage return, line feed, or both; empty lines are nothing.
    #[default]
    Any,
    /// Carriage return alone.
    CarriageReturn,
    /// Line feed alone.
    LineFeed,
    /// ASCII end of text, code 03.
    EndOfText,
}

impl Ending {
    /// All endings with their words in a profile.
    pub const ALL: [(&'static str, Ending); 4] = [
        ("any", Ending::Any),
        ("CR", Ending::CarriageReturn),
        ("LF", Ending::LineFeed),
        ("ETX", Ending::EndOfText),
    ];

    fn ends(self, byte: u8) -> bool {
        match self {
            Ending::Any => matches!(byte, b'\r' | b'\n'),
            Ending::CarriageReturn => byte == b'\r',
            Ending::LineFeed => byte == b'\n',
            Ending::EndOfText => byte == END_OF_TEXT,
        }
    }
}

/// One line without its ending.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RawLine {
    /// The bytes, at most 200.
    pub bytes: Vec<u8>,
    /// Whether more bytes came than a line can have; they are dropped.
    pub too_long: bool,
}

impl RawLine {
    /// Makes a line of a text, as a keyboard device types it.
    pub fn of(text: &str) -> Self {
        let mut line = RawLine::default();
        text.bytes().for_each(|byte| line.push(byte));
        line
    }

    fn push(&mut self, byte: u8) {
        if self.bytes.len() < LONGEST {
            self.bytes.push(byte);
        } else {
            self.too_long = true;
        }
    }

    /// Takes off what frames a line: line ends left over by another ending, start and end of text.
    fn unframed(mut self) -> Self {
        while self.bytes.last().is_some_and(|last| matches!(last, b'\r' | b'\n' | &END_OF_TEXT)) {
            self.bytes.pop();
        }
        let frame =
            self.bytes.iter().take_while(|byte| matches!(**byte, b'\r' | b'\n' | START_OF_TEXT)).count();
        self.bytes.drain(..frame);
        self
    }

    /// Tells whether nothing but blanks came.
    fn is_blank(&self) -> bool {
        !self.too_long && self.bytes.iter().all(|byte| matches!(byte, b' ' | b'\t'))
    }
}

impl fmt::Display for RawLine {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&escape(&self.bytes))
    }
}

/// Cuts a stream of bytes into lines, whatever parts it comes in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LineCutter {
    ending: Ending,
    line: RawLine,
}

impl LineCutter {
    /// Makes a cutter that stands at the beginning of a line.
    pub fn new(ending: Ending) -> Self {
        LineCutter { ending, line: RawLine::default() }
    }

    /// Takes bytes and returns the lines that ended in them; lines of blanks are left out.
    pub fn take(&mut self, bytes: &[u8]) -> Vec<RawLine> {
        let mut lines = Vec::new();
        for byte in bytes {
            if !self.ending.ends(*byte) {
                self.line.push(*byte);
                continue;
            }
            let line = std::mem::take(&mut self.line).unframed();
            if !line.is_blank() {
                lines.push(line);
            }
        }
        lines
    }

    /// Drops the line that was begun: its rest will not come.
    pub fn drop_rest(&mut self) {
        self.line = RawLine::default();
    }
}

/// Writes bytes as printable ASCII: others, and the backslash, as `\x` with two hexadecimal digits.
pub fn escape(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len());
    for byte in bytes {
        match byte {
            b'\\' => text.push_str("\\x5c"),
            b' '..=b'~' => text.push(char::from(*byte)),
            other => text.push_str(&format!("\\x{other:02x}")),
        }
    }
    text
}

/// Reads what [`escape`] wrote; `None` for any other text.
pub fn unescape(text: &str) -> Option<Vec<u8>> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.as_bytes();
    while let [first, after @ ..] = rest {
        match first {
            b'\\' => {
                let [b'x', high, low, after @ ..] = after else { return None };
                let digit = |byte: &u8| char::from(*byte).to_digit(16);
                bytes.push(u8::try_from(digit(high)? * 16 + digit(low)?).ok()?);
                rest = after;
            }
            b' '..=b'~' => {
                bytes.push(*first);
                rest = after;
            }
            _ => return None,
        }
    }
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[track_caller]
    fn check(ending: Ending, bytes: &[u8], expected: &[&str]) {
        let lines: Vec<String> =
            LineCutter::new(ending).take(bytes).iter().map(|line| escape(&line.bytes)).collect();
        assert_eq!(lines, expected);
    }

    #[test]
    fn each_ending_cuts_and_empty_lines_are_nothing() {
        check(Ending::Any, b"1 g\r\n2 g\n3 g\r\r\n \n4", &["1 g", "2 g", "3 g"]);
        check(Ending::CarriageReturn, b"1 g\r\n2 g\r\n", &["1 g", "2 g"]);
        check(Ending::LineFeed, b"1 g\r\n2 g\r\n3", &["1 g", "2 g"]);
        check(Ending::EndOfText, b"\x021 g\r\x03\x022 g\x03", &["1 g", "2 g"]);
    }

    #[test]
    fn a_line_without_end_does_not_grow() {
        let mut cutter = LineCutter::new(Ending::Any);
        for _ in 0..1000 {
            assert!(cutter.take(&[b'9'; 1000]).is_empty());
        }
        let lines = cutter.take(b"\n1 g\n");
        assert_eq!((lines[0].bytes.len(), lines[0].too_long), (LONGEST, true));
        assert_eq!(lines[1], RawLine::of("1 g"));
    }

    #[test]
    fn a_rest_that_will_not_come_is_dropped() {
        let mut cutter = LineCutter::new(Ending::Any);
        cutter.take(b"31.");
        cutter.drop_rest();
        assert_eq!(cutter.take(b"27.2 g\n"), [RawLine::of("27.2 g")]);
    }

    proptest! {
        #[test]
        fn lines_do_not_depend_on_the_parts_in_which_bytes_come(
            bytes in prop::collection::vec(prop_oneof![Just(b'\r'), Just(b'\n'), any::<u8>()], 0..600),
            cuts in prop::collection::vec(1usize..50, 1..20),
        ) {
            let whole = LineCutter::new(Ending::Any).take(&bytes);
            let mut cutter = LineCutter::new(Ending::Any);
            let mut parts = Vec::new();
            let mut rest = bytes.as_slice();
            for cut in cuts.iter().cycle() {
                if rest.is_empty() { break; }
                let (part, after) = rest.split_at((*cut).min(rest.len()));
                parts.extend(cutter.take(part));
                rest = after;
            }
            prop_assert_eq!(whole, parts);
        }

        #[test]
        fn every_byte_can_be_written_and_read_again(bytes in prop::collection::vec(any::<u8>(), 0..100)) {
            prop_assert_eq!(unescape(&escape(&bytes)), Some(bytes));
        }
    }
}
