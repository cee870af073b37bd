//! Switches under panels that reach litfloor through a node: which slot is which switch.

use super::model::Floor;
use super::tables::UNIVERSE_SLOTS;
use crate::wire::PortAddress;

/// Switches that one node sends as levels.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Input {
    /// Index into [`Floor::nodes`]: who sends them.
    pub node: usize,
    /// Where the first switch lies.
    pub start: PortAddress,
    /// First slot, 1 to 512.
    pub slot: u16,
    /// What a pressed switch looks like.
    pub pressed: Pressed,
    /// Indices into [`Floor::panels`], in the order in which their switches follow each other.
    pub panels: Vec<usize>,
}

/// Which levels mean that a switch is pressed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Pressed {
    /// 128 and more.
    #[default]
    High,
    /// Less than 128: switches that open a circuit when they are pressed.
    Low,
}

impl Pressed {
    /// Each with its word in the floor file.
    pub const ALL: [(&'static str, Self); 2] = [("high", Self::High), ("low", Self::Low)];

    /// Whether a switch with this level is pressed.
    pub const fn is(self, level: u8) -> bool {
        (level >= 128) == matches!(self, Self::High)
    }

    /// A level that says so, as a node would send it.
    pub const fn level(self, down: bool) -> u8 {
        if down == matches!(self, Self::High) {
            255
        } else {
            0
        }
    }
}

/// Where the level of one switch lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SwitchSlot {
    /// Index into [`Floor::inputs`].
    pub input: usize,
    /// Index into [`Floor::panels`].
    pub panel: usize,
    /// Which of the panel's switches, counted from 1.
    pub switch: u16,
    /// The universe it comes in.
    pub port_address: PortAddress,
    /// Its slot there, counted from 0.
    pub slot: usize,
}

impl Floor {
    /// Every switch that reaches litfloor, in the order of the file.
    pub fn switch_slots(&self) -> impl Iterator<Item = SwitchSlot> + '_ {
        self.inputs.iter().enumerate().flat_map(|(at, input)| {
            let panels = input.panels.iter().flat_map(|&panel| {
                let switches = self.panel_kinds[self.panels[panel].kind].switches;
                (1..=switches).map(move |switch| (panel, switch))
            });
            let first = place(input.start, input.slot);
            (first..).zip(panels).filter_map(move |(place, of)| {
                let universe = u16::try_from(place / UNIVERSE_SLOTS).ok()?;
                Some(SwitchSlot {
                    input: at,
                    panel: of.0,
                    switch: of.1,
                    port_address: PortAddress::new(universe)?,
                    slot: place % UNIVERSE_SLOTS,
                })
            })
        })
    }
}

/// Slots from the first slot of `0:0:0`.
pub(super) fn place(start: PortAddress, slot: u16) -> usize {
    usize::from(start.number()) * UNIVERSE_SLOTS + usize::from(slot - 1)
}
