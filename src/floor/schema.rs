//! Every key of the floor file with an example, for the faults that name them.

/// The keys of one kind of table.
#[derive(Debug)]
pub(super) struct Section {
    /// Key and an example of it, as it is written.
    pub(super) keys: &'static [(&'static str, &'static str)],
}

impl Section {
    /// How a key is written.
    pub(super) fn example(&self, key: &str) -> &'static str {
        self.keys
            .iter()
            .find(|(name, _)| *name == key)
            .map_or("", |(_, example)| example)
    }
}

pub(super) const FILE: Section = Section {
    keys: &[
        ("name", r#"name = "First floor""#),
        ("grid", "[grid]"),
        ("signal", "[signal]"),
        ("delivery", "[delivery]"),
        ("cap", "[cap]"),
        ("plan", "[plan]"),
        ("alarm", "[alarm]"),
        ("machine", "[machine]"),
        ("network", "[network]"),
        ("pin", "[[pin]]"),
        ("standby", "[standby]"),
        ("pixel", "[pixel.strip12]"),
        ("panel", "[panel.square]"),
        ("node", "[[node]]"),
        ("run", "[[run]]"),
        ("circuit", "[[circuit]]"),
        ("supply", "[[supply]]"),
        ("feed", "[[feed]]"),
        ("sensor", "[[sensor]]"),
        ("input", "[[input]]"),
        ("mqtt", "[mqtt]"),
    ],
};

pub(super) const GRID: Section = Section {
    keys: &[
        ("columns", "columns = 2"),
        ("rows", "rows = 2"),
        ("panel_mm", "panel_mm = [500, 500]"),
        ("gap_mm", "gap_mm = 0"),
        ("panel", r#"panel = "square""#),
        ("empty", r#"empty = ["B2", "C1..D2"]"#),
    ],
};

pub(super) const SIGNAL: Section = Section {
    keys: &[
        ("merge", r#"merge = "htp""#),
        ("lost_after_s", "lost_after_s = 3.0"),
        ("when_lost", r#"when_lost = "hold""#),
        ("fade_s", "fade_s = 2.0"),
        ("when_ended", r#"when_ended = "hold""#),
    ],
};

pub(super) const DELIVERY: Section = Section {
    keys: &[("copies", "copies = 3"), ("late_ms", "late_ms = 20")],
};

pub(super) const CAP: Section = Section {
    keys: &[
        ("margin", "margin = 0.8"),
        ("let_up_s", "let_up_s = 1.5"),
        ("floor_va", "floor_va = 5000"),
    ],
};

pub(super) const PLAN: Section = Section {
    keys: &[
        ("ambient_c", "ambient_c = 30"),
        ("copper_c", "copper_c = 60"),
        ("drop_percent", "drop_percent = 5"),
        ("typical", "typical = 0.35"),
    ],
};

pub(super) const ALARM: Section = Section {
    keys: &[
        ("near_percent", "near_percent = 90"),
        ("capping_s", "capping_s = 10"),
        ("webhook", r#"webhook = "http://10.0.0.9:8000/alarms""#),
    ],
};

pub(super) const MACHINE: Section = Section {
    keys: &[
        ("core", "core = 1"),
        ("real_time_priority", "real_time_priority = 10"),
    ],
};

pub(super) const NETWORK: Section = Section {
    keys: &[("sources", r#"sources = ["192.168.10.0/24"]"#)],
};

pub(super) const PIN: Section = Section {
    keys: &[
        ("start", r#"start = "0:0:1""#),
        ("universes", "universes = 2"),
        ("source", r#"source = "192.168.10.5""#),
    ],
};

pub(super) const STANDBY: Section = Section {
    keys: &[
        ("first", r#"first = "192.168.10.2""#),
        ("second", r#"second = "192.168.10.3""#),
    ],
};

pub(super) const PIXEL: Section = Section {
    keys: &[
        ("slots", r#"slots = "GRB""#),
        ("volts", "volts = 12"),
        (
            "full_ma",
            "full_ma = { red = 18.5, green = 18.5, blue = 18.5 }",
        ),
        ("idle_ma", "idle_ma = 0.7"),
        ("limit_ma", "limit_ma = 40"),
        ("load", r#"load = "constant-current""#),
        ("dark_volts", "dark_volts = 9"),
        ("full_volts", "full_volts = 10.5"),
        ("drive", r#"drive = "addressed""#),
    ],
};

pub(super) const FULL_MA: Section = Section {
    keys: &[
        ("red", "red = 18.5"),
        ("green", "green = 18.5"),
        ("blue", "blue = 18.5"),
        ("white", "white = 18.5"),
    ],
};

pub(super) const PANEL: Section = Section {
    keys: &[
        ("pixel", r#"pixel = "strip12""#),
        ("columns", "columns = 5"),
        ("rows", "rows = 4"),
        (
            "wiring",
            r#"wiring = { first = "rows", path = "serpentine", from = "top-left" }"#,
        ),
        ("pixels_mm", "pixels_mm = [[50, 50], [150, 50]]"),
        ("segments", "segments = [5, 5, 5, 5]"),
        ("switches", "switches = 4"),
        ("rated_a", "rated_a = 3.0"),
        (
            "strip",
            r#"strip = { ohm_per_m = 0.1, pitch_mm = 50, fed = "start" }"#,
        ),
        ("tail", "tail = { length_m = 0.5, mm2 = 0.75 }"),
        ("at", r#"at = ["A1", "B1..B4"]"#),
    ],
};

pub(super) const WIRING: Section = Section {
    keys: &[
        ("first", r#"first = "rows""#),
        ("path", r#"path = "serpentine""#),
        ("from", r#"from = "top-left""#),
    ],
};

pub(super) const STRIP: Section = Section {
    keys: &[
        ("ohm_per_m", "ohm_per_m = 0.1"),
        ("pitch_mm", "pitch_mm = 50"),
        ("fed", r#"fed = "start""#),
    ],
};

pub(super) const CABLE: Section = Section {
    keys: &[
        ("length_m", "length_m = 5"),
        ("mm2", "mm2 = 2.5"),
        ("awg", "awg = 14"),
    ],
};

pub(super) const PEAK: Section = Section {
    keys: &[("percent", "percent = 150"), ("s", "s = 2")],
};

pub(super) const NODE: Section = Section {
    keys: &[
        ("name", r#"name = "north""#),
        ("address", r#"address = "192.168.10.21""#),
        ("port", "port = 6454"),
    ],
};

pub(super) const RUN: Section = Section {
    keys: &[
        ("node", r#"node = "north""#),
        ("port", "port = 1"),
        ("start", r#"start = "0:0:1""#),
        ("slot", "slot = 1"),
        ("packing", r#"packing = "whole-pixel""#),
        (
            "source",
            r#"source = { start = "0:0:1", slot = 1, packing = "packed" }"#,
        ),
        (
            "panels",
            r#"panels = ["A1", { at = "B1", turn = 90 }, "A2..B2"]"#,
        ),
        ("serials", r#"serials = ["P17", "P01..P03"]"#),
        ("split", "split = { panels = 8, universes = 4 }"),
    ],
};

pub(super) const SOURCE: Section = Section {
    keys: &[
        ("start", r#"start = "0:0:1""#),
        ("slot", "slot = 1"),
        ("packing", r#"packing = "packed""#),
        ("shared", "shared = true"),
    ],
};

pub(super) const RUN_SPLIT: Section = Section {
    keys: &[("panels", "panels = 8"), ("universes", "universes = 4")],
};

pub(super) const LAID: Section = Section {
    keys: &[
        ("at", r#"at = "A1..H4""#),
        ("turn", "turn = 90"),
        ("mirrored", "mirrored = true"),
        ("first", r#"first = "rows""#),
        ("path", r#"path = "serpentine""#),
        ("turn_back", "turn_back = 180"),
        ("spare_slots", "spare_slots = 6"),
        ("unused_pixels", "unused_pixels = 1"),
    ],
};

pub(super) const CIRCUIT: Section = Section {
    keys: &[
        ("name", r#"name = "wall socket""#),
        ("volts", "volts = 230"),
        ("rated_a", "rated_a = 16"),
        ("count", "count = 3"),
    ],
};

pub(super) const SUPPLY: Section = Section {
    keys: &[
        ("name", r#"name = "main""#),
        ("circuit", r#"circuit = "wall socket""#),
        ("volts", "volts = 12"),
        ("rated_a", "rated_a = 29"),
        ("efficiency", "efficiency = 0.88"),
        ("power_factor", "power_factor = 0.95"),
        ("short_a", "short_a = 35"),
        ("sharing", r#"sharing = "alike""#),
        ("peak", "peak = { percent = 150, s = 2 }"),
        ("slew_a_per_s", "slew_a_per_s = 200"),
        ("count", "count = 4"),
        ("per_circuit", "per_circuit = 2"),
    ],
};

pub(super) const FEED: Section = Section {
    keys: &[
        ("name", r#"name = "left""#),
        ("supply", r#"supply = "main""#),
        ("fuse_a", "fuse_a = 7.5"),
        ("positions", r#"positions = ["A1..B2"]"#),
        ("cable", "cable = { length_m = 5, mm2 = 2.5 }"),
        ("link", "link = { length_m = 0.6, mm2 = 1.5 }"),
        ("far_cable", "far_cable = { length_m = 6, mm2 = 2.5 }"),
        ("peak", "peak = { percent = 150, s = 2 }"),
        ("slew_a_per_s", "slew_a_per_s = 100"),
        ("split", "split = { panels = 5, per_supply = 4 }"),
    ],
};

pub(super) const FEED_SPLIT: Section = Section {
    keys: &[("panels", "panels = 5"), ("per_supply", "per_supply = 4")],
};

pub(super) const SENSOR: Section = Section {
    keys: &[
        ("name", r#"name = "main clamp""#),
        ("circuit", r#"circuit = "wall socket""#),
        ("supply", r#"supply = "main""#),
        ("feed", r#"feed = "left""#),
        ("panel", r#"panel = "C4""#),
        ("quantity", r#"quantity = "current""#),
        ("tolerance_percent", "tolerance_percent = 5"),
        ("every_s", "every_s = 1"),
        ("topic", r#"topic = "floor/power/main""#),
        ("field", r#"field = "amps""#),
        ("factor", "factor = 0.001"),
    ],
};

pub(super) const INPUT: Section = Section {
    keys: &[
        ("node", r#"node = "north""#),
        ("start", r#"start = "0:2:0""#),
        ("slot", "slot = 1"),
        ("positions", r#"positions = ["A1..B2"]"#),
        ("pressed", r#"pressed = "high""#),
    ],
};

pub(super) const MQTT: Section = Section {
    keys: &[
        ("broker", r#"broker = "192.168.10.5:1883""#),
        ("alarms", r#"alarms = "litfloor/alarms""#),
    ],
};

#[cfg(test)]
pub(super) const ALL: [&Section; 30] = [
    &FILE,
    &GRID,
    &SIGNAL,
    &DELIVERY,
    &CAP,
    &PLAN,
    &ALARM,
    &MACHINE,
    &NETWORK,
    &PIN,
    &STANDBY,
    &PIXEL,
    &FULL_MA,
    &PANEL,
    &WIRING,
    &STRIP,
    &CABLE,
    &PEAK,
    &NODE,
    &RUN,
    &SOURCE,
    &RUN_SPLIT,
    &LAID,
    &CIRCUIT,
    &SUPPLY,
    &FEED,
    &FEED_SPLIT,
    &SENSOR,
    &INPUT,
    &MQTT,
];
