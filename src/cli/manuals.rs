//! `litfloor manuals --into DIR`: manual pages and shell completions, as packages want them.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::{Args, CommandFactory};
use clap_complete::Shell;

use super::Line;
use super::failure::Failure;

/// Options of `manuals`.
#[derive(Debug, Args)]
pub struct Manuals {
    /// The directory to write them into; it is made if it is not there
    #[arg(long, value_name = "DIR")]
    into: PathBuf,
}

/// Writes a manual page for litfloor and each of its commands into `DIR/man1`, and completions for
/// bash, zsh and fish into `DIR/completions`.
///
/// # Errors
/// When a file can't be written.
pub fn run(options: &Manuals) -> Result<(), Failure> {
    write(&options.into).map_err(|error| {
        Failure::machine(format!(
            "{} can't be written: {error}. Choose a directory of yours with --into.",
            options.into.display()
        ))
    })
}

fn write(into: &Path) -> io::Result<()> {
    let (pages, completions) = (into.join("man1"), into.join("completions"));
    for directory in [&pages, &completions] {
        fs::create_dir_all(directory)?;
    }
    clap_mangen::generate_to(Line::command(), &pages)?;
    for shell in [Shell::Bash, Shell::Zsh, Shell::Fish] {
        clap_complete::generate_to(shell, &mut Line::command(), "litfloor", &completions)?;
    }
    writeln!(
        io::stdout(),
        "{}\n{}",
        pages.display(),
        completions.display()
    )
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn every_command_has_a_page_and_every_shell_knows_every_command() {
        let directory = tempfile::tempdir().unwrap();
        write(directory.path()).unwrap();
        let read = |name: &str| fs::read_to_string(directory.path().join(name)).unwrap();
        let commands: Vec<String> = (Line::command().get_subcommands())
            .map(|command| command.get_name().to_owned())
            .collect();
        assert!(commands.len() > 6, "{commands:?}");
        let whole = read("man1/litfloor.1");
        for command in &commands {
            assert!(
                whole.contains(&format!("litfloor\\-{command}(1)")),
                "{command}"
            );
            let page = read(&format!("man1/litfloor-{command}.1"));
            assert!(page.contains(".SH SYNOPSIS"), "{command}");
            for file in ["litfloor.bash", "_litfloor", "litfloor.fish"] {
                assert!(
                    read(&format!("completions/{file}")).contains(command),
                    "{file}"
                );
            }
        }
        // A command of a command has its own page.
        assert!(read("man1/litfloor-book-export.1").contains("litfloor\\-book\\-export"));
    }

    /// Names of variables in all sources.
    fn named(directory: &Path, names: &mut BTreeSet<String>) {
        for entry in fs::read_dir(directory).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                named(&path, names);
            } else if path.extension().is_some_and(|extension| extension == "rs")
                && !path.ends_with("cli/more.rs")
            {
                let text = fs::read_to_string(path).unwrap();
                let found = text.split("LITFLOOR_").skip(1).map(|rest| {
                    let ends = |c: char| !c.is_ascii_uppercase() && c != '_';
                    rest.split(ends).next().unwrap_or_default()
                });
                names.extend(found.filter(|name| !name.is_empty()).map(str::to_owned));
            }
        }
    }

    #[test]
    fn pages_name_every_variable_every_signal_and_how_it_ends() {
        let directory = tempfile::tempdir().unwrap();
        write(directory.path()).unwrap();
        let page = |name: &str| {
            let path = directory.path().join(format!("man1/litfloor-{name}.1"));
            fs::read_to_string(path).unwrap()
        };
        let mut names = BTreeSet::new();
        let sources = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
        named(&sources, &mut names);
        assert!(
            names.contains("PASSPHRASE") && names.contains("MQTT_USER"),
            "{names:?}"
        );
        let run = page("run");
        for name in &names {
            assert!(run.contains(&format!("LITFLOOR_{name}")), "{name}");
        }
        for heading in ["ENVIRONMENT", "SIGNALS", "FILES", "EXIT STATUS"] {
            assert!(run.contains(heading), "{heading}");
        }
        for name in ["status", "doctor"] {
            assert!(page(name).contains("EXIT STATUS"), "{name}");
        }
    }
}
