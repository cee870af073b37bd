//! What stays as it was when the floor file is read again, so that what was learnt of it stays known.

use super::spec::sees;
use crate::floor::Floor;
use crate::floor::model::{Measured, Panel, PanelKind, PixelKind, Supply};

/// Where things of the floor before are in the new one; nothing for what is otherwise now.
#[derive(Debug)]
pub(super) struct Kept {
    pub(super) panels: Vec<Option<usize>>,
    pub(super) sensors: Vec<Option<usize>>,
    pub(super) nodes: Vec<Option<usize>>,
}

impl Kept {
    pub(super) fn of(old: &Floor, new: &Floor) -> Self {
        let panels: Vec<_> = (old.panels.iter())
            .map(|panel| same_panel(old, new, panel))
            .collect();
        let sensors = 0..old.sensors.len();
        Self {
            sensors: sensors
                .map(|at| same_sensor(old, new, at, &panels))
                .collect(),
            nodes: (old.nodes.iter())
                .map(|node| new.nodes.iter().position(|other| other == node))
                .collect(),
            panels,
        }
    }
}

/// The panel at the same position, if it is the same one and of the same kind.
fn same_panel(old: &Floor, new: &Floor, panel: &Panel) -> Option<usize> {
    let at = (new.panels.iter()).position(|other| other.position == panel.position)?;
    let other = &new.panels[at];
    let same = other.serial == panel.serial && kind(old, panel) == kind(new, other);
    same.then_some(at)
}

/// All that the file says of what a panel is made of.
fn kind(floor: &Floor, panel: &Panel) -> (PanelKind, PixelKind) {
    let kind = &floor.panel_kinds[panel.kind];
    let pixels = floor.pixel_kinds[kind.pixel_kind].clone();
    let kind = PanelKind {
        pixel_kind: 0,
        ..kind.clone()
    };
    (kind, pixels)
}

/// The sensor of the same name, if it measures the same at the same place, where the same panels hang.
fn same_sensor(old: &Floor, new: &Floor, at: usize, panels: &[Option<usize>]) -> Option<usize> {
    let sensor = &old.sensors[at];
    let to = (new.sensors.iter()).position(|other| other.name == sensor.name)?;
    let other = &new.sensors[to];
    let same = other.quantity == sensor.quantity
        && other.factor.to_bits() == sensor.factor.to_bits()
        && other.every_s.to_bits() == sensor.every_s.to_bits()
        && place(old, sensor.of) == place(new, other.of);
    let seen = |panel: &usize| sees(old, sensor.of, *panel);
    let seen: Option<Vec<usize>> = (0..old.panels.len())
        .filter(seen)
        .map(|panel| panels[panel])
        .collect();
    let mut seen = seen?;
    seen.sort_unstable();
    let now = (0..new.panels.len()).filter(|panel| sees(new, other.of, *panel));
    (same && now.eq(seen)).then_some(to)
}

/// Where it measures, by name, and the supplies between there and the panels.
fn place(floor: &Floor, of: Measured) -> (&'static str, String, Vec<Supply>) {
    let behind = |circuit: usize| {
        let own = floor
            .supplies
            .iter()
            .filter(move |one| one.circuit == circuit);
        own.map(|one| Supply {
            circuit: 0,
            ..one.clone()
        })
    };
    match of {
        Measured::Panel(at) => {
            let position = floor.panels[at].position.to_string();
            ("panel", position, Vec::new())
        }
        Measured::Feed(at) => ("feed", floor.feeds[at].name.clone(), Vec::new()),
        Measured::Supply(at) => ("supply", floor.supplies[at].name.clone(), Vec::new()),
        Measured::Circuit(at) => {
            let name = floor.circuits[at].name.clone();
            ("circuit", name, behind(at).collect())
        }
    }
}
