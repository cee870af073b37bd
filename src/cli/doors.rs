//! By which doors browsers come in: encrypted or not, under which names, and one for guests.

use std::fs;
use std::net::{SocketAddr, TcpListener};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::Args;
use tokio::task::JoinSet;

use super::address;
use super::failure::Failure;
use crate::net::{interfaces, socket};
use crate::web::door::{Door, Names};
use crate::web::operator::Keep;
use crate::web::tls::{Encryption, Unusable};
use crate::web::{self, Gate, Source};

/// Options of whoever serves pages to a network.
#[derive(Debug, Default, Args)]
pub(super) struct Doors {
    /// A second address for guests, who see the pages that show something and can change nothing
    #[arg(long, value_name = "ADDRESS:PORT", value_parser = address::any)]
    pub(super) guests: Option<SocketAddr>,
    /// Encrypt pages (https) by a certificate that litfloor makes of itself on first use and keeps in
    /// the state directory; browsers warn of it, and the fingerprint that is printed says whether
    /// it is the right one
    #[arg(long, conflicts_with = "tls_cert")]
    pub(super) tls_own: bool,
    /// Encrypt pages (https) by this certificate, PEM, with those between it and its root
    #[arg(long, value_name = "FILE", requires = "tls_key")]
    pub(super) tls_cert: Option<PathBuf>,
    /// The private key of that certificate, PEM, not encrypted
    #[arg(long, value_name = "FILE", requires = "tls_cert")]
    pub(super) tls_key: Option<PathBuf>,
    /// A name of the Internet under which this machine is asked, beside its addresses and names of the
    /// local network; may be given several times
    #[arg(long = "name", value_name = "NAME")]
    pub(super) names: Vec<String>,
}

/// What is behind the options.
#[derive(Debug, Default)]
pub(super) struct Opened {
    pub(super) encryption: Option<Encryption>,
    pub(super) guests: Option<TcpListener>,
    pub(super) names: Names,
}

impl Doors {
    /// Reads or makes the certificate, and opens the door for guests.
    ///
    /// # Errors
    /// When a file is not there or is not what it should be, or the port can't be had.
    pub(super) fn open(&self, keep: &Keep) -> Result<Opened, Failure> {
        let guests = self.guests.map(socket::guests).transpose();
        Ok(Opened {
            encryption: self.encryption(keep)?,
            guests: guests.map_err(Failure::machine)?,
            names: Names::new(&self.names),
        })
    }

    fn encryption(&self, keep: &Keep) -> Result<Option<Encryption>, Failure> {
        if self.tls_own {
            let own = Encryption::own(keep, &self.own_names());
            return own.map(Some).map_err(|why| {
                Failure::machine(format!(
                    "Encryption by a certificate of its own (--tls-own): {why}"
                ))
            });
        }
        self.given()
    }

    /// By the certificate that is named, if one is.
    ///
    /// # Errors
    /// When it, or its key, can't be read, or they are not what they should be.
    pub(super) fn given(&self) -> Result<Option<Encryption>, Failure> {
        let (Some(certificate), Some(key)) = (&self.tls_cert, &self.tls_key) else {
            return Ok(None);
        };
        let (certificate_text, key_text) =
            (read(certificate, "--tls-cert")?, read(key, "--tls-key")?);
        let given = Encryption::given(&certificate_text, &key_text);
        given.map(Some).map_err(|why| {
            let (option, path) = match why {
                Unusable::NoKey => ("--tls-key", key),
                _ => ("--tls-cert", certificate),
            };
            Failure::input(format!("{option} {}: {why}.", path.display()))
        })
    }

    /// What the certificate is for: this machine under all that it is called now.
    pub(super) fn own_names(&self) -> Vec<String> {
        let mut names = vec!["localhost".to_owned()];
        names.extend(host_name());
        names.extend(self.names.iter().cloned());
        let own = interfaces::list();
        names.extend(own.iter().map(|(address, _)| address.to_string()));
        names.extend(["127.0.0.1", "::1"].map(str::to_owned));
        names.sort_unstable();
        names.dedup();
        names
    }
}

/// Where pages are served, and how.
pub(super) struct Pages {
    http: tokio::net::TcpListener,
    guests: Option<tokio::net::TcpListener>,
    encryption: Option<Encryption>,
    names: Names,
}

impl Pages {
    /// Hands the sockets to the runtime, within which this must be called.
    pub(super) fn of(http: TcpListener, doors: Opened) -> Result<Self, Failure> {
        let open = |listener| tokio::net::TcpListener::from_std(listener).map_err(Failure::machine);
        Ok(Self {
            http: open(http)?,
            guests: doors.guests.map(open).transpose()?,
            encryption: doors.encryption,
            names: doors.names,
        })
    }

    /// Serves the dashboard and the API.
    pub(super) fn serve(self, beside: &mut JoinSet<()>, source: Source, gate: Gate) {
        let turned = gate.turned();
        let (router, keeper) = web::router(source, gate, web::assets::router());
        beside.spawn(keeper.run());
        let (names, by) = (self.names, self.encryption);
        if let Some(listener) = self.guests {
            let turned = Arc::clone(&turned);
            let door = Door::for_guests(router.clone(), names.clone(), by.as_ref(), turned);
            beside.spawn(door.open(listener));
        }
        let door = Door::new(router, names, by.as_ref(), turned);
        beside.spawn(door.open(self.http));
    }
}

/// This machine's name, bare and as it is found on the local network.
fn host_name() -> Vec<String> {
    #[cfg(target_os = "linux")]
    {
        let name = nix::unistd::gethostname().ok();
        let name = name.and_then(|name| name.into_string().ok());
        let plain = |name: &String| {
            name.chars()
                .all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '.')
        };
        match name.filter(|name| !name.is_empty() && plain(name)) {
            Some(name) if name.contains('.') => vec![name],
            Some(name) => vec![format!("{name}.local"), name],
            None => Vec::new(),
        }
    }
    #[cfg(not(target_os = "linux"))]
    Vec::new()
}

fn read(path: &Path, option: &str) -> Result<Vec<u8>, Failure> {
    fs::read(path).map_err(|error| {
        Failure::input(format!(
            "{option} {}: it can't be read ({error}). Give the path of a PEM file that the user who runs \
             litfloor may read.",
            path.display()
        ))
    })
}
