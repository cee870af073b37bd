//! What a survey is to be about.

use super::items::Items;
use crate::floor::{Floor, Tables};
use crate::pattern::Refused;

/// What a survey is to be about.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct About {
    /// Positions; nothing: all.
    pub positions: Option<Vec<String>>,
    /// Level of what is lit, 1 to 255.
    pub level: u8,
    /// Whether segments that draw too little are to be found as well as dead ones.
    pub weak: bool,
}

impl About {
    /// The items that it is about, and what each of them draws beyond idle when it is lit.
    ///
    /// # Errors
    /// Says what is unknown, or that nothing would light up.
    pub(super) fn items(
        &self,
        floor: &Floor,
        tables: &Tables,
    ) -> Result<(Items, Vec<f64>), Refused> {
        let wanted = self.panels(floor)?;
        if self.level == 0 {
            let text = "At level 0 nothing lights up: a survey takes a level of 1 to 255.";
            return Err(Refused::new("too_dark", text));
        }
        let items = Items::new(floor, tables, &wanted);
        let full_a = items.full_a(tables, self.level);
        Ok((items, full_a))
    }

    /// For each panel whether it is meant.
    ///
    /// # Errors
    /// Says what is unknown.
    pub fn panels(&self, floor: &Floor) -> Result<Vec<bool>, Refused> {
        let Some(positions) = &self.positions else {
            return Ok(vec![true; floor.panels.len()]);
        };
        let mut panels = vec![false; floor.panels.len()];
        for text in positions {
            let position = text.parse().ok();
            let Some(at) = position.and_then(|position| floor.panel_at(position)) else {
                let text = format!("There is no panel at {}.", text.escape_debug());
                return Err(Refused::new("no_such_panel", text));
            };
            panels[at] = true;
        }
        Ok(panels)
    }
}
