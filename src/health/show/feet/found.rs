//! Which joints are loose, by what all visits said of all candidates.

use super::{Feet, LEAST, LOOSE, LOOSE_ITEM, NAMED, OFTEN_ENOUGH, Said};
use crate::health::show::findings::Loose;
use crate::health::show::steps::log_sum;
use crate::units::Time;

impl Feet {
    fn prior(&self, candidate: usize) -> f64 {
        if self.candidates[candidate].groups.is_empty() {
            LOOSE_ITEM.ln()
        } else {
            LOOSE.ln()
        }
    }

    /// How probable each candidate is against all that share a sensor with it.
    fn chances(&self) -> Vec<f64> {
        let weights: Vec<f64> = (0..self.said.len())
            .map(|at| self.prior(at) + self.said[at].weight())
            .collect();
        let mut totals = vec![vec![0.0]; self.sees.len()];
        for (at, candidate) in self.candidates.iter().enumerate() {
            for (sensor, _) in &candidate.seen {
                if self.said[at].found.is_none() {
                    totals[*sensor].push(weights[at]);
                }
                totals[*sensor].push(self.prior(at) + self.said[at].itself);
            }
        }
        let totals: Vec<f64> = totals.iter().map(|logs| log_sum(logs)).collect();
        let chance = |at: usize| {
            let seen = self.candidates[at].seen.iter();
            let all = seen
                .map(|(sensor, _)| totals[*sensor])
                .fold(f64::NEG_INFINITY, f64::max);
            // What was found is compared with what was not, and not with others that were found.
            let all = if self.said[at].found.is_some() {
                log_sum(&[all, weights[at]])
            } else {
                all
            };
            (weights[at] - all).exp()
        };
        (0..weights.len()).map(chance).collect()
    }

    pub(super) fn find(&mut self, now: Time) {
        let chances = self.chances();
        for at in 0..self.said.len() {
            if self.said[at].found.is_some() && self.said[at].weight() < 0.0 {
                self.said[at] = Said::default();
            }
        }
        for panel in 0..self.panels.len() {
            let own = |at: &usize| self.candidates[*at].panel as usize == panel;
            let known = |at: &usize| self.said[*at].found.is_some();
            if (0..self.said.len()).filter(own).any(|at| known(&at)) {
                continue;
            }
            let sum: f64 = (0..self.said.len()).filter(own).map(|at| chances[at]).sum();
            let best = (0..self.said.len())
                .filter(own)
                .max_by(|a, b| chances[*a].total_cmp(&chances[*b]));
            let Some(best) = best.filter(|best| sum >= NAMED && self.said[*best].opened >= LEAST)
            else {
                continue;
            };
            self.said[best].found = Some(now);
            let seen: Vec<usize> = self.candidates[best]
                .seen
                .iter()
                .map(|(sensor, _)| *sensor)
                .collect();
            for other in 0..self.said.len() {
                let shares = self.candidates[other]
                    .seen
                    .iter()
                    .any(|(sensor, _)| seen.contains(sensor));
                let elsewhere = self.candidates[other].panel as usize != panel;
                if shares && elsewhere && self.said[other].found.is_none() {
                    self.said[other] = Said::default();
                }
                self.said[other].itself = 0.0;
            }
        }
    }

    pub(super) fn tell(&mut self) {
        for found in &mut self.found {
            found.clear();
        }
        for (candidate, said) in self.candidates.iter().zip(&self.said) {
            for (sensor, _) in candidate.seen.iter().filter(|_| said.found.is_some()) {
                self.found[*sensor].push(candidate.panel);
            }
        }
        let mut loose = Vec::new();
        for panel in 0..self.panels.len() {
            let own: Vec<usize> = (0..self.said.len())
                .filter(|at| self.candidates[*at].panel as usize == panel)
                .collect();
            if own.iter().all(|at| self.said[*at].found.is_none()) {
                continue;
            }
            let weights: Vec<f64> = own
                .iter()
                .map(|at| self.prior(*at) + self.said[*at].weight())
                .collect();
            let all = log_sum(&weights);
            let nothing = log_sum(&[all, 0.0]);
            let Some(best) = (0..own.len()).max_by(|a, b| weights[*a].total_cmp(&weights[*b]))
            else {
                continue;
            };
            let sure = (weights[best] - all).exp() >= NAMED;
            let candidate = &self.candidates[own[best]];
            let here = candidate.takes.iter();
            let here = here.filter(|item| self.panel_of[**item as usize] as usize == panel);
            let first = here.map(|item| self.segments[*item as usize]).min();
            let said = &self.said[own[best]];
            let most = if said.opened < OFTEN_ENOUGH {
                NAMED
            } else {
                0.999
            };
            loose.push(Loose {
                panel: candidate.panel,
                segment: first.filter(|_| sure),
                chance: (all - nothing).exp().min(most),
                evidence: said.words(),
            });
        }
        self.loose = loose;
    }
}

impl Said {
    fn words(&self) -> String {
        let by_a = self.sum_a / f64::from(self.opened.max(1));
        format!(
            "The current dropped by {by_a:.1} A in {} of {} visits by feet, and in {} of {} s without.",
            self.opened, self.visits, self.dropped_s, self.without_s
        )
    }
}
