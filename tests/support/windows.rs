//! Whether any window of time passes a limit: peaks, and how fast the draw rises.
//!
//! Reckoned in floating point from what the simulated nodes really hold, and from the frames that
//! left; it shares nothing with the reckoning under test.

use std::collections::HashMap;
use std::net::SocketAddrV4;

use litfloor::floor::model::{Floor, Peak};
use litfloor::sim::truth::Amperes;
use litfloor::units::Time;
use litfloor::wire::PortAddress;

use super::World;

/// One that may carry more than its limit for a short time.
#[derive(Clone)]
struct Account {
    name: String,
    limit_a: f64,
    peak: Peak,
    left_as: f64,
    draw_a: f64,
    least: f64,
}

impl Account {
    fn full_as(&self) -> f64 {
        (self.peak.percent / 100.0 - 1.0) * self.limit_a * self.peak.s
    }
}

/// One whose newest frames may not rise faster than so.
#[derive(Clone)]
struct Rise {
    name: String,
    slew_a_per_s: f64,
    ceiling_a: f64,
    begun: bool,
}

/// What is watched, feeds before supplies.
#[derive(Default)]
pub struct Windows {
    accounts: Vec<Option<Account>>,
    rises: Vec<Option<Rise>>,
    at: Time,
    seen: usize,
    last_sent: Time,
    newest: HashMap<(SocketAddrV4, PortAddress), [u8; 512]>,
    /// The largest share of an account that was ever spent, and of a step that was ever risen.
    pub spent: f64,
    pub above_a: f64,
    pub risen: f64,
}

impl Windows {
    /// Accounts begin full: then none is ever overdrawn if and only if no window, whatever its
    /// length, has more than its limit and one full account.
    pub fn new(floor: &Floor, now: Time) -> Self {
        let margin = floor.cap.margin;
        let feeds = floor.feeds.iter();
        let feeds = feeds.map(|of| (&of.name, of.fuse_a.0, of.peak, of.slew_a_per_s));
        let supplies = floor.supplies.iter();
        let supplies = supplies.map(|of| (&of.name, of.rated_a.0, of.peak, of.slew_a_per_s));
        let all: Vec<_> = feeds.chain(supplies).collect();
        let account = |&(name, rated_a, peak, _): &(&String, f64, Option<Peak>, _)| {
            let mut account = Account {
                name: name.clone(),
                limit_a: rated_a * margin,
                peak: peak?,
                left_as: 0.0,
                draw_a: 0.0,
                least: 1.0,
            };
            account.left_as = account.full_as();
            Some(account)
        };
        let rise = |&(name, _, _, slew): &(&String, f64, _, Option<f64>)| {
            Some(Rise {
                name: name.clone(),
                slew_a_per_s: slew?,
                ceiling_a: slew? * 0.1,
                begun: false,
            })
        };
        Self {
            accounts: all.iter().map(account).collect(),
            rises: all.iter().map(rise).collect(),
            at: now,
            last_sent: now,
            ..Self::default()
        }
    }

    /// Lets time pass in which the floor drew what it did, and looks at what it draws now.
    pub fn pass(&mut self, now: Time, amperes: &Amperes) {
        let s = now.s_since(self.at);
        self.at = now;
        let draws = amperes.feeds.iter().chain(&amperes.supplies);
        for (account, &draw_a) in self.accounts.iter_mut().zip(draws) {
            let Some(account) = account else { continue };
            let full_as = account.full_as();
            account.left_as += (account.limit_a - account.draw_a) * s;
            account.left_as = account.left_as.min(full_as);
            account.draw_a = draw_a;
            account.least = account.least.min(account.left_as / full_as);
            assert!(
                account.left_as >= -1e-9,
                "{} overdraws its account of {full_as} by {} at {now:?}",
                account.name,
                account.left_as
            );
            self.spent = self.spent.max(1.0 - account.least);
            self.above_a = self.above_a.max(draw_a / account.limit_a);
        }
    }
}

impl World {
    /// Looks at all that left since the last call, frame by frame.
    pub fn assert_rises(&mut self) {
        let mut windows = std::mem::take(&mut self.windows);
        let idle = self.truth.amperes_held(|_, _| None);
        let idle: Vec<f64> = idle.feeds.into_iter().chain(idle.supplies).collect();
        if windows.rises.iter().any(Option::is_some) {
            for sent in &self.sent[windows.seen..] {
                let s = sent.at.s_since(windows.last_sent);
                windows.last_sent = sent.at;
                let mut slots = [0; 512];
                slots[..sent.slots.len()].copy_from_slice(&sent.slots);
                windows.newest.insert((sent.to, sent.port_address), slots);
                let now = self.truth.amperes_held(|node, address| {
                    let node = self.floor.nodes.get(node?)?;
                    windows.newest.get(&(node.address, address))
                });
                let draws = now.feeds.into_iter().chain(now.supplies).zip(&idle);
                for (rise, (draw_a, idle_a)) in windows.rises.iter_mut().zip(draws) {
                    let Some(rise) = rise else { continue };
                    let step_a = rise.slew_a_per_s * 0.1;
                    let draw_a = draw_a - idle_a;
                    rise.ceiling_a += rise.slew_a_per_s * s;
                    assert!(
                        draw_a <= rise.ceiling_a + 1e-9,
                        "{} rises to {draw_a} of {} at {:?}",
                        rise.name,
                        rise.ceiling_a,
                        sent.at
                    );
                    if rise.begun {
                        let left_a = rise.ceiling_a - draw_a;
                        windows.risen = windows.risen.max(1.0 - left_a / step_a);
                    }
                    rise.begun |= draw_a > 0.0;
                    rise.ceiling_a = rise.ceiling_a.min(draw_a + step_a);
                }
            }
        }
        windows.seen = self.sent.len();
        self.windows = windows;
    }
}
