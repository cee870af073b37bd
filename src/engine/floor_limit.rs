//! The limit of the whole floor, which someone may turn down while it runs.

use super::Engine;
use super::command::LiveLimit;
use super::out::Outlet;
use super::snapshot::FloorLoadState;
use crate::pattern::Refused;
use crate::power::tree::KILO;
use crate::units::{Amps, Draw, Time};

/// Kilovolt-amperes, which the limiter counts the floor in, as volt-amperes.
fn va(draw: Draw) -> f64 {
    draw.amps().0 / KILO
}

impl Engine {
    /// Sets the live limit. What it dims leaves at once.
    pub(super) fn limit_floor(
        &mut self,
        limit: LiveLimit,
        now: Time,
        outlet: &mut impl Outlet,
    ) -> Result<(), Refused> {
        if self.floor.nodes.is_empty() {
            let text = "This floor has no nodes: litfloor only watches it and sends nothing, so \
                        it can hold nothing back.";
            return Err(Refused::new("watch_only", text));
        }
        let limit = limit
            .floor_va
            .map(|va| Draw::limit(Amps(f64::from(va) * KILO)));
        let floor = self.limiter.tree().floor();
        let before = self.limiter.live_limit(floor);
        let lower = limit.is_some_and(|new| before.is_none_or(|before| new <= before));
        // Down goes at once and always; up and down and up again would make the floor flash.
        if !lower && self.pacing.earliest(now) > now {
            let text = "The limit was changed several times within a second, which makes the floor \
                        flash: wait a second, then try again.";
            return Err(Refused::new("too_often", text));
        }
        self.pacing.changed(now);
        self.limiter.set_live_limit(floor, limit);
        self.send_fallen(now, outlet);
        Ok(())
    }

    /// What the floor draws in all, for people.
    pub(super) fn floor_load(&self) -> FloorLoadState {
        let element = self.limiter.tree().floor();
        let own = &self.limiter.tree().elements[element as usize];
        let reading = self.limiter.reading(element);
        let limited = own.rated_a.is_some() || own.live.is_some();
        FloorLoadState {
            asked_va: va(reading.asked),
            draw_va: va(reading.sent),
            reserved_va: va(reading.reserved),
            silent_va: va(reading.silent),
            idle_va: va(own.idle),
            limit_va: limited.then(|| va(own.kept())),
            rated_va: own.rated_a.map(|rated| rated.0 / KILO),
            live_limit_va: own.live.map(va),
            scale: self.limiter.scale(element).fraction(),
            impossible: own.impossible(),
        }
    }
}
