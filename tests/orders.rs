//! Orders reach the data plane over its queue, and what they show leaves by a real socket.

mod support;

use std::net::{Ipv4Addr, SocketAddr, UdpSocket};
use std::sync::Arc;
use std::time::Duration;

use artnet_protocol::ArtCommand;
use litfloor::engine::command::Command;
use litfloor::engine::levels::Shown;
use litfloor::engine::snapshot::State;
use litfloor::engine::{Engine, Me};
use litfloor::floor::model::MachineSettings;
use litfloor::floor::tables::Tables;
use litfloor::net::batch::Way;
use litfloor::net::clock::Clock;
use litfloor::net::plane::{self, Heard, How, MOST_ORDERS, Order, Published};
use litfloor::pattern::{Start, TestPattern};
use support::stage;
use tokio::sync::{mpsc, oneshot, watch};

/// How long a datagram may take on a busy machine before the test fails.
const PATIENCE: Duration = Duration::from_secs(20);

#[expect(clippy::disallowed_methods, reason = "a node and a data plane")]
fn socket() -> (UdpSocket, u16) {
    let socket = UdpSocket::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
    let port = socket.local_addr().unwrap().port();
    (socket, port)
}

/// Waits for the next picture, read by an independent library.
fn next_slots(node: &UdpSocket) -> Vec<u8> {
    let mut buffer = [0; 2_048];
    loop {
        let (length, _) = node.recv_from(&mut buffer).unwrap();
        if let ArtCommand::Output(output) = ArtCommand::from_buffer(&buffer[..length]).unwrap() {
            return output.data.as_ref().clone();
        }
    }
}

fn give(orders: &mpsc::Sender<Order>, command: Command) -> Option<String> {
    let (answer, answered) = oneshot::channel();
    orders.try_send((command, answer)).unwrap();
    let shown = answered.blocking_recv().unwrap().unwrap();
    shown.map(|pattern| pattern.what)
}

#[test]
fn an_order_is_followed_answered_and_published() {
    follows_orders(Way::best());
}

#[test]
fn it_is_where_the_system_takes_datagrams_one_by_one() {
    follows_orders(Way::Plain);
}

fn follows_orders(way: Way) {
    let (node, node_port) = socket();
    node.set_read_timeout(Some(PATIENCE)).unwrap();
    let text = stage::floor(&[(1, "0:0:1")], 20.0, "");
    let text = text.replace(
        "\"10.9.1.1\"",
        &format!("\"127.0.0.1\"\nport = {node_port}"),
    );
    let floor = litfloor::floor::parse("small.toml", &text).unwrap();
    let tables = Arc::new(Tables::compile(&floor));
    let (artnet, _) = socket();
    artnet.set_nonblocking(true).unwrap();
    let Ok(SocketAddr::V4(listener)) = artnet.local_addr() else {
        panic!("an IPv4 socket");
    };
    let me = Me {
        listener,
        interfaces: Vec::new(),
    };
    let clock = Clock::start();
    let engine = Engine::new(Arc::new(floor), tables, me, clock.now());
    let (state, state_seen) = watch::channel(Arc::new(State::default()));
    let published = Published {
        state,
        levels: watch::channel(Arc::new(Shown::default())).0,
        watchers: Arc::default(),
        slots: watch::channel(Arc::default()).0,
        slot_watchers: Arc::default(),
        sending: watch::channel(Arc::default()).0,
        looks: mpsc::channel(1).0,
        presses: watch::channel(Arc::default()).0,
        survey: watch::channel(None).0,
    };
    let (orders, orders_heard) = mpsc::channel(MOST_ORDERS);
    let (stop, stop_heard) = watch::channel(false);
    let heard = Heard {
        interfaces: watch::channel(Vec::new()).1,
        orders: orders_heard,
        reread: mpsc::channel(1).1,
        voltages: watch::channel(Arc::default()).1,
        stop: stop_heard,
    };
    let machine = MachineSettings::default();
    let how = How { way, machine };
    let plane = plane::start(artnet, how, engine, published, clock, heard).unwrap();

    let order = Start {
        level: 51,
        ..Start::new(TestPattern::All)
    };
    let told = give(&orders, Command::Start(order));
    assert_eq!(told.as_deref(), Some("Everything, white at 20 %"));
    while next_slots(&node) != [51; stage::SLOTS] {}
    let runtime = tokio::runtime::Builder::new_current_thread().build();
    let mut states = state_seen.clone();
    let shows = |state: &Arc<State>| state.pattern.is_some();
    runtime.unwrap().block_on(states.wait_for(shows)).unwrap();
    assert_eq!(give(&orders, Command::Stop), None);
    while next_slots(&node) != [0; stage::SLOTS] {}

    // Nobody is left who could give orders: that ends nothing, and is no work either.
    drop(orders);
    while next_slots(&node) != [0; stage::SLOTS] {}
    assert!(!plane.is_finished());
    stop.send(true).unwrap();
    plane.join().unwrap().unwrap();
}
