//! `/metrics`: counts and gauges for whoever keeps them, in `OpenMetrics` text.
//!
//! The page is made anew for each who asks, from the snapshots that all others are made from, so that no
//! figure here can differ from that of the API.

use std::fmt::{self, Write as _};
use std::sync::Arc;

use axum::extract::State as Extract;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use prometheus_client::collector::Collector;
use prometheus_client::encoding::{
    DescriptorEncoder, EncodeGaugeValue, EncodeLabelValue, LabelValueEncoder, NoLabelSet, text,
};
use prometheus_client::metrics::MetricType;
use prometheus_client::registry::{Registry, Unit};

use super::Shared;
use super::health::Health as Alive;
use super::problem::{Problem, unwritten};
use crate::engine::snapshot::{Dropped, LoadState, Severity, SignalState, State};
use crate::health::snapshot::{Health, SegmentCondition, Sureness};

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
}

/// The value of a label. The library writes values as they are, so what the format wants escaped
/// ("escaped-string" of `OpenMetrics` 1.0.0) is escaped here: names come from the floor file.
#[derive(Debug, Clone, Copy)]
struct Value<'a>(&'a str);

impl EncodeLabelValue for Value<'_> {
    fn encode(&self, encoder: &mut LabelValueEncoder<'_>) -> fmt::Result {
        for character in self.0.chars() {
            match character {
                '\\' => encoder.write_str("\\\\")?,
                '"' => encoder.write_str("\\\"")?,
                '\n' => encoder.write_str("\\n")?,
                other => encoder.write_char(other)?,
            }
        }
        Ok(())
    }
}

/// Labels of one row.
type Labels<'a, const N: usize> = [(&'static str, Value<'a>); N];

/// One of the figures of a load.
type Amperes = fn(&LoadState) -> f64;

/// What is written, family by family.
struct Families<'e>(DescriptorEncoder<'e>);

impl Families<'_> {
    fn gauges<'v, G: EncodeGaugeValue, const N: usize>(
        &mut self,
        name: &str,
        help: &str,
        unit: Option<&Unit>,
        rows: impl IntoIterator<Item = (Labels<'v, N>, G)>,
    ) -> fmt::Result {
        let encoder = &mut self.0;
        let mut metric = encoder.encode_descriptor(name, help, unit, MetricType::Gauge)?;
        for (labels, value) in rows {
            // Without labels there are no braces either.
            if N == 0 {
                metric.encode_gauge(&value)?;
            } else {
                metric.encode_family(&labels)?.encode_gauge(&value)?;
            }
        }
        Ok(())
    }

    fn counters<'v, const N: usize>(
        &mut self,
        name: &str,
        help: &str,
        rows: impl IntoIterator<Item = (Labels<'v, N>, u64)>,
    ) -> fmt::Result {
        let encoder = &mut self.0;
        let mut metric = encoder.encode_descriptor(name, help, None, MetricType::Counter)?;
        for (labels, value) in rows {
            if N == 0 {
                metric.encode_counter::<NoLabelSet, _, u64>(&value, None)?;
            } else {
                let mut row = metric.encode_family(&labels)?;
                row.encode_counter::<NoLabelSet, _, u64>(&value, None)?;
            }
        }
        Ok(())
    }

    /// A gauge that has one value, or none now.
    fn gauge<G: EncodeGaugeValue>(
        &mut self,
        name: &str,
        help: &str,
        unit: Option<&Unit>,
        value: Option<G>,
    ) -> fmt::Result {
        self.gauges::<G, 0>(name, help, unit, value.map(|value| ([], value)))
    }
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
        to.gauge(
            "browsers",
            "Live connections that are open.",
            None,
            Some(count(self.browsers)),
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

    fn nodes(&self, to: &mut Families<'_>) -> fmt::Result {
        let nodes = &self.state.nodes;
        let online = nodes.iter().filter(|node| node.online).count();
        let counts = [
            ([("state", Value("offline"))], count(nodes.len() - online)),
            ([("state", Value("online"))], count(online)),
        ];
        to.gauges(
            "nodes",
            "Nodes of the floor file, by whether they answer polls.",
            None,
            counts,
        )?;
        let name = |name| [("node", Value(name))];
        let up = nodes
            .iter()
            .map(|node| (name(node.name.as_str()), i64::from(node.online)));
        to.gauges("node_online", "1 while the node answers polls.", None, up)?;
        let sent = nodes
            .iter()
            .map(|node| (name(node.name.as_str()), node.frames_out));
        to.counters("node_frames", "Frames that were sent to the node.", sent)?;
        let refused = nodes
            .iter()
            .map(|node| (name(node.name.as_str()), node.send_errors));
        to.counters(
            "node_refused_frames",
            "Frames to the node that the system refused to send.",
            refused,
        )
    }

    fn loads(&self, to: &mut Families<'_>) -> fmt::Result {
        let amperes: [(&str, &str, Amperes); 4] = [
            (
                "load_asked",
                "Computed draw of the picture as asked.",
                |load| load.asked_a,
            ),
            (
                "load_draw",
                "Computed draw of the picture as sent.",
                |load| load.draw_a,
            ),
            (
                "load_reserved",
                "The most that nodes may be drawing now if datagrams were lost or are late.",
                |load| load.reserved_a,
            ),
            ("load_limit", "What must not be passed.", |load| {
                load.limit_a
            }),
        ];
        for (name, help, value) in amperes {
            let rows = self.elements().map(|(labels, load)| (labels, value(load)));
            to.gauges(name, help, Some(&Unit::Amperes), rows)?;
        }
        let scales = self.elements().map(|(labels, load)| (labels, load.scale));
        let ratio = Unit::Other("ratio".to_owned());
        to.gauges(
            "load_scale",
            "The factor at this level, 1 when it is not over.",
            Some(&ratio),
            scales,
        )?;
        let floor = &self.state.floor;
        let unit = Unit::Other("volt_amperes".to_owned());
        let unit = Some(&unit);
        to.gauge(
            "floor_asked",
            "What the picture as asked takes from the mains, computed.",
            unit,
            Some(floor.asked_va),
        )?;
        to.gauge(
            "floor_draw",
            "What the picture as sent takes from the mains, computed.",
            unit,
            Some(floor.draw_va),
        )?;
        to.gauge(
            "floor_limit",
            "What the floor must not pass. Absent if there is no limit.",
            unit,
            floor.limit_va,
        )?;
        to.gauge(
            "floor_scale",
            "The factor for the whole floor, 1 when it is not over.",
            Some(&ratio),
            Some(floor.scale),
        )
    }

    /// Circuits, supplies and feeds with their labels.
    fn elements(&self) -> impl Iterator<Item = (Labels<'_, 2>, &LoadState)> {
        let state = &self.state;
        let kinds = [
            ("circuit", &state.circuits),
            ("supply", &state.supplies),
            ("feed", &state.feeds),
        ];
        kinds.into_iter().flat_map(|(kind, loads)| {
            let row = move |load| (labels(kind, load), load);
            loads.iter().map(row)
        })
    }

    fn faults(&self, to: &mut Families<'_>) -> fmt::Result {
        let worst = |panel: &crate::health::snapshot::PanelHealth| {
            let conditions = panel.segments.iter().map(|segment| segment.condition);
            conditions
                .max_by_key(|condition| condition.badness())
                .unwrap_or_default()
        };
        let conditions = [
            ("unknown", SegmentCondition::Unknown),
            ("good", SegmentCondition::Good),
            ("weak", SegmentCondition::Weak),
            ("stuck", SegmentCondition::Stuck),
            ("dead", SegmentCondition::Dead),
        ];
        let panels = conditions.map(|(name, condition)| {
            let so = self
                .health
                .panels
                .iter()
                .filter(|panel| worst(panel) == condition);
            ([("condition", Value(name))], count(so.count()))
        });
        to.gauges(
            "panels",
            "Panels, by the worst that is known of their segments.",
            None,
            panels,
        )?;
        let sures = [
            ("certain", Sureness::Certain),
            ("likely", Sureness::Likely),
            ("possible", Sureness::Possible),
        ];
        let faults = sures.map(|(name, sure)| {
            let so = self.health.faults.iter().filter(|fault| fault.sure == sure);
            ([("sure", Value(name))], count(so.count()))
        });
        to.gauges(
            "faults",
            "Faults that are known, by how sure they are.",
            None,
            faults,
        )?;
        let severities = [
            ("danger", Severity::Danger),
            ("warning", Severity::Warning),
            ("info", Severity::Info),
        ];
        let notices = severities.map(|(name, severity)| {
            let so = self
                .state
                .notices
                .iter()
                .filter(|notice| notice.severity == severity);
            ([("severity", Value(name))], count(so.count()))
        });
        to.gauges(
            "notices",
            "What someone should know now, by how bad it is.",
            None,
            notices,
        )?;
        let alarms = severities.map(|(name, severity)| {
            let so = self
                .state
                .alarms
                .iter()
                .filter(|alarm| alarm.severity == severity);
            ([("severity", Value(name))], count(so.count()))
        });
        to.gauges(
            "alarms",
            "Alarms that are raised, by how bad they are.",
            None,
            alarms,
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
        self.faults(&mut families)
    }
}

fn labels<'s>(kind: &'s str, load: &'s LoadState) -> Labels<'s, 2> {
    [("kind", Value(kind)), ("name", Value(&load.name))]
}

fn count(of: usize) -> i64 {
    i64::try_from(of).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests {
    use axum::http::StatusCode;

    use super::super::testing::{Bench, ask, full_state};
    use super::*;

    async fn page(bench: &Bench) -> String {
        let answer = ask(&bench.router, "/metrics", &[]).await;
        assert_eq!(answer.status, StatusCode::OK);
        assert_eq!(answer.headers["content-type"], TYPE);
        String::from_utf8(answer.body.to_vec()).unwrap()
    }

    fn has(page: &str, line: &str) {
        let found = page.lines().filter(|found| *found == line).count();
        assert_eq!(found, 1, "{line} in\n{page}");
    }

    #[tokio::test(start_paused = true)]
    async fn figures_are_those_of_the_state() {
        let bench = Bench::new();
        let mut state = State::clone(&full_state());
        state.feeds[0].name = "left \"A\" \\ 2".to_owned();
        state.feeds[0].limit_a = 7.25;
        bench.state.send_replace(Arc::new(state));
        bench.dropped.send_replace(Some(Dropped {
            count: 17,
            last_s: Some(3.5),
        }));
        let _browser = bench.open(None).await.unwrap();
        let mut alive = bench.shared.health.clone();
        let fresh = alive.wait_for(|alive| *alive == Alive::Fresh).await;
        drop(fresh.unwrap());
        let page = page(&bench).await;
        for line in [
            "litfloor_uptime_seconds 12.5",
            "litfloor_data_plane_alive 1",
            "litfloor_floor_revision 1",
            "litfloor_browsers 1",
            "litfloor_datagrams_total{outcome=\"taken\"} 7",
            "litfloor_kernel_dropped_datagrams_total 17",
            "litfloor_kernel_dropped_last_uptime_seconds 3.5",
            "litfloor_signal{state=\"partial\"} 1",
            "litfloor_signal{state=\"live\"} 0",
            "litfloor_nodes{state=\"online\"} 1",
            "litfloor_nodes{state=\"offline\"} 0",
            "litfloor_node_refused_frames_total{node=\"north\"} 1",
            "litfloor_load_draw_amperes{kind=\"supply\",name=\"S1\"} 3.0",
            // The format's own escapes: a backslash before quote and backslash.
            "litfloor_load_limit_amperes{kind=\"feed\",name=\"left \\\"A\\\" \\\\ 2\"} 7.25",
            "litfloor_floor_limit_volt_amperes 3000.0",
            "litfloor_notices{severity=\"warning\"} 1",
            "litfloor_alarms{severity=\"danger\"} 0",
            "# UNIT litfloor_load_scale_ratio ratio",
            "# TYPE litfloor_datagrams counter",
        ] {
            has(&page, line);
        }
        assert!(page.ends_with("# EOF\n"), "{page}");
    }

    #[tokio::test(start_paused = true)]
    async fn what_is_not_known_is_left_out() {
        let bench = Bench::new();
        let page = page(&bench).await;
        for name in [
            "kernel_dropped_datagrams_total",
            "last_uptime_seconds",
            "floor_limit_volt_amperes",
        ] {
            let rows = page.lines().filter(|line| !line.starts_with('#'));
            assert_eq!(
                rows.filter(|line| line.contains(name)).count(),
                0,
                "{name} in\n{page}"
            );
        }
    }

    #[tokio::test(start_paused = true)]
    async fn faults_and_panels_are_counted_by_their_kind() {
        use crate::health::snapshot::{PanelHealth, SegmentHealth};
        let bench = Bench::new();
        let panel = |conditions: &[SegmentCondition]| PanelHealth {
            segments: conditions
                .iter()
                .map(|&condition| SegmentHealth {
                    condition,
                    ..SegmentHealth::default()
                })
                .collect(),
            ..PanelHealth::default()
        };
        bench.faults.told.send_replace(Arc::new(Health {
            panels: vec![
                panel(&[SegmentCondition::Good, SegmentCondition::Dead]),
                panel(&[SegmentCondition::Good, SegmentCondition::Weak]),
                panel(&[SegmentCondition::Good]),
                panel(&[]),
            ],
            ..Health::default()
        }));
        let page = page(&bench).await;
        for (condition, count) in [
            ("dead", 1),
            ("weak", 1),
            ("good", 1),
            ("unknown", 1),
            ("stuck", 0),
        ] {
            has(
                &page,
                &format!("litfloor_panels{{condition=\"{condition}\"}} {count}"),
            );
        }
        has(&page, "litfloor_faults{sure=\"certain\"} 0");
    }
}
