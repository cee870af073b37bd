//! Where a floor can break, and what goes dark then.
//!
//! Power and data take different ways: power comes from where the strip is fed and runs along its
//! copper, from panel to panel along a feed's links; data runs from pixel to pixel and from panel to
//! panel along a run. A [`Joint`] is one place of either way, and takes what nothing reaches any more
//! when it opens.
//!
//! What the floor file does not describe is taken as it is mostly built (common practice, no
//! source): a strip fed at its start, and each panel with a cable of its own to its feed.

mod along;
mod power;
mod signal;

use std::fmt;
use std::ops::Range;

use super::Item;
use crate::floor::Floor;
use crate::floor::model::{Colour, Drive, PixelKind};

/// What runs through a joint.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Wire {
    /// The supply.
    Supply,
    /// The data.
    Data,
    /// One colour of analogue strip.
    Colour(Colour),
}

/// Where a joint is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Place {
    /// Between this segment of a panel, counted from 0, and the one before it.
    Before {
        /// Index of the panel.
        panel: usize,
        /// The segment behind it.
        segment: usize,
    },
    /// Where a panel's own cable or data wire enters it, or that cable itself.
    Entry {
        /// Index of the panel.
        panel: usize,
    },
    /// From one panel to the next: of a feed, or of a run.
    Between {
        /// Index of the panel before it.
        from: usize,
        /// Index of the panel behind it.
        to: usize,
    },
    /// From a feed's fuse to its panels, and the fuse itself.
    Feed(usize),
    /// From a node's output to the first panel of a run.
    Run(usize),
}

/// One place that can open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Joint {
    /// What runs through it.
    pub wire: Wire,
    /// Where it is.
    pub place: Place,
    /// What goes dark when it opens: indices into [`Joints::items`], ascending, never none.
    pub takes: Vec<u32>,
}

/// All of a floor's joints.
#[derive(Debug, Clone, Default)]
pub struct Joints {
    /// What can be dead by itself: by panels, segments and colours.
    pub items: Vec<Item>,
    /// The items of each panel.
    pub of_panel: Vec<Range<usize>>,
    /// By panels first, in the floor's order, then feeds and runs.
    pub joints: Vec<Joint>,
}

/// Whether each colour of a kind of pixel can be dead by itself, for it has a wire of its own.
pub const fn colours_apart(kind: &PixelKind) -> bool {
    matches!(kind.drive, Drive::Analogue)
}

/// What can be dead by itself in the panel `at`: by segments and colours.
pub fn items_of(floor: &Floor, at: usize) -> Vec<Item> {
    let kind = &floor.panel_kinds[floor.panels[at].kind];
    let pixel = &floor.pixel_kinds[kind.pixel_kind];
    let colours: Vec<Option<Colour>> = if colours_apart(pixel) {
        pixel.colours().map(Some).collect()
    } else {
        vec![None]
    };
    let item = |segment, colour| Item {
        panel: number(at),
        segment: number(segment),
        colour,
    };
    (0..kind.segments.len())
        .flat_map(|segment| colours.iter().map(move |colour| item(segment, *colour)))
        .collect()
}

impl Joints {
    /// Those of a floor.
    pub fn new(floor: &Floor) -> Self {
        let mut joints = Self::default();
        for panel in 0..floor.panels.len() {
            let begin = joints.items.len();
            joints.items.extend(items_of(floor, panel));
            joints.of_panel.push(begin..joints.items.len());
        }
        power::all(floor, &mut joints);
        signal::all(floor, &mut joints);
        joints
            .joints
            .sort_by_key(|joint| joint.takes.first().copied());
        joints
    }

    /// The items of one segment.
    pub fn of_segment(&self, panel: usize, segment: usize) -> impl Iterator<Item = usize> + '_ {
        let is = move |at: &usize| self.items[*at].segment as usize == segment;
        self.of_panel[panel].clone().filter(is)
    }

    /// Which item this is; nothing if the floor has none such.
    pub fn find(&self, item: Item) -> Option<usize> {
        let range = self.of_panel.get(item.panel as usize)?.clone();
        let within = self.items[range.clone()].binary_search(&item).ok()?;
        Some(range.start + within)
    }

    fn add(&mut self, wire: Wire, place: Place, takes: impl IntoIterator<Item = usize>) {
        let mut takes: Vec<u32> = takes.into_iter().map(number).collect();
        takes.sort_unstable();
        takes.dedup();
        if !takes.is_empty() {
            self.joints.push(Joint { wire, place, takes });
        }
    }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a floor has at most two million pixels"
)]
const fn number(at: usize) -> u32 {
    at as u32
}

/// A place with the floor that it is on, for people.
#[derive(Debug, Clone, Copy)]
pub struct Named<'a> {
    /// The floor.
    pub floor: &'a Floor,
    /// What runs there.
    pub wire: Wire,
    /// Where.
    pub place: Place,
}

impl fmt::Display for Named<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { floor, wire, place } = self;
        let position = |panel: usize| floor.panels[panel].position;
        let side = match wire {
            Wire::Supply => "supply side".to_owned(),
            Wire::Data => "data side".to_owned(),
            Wire::Colour(colour) => format!("{} wire", colour.name()),
        };
        let what = match wire {
            Wire::Supply => "supply",
            Wire::Data => "data",
            Wire::Colour(colour) => colour.name(),
        };
        match *place {
            Place::Before { panel, segment } => write!(
                f,
                "{}, joint between segments {segment} and {}, {side}",
                position(panel),
                segment + 1
            ),
            Place::Entry { panel } => match wire {
                Wire::Supply => write!(
                    f,
                    "{}, supply where it enters the panel, or its cable",
                    position(panel)
                ),
                _ => write!(
                    f,
                    "{}, {what} wire where it enters the panel",
                    position(panel)
                ),
            },
            Place::Between { from, to } => {
                write!(f, "{what} between {} and {}", position(from), position(to))
            }
            Place::Feed(feed) => {
                write!(f, "feed {}: its fuse or its cable", floor.feeds[feed].name)
            }
            Place::Run(run) => {
                let run = &floor.runs[run];
                let to = position(run.panels[0]);
                let node = run.node.map(|node| floor.nodes[node].name.as_str());
                match (node, run.port) {
                    (Some(node), Some(port)) => {
                        write!(f, "{what} between node {node}, port {port}, and {to}")
                    }
                    (Some(node), None) => write!(f, "{what} between node {node} and {to}"),
                    (None, _) => write!(f, "{what} into {to}"),
                }
            }
        }
    }
}

impl Named<'_> {
    /// A word that stays the same as long as the floor is wired alike.
    pub fn key(&self) -> String {
        let position = |panel: usize| self.floor.panels[panel].position;
        let place = match self.place {
            Place::Before { panel, segment } => {
                format!("{}/{segment}-{}", position(panel), segment + 1)
            }
            Place::Entry { panel } => format!("{}/entry", position(panel)),
            Place::Between { from, to } => format!("{}/to-{}", position(from), position(to)),
            Place::Feed(feed) => format!("feed {}", self.floor.feeds[feed].name),
            Place::Run(run) => format!("{}/run", position(self.floor.runs[run].panels[0])),
        };
        match self.wire {
            Wire::Colour(colour) => format!("{place}/{}", colour.name()),
            Wire::Supply | Wire::Data => place,
        }
    }
}

#[cfg(test)]
mod tests;
