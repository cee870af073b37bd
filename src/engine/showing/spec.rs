//! What the estimator of the show is told of a floor, once a survey has felt its sensors.

use crate::engine::survey::items::Items;
use crate::floor::model::Measured;
use crate::floor::{Floor, Tables};
use crate::health::joints::{Joint, Joints, Place, Wire};
use crate::health::show::steps::Group;
use crate::health::show::{ShowItem, ShowSensor, ShowSpec};

/// Whether a sensor there sees the current of a panel.
pub(super) fn sees(floor: &Floor, of: Measured, panel: usize) -> bool {
    let feed = floor.panels[panel].feed;
    let supply = floor.feeds[feed].supply;
    match of {
        Measured::Panel(at) => at == panel,
        Measured::Feed(at) => at == feed,
        Measured::Supply(at) => at == supply,
        Measured::Circuit(at) => at == floor.supplies[supply].circuit,
    }
}

/// All of it. `felt` has the floor's index of each sensor that takes part, and what it is like.
pub(super) fn of(
    floor: &Floor,
    tables: &Tables,
    items: &Items,
    felt: &[(usize, ShowSensor)],
) -> ShowSpec {
    let full_a = items.full_a(tables, u8::MAX);
    let item = |(item, full_a): (&crate::health::Item, f64)| {
        let sees = |sensor: usize| sees(floor, floor.sensors[sensor].of, item.panel as usize);
        let seen_by = (0_u16..).zip(felt).filter(|(_, (at, _))| sees(*at));
        ShowItem {
            panel: item.panel,
            segment: item.segment,
            full_a,
            sensors: seen_by.map(|(index, _)| index).collect(),
        }
    };
    let mut switches = vec![0_u8; floor.panels.len()];
    for at in floor.switch_slots() {
        switches[at.panel] = switches[at.panel].saturating_add(1);
    }
    ShowSpec {
        items: items.all.iter().zip(full_a).map(item).collect(),
        sensors: felt.iter().map(|(_, sensor)| sensor.clone()).collect(),
        switches,
        groups: groups(floor),
        ..ShowSpec::default()
    }
}

/// What each joint of a floor takes when it opens: its items are numbered as those of [`Items`] are.
fn groups(floor: &Floor) -> Vec<Group> {
    let joints = Joints::new(floor);
    let group = |joint: &Joint| {
        let first = joint
            .takes
            .first()
            .map(|&item| &joints.items[item as usize]);
        let panel = match joint.place {
            Place::Before { panel, .. } | Place::Entry { panel } => number(panel),
            Place::Between { to, .. } => number(to),
            Place::Feed(_) | Place::Run(_) => first.map_or(0, |item| item.panel),
        };
        Group {
            panel,
            takes: joint.takes.clone(),
            holds: joint.wire == Wire::Data,
        }
    };
    joints.joints.iter().map(group).collect()
}

fn number(of: usize) -> u32 {
    u32::try_from(of).unwrap_or(u32::MAX)
}
