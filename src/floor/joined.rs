//! From start addresses of panels back to runs: what a spreadsheet knows becomes `[[run]]`.

use super::model::{Lead, Packing};
use super::stretch::Cursor;
use crate::wire::PortAddress;

/// Spare slots that one element of `panels` can pass.
const MOST_SPARE: u64 = 10_000;

/// Where one panel begins, and how large it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Begin {
    /// Where its first slot lies.
    pub start: PortAddress,
    /// First slot, 1 to 512.
    pub slot: u16,
    /// Its pixels.
    pub pixels: u32,
    /// Slots of each.
    pub slots_per_pixel: usize,
    /// How its run is packed, if that is known.
    pub packing: Option<Packing>,
}

/// Panels that make one run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JoinedRun {
    /// How it is packed.
    pub packing: Packing,
    /// Whether the addresses would be the same with another packing, but not all slots.
    pub packing_is_guessed: bool,
    /// Indices of the panels in wiring order, and the spare slots before each.
    pub panels: Vec<(usize, u16)>,
}

/// Why panels can't be joined.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotJoined {
    /// The panel begins before the other one ends.
    Overlap {
        /// Index of the one that begins too early.
        panel: usize,
        /// Index of the one before it.
        before: usize,
    },
    /// More slots lie free before the panel than a run can pass.
    TooFar {
        /// Index of the panel.
        panel: usize,
        /// Index of the one before it.
        before: usize,
        /// Free slots between them.
        slots: u64,
    },
    /// The panel goes past the last universe.
    PastLast {
        /// Index of the panel.
        panel: usize,
    },
}

impl Begin {
    /// Its first slot, with all slots of all universes in one row, from 0.
    pub fn first(&self) -> u64 {
        u64::from(self.start.number()) * 512 + u64::from(self.slot) - 1
    }

    /// The slot behind its last one, in the same row, if nothing is left free for whole pixels.
    pub fn packed_end(&self) -> u64 {
        self.first() + u64::from(self.pixels) * self.slots_per_pixel as u64
    }

    /// Where it lies in wiring order.
    pub fn order(&self) -> (PortAddress, u16) {
        (self.start, self.slot)
    }
}

/// A packing that explains all panels of a run so far.
#[derive(Clone)]
struct Candidate {
    packing: Packing,
    cursor: Cursor,
    spare: Vec<u16>,
}

impl Candidate {
    /// Lays a panel behind what it has, after so many spare slots; nothing if it would not begin
    /// where it does.
    fn lay(&self, begin: &Begin, spare_slots: u16) -> Option<Self> {
        let mut next = self.clone();
        let lead = Lead {
            spare_slots,
            ..Lead::default()
        };
        next.cursor.pass(lead, begin.slots_per_pixel, |_| {});
        let mut first = None;
        next.cursor
            .lay(begin.pixels, begin.slots_per_pixel, |stretch| {
                let at = u64::from(stretch.universe) * 512 + u64::from(stretch.first);
                first = first.or(Some(at));
            });
        next.spare.push(spare_slots);
        (first == Some(begin.first())).then_some(next)
    }

    /// The first slot behind all panels.
    fn end(&self) -> u64 {
        let (universe, slot) = self.cursor.next();
        u64::from(universe) * 512 + u64::from(slot) - 1
    }
}

/// Joins panels that follow each other, in the order in which they are given. With `one_output`
/// they hang on one output: what lies free between them is passed by spare slots; otherwise a
/// new run begins there.
///
/// # Errors
/// Every panel that can't follow the one before it.
pub fn join(panels: &[(usize, Begin)], one_output: bool) -> Result<Vec<JoinedRun>, Vec<NotJoined>> {
    let mut runs: Vec<(Vec<Candidate>, Vec<usize>)> = Vec::new();
    let mut wrong = Vec::new();
    for (panel, begin) in panels {
        if let Some((candidates, members)) = runs.last_mut() {
            match follow(candidates, begin, one_output) {
                Ok(Some(next)) => {
                    *candidates = next;
                    members.push(*panel);
                    past_last(&runs, *panel, &mut wrong);
                    continue;
                }
                Ok(None) => {}
                Err(gap) => {
                    let before = members.last().copied().unwrap_or(*panel);
                    wrong.push(match gap {
                        None => NotJoined::Overlap {
                            panel: *panel,
                            before,
                        },
                        Some(slots) => NotJoined::TooFar {
                            panel: *panel,
                            before,
                            slots,
                        },
                    });
                }
            }
        }
        runs.push((begin_run(begin), vec![*panel]));
        past_last(&runs, *panel, &mut wrong);
    }
    if !wrong.is_empty() {
        return Err(wrong);
    }
    let joined = runs.into_iter().filter_map(|(candidates, members)| {
        let best = candidates.first()?;
        Some(JoinedRun {
            packing: best.packing,
            packing_is_guessed: candidates.iter().any(|other| other.end() != best.end()),
            panels: members.into_iter().zip(best.spare.clone()).collect(),
        })
    });
    Ok(joined.collect())
}

/// The packings that explain the first panel; the default of the floor file comes first.
fn begin_run(begin: &Begin) -> Vec<Candidate> {
    let order = [Packing::WholePixel, Packing::WholePanel, Packing::Packed];
    let wanted = order
        .into_iter()
        .filter(|packing| begin.packing.is_none_or(|known| known == *packing));
    let all = wanted.filter_map(|packing| {
        let candidate = Candidate {
            packing,
            cursor: Cursor::new(begin.start.number(), begin.slot, packing),
            spare: Vec::new(),
        };
        candidate.lay(begin, 0)
    });
    let found: Vec<Candidate> = all.collect();
    if !found.is_empty() {
        return found;
    }
    // It begins where its packing would not begin it: only what cuts everywhere is left.
    let candidate = Candidate {
        packing: Packing::Packed,
        cursor: Cursor::new(begin.start.number(), begin.slot, Packing::Packed),
        spare: Vec::new(),
    };
    candidate.lay(begin, 0).into_iter().collect()
}

/// The packings that still explain the run with one panel more; nothing where a new run begins.
/// The error: the slots that lie free, if they are too many, else the panel begins too early.
fn follow(
    candidates: &[Candidate],
    begin: &Begin,
    one_output: bool,
) -> Result<Option<Vec<Candidate>>, Option<u64>> {
    let alike = |candidate: &&Candidate| begin.packing.is_none_or(|p| p == candidate.packing);
    let alike: Vec<&Candidate> = candidates.iter().filter(alike).collect();
    let direct: Vec<Candidate> = alike
        .iter()
        .filter_map(|candidate| candidate.lay(begin, 0))
        .collect();
    if !direct.is_empty() {
        return Ok(Some(direct));
    }
    let gap = |candidate: &Candidate| begin.first().checked_sub(candidate.end());
    let gaps: Vec<u64> = candidates.iter().filter_map(gap).collect();
    let Some(widest) = gaps.iter().max() else {
        return Err(None);
    };
    if !one_output {
        return Ok(None);
    }
    let spare = |candidate: &&Candidate| {
        let gap = gap(candidate).filter(|gap| *gap <= MOST_SPARE)?;
        candidate.lay(begin, u16::try_from(gap).ok()?)
    };
    let passed: Vec<Candidate> = alike.iter().filter_map(spare).collect();
    if !passed.is_empty() {
        return Ok(Some(passed));
    }
    if *widest > MOST_SPARE {
        return Err(Some(*widest));
    }
    Ok(None)
}

fn past_last(runs: &[(Vec<Candidate>, Vec<usize>)], panel: usize, wrong: &mut Vec<NotJoined>) {
    let last = (u64::from(PortAddress::MAX) + 1) * 512;
    let candidates = runs.last().map(|(candidates, _)| candidates);
    if candidates.is_some_and(|all| all.iter().all(|candidate| candidate.end() > last)) {
        wrong.push(NotJoined::PastLast { panel });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn begin(start: u16, slot: u16) -> Begin {
        Begin {
            start: PortAddress::new(start).unwrap(),
            slot,
            pixels: 40,
            slots_per_pixel: 3,
            packing: None,
        }
    }

    fn panels(starts: &[(u16, u16)]) -> Vec<(usize, Begin)> {
        let begins = starts.iter().map(|(start, slot)| begin(*start, *slot));
        begins.enumerate().collect()
    }

    #[test]
    fn panels_that_follow_each_other_are_one_run() {
        // Common practice, no source: four panels of 40 RGB pixels, 120 slots each, and the fifth
        // begins the next universe when panels lie whole.
        let whole = panels(&[(1, 1), (1, 121), (1, 241), (1, 361), (2, 1)]);
        let runs = join(&whole, false).unwrap();
        assert_eq!(runs.len(), 1);
        assert_eq!(runs[0].packing, Packing::WholePanel);
        assert!(!runs[0].packing_is_guessed);
        // Without a gap they go on in slot 481; only the packing of the cut panel is a guess:
        // 510 slots of whole pixels, or all 512.
        let cut = panels(&[(1, 1), (1, 121), (1, 241), (1, 361), (1, 481)]);
        let runs = join(&cut, false).unwrap();
        assert_eq!((runs.len(), runs[0].packing), (1, Packing::WholePixel));
        assert!(runs[0].packing_is_guessed);
        // The sixth tells: slot 91 of the next if whole, 89 if packed.
        for (slot, packing) in [(91, Packing::WholePixel), (89, Packing::Packed)] {
            let mut more = cut.clone();
            more.push((5, begin(2, slot)));
            let runs = join(&more, false).unwrap();
            assert_eq!((runs.len(), runs[0].packing), (1, packing));
            assert!(!runs[0].packing_is_guessed);
        }
    }

    #[test]
    fn what_lies_free_is_spare_on_one_output_and_ends_a_run_elsewhere() {
        let apart = panels(&[(1, 1), (1, 131)]);
        let runs = join(&apart, true).unwrap();
        assert_eq!((runs.len(), runs[0].panels[1]), (1, (1, 10)));
        assert_eq!(join(&apart, false).unwrap().len(), 2);
        let far = join(&panels(&[(1, 1), (60, 1)]), true).unwrap_err();
        // 59 universes of 512 slots, 120 of them filled.
        let slots = 59 * 512 - 120;
        let (panel, before) = (1, 0);
        assert_eq!(
            far,
            [NotJoined::TooFar {
                panel,
                before,
                slots
            }]
        );
    }

    #[test]
    fn what_begins_too_early_or_ends_too_late_is_told() {
        let wrong = join(&panels(&[(1, 1), (1, 120), (0x7FFF, 400)]), false).unwrap_err();
        let (panel, before) = (1, 0);
        assert_eq!(
            wrong,
            [
                NotJoined::Overlap { panel, before },
                NotJoined::PastLast { panel: 2 }
            ]
        );
        assert!(join(&panels(&[(0x7FFF, 393)]), false).is_ok());
    }

    #[test]
    fn a_known_packing_is_kept_and_another_one_begins_a_run() {
        let mut known = panels(&[(1, 1), (1, 121)]);
        known[0].1.packing = Some(Packing::Packed);
        known[1].1.packing = Some(Packing::WholePanel);
        let runs = join(&known, false).unwrap();
        let packings: Vec<Packing> = runs.iter().map(|run| run.packing).collect();
        assert_eq!(packings, [Packing::Packed, Packing::WholePanel]);
    }
}
