//! Which of the items that do nothing of what they are told draw current all the time.
//!
//! Such an item is dead to every change, and a sensor reads more than it should by a constant, also
//! in the dark. What explains the constant better than the sensor's own offset does is said to be stuck.

use super::Priors;
use super::cost::{Cost, Lacks, is_dead};
use super::groups::Group;

/// No item draws more than this share of its full current, tolerance and all.
const MOST: f64 = 1.1;

/// Of each item of a group: the share of its full current that it draws all the time (0: nothing says
/// so), and how probable it is that it does not.
pub(super) fn stuck(group: &Group, cost: &Cost, priors: &Priors, best: &Lacks) -> Vec<(f64, f64)> {
    let mut found = vec![(0.0, 1.0); cost.items];
    let mut slope = best.slope.clone();
    let mut left: Vec<usize> = (0..cost.items)
        .filter(|&at| is_dead(best.lack[at]))
        .collect();
    let unlikely = 2.0 * ((1.0 - priors.stuck) / priors.stuck).ln();
    while !left.is_empty() {
        // An ampere that flows all the time shifts the offset of every sensor that sees it by −1, as
        // what is read less than computed.
        let explained: Vec<(f64, f64)> = left
            .iter()
            .map(|&item| gain(group, cost, &slope, item))
            .collect();
        let weights: Vec<f64> = explained
            .iter()
            .map(|(gain, _)| (0.5 * (gain - unlikely)).exp())
            .collect();
        let sum: f64 = 1.0 + weights.iter().sum::<f64>();
        let Some(at) = (0..left.len()).max_by(|&a, &b| weights[a].total_cmp(&weights[b])) else {
            break;
        };
        if explained[at].0 <= unlikely {
            break;
        }
        let (item, amps) = (left[at], explained[at].1);
        let chance = if weights[at].is_finite() {
            weights[at] / sum
        } else {
            1.0
        };
        found[item] = (amps / group.full_a[item], 1.0 - chance);
        for &sensor in &group.seen_by[item] {
            let row = cost.form.row(group.gain_of(sensor) + 1);
            for (value, cell) in slope.iter_mut().zip(row) {
                *value += cell * amps;
            }
        }
        left.remove(at);
    }
    found
}

/// How much better the fit is if an item draws the current that explains most, and that current.
fn gain(group: &Group, cost: &Cost, slope: &[f64], item: usize) -> (f64, f64) {
    let offsets: Vec<usize> = group.seen_by[item]
        .iter()
        .map(|&sensor| group.gain_of(sensor) + 1)
        .collect();
    let mut weight = 0.0;
    let mut pull = 0.0;
    for &one in &offsets {
        pull -= slope[one];
        weight += offsets
            .iter()
            .map(|&other| cost.form.row(one)[other])
            .sum::<f64>();
    }
    if pull <= 0.0 || weight <= 0.0 {
        return (0.0, 0.0);
    }
    let amps = (pull / weight).min(MOST * group.full_a[item]);
    (amps * (2.0 * pull - weight * amps), amps)
}
