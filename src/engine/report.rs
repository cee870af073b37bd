//! Builds what people look at.

use super::snapshot::{
    FileState, LoadState, PanelState, PeakState, SignalState, SourceState, State, UniverseState,
};
use super::switches::Presses;
use super::tally::Outcome;
use super::{Engine, arrival, notices};
use crate::power::cap::OutIndex;
use crate::power::draw;
use crate::power::tree::ElementIndex;
use crate::units::{Draw, Time};
use crate::wire::PortAddress;

/// A state in the making: a floor of ten thousand panels is gone over piece by piece, so that frames need
/// not wait for all of it.
#[derive(Debug)]
pub struct Draft {
    revision: u32,
    panels: Vec<PanelState>,
    /// Draw as sent of every panel's segments, idle included: those of one panel after those of the
    /// other.
    segments: Vec<Draw>,
    /// Where those of each panel begin.
    begins: Vec<usize>,
    /// The universe that is gone over next, and then the panel.
    next_out: usize,
    next_panel: usize,
}

/// How much a piece of a draft is: so many universes or so many panels.
const OUTS: usize = 64;
const PANELS: usize = 512;

impl Engine {
    /// Everything that changes while a floor runs.
    pub fn state(&self, now: Time) -> State {
        self.state_at_once(self.draft(None), now)
    }

    fn state_at_once(&self, mut draft: Draft, now: Time) -> State {
        while !self.go_on(&mut draft) {}
        self.state_of(draft, now)
    }

    /// Begins a state in the place of an earlier one that nobody looks at any more: its panels, which are
    /// many, are written over, so that making it takes little memory.
    pub fn draft(&self, before: Option<State>) -> Draft {
        let before = before.filter(|before| before.revision == self.revision);
        let panels = before.map_or_else(Vec::new, |before| before.panels);
        let known = panels.len() == self.floor.panels.len();
        Draft {
            revision: self.revision,
            panels: if known { panels } else { Vec::new() },
            segments: Vec::new(),
            begins: Vec::with_capacity(self.floor.panels.len()),
            next_out: 0,
            next_panel: 0,
        }
    }

    /// Makes one more piece of a draft; says whether it can be taken now, by [`Self::state_of`].
    pub fn go_on(&self, draft: &mut Draft) -> bool {
        if draft.revision != self.revision {
            *draft = self.draft(None);
        }
        let panels = self.floor.panels.len();
        if draft.begins.len() < panels {
            self.draft_idle(draft);
            return false;
        }
        if draft.next_out < self.tables.outputs.len() {
            for out in self.outs().skip(draft.next_out).take(OUTS) {
                self.add_segments(draft, out);
            }
            draft.next_out += OUTS;
            return false;
        }
        let end = panels.min(draft.next_panel + PANELS);
        for at in draft.next_panel..end {
            self.draft_panel(draft, at);
        }
        draft.next_panel = end;
        end == panels
    }

    /// The state that a draft has become; of a draft that is not done, or of another floor's, only the
    /// panels are missing or old.
    pub fn state_of(&self, draft: Draft, now: Time) -> State {
        self.state_with(draft.panels, now)
    }

    fn state_with(&self, panels: Vec<PanelState>, now: Time) -> State {
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
            panels,
            universes,
            inputs: self.switches.inputs(now),
            presses: self.switches.latest(floor, self.started, now),
            sensors: self.sensor_states(now),
            calibration: self.calibration_state(now),
            pattern: self.pattern_state(now),
            survey: self.surveys.told(),
            health_version: self.health_version,
            not_kept: self.not_kept.clone(),
            standby: self.standby_state(now),
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

    pub(super) fn signal(&self, now: Time) -> SignalState {
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

    /// What is known of a panel.
    fn draft_panel(&self, draft: &mut Draft, at: usize) {
        let row = &self.tables.panels[at];
        if draft.panels.len() == at {
            let position = self.floor.panels[at].position;
            let new = PanelState::of(position, row.segments.len());
            draft.panels.push(new);
        }
        let state = &mut draft.panels[at];
        let tree = self.limiter.tree();
        let reading = self.limiter.reading(tree.panel(at));
        let element = &tree.elements[at];
        (state.pressed, state.switches_known) = self.switches.panel(at);
        state.impossible = element.impossible();
        state.asked_a = reading.asked.amps().0;
        state.draw_a = reading.sent.amps().0;
        state.limit_a = element.rated_a.map(|_| element.limit.amps().0);
        state.scale = self.limiter.panel_scale(at).fraction();
        let own = &draft.segments[draft.begins[at]..];
        for (amps, draw) in state.segments_a.iter_mut().zip(own) {
            *amps = draw.amps().0;
        }
    }

    /// What the segments of more panels draw when dark.
    fn draft_idle(&self, draft: &mut Draft) {
        let begun = draft.begins.len();
        for panel in self.tables.panels.iter().skip(begun).take(PANELS) {
            let idle = panel.idle.0.checked_div(u64::from(panel.pixels));
            let idle = idle.unwrap_or(0);
            draft.begins.push(draft.segments.len());
            let segments = panel.segments.iter();
            let dark = segments.map(|&pixels| Draw(idle * u64::from(pixels)));
            draft.segments.extend(dark);
        }
    }

    /// Adds what the frame that left last for a universe makes segments draw.
    fn add_segments(&self, draft: &mut Draft, out: OutIndex) {
        let tables = &*self.tables;
        let leaving = self.limiter.leaving(out);
        for part in &tables.outputs[out as usize].parts {
            let pattern = &tables.patterns[usize::from(part.pattern)];
            let panel = &tables.panels[part.panel as usize];
            let stride = pattern.slots.len();
            let levels = &leaving[usize::from(part.dst)..][..usize::from(part.len)];
            // Slots of the panel before this stretch of it.
            let before =
                (part.first_pixel - panel.first_pixel) as usize * stride + usize::from(part.phase);
            let of_panel = &mut draft.segments[draft.begins[part.panel as usize]..];
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
}

#[cfg(test)]
mod tests {
    use std::net::{Ipv4Addr, SocketAddrV4};
    use std::sync::Arc;

    use super::*;
    use crate::engine::Me;
    use crate::engine::out::{Datagram, Outlet};
    use crate::floor::Tables;

    struct Nowhere;

    impl Outlet for Nowhere {
        fn send(&mut self, _: Datagram<'_>) -> bool {
            true
        }
    }

    fn engine(text: &str) -> Engine {
        let floor = crate::floor::parse("floor.toml", text).unwrap();
        let tables = Arc::new(Tables::compile(&floor));
        let me = Me {
            listener: SocketAddrV4::new(Ipv4Addr::LOCALHOST, 6_454),
            interfaces: Vec::new(),
        };
        Engine::new(Arc::new(floor), tables, me, Time(0))
    }

    /// Like everyone who looks, by what is written.
    fn told(state: &State) -> serde_json::Value {
        serde_json::to_value(state).unwrap()
    }

    #[test]
    fn a_state_in_the_place_of_another_is_as_if_it_were_made_anew() {
        let mut engine = engine(include_str!("../../config/first-floor.toml"));
        let first = engine.state(Time(0));
        let at = first.universes[0].port_address.clone();
        let address: PortAddress = at.parse().unwrap();
        let mut packet = b"Art-Net\0\x00\x50\x00\x0e\x00\x00".to_vec();
        packet.extend(address.number().to_le_bytes());
        packet.extend([2, 0]);
        packet.extend([200; 512]);
        let console = SocketAddrV4::new(Ipv4Addr::new(127, 0, 0, 9), 6_454);
        for ms in 0..20 {
            let now = Time(10_000 * ms);
            engine.handle(now, console, &packet, &mut Nowhere);
            engine.tick(now, &mut Nowhere);
        }
        let now = Time(200_000);
        let anew = engine.state(now);
        assert_ne!(told(&first)["panels"], told(&anew)["panels"], "it is lit");
        let again = |engine: &Engine, before| engine.state_at_once(engine.draft(Some(before)), now);
        assert_eq!(told(&again(&engine, first)), told(&anew));

        // Of another floor nothing is taken over.
        let mut other = self::engine(include_str!("../../config/large-floor.toml"));
        other.set_file("other", 2, now);
        assert_eq!(told(&again(&other, anew)), told(&other.state(now)));

        // A draft that another floor interrupts begins anew.
        let mut draft = engine.draft(None);
        assert!(!engine.go_on(&mut draft));
        let made = other.state_at_once(draft, now);
        assert_eq!(told(&made), told(&other.state(now)));
    }
}
