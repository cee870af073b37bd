//! `litfloor check FILE`: has the floor file faults, and what does it add up to?

use std::io::{self, IsTerminal, Write};
use std::net::{Ipv4Addr, SocketAddrV4};
use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::report::json;
use super::summary::{self, Load, RunRow, SlotRow, Summary, counted};
use super::{Format, address, networks};
use crate::floor::model::Floor;
use crate::floor::{FaultRow, Faults, FloorFile, Tables};
use crate::net::interfaces;

/// Options of `check`.
#[derive(Debug, Args)]
pub struct Check {
    /// The floor file
    floor: PathBuf,
    /// How to print it
    #[arg(long, value_enum, default_value_t)]
    format: Format,
    /// Where `run` will listen to Art-Net: a node there would be litfloor itself
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "0.0.0.0:6454", value_parser = address::v4)]
    artnet: SocketAddrV4,
}

#[derive(Serialize)]
struct Refused {
    faults: Vec<FaultRow>,
}

/// Panels of a run that are listed one by one; of a longer run the first and the last.
const MOST_LISTED: usize = 8;

/// Checks a file. The summary goes to `out`, faults as text to `err` and as JSON to `out`, where
/// programs read. The exit status: 0 no faults, 1 faults, 3 when nothing can be written.
pub fn run(options: &Check, out: &mut dyn Write, err: &mut dyn Write) -> u8 {
    let color = io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
    let own = interfaces::list();
    let leads_back = |node| interfaces::loops_back(node, options.artnet, &own);
    let read = FloorFile::read(&options.floor).and_then(|file| file.floor(&leads_back));
    report(read, &own, options.format, color, out, err).unwrap_or(3)
}

/// What the file adds up to, and what this machine's networks have to say to it.
pub(super) fn summary(floor: &Floor, tables: &Tables, own: &[(Ipv4Addr, Ipv4Addr)]) -> Summary {
    let mut summary = Summary::of(floor, tables);
    let told = networks::cautions(&floor.nodes, own);
    // What holds for every floor stays at the end.
    let place = summary
        .cautions
        .len()
        .saturating_sub(summary::FOR_EVERY_FLOOR);
    summary.cautions.splice(place..place, told);
    summary
}

fn report(
    read: Result<Floor, Faults>,
    own: &[(Ipv4Addr, Ipv4Addr)],
    format: Format,
    color: bool,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> io::Result<u8> {
    match (read, format) {
        (Ok(floor), format) => {
            let summary = summary(&floor, &Tables::compile(&floor), own);
            match format {
                Format::Text => text(&summary, out),
                Format::Json => json(&summary, out),
            }
            .map(|()| 0)
        }
        (Err(faults), Format::Text) => write!(err, "{}", faults.render(color)).map(|()| 1),
        (Err(faults), Format::Json) => json(
            &Refused {
                faults: faults.rows(),
            },
            out,
        )
        .map(|()| 1),
    }
}

fn text(summary: &Summary, out: &mut dyn Write) -> io::Result<()> {
    let Summary {
        name,
        panels,
        pixels,
        slots,
        universes,
        nodes,
        ..
    } = summary;
    writeln!(out, "{name}: no faults in the file")?;
    writeln!(
        out,
        "{}, {}, {} in {}, {}",
        counted(*panels as u64, "panel"),
        counted(*pixels as u64, "pixel"),
        counted(*slots, "slot"),
        counted(*universes as u64, "universe"),
        counted(*nodes as u64, "node"),
    )?;
    runs(&summary.runs, out)?;
    loads("Feeds at full white", &summary.feeds, out)?;
    loads("Supplies at full white", &summary.supplies, out)?;
    loads(
        "Circuits at full white, mains amperes",
        &summary.circuits,
        out,
    )?;
    writeln!(out)?;
    cautions(&summary.cautions, out)?;
    writeln!(
        out,
        "Whether fuses, cables and voltages go together is said by `litfloor plan` with the same file."
    )
}

/// One line for each.
pub(super) fn cautions(cautions: &[String], out: &mut dyn Write) -> io::Result<()> {
    for caution in cautions {
        writeln!(out, "Caution: {caution}.")?;
    }
    Ok(())
}

fn runs(runs: &[RunRow], out: &mut dyn Write) -> io::Result<()> {
    writeln!(
        out,
        "\nRuns: what to set at the nodes and at the console. Universes are net:sub-net:universe; \
         the\nnumber in brackets is the same counted from 0, as many programs have it, some from 1:"
    )?;
    for run in runs {
        let node = run.node.as_deref().unwrap_or("(watched)");
        let port = run.port.map(|port| format!(" port {port}"));
        let panels = if run.panels.len() > MOST_LISTED {
            let last = run.panels.len() - 1;
            format!("{} … {}", run.panels[0], run.panels[last])
        } else {
            run.panels.join(" ")
        };
        let slots = stretch(&run.first, &run.last);
        let count = counted(run.panels.len() as u64, "panel");
        let port = port.unwrap_or_default();
        writeln!(out, "  {node}{port}: {slots}, {count}: {panels}")?;
        if let Some((first, last)) = &run.console {
            writeln!(out, "    at the console: {}", stretch(first, last))?;
        }
    }
    Ok(())
}

/// From one slot to another.
fn stretch(first: &SlotRow, last: &SlotRow) -> String {
    let place = |row: &SlotRow| format!("{} ({})", row.port_address, row.universe);
    let (from, to) = (first.slot, last.slot);
    if first.universe == last.universe {
        format!("{} slots {from} to {to}", place(first))
    } else {
        format!("{} slot {from} to {} slot {to}", place(first), place(last))
    }
}

fn loads(title: &str, loads: &[Load], out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "\n{title}:")?;
    let width = loads
        .iter()
        .map(|load| load.name.chars().count())
        .max()
        .unwrap_or(0);
    for load in loads {
        let over = if load.over() { "  OVER the limit" } else { "" };
        let Load {
            name,
            full_white_a,
            rated_a,
            limit_a,
            ..
        } = load;
        writeln!(
            out,
            "  {name:width$}  {full_white_a:.1} of {limit_a:.1} (rated {rated_a:.1}){over}"
        )?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::floor;

    fn checked(text: &str, format: Format) -> (u8, String, String) {
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let code = report(
            floor::parse("f.toml", text),
            &[(Ipv4Addr::new(10, 9, 8, 7), Ipv4Addr::new(255, 255, 255, 0))],
            format,
            false,
            &mut out,
            &mut err,
        )
        .unwrap();
        (
            code,
            String::from_utf8(out).unwrap(),
            String::from_utf8(err).unwrap(),
        )
    }

    #[test]
    fn a_file_without_faults_is_summed_up() {
        let (code, out, err) = checked(include_str!("../../config/first-floor.toml"), Format::Text);
        assert_eq!((code, err.as_str()), (0, ""));
        assert!(
            out.contains("4 panels, 80 pixels, 240 slots in 1 universe, 1 node"),
            "{out}"
        );
        // WS2811 datasheet: 18.5 mA an output; 80 · (3 · 18.5 + 2.6) mA = 4.648 A.
        assert!(
            out.contains("supply  4.6 A of 8.0 A (rated 10.0 A)"),
            "{out}"
        );
        assert!(out.contains("floor  4.6 A of 6.0 A (rated 7.5 A)"), "{out}");
        // 240 slots from the first.
        let run = "controller port 1: 0:0:1 (1) slots 1 to 240, 4 panels: A1 ";
        assert!(out.contains(run), "{out}");
        assert!(out.contains("Caution: amperes are computed"), "{out}");
        assert!(out.contains("Caution: flashing light"), "{out}");
        let networks = "1 node lies in no network of this machine: controller (192.168.1.50); this \
                        machine is in 10.9.8.0/24";
        let (before, after) = out.split_once(networks).unwrap();
        assert!(
            !before.contains("flashing") && after.contains("flashing"),
            "{out}"
        );
    }

    #[test]
    fn the_demo_floor_needs_its_cap() {
        let (code, out, _) = checked(include_str!("../../config/demo.toml"), Format::Json);
        assert_eq!(code, 0);
        let summary: serde_json::Value = serde_json::from_str(&out).unwrap();
        assert_eq!(summary["panels"], 51);
        assert_eq!(summary["pixels"], 41 * 48 + 10 * 44);
        assert_eq!(summary["nodes"], 2);
        let over = |kind: &str| {
            let loads = summary[kind].as_array().unwrap().iter();
            loads
                .filter(|load| load["full_white_a"].as_f64() > load["limit_a"].as_f64())
                .count()
        };
        assert_eq!(
            (over("supplies"), over("circuits"), over("feeds")),
            (2, 0, 10)
        );
        // Two colours at full, two thirds of full white, pass everywhere.
        for kind in ["supplies", "feeds"] {
            for load in summary[kind].as_array().unwrap() {
                let two_colours = load["full_white_a"].as_f64().unwrap() * 2.0 / 3.0;
                assert!(
                    two_colours * 1.01 < load["limit_a"].as_f64().unwrap(),
                    "{load}"
                );
            }
        }
    }

    #[test]
    fn faults_go_to_err_as_text_and_to_out_as_json() {
        let (code, out, err) = checked("name = 3\n", Format::Text);
        assert_eq!((code, out.as_str()), (1, ""));
        assert!(err.contains("f.toml:1:8"), "{err}");
        let (code, out, err) = checked("name = 3\n", Format::Json);
        assert_eq!((code, err.as_str()), (1, ""));
        let rows: serde_json::Value = serde_json::from_str(&out).unwrap();
        let row = rows["faults"]
            .as_array()
            .unwrap()
            .iter()
            .find(|row| row["code"] == "wrong-type")
            .unwrap();
        assert_eq!((&row["line"], &row["column"]), (&1.into(), &8.into()));
    }

    #[test]
    fn a_file_that_is_not_there_is_a_fault_without_a_place() {
        let told = |format| {
            let options = Check {
                floor: "/no/such/floor.toml".into(),
                format,
                artnet: "0.0.0.0:6454".parse().unwrap(),
            };
            let (mut out, mut err) = (Vec::new(), Vec::new());
            let code = run(&options, &mut out, &mut err);
            let text = |bytes| String::from_utf8(bytes).unwrap();
            (code, text(out), text(err))
        };
        let (code, out, _) = told(Format::Json);
        let rows: serde_json::Value = serde_json::from_str(&out).unwrap();
        assert_eq!(
            (code, &rows["faults"][0]["code"]),
            (1, &"unreadable".into())
        );
        assert!(rows["faults"][0]["line"].is_null());
        assert!(told(Format::Text).2.contains("/no/such/floor.toml"));
    }
}
