//! Strips, cables, and what may be carried for a moment.

use super::super::draft::{BriefDraft, FeedCables, StripDraft};
use super::super::entry::{Entry, Numbers};
use super::super::fault::Fault;
use super::super::model::{Cable, Conductor, Fed, Peak};
use super::super::schema;
use super::super::sink::At;
use super::super::walk::Keys;
use super::number;

/// The largest pixel number of a panel.
const MOST_PIXELS: i64 = 2_000_000;

/// Reads `strip` of a kind of panel.
pub(super) fn strip(keys: &Keys<'_>) -> Option<StripDraft> {
    let entry = keys.get("strip")?;
    let keys = entry.table(&schema::STRIP)?;
    Some(StripDraft {
        ohm_per_m: number(&keys, "ohm_per_m", Numbers::UpTo(1_000.0)),
        pitch_mm: keys
            .get("pitch_mm")
            .and_then(|entry| entry.number(Numbers::UpTo(10_000.0)))
            .map(|pitch| pitch.value),
        fed: keys.get("fed").as_ref().map_or_else(
            || At {
                value: Fed::Start,
                span: entry.span(),
            },
            fed,
        ),
    })
}

/// A word for the ends, or the numbers of pixels. What can't be read has been told.
fn fed(entry: &Entry<'_>) -> At<Fed> {
    let at = |value| At {
        value,
        span: entry.span(),
    };
    if !entry.is_list() {
        const ENDS: [(&str, u8); 3] = [("start", 0), ("end", 1), ("both", 2)];
        let end = entry.word(&ENDS);
        return at(match end.map(|end| end.value) {
            Some(1) => Fed::End,
            Some(2) => Fed::Both,
            _ => Fed::Start,
        });
    }
    let items = entry.list().unwrap_or_default();
    if items.is_empty() {
        let message = "a strip that is fed nowhere stays dark";
        let help =
            "name at least one pixel, for example `fed = [1, 21]`, or an end: `fed = \"start\"`";
        entry.fault(Fault::new("empty-list", &entry.span(), message, help));
    }
    let mut pixels: Vec<u32> = items
        .iter()
        .filter_map(|item| item.whole::<u32>(&(1..=MOST_PIXELS)))
        .map(|pixel| pixel.value - 1)
        .collect();
    pixels.sort_unstable();
    pixels.dedup();
    at(Fed::Pixels(pixels))
}

/// Reads a cable, if there is one.
pub(super) fn cable(keys: &Keys<'_>, key: &str) -> Option<Cable> {
    let keys = keys.get(key)?.table(&schema::CABLE)?;
    let length_m = number(&keys, "length_m", Numbers::UpTo(10_000.0));
    let (mm2, awg) = (keys.get("mm2"), keys.get("awg"));
    if mm2.is_some() == awg.is_some() {
        let message = format!(
            "{} needs either `mm2` or `awg`{}",
            keys.called,
            if mm2.is_some() { ", not both" } else { "" }
        );
        let help = "write what is printed on it: square millimetres as `mm2 = 2.5`, or the gauge as \
                    `awg = 14`";
        keys.fault(Fault::new("one-of-two", &keys.span, message, help));
        return None;
    }
    let conductor = if let Some(entry) = mm2 {
        Conductor::Mm2(entry.number(Numbers::Within(0.05, 1_000.0))?.value)
    } else {
        Conductor::Awg(awg?.whole(&(0..=40))?.value)
    };
    Some(Cable {
        length_m: length_m?,
        conductor,
    })
}

/// Reads the cables of a feed.
pub(super) fn of_feed(keys: &Keys<'_>) -> FeedCables {
    let needs = |key: &str, needed: &str| {
        if let (Some(entry), None) = (keys.get(key), keys.get(needed)) {
            let message = format!("`{key}` needs `{needed}` as well");
            let help = format!("add `{}`, or take `{key}` out", keys.example(needed));
            keys.fault(Fault::new("missing-key", &entry.span(), message, help));
        }
    };
    needs("link", "cable");
    needs("far_cable", "link");
    FeedCables {
        cable: cable(keys, "cable"),
        link: cable(keys, "link"),
        far_cable: cable(keys, "far_cable"),
    }
}

/// Reads `peak` and `slew_a_per_s`.
pub(super) fn brief(keys: &Keys<'_>) -> BriefDraft {
    let peak = keys.get("peak").and_then(|entry| {
        let keys = entry.table(&schema::PEAK)?;
        let (percent, s) = (
            number(&keys, "percent", Numbers::Within(100.0, 300.0)),
            number(&keys, "s", Numbers::UpTo(60.0)),
        );
        Some(Peak {
            percent: percent?,
            s: s?,
        })
    });
    BriefDraft {
        peak,
        slew_a_per_s: keys
            .get("slew_a_per_s")
            .and_then(|entry| entry.number(Numbers::UpTo(1e6))),
    }
}
