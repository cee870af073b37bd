//! Square matrices of +1 and −1 whose rows are at right angles.
//!
//! J. J. Sylvester (1867) doubles one; R. E. A. C. Paley (1933) makes one of order q + 1 for a prime q
//! that leaves 3 when divided by 4, and of order 2·(q + 1) for one that leaves 1. Products of orders
//! are orders too. Primes alone are used, no powers of primes, and still an order is never far.

/// A Hadamard matrix H: H·Hᵀ = n·I.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hadamard {
    order: usize,
    signs: Vec<i8>,
}

impl Hadamard {
    /// One of this order, if any of the ways that are known here leads to it.
    pub fn of_order(order: usize) -> Option<Self> {
        if order == 1 {
            return Some(Self {
                order,
                signs: vec![1],
            });
        }
        if order == 2 {
            return Some(Self {
                order,
                signs: vec![1, 1, 1, -1],
            });
        }
        if order == 0 || !order.is_multiple_of(4) {
            return None;
        }
        // Powers of two by Sylvester's way alone.
        if order.is_power_of_two() {
            return Some(Self::of_order(2)?.product(&Self::of_order(order / 2)?));
        }
        Self::paley(order)
            .or_else(|| Self::paley_doubled(order))
            .or_else(|| {
                let factors = (2..).take_while(|factor| factor * factor <= order);
                let mut factors = factors.filter(|factor| order.is_multiple_of(*factor));
                factors.find_map(|factor| {
                    Some(Self::of_order(factor)?.product(&Self::of_order(order / factor)?))
                })
            })
    }

    /// The smallest that has at least so many rows.
    pub fn at_least(rows: usize) -> Self {
        let mut order = rows.max(1);
        loop {
            if let Some(matrix) = Self::of_order(order) {
                return matrix;
            }
            order += 1;
        }
    }

    /// Rows, and columns.
    pub fn order(&self) -> usize {
        self.order
    }

    /// One row.
    pub fn row(&self, at: usize) -> &[i8] {
        &self.signs[at * self.order..(at + 1) * self.order]
    }

    /// With rows and columns negated so that the first of both are all +1.
    #[must_use]
    pub fn normalised(&self) -> Self {
        let mut signs = Vec::with_capacity(self.signs.len());
        for row in 0..self.order {
            let first = self.row(row)[0];
            let columns = self.row(row).iter().zip(self.row(0));
            signs.extend(columns.map(|(sign, top)| sign * top * first * self.signs[0]));
        }
        Self {
            order: self.order,
            signs,
        }
    }

    /// Every element of `self` times the whole of `other`.
    fn product(&self, other: &Self) -> Self {
        let order = self.order * other.order;
        let mut signs = Vec::with_capacity(order * order);
        for outer in 0..self.order {
            for inner in 0..other.order {
                for sign in self.row(outer) {
                    signs.extend(other.row(inner).iter().map(|cell| sign * cell));
                }
            }
        }
        Self { order, signs }
    }

    fn from_cells(order: usize, cell: impl Fn(usize, usize) -> i8) -> Self {
        let signs = (0..order).flat_map(|row| (0..order).map(move |column| (row, column)));
        Self {
            order,
            signs: signs.map(|(row, column)| cell(row, column)).collect(),
        }
    }

    /// I + S, where S is skew: a row and a column of ones around the residues of q = order − 1.
    fn paley(order: usize) -> Option<Self> {
        let prime = order - 1;
        if prime % 4 != 3 || !is_prime(prime) {
            return None;
        }
        let residue = residues(prime);
        Some(Self::from_cells(order, |row, column| match (row, column) {
            (0, _) => 1,
            (_, 0) => -1,
            _ if row == column => 1,
            _ => residue[(prime + row - column) % prime],
        }))
    }

    /// A symmetric conference matrix of order q + 1, each of whose elements becomes four.
    fn paley_doubled(order: usize) -> Option<Self> {
        let half = order / 2;
        let prime = half - 1;
        if prime % 4 != 1 || !is_prime(prime) {
            return None;
        }
        let residue = residues(prime);
        Some(Self::from_cells(order, |row, column| {
            let inner = match (row / 2, column / 2) {
                (0, 0) => 0,
                (0, _) | (_, 0) => 1,
                (outer, across) => residue[(prime + outer - across) % prime],
            };
            match (inner, row % 2, column % 2) {
                (0, 0, 0) => 1,
                (0, ..) => -1,
                (sign, 1, 1) => -sign,
                (sign, ..) => sign,
            }
        }))
    }
}

/// The order of the smallest matrix with at least so many rows.
pub fn smallest_order(rows: usize) -> usize {
    Hadamard::at_least(rows).order()
}

/// +1 for squares modulo a prime, −1 for the others, 0 for 0.
fn residues(prime: usize) -> Vec<i8> {
    let mut residue = vec![-1; prime];
    residue[0] = 0;
    for root in 1..prime {
        residue[root * root % prime] = 1;
    }
    residue
}

pub(super) fn is_prime(number: usize) -> bool {
    number > 1
        && (2..number)
            .take_while(|factor| factor * factor <= number)
            .all(|factor| !number.is_multiple_of(factor))
}
