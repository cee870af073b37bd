//! The windows of all sensors: what leaves them is learnt, what is in them is looked at.

use std::collections::{BTreeMap, BTreeSet};

use super::line::Sample;
use super::looked::Looked;
use super::scene::Scene;
use super::whats::What;
use super::{FEW, Steps, explain};

impl Steps {
    pub(super) fn learn_what_is_old(&mut self) {
        for sensor in 0..self.lines.len() {
            let Some(newest) = self.lines[sensor].newest() else {
                continue;
            };
            loop {
                let line = &self.lines[sensor];
                let Some(oldest) = line.window.front() else {
                    break;
                };
                let age_s = newest.s_since(oldest.at);
                let keep_s = if line.pending {
                    self.rules.longest_s
                } else {
                    self.rules.window_s
                };
                if age_s <= keep_s {
                    break;
                }
                if !line.pending && !oldest.over {
                    let (row, above_a) = self.held_against(sensor, oldest, |_, _| true);
                    let (at, variance) = (oldest.at, oldest.variance);
                    let known = &mut self.lines[sensor].known;
                    known.age(at);
                    known.learn(&row, above_a, variance, true);
                }
                self.lines[sensor].window.pop_front();
            }
        }
    }

    pub(super) fn scene(&self) -> Scene<'_> {
        let mut scene = Scene {
            candidates: &self.candidates,
            looked: BTreeMap::new(),
            drawn_a: BTreeMap::new(),
            closing_a: vec![BTreeMap::new(); self.out.len()],
            whole: vec![true; self.candidates.len()],
        };
        for (sensor, line) in self.lines.iter().enumerate() {
            let samples: Vec<&Sample> = line.window.iter().filter(|one| !one.over).collect();
            if samples.len() < FEW {
                continue;
            }
            let mut readings = Vec::with_capacity(samples.len());
            let mut drawn_a = Vec::with_capacity(samples.len());
            for sample in &samples {
                let (row, above_a) = self.held_against(sensor, sample, |_, _| true);
                let shares = line.known.mean.iter();
                let drawn = row[..line.sees.len()].iter().zip(shares);
                drawn_a.push(drawn.map(|(a, more)| a * (1.0 + more)).collect());
                readings.push((sample.at, row, above_a, sample.variance));
            }
            for (number, out) in self.out.iter().enumerate() {
                let seen = &self.candidates[out.candidate].seen;
                if out.until.is_some() || seen.iter().all(|(of, _)| *of != sensor) {
                    continue;
                }
                let each = samples.iter().zip(&readings);
                let more = each.map(|(sample, (_, _, above_a, _))| {
                    above_a
                        - self
                            .held_against(sensor, sample, |other, _| other != number)
                            .1
                });
                scene.closing_a[number].insert(sensor, more.collect());
            }
            scene
                .looked
                .insert(sensor, Looked::new(&line.known, readings));
            scene.drawn_a.insert(sensor, drawn_a);
        }
        for (candidate, whole) in self.candidates.iter().zip(&mut scene.whole) {
            *whole = candidate
                .seen
                .iter()
                .any(|(sensor, _)| scene.looked.contains_key(sensor));
        }
        scene
    }

    /// Sensors that have something to explain, those together that one thing may explain.
    pub(super) fn clusters(&self, singles: &[(What, f64)]) -> Vec<BTreeSet<usize>> {
        let mut clusters: Vec<BTreeSet<usize>> = Vec::new();
        for (what, _) in singles
            .iter()
            .filter(|(_, weight)| *weight > explain::WORTH)
        {
            let seen = |candidate: usize| self.candidates[candidate].seen.iter();
            let mut touched: BTreeSet<usize> = match *what {
                What::Close(at) => seen(self.out[at].candidate).map(|(of, _)| *of).collect(),
                _ => what
                    .candidate()
                    .map(|at| seen(at).map(|(of, _)| *of).collect())
                    .or_else(|| what.sensor().map(|of| BTreeSet::from([of])))
                    .unwrap_or_default(),
            };
            clusters.retain(|other| {
                let apart = other.is_disjoint(&touched);
                if !apart {
                    touched.extend(other);
                }
                apart
            });
            clusters.push(touched);
        }
        clusters
    }
}
