//! Floors of any size, and who their nodes are. All of it is made up.

use std::fmt::Write as _;
use std::net::{Ipv4Addr, SocketAddrV4};

/// Universes of one node.
const OF_A_NODE: u32 = 16;

/// Pixels of a universe: with three slots each they fill 510 of its 512.
pub(crate) const PIXELS: u32 = 170;

/// Where the node is that shows a universe, if nodes listen on this port. The whole of 127/8 is
/// this machine.
pub(crate) fn node_of(universe: u32, port: u16) -> SocketAddrV4 {
    node(universe / OF_A_NODE, port)
}

/// The Port-Addresses of the node that has this address.
pub(crate) fn universes_of(node: Ipv4Addr) -> std::ops::Range<u32> {
    let [_, _, block, place] = node.octets();
    let number = u32::from(block) * 200 + u32::from(place.saturating_sub(1));
    number * OF_A_NODE..(number + 1) * OF_A_NODE
}

fn node(number: u32, port: u16) -> SocketAddrV4 {
    #[expect(clippy::cast_possible_truncation, reason = "2,048 nodes at most")]
    let (block, place) = ((number / 200) as u8, (number % 200 + 1) as u8);
    SocketAddrV4::new(Ipv4Addr::new(127, 1, block, place), port)
}

/// A floor.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Floor {
    /// Universes that it has; sixteen go to each node.
    pub(crate) universes: u32,
    /// Panels that share a universe: 1, 10 or another divisor of 170.
    pub(crate) panels_each: u32,
}

impl Floor {
    pub(crate) const fn of(universes: u32) -> Self {
        Self {
            universes,
            panels_each: 1,
        }
    }

    pub(crate) const fn pixels(self) -> u32 {
        self.universes * PIXELS
    }

    /// Its floor file, with a limit for every panel, feed, supply, circuit and for the whole.
    pub(crate) fn file(self, port: u16) -> String {
        let each = self.panels_each;
        let nodes = self.universes.div_ceil(OF_A_NODE);
        let columns = self.universes.min(OF_A_NODE) * each;
        let last = column(columns - 1);
        // Forty times 170 pixels would be a large supply; what counts is that all levels are there.
        let feeds = self.universes.div_ceil(4);
        let supplies = feeds.div_ceil(2);
        let circuits = supplies.div_ceil(8);
        let (pixel_columns, pixel_rows) = if each == 1 {
            (17, 10)
        } else {
            (PIXELS / each, 1)
        };
        let mut text = format!(
            "name = \"Bench\"\n\
             [grid]\ncolumns = {columns}\nrows = {nodes}\npanel_mm = [500, 500]\npanel = \"tile\"\n\
             [cap]\nfloor_va = {}\n\
             [pixel.strip]\nslots = \"RGB\"\nvolts = 12\n\
             full_ma = {{ red = 18.5, green = 18.5, blue = 18.5 }}\nidle_ma = 2.6\n\
             [panel.tile]\npixel = \"strip\"\ncolumns = {pixel_columns}\nrows = {pixel_rows}\n\
             rated_a = {}\n",
            100 * self.universes,
            f64::from(10 / each).max(1.0),
        );
        // Writing to a text can't fail.
        for number in 0..nodes {
            let universe = number * OF_A_NODE;
            let (net, sub_net) = (universe >> 8, universe >> 4 & 15);
            let address = *node(number, port).ip();
            let row = number + 1;
            let _ = write!(
                text,
                "[[node]]\nname = \"n{row}\"\naddress = \"{address}\"\nport = {port}\n\
                 [[run]]\nnode = \"n{row}\"\nstart = \"{net}:{sub_net}:0\"\n\
                 panels = [\"A{row}..{last}{row}\"]\n",
            );
        }
        let _ = write!(
            text,
            "[[circuit]]\nname = \"socket\"\nvolts = 230\nrated_a = 16\ncount = {circuits}\n\
             [[supply]]\nname = \"supply\"\ncircuit = \"socket\"\nvolts = 12\nrated_a = 29\n\
             efficiency = 0.88\npower_factor = 0.95\ncount = {supplies}\nper_circuit = 8\n\
             [[feed]]\nname = \"fuse\"\nsupply = \"supply\"\nfuse_a = 15\n\
             positions = [\"A1..{last}{nodes}\"]\nsplit = {{ panels = {}, per_supply = 2 }}\n",
            4 * each,
        );
        text
    }
}

/// The letters of a column, from 0: A to Z, then AA.
fn column(number: u32) -> String {
    let letter = |part: u32| char::from_u32(u32::from('A') + part % 26).unwrap_or('A');
    if number < 26 {
        return letter(number).to_string();
    }
    format!("{}{}", column(number / 26 - 1), letter(number))
}
