//! The house plan, read from the sources: a module may use those on floors below its own, and
//! the pure ones have no socket, no clock, no thread.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// Which floor each module of the crate stands on.
const FLOORS: [(&str, u8); 16] = [
    ("wire", 0),
    ("cells", 0),
    ("units", 0),
    ("floor", 1),
    ("power", 2),
    ("health", 2),
    ("pattern", 2),
    ("engine", 3),
    ("stepping", 3),
    ("book", 3),
    ("net", 4),
    ("store", 4),
    ("web", 4),
    ("sim", 4),
    ("cli", 5),
    ("main", 5),
];

/// What has no place in a module that decides.
const IMPURE: [&str; 11] = [
    "UdpSocket",
    "TcpStream",
    "TcpListener",
    "tokio",
    "socket2",
    "Instant",
    "SystemTime",
    "std::thread",
    "std::process",
    "std::env",
    "std::fs",
];

/// Who may do what is impure all the same: the floor reads its file.
const ALLOWED: [(&str, &str); 1] = [("floor", "std::fs")];

fn storey(module: &str) -> Option<u8> {
    FLOORS
        .iter()
        .find(|(name, _)| *name == module)
        .map(|(_, floor)| *floor)
}

/// The code of a file, line by line: no comments, no modules that are compiled for tests only.
/// What is declared for tests only is named in the second value.
fn code(text: &str) -> (Vec<(usize, String)>, Vec<String>) {
    let (mut lines, mut test_files) = (Vec::new(), Vec::new());
    let mut for_tests = false;
    let mut inside = false;
    for (number, line) in (1..).zip(text.lines()) {
        let code = line.split("//").next().unwrap_or_default();
        if inside {
            // rustfmt closes a module of the file where it opened it: at the left edge.
            inside = !line.starts_with('}');
        } else if line.trim() == "#[cfg(test)]" {
            for_tests = true;
        } else if for_tests && line.trim_start().starts_with("#[") {
            // One more attribute of the same item.
        } else if for_tests {
            for_tests = false;
            if let Some(name) = code.trim_end().strip_suffix(';').and_then(declared) {
                test_files.push(name.to_owned());
            } else {
                inside = code.trim_end().ends_with('{');
            }
        } else {
            lines.push((number, code.to_owned()));
        }
    }
    (lines, test_files)
}

/// The name of the module that `mod name` declares, whatever its visibility.
fn declared(code: &str) -> Option<&str> {
    let mut words = code.split_whitespace().rev();
    let name = words.next()?;
    (words.next() == Some("mod")).then_some(name)
}

/// Names that stand right behind `crate::` or as many `super::` as lead to the crate's root.
fn used(line: &str, depth: usize) -> Vec<String> {
    let mut found = Vec::new();
    let up = "super::".repeat(depth);
    for root in ["crate::", up.as_str()] {
        for (at, _) in line.match_indices(root) {
            let before = line[..at].chars().next_back();
            if before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == ':') {
                continue;
            }
            found.extend(heads(&line[at + root.len()..]));
        }
    }
    found
}

/// What a `use std::{…}` brings, as if each stood alone: `std::fs`, `std::net`.
fn of_std(statement: &str) -> Vec<String> {
    let groups = statement.match_indices("std::{");
    groups
        .flat_map(|(at, _)| heads(&statement[at + "std::".len()..]))
        .map(|head| format!("std::{head}"))
        .collect()
}

/// The first names of a path or of a group of paths: `{a::b, c::{d, e}}` has a and c.
fn heads(rest: &str) -> Vec<String> {
    let name = |text: &str| {
        let end = text.find(|c: char| !c.is_alphanumeric() && c != '_');
        text[..end.unwrap_or(text.len())].to_owned()
    };
    let Some(group) = rest.strip_prefix('{') else {
        return vec![name(rest)];
    };
    let (mut heads, mut deep, mut fresh) = (Vec::new(), 0, true);
    for (at, c) in group.char_indices() {
        match c {
            '{' => deep += 1,
            '}' if deep == 0 => break,
            '}' => deep -= 1,
            ',' if deep == 0 => fresh = true,
            c if fresh && (c.is_alphabetic() || c == '_') => {
                heads.push(name(&group[at..]));
                fresh = false;
            }
            _ => {}
        }
    }
    heads
}

/// What is wrong with one file of `module`; `depth` is 1 for the module's own file.
fn faults(module: &str, depth: usize, text: &str) -> Vec<String> {
    let own = storey(module);
    // Groups may go over several lines: the whole statement counts.
    let (lines, _) = code(text);
    let mut faults = Vec::new();
    for (at, (number, line)) in lines.iter().enumerate() {
        let mut statement = line.clone();
        if line.trim_end().ends_with("::{") {
            let rest = lines[at + 1..].iter().map(|(_, line)| line.trim());
            for part in rest {
                statement.push_str(part);
                if part.ends_with(';') {
                    break;
                }
            }
        }
        for target in used(&statement, depth) {
            if target == module {
                continue;
            }
            match (own, storey(&target)) {
                (Some(own), Some(other)) if other < own => {}
                (Some(own), Some(other)) => {
                    faults.push(format!(
                        "{number}: {target} ({other}) from {module} ({own})"
                    ));
                }
                _ => faults.push(format!("{number}: {target} or {module} has no floor")),
            }
        }
        if own.is_some_and(|own| own < 4) {
            let brought = of_std(&statement);
            let words = IMPURE.iter().filter(|word| {
                let found = has_word(line, word) || brought.iter().any(|path| path == *word);
                found && !ALLOWED.contains(&(module, word))
            });
            faults.extend(words.map(|word| format!("{number}: {word} in {module}")));
        }
    }
    faults
}

fn has_word(line: &str, word: &str) -> bool {
    line.match_indices(word).any(|(at, _)| {
        let outside = |c: Option<char>| c.is_none_or(|c| !c.is_alphanumeric() && c != '_');
        outside(line[..at].chars().next_back()) && outside(line[at + word.len()..].chars().next())
    })
}

/// All sources by their path below `src`, without those that are compiled for tests only.
fn sources() -> BTreeMap<PathBuf, String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut all = BTreeMap::new();
    let mut waiting = vec![root.clone()];
    while let Some(directory) = waiting.pop() {
        for entry in fs::read_dir(directory).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                waiting.push(path);
            } else if path.extension().is_some_and(|extension| extension == "rs") {
                let below = path.strip_prefix(&root).unwrap().to_owned();
                all.insert(below, fs::read_to_string(&path).unwrap());
            }
        }
    }
    let mut for_tests = Vec::new();
    for (path, text) in &all {
        let home = if path.ends_with("mod.rs") || path.ends_with("lib.rs") {
            path.parent().unwrap().to_owned()
        } else {
            path.with_extension("")
        };
        for_tests.extend(code(text).1.into_iter().map(|name| home.join(name)));
    }
    all.retain(|path, _| {
        let module = path.with_extension("");
        !for_tests.iter().any(|test| module.starts_with(test))
    });
    all
}

#[test]
fn no_module_climbs_and_none_that_decides_has_a_socket_or_a_clock() {
    let sources = sources();
    let mut wrong = Vec::new();
    let mut seen = BTreeMap::new();
    for (path, text) in &sources {
        let plain = path.with_extension("");
        let mut parts: Vec<&str> = plain.iter().map(|part| part.to_str().unwrap()).collect();
        if parts == ["lib"] {
            continue;
        }
        if parts.len() > 1 && parts.last() == Some(&"mod") {
            parts.pop();
        }
        *seen.entry(parts[0].to_owned()).or_insert(0) += 1;
        let faults = faults(parts[0], parts.len(), text);
        wrong.extend(
            faults
                .iter()
                .map(|fault| format!("src/{}:{fault}", path.display())),
        );
    }
    println!("{seen:?}");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    for module in [
        "wire", "units", "floor", "power", "engine", "net", "web", "sim", "cli",
    ] {
        assert!(seen.contains_key(module), "{module} was not looked at");
    }
    assert!(sources.len() > 60, "only {} files", sources.len());
}

#[test]
fn a_source_that_climbs_is_found() {
    let climbs = "use crate::wire::Packet;\nuse crate::engine::Engine;\n";
    assert_eq!(faults("floor", 2, climbs), ["2: engine (3) from floor (1)"]);
    assert_eq!(faults("power", 1, "let x = crate::net::socket();").len(), 1);
    assert_eq!(
        faults("net", 1, "use crate::web::router;").len(),
        1,
        "a sibling"
    );
    assert_eq!(faults("wire", 2, "use super::super::power::Cap;").len(), 1);
    assert!(faults("wire", 2, "use super::Packet;").is_empty());
    assert!(faults("engine", 1, "use crate::engine::out;\nuse crate::floor;").is_empty());
    let group = "use crate::{\n    units::Amps,\n    sim::{link, node},\n};\n";
    assert_eq!(faults("power", 2, group), ["1: sim (4) from power (2)"]);
    assert_eq!(faults("power", 2, "use crate::nowhere::Thing;").len(), 1);
    // What is compiled for tests only may use anything; a comment uses nothing.
    let tests = "#[cfg(test)]\nmod tests {\n    use crate::sim::node;\n}\nuse crate::cli;\n";
    assert_eq!(faults("wire", 2, tests), ["5: cli (5) from wire (0)"]);
    assert!(faults("wire", 1, "//! See [`crate::engine`].\n").is_empty());
}

#[test]
fn a_socket_or_a_clock_is_found() {
    for text in [
        "use std::net::UdpSocket;",
        "use std::net::{Ipv4Addr, UdpSocket};",
        "let now = Instant::now();",
        "use std::time::SystemTime;",
        "tokio::net::UdpSocket::bind(address)",
    ] {
        for module in ["wire", "floor", "power", "engine"] {
            assert!(!faults(module, 2, text).is_empty(), "{text}");
        }
        assert!(faults("net", 2, text).is_empty());
    }
    assert!(faults("engine", 2, "use std::net::{Ipv4Addr, SocketAddrV4};").is_empty());
    for (text, line) in [
        ("let text = std::fs::read_to_string(path);", 1),
        ("use std::fs::File;", 1),
        ("use std::{fmt, fs};", 1),
        (
            "use std::{\n    collections::{BTreeMap, HashMap},\n    fs::{self, File},\n};",
            1,
        ),
        ("use std::fmt;\nuse std::{fs};", 2),
    ] {
        let found = faults("power", 2, text);
        assert_eq!(found, [format!("{line}: std::fs in power")], "{text}");
        assert!(faults("floor", 2, text).is_empty(), "it reads its file");
    }
    for text in [
        "use std::env;",
        "use std::{env, fmt};",
        "std::env::var(name)",
    ] {
        assert_eq!(faults("floor", 2, text), ["1: std::env in floor"], "{text}");
    }
    assert_eq!(
        faults("wire", 2, "use std::{thread, time::Instant};").len(),
        2
    );
    assert!(faults("wire", 2, "use std::{fmt, env_of};").is_empty());
    assert!(faults("engine", 2, "/// Instantly.\nlet instants = 3;").is_empty());
}
