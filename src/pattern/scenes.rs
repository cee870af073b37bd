//! What each pattern lights at each of its steps.

use std::ops::Range;

use super::blink::Sign;
use super::order::TestPattern;
use super::refused::Refused;
use super::{choose, label, mark};
use crate::floor::Floor;
use crate::floor::model::Colour;
use crate::floor::tables::{PanelRow, Tables};

/// What is lit at one step.
#[derive(Debug, Clone, Default)]
pub(super) struct Scene {
    pub(super) name: String,
    /// Panels with a lit pixel.
    pub(super) panels: Vec<usize>,
    pub(super) lit: Vec<Range<u32>>,
    pub(super) only: Option<Colour>,
    /// Whether only the coarse half of a 16-bit level is lit, so that a shift by one slot shows.
    pub(super) coarse: bool,
    /// Lit pixels that have a colour of their own.
    pub(super) tones: Vec<(Range<u32>, Colour)>,
}

impl Scene {
    fn of_panels(tables: &Tables, name: String, panels: Vec<usize>) -> Self {
        let lit = panels
            .iter()
            .map(|&at| pixels(&tables.panels[at]))
            .collect();
        Self {
            name,
            panels,
            lit,
            ..Self::default()
        }
    }
}

fn pixels(row: &PanelRow) -> Range<u32> {
    row.first_pixel..row.first_pixel + row.pixels
}

/// The steps of every pattern but labels; a step that lights nothing covered has no panels.
pub(super) fn of(
    pattern: &TestPattern,
    floor: &Floor,
    tables: &Tables,
    covered: &[bool],
) -> Result<Vec<Scene>, Refused> {
    let whole = |name: String, panels: Vec<usize>| {
        let panels = panels.into_iter().filter(|&at| covered[at]).collect();
        vec![Scene::of_panels(tables, name, panels)]
    };
    let all = || (0..floor.panels.len()).collect::<Vec<_>>();
    Ok(match pattern {
        TestPattern::All | TestPattern::Labels => whole("Everything".to_owned(), all()),
        TestPattern::Panel { position } => {
            let at = choose::panel(floor, position)?;
            whole(
                format!("Panel {} alone", floor.panels[at].position),
                vec![at],
            )
        }
        TestPattern::Mark { position } => {
            vec![marked(
                floor,
                tables,
                covered,
                choose::panel(floor, position)?,
            )]
        }
        TestPattern::Segment { position, segment } => {
            let at = choose::panel(floor, position)?;
            vec![one_segment(floor, tables, covered, at, *segment)?]
        }
        TestPattern::Pixel { position, pixel } => {
            let at = choose::panel(floor, position)?;
            vec![single(floor, tables, covered, at, *pixel)?]
        }
        TestPattern::Walk { run, .. } => {
            let run = run.map(|run| choose::run(floor, run)).transpose()?;
            walk(floor, tables, covered, run)
        }
        TestPattern::Run { run } => {
            let run = choose::run(floor, *run)?;
            let name = choose::run_name(floor, run);
            whole(format!("All of {name}"), floor.runs[run].panels.clone())
        }
        TestPattern::Universe { port_address } => {
            let found = choose::universe(tables, port_address)?;
            let found = found.into_iter().filter(|(panel, _)| covered[*panel]);
            let (mut panels, lit): (Vec<_>, Vec<_>) = found.unzip();
            panels.dedup();
            vec![Scene {
                name: format!("Universe {port_address}"),
                panels,
                lit,
                ..Scene::default()
            }]
        }
        TestPattern::Node { node } => whole(format!("Node {node}"), choose::node(floor, node)?),
        TestPattern::Row { row } => whole(format!("Row {row}"), choose::row(floor, *row)?),
        TestPattern::Column { column } => {
            let panels = choose::column(floor, column)?;
            whole(format!("Column {}", column.to_ascii_uppercase()), panels)
        }
        TestPattern::Colours { .. } => colours(floor, tables, covered),
        TestPattern::Joints { .. } => joints(tables, covered),
    })
}

fn marked(floor: &Floor, tables: &Tables, covered: &[bool], panel: usize) -> Scene {
    let first = tables.panels[panel].first_pixel;
    let tones = mark::tones(floor, panel).into_iter();
    let tones = tones.filter_map(|(range, colour)| {
        let on_floor = first + range.start..first + range.end;
        colour.map(|colour| (on_floor, colour))
    });
    let tones: Vec<_> = tones.filter(|_| covered[panel]).collect();
    let words = tones.iter().map(|(range, colour)| {
        let which = match (range.start - first, range.len()) {
            (at, 1) => format!("pixel {}", at + 1),
            (at, count) => format!("pixels {} to {}", at + 1, at as usize + count),
        };
        format!("{which} {}", colour.name())
    });
    let words = words.collect::<Vec<_>>().join(", ");
    Scene {
        name: format!("Panel {} marked: {words}", floor.panels[panel].position),
        panels: if covered[panel] {
            vec![panel]
        } else {
            Vec::new()
        },
        lit: tones.iter().map(|(range, _)| range.clone()).collect(),
        coarse: true,
        tones,
        only: None,
    }
}

fn one_segment(
    floor: &Floor,
    tables: &Tables,
    covered: &[bool],
    panel: usize,
    segment: u32,
) -> Result<Scene, Refused> {
    let row = &tables.panels[panel];
    let position = floor.panels[panel].position;
    let known = row.segments.len();
    let index = usize::try_from(segment)
        .ok()
        .and_then(|at| at.checked_sub(1));
    let Some(index) = index.filter(|&index| index < known) else {
        let text = match known {
            1 => format!("Panel {position} has no segment {segment}: it has one, 1."),
            _ => {
                format!("Panel {position} has no segment {segment}: it has segments 1 to {known}.")
            }
        };
        return Err(Refused::new("no_such_segment", text));
    };
    let panels = if covered[panel] {
        vec![panel]
    } else {
        Vec::new()
    };
    Ok(Scene {
        name: format!("Segment {segment} of panel {position} alone"),
        panels,
        lit: std::iter::once(row.segment(index)).collect(),
        ..Scene::default()
    })
}

fn single(
    floor: &Floor,
    tables: &Tables,
    covered: &[bool],
    panel: usize,
    pixel: u32,
) -> Result<Scene, Refused> {
    let row = &tables.panels[panel];
    let position = floor.panels[panel].position;
    if pixel == 0 || pixel > row.pixels {
        let text = format!(
            "Panel {position} has no pixel {pixel}: it has pixels 1 to {}.",
            row.pixels
        );
        return Err(Refused::new("no_such_pixel", text));
    }
    let at = row.first_pixel + pixel - 1;
    let panels = if covered[panel] {
        vec![panel]
    } else {
        Vec::new()
    };
    Ok(Scene {
        name: format!("Pixel {pixel} of panel {position} alone"),
        panels,
        lit: std::iter::once(at..at + 1).collect(),
        coarse: true,
        ..Scene::default()
    })
}

fn walk(floor: &Floor, tables: &Tables, covered: &[bool], run: Option<usize>) -> Vec<Scene> {
    let runs = run.map_or(0..floor.runs.len(), |run| run..run + 1);
    let wired = runs.flat_map(|run| {
        let panels = floor.runs[run].panels.iter().copied();
        panels.filter(|&at| covered[at]).map(move |at| (run, at))
    });
    let wired: Vec<(usize, usize)> = wired.collect();
    let count = wired.len();
    let scene = |(step, (run, at)): (usize, (usize, usize))| {
        let (step, position) = (step + 1, floor.panels[at].position);
        let of = choose::run_name(floor, run);
        let name = format!("Walk in wiring order: {position}, {step} of {count}, {of}");
        Scene::of_panels(tables, name, vec![at])
    };
    wired.into_iter().enumerate().map(scene).collect()
}

fn colours(floor: &Floor, tables: &Tables, covered: &[bool]) -> Vec<Scene> {
    let kind = |at: &usize| &tables.patterns[floor.panel_kinds[floor.panels[*at].kind].pixel_kind];
    let scene = |colour: Colour| {
        let has = |at: &usize| kind(at).slots.iter().any(|slot| slot.colour == colour);
        let panels = (0..covered.len()).filter(|at| covered[*at] && has(at));
        let name = format!("Every colour alone: {}", colour.name());
        let mut scene = Scene::of_panels(tables, name, panels.collect());
        scene.only = Some(colour);
        scene
    };
    Colour::ALL.map(scene).into()
}

fn joints(tables: &Tables, covered: &[bool]) -> Vec<Scene> {
    let chosen = || {
        tables
            .panels
            .iter()
            .enumerate()
            .filter(|(at, _)| covered[*at])
    };
    let most = chosen()
        .map(|(_, row)| row.segments.len())
        .max()
        .unwrap_or(0);
    let scene = |step: usize| {
        let found = chosen().filter_map(|(at, row)| {
            row.segments.get(step)?;
            Some((at, row.segment(step)))
        });
        let (panels, lit) = found.unzip();
        Scene {
            name: format!("Segment {} of {most} of every panel", step + 1),
            panels,
            lit,
            ..Scene::default()
        }
    };
    (0..most).map(scene).collect()
}

/// Panels that are given in time, each with its figures.
pub(super) type Signs = Vec<(Sign, Vec<Vec<Range<u32>>>)>;

/// The one step of labels, and what is given in time.
pub(super) fn labels(floor: &Floor, tables: &Tables, covered: &[bool]) -> (Vec<Scene>, Signs) {
    let mut scene = Scene {
        name: "Every panel's own label".to_owned(),
        ..Scene::default()
    };
    let mut signs = Vec::new();
    let mut blinked = 0;
    for (at, row) in tables
        .panels
        .iter()
        .enumerate()
        .filter(|(at, _)| covered[*at])
    {
        let all = pixels(row);
        let position = floor.panels[at].position;
        let places = &tables.pixels_mm[all.start as usize..all.end as usize];
        let single = |of: Vec<u32>| -> Vec<Range<u32>> {
            let on_floor = of.into_iter().map(|pixel| row.first_pixel + pixel);
            on_floor.map(|pixel| pixel..pixel + 1).collect()
        };
        scene.panels.push(at);
        match label::draw(&position.to_string(), places) {
            Some(label::Label::Whole(lit)) => scene.lit.extend(single(lit)),
            Some(label::Label::Letters(letters)) => {
                let sign = Sign::spelled(letters.len());
                signs.push((sign, letters.into_iter().map(single).collect()));
            }
            None => {
                blinked += 1;
                signs.push((Sign::blinked(position), vec![vec![all]]));
            }
        }
    }
    if blinked > 0 {
        scene.name += " (blinked: column, then row; a long flash for ten, a short one for one)";
    }
    (vec![scene], signs)
}
