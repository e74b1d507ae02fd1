//! What the program is built from: licences that go with its own, one registry, and no crate twice without a reason.
//!
//! Known vulnerabilities are not looked up here: that needs the network.

use std::collections::BTreeMap;
use std::process::Command;

/// Licences of which each alternative of a dependency must name one: all of them let the program stay under MIT.
const ALLOWED: [&str; 12] = [
    "MIT",
    "MIT-0",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "0BSD",
    "Zlib",
    "Unlicense",
    "Unicode-3.0",
    "Unicode-DFS-2016",
    "BSL-1.0",
];

/// Crates that are there in more than one version, and who holds back the older one.
const TWICE: [(&str, &str); 5] = [
    ("cpufeatures", "argon2 0.5 and sha2 0.10 are at 0.2, proptest is ahead"),
    ("itertools", "criterion, in benches only"),
    ("rand_core", "argon2's password-hash is at 0.6, proptest is ahead"),
    ("syn", "macros of several crates, at build time only"),
    ("thiserror", "filedescriptor of crossterm's use-dev-tty is at 1"),
];

/// Name, version and licence of everything that is built, tests and benches among it.
fn built() -> Vec<(String, String, String)> {
    let cargo = std::env::var("CARGO").unwrap_or_else(|_| "cargo".to_owned());
    let output = Command::new(cargo)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(["tree", "--offline", "--locked", "--prefix", "none", "-e", "normal,build,dev"])
        .args(["--format", "{p}|{l}"])
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let text = String::from_utf8(output.stdout).unwrap();
    let mut all: Vec<_> = text
        .lines()
        .map(|line| {
            let mut parts = line.trim_end_matches(" (*)").split('|');
            let package = parts.next().unwrap();
            let licence = parts.next().unwrap_or_default().to_owned();
            let (name, version) = package.split_once(" v").unwrap();
            let version = version.split(' ').next().unwrap();
            (name.to_owned(), version.to_owned(), licence)
        })
        .filter(|(name, ..)| name != "scruple")
        .collect();
    all.sort();
    all.dedup();
    assert!(all.len() > 100, "{}", all.len());
    all
}

/// Tells whether an expression such as `(MIT OR Apache-2.0) AND Unicode-3.0` leaves a way through what is allowed.
fn is_allowed(licence: &str) -> bool {
    let plain = licence.replace(" / ", " OR ").replace('/', " OR ");
    let part = |part: &str| {
        let part = part.trim().trim_start_matches('(').trim_end_matches(')');
        part.split(" OR ").any(|one| ALLOWED.contains(&one.trim()))
    };
    !plain.trim().is_empty() && plain.split(" AND ").all(part)
}

#[test]
fn every_dependency_has_a_licence_that_goes_with_this_one() {
    let bad: Vec<_> = built().into_iter().filter(|(.., licence)| !is_allowed(licence)).collect();
    assert!(bad.is_empty(), "{bad:?}");
    // The check can fail.
    for refused in ["GPL-3.0", "MPL-2.0", "", "MIT AND GPL-2.0", "(MPL-2.0 OR GPL-3.0) AND MIT"] {
        assert!(!is_allowed(refused), "{refused}");
    }
    assert!(is_allowed("(MIT OR Apache-2.0) AND Unicode-3.0") && is_allowed("MIT/Apache-2.0"));
}

#[test]
fn no_crate_is_built_twice_without_a_reason() {
    let mut versions: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for (name, version, _) in built() {
        versions.entry(name).or_default().push(version);
    }
    versions.retain(|_, versions| versions.len() > 1);
    let explained = |name: &str| {
        let own = |known: &str| name == known || name.strip_suffix("-impl") == Some(known);
        TWICE.iter().any(|(known, _)| own(known))
    };
    let new: Vec<_> = versions.iter().filter(|(name, _)| !explained(name)).collect();
    assert!(new.is_empty(), "no reason is given for {new:?}");
    let gone: Vec<_> = TWICE.iter().filter(|(name, _)| !versions.contains_key(*name)).collect();
    assert!(gone.is_empty(), "no longer twice: {gone:?}");
}

#[test]
fn every_dependency_comes_from_the_one_registry() {
    let lock = include_str!("../../Cargo.lock");
    let sources: Vec<&str> = lock.lines().filter(|line| line.starts_with("source = ")).collect();
    assert!(sources.len() > 100);
    let registry = "source = \"registry+https://github.com/rust-lang/crates.io-index\"";
    assert!(sources.iter().all(|source| *source == registry));
}
