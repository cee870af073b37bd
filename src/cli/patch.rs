//! `litfloor patch FILE`: which slot lights which pixel, as a sheet and asked both ways.

mod html;
mod lookup;
mod plan;
mod question;
mod sheet;
mod spreadsheet;
mod text;

use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use serde::Serialize;

use crate::floor::model::Floor;
use crate::floor::{self};

use question::{AskedPixel, AskedSlot};
use sheet::Sheet;

/// How a patch sheet is printed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
enum SheetFormat {
    /// For a terminal.
    #[default]
    Text,
    /// For a spreadsheet; `--import` reads it back.
    Csv,
    /// For programs.
    Json,
    /// For paper: open it in a browser and print it.
    Html,
}

/// Options of `patch`.
#[derive(Debug, Args)]
pub struct Patch {
    /// The floor file
    floor: PathBuf,
    /// How to print it
    #[arg(long, value_enum, default_value_t)]
    format: SheetFormat,
    /// What does this slot light? As net:sub-net:universe/slot, or with a flat universe number
    /// counted from 0: 0:0:3/121, 3/121
    #[arg(long, value_name = "UNIVERSE/SLOT", conflicts_with = "pixel")]
    at: Option<AskedSlot>,
    /// Who drives this pixel? Position or serial of the panel, and the number of the pixel from 1
    /// in wiring order: C4:17, P004:17; without a number all of the panel
    #[arg(long, value_name = "PANEL[:PIXEL]")]
    pixel: Option<AskedPixel>,
}

/// Prints what is asked to `out`, faults to `err`. The exit status: 0 fine, 1 the file or the
/// question is at fault, 2 wrong usage, 3 when nothing can be written.
pub fn run(options: &Patch, out: &mut dyn Write, err: &mut dyn Write) -> u8 {
    answer(options, out, err).unwrap_or(3)
}

fn answer(options: &Patch, out: &mut dyn Write, err: &mut dyn Write) -> io::Result<u8> {
    let asks = options.at.is_some() || options.pixel.is_some();
    if asks && matches!(options.format, SheetFormat::Csv | SheetFormat::Html) {
        writeln!(err, "--at and --pixel answer as text or as JSON")?;
        return Ok(2);
    }
    let Some(floor) = read(&options.floor, err)? else {
        return Ok(1);
    };
    let as_json = options.format == SheetFormat::Json;
    if let Some(asked) = options.at {
        let found = lookup::Slot::of(&floor, asked);
        if as_json {
            json(&found, out)?;
        } else {
            found.write(out)?;
        }
        return Ok(0);
    }
    if let Some(asked) = &options.pixel {
        let found = match lookup::Drivers::of(&floor, asked) {
            Ok(found) => found,
            Err(why) => {
                writeln!(err, "{why}")?;
                return Ok(1);
            }
        };
        if as_json {
            json(&found, out)?;
        } else {
            found.write(out)?;
        }
        return Ok(0);
    }
    let sheet = Sheet::of(&floor);
    match options.format {
        SheetFormat::Text => text::write(&sheet, out)?,
        SheetFormat::Csv => spreadsheet::write(&sheet, out)?,
        SheetFormat::Json => json(&sheet, out)?,
        SheetFormat::Html => out.write_all(html::page(&floor, &sheet).as_bytes())?,
    }
    Ok(0)
}

/// The floor, or its faults to `err`.
fn read(path: &Path, err: &mut dyn Write) -> io::Result<Option<Floor>> {
    let color = io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
    match floor::read(path) {
        Ok(floor) => Ok(Some(floor)),
        Err(faults) => write!(err, "{}", faults.render(color)).map(|()| None),
    }
}

fn json(value: &impl Serialize, out: &mut dyn Write) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, value)?;
    writeln!(out)
}
