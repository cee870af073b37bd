//! Two litfloors that stand by for each other, as processes: who leads when one is killed, ended or
//! stopped, and what the node gets meanwhile.

mod daemon;

use std::collections::BTreeMap;
use std::net::{SocketAddr, SocketAddrV4, UdpSocket};
use std::sync::mpsc::{self, Receiver};
use std::time::{Duration, Instant};

use artnet_protocol::ArtCommand;
use daemon::{Console, Daemon, LIMIT_A, PATIENCE, SLOTS, UNIVERSES, panel_a};
use serde_json::Value;

/// A console's pace.
const FRAME: Duration = Duration::from_millis(20);

/// What issue and README promise.
const TAKES_WITHIN: Duration = Duration::from_millis(500);

const KEY: &str = "a key for tests only";

/// A frame that came, from whom and when.
struct Came {
    at: Instant,
    from: SocketAddrV4,
    universe: u16,
    slots: Vec<u8>,
}

/// A node that remembers who sent.
struct Node {
    address: SocketAddrV4,
    frames: Receiver<Came>,
    held: BTreeMap<u16, Vec<u8>>,
    /// From whom frames came that were all dark.
    black: Vec<SocketAddrV4>,
}

#[expect(clippy::disallowed_methods, reason = "a node has a socket and a clock")]
impl Node {
    fn open() -> Self {
        let socket = UdpSocket::bind(daemon::ANY_PORT).unwrap();
        let SocketAddr::V4(address) = socket.local_addr().unwrap() else {
            panic!("not IPv4");
        };
        let (came, frames) = mpsc::channel();
        std::thread::spawn(move || {
            let mut buffer = [0; 2_048];
            while let Ok((length, SocketAddr::V4(from))) = socket.recv_from(&mut buffer) {
                if let Ok(ArtCommand::Output(output)) = ArtCommand::from_buffer(&buffer[..length]) {
                    let frame = Came {
                        at: Instant::now(),
                        from,
                        universe: output.port_address.into(),
                        slots: output.data.as_ref().clone(),
                    };
                    if came.send(frame).is_err() {
                        return;
                    }
                }
            }
        });
        Self {
            address,
            frames,
            held: BTreeMap::new(),
            black: Vec::new(),
        }
    }

    /// Takes what came within a frame's time. What the floor draws as the node stands is never over.
    fn take(&mut self) -> Vec<Came> {
        let first = self.frames.recv_timeout(FRAME).ok();
        let frames: Vec<Came> = first.into_iter().chain(self.frames.try_iter()).collect();
        for frame in &frames {
            self.held.insert(frame.universe, frame.slots.clone());
            if frame.slots.iter().all(|level| *level == 0) {
                self.black.push(frame.from);
            }
            let draw_a: f64 = UNIVERSES
                .iter()
                .map(|universe| self.held.get(universe).map_or(0.02, |slots| panel_a(slots)))
                .sum();
            assert!(draw_a <= LIMIT_A, "{draw_a} A of {LIMIT_A} A");
        }
        frames
    }
}

/// Two litfloors, a console that sends to both, and the node.
struct Stage {
    node: Node,
    text: String,
    at: [SocketAddrV4; 2],
    /// The console's, to each of both: the same for the whole test, for what a source sent before is
    /// merged with what another one sends, and the picture would stand still.
    consoles: [Console; 2],
    level: u8,
    files: tempfile::TempDir,
}

/// A UDP port that is free at both addresses.
#[expect(clippy::disallowed_methods, reason = "asks which port is free")]
fn two_listeners() -> [SocketAddrV4; 2] {
    loop {
        let port = daemon::free_udp_port().port();
        let both =
            ["127.0.0.1", "127.0.0.2"].map(|ip| SocketAddrV4::new(ip.parse().unwrap(), port));
        if both.iter().all(|at| UdpSocket::bind(at).is_ok()) {
            return both;
        }
    }
}

#[expect(clippy::disallowed_methods, reason = "deadlines")]
impl Stage {
    fn set() -> Self {
        Self::saying("")
    }

    /// One whose floor file says more.
    fn saying(more: &str) -> Self {
        let node = Node::open();
        let at = two_listeners();
        let text = format!(
            "{}[standby]\nfirst = \"{}\"\nsecond = \"{}\"\n{more}",
            daemon::six_panels(&[node.address]),
            at[0],
            at[1]
        );
        Self {
            node,
            text,
            consoles: at.map(Console::open),
            at,
            level: 0,
            files: tempfile::tempdir().unwrap(),
        }
    }

    /// Starts one of them: 0 the first, 1 the second.
    fn start(&self, which: usize) -> Daemon {
        let path = self.files.path().join("floor.toml");
        std::fs::write(&path, &self.text).unwrap();
        let state = self.files.path().join(format!("state{which}"));
        let mut command = daemon::litfloor(&["run", path.to_str().unwrap()]);
        command
            .args([
                "--artnet",
                &self.at[which].to_string(),
                "--http",
                "127.0.0.1:0",
            ])
            .arg("--state")
            .arg(state)
            .env("LITFLOOR_STANDBY_KEY", KEY);
        Daemon::of(command)
    }

    /// Plays a picture that changes with every frame, until what came is as wished.
    fn play(&mut self, what: &str, mut done: impl FnMut(&[Came]) -> bool) {
        let deadline = Instant::now() + PATIENCE;
        loop {
            self.level = self.level.wrapping_add(1);
            // A dark slot goes along, so that no two frames are the same when the cap holds, either.
            let mut slots = [self.level; SLOTS];
            slots[usize::from(self.level) % SLOTS] = 0;
            for universe in UNIVERSES {
                for console in &self.consoles {
                    console.dmx(universe, &slots);
                }
            }
            let came = self.node.take();
            if done(&came) {
                return;
            }
            assert!(Instant::now() < deadline, "never: {what}");
        }
    }

    /// Plays until one of them has sent some frames, and the other none since `begun`.
    fn until_only(&mut self, who: usize, what: &str) {
        let (at, mut frames) = (self.at, 0);
        self.play(what, |came| {
            for frame in came {
                frames = if frame.from == at[who] { frames + 1 } else { 0 };
            }
            // Longer than who was away could think that nothing had happened.
            frames > 300
        });
    }

    /// Does something to who leads, and says how long the node got nothing until the other one sent.
    fn gap(&mut self, to: usize, act: impl FnOnce()) -> Duration {
        let (target, mut last, mut act) = (self.at[to], Instant::now(), Some(act));
        let mut gap = None;
        self.play("the other one sends", |came| {
            for frame in came {
                if frame.from == target {
                    gap = Some(frame.at.saturating_duration_since(last));
                    return true;
                }
                last = frame.at;
            }
            if let Some(act) = act.take() {
                act();
            }
            false
        });
        gap.unwrap()
    }
}

#[test]
#[expect(clippy::disallowed_methods, reason = "how long it plays")]
fn the_second_leads_when_the_first_is_killed_and_gives_it_back() {
    let mut stage = Stage::set();
    let (first, second) = (stage.start(0), stage.start(1));
    stage.until_only(0, "the first leads alone");
    let told = second.until(PATIENCE, |state| {
        let told = state["standby"].clone();
        (told["duty"] == "stands_by").then_some(told)
    });
    assert_eq!(told["role"], "second");
    assert_eq!(told["same_file"], true, "{told}");
    let pattern = r#"{"pattern": {"kind": "panel", "position": "A1"}}"#;
    let (status, refused) = second.ask("POST", "/api/v1/pattern", pattern);
    assert_eq!(
        (status, &refused["error"]),
        (422, &"stands_by".into()),
        "{refused}"
    );

    let taken = stage.gap(1, || first.signal("KILL"));
    println!("killed: {taken:?} until the second sent");
    assert!(taken <= TAKES_WITHIN, "{taken:?}");
    stage.until_only(1, "the second leads");
    let taken = |state: &Value| {
        state["standby"]["taken"]
            .as_u64()
            .filter(|&taken| taken > 0)
    };
    assert_eq!(second.until(PATIENCE, taken), 1);

    // Started again, it listens, and asks for the lead when it is well.
    drop(first);
    let first = stage.start(0);
    let mut from_second_after = 0;
    let begun = Instant::now();
    let given = stage.gap(0, || ());
    println!(
        "given back {:?} after the start, {given:?} without a frame",
        begun.elapsed()
    );
    assert!(given <= TAKES_WITHIN, "{given:?}");
    let (at, mut frames) = (stage.at, 0);
    stage.play("the first leads again", |came| {
        from_second_after += came.iter().filter(|frame| frame.from == at[1]).count();
        frames += came.len();
        frames > 200
    });
    assert_eq!(from_second_after, 0, "never both");
    first.until(PATIENCE, |state| {
        (state["standby"]["duty"] == "leads").then_some(())
    });
}

#[test]
fn who_is_told_to_end_hands_over_at_once() {
    let mut stage = Stage::set();
    let (first, second) = (stage.start(0), stage.start(1));
    stage.until_only(0, "the first leads alone");
    let mut said = Vec::new();
    let taken = stage.gap(1, || {
        let (status, lines) = first.end_told_with("TERM");
        assert!(status.success());
        said = lines;
    });
    let goes_on = format!("Ended. The litfloor at {}", stage.at[1]);
    assert!(said.last().unwrap().starts_with(&goes_on), "{said:?}");
    println!("told to end: {taken:?} until the second sent");
    assert!(taken <= TAKES_WITHIN, "{taken:?}");
    stage.until_only(1, "the second leads");
    // Who is alone leaves the last picture.
    let (status, said) = second.end_told_with("TERM");
    assert!(status.success());
    assert!(
        said.last().unwrap().contains("nodes hold the last picture"),
        "{said:?}"
    );
}

#[test]
fn a_floor_that_is_to_be_dark_at_the_end_is_so_only_when_nobody_takes_over() {
    let mut stage = Stage::saying("[signal]\nwhen_ended = \"dark\"\n");
    let (first, second) = (stage.start(0), stage.start(1));
    stage.until_only(0, "the first leads alone");
    // The console's own pictures are dark once in 256, and about then where they are dimmed.
    stage.level = 100;
    stage.node.black.clear();
    stage.gap(1, || assert!(first.end_with("TERM").success()));
    assert!(stage.level > 100, "it took more pictures than that");
    // Who takes over begins dark, for it can't know what the nodes show.
    assert!(!stage.node.black.contains(&stage.at[0]));
    stage.until_only(1, "the second leads");
    let (status, said) = second.end_told_with("TERM");
    assert!(status.success());
    let last = said.last().unwrap();
    assert!(last.contains("The floor was sent black"), "{said:?}");
    stage.node.black.clear();
    stage.node.take();
    assert!(stage.node.black.contains(&stage.at[1]));
    let dark = |slots: &Vec<u8>| slots.iter().all(|level| *level == 0);
    assert!(stage.node.held.values().all(dark), "{:?}", stage.node.held);
}

#[test]
fn who_was_stopped_does_not_go_on_where_the_other_leads() {
    let mut stage = Stage::set();
    let (first, second) = (stage.start(0), stage.start(1));
    stage.until_only(0, "the first leads alone");
    let taken = stage.gap(1, || first.signal("STOP"));
    println!("stopped: {taken:?} until the second sent");
    assert!(taken <= TAKES_WITHIN, "{taken:?}");
    stage.until_only(1, "the second leads");
    first.signal("CONT");
    // Had it gone on, all that waited in its socket would have been forwarded now.
    let (at, mut frames, mut of_first) = (stage.at, 0, 0);
    stage.play("the second goes on leading", |came| {
        frames += came.len();
        of_first += came.iter().filter(|frame| frame.from == at[0]).count();
        frames > 600
    });
    assert_eq!(of_first, 0, "{frames} frames");
    let duty = |daemon: &Daemon, duty: &str| {
        daemon.until(PATIENCE, |state| {
            (state["standby"]["duty"] == duty).then_some(())
        });
    };
    duty(&first, "stands_by");
    duty(&second, "leads");
}

#[test]
fn without_a_key_or_an_address_of_its_own_it_does_not_start() {
    let stage = Stage::set();
    let (_files, path) = daemon::file(&stage.text);
    let http = ["--http", "127.0.0.1:0"];
    let at = stage.at[0].to_string();
    let (status, _, why) = daemon::ended(&["run", &path, "--artnet", &at, http[0], http[1]]);
    assert_eq!(status, 2, "{why}");
    assert!(why.contains("LITFLOOR_STANDBY_KEY"), "{why}");
    let elsewhere = daemon::free_udp_port().to_string();
    let (status, _, why) = daemon::ended(&["run", &path, "--artnet", &elsewhere, http[0], http[1]]);
    // The address may come yet: it is worth another try.
    assert_eq!(status, 3, "{why}");
    assert!(
        why.contains("neither is where this litfloor listens"),
        "{why}"
    );
}
