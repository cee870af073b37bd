//! Where programs and files are, and how a forwarder is started.

use std::fs;
use std::io::{self, Read, Write};
use std::net::{Ipv4Addr, SocketAddrV4, TcpStream, UdpSocket};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use clap::ValueEnum;

use super::floor::Floor;
use super::process::{Forwarder, spawn_loose};

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Who {
    Bare,
    Litfloor,
}

/// Programs and files.
pub(crate) struct Place {
    litfloor: PathBuf,
    directory: tempfile::TempDir,
}

impl Place {
    /// `litfloor` is the program, if it does not lie one folder above this one.
    pub(crate) fn new(litfloor: Option<PathBuf>) -> io::Result<Self> {
        let own = std::env::current_exe()?;
        let beside = own.parent().and_then(|folder| folder.parent());
        let litfloor = litfloor.or_else(|| Some(beside?.join("litfloor")));
        let litfloor = litfloor.unwrap_or_default();
        if !litfloor.is_file() {
            let text = format!(
                "there is no program {}: build it with `cargo build --release`, or say \
                 --litfloor PATH",
                litfloor.display()
            );
            return Err(io::Error::other(text));
        }
        Ok(Self {
            litfloor,
            directory: tempfile::tempdir()?,
        })
    }

    pub(crate) fn litfloor(&self) -> &Path {
        &self.litfloor
    }

    /// Writes the floor file that litfloor runs by, and says where.
    pub(crate) fn write(&self, text: &str) -> io::Result<PathBuf> {
        let path = self.directory.path().join("bench.toml");
        fs::write(&path, text)?;
        Ok(path)
    }

    /// Starts a forwarder for a floor whose nodes listen on this port.
    pub(crate) fn start(&self, who: Who, floor: Floor, port: u16) -> io::Result<Forwarder> {
        let any = SocketAddrV4::new(Ipv4Addr::LOCALHOST, 0);
        self.start_at(who, floor, port, any)
    }

    /// Starts it where it is told to listen.
    pub(crate) fn start_at(
        &self,
        who: Who,
        floor: Floor,
        port: u16,
        at: SocketAddrV4,
    ) -> io::Result<Forwarder> {
        let mut command = match who {
            Who::Bare => Command::new(std::env::current_exe()?),
            Who::Litfloor => Command::new(&self.litfloor),
        };
        match who {
            Who::Bare => {
                command.arg("bare").arg(port.to_string());
            }
            Who::Litfloor => {
                command.arg("run").arg(self.write(&floor.file(port))?);
                command
                    .arg("--state")
                    .arg(self.directory.path().join("state"));
                command.args(["--http", "127.0.0.1:0"]);
                for name in [
                    "LITFLOOR_PASSPHRASE",
                    "LITFLOOR_READINGS_TOKEN",
                    "LITFLOOR_MQTT_USER",
                    "LITFLOOR_MQTT_PASSWORD",
                    "RUST_LOG",
                ] {
                    command.env_remove(name);
                }
            }
        }
        command.arg("--artnet").arg(at.to_string());
        // It logs as it does anywhere, but what it says of a made-up floor is of no use here.
        command.stderr(match who {
            Who::Bare => Stdio::inherit(),
            Who::Litfloor => Stdio::null(),
        });
        Forwarder::start(command)
    }
}

/// Browsers that watch; they go away when this is dropped.
pub(crate) struct Browsers(Child);

impl Browsers {
    /// Starts so many browsers that watch the floor, in a process of their own.
    pub(crate) fn watch(at: SocketAddrV4, count: u32) -> io::Result<Self> {
        let mut command = Command::new(std::env::current_exe()?);
        command.args(["browsers", &at.to_string(), &count.to_string()]);
        command.stdin(Stdio::null()).stdout(Stdio::piped());
        let child = spawn_loose(&mut command)?;
        let mut browsers = Self(child);
        // It says when all are there.
        let mut word = [0];
        let told = browsers
            .0
            .stdout
            .as_mut()
            .map(|out| out.read_exact(&mut word));
        match told {
            Some(Ok(())) => Ok(browsers),
            _ => Err(io::Error::other("the browsers ended at once")),
        }
    }
}

impl Drop for Browsers {
    fn drop(&mut self) {
        // They may have ended already.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// A UDP port that nobody has at the moment.
pub(crate) fn free_port() -> io::Result<SocketAddrV4> {
    let socket = UdpSocket::bind((Ipv4Addr::LOCALHOST, 0))?;
    let port = socket.local_addr()?.port();
    Ok(SocketAddrV4::new(Ipv4Addr::LOCALHOST, port))
}

/// What is answered to a request without a body.
pub(crate) fn ask(at: SocketAddrV4, method: &str, path: &str, body: &str) -> io::Result<String> {
    let mut stream = TcpStream::connect(at)?;
    let length = body.len();
    write!(
        stream,
        "{method} {path} HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\n\
         Content-Type: application/json\r\nContent-Length: {length}\r\n\r\n{body}"
    )?;
    let mut answer = String::new();
    stream.read_to_string(&mut answer)?;
    Ok(answer)
}
