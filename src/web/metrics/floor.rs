//! What is told of the floor: nodes, loads, faults.

use std::fmt;

use prometheus_client::registry::Unit;

use super::families::{Families, Labels, Value};
use super::{Page, count};
use crate::engine::snapshot::{LoadState, Severity};
use crate::health::snapshot::{PanelHealth, SegmentCondition, Sureness};

/// One of the figures of a load.
type Amperes = fn(&LoadState) -> f64;

impl Page {
    pub(super) fn nodes(&self, to: &mut Families<'_>) -> fmt::Result {
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

    pub(super) fn loads(&self, to: &mut Families<'_>) -> fmt::Result {
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

    pub(super) fn faults(&self, to: &mut Families<'_>) -> fmt::Result {
        let worst = |panel: &PanelHealth| {
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

fn labels<'s>(kind: &'s str, load: &'s LoadState) -> Labels<'s, 2> {
    [("kind", Value(kind)), ("name", Value(&load.name))]
}
