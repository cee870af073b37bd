//! The stepping mode over the API: the real program, nodes, an installer who wired wrongly, and
//! someone who answers by what the nodes got.

use std::collections::HashMap;
use std::fmt::Write as _;
use std::net::UdpSocket;

use artnet_protocol::ArtCommand;
use litfloor::floor::model::Position;
use litfloor::sim::installer::{Blunder, Installed, Slots};
use litfloor::sim::onlooker::{Drawn, Onlooker};
use litfloor::stepping::{Ask, Corrected};
use serde_json::{Value, json};

use super::daemon::{self, ANY_PORT, Daemon, Node, PATIENCE};
use super::floors;
use super::person;

/// Twelve panels on two nodes, none of which comes near a limit.
fn twelve_panels(nodes: [&Node; 2]) -> String {
    let mut text = String::from(
        r#"name = "Twelve"   # made up
[grid]
columns = 4
rows = 3
panel_mm = [400, 400]
panel = "tile"
[pixel.strip]
slots = "GRB"
volts = 12
full_ma = { red = 20, green = 20, blue = 20 }
idle_ma = 1
[panel.tile]
pixel = "strip"
columns = 5
rows = 5
[[run]]
node = "n0"
port = 1
start = "0:0:1"
panels = ["A1..D1", "D2", "C2"]   # there and half of the way back
[[run]]
node = "n1"
port = 1
start = "0:0:2"
panels = ["B2", "A2", "A3..D3"]
[[circuit]]
name = "socket"
volts = 230
rated_a = 16
[[supply]]
name = "main"
circuit = "socket"
volts = 12
rated_a = 200
efficiency = 0.9
power_factor = 0.9
[[feed]]
name = "all"
supply = "main"
fuse_a = 200
positions = ["A1..D3"]
"#,
    );
    for (at, node) in nodes.iter().enumerate() {
        let (ip, port) = (node.address.ip(), node.address.port());
        let node = format!("[[node]]\nname = \"n{at}\"\naddress = \"{ip}\"\nport = {port}\n");
        write!(text, "{node}").unwrap();
    }
    text
}

/// What nodes hold, as another library reads what they got.
#[derive(Default)]
struct Held(HashMap<(usize, u16), Vec<u8>>);

impl Held {
    /// Takes in all that was sent to a node by now: up to a mark that is sent after it. On the
    /// loopback nothing overtakes and nothing is on its way when its sender goes on.
    fn hear(&mut self, at: usize, node: &Node, marker: &UdpSocket) {
        const MARK: &[u8] = b"all that came before this";
        marker.send_to(MARK, node.address).unwrap();
        loop {
            let bytes = node.next(PATIENCE).expect("the mark arrives");
            if bytes == MARK {
                return;
            }
            if let Ok(ArtCommand::Output(output)) = ArtCommand::from_buffer(&bytes) {
                let port_address = u16::from(output.port_address);
                self.0
                    .insert((at, port_address), output.data.as_ref().clone());
            }
        }
    }

    fn slots(&self) -> Slots {
        let mut all = Slots::new();
        for ((node, port_address), levels) in &self.0 {
            for (slot, level) in (0..).zip(levels) {
                all.insert((Some(*node), *port_address, slot), *level);
            }
        }
        all
    }
}

fn ask(daemon: &Daemon, method: &str, path: &str, body: &Value) -> Value {
    let (status, told) = daemon.ask(method, path, &body.to_string());
    assert_eq!(status, 200, "{told}");
    told
}

/// The drawings of a question.
fn drawings(question: &Value) -> Vec<Drawn> {
    let drawings = question["drawings"].as_array().unwrap().iter();
    let drawn = |drawing: &Value| -> Drawn {
        let lights = drawing["lights"].as_array().unwrap().iter();
        let light = |light: &Value| {
            let mm = |key: &str| light[key].as_f64().unwrap();
            let colour = light["colour"].as_str().unwrap().to_owned();
            ([mm("x_mm"), mm("y_mm")], colour)
        };
        lights.map(light).collect()
    };
    drawings.map(drawn).collect()
}

#[test]
#[expect(clippy::disallowed_methods, reason = "a mark sent to nodes")]
fn someone_with_a_phone_finds_what_was_wired_wrongly() {
    let nodes = [Node::open("n0"), Node::open("n1")];
    let text = twelve_panels([&nodes[0], &nodes[1]]);
    let (_directory, path) = daemon::file(&text);
    let plan = floors::read(&text);
    let mut installed = Installed::by_plan(&plan);
    let at = |column, row| Position { row, column };
    // B1 and A3, which hang on different nodes; and C3.
    assert!(installed.blunder(Blunder::Swapped(at(1, 0), at(0, 2))));
    assert!(installed.blunder(Blunder::Turned(at(2, 2), 90)));

    let daemon = daemon::run(&path);
    let marker = UdpSocket::bind(ANY_PORT).unwrap();
    let mut held = Held::default();
    // What nodes may have shown before the daemon started is gone.
    daemon.until(PATIENCE, |state| {
        let supply = &state["supplies"][0];
        (supply["reserved_a"] == supply["draw_a"]).then_some(())
    });
    let mut told = ask(&daemon, "POST", "/api/v1/stepping", &json!({"level": 200}));
    let mut taps = 0;
    while let Some(number) = told["walk"]["question"]["number"].as_u64() {
        let walk = &told["walk"];
        assert_eq!(
            (walk["lit"].as_bool(), number),
            (Some(true), taps),
            "{walk:#}"
        );
        // Who taps faster than people can waits until the light may change again.
        // The newest state may still be one from before the answer; the one after it is not.
        let newest = daemon.until(PATIENCE, |state| state["uptime_s"].as_f64());
        daemon.until(PATIENCE, |state| {
            let shown = state["pattern"]["starts_in_s"] == 0.0;
            (shown && state["uptime_s"].as_f64() > Some(newest)).then_some(())
        });
        for (index, node) in nodes.iter().enumerate() {
            held.hear(index, node, &marker);
        }
        let seen = Onlooker::at(&installed, &held.slots());
        let question = &walk["question"];
        let how = match question["ask"].as_str().unwrap() {
            "look" => Ask::Look,
            "tap" => Ask::Tap,
            _ => Ask::Colour,
        };
        let answer = person::answer(how, &drawings(question), &plan, &seen);
        let body = json!({"number": number, "answer": answer});
        told = ask(&daemon, "POST", "/api/v1/stepping/answer", &body);
        taps += 1;
        assert!(
            taps <= 12 + 2 * 2,
            "twelve panels and two mistakes: {told:#}"
        );
    }

    let found = told["walk"]["report"]["differences"].as_array().unwrap();
    let found = found.iter().map(|difference| {
        let positions = difference["positions"].as_array().unwrap().iter();
        let mut positions: Vec<&str> = positions.map(|at| at.as_str().unwrap()).collect();
        positions.sort_unstable();
        (difference["what"].as_str().unwrap(), positions)
    });
    let mut found: Vec<_> = found.collect();
    found.sort_unstable();
    assert_eq!(
        found,
        [("swapped", vec!["A3", "B1"]), ("turned", vec!["C3"])]
    );
    // The walk is over, and the console has the floor again.
    daemon.until(PATIENCE, |state| state["pattern"].is_null().then_some(()));

    let corrected = daemon.json("/api/v1/stepping/corrected");
    let text_of = |key: &str| corrected[key].as_str().unwrap().to_owned();
    assert_eq!(text_of("name"), "floor.toml");
    let (status, file) = daemon.get("/api/v1/stepping/corrected.toml");
    assert_eq!((status, &file), (200, &text_of("text")));
    let corrected = Corrected {
        text: file,
        diff: text_of("diff"),
    };
    floors::corrected_is_true(&text, &corrected, &installed).unwrap();
    // Nothing was written.
    assert_eq!(std::fs::read_to_string(&path).unwrap(), text);
}
