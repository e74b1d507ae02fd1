//! The one table of keys: footer, help, palette and the table in the README are made from it. A desk may change keys; those
//! in force are in [`super::keys`].
//!
//! A plain key is data where something can be typed; Ctrl and F keys act everywhere; Alt is never needed. Every F key
//! has a Ctrl twin, because terminals and window managers eat F keys. Left alone: Ctrl-S (flow control), Ctrl-H, I, J,
//! M and `[` (they are Backspace, Tab, line ends and Esc), Ctrl-W and U (they erase in shells), Ctrl-B (a multiplexer).

use super::keys::LEFT_ALONE;

/// A key as the program knows it, free of any terminal library.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Key {
    /// A character.
    Char(char),
    /// Ctrl with a small letter.
    Ctrl(char),
    /// A function key by its number.
    F(u8),
    /// Carriage return.
    Enter,
    /// Line feed, as some devices end their line; right after `Enter` it is part of the same ending.
    LineFeed,
    /// Tab.
    Tab,
    /// Shift and Tab.
    BackTab,
    /// Esc.
    Esc,
    /// Backspace.
    Backspace,
    /// Delete.
    Delete,
    /// Arrow to the left.
    Left,
    /// Arrow to the right.
    Right,
    /// Arrow up.
    Up,
    /// Arrow down.
    Down,
    /// Home.
    Home,
    /// End.
    End,
    /// Page up.
    PageUp,
    /// Page down.
    PageDown,
}

impl Key {
    /// Returns the key with a name, in either case; `None` for a name of none, and for keys that are left alone.
    pub fn named(name: &str) -> Option<Self> {
        let mut chars = name.chars();
        if let (Some(c), None) = (chars.next(), chars.next()) {
            return (!c.is_control() && c != ' ').then_some(Key::Char(c));
        }
        let name = name.to_ascii_lowercase();
        if let Some(letter) = name.strip_prefix("ctrl-") {
            let mut letters = letter.chars();
            return match (letters.next(), letters.next()) {
                (Some(c), None) if c.is_ascii_lowercase() && !LEFT_ALONE.contains(&c) => Some(Key::Ctrl(c)),
                _ => None,
            };
        }
        if let Some(number) = name.strip_prefix('f').and_then(|number| number.parse().ok()) {
            return (1..=12).contains(&number).then_some(Key::F(number));
        }
        const OTHERS: [Key; 15] = [
            Key::Enter,
            Key::Tab,
            Key::BackTab,
            Key::Esc,
            Key::Backspace,
            Key::Delete,
            Key::Left,
            Key::Right,
            Key::Up,
            Key::Down,
            Key::Home,
            Key::End,
            Key::PageUp,
            Key::PageDown,
            Key::Char(' '),
        ];
        OTHERS.into_iter().find(|key| key.name().to_ascii_lowercase() == name)
    }

    /// Returns the name people read.
    pub fn name(self) -> String {
        match self {
            Key::Char(' ') => "Space".to_owned(),
            Key::Char(c) => c.to_string(),
            Key::Ctrl(c) => format!("Ctrl-{}", c.to_ascii_uppercase()),
            Key::F(number) => format!("F{number}"),
            Key::LineFeed => "Enter".to_owned(),
            Key::PageUp => "PgUp".to_owned(),
            Key::PageDown => "PgDn".to_owned(),
            other => format!("{other:?}"),
        }
    }
}

/// Where a key is pressed: the top of what is on the screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Place {
    /// The list of shipments.
    Shipments,
    /// The lots of one shipment.
    Lots,
    /// The entry form of the bench.
    Bench,
    /// The entry form, asking about a value far off.
    Question,
    /// The list of holds.
    Holds,
    /// The list of pieces in stock.
    Stock,
    /// The list of instruments.
    Instruments,
    /// The list of products.
    Reference,
    /// The account of a day.
    Day,
    /// The filter line of a list.
    Filter,
    /// The palette of acts.
    Palette,
    /// The finder.
    Finder,
    /// A choice among a few answers.
    Choice,
    /// The list of screens.
    ScreenList,
    /// A form.
    Form,
    /// The evidence of a piece.
    Evidence,
    /// What a second test of a piece came to.
    Outcome,
    /// Any other page of text.
    Page,
}

/// Everything a key can do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Act {
    /// Shows the help.
    Help,
    /// Shows the palette.
    Palette,
    /// Asks what to find.
    Find,
    /// Corrects the selected piece.
    Correct,
    /// Scores and saves the piece in hand.
    ScoreNow,
    /// Keeps a value far off.
    Keep,
    /// Empties a field with a value far off.
    Retype,
    /// Puts the selected piece on hold or takes the hold back.
    Hold,
    /// Voids the selected piece.
    Void,
    /// Marks the selected piece.
    Mark,
    /// Chooses a second test of the selected piece.
    SecondTest,
    /// Settles a doubt by decision.
    Settle,
    /// Draws a sample of a lot, or settles on it.
    Sample,
    /// Releases pieces.
    Release,
    /// Sends pieces back or surrenders them.
    PartWith,
    /// Writes what is shown to files.
    WriteFiles,
    /// Records a control of the selected instrument.
    Control,
    /// Opens the uncertainty budgets of the selected piece.
    Budget,
    /// Draws the pieces of the lot.
    Plot,
    /// Opens the policy in force.
    Policy,
    /// Undoes the last act.
    Undo,
    /// Shows the list of screens.
    Screens,
    /// Goes to the shipments.
    GoReceive,
    /// Goes to the bench.
    GoBench,
    /// Goes to the holds.
    GoHolds,
    /// Goes to the stock.
    GoStock,
    /// Says what the selected probe would do to a product.
    Reach,
    /// Goes to the instruments.
    GoInstruments,
    /// Goes to the reference.
    GoReference,
    /// Goes to the day sheet.
    GoDay,
    /// Ends the program.
    Quit,
    /// Opens the page about the selected piece.
    Evidence,
    /// Says where the marked thing comes from.
    Explain,
    /// Chooses the next probe.
    NextProbe,
    /// Empties the entry form.
    ClearEntry,
    /// Empties the filter.
    ClearFilter,
    /// Starts a shipment.
    NewShipment,
    /// Adds a line to the shipment.
    NewLine,
    /// Draws everything again.
    Redraw,
    /// Accepts what is typed or chosen and goes on.
    Accept,
    /// Goes back one step.
    Back,
    /// Starts the filter of a list.
    Filter,
    /// One row or field up.
    Up,
    /// One row or field down.
    Down,
    /// To the field before.
    Previous,
    /// One page up.
    PageUp,
    /// One page down.
    PageDown,
    /// To the first row.
    First,
    /// To the last row.
    Last,
    /// The piece logged before the one shown.
    Earlier,
    /// The piece logged after the one shown.
    Later,
    /// Cursor to the left.
    Left,
    /// Cursor to the right.
    Right,
    /// Cursor to the start of the text.
    LineStart,
    /// Cursor to the end of the text.
    LineEnd,
    /// Deletes the character before the cursor.
    DeleteBack,
    /// Deletes the character after the cursor.
    DeleteForward,
}

/// One row of the table.
#[derive(Debug, Clone, Copy)]
pub struct Binding {
    /// The keys, the one that is shown first.
    pub keys: &'static [Key],
    /// What they do.
    pub act: Act,
    /// Where they are valid.
    pub places: &'static [Place],
    /// A word or two for the footer and the palette.
    pub label: &'static str,
    /// A sentence for the help.
    pub help: &'static str,
    /// Rank in the footer: 1 is cut last, 0 is never shown there.
    pub footer: u8,
    /// Whether the palette offers it.
    pub palette: bool,
}

use Place::{
    Bench, Choice, Day, Evidence, Filter, Finder, Form, Holds, Instruments, Lots, Outcome, Page, Palette,
    Question, Reference, ScreenList, Shipments, Stock,
};

pub(super) const EVERYWHERE: &[Place] = &[
    Shipments,
    Lots,
    Bench,
    Question,
    Holds,
    Stock,
    Instruments,
    Reference,
    Day,
    Filter,
    Palette,
    Finder,
    Choice,
    ScreenList,
    Form,
    Evidence,
    Outcome,
    Page,
];
/// Everywhere but on the first screen.
const BELOW: &[Place] = &[
    Lots,
    Bench,
    Question,
    Holds,
    Stock,
    Instruments,
    Reference,
    Day,
    Filter,
    Palette,
    Finder,
    Choice,
    ScreenList,
    Form,
    Evidence,
    Outcome,
    Page,
];
const SCREENS: &[Place] = &[Shipments, Lots, Bench, Question, Holds, Stock, Instruments, Reference, Day];
const LISTS: &[Place] = &[Shipments, Lots, Holds, Stock, Instruments, Reference];
const DIGITS: &[Place] = &[Shipments, Lots, Holds, Stock, Instruments, Reference, Day, ScreenList];
const FILTERED: &[Place] = &[Shipments, Holds, Stock, Instruments, Reference];
const PAGES: &[Place] = &[Outcome, Page];
/// Where rows are paged through.
const PAGED: &[Place] =
    &[Shipments, Lots, Holds, Stock, Instruments, Reference, Day, Evidence, Outcome, Page];
pub(super) const TYPING: &[Place] = &[Bench, Question, Filter, Palette, Finder, Form];

/// Makes rows of the table.
macro_rules! bindings {
    ($($footer:literal $palette:ident [$($key:expr),+] $act:ident $places:expr, $label:literal, $help:literal;)+) => {
        &[$(Binding {
            keys: &[$($key),+],
            act: Act::$act,
            places: $places,
            label: $label,
            help: $help,
            footer: $footer,
            palette: bindings!(@ $palette),
        }),+]
    };
    (@ deed) => { true };
    (@ move) => { false };
}

/// The table, in the order in which the footer and the help show it.
pub const TABLE: &[Binding] = bindings![
    1 move [Key::F(1), Key::Ctrl('g')] Help EVERYWHERE, "help",
        "Shows the keys that work here and how to go on.";

    2 move [Key::Enter, Key::Tab] Accept &[Bench], "next",
        "Accepts the field and goes on; after the last one the piece is scored and saved.";
    2 move [Key::Enter, Key::Tab] Retype &[Question], "type again",
        "Empties the field so that the value can be typed again.";
    2 deed [Key::F(5), Key::Ctrl('k')] Keep &[Question], "keep",
        "Keeps the value although it is far off; asks for the reason.";
    2 move [Key::Enter] Accept LISTS, "open", "Opens the selected row.";
    2 move [Key::Enter] Explain &[Evidence], "explain",
        "Says where the marked number or word comes from: formula, numbers, sources; the arrows move the mark.";
    2 move [Key::Enter] Accept &[Palette], "run", "Runs the selected act.";
    2 move [Key::Enter] Accept &[Finder], "open", "Opens what is selected: a shipment, a lot on the bench, the evidence of a piece.";
    2 move [Key::Enter] Accept &[Choice, ScreenList], "choose", "Takes the selected answer.";
    3 move [Key::Tab] Down &[Choice, ScreenList], "next answer", "To the next answer; the arrows go both ways.";
    2 move [Key::Enter, Key::Tab] Accept &[Form], "next",
        "Accepts the field; after the last one the form is carried out.";
    2 move [Key::Enter, Key::Tab] Accept &[Filter], "done", "Leaves the filter line; the filter stays.";
    3 move [Key::Esc] Back BELOW, "back", "Goes back one step. Nothing that was typed is lost.";

    3 deed [Key::Ctrl('n')] NewShipment &[Shipments], "new shipment",
        "Takes in a shipment, from a packing list or by hand.";
    3 deed [Key::Ctrl('n')] NewLine &[Lots], "new line", "Adds a line to the packing list by hand.";
    3 deed [Key::Ctrl('n')] SecondTest &[Holds, Evidence, Outcome], "test",
        "Lists the methods for a second test of the selected piece, the one to try first at the top, each with the \
         number why; then takes its result.";
    3 deed [Key::Ctrl('n')] Control &[Instruments], "control",
        "Records a control of the selected instrument on a reference piece. When it fails, everything read since the last \
         one that passed goes back on hold, and what is in stock goes on the recall list.";
    4 deed [Key::Ctrl('e')] Reach &[Instruments], "reach",
        "Says what the selected probe, or every probe, proves in depth on a product, core by core, and how many good pieces the \
         instruments would hold.";
    3 deed [Key::F(5), Key::Ctrl('k')] Settle &[Holds, Evidence, Outcome], "settle",
        "Settles a doubt by a person's decision, with a reason and the second test it rests on.";
    3 deed [Key::F(7), Key::Ctrl('n')] WriteFiles &[Day], "write files",
        "Writes the day sheet as a page for a browser and as pages for paper.";
    4 deed [Key::F(5), Key::Ctrl('k')] ScoreNow &[Bench], "score now",
        "Scores and saves the piece with what was measured so far.";
    7 deed [Key::Ctrl('n')] NextProbe &[Bench, Question], "probe", "Chooses the next probe of the desk.";
    6 deed [Key::Ctrl('e')] Evidence &[Bench, Question, Holds], "evidence",
        "Opens everything the standing of the selected piece rests on.";
    7 deed [Key::Ctrl('a')] Plot &[Bench, Question], "plot",
        "Draws the pieces of the lot: density against conductivity, mass against thickness, and each reading in the order of \
         logging, with the limits of the product and what else would lie near.";
    7 deed [Key::Ctrl('a')] Budget &[Evidence, Outcome], "budget",
        "Opens the uncertainty of each reading of the selected piece, line by line, with the source of each line.";
    5 deed [Key::F(4), Key::Ctrl('r')] Correct &[Bench, Question, Holds, Evidence, Outcome], "correct",
        "Corrects a reading or the serial of the selected piece; asks why.";
    6 deed [Key::F(6), Key::Ctrl('o')] Hold &[Bench, Question, Holds, Evidence, Outcome], "hold",
        "Puts the selected piece on hold or takes such a hold back; asks why.";
    4 deed [Key::Ctrl('y')] Release &[Lots, Holds, Evidence, Outcome], "release",
        "Releases the selected or marked pieces to stock, or all clear pieces of a lot. The book refuses while a doubt is \
         open, and every such doubt is named.";
    7 deed [Key::Ctrl('y')] Release &[Bench, Question], "release",
        "Releases the piece shown to stock. The book refuses while a doubt is open, and every such doubt is named.";
    5 deed [Key::Char(' ')] Mark &[Holds], "mark", "Marks the piece, or takes the mark off; acts then take all marked.";
    6 deed [Key::Ctrl('a')] Sample &[Lots, Holds], "sample",
        "Shows the random sample of the lot: draws it, tests its pieces, settles doubts of the lot on it.";
    6 deed [Key::Ctrl('v')] PartWith &[Bench, Question, Holds, Evidence, Outcome], "part with",
        "Sends the selected or marked pieces back to their source, or surrenders them to the authorities; asks why.";
    0 deed [Key::Ctrl('d')] Void &[Bench, Question, Holds, Evidence, Outcome], "void",
        "Voids the selected piece, which was logged by mistake; asks why.";
    8 move [Key::PageUp] Earlier &[Bench, Question], "earlier", "Shows the piece logged before.";
    0 move [Key::PageDown] Later &[Bench, Question], "later",
        "Shows the piece logged after, and at last the one in hand.";
    0 deed [Key::Ctrl('x')] ClearEntry &[Bench, Question], "clear entry",
        "Empties the half-filled piece, after asking.";
    4 move [Key::Left] Earlier &[Day], "day before", "Shows the day before.";
    4 move [Key::Right] Later &[Day], "day after", "Shows the day after.";
    0 deed [Key::Ctrl('o')] Policy &[Reference], "policy",
        "Opens the policy in force: what the desk holds and what it lets pass, with its version.";
    4 deed [Key::Char('/')] Filter FILTERED, "filter", "Shows only the rows that contain what is typed.";
    0 deed [Key::Ctrl('x')] ClearFilter FILTERED, "clear filter", "Shows all rows again.";

    4 move [Key::F(2), Key::Ctrl('p')] Palette SCREENS, "acts",
        "Lists every act that is possible here, with its key; type to narrow, Enter runs it.";
    5 deed [Key::F(3), Key::Ctrl('f')] Find SCREENS, "find",
        "Finds a shipment, lot or piece while one types: its number, its serial or the end of it, a word of its source or product.";
    6 deed [Key::F(8), Key::Ctrl('z')] Undo SCREENS, "undo",
        "Lists your last acts: Enter takes the newest back by a linked correction, or does an undone one again; nothing is \
         deleted.";
    4 deed [Key::F(9), Key::Ctrl('t')] Screens SCREENS, "screens", "Lists the screens.";
    0 move [Key::Char('1')] GoReceive DIGITS, "receive",
        "Goes to Receive: shipments and their packing lists.";
    0 move [Key::Char('2')] GoBench DIGITS, "bench", "Goes to the Bench: readings, piece by piece.";
    0 move [Key::Char('3')] GoHolds DIGITS, "holds",
        "Goes to Holds: what is set aside and what would settle it.";
    0 move [Key::Char('4')] GoStock DIGITS, "stock", "Goes to Stock: what was released and can be sold.";
    0 move [Key::Char('5')] GoInstruments DIGITS, "instruments",
        "Goes to Instruments: controls, charts and drift.";
    0 move [Key::Char('6')] GoReference DIGITS, "reference", "Goes to Reference: the products.";
    0 move [Key::Char('7')] GoDay DIGITS, "day", "Goes to Day: counts, money, doubts and decisions of a day.";
    0 deed [Key::Ctrl('l')] Redraw EVERYWHERE, "draw again", "Draws the whole screen again.";
    5 deed [Key::F(10), Key::Ctrl('q'), Key::Ctrl('c')] Quit EVERYWHERE, "quit",
        "Ends the program. Everything typed is already saved.";

    0 move [Key::Up] Up EVERYWHERE, "up", "One row or field up.";
    0 move [Key::Down] Down EVERYWHERE, "down", "One row or field down; nothing is accepted.";
    0 move [Key::BackTab] Previous &[Bench, Question, Form], "field before", "To the field before.";
    0 move [Key::PageUp] PageUp PAGED, "page up",
        "One page up.";
    0 move [Key::PageDown] PageDown PAGED, "page down",
        "One page down.";
    0 move [Key::Home] First PAGED, "first",
        "To the first row.";
    0 move [Key::End] Last PAGED, "last",
        "To the last row.";
    2 move [Key::Enter] Back PAGES, "close", "Closes the page.";
    0 move [Key::Left] Left TYPING, "left", "Cursor to the left.";
    0 move [Key::Right] Right TYPING, "right", "Cursor to the right.";
    0 move [Key::Home] LineStart TYPING, "start", "Cursor to the start of the text.";
    0 move [Key::End] LineEnd TYPING, "end", "Cursor to the end of the text.";
    0 move [Key::Backspace] DeleteBack TYPING, "erase", "Deletes the character before the cursor.";
    0 move [Key::Delete] DeleteForward TYPING, "delete", "Deletes the character after the cursor.";
];

/// Returns the rows valid in a place.
#[cfg(test)]
fn valid_in(place: Place) -> impl Iterator<Item = &'static Binding> {
    TABLE.iter().filter(move |row| row.places.contains(&place))
}

/// Returns the names of a row's keys, `F1 or Ctrl-G`.
fn keys_text(binding: &Binding) -> String {
    binding.keys.iter().map(|key| key.name()).collect::<Vec<_>>().join(" or ")
}

/// Returns the whole table as Markdown, for the README.
pub fn markdown() -> String {
    let mut text = String::from("| key | act | |\n|---|---|---|\n");
    for row in TABLE.iter().filter(|row| row.footer > 0 || row.palette) {
        text.push_str(&format!("| {} | {} | {} |\n", keys_text(row), row.label, row.help));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_key_means_two_things_in_one_place() {
        for place in EVERYWHERE {
            let mut keys: Vec<Key> = valid_in(*place).flat_map(|row| row.keys.iter().copied()).collect();
            let all = keys.len();
            keys.sort_by_key(|key| format!("{key:?}"));
            keys.dedup();
            assert_eq!(keys.len(), all, "{place:?}");
        }
    }

    #[test]
    fn keys_that_mean_something_to_a_terminal_are_left_alone() {
        for row in TABLE {
            for key in row.keys {
                assert!(!matches!(key, Key::Ctrl(c) if LEFT_ALONE.contains(c)), "{key:?}");
            }
        }
    }

    #[test]
    fn every_function_key_has_a_ctrl_twin() {
        for row in TABLE.iter().filter(|row| row.keys.iter().any(|key| matches!(key, Key::F(_)))) {
            assert!(row.keys.iter().any(|key| matches!(key, Key::Ctrl(_))), "{}", row.label);
        }
    }

    #[test]
    fn no_letter_or_digit_is_a_command_where_something_is_typed() {
        for place in TYPING {
            assert!(
                valid_in(*place).flat_map(|row| row.keys).all(|key| !matches!(key, Key::Char(_))),
                "{place:?}"
            );
        }
    }
}
