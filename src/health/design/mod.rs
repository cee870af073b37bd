//! Weighing designs: which items to light together so that few readings tell of each of them.
//!
//! Weighing n things on one scale with half of them in the pan each time gives each weight with a
//! variance that is (n+1)²/(4n) times smaller than weighing them one at a time as often
//! (H. Hotelling, *Some improvements in weighing and other experimental techniques*, 1944).

mod hadamard;

#[cfg(test)]
mod tests;

pub use hadamard::{Hadamard, smallest_order};

/// A design of n rows for n items: each row says which items are lit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Design {
    size: usize,
    lit: Vec<bool>,
}

impl Design {
    /// The smallest S-matrix that has room for so many items: a Hadamard matrix with its first row and
    /// column of +1 left out, where −1 is lit.
    pub fn for_items(items: usize) -> Self {
        let hadamard = Hadamard::at_least(items + 1).normalised();
        let size = hadamard.order() - 1;
        let signs = (1..=size).flat_map(|row| hadamard.row(row)[1..].iter());
        Self {
            size,
            lit: signs.map(|sign| *sign < 0).collect(),
        }
    }

    /// The cyclic design of a prime n that leaves 3 when divided by 4: every row is the one before,
    /// moved on by one. In the first, place 0 is lit and those whose number is a square modulo n.
    pub fn cyclic(prime: usize) -> Option<Self> {
        if prime % 4 != 3 || !hadamard::is_prime(prime) {
            return None;
        }
        let mut first = vec![false; prime];
        for root in 0..prime {
            first[root * root % prime] = true;
        }
        let lit = (0..prime).flat_map(|row| {
            let first = &first;
            (0..prime).map(move |column| first[(column + prime - row) % prime])
        });
        Some(Self {
            size: prime,
            lit: lit.collect(),
        })
    }

    /// Rows, and items that it has room for.
    pub fn size(&self) -> usize {
        self.size
    }

    /// Which items a row lights.
    pub fn row(&self, at: usize) -> &[bool] {
        &self.lit[at * self.size..(at + 1) * self.size]
    }

    /// What each item weighs, from what each row weighed: 2/(n+1) · (2·Sᵀ − J), the inverse of S.
    pub fn solve(&self, weighed: &[f64]) -> Vec<f64> {
        let sum: f64 = weighed.iter().sum();
        let half = f64::midpoint(crate::units::count(self.size), 1.0);
        let mut each = vec![-sum; self.size];
        for (row, value) in weighed.iter().enumerate() {
            for (item, lit) in each.iter_mut().zip(self.row(row)) {
                if *lit {
                    *item += 2.0 * value;
                }
            }
        }
        each.into_iter().map(|item| item / half).collect()
    }
}
