//! Every panel and segment as all evidence together tells, and the order in which one walks.

use std::collections::HashMap;

use super::Estimator;
use crate::floor::Floor;
use crate::floor::model::Position;
use crate::health::belief::Belief;
use crate::health::snapshot::{FoundFault, PanelHealth, SegmentCondition, SegmentHealth};
use crate::units::Time;

/// By rows from the top, to and fro, so that nobody walks back over the floor; what has no position
/// comes first, for it mostly explains the rest.
pub(super) fn in_walking_order(floor: &Floor, faults: &mut [FoundFault]) {
    let named = floor.panels.iter().map(|panel| panel.position);
    let named: HashMap<String, Position> = if faults.is_empty() {
        HashMap::new()
    } else {
        named
            .map(|position| (position.to_string(), position))
            .collect()
    };
    let place = |fault: &FoundFault| {
        let position = named.get(fault.position.as_deref()?)?;
        let (column, row) = (i32::from(position.column), position.row);
        Some((row, if row % 2 == 0 { column } else { -column }))
    };
    faults.sort_by_cached_key(|fault| (place(fault), fault.segments.first().copied()));
}

/// The faults that touch each position, in their order. Looked up once: a node that is silent has hundreds of
/// panels behind it.
fn touching(faults: &[FoundFault]) -> HashMap<&str, Vec<&FoundFault>> {
    let mut touching: HashMap<&str, Vec<&FoundFault>> = HashMap::new();
    for fault in faults {
        for position in fault.position.iter().chain(&fault.behind) {
            let here = touching.entry(position).or_default();
            // A position may be named twice by one fault.
            if !here.last().is_some_and(|last| std::ptr::eq(*last, fault)) {
                here.push(fault);
            }
        }
    }
    touching
}

impl Estimator {
    pub(super) fn panels(
        &self,
        beliefs: &[Belief],
        faults: &[FoundFault],
        now: Time,
    ) -> Vec<PanelHealth> {
        let touching = touching(faults);
        let panels = self.floor.panels.iter().enumerate();
        let panels = panels.map(|(at, panel)| {
            let position = panel.position.to_string();
            let kind = &self.floor.panel_kinds[panel.kind];
            let touches = touching.get(position.as_str());
            let pressed = self.facts.pressed.iter().filter(|(panel, _)| *panel == at);
            PanelHealth {
                segments: (0..kind.segments.len())
                    .map(|segment| self.segment(at, segment, beliefs, now))
                    .collect(),
                faults: touches
                    .into_iter()
                    .flatten()
                    .map(|fault| fault.key.clone())
                    .collect(),
                pressed: pressed.map(|(_, switch)| *switch).collect(),
                position,
            }
        });
        panels.collect()
    }

    /// A segment with several colours is as its worst colour.
    fn segment(
        &self,
        panel: usize,
        segment: usize,
        beliefs: &[Belief],
        now: Time,
    ) -> SegmentHealth {
        let mut worst = SegmentHealth {
            doubt: 1.0,
            ..SegmentHealth::default()
        };
        let mut colours_out = Vec::new();
        for at in self.joints.of_segment(panel, segment) {
            let belief = beliefs[at];
            if !belief.says_something() {
                continue;
            }
            let (condition, doubt) = belief.likeliest();
            let item = u32::try_from(at).unwrap_or(u32::MAX);
            let spoken = self.evidence.spoken(&self.joints, item);
            let newest = spoken.last();
            if condition == SegmentCondition::Dead
                && let Some(colour) = self.joints.items[at].colour
            {
                colours_out.push(colour.name().to_owned());
            }
            let share = newest.and_then(|one| one.judged.condition.share());
            if condition.badness() > worst.condition.badness() {
                worst = SegmentHealth {
                    condition,
                    share,
                    doubt,
                    colours_out: Vec::new(),
                    age_s: newest.map(|one| now.s_since(one.at)),
                };
            }
        }
        worst.colours_out = colours_out;
        worst
    }
}
