//! Who has a port: what proc(5) tells of it on Linux, and nothing elsewhere.

use std::fmt;
use std::fs;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};

/// The state of a TCP socket that listens (`TCP_LISTEN` of the kernel's `tcp_states.h`).
const LISTENING: &str = "0A";

/// The columns of the tables in `/proc/net`, from 0.
const LOCAL: usize = 1;
const STATE: usize = 3;
const UID: usize = 7;
const INODE: usize = 9;

/// Which sort of port.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// For datagrams.
    Udp,
    /// For connections; those that listen.
    Tcp,
}

/// Who has a port.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Holder {
    /// Where it listens.
    pub address: SocketAddr,
    /// The user that it runs as.
    pub uid: u32,
    /// Its process, if this user may see it.
    pub process: Option<Process>,
}

/// A process.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Process {
    /// Its number.
    pub pid: u32,
    /// What it calls itself: 15 letters at most.
    pub name: String,
}

impl fmt::Display for Holder {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.process {
            Some(Process { pid, name }) => write!(f, "{name} (process {pid})"),
            None => write!(
                f,
                "a program of user {}, whose name only that user and root may see",
                self.uid
            ),
        }
    }
}

/// Who keeps `address` from being opened; nothing if nobody does or the system does not tell. One that
/// has exactly this address goes before one that has all.
pub fn of(kind: Kind, address: SocketAddr) -> Option<Holder> {
    let mut in_the_way = listeners(kind, address.port());
    in_the_way.retain(|listener| clash(listener.holder.address.ip(), address.ip()));
    in_the_way.sort_by_key(|listener| listener.holder.address != address);
    in_the_way.into_iter().next().map(Listener::with_process)
}

/// Everybody who listens at a port of this machine, whatever the address.
pub fn all(kind: Kind, port: u16) -> Vec<Holder> {
    let all = listeners(kind, port).into_iter();
    all.map(Listener::with_process).collect()
}

/// A line of a table.
#[derive(Debug, PartialEq, Eq)]
struct Listener {
    /// Without its process, which takes long to find.
    holder: Holder,
    /// Nothing once its process has closed it.
    inode: Option<u64>,
}

impl Listener {
    fn with_process(self) -> Holder {
        Holder {
            process: self.inode.and_then(process),
            ..self.holder
        }
    }
}

fn listeners(kind: Kind, port: u16) -> Vec<Listener> {
    let tables = match kind {
        Kind::Udp => ["/proc/net/udp", "/proc/net/udp6"],
        Kind::Tcp => ["/proc/net/tcp", "/proc/net/tcp6"],
    };
    let texts = tables.map(|table| fs::read_to_string(table).unwrap_or_default());
    let lines = texts.iter().flat_map(|text| text.lines().skip(1));
    lines
        .filter_map(|line| listener(kind, line))
        .filter(|listener| listener.holder.address.port() == port)
        .collect()
}

fn listener(kind: Kind, line: &str) -> Option<Listener> {
    let columns: Vec<&str> = line.split_whitespace().collect();
    if kind == Kind::Tcp && *columns.get(STATE)? != LISTENING {
        return None;
    }
    let inode: u64 = columns.get(INODE)?.parse().ok()?;
    Some(Listener {
        holder: Holder {
            address: address(columns.get(LOCAL)?)?,
            uid: columns.get(UID)?.parse().ok()?,
            process: None,
        },
        inode: (inode != 0).then_some(inode),
    })
}

/// `0100007F:1936`: words of four bytes as they lie in the machine's memory, and the port as a number.
fn address(text: &str) -> Option<SocketAddr> {
    let (address, port) = text.split_once(':')?;
    let port = u16::from_str_radix(port, 16).ok()?;
    let word = |at: usize| {
        let digits = address.get(at..at + 8)?;
        Some(u32::from_str_radix(digits, 16).ok()?.to_ne_bytes())
    };
    let ip = match address.len() {
        8 => IpAddr::V4(Ipv4Addr::from(word(0)?)),
        32 => {
            let mut bytes = [0; 16];
            for (at, part) in bytes.chunks_mut(4).enumerate() {
                part.copy_from_slice(&word(8 * at)?);
            }
            IpAddr::V6(Ipv6Addr::from(bytes))
        }
        _ => return None,
    };
    Some(SocketAddr::new(ip.to_canonical(), port))
}

/// Whether who has one can't have the other: the same, or one of them stands for all.
fn clash(one: IpAddr, other: IpAddr) -> bool {
    one == other || one.is_unspecified() || other.is_unspecified()
}

/// The process that has the socket of this inode open.
fn process(inode: u64) -> Option<Process> {
    let wanted = format!("socket:[{inode}]");
    let entries = fs::read_dir("/proc").ok()?.flatten();
    let pids = entries.filter_map(|entry| entry.file_name().to_str()?.parse::<u32>().ok());
    let mut pids: Vec<u32> = pids.collect();
    // A child may have it from its parent, which has the lower number more often than not.
    pids.sort_unstable();
    let has_it = |pid: &u32| {
        // Those of other users can't be looked into.
        let open = fs::read_dir(format!("/proc/{pid}/fd"))
            .into_iter()
            .flatten();
        open.flatten()
            .filter_map(|entry| fs::read_link(entry.path()).ok())
            .any(|link| link.as_os_str() == wanted.as_str())
    };
    let pid = pids.into_iter().find(has_it)?;
    let name = fs::read_to_string(format!("/proc/{pid}/comm")).ok()?;
    Some(Process {
        pid,
        // Another program names itself as it likes; it must not write over the terminal.
        name: name.trim().replace(char::is_control, "?"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[cfg(target_endian = "little")]
    #[test]
    fn addresses_are_read_as_linux_writes_them() {
        let read = |text| address(text).map(|address| address.to_string());
        // proc(5): "the local address and port number pair for the socket", in hexadecimal; lines as
        // Linux 6.18 writes them on a little-endian machine.
        assert_eq!(read("0100007F:1936").unwrap(), "127.0.0.1:6454");
        assert_eq!(read("00000000:1F90").unwrap(), "0.0.0.0:8080");
        assert_eq!(
            read("00000000000000000000000001000000:1F90").unwrap(),
            "[::1]:8080"
        );
        // A socket of both versions has IPv4 addresses in IPv6 clothes (RFC 4291, 2.5.5.2).
        assert_eq!(
            read("0000000000000000FFFF00000100007F:1936").unwrap(),
            "127.0.0.1:6454"
        );
        for broken in [
            "",
            "0100007F",
            "0100007:1936",
            "xx00007F:1936",
            "0100007F:99999",
        ] {
            assert_eq!(read(broken), None, "{broken}");
        }
    }

    #[test]
    fn only_who_listens_counts() {
        let line = |state| {
            format!(
                "   0: 0100007F:1F90 00000000:0000 {state} 00000000:00000000 00:00000000 00000000  \
                 1000        0 70012 1 0000000000000000 100 0 0 10 0"
            )
        };
        let found = listener(Kind::Tcp, &line("0A")).unwrap();
        assert_eq!((found.holder.uid, found.inode), (1_000, Some(70_012)));
        assert_eq!(listener(Kind::Tcp, &line("01")), None);
        assert!(listener(Kind::Udp, &line("07")).is_some());
        assert_eq!(listener(Kind::Udp, "0: 1 2"), None);
    }

    #[test]
    fn one_address_stands_in_the_way_of_itself_and_of_all() {
        let clash = |one: &str, other: &str| clash(one.parse().unwrap(), other.parse().unwrap());
        assert!(clash("0.0.0.0", "127.0.0.1") && clash("10.0.0.5", "0.0.0.0"));
        assert!(clash("::", "127.0.0.1") && clash("10.0.0.5", "10.0.0.5"));
        assert!(!clash("10.0.0.5", "10.0.0.6"));
    }

    #[cfg(target_os = "linux")]
    #[test]
    #[expect(clippy::disallowed_methods, reason = "takes ports, to be found")]
    fn this_process_is_found_by_its_own_sockets() {
        let udp = std::net::UdpSocket::bind("127.0.0.1:0").unwrap();
        let tcp = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        for (kind, address) in [
            (Kind::Udp, udp.local_addr().unwrap()),
            (Kind::Tcp, tcp.local_addr().unwrap()),
        ] {
            // Other tests open and close sockets meanwhile, so a table may lack this one for once.
            let found = std::iter::repeat_with(|| of(kind, address)).take(1_000);
            let process = found.flatten().find_map(|holder| holder.process).unwrap();
            assert_eq!(process.pid, std::process::id(), "{kind:?}");
            assert!(!process.name.is_empty());
        }
    }
}
