//! The rules of which part may know of which: they keep the calculation pure, SQL in one place, and HTTP at the edge.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// Source files below a folder of the workspace, as (path from there, text without comments and without tests).
fn sources(folder: &str) -> Vec<(String, String)> {
    let base = root().join(folder);
    let mut found = Vec::new();
    collect(&base, &base, &mut found);
    assert!(found.len() > 5, "{folder} has {} source files", found.len());
    found
}

fn collect(base: &Path, folder: &Path, found: &mut Vec<(String, String)>) {
    for entry in std::fs::read_dir(folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display())) {
        let path = entry.expect("an entry can be read").path();
        if path.is_dir() {
            collect(base, &path, found);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            let text = std::fs::read_to_string(&path).expect("a source can be read");
            let name = path.strip_prefix(base).expect("it is below").display().to_string();
            found.push((name, code_of(&text)));
        }
    }
}

/// Lines of code: comments are dropped, and so is what follows the first `#[cfg(test)]`.
fn code_of(text: &str) -> String {
    let lines = text.lines().take_while(|line| line.trim() != "#[cfg(test)]");
    lines.filter(|line| !line.trim_start().starts_with("//")).collect::<Vec<_>>().join("\n")
}

/// Whether `code` names `word`, which is no part of a longer name there.
fn names(code: &str, word: &str) -> bool {
    let is_name = |character: Option<char>| character.is_some_and(|c| c.is_alphanumeric() || c == '_');
    code.match_indices(word).any(|(place, _)| {
        !is_name(code[..place].chars().next_back()) && !is_name(code[place + word.len()..].chars().next())
    })
}

/// Direct dependencies of a package of the workspace, of the kinds that end up in its library.
fn dependencies(package: &str) -> BTreeSet<String> {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--no-deps", "--offline"])
        .current_dir(root())
        .output()
        .expect("cargo runs");
    let metadata: Value = serde_json::from_slice(&output.stdout).expect("cargo answers JSON");
    let packages = metadata["packages"].as_array().expect("packages");
    let found = packages.iter().find(|found| found["name"] == package).expect("the package is there");
    let list = found["dependencies"].as_array().expect("dependencies");
    list.iter()
        .filter(|dependency| dependency["kind"].is_null())
        .filter_map(|dependency| dependency["name"].as_str().map(str::to_owned))
        .collect()
}

/// The calculation is pure: what it depends on is listed, one by one.
#[test]
fn the_calculation_depends_on_nothing_that_acts() {
    let allowed = ["chrono", "chrono-tz", "libm", "thiserror", "uuid"];
    for dependency in dependencies("lapwatch-domain") {
        assert!(allowed.contains(&dependency.as_str()), "lapwatch-domain depends on {dependency}");
    }
    for (file, code) in sources("domain/src") {
        for word in [
            "serde",
            "tokio",
            "actix_web",
            "tokio_postgres",
            "rand",
            "std::fs",
            "std::net",
            "std::env",
            "std::thread",
            "std::process",
            "SystemTime",
            "Instant",
            "Utc::now",
            "Local::now",
            "now_v7",
            "new_v4",
            "async",
            "println",
            "eprintln",
            "unsafe",
        ] {
            assert!(!names(&code, word), "domain/src/{file} uses {word}");
        }
    }
}

/// The simulator has a truth of its own; sharing ours it would prove nothing.
#[test]
fn the_simulator_shares_nothing_with_what_it_tests() {
    for dependency in dependencies("lapwatch-fixtures") {
        assert!(!dependency.starts_with("lapwatch"), "lapwatch-fixtures depends on {dependency}");
    }
    for (file, code) in sources("fixtures/src") {
        assert!(!code.contains("lapwatch_"), "fixtures/src/{file} uses another crate of the workspace");
    }
}

/// Which part of the service a file belongs to: its folder or its own name.
fn part_of(file: &str) -> &str {
    file.split('/').next().unwrap_or(file).trim_end_matches(".rs")
}

/// Dependencies point one way: each part names those that must not be named in it.
#[test]
fn parts_of_the_service_know_only_what_is_below_them() {
    let rules: [(&str, &[&str]); 8] = [
        ("model", &["wire", "view", "routes", "console", "service", "storage", "server", "jobs", "problem"]),
        (
            "auth",
            &[
                "model", "wire", "view", "routes", "console", "service", "storage", "server", "jobs",
                "problem",
            ],
        ),
        ("storage", &["wire", "view", "routes", "console", "service", "server", "jobs", "problem", "auth"]),
        ("wire", &["view", "routes", "console", "service", "storage", "server", "jobs", "problem", "auth"]),
        ("service", &["view", "routes", "console", "server", "jobs", "problem"]),
        ("view", &["routes", "console", "server", "jobs", "problem"]),
        ("routes", &["console", "server", "jobs"]),
        ("jobs", &["routes", "console", "view", "wire", "server", "problem"]),
    ];
    let sources = sources("api/src");
    for (part, forbidden) in rules {
        let files: Vec<_> = sources.iter().filter(|(file, _)| part_of(file) == part).collect();
        assert!(!files.is_empty(), "api/src/{part} is gone: is its rule?");
        for (file, code) in files {
            for other in forbidden {
                assert!(!names(code, &format!("crate::{other}")), "api/src/{file} knows of {other}");
            }
            // `super::super` and braces after `crate` would go around the rule.
            assert!(
                !code.contains("use crate::{"),
                "api/src/{file}: name one part of the crate in each line"
            );
        }
    }
}

/// A library that is used in some parts of the service only.
fn confined(word: &str, allowed: &[&str]) {
    for (file, code) in sources("api/src") {
        let part = part_of(&file);
        assert!(
            allowed.contains(&part) || !names(&code, word),
            "api/src/{file} uses {word}, which belongs to {allowed:?}"
        );
    }
}

#[test]
fn http_stays_at_the_edge() {
    confined("actix_web", &["routes", "console", "server", "problem", "telemetry"]);
    confined("utoipa_actix_web", &["routes", "server"]);
}

#[test]
fn sql_stays_in_storage() {
    // `embedded` makes the logins of a private server before there is anything to store.
    confined("deadpool_postgres", &["storage"]);
    confined("tokio_postgres", &["storage", "embedded", "config", "main", "cli"]);
    for (file, code) in sources("api/src") {
        let part = part_of(&file);
        if part == "storage" || part == "embedded" {
            continue;
        }
        for verb in ["\"SELECT ", "\"INSERT INTO ", "\"UPDATE ", "\"DELETE FROM ", "\"BEGIN", ".sql\""] {
            assert!(!code.contains(verb), "api/src/{file} has SQL: {verb}");
        }
    }
}

/// Time enters at one place; everywhere else it is an argument.
#[test]
fn time_enters_at_the_clock() {
    for word in ["Utc::now", "Local::now", "SystemTime"] {
        confined(word, &["clock"]);
    }
}

/// Cryptography is where its keys are.
#[test]
fn secrets_stay_in_auth() {
    for word in ["argon2", "jsonwebtoken", "ed25519_dalek"] {
        confined(word, &["auth"]);
    }
    // The console keys the tokens of its forms with what a cookie holds.
    confined("hmac", &["auth", "console"]);
}

/// Nobody outside is named by accident: no address in sources but loopback, examples and specifications.
#[test]
fn no_source_calls_home() {
    for folder in ["api/src", "domain/src"] {
        for (file, code) in sources(folder) {
            for (place, scheme) in code.match_indices("https://") {
                let host = code[place + scheme.len()..].split(['"', '/', ' ']).next().unwrap_or_default();
                assert!(host.is_empty() || host.ends_with(".example"), "{folder}/{file} names {host}");
            }
        }
    }
}
