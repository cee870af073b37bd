//! Which lacks explain best what was read.

use super::bounded;
use super::cost::{Cost, Lacks, is_dead};

/// An improvement smaller than this is none.
const LEAST: f64 = 1e-9;
/// So few items are tried in all combinations of good and dead.
const FEW: usize = 10;
/// How many lacking items, and how many others, take part when two are exchanged for two.
const LACKING: usize = 12;
const OTHERS: usize = 16;

/// The best explanation that was found, beginning with the one of last time; if `thorough` also with
/// none, with bounded least squares and, of few items, with the best of all combinations.
pub(super) fn best(cost: &Cost, last: &[f64], thorough: bool) -> Lacks {
    let mut best = improve(cost, Lacks::from(cost, last), thorough, &[]);
    if !thorough {
        return best;
    }
    let rounded: Vec<f64> = bounded::least_squares(&cost.form, &cost.pull[..cost.items], 1.0, 1e-4)
        .iter()
        .map(|&lack| if lack > 0.5 { 1.0 } else { 0.0 })
        .collect();
    let mut starts = vec![Lacks::none(cost), Lacks::from(cost, &rounded)];
    if cost.items <= FEW {
        starts.push(combinations(cost));
    }
    let mut least = total(cost, &best);
    for start in starts {
        let end = improve(cost, start, true, &[]);
        let there = total(cost, &end);
        if there < least - LEAST {
            (best, least) = (end, there);
        }
    }
    best
}

/// What an explanation costs, with what is known before anything was read.
pub(super) fn total(cost: &Cost, lacks: &Lacks) -> f64 {
    let penalties = lacks.lack.iter().enumerate();
    cost.of(lacks)
        + penalties
            .map(|(item, &lack)| cost.penalty(item, lack))
            .sum::<f64>()
}

/// What an item's lack may be instead of what it is: the other two of good, dead and weak.
pub(super) fn otherwise(cost: &Cost, lacks: &Lacks, item: usize) -> [f64; 2] {
    let now = lacks.lack[item];
    if now == 0.0 {
        [1.0, cost.best_weak(lacks, item)]
    } else if is_dead(now) {
        [0.0, cost.best_weak(lacks, item)]
    } else {
        [0.0, 1.0]
    }
}

/// Every combination of dead and good, each one change away from the one before (a Gray code).
fn combinations(cost: &Cost) -> Lacks {
    let mut lacks = Lacks::none(cost);
    let (mut best, mut least, mut here) = (lacks.clone(), 0.0, 0.0);
    for number in 1_u32..1 << cost.items {
        let item = number.trailing_zeros() as usize;
        let to = 1.0 - lacks.lack[item];
        let (fit, penalty) = cost.change(&lacks, item, to);
        lacks.set(cost, item, to);
        here += fit + penalty;
        if here < least - LEAST {
            (best, least) = (lacks.clone(), here);
        }
    }
    best
}

/// The best explanation that was found in which one item's lack is `to`, beginning from another.
pub(super) fn forced(cost: &Cost, from: &Lacks, item: usize, to: f64) -> Lacks {
    let mut lacks = from.clone();
    lacks.set(cost, item, to);
    let held: Vec<bool> = (0..cost.items).map(|at| at == item).collect();
    improve(cost, lacks, true, &held)
}

/// The best explanation that was found from here without changing those that are `held`.
pub(super) fn with_held(cost: &Cost, from: Lacks, held: &[bool]) -> Lacks {
    improve(cost, from, true, held)
}

fn is_held(held: &[bool], item: usize) -> bool {
    held.get(item).copied().unwrap_or(false)
}

/// Goes down by changes of one, two and four items, but never changes those that are `held`.
fn improve(cost: &Cost, mut lacks: Lacks, thorough: bool, held: &[bool]) -> Lacks {
    // Each round makes the cost less, so it ends; the bound is for what rounding might do.
    for _ in 0..20 * (cost.items + 10) {
        if !(flip(cost, &mut lacks, held)
            || swap(cost, &mut lacks, held)
            || thorough && two_for_two(cost, &mut lacks, held))
        {
            break;
        }
    }
    lacks
}

/// Makes the best change of one item.
fn flip(cost: &Cost, lacks: &mut Lacks, held: &[bool]) -> bool {
    let mut best = (-LEAST, 0, 0.0);
    for item in 0..cost.items {
        if is_held(held, item) || !cost.seen(item) {
            continue;
        }
        let now = lacks.lack[item];
        let again = (now > 0.0 && !is_dead(now)).then(|| cost.best_weak(lacks, item));
        for to in otherwise(cost, lacks, item).into_iter().chain(again) {
            let (fit, penalty) = cost.change(lacks, item, to);
            if fit + penalty < best.0 {
                best = (fit + penalty, item, to);
            }
        }
    }
    if best.0 < -LEAST {
        lacks.set(cost, best.1, best.2);
    }
    best.0 < -LEAST
}

/// Makes one lacking item good, or dead or weak instead, and changes another as fits best then.
fn swap(cost: &Cost, lacks: &mut Lacks, held: &[bool]) -> bool {
    let mut best = (-LEAST, [(0, 0.0); 2]);
    let free = |item: usize| !is_held(held, item) && cost.seen(item);
    for one in lacks.lacking().into_iter().filter(|&one| free(one)) {
        for to in otherwise(cost, lacks, one) {
            let (fit, penalty) = cost.change(lacks, one, to);
            let mut moved = lacks.clone();
            moved.set(cost, one, to);
            for other in (0..cost.items).filter(|&other| other != one && free(other)) {
                for other_to in otherwise(cost, &moved, other) {
                    let more = cost.change(&moved, other, other_to);
                    let change = fit + penalty + more.0 + more.1;
                    if change < best.0 {
                        best = (change, [(one, to), (other, other_to)]);
                    }
                }
            }
        }
    }
    if best.0 < -LEAST {
        for (item, to) in best.1 {
            lacks.set(cost, item, to);
        }
    }
    best.0 < -LEAST
}

/// Makes two lacking items good and two others dead.
fn two_for_two(cost: &Cost, lacks: &mut Lacks, held: &[bool]) -> bool {
    let alone = |item: usize, to: f64| {
        let (fit, penalty) = cost.change(lacks, item, to);
        fit + penalty
    };
    let free = |mut items: Vec<usize>| {
        items.retain(|&item| !is_held(held, item));
        items
    };
    let shortlist = |items: Vec<usize>, to: f64, most: usize| {
        let mut list: Vec<(f64, usize)> = items.into_iter().map(|at| (alone(at, to), at)).collect();
        list.sort_by(|a, b| a.0.total_cmp(&b.0));
        list.truncate(most);
        list
    };
    let lacking = shortlist(free(lacks.lacking()), 0.0, LACKING);
    let good = (0..cost.items).filter(|&at| lacks.lack[at] == 0.0 && cost.seen(at));
    let others = shortlist(free(good.collect()), 1.0, OTHERS);
    let mut best = (-LEAST, [0; 4]);
    // Twice the form's cell times both steps is what two changes cost beyond each alone.
    let both = |one: usize, other: usize, steps: f64| 2.0 * cost.form.row(one)[other] * steps;
    for (at, &(cost_a, a)) in lacking.iter().enumerate() {
        for &(cost_b, b) in &lacking[at + 1..] {
            let (step_a, step_b) = (-lacks.lack[a], -lacks.lack[b]);
            let healed = cost_a + cost_b + both(a, b, step_a * step_b);
            for (at, &(cost_c, c)) in others.iter().enumerate() {
                let third = cost_c + both(a, c, step_a) + both(b, c, step_b);
                for &(cost_d, d) in &others[at + 1..] {
                    let fourth = cost_d + both(a, d, step_a) + both(b, d, step_b) + both(c, d, 1.0);
                    let change = healed + third + fourth;
                    if change < best.0 {
                        best = (change, [a, b, c, d]);
                    }
                }
            }
        }
    }
    if best.0 < -LEAST {
        for (item, to) in best.1.into_iter().zip([0.0, 0.0, 1.0, 1.0]) {
            lacks.set(cost, item, to);
        }
    }
    best.0 < -LEAST
}
