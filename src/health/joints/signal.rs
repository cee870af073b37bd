//! Joints of the data wire along runs, and of the colours' wires in analogue strip.

use super::{Joints, Place, Wire, colours_apart};
use crate::floor::Floor;
use crate::floor::model::PixelKind;

pub(super) fn all(floor: &Floor, joints: &mut Joints) {
    for (at, run) in floor.runs.iter().enumerate() {
        // Addressed panels behind the one that is looked at, from the end of the run.
        let mut behind: Vec<usize> = Vec::new();
        for (step, &panel) in run.panels.iter().enumerate().rev() {
            let kind = &floor.panel_kinds[floor.panels[panel].kind];
            let pixel = &floor.pixel_kinds[kind.pixel_kind];
            let segments = kind.segments.len();
            if colours_apart(pixel) {
                colours(panel, segments, pixel, joints);
                continue;
            }
            for segment in 1..segments {
                let own = (segment..segments)
                    .flat_map(|segment| joints.of_segment(panel, segment).collect::<Vec<_>>());
                let takes: Vec<usize> = own.chain(behind.iter().copied()).collect();
                joints.add(Wire::Data, Place::Before { panel, segment }, takes);
            }
            behind.extend(joints.of_panel[panel].clone());
            let before = run.panels[..step].iter().rev().copied();
            let addressed = |&before: &usize| {
                let kind = &floor.panel_kinds[floor.panels[before].kind];
                !colours_apart(&floor.pixel_kinds[kind.pixel_kind])
            };
            let place = before
                .clone()
                .find(addressed)
                .map_or(Place::Run(at), |from| Place::Between { from, to: panel });
            let takes = behind.clone();
            joints.add(Wire::Data, place, takes);
        }
    }
}

/// Every colour's wire, from where it enters the panel to its last segment.
fn colours(panel: usize, segments: usize, pixel: &PixelKind, joints: &mut Joints) {
    for colour in pixel.colours() {
        for first in 0..segments {
            let mut takes: Vec<usize> = joints.of_panel[panel].clone().collect();
            takes.retain(|&at| {
                let item = joints.items[at];
                item.colour == Some(colour) && item.segment as usize >= first
            });
            let place = if first == 0 {
                Place::Entry { panel }
            } else {
                Place::Before {
                    panel,
                    segment: first,
                }
            };
            joints.add(Wire::Colour(colour), place, takes);
        }
    }
}
