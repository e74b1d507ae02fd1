//! How tones look: the terminal's own sixteen colours, no background, never black or white text.

use crate::desk::screen::{DecimalMark, Look, ScreenSettings};
use crate::present::tone::Tone;
use ratatui::style::{Color, Modifier, Style};

/// Whether colours are used. Without them, bold and dim remain, and every meaning is in the words anyway.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Theme {
    /// Whether colours may be used.
    pub colored: bool,
}

impl Theme {
    /// Returns how tones and numbers look on the screens of a desk.
    pub fn of_desk(self, settings: &ScreenSettings) -> Ink {
        let colored = self.colored && settings.look != Look::Mono;
        Ink {
            colored,
            high_contrast: settings.look == Look::HighContrast,
            decimal_mark: settings.decimal_mark,
        }
    }
}

/// How tones and numbers look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ink {
    colored: bool,
    high_contrast: bool,
    /// The mark in numbers that are shown.
    pub(super) decimal_mark: DecimalMark,
}

impl Ink {
    /// Returns the style of a tone.
    pub fn style(self, tone: Tone) -> Style {
        let (color, modifier) = if self.high_contrast { strong(tone) } else { ordinary(tone) };
        let style = Style::new().add_modifier(modifier);
        match color {
            Some(color) if self.colored => style.fg(color),
            _ => style,
        }
    }
}

fn ordinary(tone: Tone) -> (Option<Color>, Modifier) {
    match tone {
        Tone::Plain => (None, Modifier::empty()),
        Tone::Quiet => (None, Modifier::DIM),
        Tone::Strong => (None, Modifier::BOLD),
        Tone::Accent => (Some(Color::Cyan), Modifier::BOLD),
        Tone::Clear => (Some(Color::Green), Modifier::empty()),
        Tone::Hold => (Some(Color::Yellow), Modifier::BOLD),
        Tone::Refuse => (Some(Color::Red), Modifier::BOLD),
    }
}

/// Nothing steps back, and what differs by colour differs by its line too; the focus stands in reverse video.
fn strong(tone: Tone) -> (Option<Color>, Modifier) {
    match tone {
        Tone::Plain | Tone::Quiet => (None, Modifier::empty()),
        Tone::Strong => (None, Modifier::BOLD),
        Tone::Accent => (None, Modifier::BOLD.union(Modifier::REVERSED)),
        Tone::Clear => (Some(Color::LightGreen), Modifier::BOLD),
        Tone::Hold => (Some(Color::LightYellow), Modifier::BOLD.union(Modifier::UNDERLINED)),
        Tone::Refuse => (Some(Color::LightRed), Modifier::BOLD.union(Modifier::UNDERLINED)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TONES: [Tone; 7] =
        [Tone::Plain, Tone::Quiet, Tone::Strong, Tone::Accent, Tone::Clear, Tone::Hold, Tone::Refuse];

    fn styles(look: Look, colored: bool) -> Vec<Style> {
        let ink = Theme { colored }.of_desk(&ScreenSettings { look, ..ScreenSettings::default() });
        TONES.map(|tone| ink.style(tone)).to_vec()
    }

    #[test]
    fn no_theme_sets_a_background_or_writes_in_black_or_white() {
        for look in [Look::Default, Look::HighContrast, Look::Mono] {
            for style in styles(look, true) {
                assert_eq!(style.bg, None);
                let never = [Color::Black, Color::White, Color::Gray, Color::DarkGray];
                assert!(style.fg.is_none_or(|color| !never.contains(&color)), "{look:?} {style:?}");
            }
        }
    }

    #[test]
    fn high_contrast_dims_nothing_and_uses_bright_colours_only() {
        for style in styles(Look::HighContrast, true) {
            assert!(!style.add_modifier.contains(Modifier::DIM), "{style:?}");
            let bright = [Color::LightGreen, Color::LightYellow, Color::LightRed];
            assert!(style.fg.is_none_or(|color| bright.contains(&color)), "{style:?}");
        }
    }

    #[test]
    fn mono_has_no_colour_and_no_colour_wins_over_every_theme() {
        assert!(styles(Look::Mono, true).iter().all(|style| style.fg.is_none()));
        for look in [Look::Default, Look::HighContrast, Look::Mono] {
            assert!(styles(look, false).iter().all(|style| style.fg.is_none()), "{look:?}");
        }
    }
}
