//! The task that takes every state, and never waits for a disk.

use std::io;
use std::sync::Arc;
use std::sync::mpsc::{SyncSender, TrySendError, sync_channel};
use std::thread::JoinHandle;

use tokio::sync::watch;

use super::clock;
use super::reader::Reader;
use super::writer::{Common, Message, Place, Writer};
use crate::engine::snapshot::{LoadState, State};
use crate::power::record::{Element, Kind, ROUNDING, Reading, Readings};
use crate::power::tally::{Energy, Tally};

/// Steps that may wait for the writer: some minute of them.
const MOST_STEPS: usize = 300;

/// What is said when nothing can be written any more.
const ENDED: &str = "the thread that writes has ended: start litfloor anew";

/// Elements that are recorded; of more only the totals are kept.
const MOST_ELEMENTS: usize = 1_000;

/// Records the history from when it is made until it is dropped.
#[derive(Debug)]
pub struct Recorder {
    common: Arc<Common>,
    sender: SyncSender<Message>,
    thread: JoinHandle<()>,
}

impl Recorder {
    /// Starts the thread that writes.
    ///
    /// # Errors
    /// When there is no thread or no memory for it.
    pub fn start(place: Place) -> io::Result<Self> {
        let common = Arc::new(Common::new(place).map_err(io::Error::other)?);
        let (sender, messages) = sync_channel(MOST_STEPS);
        let writer = Writer::new(Arc::clone(&common));
        let thread = std::thread::Builder::new()
            .name("history".into())
            .spawn(move || writer.run(&messages))?;
        Ok(Self {
            common,
            sender,
            thread,
        })
    }

    /// What answers questions.
    pub fn archive(&self) -> Reader {
        Reader::new(Arc::clone(&self.common), self.sender.clone())
    }

    /// Takes every state until there are no more, and tells the totals once a second.
    pub fn record(
        &self,
        mut states: watch::Receiver<Arc<State>>,
        energy: watch::Sender<Arc<Energy>>,
    ) -> impl Future<Output = ()> + Send + 'static {
        let sender = self.sender.clone();
        let common = Arc::clone(&self.common);
        async move {
            let mut sampler = Sampler::default();
            let mut tally = Tally::default();
            let mut told_s = f64::NEG_INFINITY;
            while states.changed().await.is_ok() {
                let state = Arc::clone(&states.borrow_and_update());
                let unix_ms = clock::unix_ms();
                if let Some(mut step) = tally.take(sampler.sample(&state)) {
                    step.sums.truncate(MOST_ELEMENTS);
                    let rows = u64::try_from(step.sums.len()).unwrap_or(0);
                    if let Err(unsent) = sender.try_send(Message::Step { unix_ms, step }) {
                        let mut recording = common.recording();
                        recording.lost_rows += rows;
                        if let TrySendError::Disconnected(_) = unsent {
                            recording.trouble = Some(ENDED.to_owned());
                        }
                    }
                }
                if state.uptime_s - told_s >= 1.0 {
                    told_s = state.uptime_s;
                    #[expect(clippy::cast_possible_truncation, reason = "an uptime")]
                    let since = unix_ms / 1_000 - state.uptime_s as i64;
                    energy.send_replace(Arc::new(Energy {
                        since,
                        until_s: state.uptime_s,
                        rows: tally.rows(),
                    }));
                }
            }
        }
    }

    /// Ends the thread: waits until all is written. An archive can still be read.
    pub fn end(self) {
        let told = self.sender.send(Message::End);
        if told.is_err() || self.thread.join().is_err() {
            tracing::error!("the thread that writes the history had ended by a fault");
        }
    }
}

/// Makes readings of states.
#[derive(Debug, Default)]
struct Sampler {
    elements: Arc<[Element]>,
}

impl Sampler {
    fn sample(&mut self, state: &State) -> Readings {
        let names = || {
            loads(state)
                .flat_map(|(kind, loads)| loads.iter().map(move |load| (kind, load.name.as_str())))
        };
        let known = self.elements.iter().skip(1);
        let same = !self.elements.is_empty()
            && known
                .map(|element| (element.kind, element.name.as_str()))
                .eq(names());
        if !same {
            let named = names().map(|(kind, name)| Element {
                kind,
                name: name.to_owned(),
            });
            self.elements = std::iter::once(Element::default()).chain(named).collect();
        }
        let own = loads(state).flat_map(|(_, loads)| loads.iter().map(of_load));
        Readings {
            at_s: state.uptime_s,
            elements: Arc::clone(&self.elements),
            readings: std::iter::once(of_floor(state)).chain(own).collect(),
        }
    }
}

fn loads(state: &State) -> impl Iterator<Item = (Kind, &Vec<LoadState>)> {
    [
        (Kind::Circuit, &state.circuits),
        (Kind::Supply, &state.supplies),
        (Kind::Feed, &state.feeds),
    ]
    .into_iter()
}

fn of_load(load: &LoadState) -> Reading {
    Reading {
        asked_a: load.asked_a,
        draw_a: load.draw_a,
        limit_a: Some(load.limit_a),
        over_other: false,
        scale: load.scale,
        mains_w: load.mains_w,
    }
}

/// The sum of all circuits; its factor is the least of all and of its own. Its limit is in
/// volt-amperes, so it is none of these amperes; that it is passed counts all the same.
fn of_floor(state: &State) -> Reading {
    let sum = |value: fn(&LoadState) -> f64| state.circuits.iter().map(value).sum();
    let scales = loads(state).flat_map(|(_, loads)| loads.iter().map(|load| load.scale));
    let own = &state.floor;
    Reading {
        asked_a: sum(|load| load.asked_a),
        draw_a: sum(|load| load.draw_a),
        limit_a: None,
        over_other: own
            .limit_va
            .is_some_and(|limit_va| own.asked_va > limit_va * ROUNDING),
        scale: scales.fold(own.scale.min(1.0), f64::min),
        mains_w: sum(|load| load.mains_w),
    }
}

#[cfg(test)]
mod tests;
