//! The last ten minutes of computed draw, one row a second.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use serde::Serialize;
use tokio::sync::watch;
use utoipa::ToSchema;

use super::ranges::RangeHistory;
use super::timers;
use crate::engine::snapshot::{LoadState, State};

/// Time between two rows.
const STEP: Duration = Duration::from_secs(1);

/// Rows kept: ten minutes.
const ROWS: usize = 600;

/// Names in the order of the rows' columns.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, ToSchema)]
pub struct Names {
    /// Mains circuits.
    pub circuits: Vec<String>,
    /// Supplies.
    pub supplies: Vec<String>,
    /// Feeds.
    pub feeds: Vec<String>,
}

/// Amperes, rounded to the milliampere: one list for each element, with one value a row.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct Draws {
    /// Mains amperes of each circuit.
    pub circuits: Vec<Vec<f64>>,
    /// Output amperes of each supply.
    pub supplies: Vec<Vec<f64>>,
    /// Output amperes of each feed.
    pub feeds: Vec<Vec<f64>>,
}

/// The last ten minutes.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct History {
    /// Seconds between two rows; a row is missing where the daemon left no new snapshot.
    pub step_s: u32,
    /// Names in the order of the lists below.
    pub names: Names,
    /// Time of every row, in seconds since the daemon started.
    pub uptime_s: Vec<f64>,
    /// Computed draw of the picture as asked.
    pub asked_a: Draws,
    /// Computed draw of the picture as sent.
    pub draw_a: Draws,
}

/// The last ten minutes, or a range of the recorded history.
#[derive(Debug, Serialize, ToSchema)]
#[serde(untagged)]
#[expect(dead_code, reason = "it describes what two handlers answer with")]
pub(super) enum HistoryReply {
    /// Without any parameter.
    Newest(History),
    /// With one.
    Range(RangeHistory),
}

#[derive(Debug, Clone)]
struct Row {
    uptime_s: f64,
    asked: Values,
    draw: Values,
}

/// One value of each element.
#[derive(Debug, Clone)]
struct Values {
    circuits: Vec<f64>,
    supplies: Vec<f64>,
    feeds: Vec<f64>,
}

impl Values {
    fn of(state: &State, value: impl Fn(&LoadState) -> f64) -> Self {
        Self {
            circuits: amps(&state.circuits, &value),
            supplies: amps(&state.supplies, &value),
            feeds: amps(&state.feeds, &value),
        }
    }
}

/// The rows, oldest first.
#[derive(Debug, Clone, Default)]
pub(super) struct Ring {
    names: Names,
    rows: VecDeque<Row>,
}

fn names(loads: &[LoadState]) -> Vec<String> {
    loads.iter().map(|load| load.name.clone()).collect()
}

fn amps(loads: &[LoadState], value: impl Fn(&LoadState) -> f64) -> Vec<f64> {
    loads
        .iter()
        .map(|load| (value(load) * 1e3).round() / 1e3)
        .collect()
}

/// One list for each of `count` elements from one list a row.
fn columns(count: usize, rows: &VecDeque<Row>, of: impl Fn(&Row) -> &[f64]) -> Vec<Vec<f64>> {
    let column = |element: usize| rows.iter().map(|row| of(row)[element]).collect();
    (0..count).map(column).collect()
}

impl Ring {
    /// Adds a row; another floor starts afresh.
    pub(super) fn push(&mut self, state: &State) {
        let names = Names {
            circuits: names(&state.circuits),
            supplies: names(&state.supplies),
            feeds: names(&state.feeds),
        };
        if names != self.names {
            self.rows.clear();
            self.names = names;
        }
        if self.rows.len() == ROWS {
            self.rows.pop_front();
        }
        self.rows.push_back(Row {
            uptime_s: (state.uptime_s * 1e3).round() / 1e3,
            asked: Values::of(state, |load| load.asked_a),
            draw: Values::of(state, |load| load.draw_a),
        });
    }

    /// As the API shows it.
    pub(super) fn history(&self) -> History {
        let (names, rows) = (&self.names, &self.rows);
        let draws = |values: fn(&Row) -> &Values| Draws {
            circuits: columns(names.circuits.len(), rows, |row| &values(row).circuits),
            supplies: columns(names.supplies.len(), rows, |row| &values(row).supplies),
            feeds: columns(names.feeds.len(), rows, |row| &values(row).feeds),
        };
        History {
            step_s: 1,
            names: names.clone(),
            uptime_s: rows.iter().map(|row| row.uptime_s).collect(),
            asked_a: draws(|row| &row.asked),
            draw_a: draws(|row| &row.draw),
        }
    }
}

/// Adds a row a second until the data plane ends. A snapshot that was seen makes no second row.
pub(super) async fn sample(mut state: watch::Receiver<Arc<State>>, ring: &Mutex<Ring>) {
    let mut ticks = timers::every(STEP);
    loop {
        ticks.tick().await;
        match state.has_changed() {
            Ok(true) => {
                let newest = Arc::clone(&state.borrow_and_update());
                ring.lock()
                    .unwrap_or_else(PoisonError::into_inner)
                    .push(&newest);
            }
            Ok(false) => {}
            Err(_) => return,
        }
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::super::testing::{Bench, ask, state};
    use super::*;

    #[test]
    fn keeps_ten_minutes_column_by_column() {
        let mut ring = Ring::default();
        for second in 0..700_u16 {
            ring.push(&state(f64::from(second), f64::from(second) / 10.0));
        }
        let history = ring.history();
        assert_eq!(history.uptime_s.len(), 600);
        assert_eq!((history.uptime_s[0], history.uptime_s[599]), (100.0, 699.0));
        assert_eq!(history.draw_a.circuits.len(), 1);
        assert!((history.draw_a.feeds[1][599] - 69.9).abs() < 1e-9);
        // Another floor: what was before belongs to other names.
        let mut other = State::clone(&state(700.0, 1.0));
        other.feeds[0].name = "other".into();
        ring.push(&other);
        assert_eq!(ring.history().uptime_s, [700.0]);
    }

    #[tokio::test(start_paused = true)]
    async fn samples_once_a_second_and_shows_it() {
        let bench = Bench::new();
        let mut seconds = timers::every(Duration::from_secs(1));
        let mut rows = json!(null);
        // Snapshots come faster than rows, and none comes in the third second.
        for second in 0..4_u8 {
            if second != 2 {
                for part in 0..5_u8 {
                    let uptime_s = f64::from(second) + f64::from(part) / 5.0;
                    bench.state.send_replace(state(uptime_s, 1.234_56));
                }
            }
            seconds.tick().await;
            tokio::task::yield_now().await;
            rows = ask(&bench.router, "/api/v1/history", &[]).await.json();
        }
        assert_eq!(
            rows,
            json!({
                "step_s": 1,
                "names": {"circuits": ["mains"], "supplies": ["S1"], "feeds": ["F1", "F2"]},
                "uptime_s": [0.8, 1.8, 3.8],
                "asked_a": {
                    "circuits": [[2.469, 2.469, 2.469]],
                    "supplies": [[2.469, 2.469, 2.469]],
                    "feeds": [[2.469, 2.469, 2.469], [2.469, 2.469, 2.469]],
                },
                "draw_a": {
                    "circuits": [[1.235, 1.235, 1.235]],
                    "supplies": [[1.235, 1.235, 1.235]],
                    "feeds": [[1.235, 1.235, 1.235], [1.235, 1.235, 1.235]],
                },
            })
        );
    }
}
