//! Builds what people look at.

use super::snapshot::{
    FileState, LoadState, PanelState, PeakState, SignalState, SourceState, State, UniverseState,
};
use super::switches::Presses;
use super::tally::Outcome;
use super::{Engine, arrival, notices};
use crate::power::draw;
use crate::power::tree::ElementIndex;
use crate::units::{Draw, Time};
use crate::wire::PortAddress;

impl Engine {
    /// Everything that changes while a floor runs.
    pub fn state(&self, now: Time) -> State {
        let floor = &*self.floor;
        let tree = self.limiter.tree();
        let circuits = floor.circuits.iter().enumerate().map(|(at, circuit)| {
            self.load(tree.circuit(at), &circuit.name, None, self.circuit_w(at))
        });
        let supplies = floor.supplies.iter().enumerate().map(|(at, supply)| {
            self.load(
                tree.supply(at),
                &supply.name,
                Some(&floor.circuits[supply.circuit].name),
                self.mains_w(tree.supply(at), at),
            )
        });
        let feeds = floor.feeds.iter().enumerate().map(|(at, feed)| {
            self.load(
                tree.feed(at),
                &feed.name,
                Some(&floor.supplies[feed.supply].name),
                self.mains_w(tree.feed(at), feed.supply),
            )
        });
        let segments = self.segments();
        let panels =
            floor
                .panels
                .iter()
                .zip(segments)
                .enumerate()
                .map(|(at, (panel, segments))| {
                    let reading = self.limiter.reading(tree.panel(at));
                    let element = &tree.elements[at];
                    let (pressed, switches_known) = self.switches.panel(at);
                    PanelState {
                        pressed,
                        switches_known,
                        position: panel.position.to_string(),
                        impossible: element.impossible(),
                        asked_a: reading.asked.amps().0,
                        draw_a: reading.sent.amps().0,
                        limit_a: element.rated_a.map(|_| element.limit.amps().0),
                        scale: self.limiter.panel_scale(at).fraction(),
                        segments_a: segments.into_iter().map(|draw| draw.amps().0).collect(),
                    }
                });
        let mut universes = self.universe_states(now);
        universes.extend(self.unmapped.states(now));
        let nodes = (0..self.nodes.len()).map(|at| {
            let of_node = self.tables.outputs_of(at);
            let outputs = &self.tables.outputs[of_node.start as usize..of_node.end as usize];
            let sends: Vec<PortAddress> = outputs.iter().map(|out| out.port_address).collect();
            self.nodes.state(at, &sends, now)
        });
        let mut state = State {
            revision: self.revision,
            file: FileState {
                made_dark: self.farewells(),
                ..self.file.clone()
            },
            uptime_s: now.s_since(self.started),
            artnet: self.me.listener.to_string(),
            signal: self.signal(now),
            frames_in: self.tally.of(Outcome::Taken) + self.tally.of(Outcome::HeldForSync),
            frames_out: self.leaving.frames_out,
            frames_refused: self.tally.refused(),
            datagrams: self.tally.all(),
            nodes: nodes.collect(),
            strangers: self.nodes.strangers(now),
            floor: self.floor_load(),
            circuits: circuits.collect(),
            supplies: supplies.collect(),
            feeds: feeds.collect(),
            panels: panels.collect(),
            universes,
            inputs: self.switches.inputs(now),
            presses: self.switches.latest(floor, self.started, now),
            sensors: self.sensor_states(now),
            calibration: self.calibration_state(now),
            pattern: self.pattern_state(now),
            survey: self.surveys.told(),
            health_version: self.health_version,
            alarms: Vec::new(),
            notices: Vec::new(),
        };
        state.alarms = self.alarm_states(&state, now);
        state.notices = notices::of(&state, self.floor.signal.when_lost);
        state
    }

    /// What has been seen of every switch, for who judges them.
    pub fn presses(&self) -> Presses {
        self.switches.presses(self.revision)
    }

    /// Watts that the mains give for what `element` draws of a supply.
    fn mains_w(&self, element: ElementIndex, supply: usize) -> f64 {
        let supply = &self.floor.supplies[supply];
        (supply.volts * self.limiter.reading(element).sent.amps()).0 / supply.efficiency
    }

    /// Watts that a circuit gives to its supplies.
    fn circuit_w(&self, circuit: usize) -> f64 {
        let supplies = self.floor.supplies.iter().enumerate();
        let own = supplies.filter(|(_, supply)| supply.circuit == circuit);
        own.map(|(at, _)| self.mains_w(self.limiter.tree().supply(at), at))
            .sum()
    }

    fn load(
        &self,
        element: ElementIndex,
        name: &str,
        parent: Option<&String>,
        mains_w: f64,
    ) -> LoadState {
        let reading = self.limiter.reading(element);
        let own = &self.limiter.tree().elements[element as usize];
        LoadState {
            name: name.to_owned(),
            parent: parent.cloned(),
            asked_a: reading.asked.amps().0,
            draw_a: reading.sent.amps().0,
            reserved_a: reading.reserved.amps().0,
            silent_a: reading.silent.amps().0,
            idle_a: own.idle.amps().0,
            limit_a: own.limit.amps().0,
            rated_a: own.rated_a.map_or(0.0, |rated| rated.0),
            scale: self.limiter.scale(element).fraction(),
            level_a: self.limiter.level(element).map(|level| level.amps().0),
            peak: self.limiter.peak(element).map(|peak| PeakState {
                extra_a: peak.extra.amps().0,
                most_a: peak.most.amps().0,
                left_as: peak.left_as,
                full_as: peak.full_as,
            }),
            mains_w,
            impossible: own.impossible(),
        }
    }

    fn universe_states(&self, now: Time) -> Vec<UniverseState> {
        let mapped = self.tables.universes.iter().zip(&self.universes);
        let mapped = mapped.zip(&self.expected);
        mapped
            .map(|((row, universe), expected)| {
                let third = universe.third.iter().map(|(id, at)| (*id, *at, true));
                let sources = universe
                    .sources()
                    .iter()
                    .map(|source| (source.id, source.at, false))
                    .chain(third)
                    .map(|((address, physical), at, ignored)| SourceState {
                        address: address.to_string(),
                        physical,
                        age_s: now.s_since(at),
                        ignored,
                    })
                    .collect();
                UniverseState {
                    port_address: row.port_address.to_string(),
                    fps: universe.rate.per_s(now),
                    age_s: universe.at.map(|at| now.s_since(at)),
                    sources,
                    slots: universe.length,
                    mapped: true,
                    merging: universe.merging(),
                    synced: !universe.merging()
                        && universe
                            .newest_from
                            .is_some_and(|from| self.syncing.holds(from, now)),
                    lost: universe.at.is_some_and(|at| self.picture.is_lost(at, now)),
                    arrival: arrival::of(universe, expected, row.slots, &self.floor, now),
                }
            })
            .collect()
    }

    fn signal(&self, now: Time) -> SignalState {
        let mut live = 0;
        let mut came = 0;
        for at in self.universes.iter().filter_map(|universe| universe.at) {
            came += 1;
            live += usize::from(!self.picture.is_lost(at, now));
        }
        match (came, live) {
            (0, _) => SignalState::Waiting,
            (_, 0) => SignalState::Lost,
            (_, live) if live == self.universes.len() => SignalState::Live,
            _ => SignalState::Partial,
        }
    }

    /// Draw as sent of every panel's segments, idle included.
    fn segments(&self) -> Vec<Vec<Draw>> {
        let tables = &*self.tables;
        let mut all: Vec<Vec<Draw>> = tables
            .panels
            .iter()
            .map(|panel| {
                let idle = panel
                    .idle
                    .0
                    .checked_div(u64::from(panel.pixels))
                    .unwrap_or(0);
                panel
                    .segments
                    .iter()
                    .map(|&pixels| Draw(idle * u64::from(pixels)))
                    .collect()
            })
            .collect();
        for out in self.outs() {
            let leaving = self.limiter.leaving(out);
            for part in &tables.outputs[out as usize].parts {
                let pattern = &tables.patterns[usize::from(part.pattern)];
                let panel = &tables.panels[part.panel as usize];
                let stride = pattern.slots.len();
                let levels = &leaving[usize::from(part.dst)..][..usize::from(part.len)];
                // Slots of the panel before this stretch of it.
                let before = (part.first_pixel - panel.first_pixel) as usize * stride
                    + usize::from(part.phase);
                let of_panel = &mut all[part.panel as usize];
                let (mut from, mut end) = (0, 0);
                for (segment, &pixels) in panel.segments.iter().enumerate() {
                    end += pixels as usize * stride;
                    // What lies behind the last segment counts as its own.
                    let to = if segment + 1 == panel.segments.len() {
                        levels.len()
                    } else {
                        end.saturating_sub(before).min(levels.len())
                    };
                    if to > from {
                        let phase = (usize::from(part.phase) + from) % stride;
                        let phase = u16::try_from(phase).unwrap_or(0);
                        of_panel[segment] += draw::sum(phase, pattern, &levels[from..to]);
                        from = to;
                    }
                }
            }
        }
        all
    }
}
