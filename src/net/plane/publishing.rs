//! What people look at, and when it is made: between frames, never before them.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use tokio::sync::{mpsc, watch};

use crate::engine::Engine;
use crate::engine::levels::Shown;
use crate::engine::look::Look;
use crate::engine::report::Draft;
use crate::engine::sending::Sending;
use crate::engine::slots::AllSlots;
use crate::engine::snapshot::State;
use crate::engine::survey::News;
use crate::engine::switches::Presses;
use crate::units::Time;

/// What people look at is made when no datagram has come for so long, lest the next burst of a console
/// waits for it …
const QUIET_US: u64 = 1_000;

/// … but no later than this after its time, however many come.
const LATE_MS: u64 = 100;

/// Time between two published states, and between two published pictures.
const STATE_EVERY_MS: u64 = 200;
const LEVELS_EVERY_MS: u64 = 33;

/// Time between two publications of all slots.
const SLOTS_EVERY_MS: u64 = 100;

/// Time between two publications of what leaves.
const SENDING_EVERY_MS: u64 = 400;

/// Looks that may wait; when more would, their readings wait for the next.
pub const MOST_LOOKS: usize = 40;

/// Where the data plane publishes what people look at.
#[derive(Debug)]
pub struct Published {
    /// Five times a second.
    pub state: watch::Sender<Arc<State>>,
    /// Thirty times a second, while anyone watches.
    pub levels: watch::Sender<Arc<Shown>>,
    /// How many watch the picture.
    pub watchers: Arc<AtomicUsize>,
    /// Up to ten times a second, while anyone looks at slots.
    pub slots: watch::Sender<Arc<AllSlots>>,
    /// How many look at slots.
    pub slot_watchers: Arc<AtomicUsize>,
    /// What leaves, for the voltages: more than twice a second.
    pub sending: watch::Sender<Arc<Sending>>,
    /// What leaves with what sensors say of it, ten times a second where any measures current. The
    /// channel holds [`MOST_LOOKS`].
    pub looks: mpsc::Sender<Look>,
    /// Switches under panels, with every state.
    pub presses: watch::Sender<Arc<Presses>>,
    /// What is new of a survey.
    pub survey: watch::Sender<Option<Arc<News>>>,
}

/// When each is due, and what is kept to make the next.
#[derive(Debug)]
pub(super) struct Publishing {
    to: Published,
    next_state: Time,
    next_levels: Time,
    next_slots: Time,
    next_sending: Time,
    next_look: Time,
    /// Buffers for the next picture.
    shown: Shown,
    /// The state before the last one that was published.
    spare: Option<Arc<State>>,
    /// The state that is being made.
    draft: Option<Draft>,
    /// When a datagram last came.
    heard: Time,
}

impl Publishing {
    /// All is due.
    pub(super) fn new(to: Published, now: Time) -> Self {
        Self {
            to,
            next_state: now,
            next_levels: now,
            next_slots: now,
            next_sending: now,
            next_look: now,
            shown: Shown::default(),
            spare: None,
            draft: None,
            heard: now,
        }
    }

    /// More may follow: what can wait does.
    pub(super) const fn datagrams_came(&mut self, now: Time) {
        self.heard = now;
    }

    /// A state is due now.
    pub(super) const fn state_is_due(&mut self, now: Time) {
        self.next_state = now;
    }

    /// A picture is due now.
    pub(super) const fn picture_is_due(&mut self, now: Time) {
        self.next_levels = now;
    }

    /// When there is something to publish next.
    pub(super) fn next(&self, engine: &Engine) -> Time {
        if self.draft.is_some() {
            return Time::default();
        }
        let if_any =
            |who: &AtomicUsize, due: Time| (who.load(Ordering::Relaxed) > 0).then_some(due);
        let looked_at = [
            Some(self.next_state),
            Some(self.next_sending),
            if_any(&self.to.watchers, self.next_levels),
            if_any(&self.to.slot_watchers, self.next_slots),
        ];
        let look = engine.looks_every_ms().map(|_| self.next_look);
        let due = looked_at.into_iter().flatten();
        due.map(|due| self.quiet_from(due))
            .chain(look)
            .fold(Time(u64::MAX), Time::min)
    }

    /// From when on something that people look at may be made that is due then: it waits for a quiet
    /// moment.
    fn quiet_from(&self, due: Time) -> Time {
        let quiet = self.heard.plus_us(QUIET_US);
        due.max(quiet).min(due.plus_ms(LATE_MS))
    }

    /// Whether it is time for something that people look at.
    fn may(&self, due: Time, now: Time) -> bool {
        now >= self.quiet_from(due)
    }

    /// Publishes what is due.
    pub(super) fn pass(&mut self, engine: &mut Engine, now: Time) {
        if let Some(news) = engine.survey_news() {
            self.to.survey.send_replace(Some(Arc::new(news)));
        }
        if self.draft.is_some() || self.may(self.next_state, now) {
            self.go_on_with_state(engine, now);
        }
        if self.may(self.next_levels, now) && self.to.watchers.load(Ordering::Relaxed) > 0 {
            // On average, for quiet moments come late; what was missed is not made up for.
            let next = self.next_levels.plus_ms(LEVELS_EVERY_MS);
            self.next_levels = if now < next {
                next
            } else {
                now.plus_ms(LEVELS_EVERY_MS)
            };
            self.publish_levels(engine, now);
        }
        if self.may(self.next_sending, now) {
            self.next_sending = now.plus_ms(SENDING_EVERY_MS);
            self.to.sending.send_replace(Arc::new(engine.sending(now)));
        }
        if now >= self.next_look
            && let Some(every_ms) = engine.looks_every_ms()
        {
            self.next_look = now.plus_ms(every_ms);
            // Whoever weighs the show may be slow, or gone.
            if let Ok(place) = self.to.looks.try_reserve() {
                place.send(engine.look(now));
            }
        }
        let look = || self.to.slot_watchers.load(Ordering::Relaxed) > 0;
        if self.may(self.next_slots, now) && look() {
            self.next_slots = now.plus_ms(SLOTS_EVERY_MS);
            self.to.slots.send_replace(Arc::new(engine.slots(now)));
        }
    }

    /// Publishes how it was at the end: what was published before may be as old as `STATE_EVERY_MS`, and the
    /// other litfloor may have gone since.
    pub(super) fn publish_last(&mut self, engine: &Engine, now: Time) {
        self.draft = None;
        self.to.state.send_replace(Arc::new(engine.state(now)));
    }

    /// Makes one more piece of a state, and publishes it when it is done. The state before the last one
    /// is written over, if nobody looks at it any more.
    fn go_on_with_state(&mut self, engine: &Engine, now: Time) {
        let mut draft = self.draft.take().unwrap_or_else(|| {
            self.next_state = now.plus_ms(STATE_EVERY_MS);
            let spare = self.spare.take().and_then(Arc::into_inner);
            engine.draft(spare)
        });
        if !engine.go_on(&mut draft) {
            self.draft = Some(draft);
            return;
        }
        let state = engine.state_of(draft, now);
        let before = self.to.state.send_replace(Arc::new(state));
        self.spare = Some(before);
        self.to.presses.send_replace(Arc::new(engine.presses()));
    }

    /// A copy of slots and no more: what becomes of it is painted and compared elsewhere.
    fn publish_levels(&mut self, engine: &Engine, now: Time) {
        let mut shown = std::mem::take(&mut self.shown);
        engine.shown(now, &mut shown);
        let before = self.to.levels.send_replace(Arc::new(shown));
        // Unless someone still paints it, its buffers serve again.
        self.shown = Arc::into_inner(before).unwrap_or_default();
    }
}
