//! Datagrams that the kernel threw away because the socket's buffer was full: nobody else can know of
//! them, and a picture that loses frames looks as if a cable were loose.

use std::net::UdpSocket;
use std::time::Duration;

use tokio::sync::watch;

use super::clock::Clock;
use crate::engine::snapshot::Dropped;
use crate::units::Time;

/// So often it is looked whether there are more.
const LOOK_EVERY: Duration = Duration::from_secs(5);

/// Where Linux tells it (proc(5)): a line for every UDP socket over IPv4.
const TABLE: &str = "/proc/self/net/udp";

/// The columns of the table, from 0, that have the socket's inode and what was thrown away.
const INODE: usize = 9;
const DROPS: usize = 12;

/// What was thrown away of one socket.
#[derive(Debug, Clone, Copy)]
pub struct Drops {
    inode: u64,
}

impl Drops {
    /// Of this socket; nothing where the system does not tell.
    pub fn of(socket: &UdpSocket) -> Option<Self> {
        let inode = inode(socket)?;
        std::path::Path::new(TABLE)
            .exists()
            .then_some(Self { inode })
    }

    /// So many since the socket was opened; nothing if the table does not have it. It may lack a socket
    /// for once, when others were opened or closed while it was read.
    pub fn count(self) -> Option<u64> {
        find(&std::fs::read_to_string(TABLE).ok()?, self.inode)
    }

    /// Tells how many there are, and says so in the log whenever there are more, for as long as it runs.
    pub async fn follow(self, told: watch::Sender<Option<Dropped>>, clock: Clock) {
        let mut look = tokio::time::interval(LOOK_EVERY);
        let mut known = 0;
        loop {
            look.tick().await;
            let Some(count) = self.count() else {
                continue;
            };
            let mut last_s = told.borrow().and_then(|dropped| dropped.last_s);
            if let Some(text) = more(known, count) {
                tracing::warn!("{text}");
                last_s = Some(clock.now().s_since(Time::default()));
            }
            known = count;
            told.send_replace(Some(Dropped { count, last_s }));
        }
    }
}

/// What to say when there are more than before.
fn more(known: u64, count: u64) -> Option<String> {
    let new = count.checked_sub(known).filter(|&new| new > 0)?;
    Some(format!(
        "The system threw away {new} datagrams to the Art-Net port ({count} in all), for more came at \
         once than its buffer holds. If the start of this log says that buffers are small, do what it \
         says; else this computer is too busy, or something floods the port."
    ))
}

fn find(table: &str, inode: u64) -> Option<u64> {
    table.lines().skip(1).find_map(|line| {
        let mut columns = line.split_whitespace();
        let own = columns.nth(INODE)?.parse::<u64>().ok()?;
        let drops = columns.nth(DROPS - INODE - 1)?.parse().ok()?;
        (own == inode).then_some(drops)
    })
}

#[cfg(target_os = "linux")]
fn inode(socket: &UdpSocket) -> Option<u64> {
    use std::os::fd::AsRawFd;
    let link = std::fs::read_link(format!("/proc/self/fd/{}", socket.as_raw_fd())).ok()?;
    let text = link.to_str()?;
    let number = text.strip_prefix("socket:[")?.strip_suffix(']')?;
    number.parse().ok()
}

#[cfg(not(target_os = "linux"))]
fn inode(_: &UdpSocket) -> Option<u64> {
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_the_table_of_proc() {
        // Two lines as Linux 6.18 writes them, but for the numbers.
        let table = "   sl  local_address rem_address   st tx_queue rx_queue tr tm->when retrnsmt   \
                     uid  timeout inode ref pointer drops            \n  \
                     325: 0100007F:B5A0 00000000:0000 07 00000000:00000000 00:00000000 00000000     \
                     0        0 70012 2 0000000000000000 0         \n 1371: 00000000:1936 \
                     00000000:0000 07 00000000:00033600 00:00000000 00000000     0        0 70013 2 \
                     0000000000000000 834       \n";
        assert_eq!(find(table, 70_012), Some(0));
        assert_eq!(find(table, 70_013), Some(834));
        assert_eq!(find(table, 1_371), None);
        assert_eq!(find("", 1), None);
    }

    #[test]
    fn speaks_only_of_what_is_new() {
        assert_eq!(more(0, 0), None);
        assert_eq!(more(5, 5), None);
        let text = more(5, 12).unwrap();
        assert!(text.contains("threw away 7 datagrams"), "{text}");
        assert!(text.contains("(12 in all)"), "{text}");
    }

    /// Other tests open and close sockets meanwhile, so the table may lack this one for once.
    #[cfg(target_os = "linux")]
    fn counted(drops: Drops) -> u64 {
        std::iter::repeat_with(|| drops.count())
            .flatten()
            .next()
            .unwrap()
    }

    /// What was sent is what can be received and what the kernel says that it threw away.
    #[cfg(target_os = "linux")]
    #[test]
    #[expect(clippy::disallowed_methods, reason = "a socket that nobody reads")]
    fn counts_what_a_full_buffer_throws_away() {
        const SENT: u64 = 2_000;
        let socket = UdpSocket::bind(("127.0.0.1", 0)).unwrap();
        socket2::SockRef::from(&socket)
            .set_recv_buffer_size(1)
            .unwrap();
        let drops = Drops::of(&socket).unwrap();
        assert_eq!(counted(drops), 0);
        let sender = UdpSocket::bind(("127.0.0.1", 0)).unwrap();
        for _ in 0..SENT {
            sender
                .send_to(&[0; 530], socket.local_addr().unwrap())
                .unwrap();
        }
        socket.set_nonblocking(true).unwrap();
        let mut received = 0;
        // What the system has not handed over yet comes a moment later.
        while received + counted(drops) < SENT {
            match socket.recv(&mut [0; 530]) {
                Ok(_) => received += 1,
                Err(_) => std::thread::yield_now(),
            }
        }
        assert_eq!(received + counted(drops), SENT);
        assert!(received > 0 && received < SENT, "{received}");
    }
}
