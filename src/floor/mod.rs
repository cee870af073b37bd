//! What the floor is: the floor file, its checks, the compiled tables, the patch both ways.
//!
//! [`read`] turns a file into a [`Floor`] or into [`Faults`], which are all faults of the file
//! at once, each with its place and with what would be right. [`Tables::compile`] makes of the
//! floor what the frame path reads.
//!
//! # The floor file
//!
//! TOML. This file has every key there is; those with "default" may be left out. A key that is
//! not here is a fault.
//!
//! ```toml
//! name = "First floor"
//!
//! [grid]
//! columns = 4                    # lettered A, B, C, D; 1 to 702
//! rows = 2                       # numbered 1, 2 from the top; 1 to 9999
//! panel_mm = [500, 500]          # width and height of a panel
//! gap_mm = 0                     # between neighbours; default 0
//! panel = "square"               # kind of panel where no [panel.…] says `at`; default none
//! empty = ["D2", "C1..C2"]       # positions and rectangles where nothing lies; default []
//!
//! [signal]
//! merge = "htp"                  # two sources: "htp" highest or "ltp" latest; default "htp"
//! lost_after_s = 3.0             # silence after which a universe is lost; default 3.0
//! when_lost = "fade"             # "hold" the picture or "fade" to black; default "hold"
//! fade_s = 2.0                   # length of the fade, only with "fade"; default 2.0
//!
//! [delivery]                     # what the network may do to a datagram
//! copies = 3                     # of so many in a row at least one arrives, 1 to 10; default 3
//! late_ms = 20                   # none is later than this, 0 to 200; default 20
//!
//! [cap]
//! margin = 0.8                   # share of every rating that may be used; default 0.8
//! let_up_s = 1.5                 # time constant of letting a cap up again; default 1.5
//!
//! [pixel.strip12]                # a kind of pixel, here called strip12
//! slots = "GRB"                  # wire order; letters R G B W, 16 bits as "RrGgBb" or "RGBrgb"
//! volts = 12
//! full_ma = { red = 18.5, green = 18.5, blue = 18.5 }   # at full, one for each colour
//! idle_ma = 0.7                  # when dark
//!
//! [pixel.white]
//! slots = "Ww"                   # capital: coarse half, small letter: fine half
//! volts = 12
//! full_ma = { white = 20 }
//! idle_ma = 1
//!
//! [panel.square]                 # a kind of panel
//! pixel = "strip12"
//! columns = 5                    # its pixels are a matrix …
//! rows = 4
//! wiring = { first = "rows", path = "serpentine", from = "top-left" }
//!                                # first: "rows" (default) or "columns"; path: "straight"
//!                                # (default) or "serpentine"; from: "top-left" (default),
//!                                # "top-right", "bottom-left", "bottom-right"
//! segments = [5, 5, 5, 5]        # pixels between joints, in wiring order; default: one segment
//! switches = 4                   # microswitches under it; default 0
//! rated_a = 3.0                  # rating of its own wiring; default none
//!
//! [panel.edge]
//! pixel = "white"
//! pixels_mm = [[50, 10], [450, 10], [450, 490], [50, 490]]   # … or lie anywhere, in wiring order
//! at = ["B1"]                    # positions of this kind; default []
//!
//! [[node]]                       # a controller; without any the floor is only watched
//! name = "north"
//! address = "192.168.10.21"
//! port = 6454                    # UDP port; default 6454
//!
//! [[run]]                        # the panels on one output
//! node = "north"                 # needed when there are nodes
//! port = 1                       # the output's number on the node; default none
//! start = "0:0:1"                # Port-Address of the first slot: net:sub-net:universe
//! slot = 1                       # first slot, 1 to 512; default 1
//! straddle = false               # may a pixel begin in one universe and end in the next? if
//!                                # not, one that does not fit begins the next; default false
//! panels = ["A1", { at = "B1", turn = 90 }, "B2..A2"]   # wiring order; `turn` clockwise;
//!                                # rectangles are walked by rows in the order of their ends
//!
//! [[run]]
//! node = "north"
//! start = "0:0:2"
//! panels = ["D1"]
//!
//! [[circuit]]                    # a mains circuit
//! name = "wall socket"
//! volts = 230
//! rated_a = 16                   # its breaker
//!
//! [[supply]]
//! name = "main"
//! circuit = "wall socket"
//! volts = 12
//! rated_a = 29
//! efficiency = 0.88              # more than 0, at most 1
//! power_factor = 0.95            # more than 0, at most 1
//!
//! [[feed]]                       # a fused branch of a supply
//! name = "left"
//! supply = "main"
//! fuse_a = 15
//! positions = ["A1..B2", "D1"]
//! ```
//!
//! Beyond the keys: every position that is not empty has one kind of panel, hangs on one run and
//! on one feed; no two runs share a slot at one node; pixels get the voltage they need; and the
//! floor has at most 100,000 panels and 2,000,000 pixels.

mod check;
mod compile;
pub mod defaults;
mod draft;
mod entry;
mod fault;
mod mains;
mod matrix;
pub mod model;
mod near;
mod patch;
mod range;
mod read;
mod schema;
mod stretch;
mod syntax;
pub mod tables;
#[cfg(test)]
pub(crate) mod testing;
mod walk;
mod wire_order;

#[cfg(test)]
mod tests;

use std::collections::HashSet;
use std::fs::File;
use std::io::Read;
use std::net::SocketAddrV4;
use std::path::Path;

use toml::de::DeTable;

pub use fault::{Fault, FaultRow, Faults, Span};
pub use model::Floor;
pub use patch::{PixelSlot, SlotPlace, SlotSpan};
pub use tables::Tables;

use walk::Sink;

/// Reads a floor file.
///
/// # Errors
///
/// All faults of the file at once; one without a place when it can't be read at all.
pub fn read(path: &Path) -> Result<Floor, Faults> {
    read_beside(path, &|_| false)
}

/// Reads a floor file on a machine where frames to some addresses would come back to litfloor.
///
/// # Errors
///
/// Like [`read`], and a fault for each node whose address `leads_back`.
pub fn read_beside(path: &Path, leads_back: &LeadsBack<'_>) -> Result<Floor, Faults> {
    let name = path.display().to_string();
    let unread = |why: String| {
        let help =
            "a floor file is a TOML text; check the path, and that it may be read".to_owned();
        let fault = Fault {
            code: "unreadable",
            message: why,
            at: None,
            labels: Vec::new(),
            help,
        };
        Faults::new(&name, "", vec![fault])
    };
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(|why| unread(format!("{name} can't be opened: {why}")))?;
    file.take(defaults::MOST_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(|why| unread(format!("{name} can't be read: {why}")))?;
    if bytes.len() as u64 > defaults::MOST_BYTES {
        return Err(unread(format!(
            "{name} has more than {} bytes",
            defaults::MOST_BYTES
        )));
    }
    let text = String::from_utf8(bytes)
        .map_err(|why| unread(format!("{name} is no UTF-8 text: {}", why.utf8_error())))?;
    parse_beside(&name, &text, leads_back)
}

/// Reads the text of a floor file; `name` is how its faults call it.
///
/// # Errors
///
/// All faults of the text at once.
pub fn parse(name: &str, text: &str) -> Result<Floor, Faults> {
    parse_beside(name, text, &|_| false)
}

/// Whether frames to an address would come back to litfloor itself.
pub type LeadsBack<'a> = dyn Fn(SocketAddrV4) -> bool + 'a;

fn parse_beside(name: &str, text: &str, leads_back: &LeadsBack<'_>) -> Result<Floor, Faults> {
    let (table, errors) = DeTable::parse_recoverable(text);
    let sink = Sink::default();
    if errors.is_empty() {
        let draft = read::draft(&sink, table.get_ref());
        return match check::floor(&sink, draft, leads_back) {
            Some(floor) => Ok(floor),
            None => Err(Faults::new(name, text, sink.into_faults())),
        };
    }
    // What could be recovered is still looked through key by key. Whatever may only be the
    // consequence of the broken syntax is left out: what is missing, what is on its lines, and
    // the values that could not be read, which have no place in the text.
    let (mut faults, end) = syntax::faults(text, &errors);
    let _ = read::draft(&sink, table.get_ref());
    let lines = fault::Lines::of(text);
    let broken: HashSet<usize> = faults
        .iter()
        .filter_map(|fault| fault.at.as_ref())
        .map(|at| lines.line(at.start))
        .collect();
    let own = |fault: &Fault| {
        let told =
            |at: &Span| !at.is_empty() && at.start < end && !broken.contains(&lines.line(at.start));
        !fault.code.starts_with("missing") && fault.at.as_ref().is_none_or(told)
    };
    faults.extend(sink.into_faults().into_iter().filter(own));
    Err(Faults::new(name, text, faults))
}
