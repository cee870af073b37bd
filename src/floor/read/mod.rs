//! From the parsed table to a [`Draft`]: every key on its own.

mod copper;
mod laying;
mod light;
mod meter;
mod power;
mod switches;
mod trust;
mod wiring;

use toml::de::DeTable;

use super::defaults;
use super::draft::{Draft, GridDraft, Lie, Place, Places};
use super::entry::{Entry, Numbers};
use super::fault::{Fault, Span};
use super::model::{
    AlarmSettings, CapSettings, Delivery, MachineSettings, Merge, PlanSettings, Signal, Webhook,
    WhenEnded, WhenLost,
};
use super::range::Rectangle;
use super::schema;
use super::sink::{At, Sink};
use super::walk::Keys;

/// Reads every table of the file.
pub(super) fn draft<'s>(sink: &'s Sink, table: &'s DeTable<'s>) -> Draft {
    let top = || -> Span { 0..0 };
    let file = Keys::open(sink, table, top(), "the file".to_owned(), &schema::FILE);
    let tables = |key| file.get(key).and_then(|entry| section(&entry, key));
    let draft = Draft {
        name: file.need("name").and_then(|entry| entry.name()),
        grid: file
            .need("grid")
            .and_then(|entry| section(&entry, "grid"))
            .map(|keys| grid(&keys)),
        signal: tables("signal").map_or(defaults::SIGNAL, |keys| signal(&keys)),
        delivery: tables("delivery").map_or(defaults::DELIVERY, |keys| delivery(&keys)),
        cap: tables("cap").map_or(defaults::CAP, |keys| cap(&keys)),
        plan: tables("plan").map_or(defaults::PLAN, |keys| plan(&keys)),
        alarm: tables("alarm").map_or(defaults::ALARM, |keys| alarm(&keys)),
        machine: tables("machine").map_or(defaults::MACHINE, |keys| machine(&keys)),
        sources: tables("network").map_or_else(Vec::new, |keys| trust::sources(&keys)),
        pins: file
            .array("pin", &schema::PIN)
            .iter()
            .map(trust::pin)
            .collect(),
        standby: tables("standby").and_then(|keys| trust::standby(&keys)),
        pixels: file
            .named("pixel", &schema::PIXEL)
            .into_iter()
            .map(light::pixel)
            .collect(),
        panels: file
            .named("panel", &schema::PANEL)
            .into_iter()
            .map(light::panel)
            .collect(),
        nodes: file
            .array("node", &schema::NODE)
            .iter()
            .map(wiring::node)
            .collect(),
        runs: file
            .array("run", &schema::RUN)
            .iter()
            .flat_map(wiring::run)
            .collect(),
        circuits: file
            .array("circuit", &schema::CIRCUIT)
            .iter()
            .flat_map(power::circuits)
            .collect(),
        supplies: file
            .array("supply", &schema::SUPPLY)
            .iter()
            .flat_map(power::supplies)
            .collect(),
        feeds: file
            .array("feed", &schema::FEED)
            .iter()
            .flat_map(power::feeds)
            .collect(),
        sensors: file
            .array("sensor", &schema::SENSOR)
            .iter()
            .map(meter::sensor)
            .collect(),
        inputs: file
            .array("input", &schema::INPUT)
            .iter()
            .map(switches::input)
            .collect(),
        mqtt: tables("mqtt").and_then(|keys| meter::mqtt(&keys)),
    };
    for (key, why) in [
        ("pixel", "which kinds of pixel there are"),
        ("panel", "which kinds of panel there are"),
        ("run", "which panels hang on which slots"),
        ("circuit", "which mains circuits feed the supplies"),
        ("supply", "which power supplies there are"),
        ("feed", "which panels hang on which fuse"),
    ] {
        if file.get(key).is_none() {
            let example = schema::FILE.example(key);
            let message = format!("the file does not say {why}");
            let help = format!("add at least one table {example}");
            sink.add(Fault::new("missing-table", &top(), message, help));
        }
    }
    draft
}

fn section<'s>(entry: &Entry<'s>, key: &str) -> Option<Keys<'s>> {
    let (section, called) = match key {
        "grid" => (&schema::GRID, "[grid]"),
        "signal" => (&schema::SIGNAL, "[signal]"),
        "delivery" => (&schema::DELIVERY, "[delivery]"),
        "plan" => (&schema::PLAN, "[plan]"),
        "alarm" => (&schema::ALARM, "[alarm]"),
        "machine" => (&schema::MACHINE, "[machine]"),
        "network" => (&schema::NETWORK, "[network]"),
        "standby" => (&schema::STANDBY, "[standby]"),
        "mqtt" => (&schema::MQTT, "[mqtt]"),
        _ => (&schema::CAP, "[cap]"),
    };
    entry.table_called(section, called)
}

fn grid(keys: &Keys<'_>) -> GridDraft {
    let size = |key, most: u16| {
        keys.need(key)
            .and_then(|entry| entry.whole(&(1..=i64::from(most))))
            .map(|size| size.value)
    };
    GridDraft {
        span: keys.span.clone(),
        columns: size("columns", defaults::MOST_COLUMNS),
        rows: size("rows", defaults::MOST_ROWS),
        panel_mm: keys
            .need("panel_mm")
            .and_then(|entry| entry.pair(Numbers::UpTo(100_000.0)))
            .map(|size| size.value),
        gap_mm: number_or(
            keys,
            "gap_mm",
            Numbers::Within(0.0, 10_000.0),
            defaults::GAP_MM,
        ),
        panel: keys.get("panel").and_then(|entry| entry.name()),
        empty: keys
            .get("empty")
            .map(|entry| places(&entry))
            .unwrap_or_default(),
    }
}

fn signal(keys: &Keys<'_>) -> Signal {
    let default = defaults::SIGNAL;
    let merge = keys
        .get("merge")
        .and_then(|e| e.word(&[("htp", Merge::Htp), ("ltp", Merge::Ltp)]));
    let fade = keys
        .get("when_lost")
        .and_then(|e| e.word(&[("hold", false), ("fade", true)]));
    let fade = fade.is_some_and(|fade| fade.value);
    let fade_s = number_or(keys, "fade_s", Numbers::UpTo(600.0), defaults::FADE_S);
    if let (Some(entry), false) = (keys.get("fade_s"), fade) {
        let help = "add `when_lost = \"fade\"`, or take `fade_s` out";
        let message = "`fade_s` says nothing when the picture is held";
        keys.fault(Fault::new("needless-key", &entry.span(), message, help));
    }
    let when_ended = keys
        .get("when_ended")
        .and_then(|entry| entry.word(&[("hold", WhenEnded::Hold), ("dark", WhenEnded::Dark)]));
    Signal {
        merge: merge.map_or(default.merge, |merge| merge.value),
        lost_after_s: number_or(
            keys,
            "lost_after_s",
            Numbers::Within(0.1, 3_600.0),
            default.lost_after_s,
        ),
        when_lost: if fade {
            WhenLost::Fade { s: fade_s }
        } else {
            default.when_lost
        },
        when_ended: when_ended.map_or(default.when_ended, |when| when.value),
    }
}

fn delivery(keys: &Keys<'_>) -> Delivery {
    let default = defaults::DELIVERY;
    let copies = keys.get("copies").and_then(|entry| entry.whole(&(1..=10)));
    let late_ms = keys
        .get("late_ms")
        .and_then(|entry| entry.whole(&(0..=200)));
    Delivery {
        copies: copies.map_or(default.copies, |copies| copies.value),
        late_ms: late_ms.map_or(default.late_ms, |late_ms| late_ms.value),
    }
}

fn cap(keys: &Keys<'_>) -> CapSettings {
    let default = defaults::CAP;
    CapSettings {
        margin: number_or(keys, "margin", Numbers::UpTo(1.0), default.margin),
        let_up_s: number_or(
            keys,
            "let_up_s",
            Numbers::Within(0.1, 60.0),
            default.let_up_s,
        ),
        floor_va: keys
            .get("floor_va")
            .and_then(|entry| entry.number(Numbers::UpTo(1e7)))
            .map(|va| va.value),
    }
}

fn plan(keys: &Keys<'_>) -> PlanSettings {
    let default = defaults::PLAN;
    let celsius = Numbers::Within(-40.0, 120.0);
    PlanSettings {
        ambient_c: number_or(keys, "ambient_c", celsius, default.ambient_c),
        copper_c: number_or(keys, "copper_c", celsius, default.copper_c),
        drop_percent: number_or(
            keys,
            "drop_percent",
            Numbers::UpTo(50.0),
            default.drop_percent,
        ),
        typical: number_or(keys, "typical", Numbers::UpTo(1.0), default.typical),
    }
}

fn alarm(keys: &Keys<'_>) -> AlarmSettings {
    let default = defaults::ALARM;
    AlarmSettings {
        near_percent: number_or(
            keys,
            "near_percent",
            Numbers::Within(10.0, 100.0),
            default.near_percent,
        ),
        capping_s: number_or(
            keys,
            "capping_s",
            Numbers::Within(1.0, 3_600.0),
            default.capping_s,
        ),
        webhook: keys
            .get("webhook")
            .and_then(|entry| entry.parsed("bad-address", Webhook::read))
            .map(|webhook| webhook.value),
    }
}

fn machine(keys: &Keys<'_>) -> MachineSettings {
    let core = keys
        .get("core")
        .and_then(|entry| entry.whole(&(0..=defaults::LAST_CORE)));
    let priority = keys
        .get("real_time_priority")
        .and_then(|entry| entry.whole(&(1..=defaults::MOST_PRIORITY)));
    MachineSettings {
        core: core.map(|core| core.value),
        real_time_priority: priority.map(|priority| priority.value),
    }
}

/// A number, or what holds when nothing is said.
fn number_or(keys: &Keys<'_>, key: &str, range: Numbers, default: f64) -> f64 {
    keys.get(key)
        .and_then(|entry| entry.number(range))
        .map_or(default, |number| number.value)
}

/// A number that must be there.
fn number(keys: &Keys<'_>, key: &str, range: Numbers) -> Option<f64> {
    keys.need(key)
        .and_then(|entry| entry.number(range))
        .map(|number| number.value)
}

/// A list of positions and rectangles.
fn places(entry: &Entry<'_>) -> Places {
    gather(entry, |item| rectangle(item).map(|place| vec![place]))
}

/// A list whose elements each name some places, in their order.
fn gather(entry: &Entry<'_>, read: impl FnMut(&Entry<'_>) -> Option<Vec<Place>>) -> Places {
    let Some(items) = entry.list() else {
        return Places {
            list: Vec::new(),
            broken: true,
        };
    };
    let read: Vec<Vec<Place>> = items.iter().filter_map(read).collect();
    Places {
        broken: read.len() < items.len(),
        list: read.into_iter().flatten().collect(),
    }
}

fn rectangle(entry: &Entry<'_>) -> Option<Place> {
    let rectangle = entry.parsed("bad-position", Rectangle::parse)?;
    Some(Place {
        rectangle: rectangle.value,
        span: rectangle.span,
        lie: Lie::default(),
    })
}

/// `name` with a number after it, for one of several that are described together.
fn numbered(name: Option<&At<String>>, number: usize) -> Option<At<String>> {
    name.map(|name| At {
        value: format!("{} {number}", name.value),
        span: name.span.clone(),
    })
}

/// The panels of the places, `most` in each list, in order. Absurdly many are left together: the
/// checks tell of them.
fn split_up(places: Vec<Place>, most: usize) -> Vec<Vec<Place>> {
    let count: u64 = places.iter().map(|place| place.rectangle.count()).sum();
    if places.is_empty() || count > defaults::MOST_PANELS as u64 {
        return vec![places];
    }
    let singles: Vec<Place> = places.iter().flat_map(Place::singles).collect();
    singles.chunks(most).map(<[Place]>::to_vec).collect()
}
