//! What holds where the floor file says nothing, and how large its numbers may be.

use super::model::{
    AlarmSettings, CapSettings, Delivery, MachineSettings, Merge, PlanSettings, Signal, WhenEnded,
    WhenLost,
};

/// `[signal]` when nothing is said.
pub const SIGNAL: Signal = Signal {
    merge: Merge::Htp,
    lost_after_s: 3.0,
    when_lost: WhenLost::Hold,
    when_ended: WhenEnded::Hold,
};

/// `[signal] fade_s` with `when_lost = "fade"`.
pub const FADE_S: f64 = 2.0;

/// `[delivery]` when nothing is said.
pub const DELIVERY: Delivery = Delivery {
    copies: 3,
    late_ms: 20,
};

/// `[cap]` when nothing is said. A continuous load takes at most 80 % of a rating
/// (NEC 210.20(A), and common practice for supplies).
pub const CAP: CapSettings = CapSettings {
    margin: 0.8,
    let_up_s: 1.5,
    floor_va: None,
};

/// `[plan]` when nothing is said. Copper under load is warmer than the air; 60 °C is what cables
/// of 70 °C insulation come near to. 5 % is our choice: what eyes hardly see.
pub const PLAN: PlanSettings = PlanSettings {
    ambient_c: 30.0,
    copper_c: 60.0,
    drop_percent: 5.0,
    typical: 0.35,
};

/// `[alarm]` when nothing is said: our choice.
pub const ALARM: AlarmSettings = AlarmSettings {
    near_percent: 90.0,
    capping_s: 10.0,
    webhook: None,
};

/// `[machine]` when nothing is said: what the system does with any thread.
pub const MACHINE: MachineSettings = MachineSettings {
    core: None,
    real_time_priority: None,
};

/// Networks that `[network] sources` may name: each datagram is held against them.
pub const MOST_SOURCES: usize = 64;

/// The highest `[machine] core`: what the system's calls can name.
pub const LAST_CORE: i64 = 1_023;

/// The highest `[machine] real_time_priority`. `SCHED_FIFO` goes to 99 (sched(7)), but threads of the
/// kernel that handle interrupts run at 50: frames must not hold up what brings them.
pub const MOST_PRIORITY: i64 = 49;

/// `[[sensor]] tolerance_percent`. Clamps and shunts of this trade are good for 1 to 3 % (from
/// memory), pixels for some more.
pub const TOLERANCE_PERCENT: f64 = 5.0;

/// `[[sensor]] every_s`.
pub const EVERY_S: f64 = 1.0;

/// `[[sensor]] factor`.
pub const FACTOR: f64 = 1.0;

/// The port of `[mqtt] broker` where none is given: the one registered for MQTT (MQTT 3.1.1, 4.2).
pub const MQTT_PORT: u16 = 1883;

/// `[pixel.NAME] full_volts` where neither voltage is given: a driver that keeps its current down to
/// next to nothing.
pub const FULL_VOLTS: f64 = 0.5;

/// `[grid] gap_mm`.
pub const GAP_MM: f64 = 0.0;

/// `[[run]] slot`.
pub const FIRST_SLOT: u16 = 1;

/// Columns go to ZZ.
pub const MOST_COLUMNS: u16 = 702;

/// Rows have at most four digits.
pub const MOST_ROWS: u16 = 9_999;

/// Circuits or supplies that one table describes together, panels in one part of a split.
pub const MOST_ALIKE: i64 = 10_000;

/// Slots or pixels that one element of a run passes.
pub const MOST_PASSED: i64 = 10_000;

/// Panels of one floor.
pub const MOST_PANELS: usize = 100_000;

/// Pixels of one floor, and of all kinds of panel together.
pub const MOST_PIXELS: u64 = 2_000_000;

/// Amperes of everything at full that one circuit or supply can be reckoned with. (A `Draw` holds
/// 281 million.)
pub const MOST_AMPERES: f64 = 1e6;

/// Mains amperes for one ampere of output.
pub const MOST_MAINS_PER_OUTPUT: f64 = 1e5;

/// Positions that all ranges of a file may name together; keeps absurd files from taking minutes.
pub const MOST_NAMED_POSITIONS: u64 = 20_000_000;

/// Faults that are collected; a file with more is no floor file.
pub const MOST_FAULTS: usize = 10_000;

/// Bytes of a floor file.
pub const MOST_BYTES: u64 = 8 * 1024 * 1024;
