//! Whole sheets: what they become, and how bad rows are told.

use std::fmt::Write as _;

use proptest::prelude::*;

use super::super::sheet::Sheet;
use super::super::spreadsheet;
use super::*;
use crate::floor::testing;

fn alike(text: &str) -> Result<String, String> {
    // Common practice, no source: panels of 40 RGB pixels have 120 slots.
    runs(Path::new("s.csv"), text.as_bytes(), &Size::Alike(120, 3), 0)
}

#[test]
fn contiguous_panels_become_one_run() {
    let sheet = "Panel;Universe;Start channel;Node;Output;Rotation;Serial\n\
                 B1;0:0:1;121;north;1;0;P02\nA1;0:0:1;1,0;north;1;0;P01\n\
                 C1;0:0:1;241;north;1;180;P09\nA2;0:0:4;11;north;2;;\n";
    let expected = "# 4 panels in 2 runs. Put them into the floor file in the place of its runs, \
                    then let it be checked.\n\n\
                    [[run]]\nnode = \"north\"\nport = 1\nstart = \"0:0:1\"\n\
                    panels = [\"A1..B1\", { at = \"C1\", turn = 180 }]\n\
                    serials = [\"P01\", \"P02\", \"P09\"]\n\n\
                    [[run]]\nnode = \"north\"\nport = 2\nstart = \"0:0:4\"\nslot = 11\n\
                    panels = [\"A2\"]\n";
    assert_eq!(alike(sheet).unwrap(), expected);
}

#[test]
fn columns_that_nobody_reads_are_named() {
    let sheet = "panel,universe,slot,console_universe,Remark\nA1,1,1,0:0:4,loose\n";
    let text = alike(sheet).unwrap();
    let told = "# Not used: the columns console_universe, Remark. Runs are written by where";
    assert!(text.contains(told), "{text}");
    assert!(
        !alike("panel,universe,slot\nA1,1,1\n")
            .unwrap()
            .contains("Not used")
    );
}

#[test]
fn an_address_may_stand_in_one_column_and_flat() {
    for sheet in [
        "panel,address\nA1,0:0:1/1\nB1,1/121\n",
        "panel,universe,address\nA1,1,1\nB1,1,121\n",
        "panel,address,slot\nA1,0:0:1,1\nB1,1.0,121\n",
    ] {
        let text = alike(sheet).unwrap();
        assert!(
            text.contains("start = \"0:0:1\"\npanels = [\"A1..B1\"]"),
            "{text}"
        );
        assert!(text.contains("does not say on which node"), "{text}");
    }
    let from_one = "panel,universe,slot\nA1,1,1\n";
    let text = runs(Path::new("s"), from_one.as_bytes(), &Size::Alike(120, 3), 1).unwrap();
    assert!(text.contains("start = \"0:0:0\""), "{text}");
}

#[test]
fn every_bad_row_is_named_at_once() {
    let sheet = "panel,universe,slot,serial,turn,port\nA1,1,1,P1,0,1\nA0,1,121,P2,0,1\n\
                 B1,x,0,P3,0,1\n,1,241,P4,0,1\nC1,1,361,P1,45,1\nA1,2,1,P6,0,1\n\
                 D1,2,100,P7,0,1\n\nE1,0:0:300,1,P8,0,99999\n";
    let why = alike(sheet).unwrap_err();
    let expected = "s.csv: row 3: \"A0\" is no position: a position is a column letter and a row \
                    number, for example C4\n\
                    s.csv: row 4: \"0\" is no slot: slots count from 1 to 512\n\
                    s.csv: row 4: \"x\" is no universe: write 0:0:3, or a flat number from 0 to \
                    32767\n\
                    s.csv: row 5: no position\n\
                    s.csv: row 6: \"45\" is no turn: write 0, 90, 180 or 270, degrees clockwise\n\
                    s.csv: row 7: A1 stands in row 2 already\n\
                    s.csv: row 8: D1 begins at 0:0:2/100, but A1 of row 7 begins at 0:0:2/1 and \
                    has 120 slots\n\
                    s.csv: row 10: \"0:0:300\" is no universe: a Port-Address is \
                    net:sub-net:universe, for example 0:1:2 (0–127, 0–15, 0–15); if the \
                    spreadsheet made a time of it, format the column as text\n\
                    s.csv: row 10: \"99999\" is no port: outputs count from 1 to 9999\n\
                    9 faults in s.csv\n";
    assert_eq!(why, expected);
}

#[test]
fn the_floor_says_what_lies_where_and_which_nodes_there_are() {
    let floor = testing::floor();
    let told = |sheet: &str| {
        let size = Size::Floor(&floor);
        runs(Path::new("s.csv"), sheet.as_bytes(), &size, 0)
    };
    // A1 and B1 have 12 slots, A2 16.
    let text = told("panel,universe,slot,node\nA1,1,1,north\nB1,1,13,north\nA2,1,25,north\n");
    assert!(text.unwrap().contains("panels = [\"A1..B1\", \"A2\"]"));
    let why = told("panel,universe,slot,node\nB2,1,1,north\nA1,1,13,nort\n").unwrap_err();
    assert!(why.contains("row 2: nothing lies in B2"), "{why}");
    assert!(
        why.contains("no node is called \"nort\"; known: north, south"),
        "{why}"
    );
}

#[test]
fn some_serials_of_a_run_are_not_enough() {
    let why = alike("panel,universe,slot,serial\nA1,1,1,P1\nB1,1,121,\n").unwrap_err();
    assert!(why.contains("row 3: no serial"), "{why}");
    assert!(
        alike("panel,universe,slot\n")
            .unwrap_err()
            .contains("no rows")
    );
}

/// A floor of one row for each run; what comes before and between panels is up to `plan`.
fn floor_text(plan: &[RunPlan]) -> String {
    let mut text = String::from(
        "name = \"x\"\n[grid]\ncolumns = 6\nrows = 5\npanel_mm = [400, 400]\npanel = \"big\"\n",
    );
    let absent: Vec<String> = (0..5)
        .flat_map(|row| {
            let used = plan.get(row).map_or(0, |run| run.panels.len());
            (used..6).map(move |column| format!("\"{}{}\"", letter(column), row + 1))
        })
        .collect();
    writeln!(text, "empty = [{}]", absent.join(", ")).unwrap();
    text += "[pixel.rgb]\nslots = \"GRB\"\nvolts = 12\nfull_ma = { red = 1, green = 1, blue = 1 }\n\
             idle_ma = 0\n[pixel.fine]\nslots = \"RrGgBbWw\"\nvolts = 12\n\
             full_ma = { red = 1, green = 1, blue = 1, white = 1 }\nidle_ma = 0\n\
             [panel.big]\npixel = \"rgb\"\ncolumns = 10\nrows = 10\n\
             [panel.small]\npixel = \"fine\"\ncolumns = 3\nrows = 3\n";
    let small: Vec<String> = (0..plan.len())
        .flat_map(|row| {
            let panels = plan[row].panels.iter().enumerate();
            panels
                .filter(|(_, panel)| panel.small)
                .map(move |(column, _)| format!("\"{}{}\"", letter(column), row + 1))
        })
        .collect();
    if !small.is_empty() {
        writeln!(text, "at = [{}]", small.join(", ")).unwrap();
    }
    text += "[[node]]\nname = \"a \\\"b\\\"\"\naddress = \"10.0.0.1\"\n";
    text += &runs_text(plan);
    text += "[[circuit]]\nname = \"c\"\nvolts = 230\nrated_a = 16\n[[supply]]\nname = \"s\"\n\
             circuit = \"c\"\nvolts = 12\nrated_a = 100\nefficiency = 1\npower_factor = 1\n\
             [[feed]]\nname = \"f\"\nsupply = \"s\"\nfuse_a = 100\n";
    let rows = (1..).zip(plan);
    let rows: Vec<String> = rows
        .map(|(row, run)| format!("\"A{row}..{}{row}\"", letter(run.panels.len() - 1)))
        .collect();
    writeln!(text, "positions = [{}]", rows.join(", ")).unwrap();
    text
}

fn runs_text(plan: &[RunPlan]) -> String {
    let mut text = String::new();
    for (row, run) in plan.iter().enumerate() {
        let start = row * 20;
        write!(
            text,
            "[[run]]\nnode = \"a \\\"b\\\"\"\nport = {}\nstart = \"0:{}:{}\"\nslot = {}\n\
             packing = \"{}\"\npanels = [",
            row + 1,
            start / 16,
            start % 16,
            run.slot,
            run.packing
        )
        .unwrap();
        let columns: Vec<usize> = if run.backwards {
            (0..run.panels.len()).rev().collect()
        } else {
            (0..run.panels.len()).collect()
        };
        for column in columns {
            let panel = &run.panels[column];
            if panel.spare > 0 {
                write!(text, "{{ spare_slots = {} }}, ", panel.spare).unwrap();
            }
            if panel.unused > 0 {
                write!(text, "{{ unused_pixels = {} }}, ", panel.unused).unwrap();
            }
            write!(
                text,
                "{{ at = \"{}{}\", turn = {}, mirrored = {} }}, ",
                letter(column),
                row + 1,
                panel.turn * 90,
                panel.mirrored
            )
            .unwrap();
        }
        text += "]\n";
        if run.serials {
            let serials = (0..run.panels.len()).map(|at| format!("\"R{row}-{at:02}\""));
            writeln!(
                text,
                "serials = [{}]",
                serials.collect::<Vec<_>>().join(", ")
            )
            .unwrap();
        }
    }
    text
}

fn letter(column: usize) -> char {
    ["A", "B", "C", "D", "E", "F"][column]
        .chars()
        .next()
        .unwrap()
}

#[derive(Debug, Clone)]
struct RunPlan {
    panels: Vec<PanelPlan>,
    slot: u16,
    packing: &'static str,
    backwards: bool,
    serials: bool,
}

#[derive(Debug, Clone)]
struct PanelPlan {
    small: bool,
    turn: u16,
    mirrored: bool,
    spare: u16,
    unused: u16,
}

fn plans() -> impl Strategy<Value = Vec<RunPlan>> {
    let some = |most: u16| prop_oneof![3 => Just(0_u16), 1 => 1..most];
    let panel = (any::<bool>(), 0_u16..4, any::<bool>(), some(600), some(200)).prop_map(
        |(small, turn, mirrored, spare, unused)| PanelPlan {
            small,
            turn,
            mirrored,
            spare,
            unused,
        },
    );
    let packing = prop::sample::select(vec!["packed", "whole-pixel", "whole-panel"]);
    let run = (
        prop::collection::vec(panel, 1..6),
        1_u16..=512,
        packing,
        any::<bool>(),
        any::<bool>(),
    )
        .prop_map(|(panels, slot, packing, backwards, serials)| RunPlan {
            panels,
            slot,
            packing,
            backwards,
            serials,
        });
    prop::collection::vec(run, 1..5)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// A floor's sheet, read back, gives every panel the same slots, serial, turn and port.
    #[test]
    fn a_sheet_that_comes_back_gives_the_same_addresses(plan in plans()) {
        let text = floor_text(&plan);
        let floor = floor::parse("before.toml", &text).map_err(|why| TestCaseError::fail(why.to_string()))?;
        let mut sheet = Vec::new();
        spreadsheet::write(&Sheet::of(&floor), &mut sheet).unwrap();
        let back = runs(Path::new("s.csv"), &sheet, &Size::Floor(&floor), 0).map_err(TestCaseError::fail)?;
        let text = text.replace(&runs_text(&plan), &back);
        let again = floor::parse("after.toml", &text).map_err(|why| TestCaseError::fail(why.to_string()))?;
        prop_assert_eq!(floor.all_spans(), again.all_spans());
        let told = |floor: &Floor| -> Vec<_> {
            floor.panels.iter().map(|panel| {
                let port = floor.runs[panel.run].port;
                (panel.position, panel.serial.clone(), panel.turn_deg, panel.mirrored, port)
            }).collect()
        };
        prop_assert_eq!(told(&floor), told(&again));
        // In the same order along the wire.
        let wires = |floor: &Floor| -> Vec<Vec<usize>> {
            floor.runs.iter().map(|run| run.panels.clone()).collect()
        };
        prop_assert_eq!(wires(&floor), wires(&again));
    }
}

/// Found by the fuzzer: cells are quoted to whoever sits at the terminal.
#[test]
fn control_characters_of_a_sheet_never_reach_the_terminal() {
    let sheets = [
        "panel,universe,slot,serial\n\u{1b}[2J,0,1,\u{7}\n",
        "\u{1b}[31mpanel,what\nA1,1\n",
        "panel,universe,slot\n\"A1\u{1b}\n[2J\",\"\u{9b}1\",x\n",
    ];
    for sheet in sheets {
        let told = alike(sheet).unwrap_err();
        let wild = |letter: char| letter.is_control() && letter != '\n';
        assert!(!told.contains(wild), "{told:?}");
        assert!(told.contains('\u{FFFD}'), "{told:?}");
        assert!(told.lines().all(|line| line.contains("s.csv")), "{told:?}");
    }
}
