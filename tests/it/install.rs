//! The manual and the completions, in the folders where shells look for them.

use super::cli::Call;
use std::path::Path;

fn text(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

#[test]
fn a_dry_run_names_every_file_and_writes_none() {
    let folder = tempfile::tempdir().unwrap();
    let said = Call::new(&folder, &["install", "--dry-run"]).done();
    let data = folder.path().join(".local/share");
    for usual in [
        "man/man1/scruple.1",
        "man/man1/scruple-receive.1",
        "man/man1/scruple-journal-verify.1",
        "bash-completion/completions/scruple",
        "zsh/site-functions/_scruple",
        "fish/vendor_completions.d/scruple.fish",
    ] {
        let line = format!("would write {}", data.join(usual).display());
        assert!(said.lines().any(|said| said == line), "{line}:\n{said}");
    }
    assert!(!data.exists());
}

#[test]
fn what_is_written_is_named_and_a_second_time_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let said = Call::new(&folder, &["install"]).done();
    for line in said.lines() {
        let path = line.strip_prefix("wrote ").unwrap_or_else(|| panic!("{line}"));
        assert!(Path::new(path).is_file(), "{path}");
    }
    let again = Call::new(&folder, &["install"]).done();
    assert!(again.lines().all(|line| line.starts_with("unchanged ")), "{again}");
    let page = folder.path().join(".local/share/man/man1/scruple.1");
    std::fs::write(&page, "an older page\n").unwrap();
    let again = Call::new(&folder, &["install", "--json"]).json(0);
    let replaced: Vec<&serde_json::Value> =
        again["files"].as_array().unwrap().iter().filter(|file| file["done"] == "replaced").collect();
    assert_eq!(replaced.len(), 1);
    assert_eq!(replaced[0]["path"], page.display().to_string());
    assert_eq!(again["schema"], 1);
}

#[test]
fn folders_that_are_named_take_everything() {
    let folder = tempfile::tempdir().unwrap();
    Call::new(&folder, &["install", "--man", "man", "--completions", "shells"]).done();
    // man-pages(7): a page begins with .TH and has the sections NAME and SYNOPSIS.
    let page = text(&folder.path().join("man/scruple-receive.1"));
    assert!(page.contains(".TH scruple-receive 1"), "{page}");
    assert!(page.contains(".SH NAME") && page.contains(".SH SYNOPSIS"), "{page}");
    assert!(page.contains("scruple receive list.csv"), "the examples are missing:\n{page}");
    assert!(text(&folder.path().join("man/scruple.1")).contains("scruple\\-receive(1)"));
    // zsh's manual, completion system: the file begins with #compdef. bash's: `complete` binds a function.
    assert!(text(&folder.path().join("shells/_scruple")).starts_with("#compdef scruple"));
    assert!(text(&folder.path().join("shells/scruple.bash")).contains("complete -F _scruple"));
    assert!(text(&folder.path().join("shells/scruple.fish")).contains("complete -c scruple"));
    assert!(!folder.path().join(".local/share").exists());
}

#[test]
fn a_folder_that_cannot_be_made_is_named() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("man"), "a file, not a folder").unwrap();
    let output = Call::new(&folder, &["install", "--man", "man", "--completions", "shells"]).run();
    assert_eq!(output.status.code(), Some(7));
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(said.starts_with("error: `man/scruple.1` cannot be written: "), "{said}");
}
