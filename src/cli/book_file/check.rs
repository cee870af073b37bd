//! `litfloor book check`: is it whole, and how much is in it?

use std::io::Write;

use clap::Args;

use super::{Ended, Where, counted};
use crate::store::book::NotOpened;
use crate::store::book::salvage::look;

/// Options of `book check`.
#[derive(Debug, Args)]
pub(super) struct Check {
    #[command(flatten)]
    place: Where,
}

pub(super) fn run(options: &Check, out: &mut dyn Write, err: &mut dyn Write) -> Result<u8, Ended> {
    let path = options.place.path().map_err(|why| Ended::Said(why, 2))?;
    let looked = look(&path)?;
    if let Some(flaw) = looked.flaw {
        writeln!(err, "{}", NotOpened { path, flaw })?;
        writeln!(err, "What can be read of it:")?;
        counted(&looked.counts, err)?;
        return Ok(1);
    }
    writeln!(out, "{} is whole:", path.display())?;
    for count in &looked.counts {
        writeln!(out, "  {:<10} {:>8}", count.table, count.kept)?;
    }
    Ok(0)
}
