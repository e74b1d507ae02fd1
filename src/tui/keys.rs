//! The keys in force on a desk: the table, with the changes of `screen.toml` laid over it.
//!
//! An act goes by the label that footer and palette show. Where several rows have the same label, a change concerns all of
//! them: the same word has the same keys wherever it works. What is changed obeys the rules of the table itself.

use super::keymap::{Act, Binding, Key, Place, TABLE, TYPING};
use super::message::Message;
use crate::desk::AppError;
use crate::desk::screen::{KeyChange, ScreenSettings, mistake};
use crate::reference::closest::closest;

/// Most acts or keys that an error proposes.
const PROPOSED: usize = 6;
/// Letters that Ctrl is never used with: they are flow control, Backspace, Tab, line ends, Esc, or belong to shells and
/// multiplexers.
pub(super) const LEFT_ALONE: [char; 9] = ['s', 'h', 'i', 'j', 'm', '[', 'w', 'u', 'b'];
/// Acts that are never without a key.
const NEEDED: [&str; 2] = ["help", "quit"];

/// A row of the table with its keys in force.
#[derive(Debug, Clone)]
pub struct Bound {
    /// The row.
    pub binding: &'static Binding,
    /// Its keys, the one that is shown first.
    pub keys: Vec<Key>,
}

impl Bound {
    /// Returns the names of the keys, `F1 or Ctrl-G`.
    pub fn keys_text(&self) -> String {
        names(&self.keys)
    }

    /// Returns the names of the first two keys.
    pub fn two_keys(&self) -> String {
        names(&self.keys[..self.keys.len().min(2)])
    }

    fn first_key(&self) -> String {
        self.keys.first().map_or_else(String::new, |key| key.name())
    }
}

fn names(keys: &[Key]) -> String {
    keys.iter().map(|key| key.name()).collect::<Vec<_>>().join(" or ")
}

/// The keys in force.
#[derive(Debug, Clone)]
pub struct Keymap {
    rows: Vec<Bound>,
}

impl Default for Keymap {
    fn default() -> Self {
        let rows = TABLE.iter().map(|binding| Bound { binding, keys: binding.keys.to_vec() });
        Keymap { rows: rows.collect() }
    }
}

/// Tells whether the keys that a desk wants can be had.
///
/// # Errors
/// As [`Keymap::of_desk`].
pub fn check(settings: &ScreenSettings) -> Result<(), AppError> {
    Keymap::of_desk(settings).map(|_| ())
}

impl Keymap {
    /// Returns the keys of a desk.
    ///
    /// # Errors
    /// The first change that cannot be made, with line, act, key and what is allowed.
    pub fn of_desk(settings: &ScreenSettings) -> Result<Self, AppError> {
        let mut keymap = Keymap::default();
        let file = settings.file.as_deref().unwrap_or_default();
        let wrong = |change: &KeyChange, message: String| {
            mistake(file, change.line, &format!("`keys.{}`: {message}", change.act))
        };
        for change in &settings.keys {
            keymap.change(change).map_err(|message| wrong(change, message))?;
        }
        // Two acts may swap their keys, so that this is looked at when every change is made.
        for change in &settings.keys {
            keymap.look_for_clash(&change.act).map_err(|message| wrong(change, message))?;
        }
        Ok(keymap)
    }

    /// Gives an act other keys.
    fn change(&mut self, change: &KeyChange) -> Result<(), String> {
        let act = change.act.as_str();
        let rows = || TABLE.iter().filter(|row| row.label == act);
        if rows().next().is_none() {
            return Err(unknown_act(act));
        }
        let keys = change
            .keys
            .iter()
            .map(|name| Key::named(name).ok_or_else(|| unknown_key(name)))
            .collect::<Result<Vec<Key>, String>>()?;
        if keys.is_empty() && (NEEDED.contains(&act) || !rows().all(|row| row.palette)) {
            let what = "allowed without a key are acts that the list of acts offers, `quit` excepted";
            return Err(format!("there is no key; {what}"));
        }
        for (index, key) in keys.iter().enumerate() {
            let name = key.name();
            if keys[..index].contains(key) {
                return Err(format!("`{name}` stands there twice; allowed is once"));
            }
            if matches!(key, Key::Char(_))
                && rows().any(|row| row.places.iter().any(|at| TYPING.contains(at)))
            {
                let what = "allowed are F keys and Ctrl with a letter";
                return Err(format!(
                    "`{name}` is data where the act works, because something is typed there; {what}"
                ));
            }
        }
        for kept in [Key::Enter, Key::Esc] {
            if rows().any(|row| row.keys.contains(&kept)) && !keys.contains(&kept) {
                let name = kept.name();
                let what = "scales and scanners end a line with Enter, and Esc always leads back";
                return Err(format!(
                    "`{name}` is missing; allowed are keys with `{name}` among them: {what}"
                ));
            }
        }
        let is_f = |key: &Key| matches!(key, Key::F(_));
        if keys.iter().any(is_f) && !keys.iter().any(|key| matches!(key, Key::Ctrl(_))) {
            let f = keys.iter().find(|key| is_f(key)).map_or_else(String::new, |key| key.name());
            let what =
                "allowed is an F key beside a Ctrl key, because terminals and window managers eat F keys";
            return Err(format!("`{f}` stands alone; {what}"));
        }
        for row in self.rows.iter_mut().filter(|row| row.binding.label == act) {
            row.keys.clone_from(&keys);
        }
        Ok(())
    }

    /// Looks for a key of an act that means something else in the same place.
    fn look_for_clash(&self, act: &str) -> Result<(), String> {
        for row in self.rows.iter().filter(|row| row.binding.label == act) {
            for key in &row.keys {
                let taken = self.rows.iter().find(|other| {
                    other.keys.contains(key)
                        && !std::ptr::eq(other.binding, row.binding)
                        && row.binding.places.iter().any(|place| other.binding.places.contains(place))
                });
                if let Some(taken) = taken {
                    return Err(format!(
                        "`{}` is the key of `{}` in the same place; free there are {}",
                        key.name(),
                        taken.binding.label,
                        self.free(row.binding.places)
                    ));
                }
            }
        }
        Ok(())
    }

    /// Returns the names of a few keys that mean nothing in any of these places.
    fn free(&self, places: &[Place]) -> String {
        let letters = ('a'..='z').filter(|c| !LEFT_ALONE.contains(c)).map(Key::Ctrl);
        let used = |key: &Key| {
            let here = |row: &&Bound| row.binding.places.iter().any(|place| places.contains(place));
            self.rows.iter().filter(here).any(|row| row.keys.contains(key))
        };
        let ctrl: Vec<Key> = letters.filter(|key| !used(key)).take(PROPOSED).collect();
        let f: Vec<Key> = (1..=12).map(Key::F).filter(|key| !used(key)).take(PROPOSED).collect();
        let names: Vec<String> = f.iter().chain(&ctrl).map(|key| format!("`{}`", key.name())).collect();
        if names.is_empty() { "none".to_owned() } else { names.join(", ") }
    }

    /// Returns what a key means in a place, or `None` where it means nothing.
    pub fn message(&self, place: Place, key: Key) -> Option<Message> {
        let wanted = if key == Key::LineFeed { Key::Enter } else { key };
        let found = self.valid_in(place).find(|row| row.keys.contains(&wanted));
        match (found, key) {
            (Some(row), _) => Some(Message::Act(row.binding.act)),
            (None, Key::Char(c)) if TYPING.contains(&place) => Some(Message::Type(c)),
            (None, _) => None,
        }
    }

    /// Returns the rows valid in a place.
    pub fn valid_in(&self, place: Place) -> impl Iterator<Item = &Bound> {
        self.rows.iter().filter(move |row| row.binding.places.contains(&place))
    }

    /// Returns the name of the first key of an act in a place, or of the act itself where it has none.
    pub fn key(&self, place: Place, act: Act) -> String {
        let row = self.valid_in(place).find(|row| row.binding.act == act);
        match row {
            Some(row) if row.keys.is_empty() => format!("`{}` in the list of acts", row.binding.label),
            Some(row) => row.first_key(),
            None => String::new(),
        }
    }

    /// Returns the footer for a place as pairs of key and label, as many as fit into `columns` with two blanks between.
    ///
    /// The help is always among them, and the last to go.
    pub fn footer(&self, place: Place, columns: usize) -> Vec<(String, &'static str)> {
        let shown = |row: &&Bound| row.binding.footer > 0 && !row.keys.is_empty();
        let rows: Vec<&Bound> = self.valid_in(place).filter(shown).collect();
        let mut order: Vec<usize> = (0..rows.len()).collect();
        order.sort_by_key(|index| rows[*index].binding.footer);
        let mut left = columns + 2;
        let mut shown: Vec<usize> = Vec::new();
        for index in order {
            let needed = rows[index].first_key().len() + 1 + rows[index].binding.label.len() + 2;
            if shown.is_empty() || needed <= left {
                left = left.saturating_sub(needed);
                shown.push(index);
            }
        }
        shown.sort_unstable();
        shown.into_iter().map(|index| (rows[index].first_key(), rows[index].binding.label)).collect()
    }

    /// Returns the acts that the palette offers in a place and that contain every word of the query.
    pub fn palette(&self, place: Place, query: &str) -> Vec<&Bound> {
        let words: Vec<String> = query.split_whitespace().map(str::to_lowercase).collect();
        self.valid_in(place)
            .filter(|row| row.binding.palette)
            .filter(|row| {
                let text = format!("{} {}", row.binding.label, row.binding.help).to_lowercase();
                words.iter().all(|word| text.contains(word.as_str()))
            })
            .collect()
    }
}

fn unknown_act(act: &str) -> String {
    let mut labels: Vec<&str> = TABLE.iter().map(|row| row.label).collect();
    labels.sort_unstable();
    labels.dedup();
    let near = closest(act, labels.iter().copied(), PROPOSED);
    let all = near.is_empty();
    let names: Vec<String> =
        if all { labels } else { near }.iter().map(|label| format!("`{label}`")).collect();
    let which = if all { "allowed are" } else { "allowed is a name that the footer shows, near are" };
    format!("there is no such act; {which} {}", names.join(", "))
}

fn unknown_key(name: &str) -> String {
    let letter = name.to_ascii_lowercase().strip_prefix("ctrl-").and_then(|rest| rest.chars().next());
    let allowed = "allowed are F1 to F12, Ctrl with a letter, Enter, Tab, BackTab, Esc, Space, Backspace, Delete, Home, End, \
                   PgUp, PgDn, Left, Right, Up, Down, and single characters where nothing is typed";
    match letter {
        Some(c) if LEFT_ALONE.contains(&c) => {
            format!(
                "`{name}` means something to terminals, shells or multiplexers and is left alone; {allowed}"
            )
        }
        _ => format!("`{name}` is not a key; {allowed}"),
    }
}

#[cfg(test)]
mod tests {
    use super::super::keymap::EVERYWHERE;
    use super::*;

    fn of(changes: &str) -> Result<Keymap, AppError> {
        Keymap::of_desk(&ScreenSettings::parse("screen.toml", &format!("[keys]\n{changes}\n")).unwrap())
    }

    #[track_caller]
    fn refused(changes: &str, expected: &str) {
        let error = of(changes).unwrap_err();
        assert!(error.message.contains(expected), "{}", error.message);
        assert!(error.message.starts_with("screen.toml:"), "{}", error.message);
    }

    #[test]
    fn without_changes_the_keys_are_those_of_the_table() {
        let keymap = of("").unwrap();
        for (row, bound) in TABLE.iter().zip(&keymap.rows) {
            assert_eq!(row.keys, bound.keys);
        }
    }

    #[test]
    fn a_desk_gives_an_act_other_keys_wherever_its_label_stands() {
        let keymap = of("\"new shipment\" = [\"F12\", \"Ctrl-N\"]\nrelease = [\"F11\", \"ctrl-y\"]").unwrap();
        assert_eq!(keymap.message(Place::Shipments, Key::F(12)), Some(Message::Act(Act::NewShipment)));
        assert_eq!(keymap.message(Place::Shipments, Key::Ctrl('n')), Some(Message::Act(Act::NewShipment)));
        for place in [Place::Lots, Place::Holds, Place::Evidence, Place::Bench, Place::Question] {
            assert_eq!(keymap.message(place, Key::F(11)), Some(Message::Act(Act::Release)), "{place:?}");
        }
        let footer = keymap.footer(Place::Shipments, 200);
        assert!(footer.contains(&("F12".to_owned(), "new shipment")), "{footer:?}");
        assert_eq!(keymap.key(Place::Shipments, Act::NewShipment), "F12");
        let offered = keymap.palette(Place::Shipments, "new shipment");
        assert_eq!(offered[0].keys_text(), "F12 or Ctrl-N");
    }

    #[test]
    fn two_acts_may_swap_their_keys() {
        let keymap = of("find = [\"F8\", \"Ctrl-Z\"]\nundo = [\"F3\", \"Ctrl-F\"]").unwrap();
        assert_eq!(keymap.message(Place::Shipments, Key::F(8)), Some(Message::Act(Act::Find)));
        assert_eq!(keymap.message(Place::Shipments, Key::F(3)), Some(Message::Act(Act::Undo)));
    }

    #[test]
    fn a_key_that_is_taken_names_its_act_and_free_ones() {
        refused(
            "find = [\"Ctrl-P\"]",
            "screen.toml:2: `keys.find`: `Ctrl-P` is the key of `acts` in the same place; free there are `F",
        );
        refused("evidence = [\"Ctrl-N\"]", "`keys.evidence`: `Ctrl-N` is the key of");
    }

    #[test]
    fn what_is_typed_stays_data() {
        refused("\"score now\" = [\"x\"]", "`keys.score now`: `x` is data where the act works");
        refused("help = [\"?\", \"F1\", \"Ctrl-G\"]", "`?` is data");
        assert!(of("mark = [\"m\"]").is_ok());
    }

    #[test]
    fn keys_that_mean_something_to_a_terminal_cannot_be_had() {
        for c in LEFT_ALONE {
            refused(&format!("find = [\"Ctrl-{}\"]", c.to_ascii_uppercase()), "is left alone");
        }
        refused("find = [\"Alt-F\"]", "`Alt-F` is not a key; allowed are F1 to F12");
        refused("find = [\"F13\", \"Ctrl-F\"]", "`F13` is not a key");
    }

    #[test]
    fn an_f_key_keeps_its_twin_and_help_and_quit_keep_a_key() {
        refused("find = [\"F3\"]", "`F3` stands alone; allowed is an F key beside a Ctrl key");
        refused("help = []", "`keys.help`: there is no key");
        refused("quit = []", "`keys.quit`: there is no key");
        refused("next = []", "`keys.next`: there is no key");
        refused("find = [\"Ctrl-F\", \"Ctrl-F\"]", "`Ctrl-F` stands there twice");
        refused("back = [\"F12\", \"Ctrl-D\"]", "`keys.back`: `Esc` is missing");
        refused("open = [\"Tab\"]", "`keys.open`: `Enter` is missing");
        let keymap = of("undo = []").unwrap();
        assert_eq!(keymap.message(Place::Shipments, Key::F(8)), None);
        assert!(keymap.footer(Place::Shipments, 200).iter().all(|(_, label)| *label != "undo"));
    }

    #[test]
    fn an_act_that_does_not_exist_is_told_with_those_near_it() {
        refused(
            "\"new shipmet\" = [\"F12\", \"Ctrl-N\"]",
            "there is no such act; allowed is a name that the footer",
        );
        refused("zzzzzzzzzz = [\"Ctrl-N\"]", "allowed are `");
    }

    #[test]
    fn every_name_of_a_key_is_read_back() {
        for row in TABLE {
            for key in row.keys {
                assert_eq!(Key::named(&key.name()), Some(*key), "{}", key.name());
            }
        }
    }

    #[test]
    fn the_footer_keeps_the_help_at_any_width() {
        for place in EVERYWHERE {
            for columns in [0, 1, 7, 20, 40, 80, 200] {
                let footer = Keymap::default().footer(*place, columns);
                assert_eq!(footer[0].1, "help", "{place:?} {columns}");
                let width: usize = footer.iter().map(|(key, label)| key.len() + label.len() + 3).sum();
                assert!(footer.len() == 1 || width - 2 <= columns, "{place:?} {columns}");
            }
        }
    }

    #[test]
    fn the_palette_narrows_to_what_is_typed() {
        let keymap = Keymap::default();
        let found = keymap.palette(Place::Bench, "linked correction");
        assert_eq!(found.iter().map(|row| row.binding.label).collect::<Vec<_>>(), ["undo"]);
        assert!(keymap.palette(Place::Bench, "").len() > 8);
    }
}
