//! Someone truthful with a phone.

use litfloor::floor::model::Floor;
use litfloor::floor::tables::{Tables, UNIVERSE_SLOTS};
use litfloor::pattern::{Show, Start};
use litfloor::sim::installer::{Installed, Slots};
use litfloor::sim::onlooker::{Drawn, Onlooker};
use litfloor::stepping::{Answer, Ask, Walk};

/// The slots that the daemon sends for an order: what `engine/picture.rs` does, universe by
/// universe, by the planned patch.
fn sent(start: &Start, plan: &Floor, tables: &Tables) -> Slots {
    let show = Show::new(start, plan, tables).unwrap();
    let lit = show.lit(0);
    let mut all = Slots::new();
    for (out, universe) in tables.outputs.iter().enumerate() {
        let mut slots = [0_u8; UNIVERSE_SLOTS];
        show.paint(tables, &lit, 0, out, &mut slots);
        let node = universe.node.map(|node| node as usize);
        for (slot, level) in (0_u16..).zip(slots) {
            if level > 0 {
                all.insert((node, universe.port_address.number(), slot), level);
            }
        }
    }
    all
}

/// A drawing as they compare it.
fn drawn(drawing: &litfloor::stepping::Drawing) -> Drawn {
    let lights = drawing.lights.iter();
    lights
        .map(|light| ([light.x_mm, light.y_mm], light.colour.name().to_owned()))
        .collect()
}

/// What they tap.
pub(crate) fn answer(ask: Ask, drawings: &[Drawn], plan: &Floor, seen: &Onlooker) -> Answer {
    if seen.is_dark() {
        return Answer::Nothing;
    }
    match ask {
        Ask::Look => {
            let mut drawings = (0..).zip(drawings);
            match drawings.find(|(_, drawing)| seen.recognises(drawing)) {
                Some((drawing, _)) => Answer::Drawing { drawing },
                None => Answer::Panel {
                    position: seen.brightest().unwrap().to_string(),
                },
            }
        }
        Ask::Tap => {
            let (position, [x, y]) = seen.pixel().unwrap();
            let (left, top, ..) = plan.panel_rect_mm(plan.panel_at(position).unwrap());
            Answer::Point {
                position: position.to_string(),
                x_mm: x - left,
                y_mm: y - top,
            }
        }
        Ask::Colour => {
            let colour = serde_json::Value::String(seen.colour().unwrap());
            Answer::Colour {
                colour: serde_json::from_value(colour).unwrap(),
            }
        }
    }
}

/// Walks across a floor and answers everything; the number of taps.
pub(crate) fn walk_across(walk: &mut Walk, plan: &Floor, installed: &Installed) -> usize {
    let tables = Tables::compile(plan);
    let mut taps = 0;
    while let Some(question) = walk.question() {
        assert_eq!(question.number, taps);
        let seen = Onlooker::at(installed, &sent(&question.start, plan, &tables));
        let drawings: Vec<Drawn> = question.drawings.iter().map(drawn).collect();
        let answer = answer(question.ask, &drawings, plan, &seen);
        walk.answer(answer).unwrap();
        taps += 1;
        assert!(taps < 10 * plan.panels.len() + 100, "it never ends");
    }
    taps
}
