//! The network interface to the nodes vanishes and comes back, as with an adapter that is pulled out.
//!
//! Two networks of the test's own, with a cable between them: here the console and the daemon, there the node.

use std::fs::File;
use std::net::{Ipv4Addr, SocketAddrV4, UdpSocket};
use std::process::Command;
use std::time::{Duration, Instant};

use nix::sched::{CloneFlags, setns};

use crate::daemon::{self, Daemon, Node, PATIENCE, litfloor};
use crate::player::{Playing, SOON, Seen, during, middle, ms, until};
use crate::{found, not_run};

const HERE: Ipv4Addr = Ipv4Addr::new(10, 203, 0, 1);
const THERE: Ipv4Addr = Ipv4Addr::new(10, 203, 0, 2);

/// Two network namespaces; they go when this does.
struct Networks {
    here: String,
    there: String,
}

fn ip(arguments: &str) -> Result<(), String> {
    let done = Command::new("ip")
        .args(arguments.split(' '))
        .output()
        .map_err(|why| why.to_string())?;
    if done.status.success() {
        return Ok(());
    }
    Err(format!(
        "ip {arguments}: {}",
        String::from_utf8_lossy(&done.stderr).trim()
    ))
}

impl Networks {
    fn make() -> Result<Self, String> {
        let id = std::process::id();
        let made = Self {
            here: format!("litfloor-here-{id}"),
            there: format!("litfloor-there-{id}"),
        };
        for name in [&made.here, &made.there] {
            ip(&format!("netns add {name}"))?;
            ip(&format!("-n {name} link set lo up"))?;
        }
        made.plug_in()?;
        Ok(made)
    }

    /// A cable between both, and addresses at its ends.
    fn plug_in(&self) -> Result<(), String> {
        let Self { here, there } = self;
        ip(&format!(
            "-n {here} link add cable type veth peer name cable netns {there}"
        ))?;
        ip(&format!("-n {here} addr add {HERE}/24 dev cable"))?;
        ip(&format!("-n {there} addr add {THERE}/24 dev cable"))?;
        // The far end first, as a switch would be there.
        ip(&format!("-n {there} link set cable up"))?;
        ip(&format!("-n {here} link set cable up"))
    }

    /// The interface is gone, at both ends.
    fn pull_out(&self) {
        ip(&format!("-n {} link del cable", self.here)).unwrap();
    }

    fn cable(&self, up: bool) {
        let state = if up { "up" } else { "down" };
        ip(&format!("-n {} link set cable {state}", self.here)).unwrap();
    }
}

impl Drop for Networks {
    fn drop(&mut self) {
        for name in [&self.here, &self.there] {
            let _ = ip(&format!("netns del {name}"));
        }
    }
}

/// This thread, and all that it starts, is in a network from here on.
fn enter(name: &str) {
    let network = File::open(format!("/run/netns/{name}")).unwrap();
    setns(network, CloneFlags::CLONE_NEWNET).unwrap();
}

/// The socket of the node, over there.
fn over_there(name: &str) -> UdpSocket {
    let name = name.to_owned();
    let opened = std::thread::spawn(move || {
        enter(&name);
        UdpSocket::bind(SocketAddrV4::new(THERE, 6454)).unwrap()
    });
    opened.join().unwrap()
}

/// How long after the interface is there again the node shows the console's newest picture.
fn back(node: &Node, console: &Playing) -> Duration {
    let begun = Instant::now();
    let from = console.newest();
    node.arrived.try_iter().for_each(drop);
    until(node, &mut Seen::default(), |seen| {
        seen.whole().is_some_and(|number| number > from)
    });
    begun.elapsed()
}

fn vanishes_and_returns(networks: &Networks) {
    let node = Node::through("six", over_there(&networks.there));
    enter(&networks.here);
    let (_directory, path) = daemon::file(&daemon::six_panels(&[node.address]));
    let run = litfloor(&[
        "run",
        &path,
        "--artnet",
        "0.0.0.0:6454",
        "--http",
        "127.0.0.1:0",
    ]);
    let daemon = Daemon::of(run);
    let console = Playing::to(SocketAddrV4::new(Ipv4Addr::LOCALHOST, 6454), 0);
    let mut seen = Seen::default();
    until(&node, &mut seen, |seen| seen.whole().is_some());
    let errors = |state: &serde_json::Value| state["nodes"][0]["send_errors"].as_u64().unwrap();
    let mut took = Vec::new();
    for round in 0..4 {
        let before = errors(&daemon.json("/api/v1/state"));
        if round % 2 == 0 {
            networks.pull_out();
        } else {
            networks.cable(false);
        }
        // It is noticed and counted, and nothing else ends: the console is taken all the time.
        let refused = daemon.until(PATIENCE, |state| {
            (errors(state) > before && state["signal"] == "live").then(|| errors(state) - before)
        });
        assert!(refused > 0);
        during(&node, &mut seen, Duration::from_millis(300));
        if round % 2 == 0 {
            networks.plug_in().unwrap();
        } else {
            networks.cable(true);
        }
        took.push(back(&node, &console));
    }
    let all: Vec<_> = took.iter().map(|time| ms(*time)).collect();
    found(
        "the interface to the nodes vanishes (twice) or loses its link (twice)",
        "what could not be sent was refused and counted, the console was taken on",
        "what was sent meanwhile",
        &format!("{} after the interface was back", all.join(", ")),
    );
    // Whose address is where may be asked once a second (RFC 1122, section 2.3.2.1), so a question that is lost
    // costs one.
    assert!(middle(&mut took) <= 2 * SOON, "{took:?}");
    assert!(daemon.end_with("TERM").success());
}

#[test]
fn an_interface_that_vanishes_and_returns_is_used_again_at_once() {
    let networks = match Networks::make() {
        Ok(networks) => networks,
        Err(why) => return not_run("networks of the test's own", &why),
    };
    // A thread of its own, for it stays in the network that it enters.
    std::thread::scope(|scope| {
        let done = scope.spawn(|| vanishes_and_returns(&networks)).join();
        if let Err(panic) = done {
            std::panic::resume_unwind(panic);
        }
    });
}
