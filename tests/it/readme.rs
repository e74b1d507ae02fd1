//! The README shows what the program prints: every command in a `console` block is run, and its output compared.

use std::path::Path;
use std::process::Command;

/// A command of the README with the output that stands under it.
struct Shown {
    line: usize,
    command: String,
    output: String,
}

fn shown(readme: &str) -> Vec<Shown> {
    let mut shown: Vec<Shown> = Vec::new();
    let mut inside = false;
    for (number, line) in readme.lines().enumerate() {
        match (inside, line) {
            (false, "```console") => inside = true,
            (true, "```") => inside = false,
            (true, line) => match line.strip_prefix("$ ") {
                Some(command) => {
                    shown.push(Shown {
                        line: number + 1,
                        command: command.to_owned(),
                        output: String::new(),
                    });
                }
                None => {
                    let last = shown.last_mut().expect("a console block begins with a command");
                    last.output.push_str(line);
                    last.output.push('\n');
                }
            },
            (false, _) => {}
        }
    }
    shown
}

/// Replaces what differs from run to run: moments, and blanks at the ends of lines.
fn steady(output: &str) -> String {
    let moment = |word: &str| {
        word.len() == 10
            && word
                .bytes()
                .enumerate()
                .all(|(i, b)| if i == 4 || i == 7 { b == b'-' } else { b.is_ascii_digit() })
    };
    let time = |word: &str| {
        word.len() == 5
            && word.bytes().enumerate().all(|(i, b)| if i == 2 { b == b':' } else { b.is_ascii_digit() })
    };
    output
        .lines()
        .map(|line| {
            line.split(' ')
                .map(|word| {
                    if moment(word) {
                        "<day>"
                    } else if time(word) {
                        "<time>"
                    } else {
                        word
                    }
                })
                .collect::<Vec<_>>()
                .join(" ")
                .trim_end()
                .to_owned()
                + "\n"
        })
        .collect()
}

#[test]
fn every_command_of_the_readme_prints_what_is_shown() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = std::fs::read_to_string(root.join("README.md")).unwrap();
    let shown = shown(&readme);
    assert!(shown.len() >= 5, "the README has a tour");
    let folder = tempfile::tempdir().unwrap();
    let binary = Path::new(env!("CARGO_BIN_EXE_scruple")).parent().unwrap();
    let path = format!("{}:{}", binary.display(), std::env::var("PATH").unwrap_or_default());
    let rewrite = std::env::var_os("SCRUPLE_README").is_some();
    let mut anew = Vec::new();
    for Shown { line, command, output } in shown {
        let run = Command::new("sh")
            .args(["-c", &format!("{{ {command}\n}} 2>&1")])
            .current_dir(root)
            .env("PATH", &path)
            .env("SCRUPLE_BOOK", folder.path().join("tour.book"))
            .env("SCRUPLE_CONFIG", folder.path())
            .env("XDG_STATE_HOME", folder.path())
            .env_remove("COLUMNS")
            .output()
            .unwrap();
        let printed = String::from_utf8(run.stdout).unwrap();
        if rewrite {
            anew.push(printed);
            continue;
        }
        assert_eq!(steady(&printed), steady(&output), "README.md, line {line}: `{command}`");
    }
    if rewrite {
        std::fs::write(root.join("README.md"), rewritten(&readme, &anew)).unwrap();
    }
}

/// Returns the README with what its commands print now: `SCRUPLE_README=write cargo test --test it readme`.
fn rewritten(readme: &str, printed: &[String]) -> String {
    let mut printed = printed.iter();
    let (mut text, mut inside) = (String::new(), false);
    for line in readme.lines() {
        match (inside, line) {
            (false, "```console") => inside = true,
            (true, "```") => inside = false,
            (true, line) if !line.starts_with("$ ") => continue,
            _ => {}
        }
        text.push_str(line);
        text.push('\n');
        if inside && line.starts_with("$ ") {
            let output = printed.next().expect("every command printed something");
            output.lines().for_each(|line| {
                text.push_str(line.trim_end());
                text.push('\n');
            });
        }
    }
    text
}

#[test]
fn the_key_table_of_the_readme_is_the_programs_own() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = std::fs::read_to_string(root.join("README.md")).unwrap();
    let table = scruple::tui::keymap::markdown();
    assert!(readme.contains(table.trim()), "put this table into the README:\n{table}");
}
