//! Installations worked out by hand, and what holds for every plan.

mod bounds;
mod dangers;
mod installations;

use super::*;
use crate::floor::testing;

fn plan(floor: &Floor) -> Plan {
    asked(floor, &Asked::default())
}

fn asked(floor: &Floor, asked: &Asked) -> Plan {
    Plan::of(floor, &Tables::compile(floor), asked)
}

fn near(found: f64, expected: f64, within: f64) {
    assert!(
        (found - expected).abs() <= within,
        "{found} is not {expected}"
    );
}
