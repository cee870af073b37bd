//! Joints of the supply: along strips, into panels, along feeds.

use super::along::{cut_off, entries};
use super::{Joints, Place, Wire};
use crate::floor::Floor;
use crate::floor::model::Feed;

pub(super) fn all(floor: &Floor, joints: &mut Joints) {
    for (panel, laid) in floor.panels.iter().enumerate() {
        let kind = &floor.panel_kinds[laid.kind];
        for segment in 1..kind.segments.len() {
            let dark = cut_off(kind, segment);
            let takes: Vec<usize> = dark
                .flat_map(|segment| joints.of_segment(panel, segment).collect::<Vec<_>>())
                .collect();
            joints.add(Wire::Supply, Place::Before { panel, segment }, takes);
        }
        // With several entries none of them alone takes anything; their common cable does.
        if entries(kind).len() == 1 || kind.tail.is_some() {
            let takes = joints.of_panel[panel].clone();
            joints.add(Wire::Supply, Place::Entry { panel }, takes);
        }
    }
    for (at, feed) in floor.feeds.iter().enumerate() {
        along_feed(at, feed, joints);
    }
}

/// The feed's own cable and, if its panels hang one on the other, the links between them.
fn along_feed(at: usize, feed: &Feed, joints: &mut Joints) {
    let of = |panels: &[usize], joints: &Joints| -> Vec<usize> {
        let items = panels
            .iter()
            .flat_map(|&panel| joints.of_panel[panel].clone());
        items.collect()
    };
    // The fuse, which both cables hang on.
    let all = of(&feed.panels, joints);
    joints.add(Wire::Supply, Place::Feed(at), all);
    if feed.link.is_none() || feed.far_cable.is_some() {
        return;
    }
    for (before, pair) in feed.panels.windows(2).enumerate() {
        let takes = of(&feed.panels[before + 1..], joints);
        let place = Place::Between {
            from: pair[0],
            to: pair[1],
        };
        joints.add(Wire::Supply, place, takes);
    }
}
