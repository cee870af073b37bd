//! What may have happened, and what each would do to the readings of a sensor.

use super::Group;

/// Rates by which things happen, in a second. Our guess: on a floor of some hundred joints one opens in an
/// hour of a show; a segment dies by itself far more rarely (as in [`causes`](crate::health::causes)). An error of
/// a factor of ten costs two of the seventeen nats that decide.
mod rate {
    pub(super) const JOINT: f64 = 1e-6;
    pub(super) const ITEM: f64 = 6e-8;
    /// A joint that becomes resistive, a segment that becomes weak.
    pub(super) const WEAK_JOINT: f64 = 3e-7;
    pub(super) const WEAK_ITEM: f64 = 6e-8;
    pub(super) const HELD: f64 = 3e-7;
    pub(super) const SENSOR: f64 = 3e-6;
    /// What has opened closes again: a bad contact.
    pub(super) const CLOSE: f64 = 1e-3;
    /// What has just opened does: under feet they come and go.
    pub(super) const BACK: f64 = 5e-2;
}

/// How large a sensor's jumps may be, as a share of what it reads at most, and of its gain.
const JUMP: f64 = 0.05;
const GAIN: f64 = 0.1;
/// A drift is a jump that takes so long, in seconds.
const DRIFT_S: f64 = 30.0;

/// Items that may go out together, where they are seen.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::health::show) struct Candidate {
    /// The panel to go to.
    pub(in crate::health::show) panel: u32,
    pub(in crate::health::show) takes: Vec<u32>,
    /// The groups that take just these; none for an item that dies by itself.
    pub(in crate::health::show) groups: Vec<usize>,
    /// Whether one of those leaves them with what they showed last.
    pub(in crate::health::show) holds: bool,
    /// Of each sensor that sees any of them, their places there.
    pub(in crate::health::show) seen: Vec<(usize, Vec<usize>)>,
}

/// All candidates: one for each different set of items, and each item alone.
pub(in crate::health::show) fn candidates(
    groups: &[Group],
    panels: &[u32],
    sees: &[Vec<u32>],
) -> Vec<Candidate> {
    let mut all: Vec<Candidate> = Vec::new();
    let singles = (0..)
        .zip(panels)
        .map(|(item, panel)| (None, *panel, vec![item], false));
    let joints = groups.iter().enumerate().map(|(at, group)| {
        let mut takes = group.takes.clone();
        takes.retain(|item| (*item as usize) < panels.len());
        takes.sort_unstable();
        takes.dedup();
        (Some(at), group.panel, takes, group.holds)
    });
    let mut known = std::collections::HashMap::new();
    for (group, panel, takes, holds) in singles.chain(joints) {
        if takes.is_empty() {
            continue;
        }
        // Where one goes to matters as well: to a cable, or to the panel behind it.
        let at = *known.entry((panel, takes.clone())).or_insert_with(|| {
            let seen = sees.iter().enumerate().filter_map(|(sensor, sees)| {
                let places: Vec<usize> = takes
                    .iter()
                    .filter_map(|item| sees.binary_search(item).ok())
                    .collect();
                (!places.is_empty()).then_some((sensor, places))
            });
            all.push(Candidate {
                panel,
                seen: seen.collect(),
                takes,
                groups: Vec::new(),
                holds: false,
            });
            all.len() - 1
        });
        all[at].groups.extend(group);
        all[at].holds |= holds;
    }
    all.retain(|candidate| !candidate.seen.is_empty());
    all
}

/// What may have happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum What {
    /// A candidate draws nothing from then on.
    Open(usize),
    /// It draws a share.
    Weak(usize),
    /// It goes on with what it drew then.
    Held(usize),
    /// It opened and is closed again.
    Back(usize),
    /// What was found open is closed again: its place in the list of these.
    Close(usize),
    /// A sensor's offset jumps.
    Offset(usize),
    /// Its gain does.
    Gain(usize),
    /// Its offset begins to drift.
    Drift(usize),
}

/// How much of it there is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Size {
    /// All of it.
    One,
    /// Gaussian: mean and standard deviation.
    Some(f64, f64),
}

impl Size {
    /// The score of just this size, with the chance of such a size and the room that b leaves for others.
    pub(super) fn score_of(self, size: f64, a: f64, b: f64) -> f64 {
        let explained = size * a - size * size * b / 2.0;
        match self {
            Self::One => explained,
            Self::Some(mean, sd) => {
                explained - ((size - mean) / sd).powi(2) / 2.0 - (1.0 + b * sd * sd).ln() / 2.0
            }
        }
    }

    /// The score is not more than this.
    pub(super) fn at_most(self, a: f64, b: f64) -> f64 {
        match self {
            Self::One => a - b / 2.0,
            Self::Some(mean, sd) => {
                let prior = 1.0 / (sd * sd);
                ((a + mean * prior).powi(2) / (b + prior) - mean * mean * prior) / 2.0
            }
        }
    }

    /// Log likelihood ratio by a and b, and the likeliest size.
    pub(super) fn score(self, a: f64, b: f64) -> (f64, f64) {
        match self {
            Self::One => (a - b / 2.0, 1.0),
            Self::Some(mean, sd) => {
                let prior = 1.0 / (sd * sd);
                let size = (a + mean * prior) / (b + prior);
                let score = (size * (a + mean * prior) - mean * mean * prior) / 2.0
                    - (1.0 + b / prior).ln() / 2.0;
                (score, size)
            }
        }
    }
}

impl What {
    /// The candidate that does not do what it should any more.
    pub(super) fn candidate(self) -> Option<usize> {
        match self {
            Self::Open(at) | Self::Weak(at) | Self::Held(at) => Some(at),
            _ => None,
        }
    }

    /// The sensor that errs.
    pub(super) fn sensor(self) -> Option<usize> {
        match self {
            Self::Offset(at) | Self::Gain(at) | Self::Drift(at) => Some(at),
            _ => None,
        }
    }

    pub(super) fn rate(self, candidates: &[Candidate]) -> f64 {
        let joint = |at: usize| !candidates[at].groups.is_empty();
        match self {
            Self::Open(at) if joint(at) => rate::JOINT,
            Self::Open(_) => rate::ITEM,
            Self::Weak(at) if joint(at) => rate::WEAK_JOINT,
            Self::Weak(_) => rate::WEAK_ITEM,
            Self::Held(_) => rate::HELD,
            Self::Back(_) => rate::BACK,
            Self::Close(_) => rate::CLOSE,
            Self::Offset(_) | Self::Gain(_) | Self::Drift(_) => rate::SENSOR,
        }
    }

    /// `most_a`: what the sensor was expected to read at most.
    pub(super) fn size(self, most_a: f64) -> Size {
        match self {
            Self::Open(_) | Self::Held(_) | Self::Back(_) | Self::Close(_) => Size::One,
            Self::Weak(_) => Size::Some(0.55, 0.2),
            Self::Offset(_) => Size::Some(0.0, JUMP * most_a.max(0.1)),
            Self::Gain(_) => Size::Some(0.0, GAIN),
            Self::Drift(_) => Size::Some(0.0, JUMP * most_a.max(0.1) / DRIFT_S),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_items_in_the_same_panel_are_one_candidate() {
        let group = |panel, takes: &[u32], holds| Group {
            panel,
            takes: takes.to_vec(),
            holds,
        };
        let groups = [
            group(0, &[0, 1], false),
            group(0, &[1], false),
            group(0, &[1, 0], true),
            group(1, &[2, 9], false),
        ];
        let all = candidates(&groups, &[0, 0, 1], &[vec![0, 1], vec![1, 2]]);
        let told: Vec<_> = all
            .iter()
            .map(|one| (one.panel, one.takes.clone(), one.groups.clone(), one.holds))
            .collect();
        assert_eq!(
            told,
            [
                (0, vec![0], vec![], false),
                (0, vec![1], vec![1], false),
                (1, vec![2], vec![3], false),
                (0, vec![0, 1], vec![0, 2], true),
            ]
        );
        assert_eq!(all[3].seen, [(0, vec![0, 1]), (1, vec![0])]);
    }

    /// Completing the square, by hand: mean 0, sd 1, a = 2, b = 3: 2²/(2·4) − ln(4)/2.
    #[test]
    fn a_size_that_is_not_known_is_reckoned_out() {
        let (score, size) = Size::Some(0.0, 1.0).score(2.0, 3.0);
        assert!((score - (0.5 - 4.0_f64.ln() / 2.0)).abs() < 1e-12);
        assert!((size - 0.5).abs() < 1e-12);
        // At its best the score of just one size is the whole: a Gaussian integral.
        let (whole, best) = Size::Some(0.4, 0.3).score(7.0, 5.0);
        assert!((Size::Some(0.4, 0.3).score_of(best, 7.0, 5.0) - whole).abs() < 1e-12);
        assert_eq!(Size::One.score(2.0, 3.0), (0.5, 1.0));
        // One that is surely 1 is as if it were known.
        let (score, _) = Size::Some(1.0, 1e-7).score(2.0, 3.0);
        assert!((score - 0.5).abs() < 1e-6);
    }
}
