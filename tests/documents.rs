//! What the documents name is there: files, directories, and the places that links lead to.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

const DOCUMENTS: [&str; 8] = [
    "README.md",
    "SECURITY.md",
    "DEVELOPERS.md",
    "CHANGELOG.md",
    "docs/book.md",
    "docs/floor-file.md",
    "docs/history.md",
    "web/README.md",
];

const EXTENSIONS: [&str; 12] = [
    "rs", "toml", "md", "ts", "tsx", "js", "mjs", "json", "css", "py", "sh", "png",
];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The text of a document without its fenced blocks.
fn text(document: &str) -> String {
    let text = fs::read_to_string(root().join(document)).unwrap();
    prose(&text)
}

fn prose(text: &str) -> String {
    let blocks = text.split("```");
    blocks.step_by(2).collect()
}

/// What stands between backticks and looks like a path in this repository.
fn paths(text: &str) -> Vec<&str> {
    text.split('`')
        .skip(1)
        .step_by(2)
        .filter(|code| is_path(code))
        .collect()
}

/// With a slash or a known extension, and none of the signs of something else: a command, a route
/// (`/api`), a package (`@preact/signals`), what is built (`target/`), a placeholder (`FLOOR.toml`).
fn is_path(code: &str) -> bool {
    let plain = |c: char| c.is_ascii_alphanumeric() || "/._-".contains(c);
    let stem = code.split('.').next().unwrap_or_default();
    let placeholder =
        code.contains('.') && stem.chars().all(|c| c.is_ascii_uppercase() || c == '/');
    let known = EXTENSIONS.iter().any(|extension| {
        code.strip_suffix(extension)
            .is_some_and(|rest| rest.len() > 1 && rest.ends_with('.'))
    });
    let foreign = code.starts_with('/') || code.starts_with("target/");
    let named = !placeholder || root().join(code).exists();
    (code.contains('/') || known) && code.chars().all(plain) && !foreign && named
}

/// Every file of the repository, as a path below its root.
fn files() -> Vec<PathBuf> {
    const FOREIGN: [&str; 4] = [".git", "target", "node_modules", "dist"];
    let (mut files, mut waiting) = (Vec::new(), vec![root().to_owned()]);
    while let Some(directory) = waiting.pop() {
        for entry in fs::read_dir(directory).unwrap() {
            let path = entry.unwrap().path();
            if FOREIGN.iter().any(|name| path.ends_with(name)) {
                continue;
            }
            if path.is_dir() {
                waiting.push(path);
            } else {
                files.push(path.strip_prefix(root()).unwrap().to_owned());
            }
        }
    }
    files
}

/// DEVELOPERS.md names modules as they lie below `src`, and a page what lies beside it; a name alone
/// may lie anywhere.
fn is_there(path: &str, document: &str, files: &[PathBuf]) -> bool {
    let named = || {
        files
            .iter()
            .any(|file| file.file_name().is_some_and(|name| name == path))
    };
    let beside = Path::new(document).parent().unwrap();
    let homes = [root().to_owned(), root().join("src"), root().join(beside)];
    homes.iter().any(|home| home.join(path).exists()) || (!path.contains('/') && named())
}

/// Targets of the links that do not leave the repository.
fn links(text: &str) -> Vec<&str> {
    text.match_indices("](")
        .filter_map(|(at, _)| text[at + 2..].split(')').next())
        .filter(|target| !target.contains("://"))
        .collect()
}

/// The headings of a document as links name them.
fn anchors(text: &str) -> BTreeSet<String> {
    let kept = |c: char| c.is_alphanumeric() || "-_ ".contains(c);
    text.lines()
        .filter_map(|line| line.strip_prefix('#'))
        .map(|line| line.trim_start_matches('#').trim().to_lowercase())
        .map(|line| {
            line.chars()
                .filter(|c| kept(*c))
                .collect::<String>()
                .replace(' ', "-")
        })
        .collect()
}

#[test]
fn every_path_that_a_document_names_exists() {
    let files = files();
    let (mut named, mut missing) = (0, Vec::new());
    for document in DOCUMENTS {
        let text = text(document);
        for path in paths(&text) {
            named += 1;
            if !is_there(path, document, &files) {
                missing.push(format!("{document}: {path}"));
            }
        }
    }
    assert!(missing.is_empty(), "{}", missing.join("\n"));
    assert!(named > 50, "only {named} paths were looked at");
}

#[test]
fn every_link_within_the_repository_leads_somewhere() {
    let (mut followed, mut dead) = (0, Vec::new());
    for document in DOCUMENTS {
        let text = text(document);
        let home = Path::new(document).parent().unwrap();
        for link in links(&text) {
            followed += 1;
            let (path, anchor) = link.split_once('#').unwrap_or((link, ""));
            let target = if path.is_empty() {
                root().join(document)
            } else {
                root().join(home).join(path)
            };
            let found = target.exists()
                && (anchor.is_empty()
                    || anchors(&prose(&fs::read_to_string(&target).unwrap())).contains(anchor));
            if !found {
                dead.push(format!("{document}: {link}"));
            }
        }
    }
    assert!(dead.is_empty(), "{}", dead.join("\n"));
    assert!(followed > 8, "only {followed} links were followed");
}

#[test]
fn developers_are_told_of_every_test_and_every_document() {
    let developers = text("DEVELOPERS.md");
    let files = files();
    let tests = files
        .iter()
        .filter(|file| file.parent() == Some(Path::new("tests")))
        .filter_map(|file| file.to_str());
    let untold: Vec<&str> = tests
        .filter(|file| !developers.contains(&format!("`{file}`")))
        .collect();
    assert!(untold.is_empty(), "{untold:?}");
    // A page that is not looked at here could name anything.
    let pages = files
        .iter()
        .filter(|file| file.extension().is_some_and(|extension| extension == "md"));
    for page in pages {
        let page = page.to_str().unwrap();
        assert!(DOCUMENTS.contains(&page), "{page} is not looked at");
    }
}

#[test]
fn what_is_a_path_is_told_from_what_is_none() {
    let text = "`src/lib.rs` `net/` `web/src/api/` `build.rs` `README.md` `web/package.json` \
                `/api/v1/openapi.json` `@preact/signals` `target/release/litfloor` `FLOOR.toml` \
                `litfloor check FLOOR.toml` `margin = 0.8` `now.rs` `use crate::` `.5` `[grid]`";
    let expected = [
        "src/lib.rs",
        "net/",
        "web/src/api/",
        "build.rs",
        "README.md",
        "web/package.json",
        "now.rs",
    ];
    assert_eq!(paths(text), expected);
    let files = files();
    let there: Vec<bool> = expected
        .iter()
        .map(|path| is_there(path, "README.md", &files))
        .collect();
    assert_eq!(there, [true, true, true, true, true, true, false]);
    assert!(
        !is_there("src/nowhere/", "README.md", &files)
            && is_there("first-floor.toml", "README.md", &files)
    );
    assert_eq!(
        links("[a](b.md) ![c](d.png#e) [f](https://example.org)"),
        ["b.md", "d.png#e"]
    );
    assert!(anchors("## What `it` is, and is not\n").contains("what-it-is-and-is-not"));
}
