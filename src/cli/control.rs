//! Who may change something: the passphrase from the environment, and where one is kept.

use std::env::{self, VarError};
use std::ffi::OsString;
use std::path::{Path, PathBuf};

use super::failure::Failure;
use crate::store::Place;
use crate::web::Gate;
use crate::web::operator::{Keep, Unopened};

/// The environment variable that gives the passphrase.
const GIVEN: &str = "LITFLOOR_PASSPHRASE";

/// Opens the gate, with the passphrase and the token for readings of the environment if it has them.
///
/// # Errors
/// When one of them is too short or no text.
pub(super) fn gate(keep: Keep) -> Result<Gate, Failure> {
    super::meter::with_token(by_passphrase(keep)?)
}

/// The same without a look at the token of the environment.
///
/// # Errors
/// When the passphrase of the environment is too short or no text.
pub(super) fn by_passphrase(keep: Keep) -> Result<Gate, Failure> {
    let given = match env::var(GIVEN) {
        Ok(given) => Some(given),
        Err(VarError::NotPresent) => None,
        Err(VarError::NotUnicode(_)) => {
            return Err(Failure::usage(format!("{GIVEN} is not UTF-8")));
        }
    };
    Gate::open(keep, given).map_err(|why| match why {
        Unopened::TooShort(why) => Failure::usage(format!("{GIVEN}: {why}")),
        Unopened::NoHash(_) => Failure::machine(why),
    })
}

/// Where the history of power is kept: where the passphrase is.
pub(super) fn history(keep: &Keep) -> Place {
    match keep {
        Keep::Memory => Place::Memory,
        Keep::Directory(directory) => Place::Directory(directory.clone()),
        Keep::Nowhere(why) => Place::Nowhere(why.clone()),
    }
}

/// Where the passphrase is kept: in `chosen`, else in the directory that systemd gives, else
/// where the XDG Base Directory Specification puts state.
pub(super) fn keep(chosen: Option<&Path>) -> Keep {
    keep_by(chosen, |name| {
        env::var_os(name).filter(|value| !value.is_empty())
    })
}

fn keep_by(chosen: Option<&Path>, variable: impl Fn(&str) -> Option<OsString>) -> Keep {
    let absolute = |name| {
        let path = variable(name).map(PathBuf::from);
        path.filter(|path| path.is_absolute())
    };
    // systemd gives several directories with colons between them.
    let of_systemd = || env::split_paths(&variable("STATE_DIRECTORY")?).next();
    let of_user = || absolute("XDG_STATE_HOME").map(|state| state.join("litfloor"));
    let of_home = || absolute("HOME").map(|home| home.join(".local/state/litfloor"));
    chosen
        .map(Path::to_owned)
        .or_else(of_systemd)
        .or_else(of_user)
        .or_else(of_home)
        .map_or_else(
            || Keep::Nowhere("there is no home directory: choose one with --state".to_owned()),
            Keep::Directory,
        )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The order of the XDG Base Directory Specification ("All paths set in these environment
    /// variables must be absolute. If an implementation encounters a relative path … it should …
    /// ignore it") and of systemd.exec(5), `StateDirectory=`.
    #[test]
    fn the_first_directory_that_is_named_is_taken() {
        let mut variables = vec![
            ("STATE_DIRECTORY", "/var/lib/litfloor:/var/lib/other"),
            ("XDG_STATE_HOME", "/home/ann/state"),
            ("HOME", "/home/ann"),
        ];
        let kept = |chosen: Option<&str>, variables: &[(&str, &str)]| {
            let variable = |name: &str| {
                let found = variables.iter().find(|(known, _)| *known == name);
                found.map(|(_, value)| OsString::from(value))
            };
            match keep_by(chosen.map(Path::new), variable) {
                Keep::Directory(path) => path.to_str().unwrap().to_owned(),
                other => format!("{other:?}"),
            }
        };
        assert_eq!(kept(Some("here"), &variables), "here");
        assert_eq!(kept(None, &variables), "/var/lib/litfloor");
        variables.remove(0);
        assert_eq!(kept(None, &variables), "/home/ann/state/litfloor");
        variables[0].1 = "state";
        assert_eq!(kept(None, &variables), "/home/ann/.local/state/litfloor");
        variables.truncate(1);
        assert!(kept(None, &variables).starts_with("Nowhere"));
    }
}
