//! A network of conductances eliminated point by point: a good first guess of its voltages, which plain
//! relaxation then has to confirm.

use std::collections::{BTreeSet, HashMap};

/// In which order points are eliminated, and what that touches. Made once for each way in which
/// the points are joined.
#[derive(Debug, Clone, Default)]
pub(super) struct Elimination {
    /// Free points, each before its later neighbours.
    order: Vec<usize>,
    /// Of each step: its later neighbours, and where the value between both is kept.
    later: Vec<Vec<(usize, usize)>>,
    /// Of each step: value to be changed, and the two that it is made of.
    fill: Vec<Vec<[usize; 3]>>,
    /// Where the value of each edge is kept; nothing if one of its ends is held.
    of_edge: Vec<Option<usize>>,
    values: usize,
}

impl Elimination {
    /// For points of which some are free, joined by `edges`; the point with the fewest neighbours
    /// left goes first.
    pub(super) fn of(free: &[bool], edges: &[(usize, usize)]) -> Self {
        let mut made = Self::default();
        let mut places: HashMap<(usize, usize), usize> = HashMap::new();
        let mut beside: Vec<BTreeSet<usize>> = vec![BTreeSet::new(); free.len()];
        for &(a, b) in edges {
            let inside = free[a] && free[b] && a != b;
            made.of_edge.push(inside.then(|| {
                beside[a].insert(b);
                beside[b].insert(a);
                let next = places.len();
                *places.entry((a.min(b), a.max(b))).or_insert(next)
            }));
        }
        let mut waiting: BTreeSet<(usize, usize)> = (0..free.len())
            .filter(|&at| free[at])
            .map(|at| (beside[at].len(), at))
            .collect();
        while let Some((_, point)) = waiting.pop_first() {
            let around: Vec<usize> = beside[point].iter().copied().collect();
            for &other in &around {
                waiting.remove(&(beside[other].len(), other));
                beside[other].remove(&point);
            }
            let mut place = |a: usize, b: usize| {
                let next = places.len();
                *places.entry((a.min(b), a.max(b))).or_insert(next)
            };
            let mut fill = Vec::new();
            for (at, &a) in around.iter().enumerate() {
                for &b in &around[at + 1..] {
                    beside[a].insert(b);
                    beside[b].insert(a);
                    fill.push([place(a, b), place(point, a), place(point, b)]);
                }
            }
            let later = around.iter().map(|&other| (other, place(point, other)));
            made.later.push(later.collect());
            made.fill.push(fill);
            made.order.push(point);
            for &other in &around {
                waiting.insert((beside[other].len(), other));
            }
        }
        made.values = places.len();
        made
    }

    /// Solves for what flows in: `own` is what stands on the diagonal, `between` the conductance of
    /// each edge, and `x` the amperes that come and the volts that go.
    pub(super) fn solve(&self, mut own: Vec<f64>, between: &[f64], x: &mut [f64]) {
        let mut values = vec![0.0; self.values];
        for (siemens, place) in between.iter().zip(&self.of_edge) {
            if let Some(place) = place {
                values[*place] -= siemens;
            }
        }
        for ((&point, later), fill) in self.order.iter().zip(&self.later).zip(&self.fill) {
            for &[changed, a, b] in fill {
                values[changed] -= values[a] * values[b] / own[point];
            }
            for &(other, place) in later {
                let share = values[place] / own[point];
                own[other] -= share * values[place];
                x[other] -= share * x[point];
            }
        }
        for (&point, later) in self.order.iter().zip(&self.later).rev() {
            let others = later.iter().map(|&(other, place)| values[place] * x[other]);
            x[point] = (x[point] - others.sum::<f64>()) / own[point];
        }
    }
}
