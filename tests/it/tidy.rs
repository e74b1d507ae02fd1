//! The house rules that a machine can watch: floors, length of files, no unwrap, SQL in one place, pinned migrations.

use scruple::store::MIGRATIONS;
use std::fs;
use std::path::{Path, PathBuf};

/// The floors, bottom up; a file imports only floors below its own. The two faces stand on the same height.
const FLOORS: [&[&str]; 13] = [
    &["quantity"],
    &["metrology"],
    &["physics"],
    &["reference"],
    &["evidence"],
    &["scoring"],
    &["intake"],
    &["store"],
    &["desk"],
    &["present"],
    &["report"],
    &["cli", "tui"],
    &["main"],
];

/// Longest file, its tests left out.
const MOST_LINES: usize = 600;

/// What may stand at the top of the repository, besides files whose names begin with a dot.
const TOP: [&str; 10] = [
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "assets",
    "migrations",
    "src",
    "target",
    "tests",
];

/// What a file under `src`, `tests`, `migrations` or `assets` may be.
const KINDS: [&str; 10] = ["rs", "sql", "toml", "csv", "json", "snap", "svg", "wav", "css", "html"];

/// SHA-256 of each released migration. A released file never changes; a change of the book is a new file.
const PINNED: [(&str, &str); 11] = [
    ("0001_create_book.sql", "b39e7caf3bda6eca9ffd28c31a0ea118bd7ce7472188745daa3378b703ec71a0"),
    ("0002_review_and_release.sql", "1b213049b580a0e745ecda7525c3a3e6e38c0a656c14bff7135bafcfa84c7491"),
    ("0003_add_controls.sql", "7063a58c93a6c9ec50dec3ad703aed6af273e5d086d0d123262b3571c420e9ed"),
    ("0004_keep_device_lines.sql", "29f6efd5d0cf94b61936de76698dd66fe9259e97778a73c6c41a89579324278b"),
    ("0005_learn_type_book.sql", "57c34dde4d36d1eddf86f819cd46d3bfa2f06796837296faf900aa1aac57bcd8"),
    ("0006_describe_probes.sql", "f4a89f285af4c57a73d90a09de3c61bb85ed322cc530469bd3e9f2dd317a4793"),
    ("0007_seal_rows.sql", "00353fca6d7d0312697259fb4e7aaa2d65f26007c63528a4e79c6955c645e11a"),
    ("0008_slow_down_pins.sql", "2efec52a42b121dffcd6af14f6f7badb4fb1b73f1c8b8f6b932413ca78a727ea"),
    ("0009_ask_for_roles.sql", "cbd8bb9babc5728e7d0f05331644263451ce29f41557d3f660e25c338c659daf"),
    ("0010_find_serials.sql", "bca786bb42fecaebf2161e528770a2b748bf4166ca80ff74ff5bc640534de7c9"),
    ("0011_keep_causes.sql", "4edf1119b98f0f83baaef602ba24ef62285c1e6e75be0da1097afd8b45394200"),
];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Returns every file below a folder, in the order of the names.
fn files(folder: &Path) -> Vec<PathBuf> {
    let mut entries: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap_or_else(|error| panic!("{}: {error}", folder.display()))
        .map(|entry| entry.unwrap().path())
        .collect();
    entries.sort();
    entries.into_iter().flat_map(|path| if path.is_dir() { files(&path) } else { vec![path] }).collect()
}

/// A source file of the program.
struct Source {
    /// Its path from `src` on, with forward slashes.
    name: String,
    /// Its lines without the tests at its end.
    lines: Vec<String>,
}

impl Source {
    fn of(name: &str, text: &str) -> Self {
        let lines: Vec<String> = text.lines().map(str::to_owned).collect();
        let tests = (0..lines.len()).find(|&at| {
            lines[at].trim() == "#[cfg(test)]"
                && lines.get(at + 1).is_some_and(|next| next.trim().starts_with("mod tests {"))
        });
        let mut lines = lines;
        lines.truncate(tests.unwrap_or(usize::MAX));
        Source { name: name.to_owned(), lines }
    }

    /// Returns the floor it belongs to, as its height; the root of the library belongs to none.
    fn floor(&self) -> Option<usize> {
        let floor = self.name.split('/').next()?.trim_end_matches(".rs");
        height(floor)
    }

    /// Returns the lines that are code, with their numbers from 1.
    fn code(&self) -> impl Iterator<Item = (usize, &str)> {
        self.lines
            .iter()
            .enumerate()
            .map(|(at, line)| (at + 1, line.as_str()))
            .filter(|(_, line)| !line.trim_start().starts_with("//"))
    }
}

fn sources() -> Vec<Source> {
    let src = root().join("src");
    files(&src)
        .into_iter()
        .map(|path| {
            let name = path.strip_prefix(&src).unwrap().to_string_lossy().replace('\\', "/");
            Source::of(&name, &fs::read_to_string(&path).unwrap())
        })
        .collect()
}

fn height(floor: &str) -> Option<usize> {
    FLOORS.iter().position(|names| names.contains(&floor))
}

/// Returns the floors that a line of code names by a path of the crate.
fn floors_named(line: &str) -> Vec<String> {
    let mut named = Vec::new();
    for start in ["crate::", "scruple::"] {
        for (at, _) in line.match_indices(start) {
            let rest = &line[at + start.len()..];
            let list = match rest.strip_prefix('{') {
                Some(group) => group.split('}').next().unwrap_or(group),
                None => rest,
            };
            let parts: Vec<&str> = if rest.starts_with('{') { list.split(',').collect() } else { vec![list] };
            for part in parts {
                let part = part.trim_start();
                let end = part.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(part.len());
                named.push(part[..end].to_owned());
            }
        }
    }
    named
}

fn broken_floors(source: &Source) -> Vec<String> {
    let mut broken = Vec::new();
    let Some(own) = source.floor() else { return broken };
    let own_name = source.name.split('/').next().unwrap_or("");
    for (line, text) in source.code() {
        for named in floors_named(text) {
            let Some(other) = height(&named) else { continue };
            if named != own_name && other >= own {
                let rule = "a file imports only floors below its own";
                broken.push(format!("src/{}:{line}: `{own_name}` uses `{named}`: {rule}", source.name));
            }
        }
    }
    broken
}

#[track_caller]
fn check(found: Vec<String>) {
    assert!(found.is_empty(), "\n{}", found.join("\n"));
}

#[test]
fn every_file_imports_only_floors_below_its_own() {
    check(sources().iter().flat_map(broken_floors).collect());
}

#[test]
fn every_file_of_the_library_stands_on_a_floor() {
    let homeless = sources().into_iter().filter(|source| source.floor().is_none() && source.name != "lib.rs");
    check(homeless.map(|source| format!("src/{}: not on a floor of architecture", source.name)).collect());
}

#[test]
fn a_broken_floor_is_noticed_in_every_way_of_writing_it() {
    let found = |text: &str| broken_floors(&Source::of("evidence/probe.rs", text)).len();
    assert_eq!(found("use crate::store::Store;"), 1);
    assert_eq!(found("use crate::{quantity::Mass, desk::Desk};"), 1);
    assert_eq!(found("let x = crate::tui::run();"), 1);
    assert_eq!(found("use crate::quantity::Mass;\nuse crate::evidence::Coil;\n// use crate::desk::Desk;"), 0);
    assert_eq!(found("fn a() {}\n#[cfg(test)]\nmod tests {\n    use crate::desk::Desk;\n}"), 0);
    assert_eq!(broken_floors(&Source::of("cli/mod.rs", "use crate::tui::run;")).len(), 1);
    assert_eq!(broken_floors(&Source::of("main.rs", "use scruple::tui;\nuse scruple::cli;")).len(), 0);
}

#[test]
fn no_file_is_longer_than_a_reader_can_hold() {
    let long = sources().into_iter().filter(|source| source.lines.len() > MOST_LINES);
    check(
        long.map(|source| format!("src/{}: {} lines, at most {MOST_LINES}", source.name, source.lines.len()))
            .collect(),
    );
}

#[test]
fn nothing_outside_the_tests_unwraps() {
    let found = sources().into_iter().flat_map(|source| {
        let lines: Vec<String> = source
            .code()
            .filter(|(_, line)| line.contains(".unwrap()"))
            .map(|(line, _)| {
                format!(
                    "src/{}:{line}: `unwrap()`; say with `expect` what would have been broken",
                    source.name
                )
            })
            .collect();
        lines
    });
    check(found.collect());
}

#[test]
fn only_the_store_speaks_sql() {
    // Each word is put together here, so that this list is not what it looks for.
    let words = ["SELECT", "INSERT", "UPDATE", "DELETE", "CREATE", "PRAGMA", "REPLACE", "DROP", "ALTER"];
    let begins = |literal: &str| {
        let literal = literal.trim_start();
        words.iter().any(|word| literal.strip_prefix(word).is_some_and(|rest| rest.starts_with(' ')))
    };
    let found =
        sources().into_iter().filter(|source| !source.name.starts_with("store/")).flat_map(|source| {
            let lines: Vec<String> = source
                .code()
                .filter(|(_, line)| line.split('"').skip(1).step_by(2).any(begins))
                .map(|(line, _)| format!("src/{}:{line}: SQL stands only in `store`", source.name))
                .collect();
            lines
        });
    check(found.collect());
}

#[test]
fn nothing_is_left_for_later() {
    let marks = ["TODO", "FIXME", "XXX", "dbg!(", "todo!(", "unimplemented!("];
    let tests = root().join("tests");
    let own = Path::new(file!()).file_name();
    let mut found = Vec::new();
    for path in files(&root().join("src")).into_iter().chain(files(&tests)) {
        if path.extension().is_none_or(|kind| kind != "rs") || path.file_name() == own {
            continue;
        }
        for (line, text) in fs::read_to_string(&path).unwrap().lines().enumerate() {
            if let Some(mark) = marks.iter().find(|mark| text.contains(**mark)) {
                found.push(format!("{}:{}: `{mark}`", path.display(), line + 1));
            }
        }
    }
    check(found);
}

#[test]
fn no_test_is_skipped_or_expected_to_panic() {
    // Put together here, so that this file does not hold what it looks for.
    let marks = [format!("#[{}", "ignore"), format!("{}_panic", "should")];
    let mut found = Vec::new();
    for path in files(&root().join("src")).into_iter().chain(files(&root().join("tests"))) {
        if path.extension().is_none_or(|kind| kind != "rs") {
            continue;
        }
        for (line, text) in fs::read_to_string(&path).unwrap().lines().enumerate() {
            if marks.iter().any(|mark| text.contains(mark)) {
                found.push(format!("{}:{}: {}", path.display(), line + 1, text.trim()));
            }
        }
    }
    check(found);
}

#[test]
fn the_top_of_the_repository_holds_what_belongs_there_and_nothing_else() {
    let unknown =
        fs::read_dir(root()).unwrap().map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned());
    check(
        unknown
            .filter(|name| !name.starts_with('.') && !TOP.contains(&name.as_str()))
            .map(|name| format!("{name}: not one of {}", TOP.join(", ")))
            .collect(),
    );
}

#[test]
fn every_file_is_of_a_known_kind() {
    let folders = ["src", "tests", "migrations", "assets"].map(|folder| root().join(folder));
    let unknown = folders.iter().flat_map(|folder| files(folder)).filter(|path| {
        let kind = path.extension().map(|kind| kind.to_string_lossy().into_owned()).unwrap_or_default();
        !KINDS.contains(&kind.as_str())
    });
    check(unknown.map(|path| format!("{}: kind not one of {}", path.display(), KINDS.join(", "))).collect());
}

#[test]
fn every_migration_is_embedded_and_pinned_and_says_why() {
    let folder = root().join("migrations");
    let in_folder: Vec<String> =
        files(&folder).iter().map(|path| path.file_name().unwrap().to_string_lossy().into_owned()).collect();
    let embedded: Vec<&str> = MIGRATIONS.iter().map(|migration| migration.name).collect();
    assert_eq!(in_folder, embedded, "a file of migrations/ is not embedded, or not in order");
    for (at, migration) in MIGRATIONS.iter().enumerate() {
        let number = format!("{:04}_", at + 1);
        assert!(migration.name.starts_with(&number), "`{}` does not begin with `{number}`", migration.name);
        let first = migration.text.lines().next().unwrap_or("");
        assert!(
            first.starts_with("-- "),
            "`{}`: the first line is not a comment with the reason",
            migration.name
        );
    }
    let hashes: Vec<(&str, String)> =
        MIGRATIONS.iter().map(|migration| (migration.name, migration.hash())).collect();
    let pinned: Vec<(&str, String)> = PINNED.map(|(name, hash)| (name, hash.to_owned())).to_vec();
    assert_eq!(hashes, pinned, "a released migration never changes; a change of the book is a new file");
}

#[test]
fn every_module_says_what_it_is_for() {
    let silent = sources()
        .into_iter()
        .filter(|source| !source.lines.first().is_some_and(|line| line.starts_with("//!")));
    check(
        silent.map(|source| format!("src/{}: the first line is not a module comment", source.name)).collect(),
    );
}

#[test]
fn every_test_module_is_in_the_one_test_binary() {
    let folder = root().join("tests/it");
    let main = fs::read_to_string(folder.join("main.rs")).unwrap();
    let unlisted =
        files(&folder).into_iter().filter(|path| path.parent() == Some(&folder)).filter_map(|path| {
            let name = path.file_stem()?.to_string_lossy().into_owned();
            let is_module = path.extension().is_some_and(|kind| kind == "rs") && name != "main";
            let listed = main.lines().any(|line| {
                line.trim() == format!("mod {name};") || line.trim() == format!("pub mod {name};")
            });
            (is_module && !listed).then(|| format!("tests/it/{name}.rs is not listed in tests/it/main.rs"))
        });
    check(unlisted.collect());
}
