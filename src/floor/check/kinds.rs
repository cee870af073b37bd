//! Kinds of panel against their own numbers and the grid's.

use super::super::defaults::MOST_PIXELS;
use super::super::draft::{Draft, PanelDraft, Shape};
use super::super::fault::Fault;
use super::super::model::Fed;
use super::super::sink::{Sink, quoted};
use super::grid::Laid;

/// Segments, places of pixels, and numbers that no floor has.
pub(super) fn check(sink: &Sink, draft: &Draft) {
    for pixel in &draft.pixels {
        let (Some(idle), Some(limit)) = (pixel.idle_ua, &pixel.limit_ua) else {
            continue;
        };
        if limit.value < idle {
            let message = "`limit_ma` is less than the pixel draws when dark";
            let help = "no cap can go below `idle_ma`: write what one pixel may draw in all";
            sink.add(Fault::new("limit-below-idle", &limit.span, message, help));
        }
    }
    let size = draft.grid.as_ref().and_then(|grid| grid.panel_mm);
    let mut sum = 0;
    for panel in &draft.panels {
        let Some(shape) = &panel.shape else { continue };
        segments(sink, panel, shape);
        fed(sink, panel, shape);
        let before = sum;
        sum += shape.pixels();
        if sum > MOST_PIXELS && before <= MOST_PIXELS {
            let message = format!("the kinds of panel have more than {MOST_PIXELS} pixels");
            sink.add(Fault::new(
                "too-many-pixels",
                shape.span(),
                message,
                "check the numbers for a slip",
            ));
        }
        if let (Shape::List { pixels, .. }, Some([width, height])) = (shape, size) {
            for pixel in pixels {
                let [x, y] = pixel.value;
                if !(0.0..=width).contains(&x) || !(0.0..=height).contains(&y) {
                    let message = format!("the pixel at {x}, {y} mm lies outside its panel");
                    let help = format!(
                        "the panel is {width} × {height} mm; count from its upper left corner, \
                         x to the right, y down"
                    );
                    sink.add(Fault::new(
                        "pixel-outside-panel",
                        &pixel.span,
                        message,
                        help,
                    ));
                }
            }
        }
    }
}

fn segments(sink: &Sink, panel: &PanelDraft, shape: &Shape) {
    let Some(segments) = &panel.segments else {
        return;
    };
    let sum: u64 = segments.value.iter().map(|pixels| u64::from(*pixels)).sum();
    let pixels = shape.pixels();
    if sum != pixels {
        let name = quoted(&panel.name.value);
        let message =
            format!("the segments of {name} have {sum} pixels together, the panel has {pixels}");
        let help = format!("write the pixels of every segment in wiring order; together {pixels}");
        let fault = Fault::new("segment-sum", &segments.span, message, help);
        sink.add(fault.and(shape.span(), format!("{pixels} pixels")));
    }
}

/// Power can only enter at a pixel that the panel has.
fn fed(sink: &Sink, panel: &PanelDraft, shape: &Shape) {
    let Some(strip) = &panel.strip else { return };
    let (Fed::Pixels(fed), pixels) = (&strip.fed.value, shape.pixels()) else {
        return;
    };
    if let Some(last) = fed.last().filter(|last| u64::from(**last) >= pixels) {
        let message = format!(
            "power can't enter at pixel {}: the panel has {pixels}",
            last + 1
        );
        let help = "write the numbers of the pixels where wires are soldered on, in wiring order";
        let fault = Fault::new("no-such-pixel", &strip.fed.span, message, help);
        sink.add(fault.and(shape.span(), format!("{pixels} pixels")));
    }
}

/// Whether the pixels of the whole floor are as many as a floor can have.
pub(super) fn total(sink: &Sink, draft: &Draft, laid: &Laid) -> bool {
    let pixels = |kind: &Option<usize>| {
        kind.and_then(|kind| draft.panels[kind].shape.as_ref())
            .map_or(0, Shape::pixels)
    };
    let sum: u64 = laid.kind.iter().map(pixels).sum();
    let sound = sum <= MOST_PIXELS;
    if !sound {
        let message = format!("the floor has {sum} pixels");
        let help = format!("at most {MOST_PIXELS} are possible; check the numbers for a slip");
        let span = draft.grid.as_ref().map_or(0..0, |grid| grid.span.clone());
        sink.add(Fault::new("too-many-pixels", &span, message, help));
    }
    sound
}
