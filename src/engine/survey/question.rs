//! What a person is shown: few lights, of which each segment is lit in one, while its neighbours are
//! dark, and dark in the others.

use super::items::Items;
use super::rooms::{self, Packing};
use crate::floor::model::Colour;
use crate::power::tree::Tree;

/// What is lit, in which colour.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Look {
    /// Whether each item is lit.
    pub(super) lit: Vec<bool>,
    /// What people see it in; nothing if all is dark.
    pub(super) colour: Option<&'static str>,
}

/// All dark, then every other segment, then the others; each colour by itself where colours are dead
/// by themselves. What limits don't let be lit together is shown one after the other.
pub(super) fn looks(tree: &Tree, items: &Items, usable: &[usize], full_a: &[f64]) -> Vec<Look> {
    let mut looks = vec![Look {
        lit: vec![false; items.all.len()],
        colour: None,
    }];
    let groups = std::iter::once(None).chain(Colour::ALL.map(Some));
    for group in groups {
        for half in [0, 1] {
            let own = usable.iter().copied().filter(|&at| {
                let item = &items.all[at];
                item.colour == group && (item.segment + item.panel) % 2 == half
            });
            let own: Vec<usize> = own.collect();
            let name = group.map_or("white", Colour::name);
            looks.extend(split(tree, items, usable, full_a, &own, name));
        }
    }
    looks
}

/// These items, in as many looks as limits ask for.
pub(super) fn split(
    tree: &Tree,
    items: &Items,
    usable: &[usize],
    full_a: &[f64],
    own: &[usize],
    colour: &'static str,
) -> Vec<Look> {
    let (rooms, _) = rooms::rooms(tree, items, usable, full_a);
    let mut packing = Packing::new(&rooms, usable.len());
    let mut left: Vec<usize> = own.to_vec();
    let mut looks = Vec::new();
    while !left.is_empty() {
        packing.empty();
        let mut lit = vec![false; items.all.len()];
        let before = left.len();
        left.retain(|&item| {
            let index = usable.binary_search(&item).unwrap_or(usize::MAX);
            let fits = index < usable.len() && packing.light(index, full_a[item]);
            lit[item] |= fits;
            !fits
        });
        if left.len() == before {
            break;
        }
        looks.push(Look {
            lit,
            colour: Some(colour),
        });
    }
    looks
}

/// What is said of an item by what a person saw of it.
///
/// A person passes over one in fifty segments that are dark, and taps one in two thousand that are
/// fine; two in a hundred segments are dead, and two in a thousand light up whatever they are told
/// (our choice: common practice, no source). A stuck one may also stay dark when it should be lit.
pub(super) mod belief {
    use crate::health::{Condition, Judged};

    const PASSES_OVER: f64 = 0.02;
    const TAPS_WRONGLY: f64 = 0.0005;
    const DEAD: f64 = 0.02;
    const STUCK: f64 = 0.002;
    const STUCK_SEEMS_DARK: f64 = 0.3;

    /// With more doubt nothing is said.
    const MOST_DOUBT: f64 = 0.05;

    /// `looks` are pairs of whether it was lit and whether it was tapped.
    pub(in super::super) fn judge(looks: impl Iterator<Item = (bool, bool)>) -> Judged {
        let mut chances = [1.0 - DEAD - STUCK, DEAD, STUCK];
        let mut was_lit = false;
        let mut tapped_any = false;
        for (lit, tapped) in looks {
            was_lit |= lit;
            tapped_any |= tapped;
            let tapped_if = if lit {
                [TAPS_WRONGLY, 1.0 - PASSES_OVER, STUCK_SEEMS_DARK]
            } else {
                [TAPS_WRONGLY, TAPS_WRONGLY, 1.0 - PASSES_OVER]
            };
            for (chance, tapped_if) in chances.iter_mut().zip(tapped_if) {
                *chance *= if tapped { tapped_if } else { 1.0 - tapped_if };
            }
        }
        let unknown = Judged {
            condition: Condition::Unknown,
            doubt: 1.0,
        };
        if !was_lit && !tapped_any {
            return unknown;
        }
        let all: f64 = chances.iter().sum();
        let conditions = [Condition::Good, Condition::Dead, Condition::Stuck(1.0)];
        let likeliest = chances.into_iter().zip(conditions);
        let best = likeliest.max_by(|a, b| a.0.total_cmp(&b.0));
        best.map_or(unknown, |(chance, condition)| {
            let doubt = 1.0 - chance / all;
            let told = doubt <= MOST_DOUBT;
            Judged {
                condition: if told { condition } else { Condition::Unknown },
                doubt,
            }
        })
    }

    #[cfg(test)]
    mod tests {
        use super::*;

        fn judged(looks: &[(bool, bool)]) -> Judged {
            judge(looks.iter().copied())
        }

        #[test]
        fn two_looks_decide_and_a_contradiction_does_not() {
            // By hand, Bayes' theorem: odds of dead to good after one tap 0.02 · 0.98 to
            // 0.978 · 0.0005, so that a thirtieth is left to doubt; after two, one in 70,000.
            let one = judged(&[(false, false), (true, true)]);
            assert_eq!(one.condition, Condition::Dead);
            assert!((0.02..0.06).contains(&one.doubt), "{one:?}");
            let two = judged(&[(false, false), (true, true), (false, false), (true, true)]);
            assert!(two.doubt < 1e-3, "{two:?}");
            let torn = judged(&[(true, true), (true, false)]);
            assert!(torn.doubt > 0.3, "{torn:?}");
            let fine = judged(&[(false, false), (true, false), (false, false)]);
            assert_eq!(fine.condition, Condition::Good);
            assert!(fine.doubt < 1e-3, "{fine:?}");
            let stuck = judged(&[(false, true), (true, false), (false, true)]);
            assert_eq!(stuck.condition, Condition::Stuck(1.0));
            assert!(stuck.doubt < 1e-3, "{stuck:?}");
            assert_eq!(judged(&[(false, false)]).condition, Condition::Unknown);
        }
    }
}
