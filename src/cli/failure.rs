//! Errors as people see them: what happened, then what may help.

use crate::desk::AppError;
use crate::present::colors::Colors;
use crate::present::text::clean;
use std::io::{IsTerminal, Write};
use std::process::ExitCode;

/// Prints an error with its rows and hints, and returns its exit code.
pub(super) fn print(error: &AppError, colors: Colors) -> ExitCode {
    tracing::error!(kind = ?error.kind, rows = error.rows.len(), "{}", clean(&error.message));
    let no_color = std::env::var("NO_COLOR").ok();
    let term = std::env::var("TERM").ok();
    let stderr = std::io::stderr();
    let colored = colors.wanted(no_color.as_deref(), term.as_deref(), stderr.is_terminal());
    // Nobody is left to tell when standard error itself is gone.
    let _ = stderr.lock().write_all(text(error, colored).as_bytes());
    ExitCode::from(error.kind.exit_code())
}

/// Returns the lines of an error.
fn text(error: &AppError, colored: bool) -> String {
    let word = |word: &str, code: u8| match colored {
        true => format!("\u{1b}[1;{code}m{word}:\u{1b}[0m "),
        false => format!("{word}: "),
    };
    let mut lines = String::new();
    let mut line = |word: &str, text: &str| {
        lines.push_str(word);
        lines.push_str(&clean(text));
        lines.push('\n');
    };
    let (failed, hint) = (word("error", 31), word("hint", 36));
    for row in &error.rows {
        line(&failed, &row.to_string());
        if let Some(text) = &row.hint {
            line(&hint, text);
        }
    }
    // A message of several lines is several mistakes of one file.
    for message in error.message.lines() {
        line(&failed, message);
    }
    for text in &error.hints {
        line(&hint, text);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::ErrorKind;

    #[test]
    fn found_and_allowed_come_first_and_the_hint_below() {
        let mut error = AppError::bad_rows("a.csv", Vec::new()).with_hint("mend it");
        error.rows.push(crate::intake::RowError::new(3, "quantity", "\u{1b}[31m0", "a whole number"));
        assert_eq!(
            text(&error, false),
            "error: row 3, column `quantity`: found `[31m0`, allowed is a whole number\n\
             error: `a.csv` has 0 cells that cannot be taken; nothing was written\n\
             hint: mend it\n"
        );
        assert_eq!(error.kind, ErrorKind::BadRows);
    }
}
