//! Patterns on whole floors, against the patch counted pixel by pixel and against definitions.

mod sight;
mod slots;
mod words;

use super::Pace;
use crate::floor::model::Floor;
use crate::floor::tables::Tables;

const TURNS: [u16; 4] = [0, 90, 180, 270];

/// A floor with turned panels, several kinds of pixel and a universe that two nodes share.
fn text(turns: [u16; 4], slot: u16, straddle: bool) -> String {
    let [a, b, c, d] = turns;
    let packing = if straddle { "packed" } else { "whole-pixel" };
    format!(
        r#"
name = "mixed"
[grid]
columns = 2
rows = 2
panel_mm = [500, 500]
[pixel.plain]
slots = "GRB"
volts = 12
full_ma = {{ red = 20, green = 20, blue = 20 }}
idle_ma = 1
[pixel.fine]
slots = "RrGgBbWw"
volts = 12
full_ma = {{ red = 20, green = 20, blue = 20, white = 20 }}
idle_ma = 1
[panel.matrix]
pixel = "plain"
columns = 11
rows = 11
wiring = {{ first = "columns", path = "serpentine", from = "bottom-left" }}
segments = [60, 61]
at = ["A1..B1"]
[panel.pair]
pixel = "fine"
columns = 2
rows = 1
at = ["A2..B2"]
[[node]]
name = "north"
address = "10.0.0.1"
[[node]]
name = "south"
address = "10.0.0.2"
[[run]]
node = "north"
start = "0:0:1"
slot = {slot}
packing = "{packing}"
panels = [{{ at = "B1", turn = {b} }}, {{ at = "A2", turn = {c} }}]
[[run]]
node = "south"
start = "0:0:1"
slot = {slot}
packing = "{packing}"
source = {{ start = "0:0:1", slot = {slot}, packing = "{packing}", shared = true }}
panels = [{{ at = "B2", turn = {d} }}, {{ at = "A1", turn = {a} }}]
[[circuit]]
name = "c"
volts = 230
rated_a = 16
[[supply]]
name = "s"
circuit = "c"
volts = 12
rated_a = 50
efficiency = 0.9
power_factor = 0.9
[[feed]]
name = "f"
supply = "s"
fuse_a = 50
positions = ["A1..B2"]
"#
    )
}

fn floor(text: &str) -> (Floor, Tables) {
    let floor = crate::floor::parse("mixed.toml", text)
        .unwrap_or_else(|faults| panic!("{}", faults.render(false)));
    let tables = Tables::compile(&floor);
    (floor, tables)
}

fn at(position: &str) -> String {
    position.to_owned()
}

fn held() -> Pace {
    Pace::Held(0)
}
