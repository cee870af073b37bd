//! `litfloor plan FILE`: power and data of a floor, before anything is bought.

mod figures;
mod html;
mod sections;
mod spreadsheet;
mod table;
mod text;

use std::io::{self, Write};
use std::path::PathBuf;

use clap::Args;

use super::report::{ReportFormat, json, read};
use crate::floor::Tables;
use crate::power::plan::{Asked, Plan as Figures};
use crate::units::Volts;

/// Options of `plan`.
#[derive(Debug, Args)]
pub struct Plan {
    /// The floor file
    file: PathBuf,
    /// How to print it
    #[arg(long, value_enum, default_value_t)]
    format: ReportFormat,
    /// Reckon all circuits with this mains voltage too
    #[arg(long, value_name = "VOLTS", value_parser = volts)]
    mains: Option<f64>,
    /// A typical load as a share of full white, in the place of the file's: 0.35; may be repeated
    #[arg(long, value_name = "SHARE", value_parser = share)]
    typical: Vec<f64>,
}

fn volts(text: &str) -> Result<f64, String> {
    within(text, 1_000.0).ok_or_else(|| "write a mains voltage up to 1000, such as 208".to_owned())
}

fn share(text: &str) -> Result<f64, String> {
    within(text, 1.0).ok_or_else(|| "write a share up to 1, such as 0.35".to_owned())
}

/// A number above 0 and no more than `most`.
fn within(text: &str, most: f64) -> Option<f64> {
    let number: f64 = text.parse().ok()?;
    (number > 0.0 && number <= most).then_some(number)
}

/// Prints the plan to `out`, faults of the file to `err`. The exit status: 0 fine, 1 the file is
/// at fault, 3 when nothing can be written.
pub fn run(options: &Plan, out: &mut dyn Write, err: &mut dyn Write) -> u8 {
    answer(options, out, err).unwrap_or(3)
}

fn answer(options: &Plan, out: &mut dyn Write, err: &mut dyn Write) -> io::Result<u8> {
    let Some(floor) = read(&options.file, err)? else {
        return Ok(1);
    };
    let mut typical = options.typical.clone();
    typical.sort_by(|one, other| other.total_cmp(one));
    typical.dedup();
    let asked = Asked {
        mains_volts: options.mains.map(Volts),
        typical,
    };
    let plan = Figures::of(&floor, &Tables::compile(&floor), &asked);
    match options.format {
        ReportFormat::Text => text::write(&plan, out)?,
        ReportFormat::Csv => spreadsheet::write(&plan, out)?,
        ReportFormat::Json => json(&plan, out)?,
        ReportFormat::Html => out.write_all(html::page(&plan).as_bytes())?,
    }
    Ok(0)
}
