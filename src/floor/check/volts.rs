//! Every panel gets the voltage that its pixels need.

use std::collections::BTreeMap;

use super::super::draft::Draft;
use super::super::fault::Fault;
use super::super::model::Position;
use super::super::sink::{Sink, quoted};
use super::grid::Laid;
use super::named;
use super::names::Links;

/// Compares the supply of every feed with the pixels that hang on it.
pub(super) fn check(sink: &Sink, draft: &Draft, links: &Links, laid: &Laid) {
    let mut wrong: BTreeMap<(usize, usize, usize), Vec<Position>> = BTreeMap::new();
    for (panel, claim) in laid.feeds.by_panel.iter().enumerate() {
        let pixel = laid.kind[panel].and_then(|kind| links.panel_pixel[kind]);
        let supply = claim.and_then(|(feed, _)| links.feed_supply[feed]);
        let (Some(pixel), Some(supply), Some((feed, _))) = (pixel, supply, claim) else {
            continue;
        };
        let (Some(has), Some(needs)) = (&draft.supplies[supply].volts, &draft.pixels[pixel].volts)
        else {
            continue;
        };
        if (has.value - needs.value).abs() > 1e-9 {
            wrong
                .entry((*feed, supply, pixel))
                .or_default()
                .push(laid.positions[panel]);
        }
    }
    for ((feed, supply, pixel), positions) in wrong {
        let (Some(has), Some(needs)) = (&draft.supplies[supply].volts, &draft.pixels[pixel].volts)
        else {
            continue;
        };
        let message = format!(
            "{} V goes to panels whose pixels need {} V: {}",
            has.value,
            needs.value,
            named(&positions)
        );
        let help = "feed them from a supply of their voltage: too much destroys pixels, too little \
                    makes them flicker";
        let mut fault = Fault::new("volts-differ", &has.span, message, help).and(
            &needs.span,
            format!("pixels {}", quoted(&draft.pixels[pixel].name.value)),
        );
        if let Some(supply) = &draft.feeds[feed].supply {
            fault = fault.and(&supply.span, "through this feed");
        }
        sink.add(fault);
    }
}
