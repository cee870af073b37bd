//! `litfloor patch FILE`: which slot lights which pixel, as a sheet and asked both ways.

mod html;
mod import;
mod lookup;
mod plan;
mod question;
mod sheet;
mod spreadsheet;
mod text;

use std::fs::File;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use clap::Args;

use super::report::{ReportFormat, json, read};

use import::Size;
use question::{AskedPixel, AskedSlot};
use sheet::Sheet;

/// A sheet has no more, as a floor file.
const MOST_BYTES: u64 = crate::floor::defaults::MOST_BYTES;

/// Options of `patch`.
#[derive(Debug, Args)]
pub struct Patch {
    /// The floor file
    #[arg(required_unless_present = "import", conflicts_with = "import")]
    file: Option<PathBuf>,
    /// How to print it; `--import` reads csv back
    #[arg(long, value_enum, default_value_t)]
    format: ReportFormat,
    /// What does this slot light? As net:sub-net:universe/slot, or with a flat universe number
    /// counted from 0: 0:0:3/121, 3/121
    #[arg(long, value_name = "UNIVERSE/SLOT", conflicts_with = "pixel")]
    at: Option<AskedSlot>,
    /// Who drives this pixel? Position or serial of the panel, and the number of the pixel from 1
    /// in wiring order: C4:17, P004:17; without a number all of the panel
    #[arg(long, value_name = "PANEL[:PIXEL]")]
    pixel: Option<AskedPixel>,
    /// Turn a spreadsheet's table of panels and start addresses (CSV; comma, semicolon or tab)
    /// into runs for the floor file. Columns are found by their names: position or panel, universe
    /// and slot (or both in one as address), and if there are any node, port, serial, turn,
    /// mirrored, packing
    #[arg(
        long,
        value_name = "SHEET.csv",
        conflicts_with_all = ["at", "pixel", "format"],
        requires = "size"
    )]
    import: Option<PathBuf>,
    /// With --import: the floor file that says what kind of panel lies where; its runs don't matter
    #[arg(
        long,
        value_name = "FILE",
        group = "size",
        requires = "import",
        conflicts_with = "file"
    )]
    floor: Option<PathBuf>,
    /// With --import: slots of every panel, if all are alike
    #[arg(
        long,
        value_name = "N",
        group = "size",
        requires = "import",
        conflicts_with = "file",
        value_parser = clap::value_parser!(u32).range(1..=80_000)
    )]
    slots: Option<u32>,
    /// With --slots: slots of every pixel
    #[arg(
        long,
        value_name = "N",
        requires = "slots",
        conflicts_with = "file",
        default_value_t = 3,
        value_parser = clap::value_parser!(u32).range(1..=8)
    )]
    slots_per_pixel: u32,
    /// With --import: where the sheet's flat universe numbers begin
    #[arg(
        long,
        value_name = "0|1",
        requires = "import",
        conflicts_with = "file",
        default_value_t = 0,
        value_parser = clap::value_parser!(u16).range(0..=1)
    )]
    universes_from: u16,
}

/// Prints what is asked to `out`, faults to `err`. The exit status: 0 fine, 1 the file or the
/// question is at fault, 2 wrong usage, 3 when nothing can be written.
pub fn run(options: &Patch, out: &mut dyn Write, err: &mut dyn Write) -> u8 {
    answer(options, out, err).unwrap_or(3)
}

fn answer(options: &Patch, out: &mut dyn Write, err: &mut dyn Write) -> io::Result<u8> {
    if let Some(sheet) = &options.import {
        return import_sheet(options, sheet, out, err);
    }
    let Some(file) = &options.file else {
        writeln!(err, "a floor file is needed")?;
        return Ok(2);
    };
    let asks = options.at.is_some() || options.pixel.is_some();
    if asks && matches!(options.format, ReportFormat::Csv | ReportFormat::Html) {
        writeln!(err, "--at and --pixel answer as text or as JSON")?;
        return Ok(2);
    }
    let Some(floor) = read(file, err)? else {
        return Ok(1);
    };
    let as_json = options.format == ReportFormat::Json;
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
        ReportFormat::Text => text::write(&sheet, out)?,
        ReportFormat::Csv => spreadsheet::write(&sheet, out)?,
        ReportFormat::Json => json(&sheet, out)?,
        ReportFormat::Html => out.write_all(html::page(&floor, &sheet).as_bytes())?,
    }
    Ok(0)
}

/// `--import` for the fuzzer: a sheet as it comes, and the floor or the slots of every panel and pixel.
///
/// # Errors
/// What a person would be told.
#[cfg(fuzzing)]
pub fn import_bytes(
    bytes: &[u8],
    size: Result<(u32, usize), &crate::floor::Floor>,
    universes_from: u16,
) -> Result<String, String> {
    let size = match size {
        Ok((slots, per_pixel)) => Size::Alike(slots, per_pixel),
        Err(floor) => Size::Floor(floor),
    };
    import::runs(Path::new("sheet.csv"), bytes, &size, universes_from)
}

fn import_sheet(
    options: &Patch,
    sheet: &Path,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> io::Result<u8> {
    let floor = match &options.floor {
        Some(path) => match read(path, err)? {
            Some(floor) => Some(floor),
            None => return Ok(1),
        },
        None => None,
    };
    let size = match (&floor, options.slots) {
        (Some(floor), _) => Size::Floor(floor),
        (None, slots) => {
            let (slots, per_pixel) = (slots.unwrap_or(0), options.slots_per_pixel);
            if slots % per_pixel != 0 {
                writeln!(
                    err,
                    "a panel of {slots} slots has no whole number of pixels with {per_pixel} slots \
                     each: say how many they have with --slots-per-pixel"
                )?;
                return Ok(2);
            }
            Size::Alike(slots, per_pixel as usize)
        }
    };
    let name = sheet.display();
    let mut bytes = Vec::new();
    let opened =
        File::open(sheet).and_then(|file| file.take(MOST_BYTES + 1).read_to_end(&mut bytes));
    if let Err(why) = opened {
        writeln!(err, "{name} can't be read: {why}")?;
        return Ok(1);
    }
    if bytes.len() as u64 > MOST_BYTES {
        writeln!(err, "{name} has more than {MOST_BYTES} bytes")?;
        return Ok(1);
    }
    match import::runs(sheet, &bytes, &size, options.universes_from) {
        Ok(text) => write!(out, "{text}").map(|()| 0),
        Err(why) => write!(err, "{why}").map(|()| 1),
    }
}
