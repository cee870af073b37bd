//! Kinds of pixel and panel.

use super::super::defaults;
use super::super::draft::{PanelDraft, PixelDraft, Shape};
use super::super::entry::{Entry, Numbers};
use super::super::fault::Fault;
use super::super::matrix::{First, Way, Wiring};
use super::super::model::{Colour, Drive, Load, SlotRole};
use super::super::schema;
use super::super::sink::At;
use super::super::walk::Keys;
use super::super::wire_order;
use super::{copper, number, number_or, places};

/// The largest current of one colour, or of a dark pixel.
const MOST_MA: f64 = 10_000.0;

/// Reads `[pixel.NAME]`.
pub(super) fn pixel((name, keys): (At<String>, Keys<'_>)) -> PixelDraft {
    let order = keys
        .need("slots")
        .and_then(|e| e.parsed("bad-slots", wire_order::parse));
    let currents = keys
        .need("full_ma")
        .and_then(|e| full_ma(&e, order.as_ref()));
    let slots = order.zip(currents).map(|(order, currents)| {
        let role = |letter: wire_order::Letter| SlotRole {
            colour: letter.colour,
            byte: letter.byte,
            full_ua: currents[letter.colour as usize],
        };
        order.value.into_iter().map(role).collect()
    });
    let volts = keys
        .need("volts")
        .and_then(|e| e.number(Numbers::UpTo(1_000.0)));
    PixelDraft {
        name,
        slots,
        load: load(&keys, volts.as_ref().map_or(1_000.0, |volts| volts.value)),
        drive: keys
            .get("drive")
            .and_then(|entry| entry.word(&Drive::ALL))
            .map_or_else(Drive::default, |word| word.value),
        volts,
        idle_ua: keys.need("idle_ma").and_then(|e| microamperes(&e)),
        limit_ua: keys.get("limit_ma").and_then(|e| {
            let value = microamperes(&e)?;
            Some(At {
                value,
                span: e.span(),
            })
        }),
    }
}

/// How the current follows the voltage, for pixels made for `volts`.
fn load(keys: &Keys<'_>, volts: f64) -> Load {
    let kinds = [("constant-current", true), ("resistive", false)];
    let kind = keys.get("load").and_then(|entry| entry.word(&kinds));
    let constant = kind.is_none_or(|kind| kind.value);
    let within = Numbers::Within(0.0, volts);
    let dark_volts = number_or(keys, "dark_volts", within, 0.0);
    let full = keys.get("full_volts");
    if !constant && let Some(entry) = &full {
        let message = "`full_volts` says nothing of a resistive load, which is full at `volts`";
        let help = "take `full_volts` out, or write `load = \"constant-current\"`";
        keys.fault(Fault::new("needless-key", &entry.span(), message, help));
    }
    let given = full.as_ref().and_then(|entry| entry.number(within));
    let full_volts = given
        .as_ref()
        .map_or((dark_volts + defaults::FULL_VOLTS).min(volts), |full| {
            full.value
        });
    let top = if constant { full_volts } else { volts };
    if top <= dark_volts {
        let at = given.map(|full| full.span);
        let at = at.or_else(|| keys.get("dark_volts").map(|entry| entry.span()));
        let message =
            format!("a pixel that is dark at {dark_volts} V must be full at more than that");
        let help = "write the voltage where its light is gone as `dark_volts`, and the one from \
                    which on it is full as `full_volts`, up to `volts`";
        if let Some(at) = at {
            keys.fault(Fault::new("volts-order", &at, message, help));
        }
    }
    if constant {
        Load::ConstantCurrent {
            dark_volts,
            full_volts,
        }
    } else {
        Load::Resistive { dark_volts }
    }
}

/// Microamperes by colour. The colours must be those of the slots, no more and no fewer.
fn full_ma(entry: &Entry<'_>, order: Option<&At<Vec<wire_order::Letter>>>) -> Option<[u32; 4]> {
    let table = entry.table(&schema::FULL_MA)?;
    let mut sound = true;
    let mut currents = [0; 4];
    for colour in Colour::ALL {
        let name = colour.name();
        let given = table.get(name);
        if let Some(given) = &given {
            match microamperes(given) {
                Some(ua) => currents[colour as usize] = ua,
                None => sound = false,
            }
        }
        let Some(order) = order else { continue };
        let has_slot = order.value.iter().any(|letter| letter.colour == colour);
        match given {
            Some(given) if !has_slot => {
                let message = format!("`full_ma` names {name}, which has no slot");
                let help = format!("take {name} out, or give it a letter in `slots`");
                let fault = Fault::new("colour-without-slot", &given.span(), message, help);
                table.fault(fault.and(&order.span, "the slots"));
                sound = false;
            }
            None if has_slot => {
                let message = format!("`full_ma` does not name {name}, which has a slot");
                let help = format!("add `{}`: its milliamperes at full", table_example(name));
                let fault = Fault::new("colour-without-current", &table.span, message, help);
                table.fault(fault.and(&order.span, "the slots"));
                sound = false;
            }
            _ => {}
        }
    }
    sound.then_some(currents)
}

fn table_example(colour: &str) -> &'static str {
    schema::FULL_MA.example(colour)
}

/// Milliamperes as whole microamperes; finer ones can't be summed exactly.
fn microamperes(entry: &Entry<'_>) -> Option<u32> {
    let ma = entry.number(Numbers::Within(0.0, MOST_MA))?;
    let ua = ma.value * 1_000.0;
    if (ua - ua.round()).abs() > 1e-6 {
        let message = "a current finer than a microampere can't be reckoned with";
        let help = "write milliamperes with at most three decimals, for example 18.5";
        entry.fault(Fault::new("too-fine", &ma.span, message, help));
        return None;
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "0 to 10^7"
    )]
    Some(ua.round() as u32)
}

/// Reads `[panel.NAME]`.
pub(super) fn panel((name, keys): (At<String>, Keys<'_>)) -> PanelDraft {
    let count = |entry: &Entry<'_>| {
        entry
            .whole::<u32>(&(1..=2_000_000))
            .map(|count| count.value)
    };
    let segments = keys.get("segments").and_then(|entry| {
        let items = entry.list()?;
        let counts: Vec<u32> = items.iter().filter_map(count).collect();
        (counts.len() == items.len()).then(|| At {
            value: counts,
            span: entry.span(),
        })
    });
    let switches = keys
        .get("switches")
        .and_then(|entry| entry.whole(&(0..=1_000)));
    PanelDraft {
        name,
        pixel: keys.need("pixel").and_then(|entry| entry.name()),
        shape: shape(&keys),
        segments,
        switches: switches.map_or(0, |switches| switches.value),
        rated_a: keys
            .get("rated_a")
            .and_then(|_| number(&keys, "rated_a", Numbers::UpTo(10_000.0))),
        strip: copper::strip(&keys),
        tail: copper::cable(&keys, "tail"),
        at: keys
            .get("at")
            .map(|entry| places(&entry))
            .unwrap_or_default(),
    }
}

/// Either `columns` and `rows` (and `wiring`) or `pixels_mm`.
fn shape(keys: &Keys<'_>) -> Option<Shape> {
    let Some(list) = keys.get("pixels_mm") else {
        if keys.get("columns").is_none() && keys.get("rows").is_none() {
            let message = format!("{} does not say where its pixels lie", keys.called);
            let help = "add `columns` and `rows` for a matrix, or `pixels_mm` with the centre of every pixel";
            keys.fault(Fault::new("missing-key", &keys.span, message, help));
            return None;
        }
        let side = |key| {
            keys.need(key)
                .and_then(|entry| entry.whole::<u32>(&(1..=10_000)))
        };
        let wiring = keys
            .get("wiring")
            .map_or(Some(Wiring::default()), |entry| wiring(&entry));
        let (columns, rows) = (side("columns"), side("rows"));
        let (columns, rows) = (columns?, rows?);
        return Some(Shape::Matrix {
            columns: columns.value,
            rows: rows.value,
            wiring: wiring?,
            span: columns.span,
        });
    };
    for key in ["columns", "rows", "wiring"] {
        if let Some(entry) = keys.get(key) {
            let message =
                format!("`{key}` describes a matrix, but `pixels_mm` gives every pixel its place");
            let help = format!("take `{key}` out, or take `pixels_mm` out");
            let fault = Fault::new("needless-key", &entry.span(), message, help);
            keys.fault(fault.and(&list.span(), "the places of the pixels"));
        }
    }
    let items = list.list()?;
    if items.is_empty() {
        let help =
            "write the centre of every pixel in wiring order, for example [[50, 50], [150, 50]]";
        list.fault(Fault::new(
            "empty-list",
            &list.span(),
            "a panel needs at least one pixel",
            help,
        ));
        return None;
    }
    let range = Numbers::Within(-1e6, 1e6);
    let pixels: Vec<_> = items.iter().filter_map(|item| item.pair(range)).collect();
    (pixels.len() == items.len()).then(|| Shape::List {
        pixels,
        span: list.span(),
    })
}

fn wiring(entry: &Entry<'_>) -> Option<Wiring> {
    let keys = entry.table(&schema::WIRING)?;
    let default = Wiring::default();
    let first = keys.get("first").map_or(Some(default.first), |entry| {
        entry.word(&First::WORDS).map(|word| word.value)
    });
    let way = keys.get("path").map_or(Some(default.way), |entry| {
        entry.word(&Way::WORDS).map(|word| word.value)
    });
    let corner = keys
        .get("from")
        .map_or(Some((default.right, default.bottom)), |entry| {
            let corners = [
                ("top-left", (false, false)),
                ("top-right", (true, false)),
                ("bottom-left", (false, true)),
                ("bottom-right", (true, true)),
            ];
            entry.word(&corners).map(|word| word.value)
        });
    let (right, bottom) = corner?;
    Some(Wiring {
        first: first?,
        way: way?,
        right,
        bottom,
    })
}
