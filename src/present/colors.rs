//! Whether a face may use colour.

/// What the user asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Colors {
    /// Colour where the terminal and the environment allow it.
    #[default]
    Auto,
    /// Colour in any case.
    Always,
    /// No colour.
    Never,
}

impl Colors {
    /// Tells whether to use colour, given the variables `NO_COLOR` and `TERM` and whether the output is a terminal.
    ///
    /// # Source
    /// no-color.org: `NO_COLOR`, when present and not empty, turns colour off unless the user asks for it explicitly.
    pub fn wanted(self, no_color: Option<&str>, term: Option<&str>, is_terminal: bool) -> bool {
        match self {
            Colors::Always => true,
            Colors::Never => false,
            Colors::Auto => {
                let refused = no_color.is_some_and(|value| !value.is_empty());
                is_terminal && !refused && term != Some("dumb")
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_empty_no_color_does_not_count_and_an_explicit_wish_wins() {
        // no-color.org: "when present and not an empty string (regardless of its value)".
        assert!(Colors::Auto.wanted(Some(""), Some("xterm"), true));
        assert!(!Colors::Auto.wanted(Some("0"), Some("xterm"), true));
        assert!(!Colors::Auto.wanted(None, Some("dumb"), true));
        assert!(!Colors::Auto.wanted(None, Some("xterm"), false));
        assert!(Colors::Always.wanted(Some("1"), Some("dumb"), false));
        assert!(!Colors::Never.wanted(None, Some("xterm"), true));
    }
}
