//! `scruple plain`: the bench line by line, for screen readers, serial consoles and scripts.
//!
//! A prompt is a line that names what is asked for; an answer is a line; nothing is drawn and nothing moves. What is typed
//! goes into the field that is asked for, unless it is one of the words. Read next: [`words`], then [`mod@bench`].

mod bench;
mod words;

use super::{backup, json};
use crate::desk::screen::{DecimalMark, ScreenSettings, Units};
use crate::desk::{AppError, Desk, ErrorKind};
use crate::present::decimal_mark::marked;
use crate::present::plain::ascii;
use crate::present::spectrum::is_utf8;
use crate::present::text::clean;
use bench::Bench;
use clap::Args;
use serde_json::json;
use std::io::{BufRead, Read, Write};

/// Most bytes of a line; what is longer is refused whole.
const LONGEST: u64 = 4096;

/// Arguments of `scruple plain`.
#[derive(Debug, Args)]
#[command(after_help = "\
Each line asks for one thing; `help` lists the words. A half-filled piece is kept in the book, for this and for the screens.
With --json each line is a row with its kind: said, ask, question, refused or verdict.

Examples:
  scruple plain
  scruple plain --book day.book < answers.txt")]
pub(super) struct PlainArgs {}

/// What a line is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// An answer.
    Said,
    /// What is asked for next.
    Ask,
    /// A value far off, which is taken only with a reason.
    Question,
    /// What was not done, and why.
    Refused,
    /// The verdict on a piece.
    Verdict,
}

impl Kind {
    fn word(self) -> &'static str {
        match self {
            Kind::Said => "said",
            Kind::Ask => "ask",
            Kind::Question => "question",
            Kind::Refused => "refused",
            Kind::Verdict => "verdict",
        }
    }
}

/// Where lines go. Once nobody reads them any more, the session ends.
struct Speaker<W> {
    out: W,
    json: bool,
    utf8: bool,
    decimal_mark: DecimalMark,
    gone: bool,
}

impl<W: Write> Speaker<W> {
    fn say(&mut self, kind: Kind, text: &str) {
        // A reader of JSON reads points.
        let mark = if self.json { DecimalMark::Point } else { self.decimal_mark };
        self.say_as_typed(kind, &marked(text, mark));
    }

    /// Says a text whose numbers stay as they were typed.
    fn say_as_typed(&mut self, kind: Kind, text: &str) {
        let text = clean(text);
        let text = if self.utf8 { text } else { ascii(&text) };
        let line = match (self.json, kind) {
            (true, _) => json::row(json!({ "kind": kind.word(), "text": text })),
            (false, Kind::Refused) => format!("not taken: {text}\n"),
            (false, _) => text + "\n",
        };
        // Whole lines, at once: whoever waits at the other end waits for a line.
        let written = self.out.write_all(line.as_bytes()).and_then(|()| self.out.flush());
        self.gone |= written.is_err();
    }

    fn all(&mut self, kind: Kind, lines: &[String]) {
        for line in lines {
            self.say(kind, line);
        }
    }

    fn refuse(&mut self, error: &AppError) {
        self.say(Kind::Refused, &error.message);
        for row in &error.rows {
            self.say(Kind::Refused, &row.to_string());
        }
        for hint in &error.hints {
            self.say(Kind::Said, hint);
        }
    }
}

/// Runs a session on standard input and output until `quit` or the end of the input.
pub(super) fn run(desk: Desk, settings: &ScreenSettings, json: bool) -> Result<(), AppError> {
    let set = |name: &str| std::env::var(name).ok().filter(|value| !value.is_empty());
    let language = set("LC_ALL").or_else(|| set("LC_CTYPE")).or_else(|| set("LANG"));
    let utf8 = is_utf8(language.as_deref());
    let speaker = Speaker {
        out: std::io::stdout().lock(),
        json,
        utf8,
        decimal_mark: settings.decimal_mark,
        gone: false,
    };
    session(desk, settings.units, &mut std::io::stdin().lock(), speaker)
}

fn session(
    desk: Desk,
    units: Units,
    input: &mut impl BufRead,
    speaker: Speaker<impl Write>,
) -> Result<(), AppError> {
    let mut bench = Bench::new(desk, units, speaker);
    bench.start()?;
    loop {
        bench.ask();
        if bench.speaker.gone {
            return Ok(());
        }
        match line(input)? {
            Line::End => break,
            Line::TooLong => {
                let text = format!("the line is longer than {LONGEST} bytes");
                bench.speaker.say(Kind::Refused, &text);
            }
            Line::Text(text) => {
                if bench.take(&text)? {
                    break;
                }
            }
        }
    }
    bench.end();
    Ok(())
}

/// A line of the input.
enum Line {
    Text(String),
    TooLong,
    End,
}

/// Reads a line; CR, LF and CR LF end it alike, and bytes of another encoding become a sign of their own.
fn line(input: &mut impl BufRead) -> Result<Line, AppError> {
    let unreadable = |error: std::io::Error| {
        AppError::new(ErrorKind::Io, format!("standard input cannot be read: {error}"))
    };
    let mut bytes = Vec::new();
    input.by_ref().take(LONGEST).read_until(b'\n', &mut bytes).map_err(unreadable)?;
    if bytes.is_empty() {
        return Ok(Line::End);
    }
    let whole = bytes.ends_with(b"\n") || (bytes.len() as u64) < LONGEST;
    if !whole {
        input.skip_until(b'\n').map_err(unreadable)?;
        return Ok(Line::TooLong);
    }
    Ok(Line::Text(clean(&String::from_utf8_lossy(&bytes)).trim().to_owned()))
}

impl<W: Write> Bench<W> {
    /// Says what is left behind and makes the backup of the day, as the screens do when they close.
    fn end(&mut self) {
        self.say_what_is_kept();
        match self.desk.backup_of_the_day() {
            Ok(None) => {}
            Ok(Some(made)) => self.speaker.say(Kind::Said, &backup::said(&made)),
            Err(error) => {
                self.speaker.refuse(&error);
                self.speaker.say(Kind::Said, "the book is saved; only its backup of today is missing");
            }
        }
    }
}
