//! Inputs: each fault with its place, and which slot is which switch.

use proptest::prelude::*;

use super::super::model::{Pressed, SwitchSlot};
use super::super::parse;
use super::BASE;
use super::faults::Edits;

/// The fault, once for each mark, and nothing else told.
pub(super) const INPUTS: &[(&str, Edits)] = &[
    (
        "no-switches",
        &[(
            "[[circuit]]",
            "‹[[input]]\nnode = \"north\"\nstart = \"1:0:0\"\npositions = [\"A1\"]\n[[circuit]]",
        )],
    ),
    (
        "unknown-name",
        &[
            ("segments = [20, 20]", "segments = [20, 20]\nswitches = 4"),
            (
                "[[circuit]]",
                "[[input]]\nnode = ‹\"nort\"\nstart = \"1:0:0\"\npositions = [\"A1\"]\n[[circuit]]",
            ),
        ],
    ),
    (
        "empty-position",
        &[
            ("segments = [20, 20]", "segments = [20, 20]\nswitches = 4"),
            (
                "[[circuit]]",
                "[[input]]\nnode = \"north\"\nstart = \"1:0:0\"\npositions = [\"A1\", ‹\"B2\"]\n[[circuit]]",
            ),
        ],
    ),
    (
        "in-two-inputs",
        &[
            ("segments = [20, 20]", "segments = [20, 20]\nswitches = 4"),
            (
                "[[circuit]]",
                "[[input]]\nnode = \"north\"\nstart = \"1:0:0\"\npositions = [\"A1\"]\n[[input]]\nnode = \"south\"\nstart = \"1:0:1\"\npositions = [\"A2\", ‹\"A1\"]\n[[circuit]]",
            ),
        ],
    ),
    // A1's run fills 0:0:1 at the node and at the console.
    (
        "input-in-use",
        &[
            ("segments = [20, 20]", "segments = [20, 20]\nswitches = 4"),
            (
                "[[circuit]]",
                "[[input]]\nnode = \"south\"\nstart = ‹\"0:0:0\"\nslot = 511\npositions = [\"A1\"]\n[[circuit]]",
            ),
        ],
    ),
    // Only the console uses 3:0:0.
    (
        "input-in-use",
        &[
            ("segments = [20, 20]", "segments = [20, 20]\nswitches = 4"),
            ("start = \"0:0:2\"", "start = \"0:0:2\"\nsource = \"3:0:0\""),
            (
                "[[circuit]]",
                "[[input]]\nnode = \"south\"\nstart = ‹\"3:0:0\"\npositions = [\"A1\"]\n[[circuit]]",
            ),
        ],
    ),
    (
        "shared-input",
        &[
            ("segments = [20, 20]", "segments = [20, 20]\nswitches = 4"),
            (
                "[[circuit]]",
                "[[input]]\nnode = \"north\"\nstart = \"1:0:0\"\npositions = [\"A1\"]\n[[input]]\nnode = \"north\"\nstart = ‹\"1:0:0\"\nslot = 4\npositions = [\"A2\"]\n[[circuit]]",
            ),
        ],
    ),
    (
        "input-of-two-nodes",
        &[
            ("segments = [20, 20]", "segments = [20, 20]\nswitches = 4"),
            (
                "[[circuit]]",
                "[[input]]\nnode = \"north\"\nstart = \"1:0:0\"\npositions = [\"A1\"]\n[[input]]\nnode = \"south\"\nstart = ‹\"1:0:0\"\nslot = 5\npositions = [\"A2\"]\n[[circuit]]",
            ),
        ],
    ),
    (
        "past-last-universe",
        &[
            ("segments = [20, 20]", "segments = [20, 20]\nswitches = 4"),
            (
                "[[circuit]]",
                "[[input]]\nnode = \"north\"\nstart = ‹\"127:15:15\"\nslot = 510\npositions = [\"A1\"]\n[[circuit]]",
            ),
        ],
    ),
    (
        "unknown-word",
        &[
            ("segments = [20, 20]", "segments = [20, 20]\nswitches = 4"),
            (
                "[[circuit]]",
                "[[input]]\nnode = \"north\"\nstart = \"1:0:0\"\npositions = [\"A1\"]\npressed = ‹\"hi\"\n[[circuit]]",
            ),
        ],
    ),
    (
        "empty-list",
        &[(
            "[[circuit]]",
            "[[input]]\nnode = \"north\"\nstart = \"1:0:0\"\npositions = ‹[]\n[[circuit]]",
        )],
    ),
];

/// The base with switches under its squares, none under the edge, and these inputs.
fn with(switches: u16, inputs: &str) -> String {
    let squares = format!("segments = [20, 20]\nswitches = {switches}");
    let text = BASE.replace("segments = [20, 20]", &squares);
    text.replace("[[circuit]]", &format!("{inputs}\n[[circuit]]"))
}

#[test]
fn panels_without_switches_take_no_slots_and_a_full_universe_is_followed_by_the_next() {
    let input = "[[input]]\nnode = \"north\"\nstart = \"0:0:15\"\nslot = 510\n\
                 positions = [\"A1..B1\", \"A2\"]\npressed = \"low\"";
    let floor = parse("t.toml", &with(3, input)).unwrap();
    let slots: Vec<_> = floor
        .switch_slots()
        .map(|at| {
            let position = floor.panels[at.panel].position.to_string();
            (position, at.switch, at.port_address.to_string(), at.slot)
        })
        .collect();
    let row = |position: &str, switch, address: &str, slot| {
        (position.to_owned(), switch, address.to_owned(), slot)
    };
    assert_eq!(
        slots,
        [
            row("A1", 1, "0:0:15", 509),
            row("A1", 2, "0:0:15", 510),
            row("A1", 3, "0:0:15", 511),
            row("A2", 1, "0:1:0", 0),
            row("A2", 2, "0:1:0", 1),
            row("A2", 3, "0:1:0", 2),
        ]
    );
    assert_eq!(floor.inputs[0].pressed, Pressed::Low);
}

#[test]
fn levels_are_read_as_they_are_written() {
    for pressed in [Pressed::High, Pressed::Low] {
        for down in [false, true] {
            assert_eq!(pressed.is(pressed.level(down)), down);
        }
    }
    let high: Vec<bool> = [0, 127, 128, 255].map(|l| Pressed::High.is(l)).into();
    assert_eq!(high, [false, false, true, true]);
}

proptest! {
    /// One switch a slot, one slot a switch, and each where counting from the start puts it.
    #[test]
    fn slots_and_switches_are_one_to_one(
        switches in 1_u16..=600,
        universe in 256_u16..512,
        slot in 1_usize..=512,
    ) {
        let (net, sub_net, low) = (universe >> 8, universe >> 4 & 15, universe & 15);
        let input = format!(
            "[[input]]\nnode = \"north\"\nstart = \"{net}:{sub_net}:{low}\"\nslot = {slot}\n\
             positions = [\"A2\", \"A1\"]"
        );
        let floor = parse("t.toml", &with(switches, &input)).unwrap();
        let all: Vec<SwitchSlot> = floor.switch_slots().collect();
        prop_assert_eq!(all.len(), usize::from(switches) * 2);
        for (at, found) in all.iter().enumerate() {
            let place = usize::from(found.port_address.number()) * 512 + found.slot;
            prop_assert_eq!(place, usize::from(universe) * 512 + slot - 1 + at);
            let panel = floor.panels[found.panel].position.to_string();
            let first = at < usize::from(switches);
            prop_assert_eq!(panel, if first { "A2" } else { "A1" });
            prop_assert_eq!(usize::from(found.switch), at % usize::from(switches) + 1);
        }
    }
}
