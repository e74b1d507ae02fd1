//! What the facts of machine and book come to: a sign for each, and what to do.
//!
//! Trouble is what stops the work, or would lose or betray what is in the book. A note is worth knowing and stops nothing.

use super::spectrum::is_utf8;
use super::text::clean;
use super::words::count;
use crate::desk::PolicyOrigin;
use crate::desk::doctor::{
    BookFacts, BookState, ConfigFacts, DiskFacts, Facts, InstrumentFacts, TerminalFacts,
};
use crate::desk::screen::{self, DecimalMark, ScreenSettings};
use chrono::{DateTime, Datelike, FixedOffset, TimeDelta};

/// Columns and rows below which nothing can be logged, and below which not everything can be done.
const LEAST: (u16, u16) = (40, 10);
const WHOLE: (u16, u16) = (80, 24);
/// Free bytes below which there is trouble, and below which it is said. Common practice, no source: a book of a million pieces
/// with a backup beside it takes some gigabytes.
const LEAST_FREE: u64 = 100_000_000;
const ENOUGH_FREE: u64 = 1_000_000_000;
/// Days after which an older backup is trouble when the book went on. Common practice, no source: a week of work.
const OLDEST_BACKUP_DAYS: i64 = 7;
/// A year before which the clock of a machine was never set: this program is younger.
const FIRST_YEAR: i32 = 2026;
/// Clocks are put right by less than this.
const UNSEEN: TimeDelta = TimeDelta::seconds(1);

/// How something stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Health {
    /// Nothing to do.
    Ok,
    /// Worth knowing.
    Note,
    /// To be seen to before the work begins.
    Trouble,
}

impl Health {
    /// Returns the word people read.
    pub fn word(self) -> &'static str {
        match self {
            Health::Ok => "ok",
            Health::Note => "note",
            Health::Trouble => "trouble",
        }
    }

    /// Returns the sign before the word.
    pub fn sign(self) -> char {
        match self {
            Health::Ok => '+',
            Health::Note => '?',
            Health::Trouble => 'x',
        }
    }
}

/// One thing that was looked at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// How it stands.
    pub health: Health,
    /// What it is.
    pub what: &'static str,
    /// What was found.
    pub found: String,
    /// What to do; empty when there is nothing to do.
    pub advice: String,
}

fn finding(
    health: Health,
    what: &'static str,
    found: impl Into<String>,
    advice: impl Into<String>,
) -> Finding {
    Finding { health, what, found: clean(&found.into()), advice: clean(&advice.into()) }
}

/// Judges the facts, in the order in which somebody would see to them.
pub fn judge(facts: &Facts) -> Vec<Finding> {
    let mut findings = vec![
        terminal(&facts.terminal),
        locale(facts.language.as_deref()),
        decimal_mark(facts.config.screen.as_ref()),
    ];
    findings.push(clock(facts.now, &facts.book));
    findings.extend(disk(&facts.disk));
    findings.extend(book(&facts.book));
    findings.extend(instruments(&facts.instruments, &facts.config));
    findings.extend(configuration(&facts.config));
    findings.push(backup(facts));
    findings
}

/// Returns the findings as lines, the last one a count.
pub fn lines(findings: &[Finding]) -> Vec<String> {
    let mut lines = Vec::new();
    for one in findings {
        lines.push(format!("{} {:<8} {:<14} {}", one.health.sign(), one.health.word(), one.what, one.found));
        if !one.advice.is_empty() {
            lines.push(format!("{:26}do: {}", "", one.advice));
        }
    }
    let of = |health: Health| findings.iter().filter(|one| one.health == health).count();
    let notes = count(of(Health::Note), "note", "notes");
    lines.push(match of(Health::Trouble) {
        0 => format!("nothing is in trouble, {notes}"),
        some => format!("{some} in trouble, {notes}"),
    });
    lines
}

fn terminal(facts: &TerminalFacts) -> Finding {
    let what = "terminal";
    let by_word = "`scruple plain` and every subcommand work without the screens";
    if !facts.is_terminal {
        return finding(
            Health::Note,
            what,
            "input or output is no terminal: the screens cannot open here",
            by_word,
        );
    }
    let term = facts.term.as_deref().filter(|term| !term.is_empty());
    let colors = if facts.colored { "colours" } else { "no colours" };
    let size = facts.size.map_or("size unknown".to_owned(), |(width, height)| format!("{width} × {height}"));
    let found = format!("{}, {size}, {colors}", term.unwrap_or("TERM is not set"));
    match (term, facts.size) {
        (_, Some((width, height))) if width < LEAST.0 || height < LEAST.1 => {
            let advice =
                format!("make it at least {} × {}, better {} × {}", LEAST.0, LEAST.1, WHOLE.0, WHOLE.1);
            finding(Health::Trouble, what, found, advice)
        }
        (None | Some("dumb"), _) => finding(Health::Note, what, found, by_word),
        (_, Some((width, height))) if width < WHOLE.0 || height < WHOLE.1 => {
            let advice = format!("pieces can be logged; {} × {} shows everything", WHOLE.0, WHOLE.1);
            finding(Health::Note, what, found, advice)
        }
        _ => finding(Health::Ok, what, found, ""),
    }
}

fn locale(language: Option<&str>) -> Finding {
    let named = language.map_or("no language is set".to_owned(), |language| format!("`{language}`"));
    if is_utf8(language) {
        return finding(Health::Ok, "locale", format!("{named}, UTF-8"), "");
    }
    let found = format!("{named}, not UTF-8: plots use ASCII");
    finding(Health::Note, "locale", found, "set LANG to one such as `C.UTF-8` for finer plots")
}

fn decimal_mark(screen: Option<&ScreenSettings>) -> Finding {
    let found = match screen.map(|screen| screen.decimal_mark) {
        Some(DecimalMark::Comma) => {
            "`.` and `,` are both taken, whatever the locale; shown on the screens is `,`, written to files `.`"
        }
        _ => "`.` and `,` are both taken, whatever the locale; shown and written is `.`",
    };
    finding(Health::Ok, "decimal mark", found, "")
}

fn clock(now: DateTime<FixedOffset>, book: &BookFacts) -> Finding {
    let shown = |time: DateTime<FixedOffset>| time.format("%Y-%m-%d %H:%M:%S UTC%:z").to_string();
    let found = shown(now);
    let set = "set the clock of this machine";
    if now.year() < FIRST_YEAR {
        return finding(Health::Trouble, "clock", format!("{found}: it was never set"), set);
    }
    match &book.state {
        BookState::Ready { last_entry: Some(last), .. } if *last - now.to_utc() >= UNSEEN => {
            let last = shown(last.with_timezone(now.offset()));
            let found = format!("{found}, before the last entry of the book, {last}");
            finding(Health::Trouble, "clock", found, set)
        }
        _ => finding(Health::Ok, "clock", found, ""),
    }
}

fn disk(facts: &DiskFacts) -> Vec<Finding> {
    let folder = facts.folder.display();
    let space = facts.free.map(|free| {
        let found = format!("{} free at `{folder}`", bytes(free));
        match free {
            0..LEAST_FREE => {
                finding(Health::Trouble, "disk", found, "make room: an entry that finds none is not saved")
            }
            LEAST_FREE..ENOUGH_FREE => finding(Health::Note, "disk", found, "make room before long"),
            _ => finding(Health::Ok, "disk", found, ""),
        }
    });
    let unknown = || finding(Health::Note, "disk", format!("free space at `{folder}` cannot be told"), "");
    let writable = match &facts.not_writable {
        None => finding(Health::Ok, "folder", format!("`{folder}` can be written"), ""),
        Some(why) => {
            let advice = "make it yours to write, or name another place with `--book`";
            finding(Health::Trouble, "folder", format!("`{folder}` cannot be written: {why}"), advice)
        }
    };
    vec![space.unwrap_or_else(unknown), writable]
}

fn bytes(bytes: u64) -> String {
    if bytes >= 1_000_000_000 {
        format!("{} GB", bytes / 1_000_000_000)
    } else {
        format!("{} MB", bytes / 1_000_000)
    }
}

fn book(facts: &BookFacts) -> Vec<Finding> {
    let path = facts.path.display();
    let mut findings = Vec::new();
    match &facts.state {
        BookState::Absent => {
            let advice = "`scruple` makes it and asks three questions; `scruple demo` shows a filled one";
            return vec![finding(Health::Note, "book", format!("`{path}` is not there yet"), advice)];
        }
        BookState::Unusable { why, advice } => {
            findings.push(finding(Health::Trouble, "book", why, advice));
        }
        BookState::Older { found, needed } => {
            let found = format!("`{path}` is of version {found}, this program writes {needed}");
            let advice = "nothing: the next start brings it there and keeps a backup beside it";
            findings.push(finding(Health::Note, "book", found, advice));
        }
        BookState::Ready { version, damage, rows, head, .. } => {
            findings.push(finding(Health::Ok, "book", format!("`{path}`, version {version}"), ""));
            findings.push(match damage {
                None => finding(Health::Ok, "pages", "the quick check finds nothing wrong", ""),
                Some(wrong) => {
                    let advice =
                        "keep the file as it is; `scruple restore` brings the last backup to another place";
                    finding(Health::Trouble, "pages", wrong.clone(), advice)
                }
            });
            let found = format!("{rows} rows, head {head}");
            findings.push(finding(Health::Ok, "journal", found, ""));
        }
    }
    if let Some(mode) = facts.mode {
        findings.push(match mode & 0o077 {
            0 => finding(Health::Ok, "permissions", format!("{mode:04o}: its owner only"), ""),
            _ => {
                let found = format!("{mode:04o}: others of this machine may read or write it");
                finding(Health::Trouble, "permissions", found, format!("`chmod 600 '{path}'`"))
            }
        });
    }
    match facts.held {
        Some(true) => {
            let advice = "nothing, when that is the desk at work: each waits for the other's entries";
            findings.push(finding(Health::Note, "in use", "another program has the book open", advice));
        }
        Some(false) => findings.push(finding(Health::Ok, "in use", "no other program has the book open", "")),
        None => {}
    }
    findings
}

fn instruments(facts: &InstrumentFacts, config: &ConfigFacts) -> Vec<Finding> {
    if let Some(why) = &facts.unread {
        return vec![finding(
            Health::Trouble,
            "instruments",
            why.clone(),
            "see to this first; then ask again",
        )];
    }
    let from = match facts.origin {
        Some(PolicyOrigin::Book) => "the register stands in the book",
        _ if config.has("instruments.toml") => {
            "the file of the configuration counts; the book has no register"
        }
        _ => "no register in the book and no file: those shipped are assumed",
    };
    let register = "`scruple instrument set FILE` puts a register with your own certificates into the book";
    let mut findings = vec![match facts.origin {
        Some(PolicyOrigin::Book) => finding(Health::Ok, "instruments", from, ""),
        _ => finding(Health::Note, "instruments", from, register),
    }];
    if !facts.assumed.is_empty() {
        let found = format!("nobody registered: {}; their figures are assumed", facts.assumed.join(", "));
        findings.push(finding(Health::Note, "assumed", found, "enter the figures of your certificates"));
    }
    for (name, why) in &facts.failed {
        let advice = "have it mended or adjusted, then `scruple control`; what it reads meanwhile holds";
        findings.push(finding(Health::Trouble, "control", format!("{name}: {why}"), advice));
    }
    for (name, why) in &facts.due {
        let advice = "`scruple control`; what it reads before holds";
        findings.push(finding(Health::Note, "control", format!("{name}: {why}"), advice));
    }
    if !facts.past_due.is_empty() {
        let found = format!("past its day: {}", facts.past_due.join(", "));
        findings.push(finding(Health::Note, "calibration", found, "have it calibrated; its readings hold"));
    }
    findings
}

fn configuration(facts: &ConfigFacts) -> Vec<Finding> {
    let what = "configuration";
    let Some(folder) = &facts.folder else {
        return vec![finding(Health::Note, what, "there is no home folder to look in", "set SCRUPLE_CONFIG")];
    };
    if facts.files.is_empty() {
        let found = format!("no file in `{}`: what is shipped counts", folder.display());
        return vec![finding(Health::Ok, what, found, "")];
    }
    let judged = facts.files.iter().map(|(path, mistake)| match mistake {
        None if path.ends_with(screen::FILE) => {
            let words = facts.screen.iter().flat_map(ScreenSettings::in_words);
            let words: Vec<String> = words.map(|(what, value)| format!("{what} {value}")).collect();
            finding(Health::Ok, "screens", format!("`{}`: {}", path.display(), words.join(", ")), "")
        }
        Some(mistake) if path.ends_with(screen::FILE) => {
            let advice = "mend it or take it away; every subcommand works meanwhile, the screens and `scruple plain` do not";
            finding(Health::Trouble, "screens", mistake.clone(), advice)
        }
        None => finding(Health::Ok, what, format!("`{}` is well formed", path.display()), ""),
        Some(mistake) => {
            let found = format!("`{}`: {mistake}", path.display());
            finding(Health::Trouble, what, found, "mend it or take it away; nothing opens before")
        }
    });
    judged.collect()
}

fn backup(facts: &Facts) -> Finding {
    let what = "backups";
    let make = "`scruple backup`";
    let (rows, head) = match &facts.book.state {
        BookState::Ready { rows, head, .. } => (*rows, Some(head)),
        _ => (0, None),
    };
    let newest = match &facts.backup {
        Err(why) => return finding(Health::Note, what, why.clone(), "put the list aside and make a backup"),
        Ok(None) if rows == 0 => return finding(Health::Ok, what, "none yet; there is nothing to keep", ""),
        Ok(None) => return finding(Health::Note, what, "none beside the book", make),
        Ok(Some(newest)) => newest,
    };
    let file = newest.file.display();
    if !newest.is_there {
        return finding(Health::Note, what, format!("the newest, `{file}`, is gone"), make);
    }
    if head == Some(&newest.head) {
        return finding(Health::Ok, what, format!("`{file}` holds everything that is in the book"), "");
    }
    let age = newest.made_at.map(|made| facts.now.naive_local() - made);
    match age.map(|age| age.num_days()) {
        None => finding(Health::Note, what, format!("the newest is `{file}`, of unknown age"), make),
        Some(days) if days >= OLDEST_BACKUP_DAYS => {
            let found = format!("the newest, `{file}`, is {days} days old and the book went on");
            finding(Health::Trouble, what, found, make)
        }
        Some(days) => {
            let old = match days {
                ..=0 => "less than a day".to_owned(),
                days => count(usize::try_from(days).unwrap_or(0), "day", "days"),
            };
            finding(Health::Ok, what, format!("the newest, `{file}`, is {old} old"), "")
        }
    }
}
