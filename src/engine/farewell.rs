//! Universes that leave no more since the floor was replaced, or because litfloor ends: each is made dark.
//!
//! Nobody reckons with their light any more, so it must surely end. A black frame counts only when
//! nothing brighter can arrive after it; a node that is silent, or that waits for an `ArtSync`
//! which is meant for others, takes one that comes later. So black is sent often at first and
//! then slowly, for some minutes.

use std::net::SocketAddrV4;

use super::Engine;
use super::out::{self, Outlet};
use crate::floor::model::WhenEnded;
use crate::power::cap::CappedFrame;
use crate::units::Time;
use crate::wire::PortAddress;

/// Pause between two black frames while older frames may still be on their way, and after that.
const OFTEN_MS: u64 = 40;
const SLOWLY_MS: u64 = 900;

/// So long after the last frame that was not black it is sent often: at most 9 datagrams in a row
/// are lost, none is later than 200 ms (the bounds of `[delivery]`), so one has surely arrived.
const OFTEN_FOR_MS: u64 = 1_000;

/// A node that comes back within this time is still made dark (our choice).
const LASTS_MS: u64 = 300_000;

/// A universe on its way into the dark.
#[derive(Debug, Clone)]
pub(super) struct Farewell {
    pub(super) to: SocketAddrV4,
    pub(super) port_address: PortAddress,
    /// Slots of its frames.
    slots: u16,
    since: Time,
    next: Time,
}

impl Farewell {
    /// Begins now; `slots` is the length of its frames.
    pub(super) const fn new(
        to: SocketAddrV4,
        port_address: PortAddress,
        slots: u16,
        now: Time,
    ) -> Self {
        Self {
            to,
            port_address,
            slots,
            since: now,
            next: now,
        }
    }
}

impl Engine {
    /// Sends the black frames that are due.
    pub(super) fn say_farewell(&mut self, now: Time, outlet: &mut impl Outlet) {
        if !self.leads() {
            return;
        }
        for farewell in &mut self.farewells {
            if now < farewell.next {
                continue;
            }
            let soon = now < farewell.since.plus_ms(OFTEN_FOR_MS);
            farewell.next = now.plus_ms(if soon { OFTEN_MS } else { SLOWLY_MS });
            let frame = CappedFrame::dark(farewell.slots);
            // Without a number, so that no node takes it for overtaken.
            out::send_frame(outlet, &frame, farewell.port_address, farewell.to, 0);
        }
        self.farewells
            .retain(|farewell| now < farewell.since.plus_ms(LASTS_MS));
    }

    /// litfloor was told to end. Gives until when [`Self::go_dark`] is to be called, as often as it wants, and
    /// nothing else; nothing where the picture stays: by the floor file, or because another litfloor leads or will.
    pub fn begin_to_end(&mut self, now: Time) -> Option<Time> {
        let stays = self.floor.signal.when_ended == WhenEnded::Hold;
        if stays || !self.leads() || self.standby.as_ref().is_some_and(|one| one.hears(now)) {
            return None;
        }
        let outs = self.tables.outputs.iter().zip(self.outlets());
        let outs = outs.filter_map(|(universe, (node, port_address))| {
            Some(Farewell::new(node?, port_address, universe.slots, now))
        });
        let outs: Vec<_> = outs.collect();
        let any = !outs.is_empty();
        self.farewells.extend(outs);
        any.then(|| now.plus_ms(OFTEN_FOR_MS))
    }

    /// Makes all dark, so often that it surely is; gives when to call it again.
    pub fn go_dark(&mut self, now: Time, outlet: &mut impl Outlet) -> Time {
        self.say_farewell(now, outlet);
        if self.syncing.active() {
            // Nodes that wait for a sync show it with the next.
            self.syncs.frame_left();
            self.sync_came(now, outlet);
        }
        now.plus_ms(OFTEN_MS)
    }

    /// Universes that are being made dark, for people.
    pub(super) fn farewells(&self) -> Vec<String> {
        let told = |farewell: &Farewell| format!("{} at {}", farewell.port_address, farewell.to);
        self.farewells.iter().map(told).collect()
    }
}
