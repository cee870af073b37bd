//! Floors of any width, made up: each panel fills a universe with 170 pixels of three slots, sixteen in a
//! row hang on a node.

use std::fmt::Write as _;
use std::net::{Ipv4Addr, SocketAddrV4};
use std::sync::Arc;

use litfloor::engine::{Engine, Me};
use litfloor::floor::tables::Tables;
use litfloor::units::Time;

/// Who sends, and where litfloor listens.
pub(crate) const CONSOLE: SocketAddrV4 = SocketAddrV4::new(Ipv4Addr::LOCALHOST, 6454);

/// An engine for such a floor, with nodes in the loopback network.
pub(crate) fn engine(rows: usize, share: f64) -> Engine {
    let floor = litfloor::floor::parse("made-up.toml", &wide_floor(rows, share))
        .unwrap_or_else(|faults| panic!("{}", faults.render(false)));
    let tables = Arc::new(Tables::compile(&floor));
    let me = Me {
        listener: CONSOLE,
        interfaces: Vec::new(),
    };
    Engine::new(Arc::new(floor), tables, me, Time::from_ms(0))
}

/// Panels of a row, which hang on one node.
pub(crate) const ROW: usize = 16;

/// A floor file with all five levels of limits. `share` of the full white of every panel fits within the
/// supplies.
fn wide_floor(rows: usize, share: f64) -> String {
    let panels = rows * ROW;
    let panel_a = 0.06 * 170.0;
    let mut text = format!(
        "name = \"Broad barn\"\n[grid]\ncolumns = {ROW}\nrows = {rows}\npanel_mm = [1000, 1700]\n\
         panel = \"slab\"\n\
         [cap]\nmargin = 1.0\nfloor_va = 10000000\n\
         [pixel.dot]\nslots = \"GRB\"\nvolts = 12\nfull_ma = {{ red = 20, green = 20, blue = 20 }}\n\
         idle_ma = 0.5\n\
         [panel.slab]\npixel = \"dot\"\ncolumns = 10\nrows = 17\nwiring = {{ path = \"serpentine\" }}\n\
         rated_a = 20\n\
         [[circuit]]\nname = \"ring\"\nvolts = 230\nrated_a = 10000\ncount = {}\n\
         [[supply]]\nname = \"brick\"\ncircuit = \"ring\"\nvolts = 12\nrated_a = {:.3}\n\
         efficiency = 0.9\npower_factor = 0.95\ncount = {}\nper_circuit = 4\n\
         [[feed]]\nname = \"fuse\"\nsupply = \"brick\"\nfuse_a = 50\npositions = [\"A1..P{rows}\"]\n\
         split = {{ panels = 4, per_supply = 4 }}\n",
        panels.div_ceil(64),
        panel_a * 16.0 * share + 0.0005 * 170.0 * 16.0,
        panels.div_ceil(16),
    );
    for row in 0..rows {
        let first = row * ROW;
        let (net, sub) = (first / 256, first / 16 % 16);
        write!(
            text,
            "[[node]]\nname = \"node {row}\"\naddress = \"{}\"\n\
             [[run]]\nnode = \"node {row}\"\nport = 1\nstart = \"{net}:{sub}:0\"\n\
             panels = [\"A{at}..P{at}\"]\nsplit = {{ panels = 1, universes = 1 }}\n",
            loopback(row),
            at = row + 1,
        )
        .unwrap();
    }
    text
}

/// An address of the loopback network for each node.
fn loopback(node: usize) -> String {
    let base = u32::from(Ipv4Addr::new(127, 1, 0, 0));
    let node = u32::try_from(node).unwrap();
    format!("{}", Ipv4Addr::from(base + node + 1))
}
