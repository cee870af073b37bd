//! The floor as its panels are placed now: the floor file with their serials, for review.

use std::collections::BTreeMap;

use serde::Serialize;
use similar::TextDiff;
use utoipa::ToSchema;

use super::PlacedRow;
use crate::floor::model::Floor;
use crate::floor::{self, Unamended};

/// A floor file that says which panel lies where.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct Rewritten {
    /// Name of the file that it was made of, without its directory.
    #[schema(example = "floor.toml")]
    pub name: String,
    /// The whole file; sound, or it would not be here.
    pub text: String,
    /// What changes, as a unified diff; empty if nothing does.
    pub diff: String,
}

/// Why there is none.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotRewritten {
    /// A run has a serial for each of its panels or none.
    #[error(
        "a run has a serial for each of its panels, or none: nothing is placed yet at {}",
        listed(.0)
    )]
    NotAllPlaced(Vec<String>),
    /// The file can't be amended.
    #[error(transparent)]
    Unamended(#[from] Unamended),
}

/// At most this many positions are named one by one.
const NAMED: usize = 12;

fn listed(positions: &[String]) -> String {
    let named = positions.iter().take(NAMED).cloned().collect::<Vec<_>>();
    let more = positions.len().saturating_sub(NAMED);
    let rest = if more > 0 {
        format!(" and {more} more")
    } else {
        String::new()
    };
    format!("{}{rest}", named.join(", "))
}

/// Rewrites the text of a floor's file so that it says what is placed.
///
/// # Errors
/// When a run has some of its panels placed, but not all, or the file can't be amended.
pub fn rewrite(
    name: &str,
    text: &str,
    floor: &Floor,
    placed: &[PlacedRow],
) -> Result<Rewritten, NotRewritten> {
    let found = as_placed(floor, placed)?;
    let amended = floor::amend(text, floor, &found)?;
    let diff = TextDiff::from_lines(text, amended.as_str());
    let rewritten = format!("{name}, as placed");
    let diff = diff
        .unified_diff()
        .header(name, &rewritten)
        .missing_newline_hint(true)
        .to_string();
    Ok(Rewritten {
        name: name.to_owned(),
        text: amended,
        diff,
    })
}

/// The same floor with the serials as placed. A run of which nothing is placed, and which has no serials
/// in the file, stays without.
fn as_placed(floor: &Floor, placed: &[PlacedRow]) -> Result<Floor, NotRewritten> {
    let at: BTreeMap<&str, &str> = placed
        .iter()
        .map(|row| (row.position.as_str(), row.serial.as_str()))
        .collect();
    let mut found = floor.clone();
    let mut lacking = Vec::new();
    for run in &floor.runs {
        let serial = |&panel: &usize| {
            let position = floor.panels[panel].position.to_string();
            at.get(position.as_str()).copied().ok_or(position)
        };
        let serials: Vec<Result<&str, String>> = run.panels.iter().map(serial).collect();
        let named = |&panel: &usize| !floor.panels[panel].serial.is_empty();
        if serials.iter().all(Result::is_err) && !run.panels.iter().any(named) {
            continue;
        }
        for (&panel, serial) in run.panels.iter().zip(serials) {
            match serial {
                Ok(serial) => serial.clone_into(&mut found.panels[panel].serial),
                Err(position) => lacking.push(position),
            }
        }
    }
    if lacking.is_empty() {
        Ok(found)
    } else {
        Err(NotRewritten::NotAllPlaced(lacking))
    }
}

#[cfg(test)]
mod tests;
