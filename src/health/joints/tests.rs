use super::*;
use crate::floor::model::{Fed, Strip};
use crate::floor::testing;

/// The joint there.
fn takes(joints: &Joints, wire: Wire, place: Place) -> Vec<Item> {
    let is = |joint: &&Joint| joint.wire == wire && joint.place == place;
    let found = joints.joints.iter().find(is);
    let takes = found.map_or(&[][..], |joint| &joint.takes);
    takes.iter().map(|&at| joints.items[at as usize]).collect()
}

fn segments(panel: u32, range: std::ops::Range<u32>) -> Vec<Item> {
    let item = |segment| Item {
        panel,
        segment,
        colour: None,
    };
    range.map(item).collect()
}

/// A demo floor whose panels are fed so.
fn fed(fed: &Fed) -> (Floor, Joints) {
    let mut floor = testing::demo();
    for kind in &mut floor.panel_kinds {
        kind.strip = Some(Strip {
            ohm_per_m: 0.1,
            pitch_mm: None,
            fed: fed.clone(),
        });
    }
    let joints = Joints::new(&floor);
    (floor, joints)
}

#[test]
fn an_open_supply_joint_takes_what_no_feed_point_reaches() {
    let before = |segment| Place::Before { panel: 0, segment };
    let (floor, joints) = fed(&Fed::Start);
    let count = number(floor.panel_kinds[floor.panels[0].kind].segments.len());
    assert!(count >= 3, "{count}");
    assert_eq!(
        takes(&joints, Wire::Supply, before(2)),
        segments(0, 2..count)
    );
    let (_, joints) = fed(&Fed::End);
    assert_eq!(takes(&joints, Wire::Supply, before(2)), segments(0, 0..2));
    let (_, joints) = fed(&Fed::Both);
    assert_eq!(takes(&joints, Wire::Supply, before(2)), []);
    // Fed at its first pixel and at the one where the third segment begins.
    let kind = &floor.panel_kinds[floor.panels[0].kind];
    let third = kind.segments[..2].iter().sum();
    let (_, joints) = fed(&Fed::Pixels(vec![0, third]));
    assert_eq!(takes(&joints, Wire::Supply, before(2)), []);
    if count > 3 {
        assert_eq!(
            takes(&joints, Wire::Supply, before(3)),
            segments(0, 3..count)
        );
    }
}

#[test]
fn an_open_data_joint_takes_all_that_lies_behind_it_in_the_run() {
    let floor = testing::demo();
    let joints = Joints::new(&floor);
    let run = &floor.runs[0];
    let (first, second) = (run.panels[0], run.panels[1]);
    let place = Place::Between {
        from: first,
        to: second,
    };
    let dark = takes(&joints, Wire::Data, place);
    let mut panels: Vec<usize> = dark.iter().map(|item| item.panel as usize).collect();
    panels.dedup();
    let mut behind = run.panels[1..].to_vec();
    behind.sort_unstable();
    assert_eq!(panels, behind);
    let whole = takes(&joints, Wire::Data, Place::Run(0));
    let of_run = |item: &&Item| floor.panels[item.panel as usize].run == 0;
    assert_eq!(whole.len(), joints.items.iter().filter(of_run).count());
}

#[test]
fn an_analogue_strip_has_a_wire_for_each_colour_and_no_data() {
    let mut floor = testing::floor();
    for kind in &mut floor.pixel_kinds {
        kind.drive = Drive::Analogue;
    }
    let joints = Joints::new(&floor);
    assert!(joints.joints.iter().all(|joint| joint.wire != Wire::Data));
    let place = Place::Before {
        panel: 0,
        segment: 1,
    };
    let red = takes(&joints, Wire::Colour(Colour::Red), place);
    let only = Item {
        panel: 0,
        segment: 1,
        colour: Some(Colour::Red),
    };
    assert_eq!(red, [only]);
    assert_eq!(joints.find(only).map(|at| joints.items[at]), Some(only));
}

#[test]
fn places_are_named_as_one_would_tell_somebody_on_the_floor() {
    let floor = testing::demo();
    let named = |wire, place| {
        let floor = &floor;
        Named { floor, wire, place }.to_string()
    };
    let position = floor.panels[0].position;
    assert_eq!(
        named(
            Wire::Supply,
            Place::Before {
                panel: 0,
                segment: 2
            }
        ),
        format!("{position}, joint between segments 2 and 3, supply side")
    );
    let (from, to) = (floor.runs[0].panels[0], floor.runs[0].panels[1]);
    assert_eq!(
        named(Wire::Data, Place::Between { from, to }),
        format!(
            "data between {} and {}",
            floor.panels[from].position, floor.panels[to].position
        )
    );
}
