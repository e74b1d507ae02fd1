//! The command line: every act of the screens as a subcommand.
//!
//! What it is for: scripts and the impatient. Data goes to standard output, messages to standard error, and the exit code
//! says how it went. What it must never do: know a screen (it only asks for the screens), or print what could steer a
//! terminal. Read next: [`run`].

mod audit;
mod backup;
mod budget;
mod capability;
mod completions;
mod control;
mod correct;
mod day;
mod device;
mod doctor;
mod endings;
mod explain;
mod failure;
mod find;
mod hold;
mod holding;
mod holds;
mod input;
mod install;
mod instrument;
mod journal;
mod json;
mod label;
mod listen;
mod log;
mod logging;
mod open_files;
mod operator;
mod output;
mod piece;
mod plain;
mod policy;
mod price;
mod reach;
mod receive;
mod record;
mod reference;
mod release;
mod rescore;
mod review_json;
mod sample;
mod score;
mod second;
mod settle;
mod shipments;
mod stock;
mod test_args;
mod type_book;
mod waiting;

use crate::desk::backups::DayBackup;
use crate::desk::config::{book_path, config_folder};
use crate::desk::screen::ScreenSettings;
use crate::desk::{AppError, Desk, ErrorKind, Progress, Settings, devices};
use crate::intake::device::DeviceProfile;
use crate::present::colors::Colors;
use crate::present::text::clean;
use crate::store::Store;
use clap::{Parser, Subcommand, ValueEnum};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::OnceLock;

/// Exit code when something is on hold or refused and `--check` asks for it.
const SOMETHING_IS_OPEN: u8 = 3;

/// A terminal workbench for the receiving desk of a bullion dealer
///
/// Without a subcommand the screens open.
#[derive(Debug, Parser)]
#[command(name = "scruple", version = version(), arg_required_else_help = false, after_help = "\
Examples:
  scruple demo
  scruple receive list.csv --source 'Moonpond Bullion'")]
pub struct Cli {
    /// The book [else SCRUPLE_BOOK, else scruple.book in the data folder]
    #[arg(long, global = true, value_name = "FILE")]
    book: Option<PathBuf>,
    /// Who works [else the user of the machine]
    #[arg(long, global = true, value_name = "NAME")]
    operator: Option<String>,
    /// Print JSON
    #[arg(long, global = true)]
    json: bool,
    /// When to use colour
    #[arg(long, global = true, value_name = "WHEN", value_enum, default_value_t = Color::Auto)]
    color: Color,
    /// Without a subcommand: the bench line by line, as `scruple plain`
    #[arg(long)]
    plain: bool,
    #[command(subcommand)]
    command: Option<Command>,
}

/// When to use colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Color {
    Auto,
    Always,
    Never,
}

impl From<Color> for Colors {
    fn from(color: Color) -> Self {
        match color {
            Color::Auto => Colors::Auto,
            Color::Always => Colors::Always,
            Color::Never => Colors::Never,
        }
    }
}

#[derive(Debug, Subcommand)]
enum Command {
    /// The bench line by line, for screen readers, serial consoles and scripts
    Plain(plain::PlainArgs),
    /// Take in a shipment by its packing list
    Receive(receive::ReceiveArgs),
    /// Log the readings of a list, one row a piece
    Log(log::LogArgs),
    /// Score one piece; no book is needed
    Score {
        #[command(flatten)]
        args: Box<score::ScoreArgs>,
        /// Exit with 3 when the piece is on hold or refused
        #[arg(long)]
        check: bool,
    },
    /// What a probe proves in depth on a product, core by core; without a probe all are compared
    Reach(Box<reach::ReachArgs>),
    /// What the instruments would do to a product: capable or not, and the share of good pieces held
    Capability(Box<capability::CapabilityArgs>),
    /// List what is on hold, the most money at risk first
    Holds(holds::HoldsArgs),
    /// Put a piece on hold by hand, or take that back
    Hold(hold::HoldArgs),
    /// Correct a reading or the serial of a piece, with a reason
    Correct(correct::CorrectArgs),
    /// Void a piece that was logged by mistake
    Void(correct::VoidArgs),
    /// Take back your own last act, or list what can be taken back
    Undo(correct::UndoArgs),
    /// Do an act again that you took back
    Redo(correct::RedoArgs),
    /// Settle a doubt: by a second test, or by a person's decision with a reason
    Settle(Box<settle::SettleArgs>),
    /// Record a second test of a piece, or list its second tests
    Second(Box<second::SecondArgs>),
    /// Draw a random sample of a lot, or settle a doubt of the lot on it
    Sample(sample::SampleArgs),
    /// Send pieces back to their source
    SendBack(endings::SendBackArgs),
    /// Hand pieces to the authorities; this is final
    Surrender(endings::SurrenderArgs),
    /// Release clear pieces to stock
    Release(release::ReleaseArgs),
    /// List what is in stock
    Stock(stock::StockArgs),
    /// The day sheet
    Day(day::DayArgs),
    /// The evidence a piece was sold on
    Record(record::RecordArgs),
    /// Print labels with a bar code and a QR code
    Label(label::LabelArgs),
    /// Who works at the desk
    Operator(operator::OperatorArgs),
    /// What the desk holds and what it lets pass
    Policy(policy::PolicyArgs),
    /// Until when a shipment is held for its source
    Holding(holding::HoldingArgs),
    /// Score lots again by the rules and prices of today
    Rescore(rescore::RescoreArgs),
    /// The instruments of the desk and the reference pieces they are checked on
    Instrument(instrument::InstrumentArgs),
    /// Where the uncertainty of each reading of a piece comes from, line by line
    Budget(budget::BudgetArgs),
    /// Where a number or a word about a piece comes from: formula, numbers, sources
    Explain(explain::ExplainArgs),
    /// Record a control of an instrument on a reference piece
    Control(control::ControlArgs),
    /// List the controls, with where each instrument stands
    Controls(control::ControlsArgs),
    /// List the pieces in stock that a failed control recalled, or take one back
    Recall(control::RecallArgs),
    /// Find shipments, lots, pieces and serials by what one remembers of them
    Find(find::FindArgs),
    /// List the shipments with their lots
    Shipments(shipments::ShipmentsArgs),
    /// Show everything about one piece
    Piece(piece::PieceArgs),
    /// Enter the price of a metal, or list the prices
    Price(price::PriceArgs),
    /// Products and materials, and a dealer's own
    Reference(reference::ReferenceArgs),
    /// The devices of this machine: scales, callipers and meters on a serial line or typing
    Device(device::DeviceArgs),
    /// Show and record what a device sends, so that its profile can be written
    Listen(listen::ListenArgs),
    /// What released pieces taught, beside the published figures
    TypeBook(type_book::TypeBookArgs),
    /// Find whatever was altered, removed or put in by anything but this program
    Audit(audit::AuditArgs),
    /// Back up the book
    Backup(backup::BackupArgs),
    /// Bring a backup back as a book
    Restore(backup::RestoreArgs),
    /// Write the whole book as open files, one CSV a table
    Export(open_files::ExportArgs),
    /// Make a book again from such files
    Import(open_files::ImportArgs),
    /// Say what of this machine and this book needs seeing to before the work begins
    Doctor(doctor::DoctorArgs),
    /// The journal of the book
    Journal(journal::JournalArgs),
    /// Open the screens on an invented day, in a book that is thrown away
    Demo(DemoArgs),
    /// Write the manual and the completions where man and the shells look for them
    Install(install::InstallArgs),
    /// Print a completion script
    Completions(completions::CompletionsArgs),
}

#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  scruple demo
  scruple demo --book day.book --no-screen")]
struct DemoArgs {
    /// Only fill the book named by `--book`
    #[arg(long, requires = "book")]
    no_screen: bool,
}

/// What a subcommand leaves: data for standard output, and the exit code.
struct Printed {
    data: String,
    code: u8,
}

impl Printed {
    fn done(data: String) -> Self {
        Printed { data, code: 0 }
    }

    /// Ends with 3 when something is open and the caller wants to know.
    fn checked(data: String, check: bool, open: bool) -> Self {
        Printed { data, code: if check && open { SOMETHING_IS_OPEN } else { 0 } }
    }
}

/// Returns the version of the program and of the database in it.
fn version() -> &'static str {
    static VERSION: OnceLock<String> = OnceLock::new();
    VERSION.get_or_init(|| format!("{} (SQLite {})", env!("CARGO_PKG_VERSION"), Store::sqlite_version()))
}

/// What is left to do after the arguments were read.
pub enum Next {
    /// Nothing: the subcommand ran.
    Exit(ExitCode),
    /// The screens are asked for.
    Screens(Box<Screens>),
}

/// The screens that are asked for.
pub struct Screens {
    /// The desk they work on.
    pub desk: Desk,
    /// The devices that they listen to.
    pub devices: Vec<DeviceProfile>,
    /// Whether they use colour.
    pub colors: Colors,
    /// How the desk wants them.
    pub screen: ScreenSettings,
    /// What must live until they end.
    pub kept: Kept,
}

/// What must live until the screens end: the writer of the logs, and the folder of a book that is thrown away.
pub struct Kept {
    operator: String,
    thrown_away: Option<input::ThrownAway>,
    _logs: Option<tracing_appender::non_blocking::WorkerGuard>,
}

/// What the arguments ask for.
enum Asked {
    Printed(Printed),
    Screens {
        desk: Box<Desk>,
        devices: Vec<DeviceProfile>,
        screen: Box<ScreenSettings>,
        thrown_away: Option<input::ThrownAway>,
    },
}

/// Says whether the screens can do what their file asks for; only they know which acts and keys there are.
pub type CheckScreen = fn(&ScreenSettings) -> Result<(), AppError>;

/// Reads the arguments, runs the subcommand and prints what it says; the screens are left to the caller.
pub fn run(check: CheckScreen) -> Next {
    let cli = Cli::parse();
    let logs = logging::start();
    let colors = Colors::from(cli.color);
    match dispatch(cli, check) {
        Ok(Asked::Screens { desk, devices, screen, thrown_away }) => {
            let operator = desk.operator().to_owned();
            let kept = Kept { operator, thrown_away, _logs: logs };
            Next::Screens(Box::new(Screens { desk: *desk, devices, colors, screen: *screen, kept }))
        }
        Ok(Asked::Printed(printed)) => Next::Exit(print(&printed, colors)),
        Err(error) => Next::Exit(failure::print(&error, colors)),
    }
}

impl Kept {
    /// Fills a book that is thrown away with the invented day; it is kept until the screens end.
    ///
    /// # Errors
    /// When the folder for temporary files takes nothing.
    pub fn invented_day(&mut self) -> Result<Desk, AppError> {
        let folder = input::ThrownAway::new()?;
        // The screens are on the terminal: nothing else writes there.
        let desk = invented(&folder.path().join("demo.book"), &self.operator, Progress::default())?;
        self.thrown_away = Some(folder);
        Ok(desk)
    }

    /// Tells whether the book is thrown away after the screens.
    pub fn is_thrown_away(&self) -> bool {
        self.thrown_away.is_some()
    }
}

/// Ends the program after the screens: says what became of the backup of the day, prints what went wrong, if anything, and
/// returns the exit code. A backup that failed is told and changes nothing else.
pub fn end(shown: Result<Option<DayBackup>, AppError>, colors: Colors, kept: Kept) -> ExitCode {
    drop(kept.thrown_away);
    match shown {
        Ok(None) => ExitCode::SUCCESS,
        Ok(Some(Ok(made))) => {
            // Nobody is left to tell when standard error itself is gone.
            let _ = writeln!(std::io::stderr(), "{}", backup::said(&made));
            ExitCode::SUCCESS
        }
        Ok(Some(Err(error))) => {
            let error = error.with_hint("the book is saved; only its backup of today is missing");
            failure::print(&error, colors);
            ExitCode::SUCCESS
        }
        Err(error) => failure::print(&error, colors),
    }
}

/// Writes data to standard output and returns the exit code.
fn print(printed: &Printed, colors: Colors) -> ExitCode {
    match std::io::stdout().lock().write_all(printed.data.as_bytes()) {
        // A reader that has seen enough closes the pipe; that is no failure.
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            let error = AppError::new(ErrorKind::Io, format!("standard output cannot be written: {error}"));
            failure::print(&error, colors)
        }
        _ => ExitCode::from(printed.code),
    }
}

fn dispatch(cli: Cli, check: CheckScreen) -> Result<Asked, AppError> {
    let operator = operator(cli.operator)?;
    let json = cli.json;
    let book = cli.book;
    let then_screens = cli.command.is_none() && !cli.plain;
    let settings = || {
        let settings = Settings::read(config_folder().as_deref(), &operator)?;
        Ok(settings.with_progress(waiting::progress(then_screens)))
    };
    let screen = || screen_settings(check);
    let desk = || {
        let desk = Desk::open(&book_path(book.as_deref())?, settings()?)?;
        note_clock(&desk)?;
        Ok(desk)
    };
    let printed = match cli.command {
        None if cli.plain => {
            plain::run(desk()?, &screen()?, json)?;
            Printed::done(String::new())
        }
        Some(Command::Plain(_)) => {
            plain::run(desk()?, &screen()?, json)?;
            Printed::done(String::new())
        }
        None => {
            let devices = devices::profiles(config_folder().as_deref())?;
            let screen = screen()?;
            // The screens say themselves when the clock was set back.
            let desk = Desk::open(&book_path(book.as_deref())?, settings()?)?;
            let desk = Box::new(desk);
            return Ok(Asked::Screens { desk, devices, screen: Box::new(screen), thrown_away: None });
        }
        Some(Command::Demo(args)) => return demo(&args, book, &operator, check),
        Some(Command::Receive(args)) => receive::run(&args, &mut desk()?, json)?,
        Some(Command::Log(args)) => log::run(&args, &mut desk()?, json)?,
        Some(Command::Score { args, check }) => {
            let (data, open) = score::run(&args, &settings()?, json)?;
            Printed::checked(data, check, open)
        }
        Some(Command::Reach(args)) => reach::run(&args, &settings()?, json)?,
        Some(Command::Capability(args)) => capability::run(&args, &settings()?, json)?,
        Some(Command::Holds(args)) => holds::run(&args, &desk()?, json)?,
        Some(Command::Hold(args)) => hold::run(&args, &mut desk()?, json)?,
        Some(Command::Correct(args)) => correct::correct(&args, &mut desk()?, json)?,
        Some(Command::Void(args)) => correct::void(&args, &mut desk()?, json)?,
        Some(Command::Redo(args)) => correct::redo(&args, &mut desk()?, json)?,
        Some(Command::Undo(args)) => correct::undo(&args, &mut desk()?, json)?,
        Some(Command::Settle(args)) => settle::run(&args, &mut desk()?, json)?,
        Some(Command::Second(args)) => second::run(&args, &mut desk()?, json)?,
        Some(Command::Sample(args)) => sample::run(&args, &mut desk()?, json)?,
        Some(Command::SendBack(args)) => endings::send_back(&args, &mut desk()?, json)?,
        Some(Command::Surrender(args)) => endings::surrender(&args, &mut desk()?, json)?,
        Some(Command::Release(args)) => release::run(&args, &mut desk()?, json)?,
        Some(Command::Stock(args)) => stock::run(&args, &desk()?, json)?,
        Some(Command::Day(args)) => day::run(&args, &desk()?, json)?,
        Some(Command::Record(args)) => record::run(&args, &desk()?, json)?,
        Some(Command::Label(args)) => label::run(&args, &desk()?, json)?,
        Some(Command::Operator(args)) => operator::run(&args, &mut desk()?, json)?,
        Some(Command::Policy(args)) => policy::run(&args, desk, json)?,
        Some(Command::Holding(args)) => holding::run(&args, &mut desk()?, json)?,
        Some(Command::Rescore(args)) => rescore::run(&args, &mut desk()?, json)?,
        Some(Command::Instrument(args)) => instrument::run(&args, &settings, desk, json)?,
        Some(Command::Find(args)) => find::run(&args, &desk()?, json)?,
        Some(Command::Explain(args)) => explain::run(&args, &desk()?, json)?,
        Some(Command::Budget(args)) => budget::run(&args, &desk()?, json)?,
        Some(Command::Control(args)) => control::record(&args, &mut desk()?, json)?,
        Some(Command::Controls(args)) => control::list(&args, &desk()?, json)?,
        Some(Command::Recall(args)) => control::recall(&args, &mut desk()?, json)?,
        Some(Command::Shipments(args)) => shipments::run(&args, &desk()?, json)?,
        Some(Command::Piece(args)) => piece::run(&args, &desk()?, json)?,
        Some(Command::Price(args)) => price::run(&args, &mut desk()?, json)?,
        Some(Command::Reference(args)) => reference::run(&args, &settings, json)?,
        Some(Command::Device(args)) => device::run(&args, config_folder().as_deref(), json)?,
        Some(Command::Listen(args)) => listen::run(&args, json)?,
        Some(Command::TypeBook(args)) => type_book::run(&args, &desk()?, json)?,
        Some(Command::Audit(args)) => audit::run(&args, &book_path(book.as_deref())?, &settings()?, json)?,
        Some(Command::Backup(args)) => backup::run(&args, &mut desk()?, json)?,
        Some(Command::Restore(args)) => backup::bring_back(&args, &settings()?, json)?,
        Some(Command::Export(args)) => open_files::export(&args, &desk()?, json)?,
        Some(Command::Import(args)) => open_files::import(&args, json)?,
        Some(Command::Doctor(args)) => {
            doctor::run(&args, book.as_deref(), &operator, (cli.color, check), json)?
        }
        Some(Command::Journal(args)) => journal::run(&args, &desk()?, json)?,
        Some(Command::Install(args)) => install::run(&args, json)?,
        Some(Command::Completions(args)) => completions::run(&args),
    };
    Ok(Asked::Printed(printed))
}

/// Reads how the screens of this desk look. A mistake is told before anything opens: a bare number under another unit would
/// be another mass.
fn screen_settings(check: CheckScreen) -> Result<ScreenSettings, AppError> {
    let settings = ScreenSettings::read(config_folder().as_deref())?;
    check(&settings)?;
    Ok(settings)
}

/// Says on standard error that the clock stands before the last entry of the book.
fn note_clock(desk: &Desk) -> Result<(), AppError> {
    if let Some(notice) = desk.clock_notice()? {
        // Nobody is left to tell when standard error itself is gone.
        let _ = writeln!(std::io::stderr().lock(), "note: {notice}");
    }
    Ok(())
}

/// Returns who works: the name given, else the user of the machine.
fn operator(given: Option<String>) -> Result<String, AppError> {
    let of_machine = || ["USER", "LOGNAME", "USERNAME"].into_iter().find_map(|name| std::env::var(name).ok());
    let name = given.or_else(of_machine).unwrap_or_else(|| "unknown".to_owned());
    let name = crate::quantity::entry::clean(&name);
    let length = name.chars().count();
    if (1..=40).contains(&length) {
        return Ok(name);
    }
    Err(AppError::usage(
        format!("operator `{name}` has {length} characters; allowed are 1 to 40"),
        Vec::new(),
    ))
}

/// Fills a new book with the invented day; without a file named, the book is thrown away after the screens.
fn demo(
    args: &DemoArgs,
    book: Option<PathBuf>,
    operator: &str,
    check: CheckScreen,
) -> Result<Asked, AppError> {
    let (path, thrown_away) = match book {
        Some(path) if path.exists() => {
            let message = format!("`{}` exists already; the demo fills a new book only", path.display());
            return Err(AppError::failed(message));
        }
        Some(path) => (path, None),
        None => {
            let folder = input::ThrownAway::new()?;
            (folder.path().join("demo.book"), Some(folder))
        }
    };
    let screen = if args.no_screen { ScreenSettings::default() } else { screen_settings(check)? };
    let desk = invented(&path, operator, waiting::progress(!args.no_screen))?;
    if args.no_screen {
        let filled = format!("filled {}\n", clean(&path.display().to_string()));
        return Ok(Asked::Printed(Printed::done(filled)));
    }
    let (desk, screen) = (Box::new(desk), Box::new(screen));
    Ok(Asked::Screens { desk, devices: Vec::new(), screen, thrown_away })
}

/// Fills a new book with the invented day.
fn invented(path: &Path, operator: &str, progress: Progress) -> Result<Desk, AppError> {
    use crate::desk::demo::{INSTRUMENTS, fill};
    let settings = Settings::built_in(operator)
        .with_progress(progress)
        .with_instruments("assets/demo/instruments.toml", INSTRUMENTS)?;
    let mut desk = Desk::open(path, settings)?;
    fill(&mut desk)?;
    Ok(desk)
}
