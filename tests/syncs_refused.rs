//! Syncs onwards where the system refuses at random what leaves for some nodes: who got frames is told to show
//! them, and nobody is told more often than need be.

mod support;

use std::net::SocketAddrV4;

use litfloor::engine::Engine;
use litfloor::engine::Me;
use litfloor::engine::out::{Datagram, Outlet};
use litfloor::engine::tally::Outcome;
use litfloor::floor::tables::Tables;
use litfloor::units::Time;
use proptest::prelude::*;
use support::stage::{A, SYNC, dmx, floor};

const NODES: u8 = 3;
const CONSOLE: SocketAddrV4 = SocketAddrV4::new(A, 6454);

/// What leaves, on its way to nodes whose cables are in or out.
#[derive(Default)]
struct Wire {
    /// Whether the system refuses at once what leaves for each node, and whether it does so afterwards.
    refuses: [bool; NODES as usize],
    afterwards: [bool; NODES as usize],
    now: Time,
    /// To be told to the engine.
    late: Vec<SocketAddrV4>,
    /// What arrived at each node: when, and whether it was a sync.
    arrived: [Vec<(Time, bool)>; NODES as usize],
    /// What was tried: when, at which node, and whether it was a sync.
    tried: [Vec<(Time, bool)>; NODES as usize],
}

impl Wire {
    /// How many frames were tried, at all nodes.
    fn frames(&self) -> usize {
        let tried = self.tried.iter();
        tried.map(|all| all.len() - syncs(all)).sum()
    }
}

impl Outlet for Wire {
    fn send(&mut self, datagram: Datagram<'_>) -> bool {
        let bytes = datagram.to_vec();
        let at = usize::from(datagram.to().ip().octets()[3] - 1);
        let (is_sync, is_frame) = (bytes == SYNC, bytes[9] == 0x50);
        if is_sync || is_frame {
            self.tried[at].push((self.now, is_sync));
        }
        if self.refuses[at] {
            return false;
        }
        if self.afterwards[at] {
            self.late.push(datagram.to());
        } else if is_sync || is_frame {
            self.arrived[at].push((self.now, is_sync));
        }
        true
    }
}

struct World {
    engine: Engine,
    wire: Wire,
    next_tick: Time,
}

impl World {
    fn new() -> Self {
        let runs = [(1, "0:0:1"), (2, "0:0:2"), (3, "0:0:3"), (1, "0:0:4")];
        let text = floor(&runs, 20.0, "");
        let floor = litfloor::floor::parse("small.toml", &text).unwrap();
        let tables = std::sync::Arc::new(Tables::compile(&floor));
        let me = Me {
            listener: SocketAddrV4::new(std::net::Ipv4Addr::UNSPECIFIED, 6454),
            interfaces: Vec::new(),
        };
        let now = Time::from_ms(1);
        Self {
            engine: Engine::new(floor.into(), tables, me, now),
            wire: Wire {
                now,
                ..Wire::default()
            },
            next_tick: now,
        }
    }

    fn settle(&mut self) {
        for to in std::mem::take(&mut self.wire.late) {
            self.engine.refused(to, self.wire.now);
        }
        self.next_tick = self.engine.next_tick();
    }

    fn arrives(&mut self, bytes: &[u8]) -> Outcome {
        let now = self.wire.now;
        let outcome = self.engine.handle(now, CONSOLE, bytes, &mut self.wire);
        self.settle();
        outcome
    }

    fn pass(&mut self, ms: u64) {
        let until = self.wire.now.plus_ms(ms);
        while self.next_tick <= until {
            self.wire.now = self.next_tick.max(self.wire.now);
            self.engine.tick(self.wire.now, &mut self.wire);
            self.settle();
        }
        self.wire.now = until;
    }
}

#[derive(Debug, Clone)]
enum Step {
    Frame(u16, u8),
    Sync,
    Pass(u64),
    Cable(usize, bool, bool),
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        4 => (1_u16..=4, any::<u8>()).prop_map(|(universe, level)| Step::Frame(universe, level)),
        3 => Just(Step::Sync),
        3 => (0_u64..12).prop_map(Step::Pass),
        1 => (0..usize::from(NODES), any::<bool>(), any::<bool>())
            .prop_map(|(node, refuses, late)| Step::Cable(node, refuses, late)),
    ]
}

/// How many of these are syncs.
fn syncs(of: &[(Time, bool)]) -> usize {
    of.iter().filter(|(_, is_sync)| *is_sync).count()
}

fn run(steps: &[Step]) -> Result<(), TestCaseError> {
    let mut world = World::new();
    world.pass(2_000);
    world.arrives(&dmx(0, 1, &[1; 6]));
    let began = world.wire.now;
    // What of that which arrived at each node is to be followed by a sync, and when at the latest.
    let mut owed: Option<(Time, [usize; NODES as usize])> = None;
    // Since then each node could be reached.
    let mut whole = [true; NODES as usize];
    for step in steps {
        match *step {
            Step::Frame(universe, level) => {
                world.arrives(&dmx(0, universe, &[level; 6]));
            }
            Step::Sync => {
                prop_assert_eq!(world.arrives(SYNC), Outcome::Sync);
                let seen = [0, 1, 2].map(|at| world.wire.arrived[at].len());
                whole = [0, 1, 2].map(|at| !world.wire.refuses[at] && !world.wire.afterwards[at]);
                owed = Some((world.wire.now.plus_ms(5), seen));
            }
            Step::Pass(ms) => world.pass(ms),
            Step::Cable(at, refuses, late) => {
                (world.wire.refuses[at], world.wire.afterwards[at]) = (refuses, late);
                whole[at] &= !refuses && !late;
            }
        }
        let Some((by, seen)) = owed.filter(|owed| world.wire.now >= owed.0) else {
            continue;
        };
        world.pass(0);
        for at in 0..usize::from(NODES) {
            let arrived = &world.wire.arrived[at];
            let frame = arrived[..seen[at]]
                .iter()
                .rposition(|&(_, is_sync)| !is_sync);
            if let Some(frame) = frame.filter(|_| whole[at]) {
                let told = arrived[frame..]
                    .iter()
                    .any(|&(when, is_sync)| is_sync && when <= by);
                prop_assert!(told, "node {} by {:?}: {:?}", at, by, &arrived[frame..]);
            }
        }
        owed = None;
    }
    let seconds = usize::try_from(world.wire.now.us_since(began) / 1_000_000).unwrap();
    for at in 0..usize::from(NODES) {
        let tried = &world.wire.tried[at];
        let times: Vec<Time> = tried.iter().filter(|one| one.1).map(|one| one.0).collect();
        prop_assert!(times.windows(2).all(|two| two[1].us_since(two[0]) >= 5_000));
        // Those that can be reached get one after frames, whose ever they are, and one a second.
        let frames = world.wire.frames();
        if steps
            .iter()
            .all(|step| !matches!(step, Step::Cable(to, ..) if *to == at))
        {
            prop_assert!(
                syncs(tried) <= frames + seconds + 2,
                "{} of {frames}",
                syncs(tried)
            );
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(256) })]

    /// Whoever got a frame before a sync of the console, and can be reached since that came, is told to show it
    /// within 5 ms; nobody is told sooner than 5 ms after the last time.
    #[test]
    fn who_got_frames_is_told_to_show_them(steps in prop::collection::vec(step(), 1..300)) {
        run(&steps)?;
    }
}

/// A sync that was refused is made up for at the next, although nothing new has left since then.
#[test]
fn a_sync_that_was_refused_is_made_up_for_at_the_next() {
    for late in [false, true] {
        let mut world = World::new();
        world.pass(2_000);
        world.arrives(&dmx(0, 2, &[1; 6]));
        world.arrives(SYNC);
        world.pass(800);
        world.arrives(&dmx(0, 2, &[9; 6]));
        world.arrives(SYNC);
        world.pass(500);
        world.arrives(SYNC);
        world.pass(5);
        // Nothing is to be repeated now: what arrived is surely there.
        let cable = if late {
            &mut world.wire.afterwards
        } else {
            &mut world.wire.refuses
        };
        cable[1] = true;
        world.pass(1_000);
        world.arrives(SYNC);
        let cable = if late {
            &mut world.wire.afterwards
        } else {
            &mut world.wire.refuses
        };
        cable[1] = false;
        let before = [0, 1, 2].map(|at| syncs(&world.wire.tried[at]));
        for _ in 0..20 {
            world.wire.now = world.wire.now.plus_ms(1);
            world.arrives(SYNC);
        }
        let after = [0, 1, 2].map(|at| syncs(&world.wire.tried[at]));
        // Once, to whom it was refused, and to no other.
        assert_eq!(after[1], before[1] + 1, "afterwards: {late}");
        assert_eq!((after[0], after[2]), (before[0], before[2]));
    }
}

/// Where a node can't be reached, syncs without end are no flood to the others.
#[test]
fn a_node_that_can_t_be_reached_makes_no_flood_to_the_others() {
    let mut world = World::new();
    world.pass(2_000);
    world.arrives(&dmx(0, 1, &[1; 6]));
    world.arrives(SYNC);
    world.wire.afterwards[2] = true;
    let before = world.wire.tried[0].len();
    for _ in 0..4_000 {
        world.pass(1);
        world.arrives(SYNC);
    }
    let since = &world.wire.tried[0][before..];
    let frames = world.wire.frames();
    assert!(
        syncs(since) <= frames + 5,
        "{} of {frames} frames",
        syncs(since)
    );
    assert!(syncs(since) >= 4);
}
