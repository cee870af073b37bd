//! Ways in which the floor may be wired that fit what was answered.

use std::collections::BTreeSet;

use super::mistake::{Mistake, orders};
use super::seen::Seen;
use super::wired::{Sent, Wired};
use crate::floor::model::{Floor, Position};

/// No more are kept at once.
const MOST: usize = 1_200;

/// Of swaps elsewhere in a run no more are thought of at once.
const MOST_SWAPS: usize = 2_000;

/// Of so many the next mistake is thought on from.
const MOST_BASES: usize = 8;

/// A start slot is thought to be off by no more.
const MOST_SHIFT: u16 = 30;

/// One way.
#[derive(Debug, Clone)]
pub(super) struct Suspect {
    /// What was made otherwise than planned, and the question whose answer led there.
    pub(super) mistakes: Vec<(Mistake, usize)>,
    pub(super) wired: Wired,
}

impl Suspect {
    fn with(&self, mistake: Mistake, since: usize) -> Option<Self> {
        let wired = mistake.applied(&self.wired)?;
        let mut mistakes = self.mistakes.clone();
        mistakes.push((mistake, since));
        Some(Self { mistakes, wired })
    }

    /// Whether the last mistake that was thought of shows at one panel alone.
    pub(super) fn is_lonely(&self) -> bool {
        let last = self.mistakes.last();
        last.is_some_and(|(mistake, _)| {
            matches!(
                mistake,
                Mistake::Turned { .. } | Mistake::PanelColours { .. } | Mistake::Dark { .. }
            )
        })
    }

    fn weight(&self) -> u32 {
        self.mistakes.iter().map(|(what, _)| what.weight()).sum()
    }
}

/// What is known when nothing that was thought of fits any more.
pub(super) struct Riddle<'a> {
    /// The slots that were sent for the panel in question.
    pub(super) sent: &'a [Sent],
    /// Where light was, if somewhere.
    pub(super) at: Option<usize>,
    /// Kinds of pixel that the plan has; any further one is of one panel alone.
    pub(super) kinds: usize,
    /// All answers, the last one included.
    pub(super) history: &'a [Seen],
}

/// The ways that fit, each with one mistake more than one of `bases`, or with two if one does not
/// do; none if nothing fits.
pub(super) fn think_on(bases: &[Suspect], riddle: &Riddle<'_>) -> Vec<Suspect> {
    let since = riddle.history.len() - 1;
    let fits = |suspect: &Suspect| {
        // The last answer first: it rules out the most.
        let mut seen = riddle.history.iter().rev();
        seen.all(|seen| seen.fits(&suspect.wired))
    };
    let mut found = Vec::new();
    for base in bases.iter().take(MOST_BASES) {
        let singles = singles(base, riddle).into_iter();
        let with = singles.filter_map(|mistake| base.with(mistake, since));
        found.extend(with.filter(|suspect| fits(suspect)));
    }
    if found.is_empty() {
        for base in bases.iter().take(2) {
            found.extend(elsewhere(base, riddle, since).filter(|suspect| fits(suspect)));
        }
    }
    if found.is_empty() {
        for base in bases.iter().take(2) {
            for first in singles(base, riddle) {
                let Some(one) = base.with(first.clone(), since) else {
                    continue;
                };
                for second in singles(&one, riddle) {
                    if first.order() < second.order()
                        && let Some(two) = one.with(second, since)
                        && fits(&two)
                    {
                        found.push(two);
                    }
                }
            }
        }
    }
    found.sort_by_key(Suspect::weight);
    found.truncate(MOST);
    found
}

/// Swaps of panels of different kinds: they move all that hangs behind them on the wire. The run
/// may be reversed as well.
fn elsewhere<'a>(
    base: &'a Suspect,
    riddle: &Riddle<'_>,
    since: usize,
) -> impl Iterator<Item = Suspect> + 'a {
    let floor = &base.wired.floor;
    let owner = base.wired.owner(riddle.sent);
    let run = owner.map(|owner| floor.panels[owner].run);
    let panels = run.map_or(&[][..], |run| floor.runs[run].panels.as_slice());
    let pairs = panels.iter().flat_map(move |&a| {
        let others = 0..floor.panels.len();
        let others = others.filter(move |&b| floor.panels[a].kind != floor.panels[b].kind);
        others.map(move |b| (a, b))
    });
    let swapped = pairs.take(MOST_SWAPS).filter_map(move |(a, b)| {
        let swapped = base.with(Mistake::Swapped { a, b }, since)?;
        let reversed = [false, true].map(|turned| {
            let run = run.unwrap_or_default();
            swapped.with(Mistake::Reversed { run, turned }, since)
        });
        Some(std::iter::once(swapped).chain(reversed.into_iter().flatten()))
    });
    swapped.flatten()
}

/// Single mistakes that may explain what was seen.
fn singles(base: &Suspect, riddle: &Riddle<'_>) -> Vec<Mistake> {
    let floor = &base.wired.floor;
    let mut found = Vec::new();
    let Some(owner) = base.wired.owner(riddle.sent) else {
        // The slots drive nothing: only a run that begins elsewhere can change that.
        return (0..floor.runs.len())
            .flat_map(|run| shifts(floor, run))
            .collect();
    };
    let at = riddle.at.unwrap_or(owner);
    let run = floor.panels[owner].run;
    if at == owner {
        found.push(Mistake::Dark { panel: owner });
    } else {
        found.push(Mistake::Swapped { a: owner, b: at });
    }
    for turned in [false, true] {
        found.push(Mistake::Reversed { run, turned });
    }
    // Light that spills into a neighbour shows how that one lies, too.
    let mut lit: BTreeSet<usize> = base.wired.see(riddle.sent).panels();
    lit.insert(at);
    for panel in lit {
        found.extend(turns(floor, panel));
        let kind = floor.panel_kinds[floor.panels[panel].kind].pixel_kind;
        let other = orders(&floor.pixel_kinds[kind]);
        for order in other.into_iter().filter(|_| kind < riddle.kinds) {
            found.push(Mistake::KindColours {
                pixel_kind: kind,
                order: order.clone(),
            });
            found.push(Mistake::PanelColours { panel, order });
        }
        if panel != owner {
            found.push(Mistake::Dark { panel });
        }
    }
    found.extend(shifts(floor, run));
    found
}

/// All other ways in which a panel can lie.
fn turns(floor: &Floor, panel: usize) -> Vec<Mistake> {
    let [width, height] = floor.grid.panel_mm;
    let square = (width.0 - height.0).abs() < f64::EPSILON;
    let turns: &[u16] = if square {
        &[0, 90, 180, 270]
    } else {
        &[0, 180]
    };
    let of = &floor.panels[panel];
    let mut found = Vec::new();
    for mirrored in [of.mirrored, !of.mirrored] {
        for &turn_deg in turns {
            if (turn_deg, mirrored) != (of.turn_deg, of.mirrored) {
                found.push(Mistake::Turned {
                    panel,
                    turn_deg,
                    mirrored,
                });
            }
        }
    }
    found
}

/// Starts of a run that are near.
fn shifts(floor: &Floor, run: usize) -> Vec<Mistake> {
    let slot = floor.runs[run].slot;
    let near = slot.saturating_sub(MOST_SHIFT).max(1)..=(slot + MOST_SHIFT).min(512);
    let shifted = near
        .filter(|other| *other != slot)
        .map(|slot| Mistake::Shifted { run, slot });
    let mut shifted: Vec<Mistake> = shifted.collect();
    shifted.sort_by_key(|mistake| match mistake {
        Mistake::Shifted { slot: other, .. } => slot.abs_diff(*other),
        _ => 0,
    });
    shifted
}

/// The text of a position.
pub(super) fn position(floor: &Floor, panel: usize) -> Position {
    floor.panels[panel].position
}
