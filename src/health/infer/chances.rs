//! How sure the best explanation is: the probabilities of those beside it.

use super::cost::{Cost, Lacks, is_dead};
use super::groups::Group;
use super::{Chance, Decision, Priors, search, stuck};

/// Explanations less probable than the best by exp of this are left out of the sums.
const FAR: f64 = -25.0;
/// The most doubtful items are changed in all combinations, not only in pairs.
const DOUBTFUL: usize = 8;
/// Items that are forced to be otherwise, with all others free to follow.
const FORCED: usize = 40;
/// How often the search is taken up again when a better explanation lies beside the best.
const AGAIN: usize = 20;

/// One item otherwise than in the best explanation.
#[derive(Debug, Clone, Copy, Default)]
struct Other {
    to: f64,
    step: f64,
    /// Logarithm of its probability against the best explanation.
    log: f64,
    /// Sum of the probabilities of all explanations that have it so.
    sum: f64,
}

/// Searches one group, and writes down its items' chances; gives the best explanation, and the cost that
/// it was found by.
pub(super) fn decide(
    group: &Group,
    mut cost: Cost,
    priors: &Priors,
    last: &mut Vec<f64>,
    thorough: bool,
    decision: &mut Decision,
) -> (Cost, Lacks) {
    let mut best = search::best(&cost, last, thorough);
    let misfit = misfit(&cost, &best);
    let careful = misfit / (1.0 + 3.0 * (2.0 / cost.readings.max(1.0)).sqrt());
    if careful > 1.0 {
        // More is left than chance leaves: every difference counts the less.
        cost.soften(careful);
        best = search::best(&cost, &best.lack, thorough);
    }
    let owned = cost;
    let cost = &owned;
    let mut others = Vec::new();
    let mut whole = 1.0;
    for _ in 0..AGAIN {
        others = beside(cost, &best);
        let better = pairs(cost, &mut others, &mut whole);
        let Some(changes) = better else {
            break;
        };
        for (item, to) in changes {
            best.set(cost, item, to);
        }
        best = search::best(cost, &best.lack, false);
    }
    // Of so few items, all combinations are looked at below.
    if thorough && cost.items > DOUBTFUL {
        for _ in 0..AGAIN {
            let Some(better) = rivals(cost, &best, &mut others, &mut whole) else {
                break;
            };
            best = better;
            others = beside(cost, &best);
            pairs(cost, &mut others, &mut whole);
        }
    }
    combine(cost, &mut others, &mut whole);
    decision.misfit = decision.misfit.max(misfit);
    let stuck = stuck::stuck(group, cost, priors, &best);
    for (place, &item) in group.items.iter().enumerate() {
        if cost.seen(place) {
            let mut chance = chance(best.lack[place], &others[place], whole);
            chance.weight = cost.weight(place);
            (chance.stuck, chance.stuck_doubt) = stuck[place];
            decision.chances[item] = Some(chance);
        }
    }
    last.clone_from(&best.lack);
    (owned, best)
}

/// Mean square of what is left, which is 1 if all is as modelled.
fn misfit(cost: &Cost, best: &Lacks) -> f64 {
    if cost.readings < 1.0 {
        return 1.0;
    }
    (cost.rest + cost.of(best)) / cost.readings
}

fn beside(cost: &Cost, best: &Lacks) -> Vec<[Other; 2]> {
    let of = |item| {
        search::otherwise(cost, best, item).map(|to| {
            let (fit, penalty) = cost.change(best, item, to);
            let log = -0.5 * (fit + penalty);
            Other {
                to,
                step: to - best.lack[item],
                log,
                sum: 0.0,
            }
        })
    };
    let unseen = [Other {
        log: f64::NEG_INFINITY,
        ..Other::default()
    }; 2];
    (0..cost.items)
        .map(|item| if cost.seen(item) { of(item) } else { unseen })
        .collect()
}

/// Adds up all explanations in which one item or two are otherwise; gives one that is better than the
/// best, if there is any.
fn pairs(cost: &Cost, others: &mut [[Other; 2]], whole: &mut f64) -> Option<Vec<(usize, f64)>> {
    let mut better = (1e-6, None);
    *whole = 1.0;
    for one in 0..others.len() {
        for a in 0..2 {
            let Other { to, step, log, .. } = others[one][a];
            if log > better.0 {
                better = (log, Some(vec![(one, to)]));
            }
            if log > FAR {
                others[one][a].sum += log.exp();
                *whole += log.exp();
            }
            if log == f64::NEG_INFINITY {
                continue;
            }
            let row = &cost.form.row(one)[..others.len()];
            for other in one + 1..others.len() {
                let together = row[other] * step;
                for b in 0..2 {
                    let second = others[other][b];
                    let log = log + second.log - together * second.step;
                    if log > FAR {
                        let weight = log.exp();
                        others[one][a].sum += weight;
                        others[other][b].sum += weight;
                        *whole += weight;
                        if log > better.0 {
                            better = (log, Some(vec![(one, to), (other, second.to)]));
                        }
                    }
                }
            }
        }
    }
    better.1
}

/// Forces the most doubtful items to be otherwise, lets all others follow, and adds up the explanations
/// that come of it, where they are further than two changes from the best; gives one that is better.
fn rivals(cost: &Cost, best: &Lacks, others: &mut [[Other; 2]], whole: &mut f64) -> Option<Lacks> {
    let least = search::total(cost, best);
    let mut order: Vec<usize> = (0..cost.items).filter(|&item| cost.seen(item)).collect();
    let doubt = |item: usize| others[item][0].log.max(others[item][1].log);
    order.sort_by(|&a, &b| doubt(b).total_cmp(&doubt(a)));
    order.truncate(FORCED);
    let mut known: Vec<Vec<f64>> = Vec::new();
    for item in order {
        for which in 0..2 {
            let rival = search::forced(cost, best, item, others[item][which].to);
            let log = -0.5 * (search::total(cost, &rival) - least);
            if log > 1e-6 {
                return Some(rival);
            }
            let changes: Vec<usize> = (0..cost.items)
                .filter(|&at| kind(rival.lack[at]) != kind(best.lack[at]))
                .collect();
            let kinds = |lacks: &[f64]| lacks.iter().map(|lack| kind(*lack)).collect::<Vec<_>>();
            let told = known.iter().any(|one| kinds(one) == kinds(&rival.lack));
            if log < FAR || changes.len() < 3 || told {
                continue;
            }
            *whole += log.exp();
            for at in changes {
                for other in &mut others[at] {
                    if kind(other.to) == kind(rival.lack[at]) {
                        other.sum += log.exp();
                    }
                }
            }
            known.push(rival.lack);
        }
    }
    None
}

/// Good, dead or weak.
fn kind(lack: f64) -> u8 {
    u8::from(lack != 0.0) + u8::from(is_dead(lack))
}

/// Adds up the explanations in which three or more of the most doubtful items are otherwise.
fn combine(cost: &Cost, others: &mut [[Other; 2]], whole: &mut f64) {
    let few = others.len() <= DOUBTFUL;
    let mut list: Vec<(f64, usize, usize)> = others
        .iter()
        .enumerate()
        .map(|(item, [one, other])| {
            // Of few items, all combinations of good and dead.
            let which = usize::from(!few && other.sum > one.sum);
            (one.sum.max(other.sum), item, which)
        })
        .filter(|(sum, item, _)| few && cost.seen(*item) || *sum > 1e-12)
        .collect();
    list.sort_by(|a, b| b.0.total_cmp(&a.0));
    list.truncate(DOUBTFUL);
    for number in 0_u32..1 << list.len() {
        if number.count_ones() < 3 {
            continue;
        }
        let chosen: Vec<(usize, usize)> = (0..list.len())
            .filter(|at| number >> at & 1 == 1)
            .map(|at| (list[at].1, list[at].2))
            .collect();
        let mut log = 0.0;
        for (at, &(item, which)) in chosen.iter().enumerate() {
            let one = others[item][which];
            log += one.log;
            for &(item_b, which_b) in &chosen[..at] {
                let step = others[item_b][which_b].step;
                log -= cost.form.row(item)[item_b] * one.step * step;
            }
        }
        if log > FAR {
            for &(item, which) in &chosen {
                others[item][which].sum += log.exp();
            }
            *whole += log.exp();
        }
    }
}

fn chance(lack: f64, others: &[Other; 2], whole: f64) -> Chance {
    let (mut good, mut dead, mut weak) = (0.0, 0.0, 0.0);
    let mut add = |lack: f64, sum: f64| {
        if lack == 0.0 {
            good += sum;
        } else if is_dead(lack) {
            dead += sum;
        } else {
            weak += sum;
        }
    };
    add(others[0].to, others[0].sum / whole);
    add(others[1].to, others[1].sum / whole);
    add(
        lack,
        (1.0 - (others[0].sum + others[1].sum) / whole).max(0.0),
    );
    let weak_lack = [lack, others[0].to, others[1].to]
        .into_iter()
        .find(|lack| *lack != 0.0 && !is_dead(*lack));
    Chance {
        good,
        dead,
        weak,
        share: 1.0 - weak_lack.unwrap_or(0.0),
        stuck: 0.0,
        stuck_doubt: 1.0,
        weight: 0.0,
    }
}
