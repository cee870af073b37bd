//! Universes that leave no more since the floor was replaced: each is made dark, once and surely.

use std::net::SocketAddrV4;

use super::Engine;
use super::out::{self, Numbers, Outlet};
use crate::power::cap::CappedFrame;
use crate::units::Time;
use crate::wire::PortAddress;

/// Pause between two black frames.
const REPEAT_MS: u64 = 40;

/// A universe on its way into the dark.
#[derive(Debug, Clone)]
pub(super) struct Farewell {
    pub(super) to: SocketAddrV4,
    pub(super) port_address: PortAddress,
    /// Slots of its frames.
    pub(super) slots: u16,
    pub(super) numbers: Numbers,
    /// Black frames still to be sent.
    pub(super) left: u8,
    pub(super) next: Time,
}

impl Engine {
    /// Sends the black frames that are due.
    pub(super) fn say_farewell(&mut self, now: Time, outlet: &mut impl Outlet) {
        for farewell in &mut self.farewells {
            if now >= farewell.next {
                farewell.next = now.plus_ms(REPEAT_MS);
                let frame = CappedFrame::dark(farewell.slots);
                let (to, number) = (farewell.to, farewell.numbers.next());
                let taken = out::send_frame(outlet, &frame, farewell.port_address, to, number);
                farewell.left -= u8::from(taken);
            }
        }
        self.farewells.retain(|farewell| farewell.left > 0);
    }
}
