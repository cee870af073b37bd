//! What was sent, by the outcome that it was sent for.

use std::collections::BTreeMap;

use serde_json::Value;

/// Counts by outcome; polls may be answered or held back, which is one here.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Tally(BTreeMap<&'static str, u64>);

/// What is counted together.
const TOGETHER: [(&str, &str); 1] = [("poll_held_back", "poll")];

impl Tally {
    pub(crate) fn count(&mut self, outcome: &'static str) {
        *self.0.entry(outcome).or_default() += 1;
    }

    pub(crate) fn sum(&self) -> u64 {
        self.0.values().sum()
    }

    /// Adds the counts of another.
    pub(crate) fn add(&mut self, other: &Self) {
        for (outcome, count) in &other.0 {
            *self.0.entry(outcome).or_default() += count;
        }
    }

    /// Where a state differs: outcome, sent for it, counted.
    pub(crate) fn against(&self, state: &Value) -> Vec<(String, u64, u64)> {
        let counted = state["datagrams"].as_object().expect("counts");
        let mut seen: BTreeMap<&str, u64> = BTreeMap::new();
        for (outcome, count) in counted {
            let together = TOGETHER.iter().find(|(name, _)| name == outcome);
            let name = together.map_or(outcome.as_str(), |(_, with)| with);
            *seen.entry(name).or_default() += count.as_u64().expect("a count");
        }
        let names = seen.keys().copied().chain(self.0.keys().copied());
        let names: std::collections::BTreeSet<&str> = names.collect();
        let differ = names.into_iter().filter_map(|name| {
            let sent = self.0.get(name).copied().unwrap_or(0);
            let counted = seen.get(name).copied().unwrap_or(0);
            (sent != counted).then(|| (name.to_owned(), sent, counted))
        });
        differ.collect()
    }
}

impl std::fmt::Display for Tally {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let told: Vec<String> = self
            .0
            .iter()
            .map(|(name, count)| format!("{name} {count}"))
            .collect();
        f.write_str(&told.join(", "))
    }
}
