//! Symmetric matrices as rows one after the other, and the inverse of a positive one.

/// A square matrix, row after row.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Square {
    side: usize,
    cells: Vec<f64>,
}

impl Square {
    /// All zero.
    pub fn zero(side: usize) -> Self {
        Self {
            side,
            cells: vec![0.0; side * side],
        }
    }

    /// Zero but for the diagonal.
    pub fn diagonal(of: &[f64]) -> Self {
        let mut matrix = Self::zero(of.len());
        for (at, value) in of.iter().enumerate() {
            matrix.row_mut(at)[at] = *value;
        }
        matrix
    }

    /// Rows, and columns.
    pub fn side(&self) -> usize {
        self.side
    }

    /// One row.
    pub fn row(&self, at: usize) -> &[f64] {
        &self.cells[at * self.side..(at + 1) * self.side]
    }

    /// One row, to change.
    pub fn row_mut(&mut self, at: usize) -> &mut [f64] {
        &mut self.cells[at * self.side..(at + 1) * self.side]
    }

    /// Multiplies everything.
    pub fn scale(&mut self, by: f64) {
        for cell in &mut self.cells {
            *cell *= by;
        }
    }

    /// Adds a matrix of the same size.
    pub fn add(&mut self, other: &Self) {
        add_scaled(&mut self.cells, &other.cells, 1.0);
    }

    /// The product with a vector.
    pub fn times(&self, vector: &[f64]) -> Vec<f64> {
        (0..self.side).map(|at| dot(self.row(at), vector)).collect()
    }

    /// The inverse; nothing unless the matrix is symmetric and positive. Only what lies on and below
    /// the diagonal is looked at.
    pub fn inverse(&self) -> Option<Self> {
        let lower = self.cholesky()?;
        let side = self.side;
        // Row j of `turned` is column j of the inverse of `lower`: zero up to j.
        let mut turned = Self::zero(side);
        for j in 0..side {
            let column = turned.row_mut(j);
            column[j] = 1.0 / lower.row(j)[j];
            for i in j + 1..side {
                let row = lower.row(i);
                column[i] = -dot(&row[j..i], &column[j..i]) / row[i];
            }
        }
        let mut inverse = Self::zero(side);
        for i in 0..side {
            for j in 0..=i {
                let value = dot(&turned.row(i)[i..], &turned.row(j)[i..]);
                inverse.row_mut(i)[j] = value;
                inverse.row_mut(j)[i] = value;
            }
        }
        Some(inverse)
    }

    /// Solves `self · x = right` for a symmetric and positive matrix.
    pub fn solve(&self, right: &[f64]) -> Option<Vec<f64>> {
        let lower = self.cholesky()?;
        let mut x = right.to_vec();
        for i in 0..self.side {
            let row = lower.row(i);
            x[i] = (x[i] - dot(&row[..i], &x[..i])) / row[i];
        }
        for i in (0..self.side).rev() {
            x[i] /= lower.row(i)[i];
            let value = x[i];
            for (before, factor) in x[..i].iter_mut().zip(lower.row(i)) {
                *before -= factor * value;
            }
        }
        Some(x)
    }

    /// The lower triangle L with L·Lᵀ = self.
    fn cholesky(&self) -> Option<Self> {
        let mut lower = Self::zero(self.side);
        for i in 0..self.side {
            let (above, rest) = lower.cells.split_at_mut(i * self.side);
            let row = &mut rest[..self.side];
            for j in 0..i {
                let other = &above[j * self.side..(j + 1) * self.side];
                row[j] = (self.row(i)[j] - dot(&row[..j], &other[..j])) / other[j];
            }
            let left = self.row(i)[i] - dot(&row[..i], &row[..i]);
            // What is left is compared with what rounding leaves of nothing.
            if left <= 1e-13 * self.row(i)[i].abs() || !left.is_finite() {
                return None;
            }
            row[i] = left.sqrt();
        }
        Some(lower)
    }
}

/// The sum of products, in eight strands so that a compiler can take several at once.
pub fn dot(one: &[f64], other: &[f64]) -> f64 {
    const STRANDS: usize = 8;
    let mut sums = [0.0; STRANDS];
    let (ones, others) = (one.chunks_exact(STRANDS), other.chunks_exact(STRANDS));
    let rest: f64 = ones
        .remainder()
        .iter()
        .zip(others.remainder())
        .map(|(a, b)| a * b)
        .sum();
    for (a, b) in ones.zip(others) {
        for (sum, (a, b)) in sums.iter_mut().zip(a.iter().zip(b)) {
            *sum += a * b;
        }
    }
    sums.iter().sum::<f64>() + rest
}

/// Adds a multiple of a vector.
pub fn add_scaled(to: &mut [f64], vector: &[f64], factor: f64) {
    for (value, part) in to.iter_mut().zip(vector) {
        *value += factor * part;
    }
}
