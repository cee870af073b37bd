//! One sensor: what it says, what it should say, and whether it can be believed.

use std::collections::VecDeque;

use super::Fit;
use crate::units::Time;

/// What is behind a reading by more than its own period: radio, broker, averaging.
const LAG_MS: u64 = 1_000;

/// Measured and computed must be apart for so long before anyone is told.
const APART_AFTER_S: f64 = 3.0;

/// And together for so long before that ends.
const TOGETHER_FOR_S: f64 = 10.0;

/// Three readings that never came are a sensor that is silent, and 3 s at least.
const SILENT_AFTER: f64 = 3.0;

/// So many readings alike, over so long at least, while the computed current moved.
const FROZEN_READINGS: u32 = 3;
const FROZEN_AFTER_S: f64 = 3.0;

/// Noise of any sensor: this share of the most that its place can draw, and so much at least.
const NOISE_SHARE: f64 = 0.01;
const LEAST_NOISE: f64 = 0.02;

/// Below this share of the limit an excess counts as something that draws beside the pixels, above
/// it as pixels that draw more.
const LITTLE: f64 = 0.1;

/// What is known of a sensor from the floor file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spec {
    /// The most that its place can draw, or its nominal volts.
    pub most: f64,
    /// How far measured and computed may be apart, as a share.
    pub tolerance: f64,
    /// How often it reports, in seconds.
    pub every_s: f64,
}

impl Spec {
    /// What it may waver by, in its own unit.
    pub fn noise(&self) -> f64 {
        (self.most * NOISE_SHARE).max(LEAST_NOISE)
    }

    /// Silence after which it counts as silent, in seconds.
    pub fn silent_after_s(&self) -> f64 {
        (self.every_s * SILENT_AFTER).max(SILENT_AFTER)
    }
}

/// On which side of the computed value the measured one lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// More is measured.
    Above,
    /// Less is measured.
    Below,
}

/// Whether a sensor can be believed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// It has not said anything yet.
    Waiting,
    /// It says about what it should.
    Good,
    /// It has fallen silent.
    Silent,
    /// It says the very same while what it measures moved.
    Frozen,
    /// It says what can't be.
    Absurd,
    /// It says something else than is computed, and has for some seconds.
    Apart(Side),
}

/// A reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// In amperes or volts.
    pub value: f64,
    /// When it came.
    pub at: Time,
}

/// The least and the most that a sensor should have said within the time that a reading covers.
#[derive(Debug, Clone, Copy)]
struct Range {
    low: f64,
    high: f64,
}

/// Readings that are the very same.
#[derive(Debug, Clone, Copy)]
struct Alike {
    value: f64,
    since: Time,
    count: u32,
    /// The highest of the low ends, and the lowest of the high ends.
    highest_low: f64,
    lowest_high: f64,
}

/// Readings while the least was lit that ever was, from one to the next.
#[derive(Debug, Clone, Copy)]
struct Dark {
    computed: f64,
    pairs: u32,
    differ: u32,
}

/// One sensor.
#[derive(Debug, Clone)]
pub struct Watch {
    spec: Spec,
    since: Time,
    expected: VecDeque<(Time, f64)>,
    last: Option<Seen>,
    absurd: bool,
    alike: Option<Alike>,
    frozen: bool,
    dark: Option<Dark>,
    /// Since when readings have been apart, and to which side.
    parting: Option<(Time, Side)>,
    apart: Option<Side>,
    /// What was expected when it was found apart.
    parted_at: f64,
    together_since: Option<Time>,
    /// What may be expected at most, where more was measured.
    strict: Option<f64>,
}

impl Watch {
    /// A sensor that has not said anything yet.
    pub const fn new(spec: Spec, now: Time) -> Self {
        Self {
            spec,
            since: now,
            expected: VecDeque::new(),
            last: None,
            absurd: false,
            alike: None,
            frozen: false,
            dark: None,
            parting: None,
            apart: None,
            parted_at: 0.0,
            together_since: None,
            strict: None,
        }
    }

    /// What is known of it.
    pub const fn spec(&self) -> &Spec {
        &self.spec
    }

    /// It should say this now. Call it a few times in the time that one reading covers.
    pub fn expect(&mut self, now: Time, value: f64) {
        let covers_s = self.spec.every_s * 1e3;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a period of the floor file, a minute at most"
        )]
        let covers_us = (covers_s.clamp(0.0, 60_000.0) as u64 + LAG_MS) * 1_000;
        // One that is older than the window still says what held when it began.
        let old = |at: &(Time, f64)| now.us_since(at.0) > covers_us;
        while self.expected.get(1).is_some_and(old) {
            self.expected.pop_front();
        }
        self.expected.push_back((now, value));
    }

    /// It says this, in amperes or volts. `limit` is that of its place, if it measures current.
    pub fn read(&mut self, now: Time, value: f64, limit: Option<f64>) {
        let noise = self.spec.noise();
        let before = self.last.replace(Seen { value, at: now });
        self.look_at_dark(before, value);
        let sound = value.is_finite() && value > -2.0 * noise;
        self.absurd = !(sound && value <= 2.0 * self.spec.most + noise);
        let (false, Some(range)) = (self.absurd, self.range()) else {
            (self.alike, self.frozen) = (None, false);
            (self.parting, self.together_since) = (None, None);
            return;
        };
        self.look_for_frost(now, value, range);
        if self.frozen {
            (self.parting, self.together_since) = (None, None);
        } else {
            self.compare(now, value, range, limit);
        }
    }

    fn range(&self) -> Option<Range> {
        let values = self.expected.iter().map(|(_, value)| *value);
        values.fold(None, |range: Option<Range>, value| {
            let range = range.unwrap_or(Range {
                low: value,
                high: value,
            });
            Some(Range {
                low: range.low.min(value),
                high: range.high.max(value),
            })
        })
    }

    fn look_at_dark(&mut self, before: Option<Seen>, value: f64) {
        let (Some(before), Some(range)) = (before, self.range()) else {
            return;
        };
        let same = |a: f64, b: f64| (a - b).abs() < 1e-9;
        let lower = |dark: &Dark| range.high < dark.computed && !same(range.high, dark.computed);
        if self.dark.as_ref().is_none_or(lower) {
            self.dark = Some(Dark {
                computed: range.high,
                pairs: 0,
                differ: 0,
            });
        }
        if let Some(dark) = &mut self.dark
            && same(range.low, range.high)
            && same(range.high, dark.computed)
        {
            dark.pairs = dark.pairs.saturating_add(1);
            dark.differ += u32::from(before.value.to_bits() != value.to_bits());
        }
    }

    /// Which share of its readings differed from the one before while the least was lit that ever was:
    /// one that wavers there does not stand still by itself.
    pub fn wavers(&self) -> f64 {
        self.dark.map_or(0.0, |dark| {
            f64::from(dark.differ) / f64::from(dark.pairs.max(1))
        })
    }

    fn look_for_frost(&mut self, now: Time, value: f64, range: Range) {
        let same = |before: &Alike| before.value.to_bits() == value.to_bits();
        let same = self.alike.filter(same);
        let alike = same.map_or(
            Alike {
                value,
                since: now,
                count: 1,
                highest_low: range.low,
                lowest_high: range.high,
            },
            |before| Alike {
                count: before.count.saturating_add(1),
                highest_low: before.highest_low.max(range.low),
                lowest_high: before.lowest_high.min(range.high),
                ..before
            },
        );
        let moved = alike.highest_low - alike.lowest_high;
        let much = self.spec.tolerance * alike.highest_low + self.spec.noise();
        self.frozen = alike.count >= FROZEN_READINGS
            && now.s_since(alike.since) >= FROZEN_AFTER_S
            && moved > much;
        self.alike = Some(alike);
    }

    fn compare(&mut self, now: Time, value: f64, range: Range, limit: Option<f64>) {
        let Spec { tolerance, .. } = self.spec;
        let noise = self.spec.noise();
        let side = if value > range.high * (1.0 + tolerance) + noise {
            Some(Side::Above)
        } else if value < range.low * (1.0 - tolerance) - noise {
            Some(Side::Below)
        } else {
            None
        };
        let Some(side) = side else {
            self.parting = None;
            // That both are next to nothing says little of what they are in full light.
            if range.low < 0.5 * self.parted_at {
                return;
            }
            let since = *self.together_since.get_or_insert(now);
            if now.s_since(since) >= TOGETHER_FOR_S {
                (self.apart, self.strict, self.parted_at) = (None, None, 0.0);
            }
            return;
        };
        self.together_since = None;
        let since = self.parting.filter(|(_, before)| *before == side);
        let (since, _) = *self.parting.insert(since.unwrap_or((now, side)));
        if now.s_since(since) < APART_AFTER_S {
            return;
        }
        self.apart = Some(side);
        self.parted_at = range.low;
        if let (Side::Above, Some(limit)) = (side, limit) {
            let most = if range.high < LITTLE * limit {
                limit - (value - range.high)
            } else {
                limit * range.high / value
            };
            let most = most.max(0.0);
            self.strict = Some(self.strict.map_or(most, |before| before.min(most)));
        }
    }

    /// Whether it can be believed.
    pub fn verdict(&self, now: Time) -> Verdict {
        let silent = |since: Time| now.s_since(since) > self.spec.silent_after_s();
        match self.last {
            None if silent(self.since) => Verdict::Silent,
            None => Verdict::Waiting,
            Some(last) if silent(last.at) => Verdict::Silent,
            Some(_) if self.absurd => Verdict::Absurd,
            Some(_) if self.frozen => Verdict::Frozen,
            Some(_) => self.apart.map_or(Verdict::Good, Verdict::Apart),
        }
    }

    /// Its last reading.
    pub const fn last(&self) -> Option<Seen> {
        self.last
    }

    /// Whether it makes its place stricter now than its calibration does.
    pub const fn is_strict(&self) -> bool {
        self.strict.is_some()
    }

    /// What its place may be computed to draw, in amperes, if that is less than `limit_a`; `idle_a`
    /// is what is computed with all dark.
    pub fn live_limit(&self, fit: Option<&Fit>, limit_a: f64, idle_a: f64) -> Option<f64> {
        let allowed_a = self.strict.map_or(limit_a, |strict| strict.min(limit_a));
        let live_a = fit.map_or(allowed_a, |fit| fit.computed_limit_a(allowed_a, idle_a));
        (live_a < limit_a).then(|| live_a.max(0.0))
    }

    /// The same sensor on another floor that takes over: it goes on by what that one says of it.
    #[must_use]
    pub fn after(&self, before: &Self) -> Self {
        Self {
            spec: self.spec,
            ..before.clone()
        }
    }

    /// It was calibrated anew: what it was apart by before counts no more.
    pub fn calibrated(&mut self) {
        self.expected.clear();
        (self.parting, self.apart, self.strict) = (None, None, None);
        (self.parted_at, self.together_since) = (0.0, None);
        (self.alike, self.frozen) = (None, false);
    }
}
