//! A daemon with a floor of four panels, without sockets, on made-up time.

use std::net::{Ipv4Addr, SocketAddrV4};
use std::sync::Arc;

use axum::http::Method;
use serde_json::{Value, json};
use tokio::sync::mpsc;

use super::super::testing::Bench;
use super::super::testing::here::ask_here;
use super::super::{FloorView, Order};
use crate::engine::out::{Datagram, Outlet};
use crate::engine::{Engine, Me};
use crate::floor::{FloorFile, Tables};
use crate::units::Time;

mod lights;
mod refusals;
mod walks;

const STEPPING: &str = "/api/v1/stepping";

/// Four panels of 16 pixels on one node, in one universe.
const FOUR: &str = r#"name = "Four"
[grid]
columns = 2
rows = 2
panel_mm = [400, 400]
panel = "tile"
[pixel.strip]
slots = "GRB"   # as on the reel
volts = 12
full_ma = { red = 20, green = 20, blue = 20 }
idle_ma = 1
[panel.tile]
pixel = "strip"
columns = 4
rows = 4
[[node]]
name = "north"
address = "127.0.0.21"
[[run]]
node = "north"
port = 1
start = "0:0:0"
panels = ["A1", "B1", "A2", "B2"]   # as planned
[[circuit]]
name = "socket"
volts = 230
rated_a = 16
[[supply]]
name = "main"
circuit = "socket"
volts = 12
rated_a = 30
efficiency = 0.9
power_factor = 0.9
[[feed]]
name = "all"
supply = "main"
fuse_a = 20
positions = ["A1..B2"]
"#;

/// Nobody is there to get anything.
struct Nowhere;

impl Outlet for Nowhere {
    fn send(&mut self, _: Datagram<'_>) -> bool {
        true
    }
}

fn view(text: &str, revision: u32) -> Arc<FloorView> {
    let file = FloorFile {
        name: "/etc/shows/my \"four\".toml".to_owned(),
        text: text.to_owned(),
    };
    let floor = Arc::new(file.floor(&|_| false).unwrap());
    let tables = Arc::new(Tables::compile(&floor));
    Arc::new(FloorView::new(file, &floor, &tables, revision, false))
}

/// A daemon of this floor, whose orders nobody follows.
fn idle(text: &str) -> Bench {
    let bench = Bench::new();
    bench.floor.send_replace(view(text, 1));
    bench
}

/// Takes the data plane's end of the queue.
fn orders_of(bench: &mut Bench) -> mpsc::Receiver<Order> {
    std::mem::replace(&mut bench.orders, mpsc::channel(1).1)
}

/// A daemon of this floor, with the engine that follows its orders. Its state is published after
/// an order has been answered.
fn daemon(text: &str) -> Bench {
    let mut bench = idle(text);
    let floor = Arc::clone(&bench.floor.borrow().floor);
    let tables = Arc::new(Tables::compile(&floor));
    let me = Me {
        listener: SocketAddrV4::new(Ipv4Addr::LOCALHOST, 6_454),
        interfaces: Vec::new(),
    };
    let mut now = Time::default();
    let mut engine = Engine::new(floor, tables, me, now);
    let mut orders = orders_of(&mut bench);
    let state = bench.state.clone();
    tokio::spawn(async move {
        while let Some((command, answer)) = orders.recv().await {
            now = now.plus_ms(20);
            let _ = answer.send(engine.command(now, command, &mut Nowhere));
            state.send_replace(Arc::new(engine.state(now)));
        }
    });
    bench
}

async fn ask(bench: &Bench, method: Method, path: &str, body: Value) -> (u16, Value) {
    ask_here(&bench.router, method, path, body).await
}

/// Posts what must work; gives the walk.
async fn post(bench: &Bench, path: &str, body: Value) -> Value {
    let (status, told) = ask(bench, Method::POST, path, body).await;
    assert_eq!(status, 200, "{path}: {told}");
    told["walk"].clone()
}

async fn begin(bench: &Bench) -> Value {
    post(bench, STEPPING, json!({})).await
}

async fn answer(bench: &Bench, number: u64, answer: Value) -> Value {
    let body = json!({"number": number, "answer": answer});
    post(bench, "/api/v1/stepping/answer", body).await
}

/// The walk as it is.
async fn look(bench: &Bench) -> Value {
    let (status, told) = ask(bench, Method::GET, STEPPING, Value::Null).await;
    assert_eq!(status, 200);
    told["walk"].clone()
}

/// The pattern that is shown.
fn shown(bench: &Bench) -> Option<String> {
    let state = bench.shared.source.state.borrow();
    state.pattern.as_ref().map(|pattern| pattern.what.clone())
}

/// What is tapped by whoever sees just what is likeliest.
fn first() -> Value {
    json!({"kind": "drawing", "drawing": 0})
}
