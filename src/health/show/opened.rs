//! What the watch for sudden steps tells, in the words of the whole estimator.

use super::ShowSpec;
use super::findings::{Dropped, Shortfall};
use super::steps::Told;

/// What goes on to draw more than this share is dim, not dead: it is left to those who weigh shares.
const DEAD: f64 = 0.15;

/// Joints that opened and stayed open.
pub(super) fn dropped(spec: &ShowSpec, told: &Told) -> Vec<Dropped> {
    let opened = told.opened.iter().filter(|one| one.share <= DEAD);
    let dropped = opened.map(|one| {
        let own = one.items.iter().map(|&item| &spec.items[item as usize]);
        let own = own.filter(|item| item.panel == one.panel);
        Dropped {
            panel: one.panel,
            segment: own.map(|item| item.segment).min(),
            items: one.items.clone(),
            at: one.at,
            chance: one.chance,
            evidence: format!("Its current fell by {:.2} A at once.", one.by_a),
        }
    });
    dropped.collect()
}

/// Panels in which something opened, and nobody can tell what.
pub(super) fn short(spec: &ShowSpec, told: &Told) -> Vec<Shortfall> {
    let full_a = |items: &[u32]| -> f64 {
        let own = items.iter().map(|&item| spec.items[item as usize].full_a);
        own.sum()
    };
    let short = told.panels.iter().map(|one| {
        let of_panel = spec.items.iter().filter(|item| item.panel == one.panel);
        let whole_a: f64 = of_panel.map(|item| item.full_a).sum();
        let all: f64 = one.among.iter().map(|(_, chance)| chance).sum();
        let among = one.among.iter();
        let lacks_a: f64 = among.map(|(items, chance)| full_a(items) * chance).sum();
        let mut items: Vec<u32> = (one.among.iter())
            .flat_map(|(items, _)| items.iter().copied())
            .filter(|&item| spec.items[item as usize].panel == one.panel)
            .collect();
        items.sort_unstable();
        items.dedup();
        Shortfall {
            panel: one.panel,
            items,
            share: (lacks_a / all.max(1e-9) / whole_a.max(1e-9)).min(1.0),
            chance: one.chance,
        }
    });
    short.collect()
}

#[cfg(test)]
mod tests {
    use super::super::spec::ShowItem;
    use super::super::steps::{InPanel, Opened};
    use super::*;
    use crate::units::Time;

    fn spec() -> ShowSpec {
        let item = |number: u32| ShowItem {
            panel: number / 4,
            segment: number % 4,
            full_a: 0.5,
            sensors: vec![0],
        };
        ShowSpec {
            items: (0..8).map(item).collect(),
            ..ShowSpec::default()
        }
    }

    #[test]
    fn what_opened_is_told_from_its_first_segment_on_and_what_is_dim_is_left() {
        let one = |items: Vec<u32>, share: f64| Opened {
            panel: 0,
            groups: Vec::new(),
            items,
            at: Time::from_s(3),
            share,
            held: false,
            by_a: 0.75,
            chance: 0.999,
        };
        let told = Told {
            opened: vec![one(vec![2, 3, 4], 0.0), one(vec![1], 0.6)],
            ..Told::default()
        };
        let dropped = dropped(&spec(), &told);
        assert_eq!(dropped.len(), 1);
        assert_eq!(
            (dropped[0].segment, &*dropped[0].items),
            (Some(2), &[2, 3, 4][..])
        );
    }

    /// Half of the panel in one case of three, a quarter in the others: a third of it.
    #[test]
    fn a_panel_lacks_what_its_cases_lack_on_the_mean() {
        let told = Told {
            panels: vec![InPanel {
                panel: 1,
                at: Time::from_s(3),
                by_a: 0.5,
                chance: 0.99,
                among: vec![(vec![6, 7], 0.3), (vec![5], 0.3), (vec![4], 0.3)],
            }],
            ..Told::default()
        };
        let short = short(&spec(), &told);
        assert_eq!(short[0].items, [4, 5, 6, 7]);
        assert!((short[0].share - 1.0 / 3.0).abs() < 1e-12, "{short:?}");
    }
}
