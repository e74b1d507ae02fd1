//! Power cuts: the files as they may be when the power fails at any point of a session.
//!
//! What was synced is certain. Of what was written since, a cut leaves nothing, all, any part, or a write torn in the
//! middle; names in the folder are certain once a new file in it was synced, as the system's VFS syncs the folder then.

use super::disk::{Disk, Event, Watch};
use super::{Dice, Finding, SESSION, Said, Tally, in_full, look, open, said};
use std::collections::BTreeMap;

/// A file as the disk holds it: what is safe, and what came since.
#[derive(Debug, Clone, Default)]
struct File {
    safe: Vec<u8>,
    since: Vec<Change>,
    /// Whether its name is safe in the folder.
    named: bool,
}

#[derive(Debug, Clone)]
enum Change {
    Write { at: usize, bytes: Vec<u8> },
    Truncate(usize),
}

impl Change {
    fn apply(&self, content: &mut Vec<u8>) {
        match self {
            Change::Write { at, bytes } => {
                if content.len() < at + bytes.len() {
                    content.resize(at + bytes.len(), 0);
                }
                content[*at..at + bytes.len()].copy_from_slice(bytes);
            }
            Change::Truncate(size) => content.resize(*size, 0),
        }
    }
}

/// The folder as the disk holds it.
#[derive(Debug, Clone, Default)]
struct Folder {
    files: BTreeMap<String, File>,
    /// Removed files whose removal is not safe yet.
    removed: BTreeMap<String, File>,
}

/// What a cut leaves of the writes that were not synced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Leaves {
    Nothing,
    All,
    Some,
    TornLast,
}

impl Folder {
    fn happen(&mut self, event: &Event) {
        match event {
            Event::Open { name, new } => {
                let file = self.files.entry(name.clone()).or_default();
                // What was there before the record began is safe.
                file.named |= !new;
            }
            Event::Write { name, at, bytes } => {
                let change = Change::Write { at: *at, bytes: bytes.clone() };
                self.files.entry(name.clone()).or_default().since.push(change);
            }
            Event::Truncate { name, size } => {
                self.files.entry(name.clone()).or_default().since.push(Change::Truncate(*size));
            }
            Event::Sync { name } => {
                let file = self.files.entry(name.clone()).or_default();
                for change in std::mem::take(&mut file.since) {
                    change.apply(&mut file.safe);
                }
                if !file.named {
                    self.name_all();
                }
            }
            Event::Delete { name, safe } => {
                if let Some(file) = self.files.remove(name) {
                    self.removed.insert(name.clone(), file);
                }
                if *safe {
                    self.name_all();
                }
            }
        }
    }

    fn name_all(&mut self) {
        self.removed.clear();
        self.files.values_mut().for_each(|file| file.named = true);
    }

    /// Returns the files as a cut may leave them.
    fn after_cut(&self, leaves: Leaves, dice: &mut Dice) -> BTreeMap<String, Vec<u8>> {
        let mut left = BTreeMap::new();
        let happened = |dice: &mut Dice| match leaves {
            Leaves::Nothing => false,
            Leaves::All => true,
            Leaves::Some | Leaves::TornLast => dice.coin(),
        };
        for (name, file) in &self.removed {
            if file.named && !happened(dice) {
                left.insert(name.clone(), file.after_cut(leaves, dice));
            }
        }
        for (name, file) in &self.files {
            if file.named || happened(dice) {
                left.insert(name.clone(), file.after_cut(leaves, dice));
            }
        }
        left
    }
}

impl File {
    fn after_cut(&self, leaves: Leaves, dice: &mut Dice) -> Vec<u8> {
        let mut content = self.safe.clone();
        let last = self.since.len().saturating_sub(1);
        for (at, change) in self.since.iter().enumerate() {
            match (leaves, change) {
                (Leaves::Nothing, _) => {}
                (Leaves::TornLast, Change::Write { at: place, bytes }) if at == last => {
                    let kept = dice.below(bytes.len() + 1);
                    Change::Write { at: *place, bytes: bytes[..kept].to_vec() }.apply(&mut content);
                }
                (Leaves::Some, _) if dice.coin() => {}
                _ => change.apply(&mut content),
            }
        }
        content
    }
}

/// What was acknowledged, and how much had happened on the disk by then.
struct Acknowledged {
    by: usize,
    said: Said,
}

/// Runs the session on a recorded disk. It closes the book in the middle once, which empties the write-ahead log.
fn record(never_sync: bool) -> (Vec<Event>, Vec<Acknowledged>, Vec<(String, String)>) {
    let folder = tempfile::tempdir().unwrap();
    let watch = Watch(Disk::watch(folder.path()));
    let disk = &watch.0;
    if never_sync {
        disk.never_sync();
    }
    let book = folder.path().join("a.book");
    let mut desk = open(&book).unwrap();
    let mut acknowledged = vec![Acknowledged { by: disk.now(), said: said(&desk) }];
    for (at, step) in SESSION.iter().enumerate() {
        (step.act)(&mut desk).unwrap_or_else(|error| panic!("{}: {error}", step.name));
        acknowledged.push(Acknowledged { by: disk.now(), said: said(&desk) });
        if at == SESSION.len() / 2 {
            drop(desk);
            desk = open(&book).unwrap();
        }
    }
    drop(desk);
    (disk.events(), acknowledged, disk.settings())
}

/// Puts files into a new folder and looks at the book in it.
fn look_at(files: &BTreeMap<String, Vec<u8>>, acknowledged: &Said, in_hand: Option<&Said>) -> Finding {
    let folder = tempfile::tempdir().unwrap();
    for (name, bytes) in files {
        std::fs::write(folder.path().join(name), bytes).unwrap();
    }
    look(&folder.path().join("a.book"), acknowledged, in_hand)
}

/// Cuts the power at points of a record and counts what is lost.
fn cut(
    tally: &mut Tally,
    events: &[Event],
    acknowledged: &[Acknowledged],
    points: impl Fn(usize, &mut Dice) -> bool,
) -> Vec<String> {
    let mut folder = Folder::default();
    let mut dice = Dice::new(7);
    let mut findings = Vec::new();
    for (at, event) in events.iter().enumerate() {
        folder.happen(event);
        let happened = at + 1;
        if !points(happened, &mut dice) {
            continue;
        }
        let by_now = acknowledged.iter().rposition(|act| act.by <= happened);
        let nothing = Said { rows: 0, head: "0".repeat(64), draft: None };
        let before = by_now.map_or(&nothing, |act| &acknowledged[act].said);
        let in_hand = acknowledged.get(by_now.map_or(0, |act| act + 1)).map(|act| &act.said);
        for leaves in [Leaves::Nothing, Leaves::All, Leaves::Some, Leaves::TornLast] {
            let files = folder.after_cut(leaves, &mut dice);
            tally.faults += 1;
            tally.acknowledged += by_now.unwrap_or(0);
            match look_at(&files, before, in_hand) {
                Finding::Intact => {}
                Finding::Lost(what) => {
                    tally.lost += 1;
                    findings.push(format!("point {happened}, {leaves:?}: lost: {what}"));
                }
                Finding::Damaged(what) => {
                    tally.damaged += 1;
                    findings.push(format!("point {happened}, {leaves:?}: damaged: {what}"));
                }
            }
        }
    }
    findings
}

/// Returns whether a point is tried: all of them in full, about so many otherwise.
fn sample(few: usize, of: usize) -> impl Fn(usize, &mut Dice) -> bool {
    move |_, dice| in_full() || dice.below(of) < few
}

#[test]
fn nothing_acknowledged_is_lost_in_a_power_cut() {
    let (events, acknowledged, settings) = record(false);
    // sqlite.org, pragma: these two keep every committed transaction through a power cut.
    for wanted in [("journal_mode", "wal"), ("synchronous", "full")] {
        assert!(settings.contains(&(wanted.0.to_owned(), wanted.1.to_owned())), "{wanted:?}");
    }
    let made = acknowledged[0].by;
    let mut tally = Tally::new("power cut");
    let chosen = sample(40, events.len() - made);
    let findings = cut(&mut tally, &events, &acknowledged, |at, dice| at >= made && chosen(at, dice));
    assert_eq!(findings, Vec::<String>::new());
    tally.check();
}

#[test]
fn a_book_whose_making_is_cut_off_is_made_the_next_time() {
    let (events, acknowledged, _) = record(false);
    let made = acknowledged[0].by;
    let mut tally = Tally::new("power cut while a book is created");
    let chosen = sample(12, made);
    // The first changes of a new file are where a cut can leave less than a book; they are tried always.
    let findings =
        cut(&mut tally, &events, &acknowledged, |at, dice| at < made && (at < 12 || chosen(at, dice)));
    assert_eq!(findings, Vec::<String>::new());
    tally.acknowledged = tally.acknowledged.max(1);
    tally.check();
}

#[test]
fn without_syncs_the_same_cuts_lose_what_was_acknowledged() {
    let (events, acknowledged, settings) = record(true);
    assert!(settings.contains(&("synchronous".to_owned(), "off".to_owned())), "{settings:?}");
    assert!(!events.iter().any(|event| matches!(event, Event::Sync { name } if name.ends_with("-wal"))));
    let made = acknowledged[0].by;
    let mut tally = Tally::new("power cut, never synced (must lose)");
    let chosen = sample(20, events.len() - made);
    cut(&mut tally, &events, &acknowledged, |at, dice| at >= made && chosen(at, dice));
    tally.report();
    assert!(tally.lost + tally.damaged > tally.faults / 10, "the test cannot fail: {tally:?}");
}
