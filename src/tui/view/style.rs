//! How tones look: the terminal's own sixteen colours, no background, never black or white text.

use crate::present::tone::Tone;
use ratatui::style::{Color, Modifier, Style};

/// Whether colours are used. Without them, bold and dim remain, and every meaning is in the words anyway.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Theme {
    /// Whether colours may be used.
    pub colored: bool,
}

impl Theme {
    /// Returns the style of a tone.
    pub fn style(self, tone: Tone) -> Style {
        let plain = Style::new();
        let (color, modifier) = match tone {
            Tone::Plain => (None, Modifier::empty()),
            Tone::Quiet => (None, Modifier::DIM),
            Tone::Strong => (None, Modifier::BOLD),
            Tone::Accent => (Some(Color::Cyan), Modifier::BOLD),
            Tone::Clear => (Some(Color::Green), Modifier::empty()),
            Tone::Hold => (Some(Color::Yellow), Modifier::BOLD),
            Tone::Refuse => (Some(Color::Red), Modifier::BOLD),
        };
        let style = plain.add_modifier(modifier);
        match color {
            Some(color) if self.colored => style.fg(color),
            _ => style,
        }
    }
}
