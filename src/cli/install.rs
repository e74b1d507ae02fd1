//! `scruple install`: the manual and the completions, put where the shells of a user look for them.

use super::{Cli, Printed, json};
use crate::desk::{AppError, ErrorKind};
use crate::present::text::clean;
use clap::{Args, Command, CommandFactory};
use clap_complete::{Shell, generate};
use clap_mangen::Man;
use etcetera::{BaseStrategy, choose_base_strategy};
use serde_json::json;
use std::fs;
use std::path::{Path, PathBuf};

/// Arguments of `scruple install`.
#[derive(Debug, Args)]
#[command(after_help = "\
Writes the manual, a page for each subcommand among them, and completions for bash, zsh and fish. Without folders they go to the
data folder of the user (XDG_DATA_HOME, else ~/.local/share), where man, bash and fish look by themselves; zsh wants its folder
in `fpath`. What an earlier release put there is replaced.

Examples:
  scruple install --dry-run
  scruple install --man /usr/local/share/man/man1 --completions completions")]
pub(super) struct InstallArgs {
    /// Folder of the manual pages [else man/man1 in the data folder]
    #[arg(long, value_name = "DIR")]
    man: Option<PathBuf>,
    /// One folder for all completions [else the folder of each shell in the data folder]
    #[arg(long, value_name = "DIR")]
    completions: Option<PathBuf>,
    /// Only say what would be written
    #[arg(long)]
    dry_run: bool,
}

/// A file that is to be there.
struct Wanted {
    path: PathBuf,
    what: &'static str,
    bytes: Vec<u8>,
}

pub(super) fn run(args: &InstallArgs, json: bool) -> Result<Printed, AppError> {
    let data = choose_base_strategy().ok().map(|strategy| strategy.data_dir());
    let mut done = Vec::new();
    for file in wanted(args, data.as_deref())? {
        let before = fs::read(&file.path).ok();
        let word = match (&before, args.dry_run) {
            (Some(bytes), _) if *bytes == file.bytes => "unchanged",
            (Some(_), true) => "would replace",
            (None, true) => "would write",
            (Some(_), false) => "replaced",
            (None, false) => "wrote",
        };
        if !args.dry_run && word != "unchanged" {
            write(&file.path, &file.bytes)?;
        }
        done.push((word, file));
    }
    if json {
        let files: Vec<_> = done
            .iter()
            .map(|(word, file)| json!({ "path": file.path.display().to_string(), "what": file.what, "done": word }))
            .collect();
        let fields = json!({ "dry_run": args.dry_run, "files": files });
        return Ok(Printed::done(json::document(fields)));
    }
    let lines =
        done.iter().map(|(word, file)| format!("{word} {}\n", clean(&file.path.display().to_string())));
    Ok(Printed::done(lines.collect()))
}

/// Returns every file with its place.
fn wanted(args: &InstallArgs, data: Option<&Path>) -> Result<Vec<Wanted>, AppError> {
    let in_data = |below: &str| {
        data.map(|data| data.join(below)).ok_or_else(|| {
            AppError::failed("there is no home folder to write to")
                .with_hint("name the folders with `--man` and `--completions`")
        })
    };
    let man = args.man.clone().map_or_else(|| in_data("man/man1"), Ok)?;
    let mut files = Vec::new();
    for (name, bytes) in pages()? {
        files.push(Wanted { path: man.join(name), what: "man page", bytes });
    }
    // Where each shell looks: bash-completion's README, zsh's manual on `fpath`, fish's manual on `vendor_completions.d`.
    let shells = [
        (Shell::Bash, "completions for bash", "bash-completion/completions/scruple", "scruple.bash"),
        (Shell::Zsh, "completions for zsh", "zsh/site-functions/_scruple", "_scruple"),
        (Shell::Fish, "completions for fish", "fish/vendor_completions.d/scruple.fish", "scruple.fish"),
    ];
    for (shell, what, usual, name) in shells {
        let path = match &args.completions {
            Some(folder) => folder.join(name),
            None => in_data(usual)?,
        };
        let mut bytes = Vec::new();
        generate(shell, &mut Cli::command(), "scruple", &mut bytes);
        files.push(Wanted { path, what, bytes });
    }
    Ok(files)
}

/// Returns the pages of the manual with their names: the program, then each subcommand.
fn pages() -> Result<Vec<(String, Vec<u8>)>, AppError> {
    let mut program = Cli::command().disable_help_subcommand(true);
    program.build();
    let mut pages = Vec::new();
    add_pages(&program, "scruple", &mut pages)
        .map_err(|error| AppError::failed(format!("the manual cannot be made: {error}")))?;
    Ok(pages)
}

fn add_pages(command: &Command, name: &str, pages: &mut Vec<(String, Vec<u8>)>) -> std::io::Result<()> {
    let mut bytes = Vec::new();
    Man::new(command.clone()).title(name).render(&mut bytes)?;
    pages.push((format!("{name}.1"), bytes));
    for below in command.get_subcommands() {
        add_pages(below, &format!("{name}-{}", below.get_name()), pages)?;
    }
    Ok(())
}

/// Writes a file under another name first, so that a page is whole at any moment.
fn write(path: &Path, bytes: &[u8]) -> Result<(), AppError> {
    let folder = path.parent().unwrap_or(Path::new("."));
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let part = folder.join(format!(".{name}.part"));
    let written = fs::create_dir_all(folder)
        .and_then(|()| fs::write(&part, bytes))
        .and_then(|()| fs::rename(&part, path));
    written.map_err(|error| {
        // Nothing half-made stays behind; that it may not be there is no second error.
        let _ = fs::remove_file(&part);
        AppError::new(ErrorKind::Io, format!("`{}` cannot be written: {error}", path.display()))
    })
}
