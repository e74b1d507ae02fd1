//! The list of last acts: when, what, and what can be done about it.
//!
//! ```text
//! -- What can be undone ------------------------------------------------
//! > 2026-03-04 12:05  can be undone             corrected mass of S-0001/1-02
//!   2026-03-04 12:01  undo the later ones first  logged S-0001/1-02
//!   2026-03-04 11:58  undone                    put on hold S-0001/1-01
//!
//! Enter undoes it by a linked correction; nothing is deleted.
//! ----------------------------------------------------------------------
//! ```

use super::super::dialog::{LastActs, page_room};
use super::canvas::{Canvas, window};
use super::dialogs::panel;
use crate::desk::ActState;
use crate::present::text;
use crate::present::tone::{Row, Tone};
use crate::present::words::minute;
use chrono::FixedOffset;

/// Columns of the time and of what can be done.
const TIME: usize = 18;
const STATE: usize = 27;

/// Draws the list.
pub(super) fn draw(list: &LastActs, desk: FixedOffset, canvas: &mut Canvas) {
    let (columns, most) = page_room(canvas.width() as u16, canvas.height() as u16);
    let lines = (list.acts.len() + 3).min(most);
    let mut inside = panel(canvas, "What can be undone", "", columns, lines);
    let room = inside.height().saturating_sub(2).max(1);
    let first = window(list.selected, list.acts.len(), room);
    for (line, (index, act)) in list.acts.iter().enumerate().skip(first).take(room).enumerate() {
        let here = index == list.selected;
        let tone = match act.state {
            ActState::Next => Tone::Strong,
            ActState::Waits => Tone::Plain,
            ActState::Followed | ActState::Undone | ActState::Redone => Tone::Quiet,
        };
        let words = format!("{} {}", act.what, act.about);
        let row = Row::of(Tone::Accent, if here { "> " } else { "  " })
            .with(Tone::Quiet, text::pad_end(&minute(act.at, desk), TIME))
            .with(tone, text::pad_end(act.state.label(), STATE))
            .with(tone, text::fit(&words, columns.saturating_sub(TIME + STATE + 2)));
        inside.row(line, &row);
    }
    let hint = match list.acts.get(list.selected).map(|act| act.state) {
        Some(ActState::Next) => "Enter undoes it by a linked correction; nothing is deleted.",
        Some(ActState::Undone) => "Enter does it again, as a new act of today.",
        Some(ActState::Waits) => "Acts are undone one after the other, the newest first.",
        Some(ActState::Followed) => "What followed on it stands; correct that instead.",
        Some(ActState::Redone) => "It was undone and done again: that act stands above.",
        None => "",
    };
    let last = inside.height().saturating_sub(1);
    inside.row(last, &Row::of(Tone::Quiet, text::fit(hint, columns)));
}
