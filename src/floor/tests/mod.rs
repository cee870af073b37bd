//! Whole files: what is refused and where, what is taken and what it becomes.

mod along_runs;
mod clash;
mod documented;
mod faults;
mod inputs;
mod laid;
mod mutilated;
mod property;
mod reports;
mod single;
mod sound;
mod trade;
mod trust;

/// A small floor in which nothing is wrong.
const BASE: &str = r#"name = "Base"
[grid]
columns = 2
rows = 2
panel_mm = [400, 400]
panel = "square"
empty = ["B2"]
[signal]
merge = "htp"
lost_after_s = 3
when_lost = "fade"
fade_s = 2
[delivery]
copies = 3
[cap]
margin = 0.8
[pixel.rgb]
slots = "GRB"
volts = 12
full_ma = { red = 20, green = 20, blue = 20 }
idle_ma = 0
[pixel.white5]
slots = "Ww"
volts = 5
full_ma = { white = 20 }
idle_ma = 0
[panel.square]
pixel = "rgb"
columns = 5
rows = 8
wiring = { path = "serpentine" }
segments = [20, 20]
[panel.edge]
pixel = "rgb"
pixels_mm = [[10, 10], [390, 390]]
at = ["B1"]
[[node]]
name = "north"
address = "10.0.0.1"
[[node]]
name = "south"
address = "10.0.0.2"
[[run]]
node = "north"
port = 1
start = "0:0:1"
panels = ["A1", { at = "B1", turn = 90 }]
[[run]]
node = "south"
port = 1
start = "0:0:2"
panels = ["A2"]
[[circuit]]
name = "mains"
volts = 230
rated_a = 16
[[supply]]
name = "main"
circuit = "mains"
volts = 12
rated_a = 10
efficiency = 0.9
power_factor = 0.9
[[feed]]
name = "left"
supply = "main"
fuse_a = 10
positions = ["A1..A2", "B1"]
"#;
