//! Builds the browser part and writes the list of its files for `src/web/assets.rs`.
//!
//! The sources are copied to `OUT_DIR` and built there, because a build must not write into the
//! source tree (`cargo package` checks that). `npm ci` runs only when the lockfile changed, the
//! build only when a source changed.

use std::error::Error;
use std::fmt::Write as _;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};
use std::{env, fs};

/// All that the build reads, in `web/`. Tests and what npm or a developer puts there is left out.
const SOURCES: [&str; 6] = [
    ".npmrc",
    "package.json",
    "package-lock.json",
    "vite.config.js",
    "index.html",
    "src",
];
const INSTALL: &str = "install Node 20.19 or later and npm, or build without the dashboard: \
                       cargo build --no-default-features";
/// The oldest Node that the bundler runs on.
const NODE: (u32, u32) = (20, 19);

type Outcome<T> = Result<T, Box<dyn Error>>;

fn main() -> ExitCode {
    println!("cargo::rerun-if-changed=build.rs");
    if env::var_os("CARGO_FEATURE_DASHBOARD").is_none() {
        return ExitCode::SUCCESS;
    }
    match dashboard() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            for line in error.to_string().lines() {
                println!("cargo::error={line}");
            }
            ExitCode::FAILURE
        }
    }
}

fn dashboard() -> Outcome<()> {
    let source = PathBuf::from(env::var("CARGO_MANIFEST_DIR")?).join("web");
    let out = PathBuf::from(env::var("OUT_DIR")?);
    let web = out.join("web");
    for name in SOURCES {
        println!("cargo::rerun-if-changed={}", source.join(name).display());
    }
    fs::create_dir_all(&web)?;
    // Two cargos with different profiles may share nothing else, but this directory they may.
    let lock = fs::File::create(out.join("web.lock"))?;
    lock.lock()?;

    let sources = stamp(&source, &SOURCES)?;
    let dist = web.join("dist");
    if read(&out.join("built")) != sources || !dist.join("index.html").exists() {
        check_node()?;
        copy_sources(&source, &web)?;
        let locked = stamp(&source, &[".npmrc", "package-lock.json"])?;
        if read(&out.join("installed")) != locked || !web.join("node_modules").exists() {
            let install = [
                "ci",
                "--omit=dev",
                "--ignore-scripts",
                "--no-audit",
                "--no-fund",
            ];
            run(npm(&web).args(install), "npm ci")?;
            fs::write(out.join("installed"), locked)?;
        }
        run(npm(&web).args(["run", "build"]), "npm run build")?;
        fs::write(out.join("built"), sources)?;
    }
    fs::write(out.join("assets.rs"), list(&dist)?)?;
    Ok(())
}

/// `npm` in a directory; on Windows it is a script with another name.
fn npm(directory: &Path) -> Command {
    let mut command = Command::new(if cfg!(windows) { "npm.cmd" } else { "npm" });
    command.current_dir(directory);
    command
}

fn check_node() -> Outcome<()> {
    let output = Command::new("node").arg("--version").output();
    let output = output.map_err(|_| format!("node is not installed: {INSTALL}"))?;
    let text = String::from_utf8_lossy(&output.stdout);
    let version = text.trim();
    let mut parts = version.trim_start_matches('v').split('.').map(str::parse);
    match (parts.next(), parts.next()) {
        (Some(Ok(major)), Some(Ok(minor))) if (major, minor) >= NODE => Ok(()),
        _ => Err(format!("node {version} is too old: {INSTALL}").into()),
    }
}

fn run(command: &mut Command, name: &str) -> Outcome<()> {
    let output = command
        .output()
        .map_err(|error| format!("{name} can't be run ({error}): {INSTALL}"))?;
    if output.status.success() {
        return Ok(());
    }
    let out = String::from_utf8_lossy(&output.stdout);
    let err = String::from_utf8_lossy(&output.stderr);
    let mut text = format!("{name} failed ({}):\n{out}\n{err}", output.status);
    if name == "npm ci" {
        text.push_str(
            "\nnpm needs the network once for each lockfile; without one, build without the \
             dashboard: cargo build --no-default-features",
        );
    }
    Err(text.into())
}

/// Makes the copy equal to the sources; a file that is gone there must not be built here.
fn copy_sources(from: &Path, to: &Path) -> Outcome<()> {
    let old = to.join("src");
    if old.exists() {
        fs::remove_dir_all(old)?;
    }
    for file in files(from, &SOURCES)? {
        let target = to.join(file.strip_prefix(from)?);
        if let Some(parent) = target.parent() {
            fs::create_dir_all(parent)?;
        }
        fs::copy(&file, target)?;
    }
    Ok(())
}

/// Names and contents of files as one short text that changes with them.
fn stamp(root: &Path, names: &[&str]) -> Outcome<String> {
    let mut hasher = DefaultHasher::new();
    for file in files(root, names)? {
        file.strip_prefix(root)?.hash(&mut hasher);
        fs::read(&file)?.hash(&mut hasher);
    }
    Ok(format!("{:016x}", hasher.finish()))
}

/// All files under some names, sorted.
fn files(root: &Path, names: &[&str]) -> Outcome<Vec<PathBuf>> {
    let mut waiting: Vec<PathBuf> = names.iter().map(|name| root.join(name)).collect();
    let mut found = Vec::new();
    while let Some(path) = waiting.pop() {
        if path.is_dir() {
            for entry in fs::read_dir(&path)? {
                waiting.push(entry?.path());
            }
        } else {
            found.push(path);
        }
    }
    found.sort();
    Ok(found)
}

fn read(path: &Path) -> String {
    fs::read_to_string(path).unwrap_or_default()
}

/// The built files as Rust: a slice of `memory_serve::Asset`, compressed where there is a copy.
fn list(dist: &Path) -> Outcome<String> {
    let mut code = String::from("&[\n");
    for file in files(dist, &["index.html", "assets"])? {
        if file.extension().is_some_and(|extension| extension == "br") {
            continue;
        }
        let name = file.strip_prefix(dist)?;
        let parts: Vec<_> = name.iter().map(|part| part.to_string_lossy()).collect();
        let route = format!("/{}", parts.join("/"));
        let compressed = PathBuf::from(format!("{}.br", file.display()));
        let is_compressed = compressed.exists();
        let bytes = if is_compressed { &compressed } else { &file };
        let mut hasher = DefaultHasher::new();
        fs::read(&file)?.hash(&mut hasher);
        writeln!(
            code,
            "memory_serve::Asset {{ route: {route:?}, path: \"\", content_type: {:?}, \
             etag: \"{:016x}\", bytes: Some(include_bytes!({:?})), \
             is_compressed: {is_compressed}, should_compress: {is_compressed} }},",
            content_type(&file)?,
            hasher.finish(),
            bytes.display().to_string(),
        )?;
    }
    code.push_str("]\n");
    Ok(code)
}

fn content_type(file: &Path) -> Outcome<&'static str> {
    match file.extension().and_then(|extension| extension.to_str()) {
        Some("css") => Ok("text/css"),
        Some("html") => Ok("text/html"),
        Some("js") => Ok("text/javascript"),
        Some("svg") => Ok("image/svg+xml"),
        _ => Err(format!("no content type is known for {}", file.display()).into()),
    }
}
