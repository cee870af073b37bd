//! `/metrics`: counts and gauges for whoever keeps them, in `OpenMetrics` text.
//!
//! The page is made anew for each who asks, from the snapshots that all others are made from, so that no
//! figure here can differ from that of the API.

use std::fmt;
use std::sync::Arc;

use axum::extract::State as Extract;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use prometheus_client::collector::Collector;
use prometheus_client::encoding::{DescriptorEncoder, text};
use prometheus_client::metrics::MetricType;
use prometheus_client::registry::{Registry, Unit};

use super::Shared;
use super::health::Health as Alive;
use super::problem::{Problem, unwritten};
use super::turned;
use crate::engine::snapshot::{Dropped, SignalState, StandbyDuty, State};
use crate::health::snapshot::Health;
use families::{Families, Labels, Value};

mod families;
mod floor;

/// What the text is (`OpenMetrics` 1.0.0, "Overall Structure").
const TYPE: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

/// Counts and gauges in `OpenMetrics` text 1.0.0: datagrams by what became of them, what was thrown away,
/// draw, limit and scale of every circuit, supply and feed, nodes, faults, notices. Amperes are computed.
#[utoipa::path(
    get,
    path = "/metrics",
    tag = "daemon",
    responses(
        (
            status = 200,
            description = "The newest",
            body = String,
            content_type = "application/openmetrics-text; version=1.0.0; charset=utf-8"
        ),
        (status = 500, description = "It could not be written", body = Problem)
    )
)]
pub(super) async fn metrics(Extract(shared): Extract<Shared>) -> Response {
    let page = Page {
        state: Arc::clone(&shared.source.state.borrow()),
        health: Arc::clone(&shared.source.faults.health.borrow()),
        dropped: *shared.source.dropped.borrow(),
        alive: *shared.health.borrow() == Alive::Fresh,
        browsers: shared.seats.count(),
        guests: shared.guest_seats.count(),
        turned: shared.gate.turned().counts(),
    };
    match page.written() {
        Ok(text) => ([(CONTENT_TYPE, TYPE)], text).into_response(),
        Err(error) => unwritten(error),
    }
}

/// All that the page is made of.
#[derive(Debug)]
struct Page {
    state: Arc<State>,
    health: Arc<Health>,
    dropped: Option<Dropped>,
    alive: bool,
    browsers: usize,
    guests: usize,
    turned: turned::Counts,
}

impl Page {
    fn written(self) -> Result<String, fmt::Error> {
        let mut registry = Registry::with_prefix("litfloor");
        registry.register_collector(Box::new(self));
        let mut page = String::new();
        text::encode(&mut page, &registry)?;
        Ok(page)
    }

    fn daemon(&self, to: &mut Families<'_>) -> fmt::Result {
        let version = [("version", Value(env!("CARGO_PKG_VERSION")))];
        to.0.encode_descriptor("build", "What runs.", None, MetricType::Info)?
            .encode_info(&version)?;
        to.gauge(
            "uptime",
            "Time since the start.",
            Some(&Unit::Seconds),
            Some(self.state.uptime_s),
        )?;
        to.gauge(
            "data_plane_alive",
            "1 while the data plane leaves snapshots; what it counts is old when it is 0.",
            None,
            Some(i64::from(self.alive)),
        )?;
        let revision = i64::from(self.state.revision);
        to.gauge(
            "floor_revision",
            "Counts up when the floor file is taken anew.",
            None,
            Some(revision),
        )?;
        let doors = [("all", self.browsers), ("guests", self.guests)];
        to.gauges(
            "browsers",
            "Live connections that are open, by the door they came in by: the one for all, or that for guests.",
            None,
            doors.map(|(door, open)| ([("door", Value(door))], count(open))),
        )
    }

    fn traffic(&self, to: &mut Families<'_>) -> fmt::Result {
        let state = &self.state;
        let outcomes = state
            .datagrams
            .iter()
            .map(|(name, &count)| ([("outcome", Value(name))], count));
        to.counters(
            "datagrams",
            "Datagrams that arrived at the Art-Net port, by what became of them.",
            outcomes,
        )?;
        let none: Labels<'_, 0> = [];
        to.counters(
            "frames_in",
            "ArtDmx packets for mapped universes that were taken.",
            [(none, state.frames_in)],
        )?;
        to.counters(
            "frames_out",
            "Capped frames that were sent to nodes.",
            [(none, state.frames_out)],
        )?;
        let dropped = self.dropped.map(|dropped| (none, dropped.count));
        to.counters(
            "kernel_dropped_datagrams",
            "Datagrams to the Art-Net port that the system threw away. Absent where it does not tell.",
            dropped,
        )?;
        let last = self.dropped.and_then(|dropped| dropped.last_s);
        to.gauge(
            "kernel_dropped_last_uptime",
            "Uptime at which it was last seen that the system threw some away. Absent if it never was.",
            Some(&Unit::Seconds),
            last,
        )?;
        let signals = [
            ("waiting", SignalState::Waiting),
            ("live", SignalState::Live),
            ("partial", SignalState::Partial),
            ("lost", SignalState::Lost),
        ];
        let signals = signals.map(|(name, signal)| {
            let now = i64::from(signal == state.signal);
            ([("state", Value(name))], now)
        });
        to.gauges(
            "signal",
            "1 for the state of the signal as a whole, 0 for the others.",
            None,
            signals,
        )
    }

    fn strangers(&self, to: &mut Families<'_>) -> fmt::Result {
        let turned = &self.turned;
        let reasons = [
            ("connections_refused", turned.connections_refused),
            ("connections_gave_way", turned.connections_gave_way),
            ("too_slow", turned.too_slow),
            ("not_understood", turned.not_understood),
            ("no_encryption", turned.no_encryption),
            ("streams_refused", turned.streams_refused),
            ("streams_gave_way", turned.streams_gave_way),
            ("wrong_passphrases", turned.wrong_passphrases),
        ];
        to.counters(
            "turned_away",
            "Browsers and strangers that were turned away, by why.",
            reasons.map(|(name, count)| ([("reason", Value(name))], count)),
        )
    }

    /// Only where two litfloors stand by for each other.
    fn standby(&self, to: &mut Families<'_>) -> fmt::Result {
        let standby = self.state.standby.as_ref();
        to.gauge(
            "leads",
            "1 while this litfloor sends to the nodes, 0 while it stands by. Absent if it is alone.",
            None,
            standby.map(|standby| i64::from(standby.duty == StandbyDuty::Leads)),
        )?;
        let taken = standby.map(|standby| ([], u64::from(standby.taken)));
        to.counters::<0>(
            "leads_taken",
            "How often it took the lead because the other one was gone. Absent if it is alone.",
            taken,
        )?;
        to.gauge(
            "standby_heard",
            "Time since the other litfloor was heard. Absent if it never was.",
            Some(&Unit::Seconds),
            standby.and_then(|standby| standby.peer_heard_s),
        )
    }
}

impl Collector for Page {
    fn encode(&self, encoder: DescriptorEncoder<'_>) -> fmt::Result {
        let mut families = Families(encoder);
        self.daemon(&mut families)?;
        self.traffic(&mut families)?;
        self.nodes(&mut families)?;
        self.loads(&mut families)?;
        self.faults(&mut families)?;
        self.strangers(&mut families)?;
        self.standby(&mut families)
    }
}

fn count(of: usize) -> i64 {
    i64::try_from(of).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests;
