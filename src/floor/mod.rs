//! What the floor is: the floor file, its checks, the compiled tables, the patch both ways.
//!
//! [`read()`] turns a file into a [`Floor`] or into [`Faults`], which are all faults of the file
//! at once, each with its place and with what would be right. [`Tables::compile`] makes of the
//! floor what the frame path reads.
//!
//! The file itself is described key by key in `docs/floor-file.md`; a test holds that page
//! against `floor/schema.rs`, and each key is read in `floor/read/`.

mod alarm;
mod amend;
mod check;
mod compile;
pub mod defaults;
mod draft;
mod electrical;
mod entry;
mod fault;
mod file;
pub mod inputs;
pub mod joined;
mod mains;
mod matrix;
pub mod metering;
pub mod model;
mod near;
mod network;
mod patch;
mod position;
mod range;
mod read;
mod schema;
pub mod serial;
pub mod short;
mod sink;
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
use std::net::SocketAddrV4;
use std::path::Path;

use toml::de::DeTable;

pub use amend::{Unamended, amend, difference};
pub use fault::{Fault, FaultRow, Faults, Span};
pub use file::FloorFile;
pub use model::Floor;
pub use patch::{PixelSlot, SlotPlace, SlotSpan};
pub use serial::valid as serial_is_valid;
pub use tables::Tables;

use sink::Sink;

/// Reads a floor file.
///
/// # Errors
///
/// All faults of the file at once; one without a place when it can't be read at all.
pub fn read(path: &Path) -> Result<Floor, Faults> {
    FloorFile::read(path)?.floor(&|_| false)
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
