//! What is left to look at after a strike and a rebuild.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use utoipa::ToSchema;

use super::{PanelRow, PlacedRow, SignedRow};
use crate::health::snapshot::{Cause, Health, PanelHealth, SegmentCondition};

/// A current of the bench that is this much of itself away from the one before is another: strip is sold
/// with some 3 % of tolerance, and sensors err by a per cent or two. Common practice, no source.
const APART: f64 = 0.10;

/// Below this difference in amperes nothing is told apart: what a good sensor of a bench resolves.
/// Common practice, no source.
const LEAST_A: f64 = 0.03;

/// What is not yet as it should be.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, ToSchema)]
pub struct Checklist {
    /// Serials of panels that the book knows and that lie nowhere.
    pub unplaced: Vec<String>,
    /// Serials of panels that are placed, and of which nothing lights or whose node says nothing.
    pub silent: Vec<String>,
    /// Panels that draw otherwise than when they were last good on the bench.
    pub changed: Vec<ChangedPanel>,
    /// What lies where.
    pub placed: Vec<PlacedRow>,
}

/// A panel that draws otherwise than when it was last good.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct ChangedPanel {
    /// Which.
    #[schema(example = "M010")]
    pub serial: String,
    /// Where it lies; a dash if nowhere.
    #[schema(example = "C4")]
    pub position: String,
    /// What it drew, for people.
    #[schema(example = "white 1.43 A on the bench")]
    pub was: String,
    /// What it draws, for people.
    #[schema(example = "white 0.98 A on the bench")]
    pub is: String,
}

/// Makes the list of what the book holds and what is known of faults. `signed` are the tests on the bench
/// with a sensor, by serial, the oldest first.
pub fn checklist(
    panels: &[PanelRow],
    placed: Vec<PlacedRow>,
    signed: &BTreeMap<String, Vec<SignedRow>>,
    health: &Health,
) -> Checklist {
    let unplaced = panels.iter().filter(|panel| panel.position.is_none());
    let at: BTreeMap<&str, &PanelHealth> = health
        .panels
        .iter()
        .map(|panel| (panel.position.as_str(), panel))
        .collect();
    let silent_nodes: BTreeSet<&str> = health
        .faults
        .iter()
        .filter(|fault| fault.cause == Cause::NodeSilent)
        .map(|fault| fault.key.as_str())
        .collect();
    let silent = |row: &&PlacedRow| {
        at.get(row.position.as_str())
            .is_some_and(|panel| is_silent(panel, &silent_nodes))
    };
    let silent = placed.iter().filter(silent);
    let silent = silent.map(|row| row.serial.clone()).collect();
    let changed = panels.iter().filter_map(|panel| {
        let signed = signed.get(&panel.serial)?;
        let health = panel.position.as_deref().and_then(|it| at.get(it).copied());
        let (was, is) = on_the_bench(signed).or_else(|| on_the_floor(signed, health?))?;
        Some(ChangedPanel {
            serial: panel.serial.clone(),
            position: panel.position.clone().unwrap_or_else(|| "–".to_owned()),
            was,
            is,
        })
    });
    Checklist {
        unplaced: unplaced.map(|panel| panel.serial.clone()).collect(),
        silent,
        changed: changed.collect(),
        placed,
    }
}

/// Whether nothing of it lights, as far as is known.
fn is_silent(panel: &PanelHealth, silent_nodes: &BTreeSet<&str>) -> bool {
    let dead = |condition: SegmentCondition| condition == SegmentCondition::Dead;
    let all_dead = !panel.segments.is_empty() && panel.segments.iter().all(|it| dead(it.condition));
    let mut keys = panel.faults.iter();
    all_dead || keys.any(|key| silent_nodes.contains(key.as_str()))
}

/// The newest test against the last good one before it.
fn on_the_bench(signed: &[SignedRow]) -> Option<(String, String)> {
    let (newest, before) = signed.split_last()?;
    let good = before.iter().rev().find(|row| row.passed)?;
    let apart = good.signature.iter().filter_map(|(name, &was)| {
        let is = *newest.signature.get(name)?;
        let differs = (is - was).abs() > (APART * was.abs()).max(LEAST_A);
        differs.then_some((name, was, is))
    });
    let most = |one: &(&String, f64, f64)| (one.2 - one.1).abs();
    let (name, was, is) = apart.max_by(|a, b| most(a).total_cmp(&most(b)))?;
    let told = |a: f64| format!("{} {a:.2} A on the bench", name.trim_end_matches("_a"));
    Some((told(was), told(is)))
}

/// What is known of it on the floor, if it was good on the bench: the share of its current that its
/// segments draw.
fn on_the_floor(signed: &[SignedRow], health: &PanelHealth) -> Option<(String, String)> {
    let last = signed.last().filter(|row| row.passed)?;
    let shares: Vec<f64> = health.segments.iter().filter_map(|it| it.share).collect();
    if shares.is_empty() || shares.len() < health.segments.len() {
        return None;
    }
    let share = shares.iter().sum::<f64>() / crate::units::count(shares.len());
    let most = last.signature.iter().max_by(|a, b| a.1.total_cmp(b.1))?;
    let lit = most.0.trim_end_matches("_a");
    ((1.0 - share).abs() > APART).then(|| {
        (
            format!("good, {lit} {:.2} A on the bench", most.1),
            format!("{:.0} % of its current on the floor", share * 100.0),
        )
    })
}

#[cfg(test)]
mod tests;
