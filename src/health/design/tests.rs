//! Worked examples and what every design must be. `tests/outside/test_survey.py` compares with scipy.

use super::*;

fn is_hadamard(matrix: &Hadamard) {
    let order = matrix.order();
    for one in 0..order {
        for other in 0..=one {
            let pairs = matrix.row(one).iter().zip(matrix.row(other));
            let product: i32 = pairs.map(|(a, b)| i32::from(a * b)).sum();
            let expected = if one == other { order } else { 0 };
            assert_eq!(
                usize::try_from(product),
                Ok(expected),
                "{order}: {one} {other}"
            );
        }
    }
}

#[test]
fn rows_are_at_right_angles_in_every_order_up_to_a_hundred_and_twenty() {
    let mut orders = Vec::new();
    for order in 1..=120 {
        if let Some(matrix) = Hadamard::of_order(order) {
            is_hadamard(&matrix);
            is_hadamard(&matrix.normalised());
            orders.push(order);
        }
    }
    // The multiples of 4 that primes, doubled primes and products do not lead to.
    let missing: Vec<usize> = (4..=120)
        .step_by(4)
        .filter(|order| !orders.contains(order))
        .collect();
    assert_eq!(missing, [52, 92, 100, 116]);
}

#[test]
fn an_order_is_never_far() {
    for (rows, order) in [
        (1, 1),
        (3, 4),
        (5, 8),
        (9, 12),
        (33, 36),
        (257, 264),
        (2_001, 2_004),
    ] {
        assert_eq!(smallest_order(rows), order, "{rows}");
    }
}

#[test]
fn the_cyclic_design_of_three_is_that_of_the_textbook() {
    let design = Design::cyclic(3).unwrap();
    let rows: Vec<&[bool]> = (0..3).map(|row| design.row(row)).collect();
    assert_eq!(
        rows,
        [
            [true, true, false],
            [false, true, true],
            [true, false, true]
        ]
    );
    assert_eq!(design.solve(&[1.0, 2.0, 3.0]), [1.0, 0.0, 2.0]);
    assert!(Design::cyclic(5).is_none() && Design::cyclic(15).is_none());
}

#[test]
fn every_row_lights_half_and_solving_gives_back_what_was_weighed() {
    for items in [1, 2, 3, 7, 31, 32, 43, 100] {
        let designs = [Some(Design::for_items(items)), Design::cyclic(items)];
        for design in designs.into_iter().flatten() {
            let size = design.size();
            assert!(size >= items);
            let weights: Vec<f64> = (0..size)
                .map(|at| f64::from(u8::try_from(at * 7 % 11).unwrap()))
                .collect();
            let weighed: Vec<f64> = (0..size)
                .map(|row| {
                    let lit = design.row(row);
                    assert_eq!(lit.iter().filter(|lit| **lit).count(), size.div_ceil(2));
                    lit.iter()
                        .zip(&weights)
                        .filter(|(lit, _)| **lit)
                        .map(|(_, w)| w)
                        .sum()
                })
                .collect();
            for (found, weight) in design.solve(&weighed).iter().zip(&weights) {
                assert!((found - weight).abs() < 1e-9, "{size}");
            }
        }
    }
}

#[test]
fn the_variance_falls_as_hotelling_says() {
    // (n+1)²/(4n): 7 → 2.286, 43 → 11.256, 263 → 66.251.
    for (size, gain) in [(7, 2.286), (43, 11.256), (263, 66.251)] {
        for design in [Design::cyclic(size).unwrap(), Design::for_items(size)] {
            assert_eq!(design.size(), size);
            // An error of one in one reading, for each reading: the squares of what it does to item 0.
            let mut variance = 0.0;
            for reading in 0..size {
                let mut weighed = vec![0.0; size];
                weighed[reading] = 1.0;
                variance += design.solve(&weighed)[0].powi(2);
            }
            assert!(
                (1.0 / variance - gain).abs() < 5e-4,
                "{size}: {}",
                1.0 / variance
            );
        }
    }
}
