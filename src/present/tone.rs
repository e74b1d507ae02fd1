//! Text with meaning: a face may colour it, but the words alone must suffice.

use super::text;

/// What a stretch of text means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Tone {
    /// Ordinary text.
    Plain,
    /// Text that may step back: labels, hints, the rest of a bar.
    Quiet,
    /// Text that should be found first.
    Strong,
    /// The one thing that has the focus.
    Accent,
    /// Belongs to a clear standing.
    Clear,
    /// Belongs to a hold.
    Hold,
    /// Belongs to a refusal, or to an entry that was not taken.
    Refuse,
}

/// A stretch of text of one tone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Run {
    /// What it means.
    pub tone: Tone,
    /// The text, without control characters.
    pub text: String,
    /// Whether it is shown as it was typed, whatever the decimal mark of the desk.
    pub as_typed: bool,
}

/// One line of text in stretches of different tone.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Row {
    /// The stretches from left to right.
    pub runs: Vec<Run>,
}

impl Row {
    /// Makes an empty line.
    pub fn blank() -> Self {
        Row::default()
    }

    /// Makes a line of one tone; control characters are dropped.
    pub fn of(tone: Tone, text: impl AsRef<str>) -> Self {
        Row::default().with(tone, text)
    }

    /// Adds a stretch at the end; control characters are dropped.
    pub fn with(mut self, tone: Tone, text: impl AsRef<str>) -> Self {
        let text = text::clean(text.as_ref());
        if !text.is_empty() {
            self.runs.push(Run { tone, text, as_typed: false });
        }
        self
    }

    /// Adds what somebody typed: it is shown as it is; control characters are dropped.
    pub fn typed(mut self, tone: Tone, text: impl AsRef<str>) -> Self {
        let text = text::clean(text.as_ref());
        if !text.is_empty() {
            self.runs.push(Run { tone, text, as_typed: true });
        }
        self
    }

    /// Adds blanks until the line is `column` wide; a longer line is left as it is.
    pub fn to_column(self, column: usize) -> Self {
        let missing = column.saturating_sub(self.width());
        self.with(Tone::Plain, " ".repeat(missing))
    }

    /// Adds a stretch so that it ends at column `end`, after at least one blank.
    pub fn right(self, end: usize, tone: Tone, text: impl AsRef<str>) -> Self {
        let text = text::clean(text.as_ref());
        let from = end.saturating_sub(text::width(&text)).max(self.width() + 1);
        self.to_column(from).with(tone, text)
    }

    /// Adds the stretches of another line at the end.
    pub fn joined(mut self, other: Row) -> Self {
        self.runs.extend(other.runs);
        self
    }

    /// Returns the width in terminal columns.
    pub fn width(&self) -> usize {
        self.runs.iter().map(|run| text::width(&run.text)).sum()
    }

    /// Returns the text without its tones.
    pub fn text(&self) -> String {
        self.runs.iter().map(|run| run.text.as_str()).collect()
    }
}
