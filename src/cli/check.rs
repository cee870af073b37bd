//! `litfloor check FILE`: is the floor file sound?

use std::io::{self, IsTerminal, Write};
use std::net::{Ipv4Addr, SocketAddrV4};
use std::path::Path;

use serde::Serialize;

use super::Format;
use super::summary::{Load, Summary};
use crate::floor::model::Floor;
use crate::floor::{self, FaultRow, Faults};
use crate::net::interfaces;
use crate::wire::PORT;

#[derive(Serialize)]
struct Refused {
    faults: Vec<FaultRow>,
}

/// Checks a file. The summary goes to `out`, faults as text to `err` and as JSON to `out`, where
/// programs read. The exit status: 0 sound, 1 faults, 3 when nothing can be written.
pub fn run(path: &Path, format: Format, out: &mut dyn Write, err: &mut dyn Write) -> u8 {
    let color = io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
    report(floor::read(path), format, color, out, err).unwrap_or(3)
}

fn report(
    read: Result<Floor, Faults>,
    format: Format,
    color: bool,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> io::Result<u8> {
    // What `run` would refuse with its own listener, `check` refuses too.
    if let Ok(floor) = &read {
        let listener = SocketAddrV4::new(Ipv4Addr::UNSPECIFIED, PORT);
        if let Some(node) = interfaces::loops_back(&floor.nodes, listener, &interfaces::list()) {
            return writeln!(err, "{}", interfaces::loop_text(node)).map(|()| 1);
        }
    }
    match (read, format) {
        (Ok(floor), Format::Text) => text(&Summary::of(&floor), out).map(|()| 0),
        (Ok(floor), Format::Json) => json(&Summary::of(&floor), out).map(|()| 0),
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

fn json(value: &impl Serialize, out: &mut dyn Write) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, value)?;
    writeln!(out)
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
    writeln!(out, "{name}: sound")?;
    writeln!(
        out,
        "{}, {}, {} in {}, {}",
        counted(*panels as u64, "panel"),
        counted(*pixels as u64, "pixel"),
        counted(*slots, "slot"),
        counted(*universes as u64, "universe"),
        counted(*nodes as u64, "node"),
    )?;
    loads("Supplies at full white", &summary.supplies, out)?;
    loads(
        "Circuits at full white, mains amperes",
        &summary.circuits,
        out,
    )?;
    writeln!(out)?;
    for caution in &summary.cautions {
        writeln!(out, "Caution: {caution}.")?;
    }
    Ok(())
}

fn counted(count: u64, what: &str) -> String {
    if count == 1 {
        format!("1 {what}")
    } else {
        format!("{count} {what}s")
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
        let over = if load.full_white_a > load.limit_a {
            "  OVER the limit"
        } else {
            ""
        };
        let Load {
            name,
            full_white_a,
            rated_a,
            limit_a,
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

    fn checked(text: &str, format: Format) -> (u8, String, String) {
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let code = report(
            floor::parse("f.toml", text),
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
    fn a_sound_file_is_summed_up() {
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
        assert!(out.contains("Caution: amperes are estimates"), "{out}");
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
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let code = run(
            Path::new("/no/such/floor.toml"),
            Format::Json,
            &mut out,
            &mut err,
        );
        let rows: serde_json::Value = serde_json::from_slice(&out).unwrap();
        assert_eq!(
            (code, &rows["faults"][0]["code"]),
            (1, &"unreadable".into())
        );
        assert!(rows["faults"][0]["line"].is_null());
        let (mut out, mut err) = (Vec::new(), Vec::new());
        run(
            Path::new("/no/such/floor.toml"),
            Format::Text,
            &mut out,
            &mut err,
        );
        assert!(
            String::from_utf8(err)
                .unwrap()
                .contains("/no/such/floor.toml")
        );
    }
}
