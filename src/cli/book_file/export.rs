//! `litfloor book export`: all of it as JSON, or a table as CSV, also of a damaged one.

use std::fs::OpenOptions;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::super::report::json;
use super::{Ended, Where, counted};
use crate::store::book::salvage::look;
use crate::store::book::{Contents, NotOpened, contents};

/// Options of `book export`.
#[derive(Debug, Args)]
pub(super) struct Export {
    #[command(flatten)]
    place: Where,
    /// How to print it: all tables as JSON, or one as CSV
    #[arg(long, value_enum, default_value_t)]
    format: Format,
    /// Which table as CSV [default: the faults, a line for each step of each]
    #[arg(long, value_enum)]
    table: Option<Table>,
    /// A new file to write to, instead of printing
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
enum Format {
    #[default]
    Json,
    Csv,
}

/// As they are in the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Table {
    Panels,
    Positions,
    Benches,
    Currents,
    Notes,
    Faults,
    Steps,
}

pub(super) fn run(options: &Export, out: &mut dyn Write, err: &mut dyn Write) -> Result<u8, Ended> {
    if options.table.is_some() && options.format == Format::Json {
        let why =
            "error: --table chooses what is printed as CSV: add --format csv; JSON has all tables";
        return Err(Ended::Said(why.to_owned(), 2));
    }
    let path = options.place.path().map_err(|why| Ended::Said(why, 2))?;
    let looked = look(&path)?;
    match &options.out {
        None => print(&looked.contents, options, out)?,
        Some(to) => {
            let cant = |error| cant_write(to, &error);
            let mut open = OpenOptions::new();
            let file = open.write(true).create_new(true).open(to).map_err(cant)?;
            let mut file = BufWriter::new(file);
            print(&looked.contents, options, &mut file).map_err(cant)?;
            let file = file
                .into_inner()
                .map_err(|error| cant(error.into_error()))?;
            file.sync_all().map_err(cant)?;
        }
    }
    if let Some(flaw) = looked.flaw {
        writeln!(err, "{}", NotOpened { path, flaw })?;
        writeln!(err, "What could be read of it is exported:")?;
        counted(&looked.counts, err)?;
        return Ok(1);
    }
    Ok(0)
}

fn cant_write(path: &Path, error: &std::io::Error) -> Ended {
    let why = format!("error: {} can't be written: {error}", path.display());
    Ended::Said(why, 3)
}

fn print(contents: &Contents, options: &Export, out: &mut dyn Write) -> std::io::Result<()> {
    match (options.format, options.table) {
        (Format::Json, _) => json(contents, out),
        (Format::Csv, None) => contents.faults_csv(out),
        (Format::Csv, Some(table)) => contents.table_csv(&contents::FORMS[table as usize], out),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tables_are_called_as_in_the_file() {
        let names = Table::value_variants().iter().map(|table| {
            let name = table.to_possible_value().unwrap();
            (
                name.get_name().to_owned(),
                contents::FORMS[*table as usize].name,
            )
        });
        let names: Vec<_> = names.collect();
        assert_eq!(names.len(), contents::FORMS.len());
        assert!(names.iter().all(|(here, there)| here == there), "{names:?}");
    }
}
