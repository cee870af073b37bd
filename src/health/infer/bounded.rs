//! Least squares with every unknown between two bounds: where the search for dead items may begin.

use super::matrix::{Square, add_scaled};

/// Sweeps after which a solution is taken as it is.
const SWEEPS: usize = 10_000;

/// Minimises xᵀ·gram·x − 2·rightᵀ·x with 0 ≤ x ≤ `most` by going down along one unknown after the
/// other, until no step is longer than `near`. For a Gram matrix `MᵀM` and right side `Mᵀy` this is
/// the x that brings `M·x` nearest to y.
pub fn least_squares(gram: &Square, right: &[f64], most: f64, near: f64) -> Vec<f64> {
    let side = right.len();
    let mut x = vec![0.0; side];
    let mut slope = right.to_vec();
    for _ in 0..SWEEPS {
        let mut longest = 0.0_f64;
        for at in 0..side {
            let row = &gram.row(at)[..side];
            if row[at] <= 0.0 {
                continue;
            }
            let there = (x[at] + slope[at] / row[at]).clamp(0.0, most);
            let step = there - x[at];
            if step.abs() > 0.0 {
                x[at] = there;
                add_scaled(&mut slope, row, -step);
                longest = longest.max(step.abs());
            }
        }
        if longest <= near {
            break;
        }
    }
    x
}
