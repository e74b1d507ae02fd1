//! A clock that was set back: what the book makes of it, in words.

use super::{AppError, Desk};
use chrono::{DateTime, Duration, Utc};

/// A clock that is put right by less than this is nobody's concern.
const UNSEEN: Duration = Duration::seconds(1);

impl Desk {
    /// Says that the clock stands before the last entry of the book; `None` while it does not.
    ///
    /// Entries keep their order by number whatever the clock says. The next entry is the last one then, so that this is said
    /// once for each time that the clock is set back.
    ///
    /// # Errors
    /// What the book says.
    pub fn clock_notice(&self) -> Result<Option<String>, AppError> {
        let Some(last) = self.store.read().last_entry_at()? else { return Ok(None) };
        let now = self.act().at;
        if last - now < UNSEEN {
            return Ok(None);
        }
        let (now, last) = (shown(now), shown(last));
        Ok(Some(format!(
            "the clock stands at {now}, before the last entry of {last}; entries keep their order by number and nothing is \
             lost, but see to the clock of this machine"
        )))
    }
}

fn shown(at: DateTime<Utc>) -> String {
    at.format("%Y-%m-%d %H:%M:%S UTC").to_string()
}
