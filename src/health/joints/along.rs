//! Which segments of a strip power still reaches when a joint between two of them is open.

use crate::floor::model::{Fed, PanelKind};

/// Where power enters: before these segments, counted from 0; as many as there are segments is
/// behind the last. A segment that is fed at one of its pixels is fed at both its sides.
pub(super) fn entries(kind: &PanelKind) -> Vec<Entry> {
    let last = kind.segments.len() - 1;
    match kind.strip.as_ref().map(|strip| &strip.fed) {
        None | Some(Fed::Start) => vec![Entry { segment: 0 }],
        Some(Fed::End) => vec![Entry { segment: last }],
        Some(Fed::Both) => vec![Entry { segment: 0 }, Entry { segment: last }],
        Some(Fed::Pixels(pixels)) => {
            let segment_of = |pixel: u32| {
                let mut end = 0;
                let ends = kind.segments.iter().map(|pixels| {
                    end += pixels;
                    end
                });
                ends.take_while(|end| *end <= pixel).count()
            };
            let mut entries: Vec<Entry> = pixels
                .iter()
                .map(|pixel| Entry {
                    segment: segment_of(*pixel),
                })
                .collect();
            entries.dedup();
            entries
        }
    }
}

/// The segment that power enters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Entry {
    pub(super) segment: usize,
}

/// Segments that no power reaches while the joint before `open` is open.
pub(super) fn cut_off(kind: &PanelKind, open: usize) -> std::ops::Range<usize> {
    let entries = entries(kind);
    let before = entries.iter().any(|entry| entry.segment < open);
    let behind = entries.iter().any(|entry| entry.segment >= open);
    match (before, behind) {
        (true, false) => open..kind.segments.len(),
        (false, true) => 0..open,
        _ => 0..0,
    }
}
