//! The floor made ready to be served: from the model and its tables to what the API shows.

use std::collections::HashSet;
use std::sync::{Arc, OnceLock};

use axum::body::Bytes;

use super::document::{
    AfterEnd, AfterLoss, Cap, Circuit, Delivery, Feed, FloorDocument, Grid, Merge, Node, Packing,
    Panel, Pixel, Run, RunSource, Signal, Span, Supply, Universe,
};
use super::messages;
use crate::floor::model::{self, PixelKind, Position, WhenEnded, WhenLost};
use crate::floor::{Floor, FloorFile, SlotSpan, Tables};

/// The floor, made ready to be served.
#[derive(Debug, Clone)]
pub struct FloorView {
    /// The floor as the API shows it.
    pub document: FloorDocument,
    /// The same as JSON, and the live stream's layout message: of a large floor they are megabytes, so they
    /// are made when somebody first looks.
    json: OnceLock<Bytes>,
    layout: OnceLock<Bytes>,
    /// Number of pixels.
    pub pixels: usize,
    /// The floor itself.
    pub floor: Arc<Floor>,
    /// Its tables.
    pub tables: Arc<Tables>,
    /// The file that describes it.
    pub file: FloorFile,
}

impl FloorView {
    /// Makes the `floor` of a `file` ready. `revision` counts up whenever the floor is replaced; `simulated` is
    /// for a floor that is not real.
    pub fn new(
        file: FloorFile,
        floor: &Arc<Floor>,
        tables: &Arc<Tables>,
        revision: u32,
        simulated: bool,
    ) -> Self {
        let mut document = FloorDocument::new(floor, tables, revision);
        document.simulated = simulated;
        Self {
            document,
            json: OnceLock::new(),
            layout: OnceLock::new(),
            pixels: tables.pixels_mm.len(),
            floor: Arc::clone(floor),
            tables: Arc::clone(tables),
            file,
        }
    }

    /// The document as JSON.
    pub fn json(&self) -> Bytes {
        self.json.get_or_init(|| self.written().into()).clone()
    }

    /// The live stream's layout message.
    pub fn layout(&self) -> Bytes {
        let make = || {
            let revision = self.document.revision;
            messages::layout(revision, &self.json(), &self.tables.pixels_mm)
        };
        self.layout.get_or_init(make).clone()
    }

    /// Plain fields and text keys can always be written; were it not so, it is said, and the frames go on.
    fn written(&self) -> Vec<u8> {
        let mut json = serde_json::to_vec(&self.document).unwrap_or_else(|error| {
            tracing::error!(%error, "the floor can't be written as JSON");
            b"{}".to_vec()
        });
        json.shrink_to_fit();
        json
    }
}

impl FloorDocument {
    /// Shows `floor`.
    pub fn new(floor: &Floor, tables: &Tables, revision: u32) -> Self {
        let margin = floor.cap.margin;
        let grid = &floor.grid;
        let (width_mm, height_mm) = floor.size_mm();
        let (when_lost, fade_s) = match floor.signal.when_lost {
            WhenLost::Hold => (AfterLoss::Hold, None),
            WhenLost::Fade { s } => (AfterLoss::Fade, Some(s)),
        };
        let spans = floor.all_spans();
        let source_spans = floor.all_source_spans();
        let panels = spans.iter().zip(&source_spans).enumerate();
        let panels = panels.map(|(index, spans)| panel(floor, tables, index, spans));
        let circuits = floor.circuits.iter().map(|circuit| Circuit {
            name: circuit.name.clone(),
            volts: circuit.volts.0,
            rated_a: circuit.rated_a.0,
            limit_a: circuit.rated_a.0 * margin,
        });
        let supplies = floor.supplies.iter().map(|supply| Supply {
            name: supply.name.clone(),
            circuit: floor.circuits[supply.circuit].name.clone(),
            volts: supply.volts.0,
            rated_a: supply.rated_a.0,
            limit_a: supply.rated_a.0 * margin,
            efficiency: supply.efficiency,
            power_factor: supply.power_factor,
        });
        let feeds = floor.feeds.iter().map(|feed| Feed {
            name: feed.name.clone(),
            supply: floor.supplies[feed.supply].name.clone(),
            fuse_a: feed.fuse_a.0,
            limit_a: feed.fuse_a.0 * margin,
            cable_known: feed.cable.is_some(),
        });
        let universes = tables.universes.iter().map(|universe| Universe {
            port_address: universe.port_address.to_string(),
            slots: universe.slots,
        });
        let nodes = floor.nodes.iter().map(|node| Node {
            name: node.name.clone(),
            address: node.address.to_string(),
        });
        Self {
            name: floor.name.clone(),
            revision,
            width_mm,
            height_mm,
            grid: Grid {
                columns: grid.columns,
                rows: grid.rows,
                panel_mm: grid.panel_mm.map(|mm| mm.0),
                gap_mm: grid.gap_mm.0,
                empty: empty(floor),
            },
            watch_only: floor.nodes.is_empty(),
            simulated: false,
            book: true,
            cap: Cap {
                margin,
                let_up_s: floor.cap.let_up_s,
            },
            signal: Signal {
                merge: match floor.signal.merge {
                    model::Merge::Htp => Merge::Htp,
                    model::Merge::Ltp => Merge::Ltp,
                },
                lost_after_s: floor.signal.lost_after_s,
                when_lost,
                fade_s,
                when_ended: match floor.signal.when_ended {
                    WhenEnded::Hold => AfterEnd::Hold,
                    WhenEnded::Dark => AfterEnd::Dark,
                },
            },
            delivery: Delivery {
                copies: floor.delivery.copies,
                late_ms: floor.delivery.late_ms,
            },
            panels: panels.collect(),
            runs: floor.runs.iter().map(|one| run(floor, one)).collect(),
            nodes: nodes.collect(),
            circuits: circuits.collect(),
            supplies: supplies.collect(),
            feeds: feeds.collect(),
            universes: universes.collect(),
            pixel_kinds: floor.pixel_kinds.iter().map(pixel).collect(),
        }
    }
}

/// Positions without a panel, row by row.
fn empty(floor: &Floor) -> Vec<String> {
    let taken: HashSet<_> = floor.panels.iter().map(|panel| panel.position).collect();
    let rows = 0..floor.grid.rows;
    let all =
        rows.flat_map(|row| (0..floor.grid.columns).map(move |column| Position { row, column }));
    all.filter(|position| !taken.contains(position))
        .map(|position| position.to_string())
        .collect()
}

fn node_name(floor: &Floor, run: &model::Run) -> Option<String> {
    run.node.map(|node| floor.nodes[node].name.clone())
}

fn packing(packing: model::Packing) -> Packing {
    match packing {
        model::Packing::Packed => Packing::Packed,
        model::Packing::WholePixel => Packing::WholePixel,
        model::Packing::WholePanel => Packing::WholePanel,
    }
}

fn run(floor: &Floor, run: &model::Run) -> Run {
    let position = |&panel: &usize| floor.panels[panel].position.to_string();
    Run {
        node: node_name(floor, run),
        port: run.port,
        start: run.start.to_string(),
        slot: run.slot,
        packing: packing(run.packing),
        source: run.source.map(|source| RunSource {
            start: source.start.to_string(),
            slot: source.slot,
            packing: packing(source.packing),
        }),
        panels: run.panels.iter().map(position).collect(),
    }
}

fn panel(
    floor: &Floor,
    tables: &Tables,
    index: usize,
    (spans, source_spans): (&Vec<SlotSpan>, &Vec<SlotSpan>),
) -> Panel {
    let panel = &floor.panels[index];
    let row = &tables.panels[index];
    let kind = &floor.panel_kinds[panel.kind];
    let run = &floor.runs[panel.run];
    let feed = &floor.feeds[panel.feed];
    let supply = &floor.supplies[feed.supply];
    let (x_mm, y_mm, width_mm, height_mm) = floor.panel_rect_mm(index);
    let span = |span: &SlotSpan| Span {
        port_address: span.port_address.to_string(),
        first_slot: span.first_slot,
        last_slot: span.last_slot,
    };
    Panel {
        position: panel.position.to_string(),
        kind: kind.name.clone(),
        pixel_kind: floor.pixel_kinds[kind.pixel_kind].name.clone(),
        x_mm,
        y_mm,
        width_mm,
        height_mm,
        turn_deg: panel.turn_deg,
        mirrored: panel.mirrored,
        serial: panel.serial.clone(),
        spare_slots: panel.lead.spare_slots,
        unused_pixels: panel.lead.unused_pixels,
        first_pixel: row.first_pixel,
        pixels: row.pixels,
        segments: row.segments.clone(),
        switches: kind.switches,
        run: panel.run,
        node: node_name(floor, run),
        port: run.port,
        spans: spans.iter().map(span).collect(),
        source_spans: source_spans.iter().map(span).collect(),
        feed: feed.name.clone(),
        supply: supply.name.clone(),
        circuit: floor.circuits[supply.circuit].name.clone(),
        idle_a: row.idle.amps().0,
        full_a: (row.idle + row.full).amps().0,
        limit_a: kind.rated_a.map(|rated| rated.0 * floor.cap.margin),
        strip_known: kind.strip.is_some(),
    }
}

fn pixel(kind: &PixelKind) -> Pixel {
    let colours = kind.slots.iter();
    Pixel {
        name: kind.name.clone(),
        slots: kind.wire_order(),
        volts: kind.volts.0,
        idle_ma: f64::from(kind.idle_ua) / 1e3,
        full_ma: colours
            .map(|slot| (slot.colour.name().to_owned(), f64::from(slot.full_ua) / 1e3))
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;
    use crate::floor::testing;

    fn view() -> Value {
        let view = FloorView::new(
            crate::web::testing::no_file(),
            &Arc::new(testing::floor()),
            &Arc::new(testing::tables()),
            3,
            true,
        );
        serde_json::from_slice(&view.json()).unwrap()
    }

    #[test]
    fn shows_the_floor_as_agreed() {
        let view = view();
        assert_eq!(view["revision"], 3);
        assert_eq!(
            (&view["width_mm"], &view["height_mm"]),
            (&json!(810.0), &json!(810.0))
        );
        assert_eq!(
            view["grid"],
            json!({"columns": 2, "rows": 2, "panel_mm": [400.0, 400.0], "gap_mm": 10.0,
                   "empty": ["B2"]})
        );
        assert_eq!(
            (&view["watch_only"], &view["simulated"]),
            (&json!(false), &json!(true))
        );
        assert_eq!(
            view["signal"],
            json!({"merge": "htp", "lost_after_s": 3.0, "when_lost": "fade", "fade_s": 2.0, "when_ended": "hold"})
        );
        assert_eq!(
            view["runs"][0],
            json!({"node": "north", "port": 1, "start": "0:0:1", "slot": 1, "packing": "whole_pixel", "source": null,
                   "panels": ["A1", "B1"]})
        );
        assert_eq!(
            view["nodes"][1],
            json!({"name": "south", "address": "127.0.0.22:6454"})
        );
        assert_eq!(
            view["universes"][1],
            json!({"port_address": "0:0:2", "slots": 512})
        );
        assert_eq!(
            view["feeds"][1],
            json!({"name": "F2", "supply": "S1", "fuse_a": 10.0, "limit_a": 8.0, "cable_known": false})
        );
        let kinds = &view["pixel_kinds"];
        assert_eq!(
            (&kinds[0]["slots"], &kinds[1]["slots"]),
            (&json!("GRB"), &json!("RrGgBbWw"))
        );
        assert_eq!(
            kinds[0]["full_ma"],
            json!({"red": 18.5, "green": 18.5, "blue": 18.5})
        );
    }

    #[test]
    fn shows_where_a_panel_lies_and_hangs() {
        let panel = &view()["panels"][2];
        assert_eq!(
            (&panel["x_mm"], &panel["y_mm"]),
            (&json!(0.0), &json!(410.0))
        );
        assert_eq!(
            panel["spans"],
            json!([{"port_address": "0:0:2", "first_slot": 501, "last_slot": 512},
                   {"port_address": "0:0:3", "first_slot": 1, "last_slot": 4}])
        );
        assert_eq!(
            (&panel["feed"], &panel["supply"], &panel["circuit"]),
            (&json!("F2"), &json!("S1"), &json!("mains"))
        );
        assert_eq!(panel["limit_a"], json!(null));
        // 2 pixels of 1 mA idle and four colours of 20 mA.
        assert!((panel["idle_a"].as_f64().unwrap() - 0.002).abs() < 1e-9);
        assert!((panel["full_a"].as_f64().unwrap() - 0.162).abs() < 1e-9);
        assert_eq!(view()["panels"][0]["limit_a"], json!(1.6));
    }
}
