//! Text in terminal columns: cleaning, cutting, padding and wrapping by display width.

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// Returns the number of terminal columns a text takes.
pub fn width(text: &str) -> usize {
    UnicodeWidthStr::width(text)
}

/// Returns the text without anything that could steer a terminal or turn its reading direction.
///
/// Tabs and line ends become a blank; other control characters, marks of direction and characters without width of
/// their own that hide in names are dropped.
pub fn clean(text: &str) -> String {
    text.chars().filter_map(harmless).collect()
}

/// Returns the character to show in place of one, if any.
fn harmless(c: char) -> Option<char> {
    match c {
        '\t' | '\n' => Some(' '),
        c if c.is_control() => None,
        '\u{ad}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' => None,
        '\u{61c}' | '\u{180e}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}' => None,
        c => Some(c),
    }
}

/// Returns the text cut to at most `most` columns; a cut is shown by two dots where there is room for them.
pub fn fit(text: &str, most: usize) -> String {
    if width(text) <= most {
        return text.to_owned();
    }
    let (room, dots) = if most >= 6 { (most - 2, "..") } else { (most, "") };
    let mut cut = String::new();
    let mut used = 0;
    for c in text.chars() {
        let wide = c.width().unwrap_or(0);
        if used + wide > room {
            break;
        }
        used += wide;
        cut.push(c);
    }
    cut.push_str(dots);
    cut
}

/// Returns at most so many names, and how many more there are: `lead, tin and 4 more`.
pub fn list_of(names: impl Iterator<Item = String>, count: usize, most: usize) -> String {
    let shown: Vec<String> = names.take(if count == most + 1 { most + 1 } else { most }).collect();
    match (count - shown.len(), shown.split_last()) {
        (0, Some((last, []))) => last.clone(),
        (0, Some((last, rest))) => format!("{} or {last}", rest.join(", ")),
        (more, _) => format!("{} and {more} more", shown.join(", ")),
    }
}

/// Returns the text cut or filled with blanks on the right to exactly `columns` columns.
pub fn pad_end(text: &str, columns: usize) -> String {
    let text = fit(text, columns);
    let missing = columns.saturating_sub(width(&text));
    text + &" ".repeat(missing)
}

/// Returns the text cut or filled with blanks on the left to exactly `columns` columns.
pub fn pad_start(text: &str, columns: usize) -> String {
    let text = fit(text, columns);
    " ".repeat(columns.saturating_sub(width(&text))) + &text
}

/// Columns that a page has on a screen of 80: what is laid out for it fits a terminal too.
pub const PAGE: usize = 76;

/// Returns the text in lines of at most `columns` columns, broken at blanks where there are any.
///
/// Line ends in the text are kept as breaks. There is always at least one line; `columns` of 0 gives one empty line.
pub fn wrap(text: &str, columns: usize) -> Vec<String> {
    if columns == 0 {
        return vec![String::new()];
    }
    text.split('\n').flat_map(|paragraph| wrap_paragraph(&clean(paragraph), columns)).collect()
}

/// Wraps a text without line ends.
fn wrap_paragraph(text: &str, columns: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let gap = usize::from(!line.is_empty());
        if width(&line) + gap + width(word) <= columns {
            if gap == 1 {
                line.push(' ');
            }
            line.push_str(word);
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for c in word.chars() {
            if !line.is_empty() && width(&line) + c.width().unwrap_or(0) > columns {
                lines.push(std::mem::take(&mut line));
            }
            line.push(c);
        }
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

/// Returns at most `most` of the lines; when some are left out, the last one kept ends in two dots.
pub fn first_lines(mut lines: Vec<String>, most: usize, columns: usize) -> Vec<String> {
    if lines.len() > most {
        lines.truncate(most);
        if let Some(last) = lines.last_mut() {
            *last = fit(&format!("{last} .."), columns);
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_that_steers_a_terminal_is_shown() {
        assert_eq!(clean("A\u{1b}[31m\u{7}B\u{202e}C\tD\u{9b}"), "A[31mBC D");
        assert_eq!(clean("zero\u{200b}width"), "zerowidth");
    }

    #[test]
    fn a_cut_is_visible_and_keeps_to_the_width() {
        assert_eq!(fit("Northfield Exchange", 12), "Northfield..");
        assert_eq!(fit("abc", 3), "abc");
        assert_eq!(fit("abcdef", 3), "abc");
        assert_eq!(fit("abc", 0), "");
        // Unicode TR 11: a wide character takes two columns.
        assert_eq!(width(&fit("\u{91d1}\u{91d1}\u{91d1}", 5)), 4);
        assert_eq!(pad_end("\u{91d1}", 3), "\u{91d1} ");
        assert_eq!(pad_start("7", 3), "  7");
    }

    #[test]
    fn wrapping_breaks_at_blanks_and_inside_long_words() {
        assert_eq!(wrap("a tungsten core under skin", 10), ["a tungsten", "core under", "skin"]);
        assert_eq!(wrap("abcdefgh", 3), ["abc", "def", "gh"]);
        assert_eq!(wrap("one\ntwo", 10), ["one", "two"]);
        assert_eq!(wrap("", 10), [""]);
        assert_eq!(wrap("abc", 0), [""]);
        assert_eq!(first_lines(wrap("a b c d", 1), 2, 4), ["a", "b .."]);
    }
}
